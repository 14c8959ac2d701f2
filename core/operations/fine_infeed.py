"""A fine infeed: the compound is swung nearly parallel to the surface, so that one mark of its dial is a much smaller
depth.

If the compound travels a distance t at an angle a to the surface, the tool moves t sin a into the work and t cos a
along the surface. For a travel of 10 times the depth, the angle is 5.739 degrees. The formulas are plain trigonometry;
the way of working is common practice, no source. Lengths are in mm, angles in degrees.
"""

from math import asin, ceil, cos, degrees, radians, sin
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from core import safety
from core.cutting import Infeed, backlash_words, touch_off_step
from core.lathe.lathe import Lathe
from core.operations.swung_compound import SwungCompound
from core.plan import Step
from core.values.errors import PlanError
from core.values.fields import Table
from core.values.quantities import number_text

if TYPE_CHECKING:
    from core.operations.compound_drawing import Swing

KEY = "infeed_ratio"
_LEAST_RATIO, _MOST_RATIO = 2, 30
_CLEARANCE_MM = 0.5
"""Distance of the tool from the work while the carriage returns [mm]; common practice, no source."""
_TRIED_ALONG_MM = 25.0
"""Length of the surface along which an indicator checks the angle [mm]."""
Surface = Literal["outside", "bore", "face"]


class FineInfeed(NamedTuple):
    """A compound swung to a small angle to the surface that its tool cuts."""

    angle_deg: float
    """The angle between the compound's travel and the surface [deg]."""
    surface: Surface
    scale_reading_deg: float | None = None
    """The mark of the compound's scale that has the angle [deg]; None if the angle is set by an indicator."""

    @property
    def ratio(self) -> float:
        """The travel of the compound divided by the depth that results [-]."""
        return 1 / sin(radians(self.angle_deg))

    @property
    def compound_angle_deg(self) -> float:
        """The angle between the compound's travel and the cross-slide's travel [deg]."""
        return self.angle_deg if self.surface == "face" else 90 - self.angle_deg

    @property
    def feeds(self) -> str:
        """The direction in which the compound is fed for a deeper cut, in words: "inwards" or "towards the chuck"."""
        return "inwards" if self.surface == "face" else "towards the chuck"

    def sideways_mm(self, depth_mm: float) -> float:
        """Return how far the tool moves along the surface [mm] while the compound feeds it to a depth [mm]."""
        return depth_mm * self.ratio * cos(radians(self.angle_deg))

    def infeed(self, lathe: Lathe) -> Infeed:
        """Return the compound as the infeed: its dial, its direction, and its travel divided by the depth."""
        return Infeed(dial=lathe.dial("compound"), direction=self.feeds, travel_per_depth=self.ratio)

    def direction_words(self) -> str:
        """Return the direction of the compound in words, such as "6° off the spindle axis"."""
        base = "off square to the spindle axis" if self.surface == "face" else "off the spindle axis"
        return f"{number_text(self.angle_deg, 2)}° {base}"

    @property
    def cuts(self) -> str:
        """The direction in which the tool moves into the work, in words, such as "towards the axis"."""
        return {"outside": "towards the axis", "bore": "away from the axis", "face": "towards the chuck"}[self.surface]

    def needed_words(self) -> str:
        """Return the direction of the compound in words, for the list of set-up changes since the operation before."""
        return f"{self.direction_words()}, feeding the tool {self.cuts}"

    def swing(self, lathe: Lathe) -> Step:
        """Return the step that swings the compound to its angle, by a mark of its scale or otherwise by an
        indicator.
        """
        cautions: tuple[str, ...] = ()
        if self.scale_reading_deg is not None:
            check = f"Set its scale to {number_text(self.scale_reading_deg, 2)}°."
        else:
            cautions = (safety.INDICATOR_OFF,)
            swung = SwungCompound(half_deg=self.angle_deg, length_mm=_TRIED_ALONG_MM, lathe=lathe)
            plunger = "parallel with the spindle axis" if self.surface == "face" else "square to the spindle axis"
            check = (
                f"Set an indicator against the compound, with its plunger {plunger}. Wind the compound "
                f"{swung.by_dial(swung.tried_mm)} in one direction. The indicator must move "
                f"{lathe.indicator_text(swung.shown_mm)}. If it does not, tap the compound and try again."
            )
        text = (
            f"{safety.STOP_FIRST} Swing the compound {self.direction_words()}. When you feed the compound "
            f"{self.feeds}, the tool must move {self.cuts}. {check} Lock the swivel"
        )
        return Step(action="set", title="Swing the compound", text=text, cautions=cautions)

    def touch_off(self, lathe: Lathe, touched: str) -> Step:
        """Return the step that touches off with a slide other than the compound, and sets the compound's dial to 0.

        `touched`: the surface in words, such as "the work at 30 mm".
        """
        dial = lathe.dial("compound")
        approach, slide = {
            "outside": ("Wind the cross-slide inwards", "cross-slide"),
            "bore": ("Wind the cross-slide outwards", "cross-slide"),
            "face": ("Wind the carriage towards the chuck", "carriage"),
        }[self.surface]
        text = (
            f"Compound: take up its backlash{backlash_words(dial)} {self.feeds}. {approach} until the tool just "
            f"touches {touched}. Lock the {slide}"
        )
        return touch_off_step(dial, text)

    def movements(self, lathe: Lathe) -> tuple[str, ...]:
        """Return the movements of a pass in words and in order. The slide with which the tool touched off stays
        locked.
        """
        depth = f"Compound {self.feeds} to its reading"
        if self.surface == "face":
            return depth, "Cut across the face", "Withdraw the cross-slide to the start", "Then the key"
        dial, back_mm = lathe.dial("compound"), _CLEARANCE_MM * self.ratio
        back = lathe.length_text(back_mm)
        if dial.per_turn:
            turns = ceil(back_mm / float(dial.per_turn * dial.mm_per_unit))
            back = f"{turns} {'turn' if turns == 1 else 'turns'}"
        return depth, "Cut", f"Wind the compound back {back} and the carriage to the start", "Then the key"

    def swing_to_draw(self) -> "Swing":
        """Return the compound's direction in the form in which it is drawn."""
        from core.operations.compound_drawing import SQUARE_DEG, Swing

        slide_deg = {"outside": -self.angle_deg, "bore": self.angle_deg, "face": SQUARE_DEG + self.angle_deg}
        return Swing(slide_deg=slide_deg[self.surface], at=self.surface)

    def figures(self, depth_mm: float) -> dict[str, Any]:
        """Return the figures of the infeed for the depth of the whole cut [mm], by key."""
        return {
            "infeed_ratio": round(self.ratio, 6),
            "compound_angle_deg": self.compound_angle_deg,
            **({} if self.scale_reading_deg is None else {"scale_reading_deg": self.scale_reading_deg}),
            "compound_travel_mm": depth_mm * self.ratio,
            "sideways_mm": self.sideways_mm(depth_mm),
        }

    def check_travel(self, depth_mm: float, lathe: Lathe) -> None:
        """Raise PlanError if the compound's slide is too short for the travel that a depth [mm] needs."""
        longest_mm, needed_mm = lathe.dial("compound").slide_travel_mm, depth_mm * self.ratio
        if longest_mm is not None and needed_mm > longest_mm:
            raise PlanError(
                f"A depth of {lathe.length_text(depth_mm)} at {number_text(self.ratio, 1)} to 1 needs "
                f"{lathe.length_text(needed_mm)} of compound travel, but the compound has only "
                f"{lathe.length_text(longest_mm)}. Enter a smaller ratio, or first cut nearer to the wanted size.",
                field=KEY,
            )

    def caution(self, depth_mm: float, lathe: Lathe) -> str:
        """Return a caution that says how far the compound travels for a depth [mm], and how far the tool then moves
        along the surface.
        """
        travel, sideways = lathe.length_text(depth_mm * self.ratio), lathe.length_text(self.sideways_mm(depth_mm))
        where = "across the face" if self.surface == "face" else "along the work, towards the chuck"
        return (
            f"The whole cut needs {travel} of compound travel. Over this travel the tool also moves {sideways} {where}."
        )


def read_fine_infeed(table: Table, lathe: Lathe, surface: Surface) -> FineInfeed | None:
    """Return the fine infeed for which a table asks; None if it asks for none or an entry is wrong.

    Errors are added to `table.problems`. `surface`: the kind of surface that is cut.
    """
    ratio = table.whole(KEY, least=_LEAST_RATIO, most=_MOST_RATIO)
    if ratio is None:
        return None
    if "compound" not in lathe.dials:
        table.problem(
            KEY,
            f"This lathe ({lathe.name}) has no dial on a compound. Add [dial.compound] to the lathe file, or "
            f"delete {KEY}.",
        )
        return None
    wanted = FineInfeed(degrees(asin(1 / ratio)), surface)
    mark_deg = lathe.compound.nearest_mark_deg(wanted.compound_angle_deg) if lathe.compound else None
    # For a bore the compound passes 90 degrees off square, which a scale with its zero at square does not show.
    if lathe.compound is None or mark_deg is None or (surface == "bore" and lathe.compound.zero == "perpendicular"):
        return wanted
    # The conversion from an angle off square to a reading is its own inverse.
    angle_deg = lathe.compound.reading_deg(mark_deg)
    if surface != "face":
        angle_deg = 90 - angle_deg
    if angle_deg < 1e-9:
        table.problem(
            KEY,
            f"At {ratio} to 1, the nearest mark of the compound's scale sets the compound parallel with the surface. "
            "Enter a smaller ratio.",
        )
        return None
    return FineInfeed(angle_deg, surface, mark_deg)
