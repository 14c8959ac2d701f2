"""Turning a taper with the swung compound: its steps, its measurements at two lines marked on the work, and its
corrections.

The blank is parallel and has the diameter of the large end. The tool touches off on the blank. The taper has its full
length when the cross-slide has moved in by half the difference of the two diameters. Lengths are in mm, angles in
degrees.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from math import atan, degrees, floor
from typing import TYPE_CHECKING

from core import safety
from core.cutting import MEASURED_DEPTH, Progress, backlash_words, touch_off_step, with_measured_depth
from core.events.state import State
from core.inputs import DiametersMeasured, Edited, Measured, Moved, RunInput, SetTo, nothing_planned_from
from core.lathe.lathe import Lathe
from core.operations.lengths import length_cautions
from core.operations.operation import SET_UP_KEYS, Figures, Needs, Operation
from core.operations.size_cut import (
    OwnSteps,
    SizeCut,
    count_size_cut,
    depth_before_measuring_mm,
    plan_size_cut,
)
from core.operations.size_cut_replanning import SizeCutAtLathe, replan_size_cut
from core.operations.swung_compound import SwungCompound, angle_words, round_length_mm
from core.operations.taper_angles import of_one_side, taper_figures
from core.operations.taper_cut import TaperCut, read_taper
from core.operations.taper_form import TAPER_FORM
from core.operations.taper_place import compound_end, lock_step, taper_movements, with_compound_end, zero_steps
from core.plan import Expects, Plan, Step, StepCount, numbered
from core.questions import Asked, EnteredSize, PlacesAsked, SizeAsked, read_length
from core.replanning import Reached, what_is_left
from core.values.dials import ZeroedDials
from core.values.errors import PlanError, QuantityError

if TYPE_CHECKING:
    from core.drawing import Drawing

_SELF_HOLDING_DEG = 3.5
"""Largest half angle of a self-holding taper [deg]; common practice, no source."""
_OFF_CENTRE_MM: Mapping[str, float] = {"mm": 0.5, "in": 0.02 * 25.4}
"""Example of how far a tool may be off centre height [mm], by the lathe's unit."""
_LINES = 20
"""The distance of a measuring line is a multiple of a round length. This length is at most 1/20 of the taper."""
_FREE_END = "free end"
"""The name of a diameter measured at the free end, before the taper reaches the far line."""
_HOLDS = "A self-holding taper can jam. Try it by hand, spindle stopped. Keep a drift or drawbar ready."


# At the lathe: lines, steps, replanning.


@dataclass(frozen=True)
class _TaperAtLathe:
    """A taper on one lathe, with its steps, questions and corrections."""

    taper: TaperCut
    lathe: Lathe

    @cached_property
    def swung(self) -> SwungCompound:
        return SwungCompound(half_deg=self.taper.half_deg, length_mm=self.taper.length_mm, lathe=self.lathe)

    @cached_property
    def lines_mm(self) -> tuple[float, float]:
        """The distances of the near and the far measuring line from the free end of the taper [mm].

        The passes before the first measurement end just past the far line.
        """
        round_mm = round_length_mm(self.taper.length_mm / _LINES, self.lathe.unit)
        reached_mm = 0.95 * depth_before_measuring_mm(self._plain, self.lathe) / self.taper.slope
        near = max(1, floor(reached_mm / 10 / round_mm))
        far = floor(reached_mm / round_mm + 1e-9)
        return (near * round_mm, far * round_mm) if far > near else (reached_mm / 10, reached_mm)

    @property
    def _plain(self) -> SizeCut:
        """The cut to the small diameter, in which every size is the diameter at the free end."""
        taper = self.taper
        ends_mm = taper.large_mm, taper.small_mm
        return SizeCut(
            "cross_slide",
            *ends_mm,
            taper.cut_mm,
            taper.finish_mm,
            measured="diameter",
            outwards=False,
            size_key="taper" if taper.named else "small",
        )

    @property
    def rise_mm(self) -> float:
        """How much larger the diameter is at the far measuring line than at the free end [mm]."""
        return 2 * self.lines_mm[1] * self.taper.slope

    @cached_property
    def cutting(self) -> SizeCut:
        """The cut to the small diameter, in which every size is the diameter at the far measuring line.

        Before the taper reaches this line, the size is the diameter that the extended cone would have there.
        """
        plain = self._plain
        return plain._replace(
            from_mm=plain.from_mm + self.rise_mm,
            to_mm=plain.to_mm + self.rise_mm,
            own=OwnSteps(
                touch_off=lambda lathe, size_mm: self.touch_off(1, size_mm),
                measure=lambda lathe, depth_mm: self.measure(depth_mm),
                measure_last=lambda lathe, note: self.measure_last(note),
            ),
            set_up=(*self.before_zeros(), *self.zeros()),
            after_touch_off=(lock_step(self.taper.place, self.lathe),),
            pass_movements=(
                "Cross-slide to its reading",
                "Feed the compound towards the chuck until the tool leaves the work",
                "Withdraw the cross-slide, wind the compound back past the free end",
                "Then the key",
            ),
        )

    # Steps.

    def travel(self) -> Step:
        """Return the step that checks whether the compound can travel far enough, and says what to do if it cannot."""
        taper, length_text = self.taper, self.lathe.length_text
        wound = self.swung.by_dial(taper.travel_mm)
        text = f"Compound travel: wind the compound {wound} towards the chuck by its dial"
        if taper.place is None:
            text += ", then back to where you began"
        text += ". If it cannot travel that far, set the tailstock over instead"
        if taper.tailstock_mm is not None:
            text += f" by {length_text(taper.tailstock_mm)} towards you. "
            text += "Then hold the work between centres and feed with the carriage"
        return Step(action="check", title="Try the compound's travel", text=text)

    def before_zeros(self) -> list[Step]:
        """Return the steps that set the angle of the compound and the height of the tool, before any dial is
        set to 0.
        """
        return [self.swung.swing(), self.swung.indicate(), self.travel(), self.tool_height()]

    def zeros(self) -> list[Step]:
        """Return the steps that zero the compound and find the face; [] if the job does not state where the taper
        starts.
        """
        return zero_steps(self.taper.place, self.lathe) if self.taper.place else []

    def touched_off(self, touch_off: Step) -> list[Step]:
        """Return the steps that set the compound's dial to 0, touch off on the work, and lock the carriage.

        On the blank, the carriage brings the tool over the work, so it is locked after the touch-off. On the taper, the
        compound brings the tool over the work, so the carriage is locked first.
        """
        lock = lock_step(self.taper.place, self.lathe)
        is_cut = self._is_cut(float(touch_off.extra.get(MEASURED_DEPTH, 0.0)))
        both = [lock, touch_off] if is_cut else [touch_off, lock]
        return [*self.zeros(), *both]

    def _is_cut(self, depth_mm: float) -> bool:
        """Return whether the work is already tapered at a depth of cut [mm]. Below one mark, it still counts as the
        blank.
        """
        return depth_mm >= self._plain.infeed(self.lathe).mark_mm

    def tool_height(self) -> Step:
        """Return the step that sets the tool to centre height and marks the two measuring lines."""
        length_text, off_mm = self.lathe.length_text, _OFF_CENTRE_MM[self.lathe.unit]
        near, far = map(length_text, self.lines_mm)
        text = (
            f"Tool height: {safety.STOP_FIRST.lower()} Set the tool exactly to centre height. Mark two lines for "
            f"measuring around the {length_text(self.taper.large_mm)} blank, {near} and {far} from its free end"
        )
        error = length_text(self.taper.error_off_centre_mm(off_mm))
        curved = (
            f"A tool {length_text(off_mm)} off centre height curves the taper. The small end becomes {error} too large."
        )
        return Step(action="check", title="Set the tool to centre height", text=text, cautions=(curved,))

    def touch_off(self, line: int, size_mm: float) -> Step:
        """Return the step that touches off at a measuring line. `line`: 0 for the near line, 1 for the far line.

        `size_mm`: the diameter at the line [mm]. If it is larger than the blank, the taper has not reached the line,
        and the tool touches off at the free end instead.
        """
        lathe, at_mm = self.lathe, self.lines_mm[line]
        if size_mm > self.taper.large_mm:
            size_mm, at_mm = size_mm - 2 * at_mm * self.taper.slope, 0.0
        depth_mm = (self.taper.large_mm - size_mm) / 2 + at_mm * self.taper.slope
        dial, size = lathe.dial("cross_slide"), lathe.length_text(size_mm)
        if not self._is_cut(depth_mm):
            over, where = "wind the carriage until the tool is over the work", ""
        elif at_mm:
            line_words = f"the line {lathe.length_text(at_mm)} from the free end"
            over, where = f"wind the compound until the tool is at {line_words}", " at the line"
        else:
            over, where = "wind the compound until the tool is over the free end", " at its free end"
        text = (
            f"Cross-slide: withdraw the tool past {lathe.length_text(self.taper.large_mm)}, then {over}. Take up the "
            f"cross-slide's backlash{backlash_words(dial)} inwards. Wind on until the tool just touches the "
            f"work{where}, {size}"
        )
        step = touch_off_step(dial, text)
        return with_measured_depth(step, depth_mm) if depth_mm > 0 else step

    def measure(self, depth_mm: float) -> Step:
        """Return the step that measures between passes, with the diameters that the cross-slide's dial predicts.

        `depth_mm`: the depth of cut so far, according to the dial [mm].
        """
        near, far = (
            self.lathe.length_text(self.taper.large_mm + 2 * (at * self.taper.slope - depth_mm)) for at in self.lines_mm
        )
        text = f"{safety.STOP_FIRST} Measure at both lines and enter both diameters. The dial predicts {near} and {far}"
        return Step(
            action="measure",
            title="Measure two diameters",
            text=f"{text}. Hold the micrometer's edge on the line, square to the axis",
            expects=Expects.SIZE,
        )

    def measure_last(self, note: str) -> Step:
        near, far = (self.lathe.length_text(self.taper.at_mm(at_mm)) for at_mm in self.lines_mm)
        text = f"{safety.STOP_FIRST} Measure at both lines and enter both diameters. Wanted: {near} and {far}"
        return Step(
            action="measure",
            title="Measure two diameters",
            text=f"{text}. {note.removesuffix('.')}" if note else text,
            expects=Expects.SIZE,
        )

    def blue(self) -> Step:
        """Return the step that tries the taper in its socket with marking blue."""
        text = (
            f"Blue it: {safety.STOP_FIRST.lower()} Draw a line of blue along the taper and twist the taper in its "
            "socket. If the blue rubs off all along, the angle is right. If it rubs off only at the large end, the "
            "angle is too large. If it rubs off only at the small end, the angle is too small. Then break the edges"
        )
        holds = self.taper.half_deg <= _SELF_HOLDING_DEG
        return Step(
            action="check", title="Try it with blue", text=text, cautions=(_HOLDS if holds else safety.STOP_FOR_HANDS,)
        )

    def numbered_with_ends(self, steps: Sequence[Step], first_id: int) -> tuple[Step, ...]:
        """Return the steps with numbers, counted from `first_id`.

        If the job states where the taper starts, each pass also gets the compound's reading at its end.
        """
        if self.taper.place:
            end = compound_end(self.lathe, self.taper.length_mm, self.taper.half_deg)
            steps = with_compound_end(steps, self.lathe, end)
        return numbered(steps, first_id)

    # Replanning.

    def reaches_far_line(self, progress: Progress) -> bool:
        """Return whether the taper extends over at least 98 % of the distance from the free end to the far line."""
        return progress.depth_mm >= 0.98 * self.lines_mm[1] * self.taper.slope

    def at_far_line(self, size: Measured) -> Measured:
        """Return a measured diameter as a diameter at the far line.

        A diameter measured at the free end is converted. A diameter measured at the far line stays the same.
        """
        return size._replace(what="size", size_mm=size.size_mm + self.rise_mm) if size.what == _FREE_END else size

    def after_edit(self, progress: Progress) -> list[Step]:
        """Return the steps after an edit of the job or the lathe: set up, touch off, then cut the remaining passes."""
        depth_mm = progress.depth_at_dial_mm(self.cutting.infeed(self.lathe))
        return [
            *self.before_zeros(),
            *self.touched_off(self.touch_off(1, self.cutting.size_mm(depth_mm))),
            *self._rest(self.cutting.total_mm - depth_mm),
        ]

    def after_two(self, progress: Progress, measured: DiametersMeasured) -> list[Step]:
        """Return the steps after two diameters were measured: correct the angle if it is wrong, then cut the remaining
        passes.
        """
        taper, lathe = self.taper, self.lathe
        self._refuse_impossible(progress, measured)
        (near_at, far_at), (near_mm, far_mm) = measured.at_mm, measured.diameters_mm
        cut_deg = degrees(atan((far_mm - near_mm) / 2 / (far_at - near_at)))
        left_mm = ((near_mm - taper.at_mm(near_at)) / 2, (far_mm - taper.at_mm(far_at)) / 2)
        words = f"The two diameters give a half angle of {angle_words(cut_deg)}. Wanted: {angle_words(taper.half_deg)}."
        if abs(left_mm[1] - left_mm[0]) <= self.swung.mark_mm / 2 + 1e-9:
            size = Measured(what="size", size_mm=far_mm)
            first, *others = replan_size_cut(self.cutting, lathe, progress, size)
            return [
                replace(first, findings=(f"{words} The difference is too small for the indicator.", *first.findings)),
                *others,
            ]
        most_mm, least_mm = max(left_mm), min(left_mm)
        further = ""
        if least_mm < 0:
            further = (
                f"To clean up over its whole length, the taper must become {lathe.length_text(-2 * least_mm)} too "
                f"small in diameter. It then goes {lathe.length_text(-least_mm / taper.slope)} further into its "
                "socket."
            )
        if most_mm < self.cutting.infeed(lathe).mark_mm / 2:
            text = f"The size is right, but the angle is wrong. {self.swung.correction_words(cut_deg)}"
            return [
                Step(
                    action="check",
                    title="Correct the angle",
                    text=text,
                    findings=tuple(filter(None, (words, further))),
                )
            ]
        # After the correction the tool first meets the work where most metal is left, so the dial counts from there.
        place = left_mm.index(most_mm)
        return [
            replace(self.swung.correct(cut_deg), findings=tuple(filter(None, (words, further)))),
            self.touch_off(place, measured.diameters_mm[place]),
            *self._rest(most_mm),
        ]

    def _rest(self, left_mm: float) -> list[Step]:
        """Return the passes that remain after a touch-off. `left_mm`: the depth still to cut [mm]."""
        cut = SizeCutAtLathe(self.cutting, self.lathe)
        return what_is_left(cut, Reached(Fraction(0), self.cutting.total_mm - left_mm), "measurement")

    def refuse_before_the_line(self, progress: Progress) -> None:
        """Raise PlanError if the taper has not reached the far line, so that it cannot be measured there."""
        if not self.reaches_far_line(progress):
            at = self.lathe.length_text(self.lines_mm[1])
            raise PlanError(
                f"The taper does not yet reach the line {at} from the free end. Cut further before you measure there.",
                field="measured",
            )

    def _refuse_impossible(self, progress: Progress, measured: DiametersMeasured) -> None:
        length_text, (near_mm, far_mm) = self.lathe.length_text, measured.diameters_mm
        self.refuse_before_the_line(progress)
        words = ""
        if far_mm > self.taper.large_mm + self.swung.mark_mm:
            words = (
                f"{length_text(far_mm)} is larger than the blank, {length_text(self.taper.large_mm)}. Measure again "
                "and enter the diameter."
            )
        elif near_mm >= far_mm:
            words = (
                f"{length_text(near_mm)} near the free end is not smaller than {length_text(far_mm)} at the other "
                "line. Measure again and enter both diameters."
            )
        if words:
            raise PlanError(words, field="measured")

    # Questions.

    def read(self, text: str) -> EnteredSize:
        """Return a diameter that the user entered. Raises QuantityError if it is larger than the blank."""
        reading, most_mm = read_length(text, self.lathe.unit), self.taper.large_mm + self.swung.mark_mm
        if reading.size_mm > most_mm:
            size, blank = self.lathe.length_text(reading.size_mm), self.lathe.length_text(self.taper.large_mm)
            raise QuantityError(
                f"{size} is larger than the blank, {blank}. Enter the diameter that you have just measured."
            )
        return reading

    def one_asked(self, what: str, where: str, wanted_mm: float) -> SizeAsked:
        """Return the question that asks for one diameter.

        `what`: the name under which the answer is logged. `where`: the place on the work in words. `wanted_mm`: the
        wanted diameter at this place [mm].
        """
        return SizeAsked(
            what,
            "One diameter: size alone",
            f"What diameter did you measure {where}?",
            self.read,
            lambda size_mm: f"measured {self.lathe.length_text(size_mm)}",
            (f"Wanted there: {self.lathe.length_text(wanted_mm)}.",),
        )

    def at_line_asked(self) -> SizeAsked:
        at_mm = self.lines_mm[1]
        return self.one_asked("size", f"{self.lathe.length_text(at_mm)} from the free end", self.taper.at_mm(at_mm))

    def two_asked(self) -> PlacesAsked:
        length_text = self.lathe.length_text
        near, far = (
            f"What diameter did you measure {length_text(at_mm)} from the free end?" for at_mm in self.lines_mm
        )
        wanted = " and ".join(length_text(self.taper.at_mm(at_mm)) for at_mm in self.lines_mm)
        return PlacesAsked(
            "Two diameters: angle and size",
            (near, far),
            self.lines_mm,
            self.read,
            lambda near_mm, far_mm: f"measured {length_text(near_mm)} and {length_text(far_mm)}",
            (f"Wanted at the two lines: {wanted}.",),
        )


def count_taper(taper: TaperCut, lathe: Lathe, material: str | None) -> StepCount:
    """Return how many steps a plan of a taper has. Raises PlanError in the same cases as `plan_taper`."""
    count = count_size_cut(_TaperAtLathe(taper, lathe).cutting, lathe, material)
    return count._replace(steps=count.steps + 1)


def plan_taper(taper: TaperCut, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan of a taper. Raises PlanError if the cross-slide has no dial, or if its marks are too coarse."""
    here = _TaperAtLathe(taper, lathe)
    plan = plan_size_cut(here.cutting, lathe, material)
    sizes = {
        "large_mm": taper.large_mm,
        "small_mm": taper.small_mm,
        "compound_travel_mm": taper.travel_mm,
        "tailstock_offset_mm": taper.tailstock_mm,
    }
    rounded: Iterable[str] = ()
    if taper.place:
        sizes |= {"starts_at_mm": taper.place.starts_mm, "ends_at_mm": taper.ends_mm}
        if taper.place.starts_mm:
            rounded = length_cautions(taper.place.length, lathe, "the taper starts")
    known = {**taper_figures(of_one_side(Fraction(taper.slope)), lathe), **sizes, "passes": plan.figures["passes"]}
    return replace(
        plan,
        figures={key: known[key] for key in (*_FIGURE_NAMES, "passes") if known.get(key) is not None},
        cautions=tuple(filter(None, (here.swung.caution(), *rounded, *plan.cautions))),
        steps=here.numbered_with_ends([*plan.steps, here.blue()], 1),
    )


def replan_taper(
    taper: TaperCut, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    """Return new steps that replace the remaining ones. Raises PlanError for an input that a `taper` operation cannot
    use.
    """
    here = _TaperAtLathe(taper, lathe)
    match entered:
        case DiametersMeasured():
            steps: Sequence[Step] = here.after_two(progress, entered)
        case Measured():
            here.refuse_before_the_line(progress)
            steps = replan_size_cut(here.cutting, lathe, progress, entered)
        case Moved(size=Measured() as size):
            moved = Moved(size=here.at_far_line(size))
            touch_off, *others = replan_size_cut(here.cutting, lathe, progress, moved)
            steps = (here.swung.indicate(), *here.touched_off(touch_off), *others)
        case Edited():
            steps = here.after_edit(progress)
        case SetTo():
            steps = replan_size_cut(here.cutting, lathe, progress, entered)
        case _:
            raise nothing_planned_from(entered)
    return here.numbered_with_ends([*steps, here.blue()], progress.next_id)


def taper_questions(taper: TaperCut, lathe: Lathe, state: State) -> tuple[Asked, ...]:
    """Return the questions that ask for the diameters at both measuring lines, or for the diameter at the far line
    alone.
    """
    here = _TaperAtLathe(taper, lathe)
    return here.two_asked(), here.at_line_asked()


def taper_moved(taper: TaperCut, lathe: Lathe, state: State) -> Asked:
    """Return the question to ask after something was moved: it asks for the diameter at the far line.

    If the taper has not reached that line, the question asks for the diameter at the free end instead.
    """
    here = _TaperAtLathe(taper, lathe)
    if here.reaches_far_line(state.progress):
        return here.at_line_asked()
    return here.one_asked(_FREE_END, "at the free end now", taper.small_mm)


# The declaration.


def _needs(taper: TaperCut, lathe: Lathe, figures: Figures) -> Needs:
    compound = f"{angle_words(taper.half_deg)} off the axis; fed towards the chuck, the tool moves away from the axis"
    # If the compound cannot go far enough, the carriage feeds.
    return Needs(place="spindle", tool="turning tool, exactly at centre height", compound=compound, feeds=True)


def _overview(taper: TaperCut, lathe: Lathe) -> "tuple[tuple[str, Drawing], ...]":
    from core.operations.taper_drawing import taper_drawing

    return (("The compound from above, swung for the taper", taper_drawing(taper.half_deg, lathe)),)


def _movements(taper: TaperCut, lathe: Lathe) -> Callable[[Step, ZeroedDials, tuple[int, int]], tuple[str, ...]] | None:
    if taper.place is None:
        return None
    return taper_movements(lathe, compound_end(lathe, taper.length_mm, taper.half_deg), taper.ends_mm)


_FIGURE_NAMES: Mapping[str, str] = {
    "included_deg": "whole angle of the taper",
    "half_angle_deg": "half angle, the angle of the compound",
    "large_mm": "large end",
    "small_mm": "small end",
    "compound_scale_reads_deg": "compound's own scale reads",
    "nearest_mark_deg": "nearest mark of that scale",
    "compound_travel_mm": "travel of the compound",
    "indicator_per_100_carriage_mm": "indicator on the taper, in 100 mm of the carriage",
    "indicator_per_100_compound_mm": "indicator on a bar, in 100 mm of the compound",
    "tailstock_offset_mm": "tailstock set over instead",
    "starts_at_mm": "small end, from the face",
    "ends_at_mm": "large end, from the face",
}
"""Names of the plan's figures, in the order on the card."""
TAPER = Operation(
    read=read_taper,
    steps=count_taper,
    plan=plan_taper,
    replan=replan_taper,
    questions=taper_questions,
    moved=taper_moved,
    measured_cut=lambda taper, lathe, material: SizeCutAtLathe(_TaperAtLathe(taper, lathe).cutting, lathe),
    needs=_needs,
    form=TAPER_FORM,
    figure_names=_FIGURE_NAMES,
    overview=_overview,
    movements=_movements,
    has_spring_passes=True,
    set_up_keys=SET_UP_KEYS,
)
