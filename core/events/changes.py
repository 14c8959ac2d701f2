"""What each kind of effective event changes in a run.

Every handler works out the change from the run as it is Now, and raises
EventError, a sentence, for an event that is not possible; it changes nothing itself.
"""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any, NamedTuple

from core.events.event import Event
from core.events.state import Frame, Mark, Revision, RunBasis, index_of
from core.inputs import Edited, Measured, PickedUp, RunInput, input_from_data
from core.plan import MOST_STEPS, Step, step_from_data
from core.values.errors import EventError
from core.values.plain_text import quoted

_EXACT_TEXT = re.compile(r"-?\d{1,12}(?:\.\d{1,12}|/\d{1,12})?")
_DONE = Mark("done")


class Now(NamedTuple):
    """The part of a run that handlers look at."""

    frame: Frame
    marks: Mapping[int, Mark]
    next_step_id: int


class Change(NamedTuple):
    """What an effective event makes of the frame, and the marks it sets (None: open again)."""

    frame: Frame
    marks: Mapping[int, Mark | None]
    next_step_id: int | None = None


def _done(now: Now, event: Event) -> Change:
    frame, body = now.frame, event.body
    if frame.cursor_at >= len(frame.steps):
        raise EventError("no step is open any more", field="step")
    step = frame.steps[frame.cursor_at]
    found = body.get("step")
    if type(found) is not int or found != step.id:
        raise EventError(f"step {quoted(found)} cannot be done now: the next one is step {step.id}", field="step")
    value, unit = body.get("value"), body.get("unit")
    marks = {step.id: _DONE if value is None and unit is None else Mark("done", value, unit)}
    changed = frame._replace(
        cursor_at=_first_open(now, marks, frame.cursor_at),
        zeros=_zeros(step, value, frame.zeros),
        depth_mm=frame.depth_mm if step.depth_mm is None else step.depth_mm,
    )
    return Change(changed, marks)


def _skipped(now: Now, event: Event) -> Change:
    text_of(event, "reason")
    marks = dict.fromkeys(_step_ids(now, event), Mark("skipped"))
    for step_id in marks:
        if step_id in now.marks:
            raise EventError(f"step {step_id} is {now.marks[step_id].status}, not open", field="steps")
    return Change(now.frame._replace(cursor_at=_first_open(now, marks, now.frame.cursor_at)), marks)


def _reopened(now: Now, event: Event) -> Change:
    marks = dict.fromkeys(_step_ids(now, event))
    for step_id in marks:
        if step_id not in now.marks:
            raise EventError(f"step {step_id} is open already", field="steps")
    return Change(now.frame._replace(cursor_at=_first_open(now, marks, 0)), marks)


def _revised(now: Now, event: Event) -> Change:
    entered = input_from_data(event.body.get("cause"), event.body.get("given"))
    new = _new_steps(event.body.get("steps"))
    next_step_id = checked_ids(new, now.next_step_id)
    kept = tuple(step for step in now.frame.steps if step.id in now.marks)
    frame = now.frame._replace(
        steps=kept + new,
        cursor_at=len(kept),
        basis=_edited(now.frame.basis, entered) if isinstance(entered, Edited) else now.frame.basis,
        depth_mm=_depth_mm(entered, now.frame.depth_mm),
        revisions=(*now.frame.revisions, Revision(event.seq, entered)),
    )
    return Change(frame, {}, next_step_id)


def _finished(now: Now, event: Event) -> Change:
    frame = now.frame
    if frame.cursor_at < len(frame.steps) and event.body.get("early") is not True:
        raise EventError(f"{len(frame.steps) - len(now.marks)} steps are still open; skip them, or finish early")
    return Change(frame._replace(status="finished"), {})


def _abandoned(now: Now, event: Event) -> Change:
    text_of(event, "reason")
    return Change(now.frame._replace(status="abandoned"), {})


HANDLERS: Mapping[str, Callable[[Now, Event], Change]] = {
    "done": _done,
    "skipped": _skipped,
    "reopened": _reopened,
    "revised": _revised,
    "finished": _finished,
    "abandoned": _abandoned,
}


def _first_open(now: Now, changed: Mapping[int, Mark | None], start: int) -> int:
    """Return the index of the first open step from `start` on, once `changed` holds."""
    steps = now.frame.steps
    for index in range(start, len(steps)):
        step_id = steps[index].id
        if changed[step_id] is None if step_id in changed else step_id not in now.marks:
            return index
    return len(steps)


def text_of(event: Event, name: str) -> str:
    """Return a text that an event must carry; raises EventError where it does not."""
    text = event.body.get(name)
    if not isinstance(text, str):
        raise EventError(f"the {name} of {quoted(event.kind)} is a text; found {quoted(text)}", field=name)
    return text


def _step_ids(now: Now, event: Event) -> Sequence[int]:
    """Return the ids an event names: at least one, none twice, all of this run."""
    ids = event.body.get("steps")
    if not isinstance(ids, (list, tuple)) or not ids or any(type(step_id) is not int for step_id in ids):
        raise EventError(f"steps are a list of numbers, not empty; found {quoted(ids)}", field="steps")
    if len(set(ids)) != len(ids):
        raise EventError(f"a step is named twice in {quoted(ids)}", field="steps")
    for step_id in ids:
        if index_of(now.frame.steps, step_id) is None:
            raise EventError(f"the run has no step {step_id}", field="steps")
    return ids


def _new_steps(data: Any) -> tuple[Step, ...]:
    if not isinstance(data, (list, tuple)) or len(data) > MOST_STEPS:
        raise EventError(f"steps are a list of at most {MOST_STEPS}; found {quoted(data)}", field="steps")
    try:
        return tuple(step_from_data(step) for step in data)
    except (KeyError, TypeError, AttributeError) as error:
        raise EventError(f"a step lacks or garbles {quoted(str(error))}", field="steps") from None


def checked_ids(steps: Iterable[Step], first: int) -> int:
    """Return the id after the last; raises EventError where ids do not rise, or one was used before."""
    for step in steps:
        if type(step.id) is not int or step.id < first:
            raise EventError(
                f"step ids must rise, none used before: found {quoted(step.id)}, accepted from {first} on",
                field="steps",
            )
        first = step.id + 1
    return first


def _depth_mm(entered: RunInput, before_mm: float | None) -> float | None:
    """Return the depth that is known now [mm]."""
    match entered:
        case Measured(what="depth"):
            return entered.size_mm
        case PickedUp():
            # The depth then comes from what is measured, never from the old count.
            return None
    return before_mm


def _edited(basis: RunBasis, entered: Edited) -> RunBasis:
    """Return the basis with what the files say now."""
    given = entered.basis
    return replace(basis, **{name: given[name] for name in RunBasis.__dataclass_fields__ if name in given})


def _zeros(step: Step, value: Any, zeros: Mapping[str, Fraction]) -> Mapping[str, Fraction]:
    """Return what the dials showed at touch-off, with those of a step just done."""
    if not step.zeroes:
        return zeros
    readings = {} if value is None else value
    if not isinstance(readings, Mapping):
        if len(step.zeroes) > 1:
            raise EventError(
                f"step {step.id} zeroes {', '.join(step.zeroes)}: a reading of each is wanted, found {quoted(value)}",
                field="value",
            )
        readings = {step.zeroes[0]: value}
    return {**zeros, **dict.fromkeys(step.zeroes, Fraction(0)), **_readings(readings)}


def _readings(readings: Any) -> dict[str, Fraction]:
    """Return readings of dials as exact numbers, by the name of the dial."""
    if not isinstance(readings, Mapping):
        raise EventError(f"readings are a table by dial; found {quoted(readings)}", field="zeros")
    return {dial: _exact(value) for dial, value in readings.items()}


def _exact(value: Any) -> Fraction:
    """Return the number as it was typed, not as its binary neighbour.

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
    raise EventError(f"{quoted(value)} is no reading of a dial; accepted is a number", field="value")
