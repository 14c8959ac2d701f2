"""A run that is open in this program. The state of the run changes only after the logbook has saved the event."""

import uuid
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Any, Literal, Protocol, Self

from core.events.event import SCHEMA, Event, as_read_back
from core.events.replay import apply, from_another_session, replay
from core.events.state import LOGGED_WITH_A_RUN, LoggedPlanInput, Origin, State, state_summary
from core.inputs import RunInput, input_as_data
from core.logbook.errors import LogbookBusyError
from core.logbook.locks import RunHolder, RunLock
from core.logbook.logbook import ANY_RUN, Logbook
from core.plan import Plan, Step, numbered, plan_as_data, step_as_data
from core.values.errors import CoreError, EventError, LogbookError
from core.values.plain_text import sentence

Left = Literal["here", "in order", "interrupted"]
"""How a run was left before it was opened: in this session, closed by the user, or interrupted."""


class RunClock(Protocol):
    """The source of time for a run. The caller provides the clock, because `core` reads no clock itself."""

    def wall(self) -> str:
        """Return the present date and time with the UTC offset, in ISO 8601."""

    def monotonic_ms(self) -> int:
        """Return the time since a fixed moment in this session of the program [ms]."""


class ActiveRun:
    """A run that this program counts. If another program counts the run, this program only shows it.

    `state`: the run's state after its last logged event. It changes only after an event is on the disk.
    """

    def __init__(self, logbook: Logbook, uid: str, clock: RunClock, session: str) -> None:
        """Lock the run `uid`, unless another program has locked it.

        `begin` or `resume` sets `state` afterwards. `session`: an id that is new at every start of the program.
        """
        self.uid = uid
        self.state: State
        self.holder: RunHolder | None = None
        """The other program that counts this run; None if this program counts the run."""
        self.left: Left = "here"
        self._is_marked = False
        self._logbook = logbook
        self._clock = clock
        self._session = session
        self._lock: RunLock | None = None
        self._version = -1
        self._in_doubt: Event | None = None
        """An event whose commit failed, but which may still be on the disk; None if there is none."""
        if not logbook.read_only:
            self._try_lock()

    @classmethod
    def begin(
        cls,
        logbook: Logbook,
        plan: Plan,
        plan_input: LoggedPlanInput,
        origin: Origin | None,
        clock: RunClock,
        session: str,
        program: str = "halfnut",
        after: str | None = ANY_RUN,
    ) -> Self:
        """Start a run of a plan and number its steps from 1. The first event is on the disk before this method returns.

        `origin`: the job and the operation; None for a run without a job. `program`: the name and version of the
        program, for the log. `after`: the uid of the newest run of this operation that the user has seen; None if the
        user has seen no run. Raises RunStartedError if a newer run exists, EventError if the parameters cannot be
        logged, and LogbookError if the log cannot be written.
        """
        body = {"schema": SCHEMA, "program": program, "origin": None if origin is None else origin._asdict()}
        body |= {name: getattr(plan_input, name) for name in LOGGED_WITH_A_RUN} | {"digest": plan_input.digest}
        body |= {"plan": plan_as_data(replace(plan, steps=numbered(plan.steps)))}
        run = cls(logbook, uuid.uuid4().hex, clock, session)
        try:
            event = run._event(0, "begun", body)
            state = apply(None, event, run.uid)
            logbook.begin(run.uid, event, state_summary(state), after=after)
        except CoreError:
            run.close()
            raise
        run.state = state
        run._mark_opened()
        return run

    @classmethod
    def resume(cls, logbook: Logbook, uid: str, clock: RunClock, session: str) -> Self:
        """Open a run in its last logged state. If another program counts the run, the run can only be viewed.

        A damaged logbook is repaired first, and a notice tells the user. Raises LogbookError if the run cannot be read.
        """
        run = cls(logbook, uid, clock, session)
        try:
            run.state = run._read()
        except LogbookError:
            run.close()
            raise
        run._mark_opened()
        return run

    @property
    def view_only(self) -> bool:
        """True if nothing can be recorded here: another program counts the run, or the logbook is read only."""
        return self._lock is None

    @property
    def run_time_ms(self) -> int:
        """The duration of the run until now [ms], without the time between two sessions of the program."""
        last = self.state.last
        since = self._clock.monotonic_ms() - last.monotonic_ms if last.session == self._session else 0
        return self.state.run_time_ms + max(0, since)

    def record(self, kind: str, body: Mapping[str, Any]) -> State:
        """Check and log an event of the kind `kind` with the values `body`, and return the run's new state.

        Raises EventError if the event is not possible now, and LogbookError if the event could not be logged. After a
        LogbookError the state is read from the disk again, if the disk can be read. If the caller tries the same event
        again after a failure, the event is logged only once.
        """
        if self._lock is None:
            raise LogbookError(f"This run can only be viewed here: {self._why_view_only()}.")
        if self._in_doubt is not None and self._was_logged(kind, body):
            return self.state
        event = self._event(self.state.last_seq + 1, kind, body)
        state = apply(self.state, event)
        try:
            self._logbook.append(self.uid, event, state_summary(state))
        except LogbookBusyError:
            # Nothing was written. Reading the run again would only wait for the same locks.
            raise
        except LogbookError:
            self._in_doubt = event
            self._read_back()
            raise
        self.state = state
        return state

    def _why_view_only(self) -> str:
        return f"{self.holder} is doing this run" if self.holder else "the logbook is read only"

    def done(self, value: Any = None, unit: str | None = None) -> State:
        """Record that the current step is done.

        `value` and `unit`: the value that the user entered at this step; None if the step asks for no value.
        """
        if self.state.cursor is None:
            raise EventError("All steps are done. Finish the run, or undo a step.")
        body: dict[str, Any] = {"step": self.state.cursor.id}
        body |= {} if value is None else {"value": value}
        body |= {} if unit is None else {"unit": unit}
        return self.record("done", body)

    def undo(self) -> State:
        """Record that the latest event is undone.

        A note cannot be undone, so the latest event before the notes is undone.
        """
        if self.state.undoable is None:
            raise EventError("There is nothing to undo in this run.")
        return self.record("undone", {"seq": self.state.undoable.seq})

    def skip(self, step_ids: Sequence[int], reason: str) -> State:
        """Record that the user skips the open steps `step_ids`, with the reason."""
        return self.record("skipped", {"steps": list(step_ids), "reason": reason})

    def reopen(self, step_ids: Sequence[int]) -> State:
        """Record that the user must do the finished steps `step_ids` again. Later steps stay done."""
        return self.record("reopened", {"steps": list(step_ids)})

    def revise(self, entered: RunInput, steps: Sequence[Step]) -> State:
        """Record a value that the user entered, and the steps that were planned again from this value.

        `steps` replace all open steps. They get new numbers, so that no step number is used twice.
        """
        new = numbered(steps, self.state.next_step_id)
        data = [step_as_data(step) for step in new]
        cause, entered_data = input_as_data(entered)
        return self.record("revised", {"cause": cause, "given": entered_data, "steps": data})

    def note(self, text: str) -> State:
        return self.record("note", {"text": text})

    def finish(self, *, early: bool = False) -> State:
        """Record that the run is finished. `early`: True if some steps are still open, False if all steps are done."""
        return self.record("finished", {"early": True} if early else {})

    def abandon(self, reason: str) -> State:
        return self.record("abandoned", {"reason": reason})

    def refresh(self) -> bool:
        """Update the state of a run that is only viewed, if another program has changed the log.

        Return True if the log has changed.
        """
        version = self._logbook.data_version()
        if version == self._version:
            return False
        self.state = self._read()
        return True

    def read_again(self) -> None:
        """Read the run's state from the log again, after a repair of the log.

        Raises LogbookError if the log cannot be read.
        """
        self.state = self._read()

    def take_over(self) -> bool:
        """Try to lock a run that was only viewed. Return True if this program may now count the run."""
        if self._lock is None and not self._logbook.read_only:
            self._try_lock()
            if self._lock is not None:
                self.state = self._read()
                self._mark_opened()
        return self._lock is not None

    def close(self, *, in_order: bool = True) -> None:
        """Close the run and release its lock.

        `in_order`: True if the user closed the run; False if the program closes the run after an error.
        """
        if self._lock is not None:
            if in_order and self._is_marked:
                self._mark_closed()
            self._lock.release()
        self._lock = None

    def _mark_opened(self) -> None:
        """Mark the run as the one opened last, and note in `left` how the run was left before.

        A run that is only viewed gets no mark.
        """
        if self._lock is None:
            return
        if from_another_session(self.state, self._session):
            # A run of an older version has no mark and may have been interrupted. Ask the more cautious question.
            self.left = "in order" if self._logbook.marks.read().get(self.uid) else "interrupted"
        self._logbook.marks.opened(self.uid)
        self._is_marked = True

    def _mark_closed(self) -> None:
        if self.state.status != "running":
            self._logbook.marks.ended(self.uid)
        elif self.left != "interrupted" or not from_another_session(self.state, self._session):
            # After an interruption, the user has not said what was moved until the next event is logged.
            self._logbook.marks.closed(self.uid)

    def _try_lock(self) -> None:
        lock = self._logbook.lock_run(self.uid)
        self.holder = lock if isinstance(lock, RunHolder) else None
        self._lock = None if isinstance(lock, RunHolder) else lock

    def _event(self, seq: int, kind: str, body: Mapping[str, Any]) -> Event:
        return Event(
            seq=seq,
            kind=kind,
            # The new state must be the one that a later replay gives.
            body=as_read_back(body),
            wall=self._clock.wall(),
            session=self._session,
            monotonic_ms=self._clock.monotonic_ms(),
        )

    def _read(self) -> State:
        # Read the number first. An event logged between the two queries is read again next time instead of being
        # missed.
        self._version = self._logbook.data_version()
        events = self._logbook.events(self.uid)
        try:
            return replay(events, self.uid)
        except EventError as error:
            raise LogbookError(f"The run {self.uid} cannot be opened. {sentence(error.message)}") from None

    def _was_logged(self, kind: str, body: Mapping[str, Any]) -> bool:
        """Read the state again after a failed commit, and return whether the event is on the disk after all.

        `kind` and `body`: the event that the caller tries now. If the failed event was a different one, return False.
        """
        failed = self._in_doubt
        assert failed is not None
        self._logbook.settle()
        self.state = self._read()
        self._in_doubt = None
        return self.state.last == failed and (kind, as_read_back(body)) == (failed.kind, failed.body)

    def _read_back(self) -> None:
        """Read the state from the disk again. If the disk cannot be read, keep the present state."""
        with suppress(LogbookError):
            self.state = self._read()
