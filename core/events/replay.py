"""Computes the state of a run from its events. `apply` adds one event, and `replay` adds all of them.

Only the mapping LEGAL says which kinds of event are allowed in which status of a run. The functions in HANDLERS return
the change that an event makes, and refuse an impossible event before anything is changed.

`apply` copies the results and the undo stack, which takes half a millisecond for 20 000 steps. `replay` copies nothing.
Every event that changes the state leaves an UndoEntry with the parts that it replaced, so an undo is just as fast.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from typing import Any, NamedTuple, cast

from core.events.event import Event, time_between_ms
from core.events.state import (
    LOGGED_WITH_A_RUN,
    LoggedPlanInput,
    MachineEvent,
    Note,
    Origin,
    Revision,
    RunStatus,
    Snapshot,
    State,
    StepResult,
    UndoEntry,
    machine_event,
    step_index,
)
from core.inputs import Edited, Measured, PickedUp, RunInput, input_from_data
from core.plan import MOST_STEPS, Step, plan_from_data, steps_from_data
from core.values.errors import CoreError, EventError
from core.values.plain_text import counted, quoted

_EXACT_TEXT = re.compile(r"-?\d{1,12}(?:\.\d{1,12}|/\d{1,12})?")
_DONE = StepResult("done")


class StateBefore(NamedTuple):
    """The parts of a state that an event can change, with their values before the event."""

    snapshot: Snapshot
    results: Mapping[int, StepResult]
    next_step_id: int


class StateChange(NamedTuple):
    """The change that an event makes: the snapshot after the event, and the new results by step id.

    A result of None makes the step open again.
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
            raise EventError(f"Step {step_id} is already {before.results[step_id].status}.", field="steps")
    return StateChange(
        before.snapshot._replace(cursor_at=_first_open(before, results, before.snapshot.cursor_at)), results
    )


def _reopened(before: StateBefore, event: Event) -> StateChange:
    results = dict.fromkeys(_step_ids(before, event))
    for step_id in results:
        if step_id not in before.results:
            raise EventError(f"Step {step_id} is already open.", field="steps")
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
        raise EventError(
            f"The run still has {counted(still_open, 'open step')}. Do or skip every open step, or finish the "
            "run early."
        )
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
    """Return the index of the first open step from index `start` on, after the results in `changed` have been set.

    Return the number of steps if no such step is open.
    """
    steps = before.snapshot.steps
    for index in range(start, len(steps)):
        step_id = steps[index].id
        if changed[step_id] is None if step_id in changed else step_id not in before.results:
            return index
    return len(steps)


def required_text(event: Event, name: str) -> str:
    """Return the text that an event's body has under `name`. Raises EventError if it is missing or is not text."""
    text = event.body.get(name)
    if not isinstance(text, str):
        raise EventError(f"The {name} of {quoted(event.kind)} must be text, not {quoted(text)}.", field=name)
    return text


def _step_ids(before: StateBefore, event: Event) -> Sequence[int]:
    """Return the ids of the steps to which an event applies.

    Raises EventError if the event has no ids, or has a repeated or an unknown id.
    """
    ids = event.body.get("steps")
    if not isinstance(ids, (list, tuple)) or not ids or any(type(step_id) is not int for step_id in ids):
        raise EventError(f"The steps of an event must be a list of step numbers, not {quoted(ids)}.", field="steps")
    if len(set(ids)) != len(ids):
        raise EventError(f"The same step occurs twice in {quoted(ids)}. Name each step once.", field="steps")
    for step_id in ids:
        if step_index(before.snapshot.steps, step_id) is None:
            raise EventError(f"The run has no step {step_id}. Name a step of this run.", field="steps")
    return ids


def _new_steps(data: Any) -> tuple[Step, ...]:
    if not isinstance(data, (list, tuple)) or len(data) > MOST_STEPS:
        raise EventError(
            f"The steps of a plan must be a list of at most {MOST_STEPS} steps, not {quoted(data)}.", field="steps"
        )
    try:
        return steps_from_data(data)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise EventError(f"A step cannot be read. Missing or wrong: {quoted(str(error))}.", field="steps") from None


def checked_ids(steps: Iterable[Step], first: int) -> int:
    """Return the first step id that is still free after new steps have been added.

    Raises EventError if the ids of the new steps do not rise from `first` on, because an id could then be used twice.
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
    """Return the depth to which the work is cut after an input [mm]; None if the depth is not known.

    `before_mm`: the depth before the input [mm]; None if it was not known.
    """
    match entered:
        case Measured(what="depth"):
            return entered.size_mm
        case PickedUp():
            # The depth must then be measured. The old count no longer applies.
            return None
    return before_mm


def _edited(plan_input: LoggedPlanInput, entered: Edited) -> LoggedPlanInput:
    """Return the plan input of a run after its job or its lathe file was edited."""
    fields = {name: value for name, value in entered.plan_input.items() if name in LoggedPlanInput.__dataclass_fields__}
    if "parameters" in fields or "lathe" in fields:
        fields.setdefault("logged_digest", "")
    return replace(plan_input, **fields)


def _zeros(step: Step, value: Any, zeros: Mapping[str, Fraction]) -> Mapping[str, Fraction]:
    """Return the reading of each dial at touch-off, after a step that may zero some of them.

    `value`: the reading that the user entered at the step. `zeros`: the readings before the step.
    """
    if not step.zeroed_dials:
        return zeros
    readings = {} if value is None else value
    if not isinstance(readings, Mapping):
        if len(step.zeroed_dials) > 1:
            raise EventError(
                f"Step {step.id} touches off {' and '.join(step.zeroed_dials)}. Enter a reading for each of these "
                f"dials, not {quoted(value)}.",
                field="value",
            )
        readings = {step.zeroed_dials[0]: value}
    exact = {dial: _exact(reading) for dial, reading in readings.items()}
    return {**zeros, **dict.fromkeys(step.zeroed_dials, Fraction(0)), **exact}


def _exact(value: Any) -> Fraction:
    """Return an entered number as an exact fraction, without the rounding error of a float.

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


LEGAL: Mapping[RunStatus | None, frozenset[str]] = {
    None: frozenset({"begun"}),
    "running": frozenset({"done", "skipped", "reopened", "revised", "note", "finished", "abandoned", "undone"}),
    "finished": frozenset({"note", "undone"}),
    "abandoned": frozenset({"note", "undone"}),
}
"""The kinds of event that are legal in each status of a run. None: the run is not yet started."""


def apply(state: State | None, event: Event, run: str = "") -> State:
    """Return the state of a run after one more event.

    `state`: the state before the event; None before the first event, `begun`. `run`: the uid of the run, needed only
    for `begun`. If the event is not possible now, EventError is raised and the state stays unchanged.
    """
    _check_legal(None if state is None else state.status, event)
    if state is None:
        return _begun(event, run)
    fold = _Fold(state)
    fold.take(event)
    return fold.result()


def replay(events: Iterable[Event], run: str = "") -> State:
    """Return the state of a run after all its events. Raises EventError for the first impossible event.

    `run`: the uid of the run.
    """
    fold: _Fold | None = None
    for event in events:
        fold = _with_event(fold, event, run)
    if fold is None:
        raise EventError("The run has no events.")
    return fold.result()


def replay_until_refused(events: Iterable[Event], run: str = "") -> State | None:
    """Return the state of a run just before its first impossible event; None if the very first event is impossible.

    If all events are possible, this is the state after the last event. `run`: the uid of the run.
    """
    fold: _Fold | None = None
    with suppress(EventError):
        for event in events:
            fold = _with_event(fold, event, run)
    return None if fold is None else fold.result()


def replay_each(events: Iterable[Event], run: str = "") -> Iterator[tuple[State, Event]]:
    """Yield each event together with the state just before it, or just after it for the first event, `begun`.

    A state may be used only until the next one is yielded, because the next event changes its parts. Raises EventError
    for an impossible event. `run`: the uid of the run.
    """
    fold: _Fold | None = None
    for event in events:
        if fold is None:
            fold = _Fold(apply(None, event, run))
            yield fold.view(), event
        else:
            _check_legal(fold.snapshot.status, event)
            change = fold.change_of(event)
            yield fold.view(), event
            fold.make(event, change)


def from_another_session(state: State, session: str) -> bool:
    """Return whether the last event of a run was recorded in a session other than `session`.

    If so, the program must first ask whether the work, the tool, a slide or a dial has been moved.
    """
    return state.last.session != session


class _Fold:
    """The parts of a State as lists and dicts, to which events can be added without copying."""

    def __init__(self, state: State) -> None:
        self._before = state
        self.snapshot = state.snapshot
        self.results = dict(state.results)
        self.undo_stack = list(state.undo_stack)
        self._undone = list(state.undone)
        self.next_step_id = state.next_step_id
        self._notes = list(state.notes)
        self._last = state.last
        self._time_ms = state.run_time_ms

    def take(self, event: Event) -> None:
        """Add one event. If the event is not possible, raise EventError and change nothing."""
        self.make(event, self.change_of(event))

    def change_of(self, event: Event) -> StateChange | Note | UndoEntry:
        """Return the effect of a legal event: a change of the state, a note, or the entry that the event undoes."""
        if event.seq != self._last.seq + 1:
            raise EventError(
                f"Event {event.seq} is out of order. The next event must be event {self._last.seq + 1}.", field="seq"
            )
        if event.kind == "note":
            return Note(event.seq, event.wall, required_text(event, "text"))
        if event.kind == "undone":
            return self._entry_undone_by(event)
        return HANDLERS[event.kind](StateBefore(self.snapshot, self.results, self.next_step_id), event)

    def make(self, event: Event, change: StateChange | Note | UndoEntry) -> None:
        """Apply the effect that `change_of` returned for an event."""
        match change:
            case Note():
                self._notes.append(change)
            case UndoEntry():
                self._undo(change)
            case StateChange():
                self._change(event, change)
        self._time_ms += time_between_ms(self._last, event)
        self._last = event

    def result(self) -> State:
        """Return the state after all events. The fold must not be used after that."""
        return replace(
            self._before,
            snapshot=self.snapshot,
            results=self.results,
            undo_stack=tuple(self.undo_stack),
            undone=tuple(self._undone),
            notes=tuple(self._notes),
            next_step_id=self.next_step_id,
            last=self._last,
            run_time_ms=self._time_ms,
        )

    def view(self) -> State:
        """Return the state without copying its parts. The state may be used only until the next event is added."""
        return replace(
            self._before,
            snapshot=self.snapshot,
            results=self.results,
            undo_stack=cast(tuple[UndoEntry, ...], self.undo_stack),
            undone=cast(tuple[MachineEvent, ...], self._undone),
            notes=cast(tuple[Note, ...], self._notes),
            next_step_id=self.next_step_id,
            last=self._last,
            run_time_ms=self._time_ms,
        )

    def _change(self, event: Event, change: StateChange) -> None:
        results_before = tuple((step_id, self.results.get(step_id)) for step_id in change.results)
        self.undo_stack.append(UndoEntry(event.seq, event.kind, self.snapshot, results_before))
        self._set_results(change.results)
        self.snapshot = change.snapshot
        self.next_step_id = change.next_step_id or self.next_step_id

    def _entry_undone_by(self, event: Event) -> UndoEntry:
        if not self.undo_stack:
            raise EventError("There is nothing to undo in this run.")
        latest = self.undo_stack[-1]
        seq = event.body.get("seq")
        if type(seq) is not int or seq != latest.seq:
            raise EventError(
                f"Event {quoted(seq)} cannot be undone. Only the latest event can be undone: event {latest.seq}.",
                field="seq",
            )
        return latest

    def _undo(self, latest: UndoEntry) -> None:
        self.undo_stack.pop()
        self._undone.append(machine_event(latest, self.snapshot, undone=True))
        self._set_results(dict(latest.results_before))
        self.snapshot = latest.snapshot

    def _set_results(self, results: Mapping[int, StepResult | None]) -> None:
        for step_id, result in results.items():
            if result is None:
                self.results.pop(step_id, None)
            else:
                self.results[step_id] = result


def _with_event(fold: _Fold | None, event: Event, run: str) -> _Fold:
    """Return the fold after one more event; `fold` is None before the first event. A refused event changes nothing."""
    if fold is None:
        return _Fold(apply(None, event, run))
    _check_legal(fold.snapshot.status, event)
    fold.take(event)
    return fold


def _check_legal(status: RunStatus | None, event: Event) -> None:
    if event.kind not in LEGAL[status]:
        is_now = "has not started" if status is None else f"is {status}"
        possible = ", ".join(sorted(LEGAL[status]))
        raise EventError(f'"{event.kind}" is not possible, because the run {is_now}. Possible now: {possible}.')


def _begun(event: Event, run: str) -> State:
    if event.seq != 0:
        raise EventError(f"A run starts with event 0, not event {event.seq}.", field="seq")
    body = event.body
    try:
        plan = plan_from_data(body["plan"])
        origin = None if body["origin"] is None else Origin(**body["origin"])
        plan_input = LoggedPlanInput(
            **{name: body[name] for name in LOGGED_WITH_A_RUN}, logged_digest=body.get("logged_digest", "")
        )
        program = body["program"]
    except (KeyError, TypeError, ValueError, CoreError) as error:
        raise EventError(f"The run cannot start. Missing or wrong: {quoted(str(error))}.") from None
    next_step_id = checked_ids(plan.steps, 1)
    return State(
        run=run,
        origin=origin,
        program=program,
        plan=plan,
        snapshot=Snapshot("running", plan.steps, 0, plan_input, {}, None, ()),
        results={},
        undo_stack=(),
        undone=(),
        notes=(),
        next_step_id=next_step_id,
        last=event,
        run_time_ms=0,
    )
