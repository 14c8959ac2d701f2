"""The change that each kind of effective event makes in a run.

Every handler returns the change from the state before the event and changes nothing itself. It raises EventError, a
sentence, for an event that is not possible.
"""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any, NamedTuple

from core.events.event import Event
from core.events.state import LoggedPlanInput, Revision, Snapshot, StepResult, step_index
from core.inputs import Edited, Measured, PickedUp, RunInput, input_from_data
from core.plan import MOST_STEPS, Step, steps_from_data
from core.values.errors import EventError
from core.values.plain_text import quoted

_EXACT_TEXT = re.compile(r"-?\d{1,12}(?:\.\d{1,12}|/\d{1,12})?")
_DONE = StepResult("done")


class StateBefore(NamedTuple):
    """The part of a state that an event can change, as it was before the event."""

    snapshot: Snapshot
    results: Mapping[int, StepResult]
    next_step_id: int


class StateChange(NamedTuple):
    """The change that an effective event makes.

    It holds the snapshot after the event, and the new results by step id. The result None opens a step again.
    """

    snapshot: Snapshot
    results: Mapping[int, StepResult | None]
    next_step_id: int | None = None


def _done(before: StateBefore, event: Event) -> StateChange:
    snapshot, body = before.snapshot, event.body
    if snapshot.cursor_at >= len(snapshot.steps):
        raise EventError("All steps are done. Finish the run, or undo a step.", field="step")
    step = snapshot.steps[snapshot.cursor_at]
    step_id = body.get("step")
    if type(step_id) is not int or step_id != step.id:
        raise EventError(f"Step {quoted(step_id)} cannot be done now. The next step is step {step.id}.", field="step")
    value, unit = body.get("value"), body.get("unit")
    results = {step.id: _DONE if value is None and unit is None else StepResult("done", value, unit)}
    changed = snapshot._replace(
        cursor_at=_first_open(before, results, snapshot.cursor_at),
        zeros=_zeros(step, value, snapshot.zeros),
        depth_mm=snapshot.depth_mm if step.depth_mm is None else step.depth_mm,
    )
    return StateChange(changed, results)


def _skipped(before: StateBefore, event: Event) -> StateChange:
    required_text(event, "reason")
    results = dict.fromkeys(_step_ids(before, event), StepResult("skipped"))
    for step_id in results:
        if step_id in before.results:
            raise EventError(f"Step {step_id} is {before.results[step_id].status} already.", field="steps")
    return StateChange(
        before.snapshot._replace(cursor_at=_first_open(before, results, before.snapshot.cursor_at)), results
    )


def _reopened(before: StateBefore, event: Event) -> StateChange:
    results = dict.fromkeys(_step_ids(before, event))
    for step_id in results:
        if step_id not in before.results:
            raise EventError(f"Step {step_id} is open already.", field="steps")
    return StateChange(before.snapshot._replace(cursor_at=_first_open(before, results, 0)), results)


def _revised(before: StateBefore, event: Event) -> StateChange:
    entered = input_from_data(event.body.get("cause"), event.body.get("given"))
    new = _new_steps(event.body.get("steps"))
    next_step_id = checked_ids(new, before.next_step_id)
    settled = tuple(step for step in before.snapshot.steps if step.id in before.results)
    snapshot = before.snapshot._replace(
        steps=settled + new,
        cursor_at=len(settled),
        plan_input=_edited(before.snapshot.plan_input, entered)
        if isinstance(entered, Edited)
        else before.snapshot.plan_input,
        depth_mm=_depth_mm(entered, before.snapshot.depth_mm),
        revisions=(*before.snapshot.revisions, Revision(event.seq, entered)),
    )
    return StateChange(snapshot, {}, next_step_id)


def _finished(before: StateBefore, event: Event) -> StateChange:
    snapshot = before.snapshot
    if snapshot.cursor_at < len(snapshot.steps) and event.body.get("early") is not True:
        still_open = len(snapshot.steps) - len(before.results)
        raise EventError(f"Steps still open: {still_open}. Do or skip them, or finish early.")
    return StateChange(snapshot._replace(status="finished"), {})


def _abandoned(before: StateBefore, event: Event) -> StateChange:
    required_text(event, "reason")
    return StateChange(before.snapshot._replace(status="abandoned"), {})


HANDLERS: Mapping[str, Callable[[StateBefore, Event], StateChange]] = {
    "done": _done,
    "skipped": _skipped,
    "reopened": _reopened,
    "revised": _revised,
    "finished": _finished,
    "abandoned": _abandoned,
}


def _first_open(before: StateBefore, changed: Mapping[int, StepResult | None], start: int) -> int:
    """Return the index of the first open step from `start` on, after the results `changed` are set."""
    steps = before.snapshot.steps
    for index in range(start, len(steps)):
        step_id = steps[index].id
        if changed[step_id] is None if step_id in changed else step_id not in before.results:
            return index
    return len(steps)


def required_text(event: Event, name: str) -> str:
    """Return a text that every event of this kind must have. Raises EventError if it is missing."""
    text = event.body.get(name)
    if not isinstance(text, str):
        raise EventError(f"The {name} of {quoted(event.kind)} must be a text, not {quoted(text)}.", field=name)
    return text


def _step_ids(before: StateBefore, event: Event) -> Sequence[int]:
    """Return the step ids that an event names. Raises EventError if there are none, or for a repeated or unknown id."""
    ids = event.body.get("steps")
    if not isinstance(ids, (list, tuple)) or not ids or any(type(step_id) is not int for step_id in ids):
        raise EventError(f"Steps must be a list of numbers, not {quoted(ids)}.", field="steps")
    if len(set(ids)) != len(ids):
        raise EventError(f"A step is named twice in {quoted(ids)}.", field="steps")
    for step_id in ids:
        if step_index(before.snapshot.steps, step_id) is None:
            raise EventError(f"The run has no step {step_id}.", field="steps")
    return ids


def _new_steps(data: Any) -> tuple[Step, ...]:
    if not isinstance(data, (list, tuple)) or len(data) > MOST_STEPS:
        raise EventError(f"Steps must be a list of at most {MOST_STEPS}, not {quoted(data)}.", field="steps")
    try:
        return steps_from_data(data)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise EventError(f"A step cannot be read: {quoted(str(error))} is missing or wrong.", field="steps") from None


def checked_ids(steps: Iterable[Step], first: int) -> int:
    """Return the next free step id after those of new steps.

    Raises EventError if the ids do not rise, or if an id was used before.
    """
    for step in steps:
        if type(step.id) is not int or step.id < first:
            raise EventError(
                f"Step number {quoted(step.id)} is out of order. It must be {first} or more.",
                field="steps",
            )
        first = step.id + 1
    return first


def _depth_mm(entered: RunInput, before_mm: float | None) -> float | None:
    """Return the depth of the work after an input [mm]. None if the depth is not known."""
    match entered:
        case Measured(what="depth"):
            return entered.size_mm
        case PickedUp():
            # The depth must then be measured. The old count no longer applies.
            return None
    return before_mm


def _edited(plan_input: LoggedPlanInput, entered: Edited) -> LoggedPlanInput:
    """Return the plan input of a run after an edit of its job or lathe file."""
    fields = {name: value for name, value in entered.plan_input.items() if name in LoggedPlanInput.__dataclass_fields__}
    if "parameters" in fields or "lathe" in fields:
        fields.setdefault("logged_digest", "")
    return replace(plan_input, **fields)


def _zeros(step: Step, value: Any, zeros: Mapping[str, Fraction]) -> Mapping[str, Fraction]:
    """Return each dial's reading at touch-off, including the dials that the last step has zeroed."""
    if not step.zeroed_dials:
        return zeros
    readings = {} if value is None else value
    if not isinstance(readings, Mapping):
        if len(step.zeroed_dials) > 1:
            raise EventError(
                f"Step {step.id} zeroes {' and '.join(step.zeroed_dials)}. Enter a reading of each, not "
                f"{quoted(value)}.",
                field="value",
            )
        readings = {step.zeroed_dials[0]: value}
    exact = {dial: _exact(reading) for dial, reading in readings.items()}
    return {**zeros, **dict.fromkeys(step.zeroed_dials, Fraction(0)), **exact}


def _exact(value: Any) -> Fraction:
    """Return the number exactly as it was entered, not as the nearest float.

    >>> _exact(0.1)
    Fraction(1, 10)
    """
    if isinstance(value, float) and -1e9 < value < 1e9:
        return Fraction(str(value))
    if type(value) is int:
        return Fraction(value)
    try:
        if isinstance(value, str) and _EXACT_TEXT.fullmatch(value):
            return Fraction(value)
    except ZeroDivisionError:
        pass
    raise EventError(f"{quoted(value)} is not a reading of a dial. Enter a number such as 0.42.", field="value")
