"""A run and its events in plain words, for the board screen, the history screen and the printed log."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from core.events.event import Event, canonical
from core.events.replay import replay_each
from core.events.state import RunSummary, State, UndoEntry, step_index
from core.inputs import (
    DiametersMeasured,
    Edited,
    ExtraSpringPass,
    GaugeTried,
    Measured,
    Moved,
    MovedPart,
    PickedUp,
    PositionCutWrong,
    PutBack,
    ReadingsTaken,
    RunInput,
    SetTo,
    TurnAgain,
    TurnRead,
    input_from_data,
)
from core.lathe.lathe import Lathe, dial_words
from core.operations.pass_words import pass_length_text
from core.operations.registry import kind_of
from core.plan import Step
from core.run.revising import plan_input_of, shown_settings, shown_text
from core.values.dials import Setting, place_words
from core.values.errors import CoreError, LogbookError
from core.values.plain_text import clean, counted
from core.values.quantities import number_text

_LONGEST = 600


class EventLine(NamedTuple):
    """One event in words."""

    event: Event
    step: str
    """The step of the event, such as "7 of 24"; "" if the event does not concern a single step."""
    words: str
    undone: bool
    """True if a later event has undone this event."""


def event_lines(events: Sequence[Event]) -> Iterator[EventLine]:
    """Yield the events of a run in words. From the first impossible event on, yield the values as they were logged."""
    undone_seqs = {event.body.get("seq") for event in events if event.kind == "undone"}
    return (line._replace(undone=line.event.seq in undone_seqs) for line in event_lines_as_read(events))


def event_lines_as_read(events: Iterable[Event]) -> Iterator[EventLine]:
    """Yield each event in words as soon as it is read.

    `undone` is always False in these lines, because later events are not yet known.
    """
    source = iter(events)
    latest: list[Event] = []
    lathe, plan_input = None, None

    def remembering_latest() -> Iterator[Event]:
        for event in source:
            latest[:] = [event]
            yield event

    try:
        for state, event in replay_each(remembering_latest()):
            if state.plan_input is not plan_input:
                lathe, plan_input = _lathe_of(state), state.plan_input
            yield EventLine(event, _step_number(event, state), event_words(event, state, lathe), False)
    except LogbookError:
        raise
    except CoreError as error:
        yield EventLine(
            latest[0], "", clean(f"The run cannot be replayed from here on. {error.message}", _LONGEST), False
        )
        for late in source:
            yield EventLine(late, "", clean(f"{late.kind} {canonical(late.body)}", _LONGEST), False)


def wall_parts(wall: str) -> tuple[str, str]:
    """Return the date and the time of day from the clock time of an event, as it was logged.

    >>> wall_parts("2026-03-14T09:26:53+00:00")
    ('2026-03-14', '09:26:53')
    """
    cleaned = clean(wall, 40)
    return cleaned[:10], cleaned[11:19]


def _lathe_of(state: State) -> Lathe | None:
    """Return the lathe of a run; None if this version of the program cannot read it from the log."""
    try:
        return plan_input_of(state.plan_input).lathe
    except CoreError:
        return None


def _step_number(event: Event, state: State) -> str:
    """Return the number of an event's step, such as "7 of 24"; "" if the event has no step, or has several."""
    index = step_index(state.steps, event.body["step"]) if event.kind == "done" else None
    return "" if index is None else f"{index + 1} of {len(state.steps)}"


def event_words(event: Event, state: State, lathe: Lathe | None) -> str:
    """Return one event in words.

    `state`: the state of the run just before the event, but just after it for the first event, `begun`. `lathe`: the
    lathe of the run; None if it cannot be read from the log.
    """
    return clean(_WORDS[event.kind](event.body, state, lathe), _LONGEST)


def run_progress_words(run: RunSummary) -> str:
    """Return in words how many steps a run has done and when it was started: "7 of 24, started 2026-03-14 09:26"."""
    date, time = wall_parts(run.begun)
    return f"{run.steps_done} of {run.steps_done + run.steps_open}, started {date} {time[:5]}"


def status_words(run: RunSummary) -> str:
    return {"running": "under way", "finished": "finished", "abandoned": "abandoned"}[run.status]


def run_names(run: RunSummary) -> tuple[str, str]:
    """Return the name of a run's operation and the name of its job; the job's name is "" if there is no job file."""
    if run.origin is not None:
        return clean(run.origin.op_name), clean(run.origin.job_title)
    return clean(run.name) or _title(run.kind), ""


def _title(kind: str) -> str:
    """Return the title of a kind of operation, or the kind itself if this version of the program does not know it."""
    known = kind_of(kind)
    return clean(kind) if known is None else known.title


def _begun(body: Mapping[str, Any], state: State, lathe: Lathe | None) -> str:
    cuts = state.plan.figures.get("passes")
    steps = counted(len(state.steps), "step") + (f", {cuts} of them cuts" if cuts else "")
    example = " (example lathe)" if state.plan_input.stand_in else ""
    return f"Started: {_title(state.plan_input.kind)}, {steps}; lathe: {state.plan_input.lathe_name}{example}"


def _done(body: Mapping[str, Any], state: State, lathe: Lathe | None) -> str:
    step = state.step(body["step"])
    if step is None:
        return f"Step {body['step']} done"
    words = _step_words(step, state, lathe)
    if "value" in body:
        words += f"; entered: {_entered_words(body, step, lathe)}"
    return words


def _step_words(step: Step, state: State, lathe: Lathe | None) -> str:
    """Return a step in words, with its dial readings and the amount of metal that it took off the work.

    `lathe`: the lathe of the run; None if it cannot be read from the log.
    """
    if lathe is None:
        return step.text
    if step.reading_at is not None and step.title:
        # The reading and the number of its mark are enough.
        return step.title
    if step.action not in {"cut", "spring"}:
        return shown_text(lathe, state, step)
    name = "Spring pass" if step.action == "spring" else step.name
    readings = [
        f"{dial_words(setting.dial)} {_setting_reading(lathe, state, setting)}"
        for setting in shown_settings(lathe, state, step)
    ]
    words = f"{name}: {', '.join(readings)}" if readings else step.text
    took = f"took {pass_length_text(step.removed_mm, step, lathe)}, " if step.removed_mm else ""
    if step.remaining_mm is not None:
        words += f"; {took}{pass_length_text(step.remaining_mm, step, lathe)} to go"
    return words


def _setting_reading(lathe: Lathe, state: State, setting: Setting) -> str:
    dial = lathe.dials.get(setting.dial)
    if dial is None:
        return f"{number_text(setting.position, 4)} {setting.unit}"
    return place_words(dial, setting, state.zeros.get(setting.dial, Fraction(0)))


def _entered_words(body: Mapping[str, Any], step: Step, lathe: Lathe | None) -> str:
    """Return the value entered at a step, in words.

    A dial reading has as many decimals as the dial's marks need. `lathe`: the lathe of the run; None if it cannot be
    read from the log.
    """
    value, unit = body["value"], body.get("unit")
    if isinstance(value, Mapping):
        return ", ".join(
            f"{dial_words(str(name))} {_dial_reading(reading, str(name), lathe)}" for name, reading in value.items()
        )
    if len(step.zeroed_dials) == 1:
        return _dial_reading(value, step.zeroed_dials[0], lathe)
    return f"{_plain(value)} {unit or ''}".rstrip()


def _dial_reading(value: Any, dial_name: str, lathe: Lathe | None) -> str:
    dial = lathe.dials.get(dial_name) if lathe else None
    try:
        return dial.reading_text(Fraction(str(value))) if dial else _plain(value)
    except (ValueError, ZeroDivisionError):
        return _plain(value)


def _plain(value: Any) -> str:
    return number_text(value, 4) if isinstance(value, float) else str(value)


def _skipped(body: Mapping[str, Any], state: State, lathe: Lathe | None) -> str:
    return f"Skipped: {_listed(body['steps'], state, lathe)}; reason: {body['reason']}"


def _reopened(body: Mapping[str, Any], state: State, lathe: Lathe | None) -> str:
    return f"To do again: {_listed(body['steps'], state, lathe)}"


def _listed(step_ids: Sequence[int], state: State, lathe: Lathe | None) -> str:
    """Return several steps in words: the first step, followed by the number of the others.

    `lathe`: the lathe of the run; None if it cannot be read from the log.
    """
    first = state.step(step_ids[0])
    words = f"step {step_ids[0]}"
    if first is not None:
        words = first.text if lathe is None else shown_text(lathe, state, first)
    return words if len(step_ids) == 1 else f"{words}, and {counted(len(step_ids) - 1, 'other step')}"


def _revised(body: Mapping[str, Any], state: State, lathe: Lathe | None) -> str:
    entered = input_from_data(body["cause"], body["given"])
    words = input_words(entered, lathe)
    if isinstance(entered, Edited) and entered.plan_input.keys() == {"answered"}:
        words = _new_answers(entered, state)
    return f"{words}; {counted(len(body['steps']), 'step')} planned"


def _new_answers(entered: Edited, state: State) -> str:
    """Return in words those answers in `entered` that the run did not have before."""
    answered, step = entered.plan_input["answered"], state.cursor
    value = None if step is None else answered.get(str(step.extra.get("asks", "")).partition(" ")[0])
    if step is not None and value and (asks := str(step.extra.get("asks"))).endswith("_kept"):
        return f"Left outside the tolerance: {'face' if asks == 'face_kept' else 'axes'}, {value}"
    if step is not None and value:
        # If the answer is a list, its last item is the new one.
        latest = _plain(value[-1] if isinstance(value, list) else value)
        return f"Measured: {latest} ({step.title.lower()})"
    before = {**state.plan_input.parameters, **state.plan_input.answered}
    new = {key: value for key, value in answered.items() if before.get(key) != value} or answered
    return f"Answered: {', '.join(f'{key} {_plain(value)}' for key, value in new.items())}"


def input_words(entered: RunInput, lathe: Lathe | None) -> str:
    """Return an input of the user in words, such as "Measured: pitch diameter 24.95 mm (shoulder), 24.97 mm (free)".

    `lathe`: the lathe of the run; None if it cannot be read from the log.
    """
    match entered:
        case Measured():
            return f"Measured: {_measured_words(entered, lathe)}"
        case DiametersMeasured():
            pairs = zip(entered.diameters_mm, entered.at_mm, strict=True)
            sizes = [f"{_size(size_mm, lathe)} at {_size(at_mm, lathe)}" for size_mm, at_mm in pairs]
            return f"Measured: {', '.join(sizes)} from the free end"
        case GaugeTried():
            return f"Tried: {entered.fit}"
        case SetTo():
            return f"Set differently: {dial_words(entered.dial)} {_dial_reading(entered.shown, entered.dial, lathe)}"
        case PositionCutWrong():
            again = "; it is cut again in its right place" if entered.cut_again else ""
            at = f": {entered.shown}" if entered.shown else ""
            return f"Position {entered.position} of layer {entered.layer} was cut in the wrong place{at}{again}"
        case PutBack():
            x_mm, y_mm = (_size(shift_mm, lathe) for shift_mm in entered.shift_mm)
            return f"Work put back: shifted by {x_mm} and {y_mm}, turned by {number_text(entered.turn_deg, 4)} deg"
        case ExtraSpringPass():
            return "One more spring pass"
        case Moved():
            size = f": {_measured_words(entered.size, lathe)}" if entered.size else ""
            return f"Something moved: planned again{size}"
        case PickedUp():
            return f"Position to find again: {_MOVED[entered.moved]}"
        case ReadingsTaken():
            return f"Measured: {', '.join(_turn_words(turn, lathe) for turn in entered.turns)}"
        case TurnAgain():
            return "Measured: the same turn once more"
        case Edited(plan_input=plan_input) if plan_input.keys() == {"answered"}:
            # Neither job nor lathe changed: a question of the job was answered at the counter.
            answers = [f"{key} {_plain(value)}" for key, value in plan_input["answered"].items()]
            return f"Answered: {', '.join(answers)}"
        case Edited():
            return "Planned again from the changed job and lathe"


def _measured_words(measured: Measured, lathe: Lathe | None) -> str:
    size = _size(measured.size_mm, lathe)
    if measured.free_end_mm is not None:
        size = f"{size} (shoulder), {_size(measured.free_end_mm, lathe)} (free)"
    more = {"wire": measured.wire_mm, "major": measured.major_mm, "reading error": measured.reading_error_mm}
    details = [f"{name} {_size(value, lathe)}" for name, value in more.items() if value is not None]
    if measured.edges_mm is not None:
        outer, inner = (_size(edge_mm, lathe) for edge_mm in measured.edges_mm)
        details.append(f"over the outer edge {outer}, over the inner edge {inner}")
    return ", ".join([f"{_WHAT.get(measured.what, measured.what)} {size}", *details])


_WHAT: Mapping[str, str] = {"crest": "depth below the crest"}
"""Clearer names for some of the sizes that can be measured."""
_MOVED: Mapping[MovedPart, str] = {
    "tool": "the tool was moved",
    "work": "the work was moved",
    "half nuts": "the half nuts were opened or the gears changed",
    "other": "a slide or a dial was moved, or it is not certain what moved",
}


def _turn_words(turn: TurnRead, lathe: Lathe | None) -> str:
    def reading_text(reading_mm: float) -> str:
        return f"{number_text(reading_mm, 3)} mm" if lathe is None else lathe.indicator_text(reading_mm)

    plane = f"plane {turn.plane} " if turn.plane > 1 else ""
    words = f"{plane}{'again' if turn.repeat else 'readings'} {', '.join(map(reading_text, turn.readings_mm))}"
    return words if turn.closing_mm is None else f"{words}, closing {reading_text(turn.closing_mm)}"


def _size(value_mm: float, lathe: Lathe | None) -> str:
    return f"{number_text(value_mm, 3)} mm" if lathe is None else lathe.length_text(value_mm)


def _note(body: Mapping[str, Any], state: State, lathe: Lathe | None) -> str:
    return f"Note: {body['text']}"


def _finished(body: Mapping[str, Any], state: State, lathe: Lathe | None) -> str:
    return f"Finished with {counted(state.steps_open, 'step')} still open" if state.steps_open else "Finished"


def _abandoned(body: Mapping[str, Any], state: State, lathe: Lathe | None) -> str:
    return f"Abandoned: {body['reason']}"


def _undone(body: Mapping[str, Any], state: State, lathe: Lathe | None) -> str:
    latest = state.undoable
    return f"Undone: {_undone_words(latest, state, lathe)}" if latest else "Undone"


def _undone_words(entry: UndoEntry, state: State, lathe: Lathe | None) -> str:
    """Return an undone event in a few words. `lathe`: the lathe of the run; None if it cannot be read from the log."""
    if entry.results_before:
        words = {"skipped": "skipped: ", "reopened": "to do again: "}.get(entry.kind, "")
        return words + _listed([step_id for step_id, _ in entry.results_before], state, lathe)
    if entry.kind == "revised":
        return f"the plan made at event {entry.seq}; the earlier steps apply again"
    return {"finished": "finishing; the run is open again", "abandoned": "abandoning; the run is open again"}[
        entry.kind
    ]


def notes_of(lines: Iterable[EventLine]) -> list[EventLine]:
    """Return only those lines that are notes made by the user."""
    return [line for line in lines if line.event.kind == "note"]


_WORDS = {
    "begun": _begun,
    "done": _done,
    "skipped": _skipped,
    "reopened": _reopened,
    "revised": _revised,
    "note": _note,
    "finished": _finished,
    "abandoned": _abandoned,
    "undone": _undone,
}
