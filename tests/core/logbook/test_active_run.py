"""An open run: its state changes only after the event is on the disk."""

import os
import sqlite3
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

import pytest

from core.events.replay import from_another_session, replay
from core.events.state import LoggedPlanInput
from core.inputs import ExtraSpringPass, Measured, Moved
from core.logbook import opening
from core.logbook.active_run import ActiveRun
from core.logbook.errors import LogbookDamagedError
from core.logbook.logbook import Logbook
from core.logbook.schema import FILE_NAME, connect
from core.plan import Step
from core.values.errors import CoreError, EventError, LogbookError
from tests.core.logbook.run_samples import BASIS, JOB, StepClock, begin, sample_plan


class FailingConnection:
    """A connection to a disk that fails when a test asks for a failure."""

    def __init__(self, real: sqlite3.Connection, disk: "Disk") -> None:
        self._real = real
        self._disk = disk

    def execute(self, statement: str, *values: Any) -> sqlite3.Cursor:
        """Fail, or execute the statement."""
        self._disk.work(statement)
        return self._real.execute(statement, *values)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._real, name)


class Disk:
    """The disk of all connections of a test. It fails once at each statement that a test chooses."""

    OPENING = "opening"

    def __init__(self) -> None:
        self._failures: list[tuple[str, int]] = []
        self.connections = 0

    def fail(self, at: str, code: int) -> None:
        """Fail at the next statement that starts with this text."""
        self._failures.append((at, code))

    def work(self, statement: str) -> None:
        """Fail if this is the chosen statement."""
        for at, code in self._failures:
            if statement.startswith(at):
                self._failures.remove((at, code))
                error = sqlite3.OperationalError("failed")
                error.sqlite_errorcode = code
                raise error

    def connect(self, path: Path, mode: Literal["ro", "rw"], **how: bool) -> FailingConnection:
        """Open a logbook's file on this disk."""
        self.work(self.OPENING)
        self.connections += 1
        return FailingConnection(connect(path, mode, **how), self)


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> Disk:
    """Return the disk on which every logbook of the test is opened."""
    found = Disk()
    monkeypatch.setattr(opening, "connect", found.connect)
    return found


def test_a_new_run_is_logged_with_its_plan_parameters_lathe_and_origin(tmp_path: Path) -> None:
    """Plan, parameters, lathe and origin are read back unchanged."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        state = replay(logbook.events(run.uid), run.uid)
        assert state == run.state
        assert (state.plan, state.plan_input, state.origin) == (sample_plan(), BASIS, JOB)
        body = logbook.events(run.uid)[0].body
    assert set(body) == {
        "schema",
        "program",
        "origin",
        "kind",
        "parameters",
        "material",
        "lathe",
        "lathe_name",
        "stand_in",
        "digest",
        "plan",
    }


def test_the_steps_of_a_new_run_are_numbered_from_1(tmp_path: Path) -> None:
    """A plan whose steps have no ids gets ids from 1. A revision continues from the highest id."""
    with Logbook.open(tmp_path) as logbook:
        plan = sample_plan()
        plan = replace(plan, steps=tuple(replace(step, id=0) for step in plan.steps))
        run = ActiveRun.begin(logbook, plan, BASIS, None, StepClock(), "s")
        assert [step.id for step in run.state.steps] == [1, 2, 3, 4, 5, 6, 7]
        run.done()
        run.revise(Measured(what="mean", size_mm=19.0), [Step(action="cut", text="a"), Step(action="cut", text="b")])
        assert [step.id for step in run.state.steps] == [1, 8, 9]
        run.undo()
        run.revise(Moved(), [Step(action="cut", text="c")])
        assert [step.id for step in run.state.steps] == [1, 10]


MOVES: list[Callable[[ActiveRun], Any]] = [
    lambda run: run.done(0.25),
    lambda run: run.done(),
    lambda run: run.note("half way"),
    lambda run: run.done(),
    lambda run: run.undo(),
    lambda run: run.reopen([2]),
    lambda run: run.done(1, "mm"),
    lambda run: run.skip([3, 4], "deep enough"),
    lambda run: run.revise(ExtraSpringPass(), [Step(action="spring", text="once more")]),
    lambda run: run.done(),
    lambda run: run.finish(),
    lambda run: run.undo(),
    lambda run: run.abandon("chuck slipped"),
]


def test_an_event_is_on_the_disk_when_the_logging_call_returns(tmp_path: Path) -> None:
    """After each event the state read from disk equals the state in memory."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        for move in MOVES:
            shown = move(run)
            assert shown == run.state == replay(logbook.events(run.uid), run.uid)
        assert run.state.last_seq == len(MOVES)
        assert logbook.verify().problems == ()


def test_a_resumed_run_continues_at_the_step_where_it_stopped(tmp_path: Path) -> None:
    """The next session finds the same state, and knows that the run was interrupted."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        for move in MOVES[:9]:
            move(run)
        left = run.state
        run.close()
    with Logbook.open(tmp_path) as logbook:
        again = ActiveRun.resume(logbook, run.uid, StepClock(), "second")
        assert (again.state, again.view_only) == (left, False)
        assert from_another_session(again.state, "second")
        again.done()
        assert not from_another_session(again.state, "second")


def test_an_impossible_event_is_not_logged(tmp_path: Path) -> None:
    """The event is refused before anything is written."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        before = run.state
        with pytest.raises(EventError):
            run.undo()
        for kind, body in [("done", {"step": 3}), ("finished", {}), ("note", {"text": 7}), ("eaten", {})]:
            with pytest.raises(EventError):
                run.record(kind, body)
        with pytest.raises(EventError):
            run.done(float("nan"))
        assert run.state == before
        assert len(logbook.events(run.uid)) == 1
        run.finish(early=True)
        with pytest.raises(EventError):
            run.done()


def test_a_run_that_cannot_be_logged_is_not_started(tmp_path: Path, disk: Disk) -> None:
    """The lock of the run is released as well."""
    plan_input = LoggedPlanInput(
        kind="cut",
        parameters={"depth": float("inf")},
        material=None,
        lathe={},
        lathe_name="",
        stand_in=True,
    )
    with Logbook.open(tmp_path) as logbook:
        with pytest.raises(EventError):
            ActiveRun.begin(logbook, sample_plan(), plan_input, None, StepClock(), "s")
        assert logbook.runs() == ()
        disk.fail("COMMIT", sqlite3.SQLITE_FULL)
        with pytest.raises(LogbookError):
            begin(logbook)
        assert logbook.runs() == ()
        assert not list((tmp_path / "runs").iterdir())


@pytest.mark.parametrize(
    "code",
    [
        sqlite3.SQLITE_FULL,
        sqlite3.SQLITE_IOERR,
        sqlite3.SQLITE_IOERR_FSYNC,
        sqlite3.SQLITE_READONLY,
        sqlite3.SQLITE_BUSY,
        sqlite3.SQLITE_CANTOPEN,
        sqlite3.SQLITE_CORRUPT,
        sqlite3.SQLITE_PERM,
        sqlite3.SQLITE_PROTOCOL,
    ],
)
@pytest.mark.parametrize("at", ["BEGIN", "INSERT", "UPDATE", "COMMIT"])
def test_a_failed_write_to_the_log_leaves_the_count_of_passes_unchanged(
    tmp_path: Path, disk: Disk, at: str, code: int
) -> None:
    """The disk fails at any statement. The count stays, and the same pass can be logged afterwards."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        run.done()
        before = run.state
        disk.fail(at, code)
        with pytest.raises(LogbookError) as failed:
            run.done()
        # SQLite reports damage, but the file is undamaged on a second look. So the disk failed, and the file is left
        # alone.
        assert not isinstance(failed.value, LogbookDamagedError)
        assert not list(tmp_path.glob("*damaged*"))
        assert run.state == before
        assert run.done().last_seq == 2
        assert [event.seq for event in logbook.events(run.uid)] == [0, 1, 2]
        assert logbook.verify().problems == ()


def test_a_broken_connection_to_the_logbook_is_opened_again(tmp_path: Path, disk: Disk) -> None:
    """The connection is opened again even if the transaction cannot be rolled back."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        disk.fail("COMMIT", sqlite3.SQLITE_IOERR)
        disk.fail(Disk.OPENING, sqlite3.SQLITE_CANTOPEN)
        for _ in range(2):
            with pytest.raises(LogbookError):
                run.done()
        assert run.done().last_seq == 1
        disk.fail("ROLLBACK", sqlite3.SQLITE_IOERR)
        disk.fail("INSERT", sqlite3.SQLITE_FULL)
        before = disk.connections
        with pytest.raises(LogbookError):
            run.done()
        assert run.done().last_seq == 2
        assert disk.connections > before


def test_the_state_of_a_run_is_read_from_the_disk_after_a_failed_commit(tmp_path: Path) -> None:
    """Events that another program logged in this run are read in."""
    with Logbook.open(tmp_path) as logbook, Logbook.open(tmp_path) as other:
        run = begin(logbook)
        beside = ActiveRun(other, run.uid, StepClock(), "beside")
        assert str(beside.holder).startswith("process ")
        run.close()
        assert beside.take_over()
        beside.done()
        beside.close()
        again = ActiveRun(logbook, run.uid, StepClock(), "again")
        again.state = run.state
        assert not again.view_only
        with pytest.raises(LogbookError):
            again.done()
        assert again.state == beside.state


# Two programs on one run.


def test_a_run_being_counted_in_one_copy_of_the_program_is_view_only_in_another_copy(tmp_path: Path) -> None:
    """The second program names the owner of the run, follows the run, and takes over after the owner's release."""
    with Logbook.open(tmp_path) as one, Logbook.open(tmp_path) as two:
        run = begin(one)
        onlooker = ActiveRun.resume(two, run.uid, StepClock(), "two")
        assert onlooker.view_only
        with pytest.raises(LogbookError, match=rf"\b{os.getpid()}\b"):
            onlooker.done()
        assert not onlooker.refresh()
        run.done()
        assert onlooker.refresh()
        assert onlooker.state == run.state
        assert not onlooker.refresh()
        assert not onlooker.take_over()
        run.done()
        run.close()
        assert onlooker.take_over()
        assert (onlooker.holder, onlooker.view_only, onlooker.state) == (None, False, run.state)
        onlooker.done()
        with pytest.raises(LogbookError):
            run.done()


# Damage and time.


def test_a_damaged_run_is_repaired_when_it_is_resumed(tmp_path: Path) -> None:
    """The notice names the lost events. While a second program has the logbook open, the file is not moved."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        for _ in range(4):
            run.done()
        run.close()
    path = tmp_path / FILE_NAME
    path.write_bytes(path.read_bytes().replace(b'{"step":4}', b'{"step":5}'))
    with Logbook.open(tmp_path) as logbook:
        with Logbook.open(tmp_path), pytest.raises(LogbookDamagedError):
            ActiveRun.resume(logbook, run.uid, StepClock(), "second")
        again = ActiveRun.resume(logbook, run.uid, StepClock(), "second")
        assert again.state.last_seq == 3
        assert len(logbook.notices) == len(list(tmp_path.glob("*damaged*.sqlite3"))) == 1
        again.done()
        assert logbook.verify().problems == ()


@pytest.mark.parametrize("uid", ["0" * 32, "", "../../etc/passwd", "\x1b[2J"])
def test_a_missing_run_cannot_be_resumed(tmp_path: Path, uid: str) -> None:
    """The refusal is a sentence, and no lock file is left."""
    with Logbook.open(tmp_path) as logbook:
        with pytest.raises(CoreError) as refused:
            ActiveRun.resume(logbook, uid, StepClock(), "s")
        assert "\x1b" not in refused.value.message
    assert not [path for path in (tmp_path / "runs").glob("**/*") if path.is_file()]


def test_the_run_time_excludes_the_time_between_sessions(tmp_path: Path) -> None:
    """Each event reads the clock twice, 1.5 s apart. The night between two sessions does not count."""
    with Logbook.open(tmp_path) as logbook:
        clock = StepClock()
        run = ActiveRun.begin(logbook, sample_plan(), BASIS, None, clock, "day")
        clock.now_ms += 8500
        run.done()
        assert run.state.run_time_ms == 10_000
        assert run.run_time_ms == 11_500
        run.close()
        night = StepClock(now_ms=90_000_000)
        again = ActiveRun.resume(logbook, run.uid, night, "morning")
        assert again.run_time_ms == 10_000
        again.done()
        assert again.state.run_time_ms == 10_000
