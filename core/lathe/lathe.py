"""The user's lathe: dials, compound scale, leadscrew, gears, spindle, rotary table, wires and shims.

Lengths are in mm, angles in degrees and speeds in revolutions per minute, unless a name says otherwise. Each dial keeps
its own unit (see core.values.dials).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Literal, NamedTuple

from core.values.dials import Dial, Unit
from core.values.errors import PlanError
from core.values.quantities import length_text

LATHE_FORMAT = 1
SET_UP = "set-up (key l on the board)"
"""The name of set-up in sentences about a part that the lathe file lacks."""
DIAL_NAMES = ("cross_slide", "compound", "carriage", "boring_head", "tailstock")
"""The dials that operations use. A lathe file may have others."""
CARRIAGE = "carriage"
"""Name of the carriage's dial."""
ALONG_THE_BED = frozenset({"carriage", "tailstock", "quill"})
"""Dials whose slide always moves along the bed. They do not change the diameter."""
NEVER_ALONG_THE_BED = frozenset({"cross_slide", "boring_head"})
"""Dials of slides that never move along the bed. They cannot set the depth of a facing cut."""


class CompoundScale(NamedTuple):
    """The scale that shows the angle to which the compound is swivelled."""

    zero: Literal["parallel", "perpendicular"]
    """The direction of the slide when the scale reads 0: parallel or perpendicular to the spindle axis."""
    graduation_deg: float = 1.0
    end_deg: float | None = None
    """The largest angle on the scale [deg]; None if it is not known."""

    def reading_deg(self, compound_angle_deg: float) -> float:
        """Return the reading of the scale [deg] at a compound angle.

        `compound_angle_deg`: the angle between the compound and a line square to the spindle axis [deg].
        """
        return 90.0 - compound_angle_deg if self.zero == "parallel" else compound_angle_deg

    def shows(self, compound_angle_deg: float) -> bool:
        """Return whether the scale is long enough to show a compound angle [deg].

        A scale of unknown length shows every angle.
        """
        return self.end_deg is None or self.reading_deg(compound_angle_deg) <= self.end_deg + 1e-9

    def nearest_mark_deg(self, compound_angle_deg: float) -> float | None:
        """Return the reading of the mark nearest to a compound angle [deg]; None if the scale ends before it."""
        if not self.shows(compound_angle_deg):
            return None
        graduation = Fraction(str(self.graduation_deg))
        marks = round(Fraction(self.reading_deg(compound_angle_deg)) / graduation)
        if self.end_deg is not None:
            marks = min(marks, math.floor(Fraction(str(self.end_deg)) / graduation))
        return float(marks * graduation)

    def largest_mark_below_deg(self, half_angle_deg: float) -> float | None:
        """Return the largest compound angle below `half_angle_deg` [deg] at which the scale has a mark.

        Return None if there is no such angle.
        """
        graduation = Fraction(str(self.graduation_deg))
        below = half_angle_deg - 1e-9
        zero = Fraction(90) % graduation if self.zero == "parallel" else Fraction(0)
        count = int((Fraction(str(below)) - zero) // graduation)
        compound_angle = float(zero + count * graduation)
        while compound_angle > 0 and not self.shows(compound_angle):
            # On a scale with its zero square to the axis, a smaller angle may still have a mark.
            if self.zero == "parallel":
                return None
            compound_angle -= self.graduation_deg
        return compound_angle if compound_angle > 0 else None


class ThreadDial(NamedTuple):
    """The thread dial on the carriage.

    A thread dial may have several wheels that mesh with the leadscrew. Each wheel is identified by its tooth count and
    has its own evenly spaced lines.
    """

    wheels: tuple[tuple[int, int], ...]
    """The tooth count and the number of lines of each wheel."""


class ChangeGears(NamedTuple):
    """The change gears that the user owns."""

    teeth: tuple[int, ...]
    fixed_ratio: Fraction = Fraction(1)
    """Turns of the first driver for one turn of the spindle."""


class Spindle(NamedTuple):
    """The spindle of a lathe: its speeds, how long it coasts, and its nose."""

    speeds_rpm: tuple[float, ...] = ()
    """The spindle's speeds in rising order [rpm]; () if the speed has no steps."""
    range_rpm: tuple[float, float] | None = None
    reaction_time_s: float = 1.0
    coast_turns: float | None = None
    nose: Literal["screwed", "flange", "cam"] | None = None
    most_rpm: float | None = None

    @property
    def slowest_rpm(self) -> float | None:
        """The slowest spindle speed [rpm]; None if no speeds are known."""
        if self.speeds_rpm:
            return self.speeds_rpm[0]
        return self.range_rpm[0] if self.range_rpm else None

    def has(self, rpm: float) -> bool:
        """Return whether the spindle can run at a speed [rpm]. If no speeds are known, return True."""
        if self.range_rpm:
            return self.range_rpm[0] <= rpm <= self.range_rpm[1]
        return not self.speeds_rpm or any(abs(rpm - speed) < 0.5 for speed in self.speeds_rpm)

    def fastest_up_to(self, rpm: float) -> float | None:
        """Return the fastest known spindle speed that is not above `rpm` [rpm]; None if there is no such speed."""
        if self.range_rpm:
            return min(rpm, self.range_rpm[1]) if rpm >= self.range_rpm[0] else None
        return max((speed for speed in self.speeds_rpm if speed <= rpm * (1 + 1e-9)), default=None)


class RotaryTable(NamedTuple):
    """A rotary table or dividing head."""

    ratio: Fraction
    """Turns of the handle for one turn of the table."""
    dial_graduation_deg: Fraction | None = None
    """Angle that the table turns for one mark of the handle's dial [deg]. None if it has only plates."""
    vernier_deg: Fraction | None = None
    plates: tuple[tuple[int, ...], ...] = ()
    """The numbers of holes in the hole circles, plate by plate."""
    direct: tuple[int, ...] = ()
    """The numbers of notches of the direct-index plates, which are on the spindle of the table itself."""
    backlash_deg: Fraction = Fraction(0)
    numbers_rise: Literal["clockwise", "anticlockwise"] = "clockwise"
    """The direction in which the table turns, seen on its face, while its numbers rise."""


class Cutter(NamedTuple):
    """A cutter for grooves in a face. Its point is sharp, flat or round."""

    name: str
    tip_angle_deg: float
    """The included angle of the point [deg]."""
    tip_flat_mm: float = 0.0
    tip_radius_mm: float = 0.0
    reach_mm: float | None = None
    """The depth at which the shank begins to rub [mm]; None if it is not known."""

    def groove_width_mm(self, depth_mm: float) -> float:
        """Return the width at the face [mm] of the groove that this cutter cuts at a depth [mm].

        A sharp point with the included angle A cuts a groove 2 x depth x tan(A / 2) wide. A flat adds its own width. A
        round nose of radius r cuts an arc down to the depth r (1 - sin(A / 2)) and straight flanks below that depth.

        >>> round(Cutter("wide", 90).groove_width_mm(0.6), 6)
        1.2
        >>> round(Cutter("round", 90, tip_radius_mm=1).groove_width_mm(1), 6)
        2.828427
        """
        if depth_mm <= 0:
            return 0.0
        half, radius = math.radians(self.tip_angle_deg / 2), self.tip_radius_mm
        arc_mm = radius * (1 - math.sin(half))
        if depth_mm <= arc_mm:
            return 2 * math.sqrt(2 * radius * depth_mm - depth_mm**2)
        return self.tip_flat_mm + 2 * radius * math.cos(half) + 2 * (depth_mm - arc_mm) * math.tan(half)


class Indicator(NamedTuple):
    """The user's dial indicator or dial test indicator."""

    graduation_mm: float
    kind: Literal["plunger", "lever"] = "plunger"
    unit: Unit = "mm"
    """The unit of the indicator's dial, in which the lathe file gives the graduation."""


class Chuck(NamedTuple):
    """The user's chucks.

    States how far one turn of a screw moves a jaw of the four-jaw chuck, and how wide the jaws of the three-jaw chuck
    are.
    """

    jaw_lead_mm: float | None = None
    jaw_face: Literal["narrow", "wide"] | None = None


@dataclass(frozen=True, kw_only=True)
class Lathe:
    """Everything that a lathe file says about one lathe."""

    name: str
    example: bool = False
    """True for the example lathe, which is used until the user has described a lathe of their own."""
    centre_height_mm: float | None = None
    dials: Mapping[str, Dial] = field(default_factory=dict)
    compound: CompoundScale | None = None
    leadscrew_mm: Fraction | None = None
    """Pitch of the leadscrew [mm], exact."""
    thread_dial: ThreadDial | None = None
    change_gears: ChangeGears | None = None
    gearbox_mm: tuple[Fraction, ...] = ()
    """Pitches that a gearbox gives [mm], exact."""
    gearbox_levers: tuple[str, ...] = ()
    """The lever positions for each of these pitches, as the gearbox's plate says, such as "A 2"; () if not known."""
    spindle: Spindle = field(default_factory=Spindle)
    rotary_table: RotaryTable | None = None
    indicator: Indicator | None = None
    chuck: Chuck = field(default_factory=Chuck)
    wires_mm: tuple[float, ...] = ()
    shims_mm: tuple[float, ...] = ()
    bars_mm: tuple[float, ...] = ()
    """Plates and bars for building up a height. A size that is listed twice is owned twice."""
    protractor_deg: float = 1.0
    """The angle between two marks of the protractor or grinding rest with which cutters are ground [deg]."""
    cutters: tuple[Cutter, ...] = ()
    """The cutters that the user owns."""
    data: Mapping[str, Any] = field(default_factory=dict, compare=False)
    """The tables of the lathe's file, under today's names."""
    written: Mapping[str, Any] = field(default_factory=dict, compare=False)
    """The tables of the lathe's file unchanged, which may have names of the first version."""

    def dial(self, name: str, instead: str = "") -> Dial:
        """Return the dial with a name, such as "cross_slide".

        Raises PlanError if the lathe has no such dial. `instead`: another way to do the job, which the error message
        suggests; "" if there is none.
        """
        dial = self.dials.get(name)
        if dial is None:
            advice = f"{instead}, or " if instead else ""
            advice += how_to_add(f"[dial.{name}]")
            raise PlanError(
                f"This lathe ({self.name}) has no {dial_words(name)}. {advice[0].upper()}{advice[1:]}.", field="lathe"
            )
        return dial

    def levers_for(self, lead_mm: Fraction) -> str:
        """Return the gearbox lever positions that give a lead [mm, exact], such as "A 2"; "" if they are not known."""
        pairs = zip(self.gearbox_mm, self.gearbox_levers, strict=False)
        return next((levers for pitch, levers in pairs if pitch == lead_mm), "")

    @property
    def unit(self) -> Unit:
        """The unit in which sizes are shown.

        This is the unit of the cross-slide's dial. Without a cross-slide it is the unit of the first dial, and without
        any dial it is mm.
        """
        dials = [self.dials["cross_slide"]] if "cross_slide" in self.dials else list(self.dials.values())
        return dials[0].unit if dials else "mm"

    def length_text(self, length_mm: float) -> str:
        """Return a length [mm] as text in the unit in which this lathe shows sizes."""
        return length_text(length_mm, self.unit)

    @property
    def indicator_unit(self) -> Unit:
        """The unit of the indicator's dial.

        If the lathe file has no indicator, this is the unit in which the lathe shows sizes.
        """
        return self.indicator.unit if self.indicator else self.unit

    def indicator_text(self, length_mm: float) -> str:
        """Return a length [mm] as text in `indicator_unit`."""
        return length_text(length_mm, self.indicator_unit)


def how_to_add(part: str) -> str:
    """Return a clause that says how to add a part that is missing in the lathe file.

    >>> how_to_add("[rotary_table]")
    'add [rotary_table] to the lathe file, or enter it in set-up (key l on the board)'
    """
    return f"add {part} to the lathe file, or enter it in {SET_UP}"


def dial_words(name: str) -> str:
    """Return the name of a dial as words for a sentence, without an article.

    >>> dial_words("cross_slide")
    'cross-slide'
    """
    return "cross-slide" if name == "cross_slide" else name.replace("_", " ")
