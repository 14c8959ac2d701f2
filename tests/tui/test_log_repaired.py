"""A damaged log is repaired at the start or in the background and reported once, and counting can continue."""

import sqlite3
from contextlib import closing
from pathlib import Path
from threading import Event, current_thread, main_thread

import pytest
from textual.events import Key
from textual.pilot import Pilot

import core.logbook.file
from core.jobs.job import read_job
from core.logbook.logbook import Logbook
from core.logbook.recovery import RecoveryReport
from core.logbook.schema import FILE_NAME
from tests.conftest import MakeApp, ToldTime
from tests.tui.painted import painted
from tests.tui.runs_made import begin, job_file
from tui.__main__ import main
from tui.board.screen import BoardScreen
from tui.counter.continue_question import WasItMoved
from tui.counter.screen import CounterScreen
from tui.help import HelpScreen
from tui.history.run_log import RunLogScreen
from tui.log_check import check_log
from tui.paths import Paths
from tui.widgets.question import OneOf, YesNo

NAME = "Thread the stem"
OTHER = "Rough the base"


@pytest.fixture
def job(tmp_path: Path, paths: Paths, told_time: ToldTime) -> Path:
    """Return the path of a job with two runs from an earlier session.

    One run was finished early. The other is unfinished after three steps.
    """
    path = job_file(tmp_path)
    with Logbook.open(paths.data) as book:
        for name in (OTHER, NAME):
            run = begin(book, read_job(path), name, told_time.clock())
            for _ in range(3):
                run.done()
            if name == OTHER:
                run.finish(early=True)
            run.close()
    return path


def change(data: Path, statement: str) -> None:
    """Run an SQL statement on the log's file while the program runs."""
    with closing(sqlite3.connect(data / FILE_NAME)) as connection, connection:
        assert connection.execute(statement).rowcount


def lose_a_sector(data: Path) -> None:
    """Fill a sector of the index that finds the runs of a job with zeros."""
    content = (data / FILE_NAME).read_bytes()
    with closing(sqlite3.connect(data / FILE_NAME)) as connection:
        root = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'run_by_operation'").fetchone()[0]
    place = (root - 1) * 4096
    (data / FILE_NAME).write_bytes(content[:place] + bytes(512) + content[place + 512 :])


def asides(data: Path) -> int:
    """Return the number of damaged logs that were kept under another name."""
    return len(list(data.glob("logbook-damaged-*.sqlite3")))


def folded(pilot: Pilot[None]) -> str:
    """Return the text of the screen as one row without frames."""
    return " ".join(painted(pilot.app).replace("│", " ").split())


async def until(pilot: Pilot[None], words: str) -> None:
    """Wait until these words are on the screen."""
    for _ in range(200):
        await pilot.pause(0.01)
        if words in folded(pilot):
            return
    raise AssertionError(painted(pilot.app))


async def test_a_run_can_be_opened_after_a_disk_sector_of_the_log_was_lost(
    make: MakeApp, job: Path, paths: Paths
) -> None:
    """Whichever page of the list of runs is lost, the run opens at its latest step, and the repair is reported."""
    lose_a_sector(paths.data)
    app = make(job=job)
    async with app.run_test(size=(100, 30)) as pilot:
        await until(pilot, "was renamed to")
        assert isinstance(app.screen, WasItMoved)
        await pilot.press("n")
        await until(pilot, "3 of ")
        await pilot.press("f3")
        await until(pilot, OTHER)
        assert app.context.log.opened is not None
        assert app.context.log.opened.verify().problems == ()
    assert asides(paths.data) == 1
    assert main(["log", "--verify", "--data", str(paths.data)]) == 0


async def test_damage_to_the_log_found_in_the_background_is_reported_on_the_board(
    make: MakeApp, job: Path, paths: Paths
) -> None:
    """A row of the finished run is missing. The board reports the damage without a question and still accepts keys."""
    change(paths.data, "DELETE FROM event WHERE kind = 'finished'")
    change(paths.data, "UPDATE run SET status = 'finished'")
    app = make(job=job)
    async with app.run_test(size=(100, 30)) as pilot:
        await until(pilot, "was renamed to")
        assert isinstance(app.screen, BoardScreen)
        assert asides(paths.data) == 1
        # The run that the list called finished is under way again, as its events say.
        await until(pilot, "3 of ")
    assert main(["log", "--verify", "--data", str(paths.data)]) == 0


async def test_a_counter_that_is_open_during_a_repair_continues_from_the_repaired_log(
    make: MakeApp, job: Path, paths: Paths
) -> None:
    """The log loses the last pass while the counter is open. The counter then continues from the log."""
    app = make(job=job)
    async with app.run_test(size=(100, 30)) as pilot:
        await until(pilot, "n No, nothing was moved")
        await pilot.press("n")
        await pilot.pause()
        counter = app.screen
        assert isinstance(counter, CounterScreen)
        uid, last = counter.run.uid, counter.state.last_seq
        counter.run.done()
        change(paths.data, f"DELETE FROM event WHERE run = '{uid}' AND seq > {last}")
        check_log(app.context)
        await until(pilot, "was renamed to")
        assert (counter.state.last_seq, counter.state.steps_done) == (last, 3)
        counter.run.done()
        assert app.context.log.opened is not None
        assert len(app.context.log.opened.events(uid)) == last + 2


async def test_starting_a_run_that_another_program_has_just_started_asks_whether_to_open_that_run(
    make: MakeApp, job: Path, paths: Paths, told_time: ToldTime
) -> None:
    """Another program starts a run while a question is open. The user can open that run or start another piece."""
    app = make(job=job)
    async with app.run_test(size=(100, 30)) as pilot:
        await until(pilot, "n No, nothing was moved")
        await pilot.press("escape", "escape", "1")
        await until(pilot, "Deburr")
        await pilot.press("home", "down", "enter")
        await until(pilot, 'Start "Deburr"?')
        assert isinstance(app.screen, YesNo)
        with Logbook.open(paths.data) as book:
            theirs = begin(book, read_job(job), "Deburr", told_time.clock())
            await pilot.press("1")
            await until(pilot, "Another copy of this program has just started")
            assert isinstance(app.screen, OneOf)
            await pilot.press("1")
            await until(pilot, "view only")
            assert isinstance(app.screen, CounterScreen)
            assert app.screen.run.uid == theirs.uid
            assert len(book.runs()) == 3
            theirs.close()


async def test_a_log_from_a_newer_version_can_be_viewed_but_is_not_changed(
    make: MakeApp, job: Path, paths: Paths
) -> None:
    """A log with one more column can be viewed, but nothing is logged in it or changed."""
    change(paths.data, "UPDATE run SET number = number")
    with closing(sqlite3.connect(paths.data / FILE_NAME)) as connection:
        connection.executescript("ALTER TABLE event ADD COLUMN tool TEXT; PRAGMA user_version = 2;")
    before = (paths.data / FILE_NAME).read_bytes()
    app = make(job=job)
    async with app.run_test(size=(100, 30)) as pilot:
        await until(pilot, "made by a newer version of halfnut")
        assert isinstance(app.screen, CounterScreen)
        await pilot.press("f3")
        await until(pilot, OTHER)
    assert (paths.data / FILE_NAME).read_bytes() == before
    assert main(["log", "--data", str(paths.data)]) == 0


async def test_key_presses_are_handled_while_a_long_run_is_being_read(
    make: MakeApp, job: Path, paths: Paths, told_time: ToldTime, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Keys are handled between the parts of the run. A pass is shown as undone even if a later part undoes it."""
    monkeypatch.setattr("tui.history.run_log._AT_ONCE", 3)
    with Logbook.open(paths.data) as book:
        run = begin(book, read_job(job), "Deburr", told_time.clock())
        for _ in range(20):
            run.done()
            run.undo()
        info = book.run(run.uid)
        run.close()
    assert info is not None
    app = make()
    async with app.run_test(size=(100, 30)) as pilot:
        await pilot.pause()
        app.push_screen(RunLogScreen(info))
        await until(pilot, "Event 41 of 41; the run took")
        assert isinstance(app.screen, RunLogScreen)
        assert {line.undone for line in app.screen._lines if line.event.kind == "done"} == {True}
        assert "(undone)" in painted(app)
        await pilot.press("home")
        await until(pilot, "Event 1 of 41")


async def test_keys_pressed_during_a_background_repair_are_handled_after_the_repair(
    make: MakeApp, job: Path, paths: Paths, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The repair runs in a thread and is announced. A key pressed during the repair is handled after it."""
    change(paths.data, "DELETE FROM event WHERE kind = 'finished'")
    change(paths.data, "UPDATE run SET status = 'finished'")
    goes_on, threads, really = Event(), [], core.logbook.file.set_aside

    def slowly(path: Path) -> RecoveryReport:
        threads.append(current_thread())
        assert goes_on.wait(10)
        return really(path)

    monkeypatch.setattr(core.logbook.file, "set_aside", slowly)
    app = make(job=job)
    async with app.run_test(size=(100, 30)) as pilot:
        await until(pilot, "The log is damaged. Wait while the program repairs it")
        app.post_message(Key("f1", None))
        await pilot.pause(0.05)
        assert isinstance(app.screen, BoardScreen)
        goes_on.set()
        await until(pilot, "Esc Close")
        assert isinstance(app.screen, HelpScreen)
        await pilot.press("escape")
        await until(pilot, "was renamed to")
    assert threads and threads[0] is not main_thread()
    assert asides(paths.data) == 1


async def test_a_long_repair_of_the_log_is_announced_before_it_begins(
    make: MakeApp, job: Path, paths: Paths, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The terminal shows a sentence while the damaged file is still in its place. Afterwards the screens return."""
    lose_a_sector(paths.data)
    monkeypatch.setattr("tui.log_access._LONG_REPAIR", 0)
    asides_when_said: list[int] = []
    monkeypatch.setattr(
        "tui.context.AppContext.show_message_at_once", lambda *_: asides_when_said.append(asides(paths.data))
    )
    app = make(job=job)
    async with app.run_test(size=(100, 30)) as pilot:
        await until(pilot, "was renamed to")
    assert asides_when_said == [0]
    assert asides(paths.data) == 1


# The command line.


def test_printing_a_damaged_log_with_the_log_command_repairs_the_log(
    job: Path, paths: Paths, capsys: pytest.CaptureFixture[str]
) -> None:
    """`--verify` reports the damage. Printing the log repairs it, and the next print is complete."""
    change(paths.data, "DELETE FROM event WHERE kind = 'finished'")
    assert main(["log", "--verify", "--data", str(paths.data)]) == 1
    assert "To repair the log, start halfnut, or print the log with `halfnut log`" in capsys.readouterr().out
    assert main(["log", "--data", str(paths.data)]) in (0, 1)
    printed = capsys.readouterr()
    assert "was renamed to" in printed.err
    assert main(["log", "--data", str(paths.data)]) == 0
    assert capsys.readouterr().out.count("\nrun ") == 1
    assert main(["log", "--verify", "--data", str(paths.data)]) == 0
    assert asides(paths.data) == 1


def test_copying_a_missing_log_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing is reported as copied, and no empty file remains."""
    (tmp_path / "none").mkdir()
    assert main(["log", "--data", str(tmp_path / "none"), "--backup", str(tmp_path / "copy")]) == 1
    assert "there is no logbook in" in capsys.readouterr().err
    assert not (tmp_path / "copy").exists()
