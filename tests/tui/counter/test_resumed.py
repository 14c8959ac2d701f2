"""The question before a run continues, and the choice of the run to resume, by real keys."""

from pathlib import Path
from typing import Any

import pytest

from core.jobs.job import read_job
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.safety import DUST, SWITCH_OFF_AND_WITHDRAW
from tests.conftest import MakeApp, ToldTime
from tests.tui.counters import logged, press
from tests.tui.painted import painted
from tests.tui.runs_made import begin, job_file
from tui.board.operation_list import OperationList
from tui.counter.continue_question import WasItMoved
from tui.counter.screen import CounterScreen
from tui.paths import Paths
from tui.widgets.question import OneOf, QuestionScreen

TURNED, BY_HAND, THREADED = "Rough the base", "Deburr", "Thread the stem"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """Return the path of a job with three operations."""
    return job_file(tmp_path)


def left(paths: Paths, job: Path, told_time: ToldTime, name: str, *, done: int, in_order: bool) -> ActiveRun:
    """Start a run in another session and count some steps. Close the run, or cut it off as a crash does."""
    with Logbook.open(paths.data) as book:
        run = begin(book, read_job(job), name, told_time.clock(), session=name.replace(" ", ""))
        for _ in range(done):
            run.done()
        run.close(in_order=in_order)
    return run


async def until(pilot: Any, kind: type) -> Any:
    """Wait for a screen of a class, and return the screen."""
    for _ in range(100):
        if isinstance(pilot.app.screen, kind):
            await pilot.pause()
            return pilot.app.screen
        await pilot.pause()
    raise AssertionError(painted(pilot.app))


def shown(pilot: Any) -> str:
    """Return the painted text as one row."""
    return " ".join(painted(pilot.app).replace("│", " ").split())


@pytest.mark.parametrize("key", ["enter", "space", "1", "y", "0"])
async def test_enter_space_y_and_digits_never_answer_that_nothing_was_moved(
    make: MakeApp, job: Path, paths: Paths, told_time: ToldTime, key: str
) -> None:
    """Enter, Space and digits can only answer that something was moved."""
    left(paths, job, told_time, TURNED, done=2, in_order=False)
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        await until(pilot, WasItMoved)
        await press(pilot, key)
        assert logged(pilot.app).notes == ()
        assert isinstance(pilot.app.screen, QuestionScreen)
        await press(pilot, "down", "down", "enter")
        assert logged(pilot.app).notes == ()


async def test_a_resumed_run_shows_the_caution_about_its_material_again(
    make: MakeApp, job: Path, paths: Paths, told_time: ToldTime
) -> None:
    """The page of cautions before the run may have been shown on another day."""
    job.write_text(job.read_text().replace('"brass"', '"cast bronze"'))
    left(paths, job, told_time, TURNED, done=2, in_order=True)
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        await until(pilot, WasItMoved)
        assert DUST in shown(pilot)


@pytest.mark.parametrize("key", ["n", "slash"])
async def test_pressing_n_or_slash_answers_that_nothing_was_moved(
    make: MakeApp, job: Path, paths: Paths, told_time: ToldTime, key: str
) -> None:
    """The answer is logged, and the run continues at the same step."""
    run = left(paths, job, told_time, TURNED, done=2, in_order=False)
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        await until(pilot, WasItMoved)
        await press(pilot, key)
        assert isinstance(pilot.app.screen, CounterScreen)
        assert logged(pilot.app).last.kind == "note"
        assert logged(pilot.app).cursor == run.state.cursor


@pytest.mark.parametrize("in_order", [True, False])
async def test_only_a_run_that_the_user_did_not_close_is_reported_as_interrupted(
    make: MakeApp, job: Path, paths: Paths, told_time: ToldTime, in_order: bool
) -> None:
    """A run that was closed gets the question too, because somebody may open the chuck overnight."""
    left(paths, job, told_time, TURNED, done=2, in_order=in_order)
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        await until(pilot, WasItMoved)
        assert (SWITCH_OFF_AND_WITHDRAW in shown(pilot)) is not in_order


@pytest.mark.parametrize(("return_code", "interrupted"), [(0, False), (143, True)])
async def test_a_run_ended_by_a_signal_counts_as_interrupted_unlike_a_run_ended_by_ctrl_q(
    make: MakeApp, job: Path, paths: Paths, told_time: ToldTime, return_code: int, interrupted: bool
) -> None:
    """A signal comes, for example, from a terminal window that is closed."""
    left(paths, job, told_time, TURNED, done=2, in_order=True)
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        await until(pilot, WasItMoved)
        await press(pilot, "n", "space")
        if return_code:
            pilot.app.exit(return_code=return_code)
        else:
            await press(pilot, "ctrl+q")
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        await until(pilot, WasItMoved)
        assert (SWITCH_OFF_AND_WITHDRAW in shown(pilot)) is interrupted


async def test_starting_the_program_resumes_the_run_that_was_opened_last(
    make: MakeApp, job: Path, paths: Paths, told_time: ToldTime
) -> None:
    """The run started first was opened last and has no new passes. It is resumed, and a key opens the other run."""
    left(paths, job, told_time, TURNED, done=2, in_order=True)
    with Logbook.open(paths.data) as book:
        earlier = book.runs()[0].uid
    left(paths, job, told_time, THREADED, done=3, in_order=True)
    with Logbook.open(paths.data) as book:
        ActiveRun.resume(book, earlier, told_time.clock(), "cutoff").close(in_order=False)
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        question = await until(pilot, WasItMoved)
        assert pilot.app.screen_stack[-2].title == TURNED
        assert THREADED in shown(pilot)
        await press(pilot, "o")
        assert await until(pilot, WasItMoved) is not question
        assert pilot.app.screen_stack[-2].title == THREADED
        assert sum(isinstance(screen, CounterScreen) for screen in pilot.app.screen_stack) == 1
        await press(pilot, "n", "o")
        await until(pilot, WasItMoved)
        assert pilot.app.screen_stack[-2].title == TURNED


async def test_starting_the_program_resumes_a_started_run_even_if_it_has_no_passes(
    make: MakeApp, job: Path, paths: Paths, told_time: ToldTime
) -> None:
    """Its counter asks nothing, shows how to make the lathe safe, and has a key for the other run."""
    left(paths, job, told_time, THREADED, done=3, in_order=True)
    left(paths, job, told_time, TURNED, done=0, in_order=False)
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        screen = await until(pilot, CounterScreen)
        assert screen.title == TURNED
        assert SWITCH_OFF_AND_WITHDRAW in shown(pilot)
        assert screen.check_action("other_run", ())
        await press(pilot, "o")
        await until(pilot, WasItMoved)
        assert pilot.app.screen_stack[-2].title == THREADED


async def test_the_o_key_lists_the_other_unfinished_runs_of_the_job(
    make: MakeApp, job: Path, paths: Paths, told_time: ToldTime
) -> None:
    """The run opened last is first in the list. After Esc in the list, the question about this run returns."""
    left(paths, job, told_time, TURNED, done=2, in_order=True)
    left(paths, job, told_time, BY_HAND, done=0, in_order=True)
    left(paths, job, told_time, THREADED, done=3, in_order=False)
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        await until(pilot, WasItMoved)
        await press(pilot, "o")
        await until(pilot, OneOf)
        words = shown(pilot)
        assert 0 < words.index(f"1 {BY_HAND}") < words.index(f"2 {TURNED}")
        await press(pilot, "escape")
        await until(pilot, WasItMoved)
        assert pilot.app.screen_stack[-2].title == THREADED
        await press(pilot, "o", "2")
        await until(pilot, WasItMoved)
        assert pilot.app.screen_stack[-2].title == TURNED


async def test_a_job_with_one_unfinished_run_offers_no_key_for_another_run(
    make: MakeApp, job: Path, paths: Paths, told_time: ToldTime
) -> None:
    """The key bar has no Other run."""
    left(paths, job, told_time, TURNED, done=2, in_order=True)
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        await until(pilot, WasItMoved)
        await press(pilot, "o")
        assert isinstance(pilot.app.screen, WasItMoved)
        await press(pilot, "n", "o")
        assert isinstance(pilot.app.screen, CounterScreen)
        assert not pilot.app.screen.check_action("other_run", ())


async def test_the_cursor_of_the_board_is_on_the_operation_whose_run_was_opened_last(
    make: MakeApp, job: Path, paths: Paths, told_time: ToldTime
) -> None:
    """When the counter closes, the board has its cursor on the operation of that run."""
    left(paths, job, told_time, THREADED, done=3, in_order=True)
    left(paths, job, told_time, TURNED, done=0, in_order=True)
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        await until(pilot, CounterScreen)
        await press(pilot, "escape", "enter")
        await pilot.pause()
        assert pilot.app.screen.query_one(OperationList).cursor == 0


SLOTS = """
format = 1
title = "Slots"
lathe = "metric_lathe.toml"
[[operation]]
kind = "pattern"
name = "Slots"
blank_diameter = "90 mm"
depth_dial = "carriage"
[[operation.layer]]
shape = "slots"
count = 4
from = "10 mm"
to = "30 mm"
depth = "0.4 mm"
cut = "0.2 mm"
"""


async def test_resuming_an_interrupted_cut_along_a_slot_repeats_the_feed_in(
    make: MakeApp, tmp_path: Path, paths: Paths, told_time: ToldTime
) -> None:
    """The tool was withdrawn by hand, as the caution asks. So the run first goes to the position and feeds in."""
    path = tmp_path / "slots.toml"
    path.write_text(SLOTS)
    lathe = Path(__file__).parents[3] / "sample_jobs" / "metric_lathe.toml"
    (tmp_path / lathe.name).write_text(lathe.read_text())
    with Logbook.open(paths.data) as book:
        run = begin(book, read_job(path), "Slots", told_time.clock(), session="slots")
        while run.state.cursor is not None and not run.state.cursor.feeds_along:
            run.done()
        run.close(in_order=False)
    async with make(job=path).run_test(size=(80, 24)) as pilot:
        await until(pilot, WasItMoved)
        await press(pilot, "n")
        counter = await until(pilot, CounterScreen)
        assert [step.action for step in counter.state.open_steps()][:3] == ["index", "cut", "cut"]
        assert counter.state.cursor is not None and counter.state.cursor.at.position == 1
