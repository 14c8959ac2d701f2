"""The input of a `grind` operation, and the cutter that results. Lengths are in mm, angles in degrees."""

from dataclasses import dataclass
from functools import cached_property

from core.lathe.keys.cutters import FLAT_AND_ROUND, WIDEST_DEG
from core.lathe.lathe import Cutter, Lathe
from core.operations.asked_values import readings_of
from core.operations.grinding.point import (
    MARGIN_DEG,
    FlankSetting,
    back_roll_deg,
    least_relief_deg,
    mark_at_least_deg,
    mark_below_deg,
    nearest_mark_deg,
    rest_angle_deg,
)
from core.values.fields import Table
from core.values.quantities import number_text

HEAD, SPINDLE = "boring head", "spindle"
HELD_IN = (HEAD, SPINDLE)
"""What holds the cutter: it runs on a circle in the boring head, or on the spindle's own axis in a collet."""
STEEL, CARBIDE, OLD_DRILL = "high-speed steel", "carbide", "old drill"
MADE_OF = (STEEL, CARBIDE, OLD_DRILL)
BLANKS = ("round", "square")
MOST_READINGS = 20
NEAR_ENOUGH_MM = {HEAD: 0.1, SPINDLE: 0.02}
"""How far the cutting face may be from the shank's axis. Our own choice."""
_MOST_PAST_SHANKS = 0.25
"""How far the cutting face may be past the shank's axis in the boring head, in shanks. Our own choice."""
_ROUGH_LEFT_MM = 0.2
"""How much the rough flat leaves for finishing. Our own choice."""
_USUAL_RELIEF_DEG = {HEAD: 12.0, SPINDLE: 25.0}
"""The relief suggested where no circle asks for more. Common practice, no source."""
_LEAST_ON_AXIS_DEG = 10.0
_MOST_RELIEF_DEG = 60.0


@dataclass(frozen=True, kw_only=True)
class GrindJob:
    """The checked parameters of a `grind` operation."""

    name: str
    """The name of the cutter."""
    held_in: str
    wanted: Cutter
    """The point that the user wants."""
    depth_mm: float
    """Depth of the deepest groove."""
    circle_radius_mm: float
    """The smallest circle of the point; 0 on the spindle's own axis."""
    shank_mm: float
    """Diameter of a round blank, or width of a square one."""
    blank: str = BLANKS[0]
    made_of: str = STEEL
    relief_deg: float | None = None
    """The relief that the user entered; None if the program suggests one."""
    scale_deg: float = 1.0
    """One graduation of the scales of rest and block."""
    readings_mm: tuple[float, ...] = ()
    """Readings across the flat and the back, in the order in which they were measured."""

    @property
    def on_axis(self) -> bool:
        """True if the cutter runs on the spindle's own axis."""
        return self.held_in == SPINDLE

    @property
    def half_shank_mm(self) -> float:
        """The micrometer's reading across flat and back when the flat is on the shank's axis [mm]."""
        return self.shank_mm / 2

    @property
    def near_enough_mm(self) -> float:
        """The largest distance of the flat from the shank's axis that is accepted [mm]."""
        return NEAR_ENOUGH_MM[self.held_in]

    @property
    def to_grind_mm(self) -> float:
        """The thickness that remains to grind off the flat [mm]; below 0 if the flat is past the shank's axis."""
        latest = self.readings_mm[-1] if self.readings_mm else self.shank_mm
        return latest - self.half_shank_mm

    @property
    def rough_mm(self) -> float:
        """The reading across flat and back at which rough grinding stops [mm]."""
        return self.half_shank_mm + min(_ROUGH_LEFT_MM, self.half_shank_mm / 4)

    @property
    def is_past_axis(self) -> bool:
        """True if the flat is too far past the shank's axis to correct by turning the shank in the head."""
        turned_mm = 0.0 if self.on_axis else _MOST_PAST_SHANKS * self.shank_mm
        return self.to_grind_mm < -max(self.near_enough_mm, turned_mm) - 1e-9

    @property
    def flat_is_done(self) -> bool:
        """True if the latest reading shows that the flat needs no more grinding."""
        return self.to_grind_mm <= self.near_enough_mm + 1e-9 and not self.is_past_axis

    @cached_property
    def suggested_relief_deg(self) -> float:
        """The relief angle if the user enters none [deg]: the usual relief, or more for a small circle."""
        usual = _USUAL_RELIEF_DEG[self.held_in]
        least = 0.0 if self.on_axis else self.least_for(self.wanted) + MARGIN_DEG
        return mark_at_least_deg(max(usual, least), self.scale_deg)

    @cached_property
    def first(self) -> FlankSetting:
        """The roll of the block and the angle of the rest for the first flank."""
        wanted = self.suggested_relief_deg if self.relief_deg is None else self.relief_deg
        roll = nearest_mark_deg(wanted, self.scale_deg)
        exact = rest_angle_deg(self.wanted.tip_angle_deg / 2, roll)
        return FlankSetting(roll, nearest_mark_deg(exact, self.scale_deg))

    @cached_property
    def second(self) -> FlankSetting:
        """The roll of the block and the angle of the rest for the second flank.

        If the cutter runs on the spindle's own axis, its second flank does not cut. A larger roll then keeps the edge
        of this flank inside the circle of the first flank. The angle of the rest is 0 if its scale has no mark for so
        slim a point.
        """
        if not self.on_axis:
            return self.first
        roll = back_roll_deg(self.first.roll_deg, self.scale_deg)
        exact = rest_angle_deg(self.first.half_angle_deg, roll)
        return FlankSetting(roll, mark_below_deg(exact, self.scale_deg))

    @cached_property
    def ground(self) -> Cutter:
        """The cutter that results from grinding with these settings of block and rest."""
        return self.wanted._replace(name=self.name, tip_angle_deg=2 * self.first.half_angle_deg)

    @property
    def groove_width_mm(self) -> float:
        """The width of the groove at the face of the work [mm]."""
        return self.ground.groove_width_mm(self.depth_mm)

    @cached_property
    def least_relief_deg(self) -> float:
        """The smallest relief with which the heel clears the smallest circle [deg]."""
        return self.least_for(self.ground)

    def least_for(self, cutter: Cutter) -> float:
        """Return the smallest relief with which a cutter's heel clears the smallest circle [deg].

        The flat is taken to be at the greatest height that is accepted.
        """
        half_width_mm = cutter.groove_width_mm(self.depth_mm) / 2
        return least_relief_deg(self.circle_radius_mm, half_width_mm, self.half_shank_mm + self.near_enough_mm)


def read_grind(table: Table, lathe: Lathe) -> GrindJob | None:
    """Return the checked parameters of a `grind` operation; None after recording a problem in `table`."""
    before = len(table.problems)
    held_in = (table.word("held_in", HELD_IN) if table.has("held_in") else None) or HEAD
    on_axis = held_in == SPINDLE
    point = _read_point(table)
    depth_mm = table.length("depth", required=True, above=0, most=50)
    # A cutter on the spindle's own axis has no circle: such a key is refused.
    circle_mm = 0.0 if on_axis else table.length("circle_radius", required=True, above=0, most=500)
    shank_mm = table.length("shank", required=True, above=0, most=50)
    relief_deg = table.angle("relief", least=_LEAST_ON_AXIS_DEG if on_axis else 1, most=_MOST_RELIEF_DEG)
    scale_deg = table.angle("scale_graduation", above=0, most=5)
    name = table.text("cutter", longest=80)
    blank = table.word("blank", BLANKS) if table.has("blank") else None
    made_of = table.word("made_of", MADE_OF) if table.has("made_of") else None
    readings = readings_of(table, "across_flat", MOST_READINGS)
    if len(table.problems) > before or point is None or depth_mm is None or circle_mm is None or shank_mm is None:
        return None
    job = GrindJob(
        name=name or f"{number_text(point.tip_angle_deg, 1)} deg cutter",
        held_in=held_in,
        wanted=point,
        depth_mm=depth_mm,
        circle_radius_mm=circle_mm,
        shank_mm=shank_mm,
        blank=blank or BLANKS[0],
        made_of=made_of or STEEL,
        relief_deg=relief_deg,
        scale_deg=scale_deg or lathe.protractor_deg,
        readings_mm=readings,
    )
    _note_impossible(table, job, lathe)
    return None if len(table.problems) > before else job


def _read_point(table: Table) -> Cutter | None:
    """Return the wanted point as a cutter; None after recording a problem."""
    angle_deg = table.angle("tip_angle", required=True, above=0, most=WIDEST_DEG)
    flat_mm = table.length("tip_flat", least=0, most=50)
    radius_mm = table.length("tip_radius", least=0, most=50)
    if flat_mm and radius_mm:
        table.problem("tip_radius", FLAT_AND_ROUND)
    if angle_deg is None:
        return None
    return Cutter("", angle_deg, tip_flat_mm=flat_mm or 0.0, tip_radius_mm=radius_mm or 0.0)


def _note_impossible(table: Table, job: GrindJob, lathe: Lathe) -> None:
    """Record a problem for a groove wider than the shank, a heel that rubs, or an impossible reading."""
    say = lathe.length_text
    if job.groove_width_mm > job.shank_mm:
        table.problem(
            "depth",
            f"The groove is {say(job.groove_width_mm)} wide at this depth, wider than the shank of "
            f"{say(job.shank_mm)}. Enter a smaller depth.",
        )
    elif not job.on_axis and job.first.roll_deg < job.least_relief_deg - 1e-9:
        enough = mark_at_least_deg(job.least_relief_deg, job.scale_deg)
        table.problem(
            "relief",
            f"With a relief of {number_text(job.first.roll_deg, 2)}° the heel rubs in a circle of radius "
            f"{say(job.circle_radius_mm)}. Enter a relief of at least {number_text(enough, 2)} deg.",
        )
    elif job.second.rest_deg <= 0:
        table.problem(
            "relief",
            "The rest's scale has no mark for the second flank of so slim a point. Enter a larger relief, such as "
            "40 deg.",
        )
    if any(not 0 < reading <= job.shank_mm for reading in job.readings_mm):
        table.problem(
            "across_flat",
            f"A reading must be between 0 and the shank's {say(job.shank_mm)}. Enter the size across flat and back, "
            f"such as {say(job.half_shank_mm)}.",
        )
