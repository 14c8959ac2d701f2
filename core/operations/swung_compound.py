"""The compound (top slide) swung to an angle: how to set the angle, and how to correct the angle after a cut.

Lengths are in mm, angles in degrees.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import asin, ceil, cos, degrees, radians, sin, tan

from core import safety
from core.lathe.lathe import Lathe
from core.operations.taper_angles import taper_scale_words
from core.plan import Step
from core.values.angles import dms_text
from core.values.dials import Dial, Unit
from core.values.quantities import MM_PER_INCH, number_text

USUAL_MARK_MM = 0.01
"""One mark of an indicator, if the lathe file has none [mm]."""
_INDICATOR_TRAVEL_MM: Mapping[str, float] = {"plunger": 5.0, "lever": 0.5}
"""Usable travel of an indicator [mm], by its kind; common practice, no source."""
_ARM_MM: Mapping[str, float] = {"mm": 100.0, "in": 4 * 25.4}
"""Distance from the compound's pivot to the indicator that measures a correction [mm], by the lathe's unit."""
_ROUND: Mapping[str, tuple[float, ...]] = {
    "mm": tuple(power * digit for power in (100, 10, 1, 0.1) for digit in (5, 2, 1)),
    "in": tuple(power * digit * 25.4 for power in (1, 0.1, 0.01, 0.001) for digit in (5, 2, 1)),
}


def round_length_mm(most_mm: float, unit: Unit) -> float:
    """Return the largest length [mm] up to `most_mm` that is a round number in `unit`, "mm" or "in".

    >>> round_length_mm(60.0, "mm"), round_length_mm(60.0, "in")
    (50, 50.8)
    """
    return next((length for length in _ROUND[unit] if length <= most_mm * (1 + 1e-9)), most_mm)


def angle_words(angle_deg: float) -> str:
    """Return an angle [deg] as text in degrees, minutes and seconds, without its sign."""
    return dms_text(Fraction(abs(angle_deg)), Fraction(1, 3600))


@dataclass(frozen=True, kw_only=True)
class SwungCompound:
    """A compound that is swung to feed along a taper, and the steps that set and correct its angle."""

    half_deg: float
    """The compound's angle off the spindle axis [deg], above 0 and below 90."""
    length_mm: float
    """Length of the taper along the axis [mm]."""
    lathe: Lathe

    @property
    def mark_mm(self) -> float:
        """The value of one mark of the lathe's indicator [mm]; 0.01 mm if the lathe file has no indicator."""
        return self.lathe.indicator.graduation_mm if self.lathe.indicator else USUAL_MARK_MM

    @property
    def tried_mm(self) -> float:
        """How far the user winds the compound to check its angle [mm], limited by the taper and by the indicator's
        travel.
        """
        kind = self.lathe.indicator.kind if self.lathe.indicator else "plunger"
        slant_mm = self.length_mm / cos(radians(self.half_deg))
        most_mm = min(slant_mm, _INDICATOR_TRAVEL_MM[kind] / sin(radians(self.half_deg)))
        unit = self._dial.unit if self._dial else self.lathe.unit
        return round_length_mm(most_mm / self._true, unit) * self._true

    @property
    def _dial(self) -> Dial | None:
        return self.lathe.dials.get("compound")

    @property
    def _true(self) -> float:
        """The compound's true travel divided by its travel according to the dial [-]; 1 if both are the same."""
        if self._dial is None:
            return 1.0
        return float(self._dial.mm_per_unit / (MM_PER_INCH if self._dial.unit == "in" else 1))

    def by_dial(self, travel_mm: float) -> str:
        """Return a travel of the compound [mm] as text, in the unit of its dial and rounded up to the next mark.

        If the compound has no dial, the text is in the unit of the lathe.
        """
        if self._dial is None:
            return self.lathe.length_text(travel_mm)
        return self._dial.reading_text(ceil(travel_mm / self._dial.mark_mm - 1e-6) * self._dial.graduation)

    @property
    def shown_mm(self) -> float:
        """How far the indicator moves while the angle is checked [mm]: the compound's travel x sin(half angle).

        The indicator touches a bar parallel to the axis.
        """
        return self.tried_mm * sin(radians(self.half_deg))

    @property
    def one_mark_deg(self) -> float:
        """The error of the angle [deg] if the indicator moves one mark too far while the angle is checked."""
        return degrees(asin(min(1.0, (self.shown_mm + self.mark_mm) / self.tried_mm))) - self.half_deg

    def swing(self) -> Step:
        """Return the step that swings the compound, with the reading that its scale must show if the scale is known."""
        scale = self.lathe.compound
        reads = f" Its scale must read {taper_scale_words(scale, self.half_deg)}." if scale else ""
        text = (
            f"Swing the compound {angle_words(self.half_deg)} off the axis. When you feed it towards the chuck, the "
            f"tool must move away from the axis.{reads} Clamp the compound lightly"
        )
        return Step(action="check", title="Swing the compound", text=text)

    def indicate(self) -> Step:
        """Return the step that sets the angle by an indicator, and that says what an error of one mark means."""
        length_text, off_deg = self.lathe.length_text, self.one_mark_deg
        off_mm = 2 * self.length_mm * (tan(radians(self.half_deg + off_deg)) - tan(radians(self.half_deg)))
        wound, moved = self.by_dial(self.tried_mm), self.lathe.indicator_text(self.shown_mm)
        text = (
            f"Indicator: {safety.STOP_FIRST.lower()} Fix the indicator on the compound. Set its plunger at axis "
            "height and square to the axis, on a true bar or the turned blank. Take up the compound's backlash "
            f"towards the chuck, then wind on {wound} by its dial. The indicator must move {moved}. If it does not, "
            "tap the compound and try again. Then tighten the clamp. An error of one mark means "
            f"{angle_words(off_deg)}, or {length_text(off_mm)} on the diameter"
        )
        return Step(action="check", title="Set the angle by indicator", text=text, cautions=(safety.INDICATOR_OFF,))

    def correct(self, cut_deg: float) -> Step:
        """Return the step that corrects the compound after it has cut a wrong half angle of `cut_deg` [deg]."""
        words = self.correction_words(cut_deg)
        return Step(action="check", title="Correct the angle", text=f"Correct the angle: {words[0].lower()}{words[1:]}")

    def correction_words(self, cut_deg: float) -> str:
        """Return in words how to correct the compound after it has cut a half angle of `cut_deg` [deg].

        The text states the angle by which to swing the compound, how far an indicator set against the compound must
        move, and by how much the indicator's movement must change when the angle is checked again.
        """
        off_deg = self.half_deg - cut_deg
        more, direction = ("more", "further from") if off_deg > 0 else ("less", "nearer to")
        tap_mm = _ARM_MM[self.lathe.unit] * sin(radians(abs(off_deg)))
        change_mm = abs(self.shown_mm - self.tried_mm * sin(radians(cut_deg)))
        arm = self.lathe.length_text(_ARM_MM[self.lathe.unit])
        tap, change = self.lathe.indicator_text(tap_mm), self.lathe.indicator_text(change_mm)
        return (
            f"{safety.STOP_FIRST} Swing the compound by {angle_words(off_deg)}, {direction} parallel with the bed. "
            f"Set an indicator against the compound, {arm} from its pivot. Tap the compound until the indicator has "
            f"moved {tap}. Tighten the clamp and try again: over {self.by_dial(self.tried_mm)} of the compound the "
            f"indicator must move {change} {more} than before"
        )

    def caution(self) -> str:
        """Return a caution if the compound's scale ends before the wanted angle; "" if the scale reaches the angle."""
        scale = self.lathe.compound
        if scale is None or scale.shows(90 - self.half_deg):
            return ""
        ends = number_text(scale.end_deg or 0, 2)
        return f"The compound's scale ends at {ends}°, before the wanted angle. Set the angle by the indicator alone."
