"""The state of a run: its open, done and skipped steps, and what is known about the work and the dials.

States are made from events by `core.events.replay`.
"""

from bisect import bisect_left
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from heapq import merge
from operator import attrgetter
from typing import Any, Literal, NamedTuple

from core.cutting import Progress, progress_of
from core.events.event import Event, digest
from core.inputs import RunInput
from core.plan import Plan, Step
from core.values.errors import EventError
from core.values.plain_text import quoted

RunStatus = Literal["running", "finished", "abandoned"]
StepStatus = Literal["open", "done", "skipped"]


class Origin(NamedTuple):
    """The job file and the operation from which a run was started."""

    job_path: str
    job_title: str
    op_name: str


@dataclass(frozen=True, kw_only=True)
class LoggedPlanInput:
    """The plan input of a run, as plain data. Its steps are always planned from this input, never from the job file."""

    kind: str
    """The kind of operation."""
    parameters: Mapping[str, Any]
    material: str | None
    lathe: Mapping[str, Any]
    lathe_name: str
    stand_in: bool
    """True if the lathe is the example lathe instead of the user's own."""
    answered: Mapping[str, Any] = field(default_factory=dict)
    """Parameters that the job leaves open and the user entered at the counter. The job file is unchanged."""
    logged_digest: str = ""
    """The digest in the log, if the log has names of the first version; "" otherwise."""

    def __post_init__(self) -> None:
        """Raise EventError unless the parameters, the lathe and the answers are mappings."""
        for name in ("parameters", "lathe", "answered"):
            if not isinstance(getattr(self, name), Mapping):
                raise EventError(
                    f"{name} must be a set of keys with values, not {quoted(getattr(self, name))}.", field=name
                )

    @cached_property
    def digest(self) -> str:
        """The SHA-256 of parameters and lathe. Edited files change it. Answers on the counter screen do not."""
        return self.logged_digest or digest(self.parameters, self.lathe)

    @property
    def digests(self) -> frozenset[str]:
        """The digest; also the digest with today's names, if the run was logged with the names of the first version."""
        return frozenset({self.digest, digest(self.parameters, self.lathe)})


LOGGED_WITH_A_RUN = ("kind", "parameters", "material", "lathe", "lathe_name", "stand_in")
"""The fields of `LoggedPlanInput` that the first event of a run holds."""


class StepResult(NamedTuple):
    """The result of a step that was done or skipped: which of the two, and the value that the user entered."""

    status: Literal["done", "skipped"]
    value: Any = None
    unit: str | None = None


class Note(NamedTuple):
    """A note made during a run."""

    seq: int
    wall: str
    text: str


class Revision(NamedTuple):
    """A record that the open steps were planned again: the event, and the user's input that made this necessary."""

    seq: int
    entered: RunInput


class Snapshot(NamedTuple):
    """The part of a state that is put back as a whole when an event is undone."""

    status: RunStatus
    steps: tuple[Step, ...]
    """All steps, done, skipped and open, in order of their ids."""
    cursor_at: int
    """Index of the first open step. It is the number of steps if none is open."""
    plan_input: LoggedPlanInput
    zeros: Mapping[str, Fraction]
    depth_mm: float | None
    revisions: tuple[Revision, ...]


class UndoEntry(NamedTuple):
    """The parts of a state that an event replaced. They are put back if the event is undone."""

    seq: int
    kind: str
    snapshot: Snapshot
    """The part of the state before the event."""
    results_before: tuple[tuple[int, StepResult | None], ...]
    """For each step that the event changed, its result before the event, by step id (None: the step was open)."""


class MachineEvent(NamedTuple):
    """An action at the machine, such as a pass or a dial setting. Undoing the event does not undo the action."""

    seq: int
    step: Step | None
    """The step that was done, as planned at that time. None for other events."""
    revision: Revision | None
    undone: bool
    """True if the event was undone later."""


@dataclass(frozen=True, kw_only=True)
class State:
    """The state of a run after all events so far. It is frozen, so the next event makes a new State."""

    run: str
    """The run's uid; "" if the events were replayed outside a logbook."""
    origin: Origin | None
    """None for a run without a job file."""
    program: str
    plan: Plan
    """The plan at the start. Its figures and cautions apply to the whole run."""
    snapshot: Snapshot
    results: Mapping[int, StepResult]
    """The results by step id. A step without a result is open."""
    undo_stack: tuple[UndoEntry, ...]
    """The effective events, which can be undone, oldest first."""
    undone: tuple[MachineEvent, ...]
    """The events that were undone, in the order in which they were undone."""
    notes: tuple[Note, ...]
    next_step_id: int
    """The next free step id. Ids are never used twice in a run, not even those of a revision that was undone."""
    last: Event
    """The event recorded last, of any kind."""
    run_time_ms: int
    """Run time up to the last event [ms]. See core.events.event.run_time_ms."""

    @property
    def last_seq(self) -> int:
        """The number of the last event of the run."""
        return self.last.seq

    @property
    def status(self) -> RunStatus:
        """The status of the run: running, finished or abandoned."""
        return self.snapshot.status

    @property
    def steps(self) -> tuple[Step, ...]:
        """All steps of the run in order, whether done, skipped or open."""
        return self.snapshot.steps

    @property
    def plan_input(self) -> LoggedPlanInput:
        """The input from which the open steps were planned: that of the start of the run, or that of its last edit."""
        return self.snapshot.plan_input

    @property
    def zeros(self) -> Mapping[str, Fraction]:
        """The exact reading of each dial at its last touch-off, in the dial's unit; 0 for a dial set to 0 there."""
        return self.snapshot.zeros

    @property
    def depth_mm(self) -> float | None:
        """The depth to which the work is cut [mm], by the last pass or a later measurement; None if it is not known."""
        return self.snapshot.depth_mm

    @property
    def revisions(self) -> tuple[Revision, ...]:
        """All revisions of the open steps, oldest first. Undone revisions are not among them."""
        return self.snapshot.revisions

    @property
    def cursor(self) -> Step | None:
        """The step to do now, which is the first open step; None if no open step is left."""
        at = self.snapshot.cursor_at
        return self.steps[at] if at < len(self.steps) else None

    def step(self, step_id: int) -> Step | None:
        """Return the step that has an id; None if the run has no such step."""
        return step_of(self.steps, step_id)

    def status_of(self, step_id: int) -> StepStatus:
        """Return whether a step is open, done or skipped."""
        result = self.results.get(step_id)
        return "open" if result is None else result.status

    @cached_property
    def values(self) -> Mapping[int, Any]:
        """The values that the user entered at done steps, with the step ids as keys."""
        return {step_id: result.value for step_id, result in self.results.items() if result.value is not None}

    def open_steps(self) -> Iterator[Step]:
        """Yield the open steps in order, starting with the current step."""
        return (step for step in self.steps[self.snapshot.cursor_at :] if step.id not in self.results)

    @property
    def done_steps(self) -> tuple[Step, ...]:
        """The steps that count as done, in the order of their ids."""
        return tuple(self.done_latest_first())[::-1]

    def done_latest_first(self) -> Iterator[Step]:
        """Yield the steps that count as done, starting with the highest id."""
        results = self.results
        return (step for step in reversed(self.steps) if step.id in results and results[step.id].status == "done")

    def machine_events_latest_first(self) -> Iterator[MachineEvent]:
        """Yield all actions at the machine, the latest first, including those whose event was undone."""
        effective = (machine_event(entry, self.snapshot) for entry in reversed(self.undo_stack))
        undone = sorted(self.undone, key=attrgetter("seq"), reverse=True)
        return merge(effective, undone, key=attrgetter("seq"), reverse=True)

    def upcoming(self, count: int) -> tuple[Step, ...]:
        """Return up to `count` open steps that follow the current step."""
        steps = self.open_steps()
        next(steps, None)
        return tuple(step for _, step in zip(range(count), steps, strict=False))

    @cached_property
    def last_done(self) -> Step | None:
        """The last step that counts as done; None if no step does."""
        for entry in reversed(self.undo_stack):
            if entry.kind == "done" and self.status_of(entry.results_before[0][0]) == "done":
                return self.step(entry.results_before[0][0])
        return None

    @cached_property
    def pass_number(self) -> int:
        """The n in "pass n of m": the number of the current pass, or of the last pass before a step that is no pass."""
        results = self.results
        before = sum(
            step.action == "cut" and step.id in results and results[step.id].status == "done"
            for step in self.steps[: self.snapshot.cursor_at]
        )
        return before + (self.cursor is not None and self.cursor.action == "cut")

    @cached_property
    def pass_count(self) -> int:
        """The m in "pass n of m": the number of passes done plus the number of passes still open."""
        skipped = {step_id for step_id, result in self.results.items() if result.status == "skipped"}
        return sum(step.action == "cut" and step.id not in skipped for step in self.steps)

    @cached_property
    def steps_done(self) -> int:
        """The number of steps that count as done."""
        return sum(result.status == "done" for result in self.results.values())

    @cached_property
    def progress(self) -> Progress:
        """The facts of the run that are needed to plan the remaining steps again."""
        results = self.results
        skipped = (step for step in self.steps if step.id in results and results[step.id].status == "skipped")
        entered = (revision.entered for revision in self.revisions)
        return progress_of(self.done_steps, self.open_steps(), self.next_step_id, skipped, entered)

    @property
    def steps_open(self) -> int:
        """The number of steps that are still open."""
        return len(self.steps) - len(self.results)

    @property
    def undoable(self) -> UndoEntry | None:
        """The entry of the event that would be undone now; None if there is nothing to undo."""
        return self.undo_stack[-1] if self.undo_stack else None


def machine_event(entry: UndoEntry, after: Snapshot, *, undone: bool = False) -> MachineEvent:
    """Return the action at the machine that an event records.

    `after`: the snapshot after the event, or a later snapshot. `undone`: True if the event was undone.
    """
    step = revision = None
    if entry.kind == "done":
        # From the snapshot before: a step that was reopened and planned again is in no later snapshot.
        step = step_of(entry.snapshot.steps, entry.results_before[0][0])
    elif entry.kind == "revised":
        revision = next((revision for revision in reversed(after.revisions) if revision.seq == entry.seq), None)
    return MachineEvent(entry.seq, step, revision, undone)


def step_index(steps: tuple[Step, ...], step_id: int) -> int | None:
    """Return the index of the step that has an id; None if no step has it. The ids must rise from step to step."""
    index = bisect_left(steps, step_id, key=attrgetter("id"))
    return index if index < len(steps) and steps[index].id == step_id else None


def step_of(steps: tuple[Step, ...], step_id: int) -> Step | None:
    """Return the step that has an id; None if no step has it. The ids must rise from step to step."""
    index = step_index(steps, step_id)
    return None if index is None else steps[index]


class StateSummary(NamedTuple):
    """The values in the list of runs that the next event of a run can change."""

    digest: str
    status: RunStatus
    last_seq: int
    steps_done: int
    steps_open: int


class RunSummary(NamedTuple):
    """One run in the list of runs: the values that the board and history screens show, without the run's events."""

    number: int
    """A number that rises in the order in which runs were started, even if the clock was wrong."""
    uid: str
    origin: Origin | None
    kind: str
    digest: str
    begun: str
    """Date and time of the run's first event, by the computer's clock."""
    status: RunStatus
    last_seq: int
    steps_done: int
    steps_open: int
    name: str = ""
    """The name of a run that belongs to no job; "" if the job names the run, or if it has no name."""
    digest_today: str = ""
    """The digest under today's names, if the run is not finished and was logged in old names; "" otherwise."""

    @property
    def digests(self) -> frozenset[str]:
        """The digest of the parameters and the lathe; also the digest with today's names, if there is one."""
        return frozenset({self.digest, self.digest_today or self.digest})


def state_summary(state: State) -> StateSummary:
    """Return the values of a state that are stored in the list of runs."""
    return StateSummary(state.plan_input.digest, state.status, state.last_seq, state.steps_done, state.steps_open)
