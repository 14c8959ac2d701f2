"""Planning the rest of a turning or a facing again, from what was measured, set or moved. Lengths in mm."""

import math
from dataclasses import replace
from fractions import Fraction
from functools import partial

from core.cutting import Infeed, Progress, cut_steps, said_if_it_cuts_air
from core.events.state import State
from core.inputs import Edited, Measured, Moved, RunInput, SetTo, nothing_planned_from
from core.lathe.lathe import Lathe
from core.operations.setting_up import dials_to_zero
from core.operations.turn import (
    Cutting,
    directed,
    ending_note,
    last_check,
    no_mark_inside,
    passes,
    planned_sizes,
    told_last,
    touch_off,
)
from core.plan import Step, numbered
from core.questions import Asked, SizeAsked, read_length
from core.safety import FIND_AGAIN
from core.values.errors import PlanError
from core.values.wanted_size import WantedSize


def replan_cutting(cutting: Cutting, lathe: Lathe, progress: Progress, entered: RunInput) -> tuple[Step, ...]:
    """Return the steps that replace the open ones; sizes are in the numbers of from and to. Raises PlanError."""
    infeed = cutting.infeed(lathe)
    match entered:
        case Measured():
            steps = _measured(cutting, lathe, infeed, progress, _size_mm(cutting, entered))
        case Moved(size=Measured() as size):
            steps = _moved(cutting, lathe, infeed, _size_mm(cutting, size))
        case SetTo():
            steps = _set_differently(cutting, lathe, infeed, progress, round(infeed.marks_at(entered.position)))
        case Edited():
            now, depth_mm = progress.marks(infeed), progress.depth_at_dial_mm(infeed)
            steps = after_measuring(cutting, lathe, infeed, now, cutting.total_mm - depth_mm)
            if not now:
                steps = [touch_off(cutting, lathe, infeed, cutting.size_mm(depth_mm)), *steps]
        case _:
            raise nothing_planned_from(entered)
    return numbered(steps, progress.next_id)


def cutting_questions(cutting: Cutting, lathe: Lathe, state: State) -> tuple[Asked, ...]:
    """Return what can be measured of work that is cut in passes: the size, or what is still to come off."""
    return (_size_asked(cutting, lathe),)


def cutting_moved(cutting: Cutting, lathe: Lathe, state: State) -> Asked:
    """Return what is asked once something was moved: the size as it is now."""
    asked = _size_asked(cutting, lathe)
    if cutting.measured != "diameter":
        return asked
    return asked._replace(question="What does the diameter of the work measure now?")


def _size_asked(cutting: Cutting, lathe: Lathe) -> SizeAsked:
    start, end = lathe.say(cutting.from_mm), cutting.wanted_words(lathe)
    question, counts = {
        "diameter": ("Which diameter was measured?", f"From {start} it is to come to {end}."),
        "length": ("What length did you measure?", f"It was {start}; {end} is wanted."),
        "left": (
            "How much is still to come off?",
            f"{lathe.say(cutting.total_mm)} is to come off in all. At 0 the face is finished.",
        ),
        "depth": ("How deep is the groove now?", f"{end} is wanted."),
        "place": (
            "Which place has the cut reached?",
            f"In the numbers in which it starts at {start} and is to end at {end}.",
        ),
    }[cutting.measured]
    to_go = " to go" if cutting.measured == "left" else ""
    return SizeAsked(
        "to go" if to_go else "size",
        "Type what was measured",
        question,
        partial(read_length, unit=lathe.unit, above_zero=cutting.measured not in {"left", "place"}),
        lambda size_mm: f"measured {lathe.say(size_mm)}{to_go}",
        (counts,),
    )


def _measured(cutting: Cutting, lathe: Lathe, infeed: Infeed, progress: Progress, size_mm: float) -> list[Step]:
    remaining_mm = _checked_remaining_mm(cutting, lathe, size_mm)
    now = progress.marks(infeed)
    if cutting.wanted and not any(step.action == "cut" for step in progress.open_steps):
        return _judged(cutting, lathe, infeed, now, size_mm)
    steps = after_measuring(cutting, lathe, infeed, now, remaining_mm)
    steps[0] = replace(steps[0], findings=_unexpected_words(cutting, lathe, infeed, progress, size_mm))
    if infeed.dial.name in dials_to_zero(progress.open_steps):
        return [touch_off(cutting, lathe, infeed, size_mm), *steps]
    return steps


def _moved(cutting: Cutting, lathe: Lathe, infeed: Infeed, size_mm: float) -> list[Step]:
    """Return a touch-off on the size measured [mm], then what is left from there."""
    remaining_mm = _checked_remaining_mm(cutting, lathe, size_mm)
    found_again = touch_off(cutting, lathe, infeed, size_mm)
    found_again = replace(found_again, text=f"{FIND_AGAIN} {found_again.text}")
    return [found_again, *after_measuring(cutting, lathe, infeed, Fraction(0), remaining_mm)]


def after_measuring(cutting: Cutting, lathe: Lathe, infeed: Infeed, now: Fraction, remaining_mm: float) -> list[Step]:
    """Return what is left after a measurement."""
    last, depth_mm = _last_mark(cutting, infeed, now, remaining_mm), cutting.total_mm - remaining_mm
    if last <= now and cutting.wanted:
        return [_verdict(cutting, lathe, cutting.size_mm(depth_mm))]
    if last <= now:
        gone = _gone_words(cutting, lathe, infeed, remaining_mm)
        return [
            Step(
                action="check",
                title="Nothing more to cut",
                text=f"{gone}; stop the spindle, then break the edges by hand",
            )
        ]
    exact_mm = infeed.depth_mm(now) + remaining_mm
    steps = passes(cutting, lathe, infeed, planned_sizes(cutting, infeed), (now, last), depth_mm, exact_mm)
    return _with_ending(cutting, lathe, infeed, steps, (now, last), remaining_mm)


def _last_mark(cutting: Cutting, infeed: Infeed, now: Fraction, remaining_mm: float) -> int:
    """Return the mark nearest the size, of two alike the one before it, and none past a limit."""
    last = math.ceil(now + Fraction(remaining_mm / infeed.mark_mm - 1e-6) - Fraction(1, 2))
    size_mm = cutting.size_mm(cutting.total_mm - remaining_mm + infeed.depth_mm(last - now))
    return last - 1 if last > now and cutting.is_past(size_mm) else last


def _with_ending(
    cutting: Cutting,
    lathe: Lathe,
    infeed: Infeed,
    steps: list[Step],
    between: tuple[Fraction, int],
    remaining_mm: float,
) -> list[Step]:
    """Return cuts with what their last mark leaves of the size, and the last check.

    `between`: the mark from which `remaining_mm` is left, and the last one.
    """
    now, last = between
    note = ending_note(cutting, lathe, infeed, last, infeed.depth_mm(now) + remaining_mm)
    last_mm = cutting.size_mm(cutting.total_mm - remaining_mm + infeed.depth_mm(last - now))
    steps = told_last(steps, no_mark_inside(cutting, lathe, last_mm))
    return [*told_last(steps, note), last_check(cutting, lathe, note)]


def _judged(cutting: Cutting, lathe: Lathe, infeed: Infeed, now: Fraction, size_mm: float) -> list[Step]:
    """Return what follows the last measurement: nothing more inside the limits, though a mark nearer their middle is
    left; else what is still to cut.
    """
    wanted = cutting.wanted
    if wanted is None or wanted.holds(size_mm):
        return [_verdict(cutting, lathe, size_mm)]
    steps = after_measuring(cutting, lathe, infeed, now, cutting.remaining_mm(size_mm))
    if steps[0].action == "cut":
        words = f"{_off_words(wanted, lathe, size_mm)}: still to cut"
        steps[0] = replace(steps[0], findings=(words,))
    return steps


def _verdict(cutting: Cutting, lathe: Lathe, size_mm: float) -> Step:
    """Return the step that says how a size [mm] stands where no mark of the dial is left to be cut to."""
    wanted = cutting.wanted
    if wanted is None or wanted.holds(size_mm):
        text = (
            f"{lathe.say(size_mm)} measured, inside {cutting.wanted_words(lathe)}: nothing more to cut; break the edges"
        )
        return Step(action="check", title="Break the edges", text=text)
    words = _off_words(wanted, lathe, size_mm)
    if cutting.is_past(size_mm):
        return Step(
            action="check", title="Cut no more", text=f"{words}: it has gone past and cannot be put back; cut no more"
        )
    text = f"{words}: no mark of the dial lies inside. Set it between two marks, cut, and measure again"
    return replace(last_check(cutting, lathe, ""), text=text)


def _off_words(wanted: WantedSize, lathe: Lathe, size_mm: float) -> str:
    """Say how far a size [mm] is outside the limits."""
    above = size_mm > wanted.upper_mm
    limit_mm = float(wanted.upper_mm if above else wanted.lower_mm)
    off = f"{lathe.say(abs(size_mm - limit_mm))} {'above the largest' if above else 'below the least'}"
    return f"{lathe.say(size_mm)} measured, {off} of {wanted.words(lathe.unit)}"


def _size_mm(cutting: Cutting, measured: Measured) -> float:
    """Return the size measured [mm], in the numbers of from and to."""
    match measured.what:
        case "size":
            return measured.size_mm
        case "to go":
            return cutting.size_mm(cutting.total_mm - measured.size_mm)
    raise nothing_planned_from(measured)


def _checked_remaining_mm(cutting: Cutting, lathe: Lathe, size_mm: float) -> float:
    """Return what is left to cut at a measured size [mm]; a slip of the hand must not plan a hundred passes.

    Raises PlanError where twice the whole cut, and a cut more, would be left.
    """
    remaining_mm = cutting.remaining_mm(size_mm)
    most_mm = 2 * cutting.total_mm + cutting.cut_mm
    if remaining_mm > most_mm:
        falls = cutting.from_mm > cutting.to_mm or cutting.measured == "left"
        least_or_most = "at most" if falls else "at least"
        accepted = lathe.say(cutting.entered_mm(cutting.size_mm(cutting.total_mm - most_mm)))
        raise PlanError(
            f"found {lathe.say(cutting.entered_mm(size_mm))} measured; accepted is {least_or_most} {accepted} "
            f"for a cut from {lathe.say(cutting.from_mm)} to {lathe.say(cutting.to_mm)}",
            field="measured",
        )
    return remaining_mm


def _unexpected_words(
    cutting: Cutting, lathe: Lathe, infeed: Infeed, progress: Progress, size_mm: float
) -> tuple[str, ...]:
    """Say so where a size is off what the dial has cut by more than a finishing cut, or two marks."""
    if infeed.dial.name not in progress.positions:
        return ()
    expected_mm = cutting.size_mm(progress.depth_at_dial_mm(infeed))
    off_mm = abs(size_mm - expected_mm)
    if off_mm / (2 if cutting.on_diameter else 1) <= max(cutting.finish_mm, 2 * infeed.mark_mm) + 1e-9:
        return ()
    return (
        f"by the dial {lathe.say(cutting.entered_mm(expected_mm))} was to be expected, "
        f"{lathe.say(cutting.entered_mm(size_mm))} was typed, "
        f"{lathe.say(off_mm)} off: measure again before you cut",
    )


def _gone_words(cutting: Cutting, lathe: Lathe, infeed: Infeed, remaining_mm: float) -> str:
    """Say plainly how the size stands when nothing more can be cut."""
    amount = lathe.say(abs(remaining_mm) * (2 if cutting.on_diameter else 1))
    if remaining_mm < -infeed.mark_mm / 2:
        return f"As measured it has gone {amount} past the wanted size and cannot be put back: cut no more"
    side = "past" if remaining_mm < 0 else "short of"
    return f"As measured it is within half a mark, {amount} {side} the wanted size: nothing more to cut"


def _set_differently(cutting: Cutting, lathe: Lathe, infeed: Infeed, progress: Progress, here: int) -> list[Step]:
    """Return the pass at the mark that was really set, then the rest as it was to be."""
    now, depth_mm = progress.marks(infeed), progress.depth_at_dial_mm(infeed)
    remaining_mm = cutting.total_mm - depth_mm
    last = _last_mark(cutting, infeed, now, remaining_mm)
    (first,) = directed(
        cutting,
        cut_steps(infeed, [here], name="As set", from_marks=now, start_depth_mm=depth_mm, last_marks=max(last, here)),
    )
    first = said_if_it_cuts_air(first)
    if here > last:
        over = infeed.depth_mm(here - last) * (2 if cutting.on_diameter else 1)
        past_it = f"{lathe.say(over)} past the last planned one"
        caution = f"this reading is {past_it}: wind back if it is not cut yet"
        return [replace(first, cautions=(caution,)), last_check(cutting, lathe, f"the last reading was {past_it}")]
    if here == last:
        return _with_ending(cutting, lathe, infeed, [first], (now, last), remaining_mm)
    reached = max(now, Fraction(here))
    reached_mm = depth_mm + infeed.depth_mm(reached - now)
    rest = passes(
        cutting,
        lathe,
        infeed,
        planned_sizes(cutting, infeed),
        (reached, last),
        reached_mm,
        infeed.depth_mm(now) + remaining_mm,
        after_a_cut=here > now,
    )
    return _with_ending(cutting, lathe, infeed, [first, *rest], (now, last), remaining_mm)
