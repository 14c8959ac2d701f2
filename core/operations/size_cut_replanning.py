"""Plans the remaining steps of a cut to a size again, and asks for measurements of the work. Lengths are in mm."""

from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property, partial

from core.cutting import Infeed, Progress, depth_now_mm, with_measured_depth
from core.events.state import State
from core.inputs import Edited, Measured, Moved, RunInput, nothing_planned_from
from core.lathe.lathe import Lathe
from core.operations.length_movements import (
    LENGTH,
    after_length,
    found_again,
    length_asked,
    set_up_again,
    shift_of,
)
from core.operations.lengths import with_ends
from core.operations.size_cut import (
    BREAK_EDGES,
    PassLimitMarks,
    SizeCut,
    last_check,
    last_mark_note,
    no_mark_inside,
    passes,
    planned_pass_limits,
    touch_off,
    with_caution_at_last,
)
from core.plan import Step, numbered
from core.questions import Asked, SizeAsked, read_length
from core.replanning import (
    Follows,
    Measurement,
    Reached,
    TouchedOff,
    from_zero,
    nearest_mark,
    replan_cut,
    unexpected_words,
)
from core.set_up_steps import set_up_left
from core.values.errors import PlanError
from core.values.wanted_size import WantedSize


def replan_size_cut(
    cutting: SizeCut, lathe: Lathe, progress: Progress, entered: RunInput, limits: PassLimitMarks | None = None
) -> tuple[Step, ...]:
    """Return new steps that replace the remaining ones. Raises PlanError for an input that a cut to a size cannot use.

    `limits`: the greatest depths of cuts allowed; None for those of the plan.
    """
    return numbered(_replanned(SizeCutAtLathe(cutting, lathe, limits), progress, entered), progress.next_id)


def _replanned(cut: "SizeCutAtLathe", progress: Progress, entered: RunInput) -> list[Step]:
    along, lathe, set_up = cut.cutting.along, cut.lathe, list[Step]()
    if along and isinstance(entered, Measured) and entered.what == LENGTH:
        return after_length(list(progress.open_steps), along, lathe, progress, entered)
    steps = replan_cut(cut, progress, entered)
    if isinstance(entered, Edited) and _is_set_up_otherwise(cut.cutting, progress):
        # The dial, or the angle of its slide, may be another one. So the passes count from a new touch-off.
        set_up = list(cut.cutting.set_up)
        steps = from_zero(cut, depth_now_mm(progress.open_steps, progress.depth_mm), "")
    if along is None:
        return [*set_up, *steps]
    if isinstance(entered, Moved):
        return [steps[0], *found_again(along, lathe), *with_ends(steps[1:], along, lathe)]
    first = set_up_again(along, lathe, progress) if isinstance(entered, Edited) else []
    # A new touch-off on the face ends the correction by an earlier length.
    return [*set_up, *first, *with_ends(steps, along, lathe, 0.0 if first else shift_of(progress))]


def _is_set_up_otherwise(cutting: SizeCut, progress: Progress) -> bool:
    """Return whether an edited cut needs set-up steps that the user has neither done nor skipped in this run."""
    if not progress.last_id:
        return False
    cut = Step(action="cut", text="")
    return bool(set_up_left([*cutting.set_up, cut], (*progress.done_steps, *progress.skipped_steps)))


def size_cut_questions(cutting: SizeCut, lathe: Lathe, state: State) -> tuple[Asked, ...]:
    """Return the questions that ask for the size, or for the amount still to come off, and for the length if the job
    states one.
    """
    now = lathe.length_text(cutting.size_mm(state.progress.depth_at_dial_mm(cutting.infeed(lathe))))
    known = f"The dial predicts {now}." if state.progress.last_id else f"Before: {now}."
    size = _size_asked(cutting, lathe, known)
    if cutting.along and cutting.on_diameter:
        size = size._replace(choice="Enter a measured diameter")
    return (size, length_asked(cutting.along, lathe, state.progress)) if cutting.along else (size,)


def size_cut_moved(cutting: SizeCut, lathe: Lathe, state: State) -> Asked:
    """Return the question to ask after something was moved: it asks for the present size of the work."""
    now = lathe.length_text(cutting.size_mm(state.progress.depth_at_dial_mm(cutting.infeed(lathe))))
    asked = _size_asked(cutting, lathe, f"Before the move: {now}.")
    if cutting.measured != "diameter":
        return asked
    return asked._replace(question="What is the diameter of the work now?")


def _size_asked(cutting: SizeCut, lathe: Lathe, known: str) -> SizeAsked:
    """Return the question that asks for the present size.

    `known`: a sentence that states the size so far, according to the dial or the job.
    """
    start, end = lathe.length_text(cutting.from_mm), cutting.wanted_words(lathe)
    question, detail = {
        "diameter": ("What diameter did you measure?", f"{known} Wanted: {end}."),
        "length": ("What length did you measure?", f"{known} Wanted: {end}."),
        "left": (
            "How much is still to come off?",
            f"{lathe.length_text(cutting.total_mm)} must come off in all. Enter 0 if the face is finished.",
        ),
        "depth": ("How deep is the groove now?", f"{known} Wanted: {end}."),
        "place": (
            "Which position has the cut reached?",
            f"Enter the slide's position, measured from the same zero as the start, {start}, and the end, {end}.",
        ),
    }[cutting.measured]
    to_go = " to go" if cutting.measured == "left" else ""
    return SizeAsked(
        "to go" if to_go else "size",
        "Enter a measured size",
        question,
        partial(read_length, unit=lathe.unit, above_zero=cutting.measured not in {"left", "place"}),
        lambda size_mm: f"measured {lathe.length_text(size_mm)}{to_go}",
        (detail,),
    )


@dataclass(frozen=True)
class SizeCutAtLathe:
    """A cut to a size on one lathe, with the methods that `core.replanning` calls to plan its steps again."""

    cutting: SizeCut
    lathe: Lathe
    limits: PassLimitMarks | None = None
    """The greatest depths of cuts allowed; None for those of the plan."""

    @cached_property
    def infeed(self) -> Infeed:
        """The dial that sets the depth, and the direction of its slide."""
        return self.cutting.infeed(self.lathe)

    def last_mark(self, reached: Reached) -> int:
        """Return the mark at which the cut ends: of the marks that are not past a limit, the one nearest to the wanted
        size.

        `reached`: the dial position and the depth reached so far.
        """
        last = nearest_mark(self.infeed, reached, self.cutting.total_mm)
        return last - 1 if last > reached.marks and self.cutting.is_past(self._size_at_mm(last, reached)) else last

    def passes(self, reached: Reached, last: int, follows: Follows) -> list[Step]:
        """Return the roughing, semi-finishing and finishing cuts, with the measurements between them.

        `reached`: the dial position and the depth reached so far. `last`: the last mark. `follows`: what comes directly
        before, a measurement or a pass; "" for neither.
        """
        return passes(
            self.cutting,
            self.lathe,
            self.infeed,
            self.limits or planned_pass_limits(self.cutting, self.infeed),
            (reached.marks, last),
            reached.depth_mm,
            self._exact_mm(reached),
            after_a_cut=follows == "pass",
        )

    def ended(self, passes: list[Step], reached: Reached, last: int) -> list[Step]:
        """Return the passes, then the last measurement, with a caution about the last mark if one is needed.

        `reached`: the dial position and the depth before the passes. `last`: the last mark.
        """
        cutting, lathe, planned = self.cutting, self.lathe, self.last_mark(reached)
        if last > planned:
            over = self.amount_text(self.infeed.depth_mm(last - planned))
            return [*passes, last_check(cutting, lathe, f"The last cut went {over} deeper than the last planned mark.")]
        note = last_mark_note(cutting, lathe, self.infeed, last, self._exact_mm(reached))
        # The pass shows only one caution. The last check has the note in any case.
        caution = no_mark_inside(cutting, lathe, self._size_at_mm(last, reached)) or note
        if not passes:
            return [last_check(cutting, lathe, caution)]
        return [*with_caution_at_last(passes, caution), last_check(cutting, lathe, note)]

    def nothing_left(self, reached: Reached) -> list[Step]:
        """Return the step that ends a cut when no pass is left, and that says whether the size is right.

        `reached`: the dial position and the depth reached so far.
        """
        return [with_measured_depth(self._how_it_is(reached), reached.depth_mm)]

    def amount_text(self, depth_mm: float) -> str:
        """Return a difference of depth [mm] as text. For a diameter, the text states the difference of the
        diameters.
        """
        return self.lathe.length_text(depth_mm * (2 if self.cutting.on_diameter else 1))

    def measured(self, size: Measured, progress: Progress) -> Measurement:
        """Return the depth that a measured size shows, and the findings or the final step that follow from it.

        After the last pass, the size is compared with the wanted limits.
        """
        cutting, lathe, size_mm = self.cutting, self.lathe, _size_mm(self.cutting, size)
        depth_mm = cutting.total_mm - _checked_remaining_mm(cutting, lathe, size_mm)
        if cutting.wanted and not any(step.action == "cut" for step in progress.open_steps):
            if cutting.wanted.holds(size_mm):
                return Measurement(depth_mm, ended=with_measured_depth(_verdict(cutting, lathe, size_mm), depth_mm))
            reached = Reached(progress.marks(self.infeed), depth_mm)
            if self.last_mark(reached) <= reached.marks:
                return Measurement(depth_mm)
            return Measurement(depth_mm, (f"{_off_words(cutting.wanted, lathe, size_mm)}. Cut further.",))
        # A difference of up to a finishing cut or two marks is usual.
        usual_mm = max(cutting.finish_mm, 2 * self.infeed.mark_mm)
        return Measurement(depth_mm, unexpected_words(self, progress, depth_mm, usual_mm, self._entered_text))

    def touched_off(self, depth_mm: float) -> TouchedOff:
        """Return the step that touches off on the work after a depth [mm] has been cut."""
        step = touch_off(self.cutting, self.lathe, self.infeed, self.cutting.size_mm(depth_mm))
        return TouchedOff([with_measured_depth(step, depth_mm)], Fraction(0))

    def _how_it_is(self, reached: Reached) -> Step:
        if self.cutting.wanted:
            return _verdict(self.cutting, self.lathe, self.cutting.size_mm(reached.depth_mm))
        text = f"{self._result_words(reached)}. {self.cutting.ending}"
        return Step(action="check", title="Nothing more to cut", text=text)

    def _entered_text(self, depth_mm: float) -> str:
        return self.lathe.length_text(self.cutting.entered_mm(self.cutting.size_mm(depth_mm)))

    def _exact_mm(self, reached: Reached) -> float:
        """Return the depth of the wanted size [mm], counted from the dial's zero and not rounded to a mark."""
        return self.infeed.depth_mm(reached.marks) + self.cutting.total_mm - reached.depth_mm

    def _size_at_mm(self, mark: int, reached: Reached) -> float:
        return self.cutting.size_mm(reached.depth_mm + self.infeed.depth_mm(mark - reached.marks))

    def _result_words(self, reached: Reached) -> str:
        """Return in words how far the work is from the wanted size, for a cut that no further pass can improve."""
        left_mm = self.cutting.total_mm - reached.depth_mm
        amount = self.amount_text(abs(left_mm))
        if left_mm < -self.infeed.mark_mm / 2:
            return f"The work is {amount} past the wanted size and cannot be saved. Cut no more"
        off = f"{amount} past" if left_mm < 0 else f"still {amount} from"
        return f"The work is {off} the wanted size, within half a mark. Nothing more to cut"


def _verdict(cutting: SizeCut, lathe: Lathe, size_mm: float) -> Step:
    """Return the step that judges a measured size [mm] when no mark of the dial is left to cut to."""
    wanted = cutting.wanted
    if wanted is None or wanted.holds(size_mm):
        text = (
            f"{lathe.length_text(size_mm)} measured: inside {cutting.wanted_words(lathe)}. Nothing more to cut. "
            f"{cutting.ending}"
        )
        title = "Break the edges" if cutting.ending == BREAK_EDGES else "Nothing more to cut"
        return Step(action="check", title=title, text=text)
    words = _off_words(wanted, lathe, size_mm)
    if cutting.is_past(size_mm):
        return Step(
            action="check",
            title="Cut no more",
            text=f"{words}. The work is past its limits and cannot be saved. Cut no more",
        )
    text = (
        f"{words}. No mark of the dial cuts within these limits. Set the dial between two marks, cut and measure again"
    )
    return replace(last_check(cutting, lathe, ""), text=text)


def _off_words(wanted: WantedSize, lathe: Lathe, size_mm: float) -> str:
    above = size_mm > wanted.upper_mm
    limit_mm = float(wanted.upper_mm if above else wanted.lower_mm)
    off = f"{lathe.length_text(abs(size_mm - limit_mm))} {'too big' if above else 'too small'}"
    return f"{lathe.length_text(size_mm)} measured: {off} for {wanted.words(lathe.unit)}"


def _size_mm(cutting: SizeCut, measured: Measured) -> float:
    """Return a measured value as a size [mm] in the quantity of the cut's `from_mm` and `to_mm`."""
    match measured.what:
        case "size":
            return measured.size_mm
        case "to go":
            return cutting.size_mm(cutting.total_mm - measured.size_mm)
    raise nothing_planned_from(measured)


def _checked_remaining_mm(cutting: SizeCut, lathe: Lathe, size_mm: float) -> float:
    """Return the depth still to cut at a measured size [mm].

    Raises PlanError if this depth is more than twice the whole cut plus one pass, so that a typing error cannot plan a
    hundred passes.
    """
    remaining_mm = cutting.remaining_mm(size_mm)
    most_mm = 2 * cutting.total_mm + cutting.cut_mm
    if remaining_mm > most_mm:
        falls = cutting.from_mm > cutting.to_mm or cutting.measured == "left"
        least_or_most = "at most" if falls else "at least"
        bound = lathe.length_text(cutting.entered_mm(cutting.size_mm(cutting.total_mm - most_mm)))
        wanted = cutting.wanted.text if cutting.wanted else lathe.length_text(cutting.to_mm)
        raise PlanError(
            f"{lathe.length_text(cutting.entered_mm(size_mm))} cannot be right for a cut from "
            f"{lathe.length_text(cutting.from_mm)} to {wanted}. Enter {least_or_most} {bound}.",
            field="measured",
        )
    return remaining_mm
