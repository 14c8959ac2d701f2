"""Turning a taper with the compound swung: set by an indicator, cut in passes, measured at two lines, corrected.

The blank is parallel, as thick as the large end. Touched at its free end, the cross-slide goes in by half the
difference of the ends, and the taper then just comes to its length. Lengths in mm, angles in degrees.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from math import atan, cos, degrees, floor, radians, sin, sqrt, tan
from typing import Any, Literal

from core import safety
from core.cutting import Progress, touch_off_step, with_measured_depth
from core.events.state import State
from core.inputs import DiametersMeasured, Edited, Measured, Moved, RunInput, SetTo, nothing_planned_from
from core.lathe.lathe import Lathe
from core.operations.form import Choice, Entry, Figure, Form, Row
from core.operations.operation import Figures, Needs, Operation
from core.operations.size_cut import (
    OwnSteps,
    SizeCut,
    count_size_cut,
    depth_before_measuring_mm,
    plan_size_cut,
    read_pass_depths,
)
from core.operations.size_cut_again import SizeCutAtLathe, replan_size_cut
from core.operations.size_cut_form import cut_figures, how_to_cut
from core.operations.swung_compound import SwungCompound, angle_words, round_length_mm
from core.operations.taper_angles import (
    EXAMPLES,
    Taper,
    of_one_side,
    on_diameter,
    scale_words,
    stated_taper,
    taper_figures,
)
from core.plan import Expects, Plan, Step, StepCount, numbered
from core.questions import Asked, EnteredSize, PlacesAsked, SizeAsked, read_length
from core.replanning import Reached, what_is_left
from core.values.errors import PlanError, QuantityError
from core.values.fields import Table
from core.values.quantities import number_text

_STEEPEST_DEG = 80.0
_SELF_HOLDING_DEG = 3.5
"""Half angle up to which a taper holds by itself; common practice, no source."""
_OFF_CENTRE_MM: Mapping[str, float] = {"mm": 0.5, "in": 0.02 * 25.4}
"""The example of a tool off centre height, in a lathe's unit."""
_LINES = 20
"""A line to measure at stands on a whole one of so many parts of the taper, or more."""
_FREE_END = "free end"
"""What a diameter is measured as, as long as the taper has not come to the far line."""
_HOLDS = "It holds by itself: try it by hand only, spindle stopped; have a drift or drawbar to free it."


@dataclass(frozen=True, kw_only=True)
class TaperCut:
    """A taper outside, from a blank as thick as its large end."""

    half_deg: float
    large_mm: float
    length_mm: float
    cut_mm: float
    finish_mm: float
    named: str
    """As it was given: "MT 2", "1:20", an angle; "" for two diameters."""
    work_length_mm: float | None = None
    """Between centres; None where that is not said."""

    @property
    def slope(self) -> float:
        """How far the side rises over the length [-]."""
        return tan(radians(self.half_deg))

    @property
    def small_mm(self) -> float:
        """Diameter of the free end."""
        return self.at_mm(0)

    @property
    def travel_mm(self) -> float:
        """Travel of the compound along the whole taper."""
        return self.length_mm / cos(radians(self.half_deg))

    @property
    def tailstock_mm(self) -> float | None:
        """Set-over of the tailstock for the same taper; None where the work's length is not said."""
        return None if self.work_length_mm is None else self.work_length_mm * sin(radians(self.half_deg))

    def at_mm(self, from_end_mm: float) -> float:
        """Return the diameter wanted so far from the free end."""
        return max(0.0, self.large_mm - 2 * (self.length_mm - from_end_mm) * self.slope)

    def error_off_centre_mm(self, off_centre_mm: float) -> float:
        """Return how much too large the free end comes with a tool so far off centre height, the large end right.

        The tool runs beside the axis: where it is x away from it in its own plane it cuts a radius of
        sqrt(x^2 + h^2), which makes the side a curve.
        """
        large_mm = sqrt(max(0.0, (self.large_mm / 2) ** 2 - off_centre_mm**2))
        small_mm = max(0.0, large_mm - self.length_mm * self.slope)
        return 2 * sqrt(small_mm**2 + off_centre_mm**2) - self.small_mm


# Reading.


def read_taper(table: Table, lathe: Lathe) -> TaperCut | None:
    """Read a `taper` operation; None where a problem was noted."""
    before = len(table.problems)
    length, work = table.length("length", required=True, above=0), table.length("work_length", above=0)
    large, small = table.length("large", above=0), table.length("small", least=0)
    of, sizes = _of(table), read_pass_depths(table, lathe)
    taper = _stated(table, of)
    if taper is not None and taper.large_mm is not None and not table.has("large"):
        large = float(taper.large_mm)
    elif not table.has("large"):
        table.problem("large", "is missing. Enter the diameter of the large end, such as 18 mm")
    if len(table.problems) > before or length is None or large is None or sizes is None:
        return None
    if taper is None:
        if small is None or small >= large:
            table.problem("small", f"must be smaller than large, {lathe.length_text(large)}. Enter a smaller diameter")
            return None
        taper = on_diameter(Fraction(large - small) / Fraction(length))
    named = str(table.data.get("taper", ""))
    found = TaperCut(
        half_deg=float(taper.half_deg),
        large_mm=large,
        length_mm=length,
        cut_mm=sizes[0],
        finish_mm=sizes[1],
        named=f"{named} {of}" if of else named,
        work_length_mm=work,
    )
    return found if _is_possible(found, table, lathe) else None


def _of(table: Table) -> Literal["included", "half"] | None:
    """Return which angle is stated, if one is."""
    found = table.word("of", ("included", "half"))
    return "included" if found == "included" else "half" if found else None


def _stated(table: Table, of: Literal["included", "half"] | None) -> Taper | None:
    """Return the taper stated as such; None for the diameter of the small end, and where a problem was noted."""
    if table.has("taper") and table.has("small"):
        table.problem("small", "stands beside taper. Enter only one of them")
    elif table.has("of") and of is None:
        # What is wrong with it is noted; whether an angle is meant is then not known.
        return None
    elif table.has("taper"):
        try:
            return stated_taper(table.data["taper"], of)
        except QuantityError as error:
            table.problem("taper", error.message)
    elif not table.has("small"):
        table.problem("taper", f"is missing. Enter {EXAMPLES}, or small, the diameter of the small end")
    elif of:
        table.problem("of", "is for an angle only. Leave it out beside small")
    return None


def _is_possible(taper: TaperCut, table: Table, lathe: Lathe) -> bool:
    half_deg, length_mm, work_mm = taper.half_deg, taper.length_mm, taper.work_length_mm
    if not 0 < half_deg <= _STEEPEST_DEG:
        words = f"comes to a half angle of {number_text(half_deg, 2)} deg"
        most = number_text(_STEEPEST_DEG, 0)
        table.problem("taper", f"{words}. Enter a taper with a half angle above 0 and up to {most} deg")
    elif length_mm > (point_mm := taper.large_mm / 2 / taper.slope) * (1 + 1e-9):
        table.problem("length", f"goes past the point of the taper. Enter at most {lathe.length_text(point_mm)}")
    elif work_mm is not None and work_mm < length_mm:
        found = f"is less than length, {lathe.length_text(length_mm)}"
        table.problem("work_length", f"{found}. Enter the whole length between the centres")
    else:
        return True
    return False


# At the lathe: lines, steps, planning again.


@dataclass(frozen=True)
class _AtLathe:
    """A taper as it is cut on a lathe."""

    taper: TaperCut
    lathe: Lathe

    @cached_property
    def swung(self) -> SwungCompound:
        """The compound that feeds along it."""
        return SwungCompound(half_deg=self.taper.half_deg, length_mm=self.taper.length_mm, lathe=self.lathe)

    @cached_property
    def lines_mm(self) -> tuple[float, float]:
        """Where it is measured, from the free end: near it, and nearly as far as the first passes come."""
        round_mm = round_length_mm(self.taper.length_mm / _LINES, self.lathe.unit)
        come_mm = 0.95 * depth_before_measuring_mm(self._plain, self.lathe) / self.taper.slope
        near = max(1, floor(come_mm / 10 / round_mm))
        far = floor(come_mm / round_mm + 1e-9)
        return (near * round_mm, far * round_mm) if far > near else (come_mm / 10, come_mm)

    @property
    def _plain(self) -> SizeCut:
        """The cut as that of the free end's diameter."""
        taper = self.taper
        ends_mm = taper.large_mm, taper.small_mm
        return SizeCut("cross_slide", *ends_mm, taper.cut_mm, taper.finish_mm, measured="diameter", outwards=False)

    @property
    def rise_mm(self) -> float:
        """By how much thicker than the free end it is at the far line, on the diameter."""
        return 2 * self.lines_mm[1] * self.taper.slope

    @cached_property
    def cutting(self) -> SizeCut:
        """The cut in diameters of the far line; before it has come there, those that the cone would have."""
        plain = self._plain
        return plain._replace(
            from_mm=plain.from_mm + self.rise_mm,
            to_mm=plain.to_mm + self.rise_mm,
            own=OwnSteps(
                touch_off=lambda lathe, size_mm: self.touch_off(1, size_mm),
                measure=lambda lathe, depth_mm: self.measure(depth_mm),
                measure_last=lambda lathe, note: self.measure_last(note),
            ),
            set_up=(self.swung.swing(), self.swung.indicate(), self.travel(), self.tool_height()),
            round_movement=(
                "Cross-slide to its reading",
                "Feed the compound towards the chuck until the tool runs out of the work",
                "Withdraw the cross-slide, wind the compound back past the free end",
                "Then the key",
            ),
        )

    # Steps.

    def travel(self) -> Step:
        """Return the step that finds out whether the compound goes far enough, and what to do where it does not."""
        taper, say = self.taper, self.lathe.length_text
        other = "If it cannot, set the tailstock over instead"
        if taper.tailstock_mm is not None:
            other += f": {say(taper.tailstock_mm)} towards you, work between centres, feed with the carriage"
        text = (
            f"Compound travel: wind it through {self.swung.by_dial(taper.travel_mm)} by its dial once. {other}. "
            "Lock the carriage with the tool just off the free end"
        )
        return Step(action="check", title="Try the compound's travel", text=text)

    def tool_height(self) -> Step:
        """Return the step that sets the tool to centre height and marks the lines."""
        say, off_mm = self.lathe.length_text, _OFF_CENTRE_MM[self.lathe.unit]
        near, far = map(say, self.lines_mm)
        text = (
            f"Tool height: {safety.STOP_FIRST.lower()} Set the tool exactly to centre height. Mark two lines round the "
            f"{say(self.taper.large_mm)} blank to measure at, {near} and {far} from its free end"
        )
        error = say(self.taper.error_off_centre_mm(off_mm))
        curved = f"A tool {say(off_mm)} off centre height curves the taper: {error} on the small end"
        return Step(action="check", title="Set the tool to centre height", text=text, cautions=(curved,))

    def touch_off(self, line: int, size_mm: float) -> Step:
        """Return the touching-off at a line (0: the near one) of so thick; at the free end before it is cut so far."""
        lathe, at_mm = self.lathe, self.lines_mm[line]
        if size_mm > self.taper.large_mm:
            size_mm, at_mm = size_mm - 2 * at_mm * self.taper.slope, 0.0
        where = f"at the line {lathe.length_text(at_mm)} from the free end" if at_mm else "at its free end"
        dial = lathe.dial("cross_slide")
        backlash = f" ({dial.reading_text(dial.backlash)})" if dial.backlash else ""
        text = (
            f"Cross-slide: backlash{backlash} taken up, tool just touching the work {where}, "
            f"{lathe.length_text(size_mm)}"
        )
        depth_mm = (self.taper.large_mm - size_mm) / 2 + at_mm * self.taper.slope
        step = touch_off_step(dial, text)
        return with_measured_depth(step, depth_mm) if depth_mm > 0 else step

    def measure(self, depth_mm: float) -> Step:
        """Return the measuring between passes, with what the dial predicts at a depth."""
        near, far = (
            self.lathe.length_text(self.taper.large_mm + 2 * (at * self.taper.slope - depth_mm)) for at in self.lines_mm
        )
        text = f"{safety.STOP_FIRST} Measure at both lines and enter both diameters. The dial predicts {near} and {far}"
        return Step(
            action="measure",
            title="Measure two diameters",
            text=f"{text}. The micrometer's edge on the line, square to the axis",
            expects=Expects.SIZE,
        )

    def measure_last(self, note: str) -> Step:
        """Return the measuring after the last pass."""
        near, far = (self.lathe.length_text(self.taper.at_mm(at_mm)) for at_mm in self.lines_mm)
        text = f"{safety.STOP_FIRST} Measure at both lines and enter both diameters. {near} and {far} are wanted"
        return Step(
            action="measure",
            title="Measure two diameters",
            text=f"{text}. By the dial {note}" if note else text,
            expects=Expects.SIZE,
        )

    def blue(self) -> Step:
        """Return the trial in the socket."""
        text = (
            f"Blue it: {safety.STOP_FIRST.lower()} Draw a line of blue along the taper, twist it in its socket. Rubbed "
            "all along: right. Only at the large end: the angle is too large. Only at the small end: too small. Break "
            "the edges"
        )
        holds = self.taper.half_deg <= _SELF_HOLDING_DEG
        return Step(action="check", title="Blue it", text=text, cautions=(_HOLDS if holds else safety.STOP_FOR_HANDS,))

    # Planning again.

    def has_come(self, progress: Progress) -> bool:
        """Tell whether the taper has come to the far line, to a fiftieth of it."""
        return progress.depth_mm >= 0.98 * self.lines_mm[1] * self.taper.slope

    def at_far_line(self, size: Measured) -> Measured:
        """Return a diameter of the free end as that of the far line; one of the line as it is."""
        return size._replace(what="size", size_mm=size.size_mm + self.rise_mm) if size.what == _FREE_END else size

    def after_edit(self, progress: Progress) -> list[Step]:
        """Return what follows a change of job or lathe: the angle may be another one, and so is the touching-off."""
        depth_mm = progress.depth_at_dial_mm(self.cutting.infeed(self.lathe))
        return [
            *self.cutting.set_up[:2],
            self.touch_off(1, self.cutting.size_mm(depth_mm)),
            *self._rest(self.cutting.total_mm - depth_mm),
        ]

    def after_two(self, progress: Progress, measured: DiametersMeasured) -> list[Step]:
        """Return what follows two diameters: the angle corrected where it shows, then the depth from there."""
        taper, lathe = self.taper, self.lathe
        self._refuse_impossible(progress, measured)
        (near_at, far_at), (near_mm, far_mm) = measured.at_mm, measured.diameters_mm
        cut_deg = degrees(atan((far_mm - near_mm) / 2 / (far_at - near_at)))
        left_mm = ((near_mm - taper.at_mm(near_at)) / 2, (far_mm - taper.at_mm(far_at)) / 2)
        words = f"half angle {angle_words(cut_deg)} by the two diameters, {angle_words(taper.half_deg)} is wanted"
        if abs(left_mm[1] - left_mm[0]) <= self.swung.mark_mm / 2 + 1e-9:
            size = Measured(what="size", size_mm=far_mm)
            first, *rest = replan_size_cut(self.cutting, lathe, progress, size)
            return [replace(first, findings=(f"{words}: the indicator shows no difference", *first.findings)), *rest]
        most_mm, least_mm = max(left_mm), min(left_mm)
        further = ""
        if least_mm < 0:
            further = (
                f"to come clean all along it goes {lathe.length_text(-2 * least_mm)} below its size on the diameter, "
                f"{lathe.length_text(-least_mm / taper.slope)} further into its socket"
            )
        if most_mm < self.cutting.infeed(lathe).mark_mm / 2:
            text = f"Nothing is left to cut at size, and the angle is out. {self.swung.correction_words(cut_deg)}"
            return [
                Step(
                    action="check",
                    title="The angle is out",
                    text=f"{text}; {further}" if further else text,
                    findings=(words,),
                )
            ]
        # Once it is swung the tool meets the work first where most is left, and counts from there.
        place = left_mm.index(most_mm)
        return [
            replace(self.swung.correct(cut_deg), findings=tuple(filter(None, (words, further)))),
            self.touch_off(place, measured.diameters_mm[place]),
            *self._rest(most_mm),
        ]

    def _rest(self, left_mm: float) -> list[Step]:
        """Return what is cut after a touching-off with so much left."""
        cut = SizeCutAtLathe(self.cutting, self.lathe)
        return what_is_left(cut, Reached(Fraction(0), self.cutting.total_mm - left_mm), "measurement")

    def refuse_before_the_line(self, progress: Progress) -> None:
        """Raise PlanError for a measurement at the far line before the taper has come there."""
        if not self.has_come(progress):
            at = self.lathe.length_text(self.lines_mm[1])
            raise PlanError(
                f"the taper has not come to the line {at} from the free end. Cut on first", field="measured"
            )

    def _refuse_impossible(self, progress: Progress, measured: DiametersMeasured) -> None:
        say, (near_mm, far_mm) = self.lathe.length_text, measured.diameters_mm
        self.refuse_before_the_line(progress)
        words = ""
        if far_mm > self.taper.large_mm + self.swung.mark_mm:
            words = f"{say(far_mm)} is thicker than the blank, {say(self.taper.large_mm)}. Measure again"
        elif near_mm >= far_mm:
            words = f"{say(near_mm)} near the free end is not smaller than {say(far_mm)} further on. Measure again"
        if words:
            raise PlanError(words, field="measured")

    # What is asked.

    def read(self, text: str) -> EnteredSize:
        """Return a diameter that was entered; raises QuantityError for one that the blank never had."""
        reading, most_mm = read_length(text, self.lathe.unit), self.taper.large_mm + self.swung.mark_mm
        if reading.size_mm > most_mm:
            found, blank = self.lathe.length_text(reading.size_mm), self.lathe.length_text(self.taper.large_mm)
            raise QuantityError(f"{found} is thicker than the blank, {blank}. Enter what was measured now")
        return reading

    def one_asked(self, what: str, where: str, wanted_mm: float) -> SizeAsked:
        """Return the question for one diameter."""
        return SizeAsked(
            what,
            "One diameter: size alone",
            f"Which diameter was measured {where}?",
            self.read,
            lambda size_mm: f"measured {self.lathe.length_text(size_mm)}",
            (f"{self.lathe.length_text(wanted_mm)} is wanted there in the end.",),
        )

    def at_line_asked(self) -> SizeAsked:
        """Return the question for the diameter at the far line, that of a gauge."""
        at_mm = self.lines_mm[1]
        return self.one_asked("size", f"{self.lathe.length_text(at_mm)} from the free end", self.taper.at_mm(at_mm))

    def two_asked(self) -> PlacesAsked:
        """Return the question for the diameters at both lines."""
        say = self.lathe.length_text
        near, far = (f"Which diameter was measured {say(at_mm)} from the free end?" for at_mm in self.lines_mm)
        wanted = " and ".join(say(self.taper.at_mm(at_mm)) for at_mm in self.lines_mm)
        return PlacesAsked(
            "Two diameters: angle and size",
            (near, far),
            self.lines_mm,
            self.read,
            lambda near_mm, far_mm: f"measured {say(near_mm)} and {say(far_mm)}",
            (f"At the two lines {wanted} are wanted in the end.",),
        )


def count_taper(taper: TaperCut, lathe: Lathe, material: str | None) -> StepCount:
    """Return how many steps a taper takes; raises PlanError as `plan_taper` does."""
    count = count_size_cut(_AtLathe(taper, lathe).cutting, lathe, material)
    return count._replace(steps=count.steps + 1)


def plan_taper(taper: TaperCut, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan of a taper; raises PlanError where the cross-slide has no dial, or its marks are too coarse."""
    here = _AtLathe(taper, lathe)
    plan = plan_size_cut(here.cutting, lathe, material)
    sizes = {
        "large_mm": taper.large_mm,
        "small_mm": taper.small_mm,
        "compound_travel_mm": taper.travel_mm,
        "tailstock_offset_mm": taper.tailstock_mm,
    }
    known = {**taper_figures(of_one_side(Fraction(taper.slope)), lathe), **sizes, "passes": plan.figures["passes"]}
    return replace(
        plan,
        figures={key: known[key] for key in (*_FIGURE_NAMES, "passes") if known.get(key) is not None},
        cautions=tuple(filter(None, (here.swung.caution(), *plan.cautions))),
        steps=numbered([*plan.steps, here.blue()]),
    )


def replan_taper(
    taper: TaperCut, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    """Return the steps that replace the open ones; raises PlanError."""
    here = _AtLathe(taper, lathe)
    match entered:
        case DiametersMeasured():
            steps: Sequence[Step] = here.after_two(progress, entered)
        case Measured():
            here.refuse_before_the_line(progress)
            steps = replan_size_cut(here.cutting, lathe, progress, entered)
        case Moved(size=Measured() as size):
            moved = Moved(size=here.at_far_line(size))
            steps = (here.swung.indicate(), *replan_size_cut(here.cutting, lathe, progress, moved))
        case Edited():
            steps = here.after_edit(progress)
        case SetTo():
            steps = replan_size_cut(here.cutting, lathe, progress, entered)
        case _:
            raise nothing_planned_from(entered)
    return numbered([*steps, here.blue()], progress.next_id)


def taper_questions(taper: TaperCut, lathe: Lathe, state: State) -> tuple[Asked, ...]:
    """Return what can be measured: two diameters, or one at the far line."""
    here = _AtLathe(taper, lathe)
    return here.two_asked(), here.at_line_asked()


def taper_moved(taper: TaperCut, lathe: Lathe, state: State) -> Asked:
    """Return what is asked once something was moved: a diameter where the taper has come to."""
    here = _AtLathe(taper, lathe)
    if here.has_come(state.progress):
        return here.at_line_asked()
    return here.one_asked(_FREE_END, "at the free end, as it is now", taper.small_mm)


# How it is entered.

_RATIO, _WHOLE, _SIDE, _SIZE = "ratio or standard", "angle, whole", "angle of one side", "small diameter"


def _rows(lathe: Lathe, table: Mapping[str, Any]) -> Sequence[Row]:
    start = _SIZE if "small" in table else "" if "of" in table else _RATIO
    return (
        "Which taper",
        Choice(
            key="of",
            label="Given as",
            options=((_RATIO, None), (_WHOLE, "included"), (_SIDE, "half"), (_SIZE, None)),
            start=start,
        ),
        Entry(key="taper", label="Taper", hint="(1:20, MT 2, 7 deg)", required=True, applies=("of", _NOT_SIZE)),
        Entry(key="small", label="Small diameter", unit=lathe.unit, required=True, applies=("of", (_SIZE,))),
        Entry(key="large", label="Large diameter", unit=lathe.unit, hint="(the standard's)"),
        Entry(key="length", label="Length of the taper", unit=lathe.unit, required=True),
        Entry(key="work_length", label="Length between centres", unit=lathe.unit, hint="(not)"),
        *how_to_cut(lathe),
    )


_NOT_SIZE = (_RATIO, _WHOLE, _SIDE)


def _name(taper: TaperCut, lathe: Lathe) -> str:
    return f"Taper {taper.named or f'{lathe.length_text(taper.large_mm)} to {lathe.length_text(taper.small_mm)}'}"


def _summary(taper: TaperCut, lathe: Lathe, plan: Plan) -> str:
    scale = f", scale {scale_words(lathe.compound, taper.half_deg)}" if lathe.compound else ""
    return f"Compound {angle_words(taper.half_deg)} off the axis{scale}; {plan.figures['passes']} cuts."


def _figures(taper: TaperCut, lathe: Lathe, plan: Plan) -> Iterator[Figure]:
    say, figures = lathe.length_text, plan.figures
    yield Figure("Half angle", angle_words(taper.half_deg), f"whole angle {angle_words(2 * taper.half_deg)}")
    if lathe.compound:
        yield Figure("Compound's scale", scale_words(lathe.compound, taper.half_deg))
    yield Figure("Large end", say(taper.large_mm), "diameter; turn the blank to it")
    yield Figure("Small end", say(taper.small_mm), f"diameter, over {say(taper.length_mm)}")
    yield Figure("Compound travels", _AtLathe(taper, lathe).swung.by_dial(taper.travel_mm), "by its dial")
    per_100 = [figures[f"indicator_per_100_{slide}_mm"] for slide in ("carriage", "compound")]
    notes = "of the carriage, on the finished taper", "of the compound, on a parallel bar"
    for moves_mm, note in zip(per_100, notes, strict=True):
        over = "100 mm" if lathe.indicator_unit == "mm" else "1 in"
        shown_mm = moves_mm if lathe.indicator_unit == "mm" else moves_mm * 25.4 / 100
        yield Figure("Indicator moves", lathe.indicator_text(shown_mm), f"in {over} {note}")
    if taper.tailstock_mm is not None:
        yield Figure("Tailstock instead", say(taper.tailstock_mm), "set over towards you")
    yield from cut_figures(plan, "cross_slide", lathe)


def _hints(taper: TaperCut, lathe: Lathe) -> Mapping[str, str]:
    return {"finish": lathe.length_text(taper.finish_mm), "large": lathe.length_text(taper.large_mm)}


def _needs(taper: TaperCut, lathe: Lathe, figures: Figures) -> Needs:
    compound = f"{angle_words(taper.half_deg)} off the axis, fed towards the chuck it goes away from it"
    # Where the compound cannot go so far, it is the carriage that feeds.
    return Needs(place="spindle", tool="turning tool, exactly at centre height", compound=compound, feeds=True)


_FIGURE_NAMES: Mapping[str, str] = {
    "included_deg": "whole angle of the taper",
    "half_angle_deg": "half angle, to which the compound is swung",
    "large_mm": "large end",
    "small_mm": "small end",
    "compound_scale_reads_deg": "compound's own scale reads",
    "nearest_mark_deg": "nearest mark of that scale",
    "compound_travel_mm": "travel of the compound",
    "indicator_per_100_carriage_mm": "indicator on the taper, in 100 mm of the carriage",
    "indicator_per_100_compound_mm": "indicator on a bar, in 100 mm of the compound",
    "tailstock_offset_mm": "tailstock set over instead",
}
"""The figures of its plan, in the order in which they are shown."""
_HELP = (
    "The compound is swung to half the taper's angle and feeds by hand along it; the cross-slide sets the depth. The "
    "blank is turned parallel to the large diameter first. Touched off at its free end, the taper grows with every "
    "pass until it reaches its length.\n\n"
    "After roughing enter the diameters at two lines: halfnut says by how much and which way to correct the angle, and "
    "plans the depth again. Last, try it with blue in its socket.\n\n"
    "A taper is a ratio on the diameter (1:20), an amount per length (0.6 in per ft), a standard (MT 2, metric 80) or "
    "an angle with its unit (7 deg). A standard brings its large diameter along. With the length between centres the "
    "tailstock's set-over is shown as well."
)
TAPER = Operation(
    read=read_taper,
    steps=count_taper,
    plan=plan_taper,
    replan=replan_taper,
    questions=taper_questions,
    moved=taper_moved,
    needs=_needs,
    form=Form(rows=_rows, name=_name, summary=_summary, figures=_figures, help=_HELP, hints=_hints),
    figure_names=_FIGURE_NAMES,
)
