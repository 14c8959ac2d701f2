"""The movements of a pass that ends at a stated length, and the correction of later passes by a measured length.

The order of movements is common practice, no source: set the depth, feed to the end, clear the tool, wind the carriage
back, then press the key that counts the pass.
"""

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import NamedTuple

from core.cutting import Progress
from core.inputs import Measured
from core.lathe.lathe import CARRIAGE, Lathe, dial_words
from core.operations.lengths import (
    DIAL,
    ENDS,
    RULE,
    SHIFT,
    SPACERS,
    STOP,
    CutLength,
    PassLengths,
    before_finishing_mm,
    face_touch_off,
    length_steps,
    try_stop,
    with_ends,
)
from core.operations.size_cut import SizeCut
from core.plan import Step
from core.questions import SizeAsked, read_length
from core.safety import STOP_FIRST
from core.values.dials import ZeroedDials
from core.values.errors import PlanError

LENGTH = "length"
"""The name of a measured length along the axis, from the face to the end of the cut."""
_BY_A_FEELER_MM = 0.02
"""Smallest error of a carriage stop that feelers can correct [mm]. Common practice, no source."""

MovementsOfStep = Callable[[Step, ZeroedDials, tuple[int, int]], tuple[str, ...]]


def size_cut_movements(cutting: SizeCut, lathe: Lathe) -> MovementsOfStep | None:
    """Return the function that gives the movements of each pass; None if the job does not state where the cut ends."""
    return partial(pass_movements, cutting, cutting.along, lathe) if cutting.along else None


def pass_movements(
    cutting: SizeCut, along: CutLength, lathe: Lathe, step: Step, dials: ZeroedDials, starts: tuple[int, int]
) -> tuple[str, ...]:
    """Return the movements of a pass in order, with the key press last; () for a step that is not a pass.

    `dials`: the dials with their readings at touch-off. `starts`: matters only for threads and is not used here.
    """
    if step.action not in {"cut", "spring"}:
        return ()
    here = PassLengths(along, lathe, dials, step)
    if along.tool_width_mm is not None:
        return _plunges(cutting, here)
    outwards = cutting.outwards
    depth = f"{dial_words(cutting.dial).capitalize()} {'out' if outwards else 'in'} to its reading"
    clear = f"Withdraw the tool{' inwards' if outwards else ''}"
    if here.is_full:
        clear = f"Wind the {dial_words(cutting.dial)} {'inwards' if outwards else 'out'} across the shoulder"
    start = lathe.length_text(along.starts_mm) if along.starts_mm else "the face"
    spacers_mm = float(step.extra.get(SPACERS, 0.0))
    spacers = (f"Put {lathe.length_text(spacers_mm)} of spacers against the stop",) if spacers_mm else ()
    return *spacers, depth, here.feed_words(), clear, f"Wind the carriage back, clear of {start}", "Then the key"


def _plunges(cutting: SizeCut, here: PassLengths) -> tuple[str, ...]:
    places = list(here.plunges())
    slide, outwards = dial_words(cutting.dial), cutting.outwards
    movements = [
        f"Carriage towards the chuck to {places[0]}, lock the carriage",
        f"Feed the {slide} {cutting.direction} to its reading",
        f"Withdraw the tool{' inwards' if outwards else ''}, clear of the work",
    ]
    movements += [f"Repeat at {place}" for place in places[1:]]
    return (*movements, "Then the key")


# A measured length.


def length_asked(along: CutLength, lathe: Lathe, progress: Progress) -> SizeAsked:
    """Return the question that asks for a measured length, from the face to the end of the cut."""
    details = [f"Wanted: {lathe.length_text(along.ends_mm)}."]
    at_mm = _by_dial_mm(along, lathe, progress)
    if at_mm is not None:
        details.insert(0, f"The carriage dial predicts {lathe.length_text(at_mm - shift_of(progress))}.")
    return SizeAsked(
        LENGTH,
        "Enter a measured length",
        f"How far is the end of the cut from {along.face}?",
        partial(read_length, unit=lathe.unit),
        lambda size_mm: f"measured a length of {lathe.length_text(size_mm)}",
        tuple(details),
        # A number typed without choosing this question must never move the carriage.
        must_be_chosen=True,
    )


def shift_of(progress: Progress) -> float:
    """Return how much more the carriage dial reads than the true length [mm], as the last measured length showed.

    Return 0 if no length has been measured since the dial was set to 0.
    """
    for step in (*progress.open_steps, *reversed(progress.done_steps)):
        if ENDS in step.extra:
            return float(step.extra.get(SHIFT, 0.0))
        if CARRIAGE in step.zeroed_dials:
            break
    return 0.0


def set_up_again(along: CutLength, lathe: Lathe, progress: Progress) -> list[Step]:
    """Return the steps that set up an edited length; [] if steps already done have set up the same length."""
    latest = {step.title: step.text for step in progress.done_steps}
    steps = length_steps([along], lathe)
    return steps if any(latest.get(step.title) != step.text for step in steps) else []


def _by_dial_mm(along: CutLength, lathe: Lathe, progress: Progress) -> float | None:
    """Return where the last pass ended according to the carriage dial, from the face [mm].

    Return None before the first pass, and if the lengths are set by a stop or a rule.
    """
    position = progress.positions.get(CARRIAGE)
    if along.by != DIAL or position is None:
        return None
    carriage = lathe.dial(CARRIAGE)
    return carriage.mark_mm * float(carriage.marks_at(position)) + along.beyond_mm


class LengthMeasured(NamedTuple):
    """The correction of later passes that follows from a measured length, with the findings to show."""

    shift_mm: float
    """How much more the carriage dial reads than the true length in all later passes [mm]."""
    findings: tuple[str, ...]
    corrects: tuple[Step, ...] = ()
    """The steps that move the carriage stop and try it; () if the stop stays."""


def length_measured(along: CutLength, lathe: Lathe, progress: Progress, size: Measured) -> LengthMeasured:
    """Return the correction of later passes that follows from a measured length.

    Raises PlanError before the first pass, if the measured length differs by more than half from the expected length,
    and if the carriage dial has been set to 0 since the last pass.
    """
    text, measured_mm = lathe.length_text, size.size_mm
    if not progress.last_id:
        raise PlanError(
            "Nothing has been cut yet, so there is no length to measure. Finish a pass first.", field="measured"
        )
    before = shift_of(progress)
    by_dial_mm = _by_dial_mm(along, lathe, progress)
    expected_mm = before_finishing_mm(along, lathe) if by_dial_mm is None else by_dial_mm - before
    if not 0.5 * expected_mm <= measured_mm <= 1.5 * expected_mm:
        raise PlanError(
            f"{text(measured_mm)} cannot be right for a cut that ends at {text(along.ends_mm)}. Enter the distance "
            f"that you measured from {along.face}, about {text(expected_mm)}.",
            field="measured",
        )
    off_mm = measured_mm - expected_mm
    side = "too far from" if off_mm > 0 else "too near to"
    words = f"{text(measured_mm)} measured; {text(expected_mm)} expected"
    too_far = ""
    if measured_mm > along.ends_mm + _least_mm(along, lathe):
        over = text(measured_mm - along.ends_mm)
        too_far = f" Take {over} off {along.face} if the other lengths allow this. Then touch off on the face again."
    if abs(off_mm) <= _least_mm(along, lathe):
        return LengthMeasured(before, (f"{words}. The lathe cannot be set any closer.{too_far}",))
    found = f"{words}: {text(abs(off_mm))} {side} {along.face}."
    if along.by == RULE:
        return LengthMeasured(0.0, (f"{found}{too_far or ' Cut further, up to the line.'}",))
    if along.by == STOP:
        return LengthMeasured(0.0, (f"{found}{too_far}",), (_move_stop(lathe, off_mm), try_stop(along, lathe)))
    if by_dial_mm is None:
        raise PlanError(
            "You have touched off with the carriage since the last pass. Cut once more, then measure.", field="measured"
        )
    return LengthMeasured(
        by_dial_mm - measured_mm, (f"{found}{too_far} The later lengths are all corrected by this amount.",)
    )


def _least_mm(along: CutLength, lathe: Lathe) -> float:
    """Return the smallest error of a length that this lathe can correct [mm]."""
    if along.by == DIAL:
        return lathe.dial(CARRIAGE).mark_mm / 2 + 1e-9
    return _BY_A_FEELER_MM if along.by == STOP else 0.25


def _move_stop(lathe: Lathe, off_mm: float) -> Step:
    amount = lathe.length_text(abs(off_mm))
    how = (
        f"towards the chuck. Lock the carriage against the stop, then loosen the stop. Put a {amount} feeler between "
        "carriage and stop, push the stop against the feeler and lock the stop. Take the feeler out"
    )
    if off_mm > 0:
        how = (
            f"away from the chuck. Put a {amount} feeler between carriage and stop, then lock the carriage. Take the "
            "feeler out. Loosen the stop, push the stop against the carriage and lock it"
        )
    return Step(action="set", title="Correct the stop", text=f"{STOP_FIRST} Move the stop {amount} {how}")


def after_length(steps: list[Step], along: CutLength, lathe: Lathe, progress: Progress, size: Measured) -> list[Step]:
    """Return the remaining steps of a cut after a length was measured.

    If the length is too short and no pass remains, one more pass cleans the shoulder. If no step at all remains, a
    check is added that shows the findings. Raises PlanError in the same cases as `length_measured`.
    """
    found = length_measured(along, lathe, progress, size)
    left = [replace(step, findings=()) if step.findings else step for step in steps]
    short_mm = along.ends_mm - size.size_mm
    if not any(step.action == "cut" for step in left) and short_mm > _least_mm(along, lathe):
        left = [*_shoulder_pass(progress, short_mm), *left]
    planned = [*found.corrects, *with_ends(left, along, lathe, found.shift_mm)]
    if not planned:
        wanted = f"Wanted: {lathe.length_text(along.ends_mm)} from {along.face}"
        planned = [Step(action="check", title="Nothing more to cut", text=f"{wanted}. Nothing more to cut")]
    return [replace(planned[0], findings=found.findings), *planned[1:]]


def _shoulder_pass(progress: Progress, short_mm: float) -> list[Step]:
    """Return one more pass at the last depth, for metal left at the shoulder; [] before the first pass.

    `short_mm`: how much too short the measured length is [mm].
    """
    last = next((step for step in reversed(progress.done_steps) if step.action in {"cut", "spring"}), None)
    if last is None:
        return []
    text = last.text.removeprefix(f"{last.name}").lstrip(",: ")
    return [
        replace(
            last,
            action="spring",
            title="Shoulder",
            text=f"Shoulder: {text}",
            removed_mm=0.0,
            cautions=(),
            findings=(),
            extra={**last.extra, "shoulder_mm": round(short_mm, 6)},
        )
    ]


def found_again(along: CutLength, lathe: Lathe) -> list[Step]:
    """Return the steps that find the face or the carriage stop again after something was moved."""
    if along.by == DIAL:
        return [face_touch_off(along, lathe)]
    return [try_stop(along, lathe)] if along.by == STOP else []
