"""An interrupted run continues before the board is made. The board opens when the counter closes."""

import sqlite3
from pathlib import Path

import pytest
from textual.app import App
from textual.pilot import Pilot

from core.jobs.job import read_job
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.logbook.schema import FILE_NAME
from core.values.errors import LogbookError, PlanError
from tests.conftest import MakeApp, ToldTime
from tests.tui.painted import painted
from tests.tui.runs_made import JOB, begin, job_file
from tui.board.operation_list import OperationList
from tui.board.screen import BoardScreen
from tui.counter.continue_question import WasItMoved
from tui.counter.screen import CounterScreen
from tui.paths import Paths
from tui.widgets.question import OneOf

NAME = "Thread the stem"
DONE = 3


@pytest.fixture
def left(tmp_path: Path, paths: Paths, told_time: ToldTime) -> Path:
    """Return the path of a job with an unfinished run that another session started."""
    path = job_file(tmp_path)
    with Logbook.open(paths.data) as book:
        run = begin(book, read_job(path), NAME, told_time.clock())
        for _ in range(DONE):
            run.done()
        run.close()
    return path


async def until(pilot: Pilot[None], kind: type) -> None:
    """Wait for a screen of a class."""
    for _ in range(100):
        if isinstance(pilot.app.screen, kind):
            return
        await pilot.pause()
    raise AssertionError(painted(pilot.app))


async def press(pilot: Pilot[None], key: str) -> None:
    """Press a key, and wait until the program has handled it."""
    await pilot.press(key)
    await pilot.pause()


def shows_the_board(app: App[None]) -> bool:
    """Return whether the board is painted with the progress of the run."""
    lines = [line for line in painted(app).splitlines() if NAME in line]
    return isinstance(app.screen, BoardScreen) and len(lines) == 1 and f"{DONE} of " in lines[0]


async def test_the_program_opens_the_counter_of_an_interrupted_run_before_the_board(make: MakeApp, left: Path) -> None:
    """The board is made when the counter closes. Its cursor is on the run."""
    app = make(job=left)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, WasItMoved)
        assert not app.screen_stack[0].query(OperationList)
        await press(pilot, "n")
        assert isinstance(app.screen, CounterScreen)
        await press(pilot, "f3")
        await press(pilot, "f2")
        assert isinstance(app.screen, CounterScreen)
        await press(pilot, "escape")
        await press(pilot, "1")
        await until(pilot, BoardScreen)
        await pilot.pause()
        assert shows_the_board(app)
        assert app.screen.query_one(OperationList).cursor == 2
        await press(pilot, "up")
        assert app.screen.query_one(OperationList).cursor == 1


async def test_pressing_esc_when_asked_how_to_continue_a_run_opens_the_board(make: MakeApp, left: Path) -> None:
    """The job has changed since the run was started. Esc answers nothing and does not change the run."""
    left.write_text(JOB.replace('length = "12 mm"', 'length = "13 mm"'))
    app = make(job=left)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, OneOf)
        await press(pilot, "escape")
        await until(pilot, BoardScreen)
        await pilot.pause()
        assert shows_the_board(app)


async def test_the_board_shows_why_a_run_cannot_be_planned_again(
    make: MakeApp, left: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The error arrives while the board is made, and is still shown."""

    def refused(*_: object) -> None:
        raise PlanError("nothing-left")

    monkeypatch.setattr("tui.runs.replan_rest", refused)
    left.write_text(JOB.replace('length = "12 mm"', 'length = "13 mm"'))
    app = make(job=left)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, OneOf)
        await press(pilot, "2")
        await until(pilot, BoardScreen)
        await pilot.pause()
        assert shows_the_board(app)
        assert "nothing-left" in painted(app)


async def test_the_board_shows_why_a_run_cannot_be_resumed(
    make: MakeApp, left: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The board is painted in full, with the reason."""

    def refused(*_: object, **__: object) -> None:
        raise LogbookError("no-answer")

    monkeypatch.setattr(ActiveRun, "resume", refused)
    app = make(job=left)
    async with app.run_test(size=(80, 24)) as pilot:
        for _ in range(9):
            await pilot.pause()
        assert shows_the_board(app)
        assert "no-answer" in painted(app)


async def test_the_counter_reports_that_the_log_was_repaired(make: MakeApp, left: Path, paths: Paths) -> None:
    """The message appears before counting continues. It names the file with the damaged log."""
    with sqlite3.connect(paths.data / FILE_NAME) as connection:
        connection.execute("DELETE FROM event WHERE seq = 2")
    connection.close()
    app = make(job=left)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, WasItMoved)
        await pilot.pause()
        box = " ".join(line.split("│")[1].strip() for line in painted(app).splitlines() if line.count("│") == 2)
        # The message names the damaged file, and says that one more event could be read.
        assert paths.data.name in box and " 1 " in box
