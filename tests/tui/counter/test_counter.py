"""The counter, driven by real keys. The tests check log, state and the big number."""

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from core.inputs import Edited
from core.jobs.job import read_job
from core.lathe.reader import example_lathe
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from tests.conftest import MakeApp, ToldTime
from tests.tui.counters import Opening, entered, logged, press, read_and_start
from tests.tui.made_up import said
from tests.tui.painted import foreign, painted
from tui.counter.big_number import BigNumber
from tui.counter.continue_question import WasItMoved
from tui.counter.screen import CounterScreen
from tui.glyphs import ASCII_SAFE, CONSOLE_SAFE
from tui.runs import open_run
from tui.terminal import Terminal
from tui.widgets.question import OneOf

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
ARBOR = SAMPLES / "sundial_arbor.toml"
BEFORE_CUTS = 9


async def opened(pilot: Any, number: int = 2) -> CounterScreen:
    """Open and start the run of an operation, as the board does, and return its counter."""
    app = pilot.app
    open_run(app.context, app.context.job.operations[number])
    await read_and_start(pilot)
    assert isinstance(app.screen, CounterScreen)
    return app.screen


def number(screen: CounterScreen) -> str:
    """Return the big number of the counter."""
    return screen.query_one(BigNumber).number


async def test_each_press_of_space_or_enter_logs_one_pass_on_disk(make: MakeApp) -> None:
    """The counter shows the reading of each planned cut. After each key press, the log on disk has one more step."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await press(pilot, *["space"] * BEFORE_CUTS)
        plan = read_job(ARBOR).operations[2].plan
        cuts = [step for step in plan.steps if step.action == "cut"]
        for count, cut in enumerate(cuts[:5]):
            setting = cut.settings[0]
            assert number(screen) == f"{float(setting.reading):.2f}"  # type: ignore[union-attr]
            assert f" {count + 1} of {len(cuts)} " in painted(pilot.app)
            await press(pilot, "enter" if count % 2 else "space")
            assert logged(pilot.app).steps_done == BEFORE_CUTS + count + 1
        assert f" 5 of {len(cuts)}, " in painted(pilot.app)


async def test_the_counters_big_number_is_at_least_ten_rows_high_on_an_80_by_24_screen(make: MakeApp) -> None:
    """At 80x24 this holds for the first cut of turning and of threads, inch and metric, external and internal."""
    for job, indices in (("sundial_arbor", (0,)), ("gnomon_screw", (1,)), ("engraving_fixture", (2,))):
        for index in indices:
            app = make(job=SAMPLES / f"{job}.toml", opening=Opening)
            async with app.run_test(size=(80, 24)) as pilot:
                screen = await opened(pilot, index)
                while screen.state.cursor is not None and screen.state.cursor.action != "cut":
                    screen.run.done()
                screen.paint()
                await pilot.pause()
                assert screen.query_one(BigNumber).rows_used >= 10, number(screen)


async def test_undoing_a_pass_adds_an_event_to_the_log(make: MakeApp, told_time: ToldTime) -> None:
    """After an undo the step is the current one again. The log keeps both events."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await press(pilot, *["space"] * (BEFORE_CUTS + 2))
        before = number(screen)
        told_time.pass_s(2)
        await press(pilot, "minus")
        assert number(screen) != before
        assert logged(pilot.app).steps_done == BEFORE_CUTS + 1
        assert logged(pilot.app).last.kind == "undone"


async def test_holding_space_counts_only_one_pass(make: MakeApp) -> None:
    """Key presses closer than the quiet time count once, and a message says so. This includes a bouncing key."""
    async with make(job=ARBOR, opening=Opening, quiet_s=30.0).run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await press(pilot, *["space"] * 20, "enter")
        assert logged(pilot.app).steps_done == 1
        assert said(pilot.app)


async def test_pressing_enter_to_start_a_run_does_not_count_its_first_step(make: MakeApp) -> None:
    """The same key press that starts the run must not count its first step."""
    async with make(job=ARBOR, opening=Opening, quiet_s=30.0).run_test(size=(80, 24)) as pilot:
        open_run(pilot.app.context, pilot.app.context.job.operations[2])
        await pilot.pause()
        await press(pilot, "enter", "enter", "enter")
        assert isinstance(pilot.app.screen, CounterScreen)
        assert logged(pilot.app).steps_done == 0


async def test_a_resumed_run_continues_at_the_dial_reading_at_which_it_stopped(make: MakeApp) -> None:
    """On the next day the program asks whether anything was moved. After no, it shows the same number."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await press(pilot, *["space"] * (BEFORE_CUTS + 3))
        left_at = number(screen)
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        open_run(pilot.app.context, pilot.app.context.job.operations[2])
        while not isinstance(pilot.app.screen, WasItMoved):
            await pilot.pause()
        await pilot.pause()
        await press(pilot, "n")
        assert isinstance(pilot.app.screen, CounterScreen)
        assert number(pilot.app.screen) == left_at
        assert logged(pilot.app).last.kind == "note"


async def test_a_run_can_be_planned_again_after_its_job_has_changed(make: MakeApp, tmp_path: Path) -> None:
    """The program asks how to continue. After planning again, passes that are done stay done."""
    for name in ("sundial_arbor.toml", "metric_lathe.toml"):
        (tmp_path / name).write_bytes((SAMPLES / name).read_bytes())
    job = tmp_path / "sundial_arbor.toml"
    async with make(job=job, opening=Opening).run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await press(pilot, *["space"] * (BEFORE_CUTS + 3))
    job.write_text(job.read_text().replace('blank = "26.80 mm"', 'blank = "26.75 mm"'))
    async with make(job=job, opening=Opening).run_test(size=(80, 24)) as pilot:
        open_run(pilot.app.context, pilot.app.context.job.operations[2])
        while not isinstance(pilot.app.screen, OneOf):
            await pilot.pause()
        await press(pilot, "2")
        while not isinstance(pilot.app.screen, WasItMoved):
            await pilot.pause()
        await press(pilot, "n")
        state = logged(pilot.app)
        assert state.steps_done == BEFORE_CUTS + 3
        assert state.plan_input.parameters["blank"] == "26.75 mm"
        assert isinstance(state.revisions[-1].entered, Edited)
        assert any(step.action == "measure" for step in state.open_steps())


async def test_after_something_was_moved_no_cut_is_planned_until_the_work_is_measured(make: MakeApp) -> None:
    """After a move, the plan has no cut until readings and a measurement are entered."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await press(pilot, *["space"] * (BEFORE_CUTS + 4), "5", "1", "4")
        assert not any(step.action == "cut" for step in screen.state.open_steps())
        await press(pilot, "space", "space", "space")
        await press(pilot, "s", *"0.34", "enter", *"1.10", "enter")
        assert screen.state.zeros == {
            "compound": pytest.approx(0.34),
            "cross_slide": pytest.approx(1.1),
            "carriage": 0,
        }
        await press(pilot, "k")
        assert pilot.app.screen is screen and said(pilot.app)
        await press(pilot, "space", "a", *"25.6", "enter", "n")
        cut = next(step for step in screen.state.open_steps() if step.action == "cut")
        assert screen.state.cursor is cut
        shown = float(number(screen))
        assert shown == pytest.approx(0.34 + cut.settings[0].position)  # type: ignore[union-attr]


async def test_the_answer_to_every_question_of_the_counter_is_logged(make: MakeApp) -> None:
    """Gauge, spring pass, note and repeat each ask once, and the log has the answer."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await press(pilot, *["space"] * (BEFORE_CUTS + 2))
        await press(pilot, "3", "1")
        assert screen.state.cursor is not None and screen.state.cursor.action == "spring"
        await press(pilot, "1", "3", "2")
        assert entered(pilot.app)[1] == {"fit": "won't start"}
        await press(pilot, "4", *"oil", "enter")
        assert logged(pilot.app).notes[-1].text == "oil"
        await press(pilot, "6", "1")
        assert logged(pilot.app).last.kind == "reopened"


async def test_a_spring_pass_is_refused_after_the_dial_was_set_to_another_reading(make: MakeApp) -> None:
    """The dial no longer shows the reading of the last pass. A message says so, and nothing is logged."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await press(pilot, *["space"] * (BEFORE_CUTS + 2), "2", *"0.80", "enter")
        assert number(screen) == "0.80"
        await press(pilot, "3", "1")
        assert said(pilot.app)
        assert logged(pilot.app).last.body["cause"] == "set"


@pytest.mark.parametrize(
    ("job", "operation", "offers"), [("sundial_arbor.toml", 0, True), ("gnomon_foot.toml", 0, False)]
)
async def test_spring_passes_are_offered_for_turning_but_not_for_drilling(
    make: MakeApp, job: str, operation: int, offers: bool
) -> None:
    """A drilled peck cannot be repeated as a spring pass (common practice, no source)."""
    async with make(job=SAMPLES / job, opening=Opening).run_test(size=(120, 40)) as pilot:
        screen = await opened(pilot, operation)
        while not any(step.action == "cut" for step in screen.state.done_latest_first()):
            screen.run.done()
        screen.paint()
        await pilot.pause()
        assert ("3 Spring" in painted(pilot.app)) is offers
        await press(pilot, "3")
        assert (pilot.app.screen is screen) is not offers
        assert bool(said(pilot.app)) is not offers


async def test_a_second_copy_of_the_program_cannot_count_passes_of_an_open_run(make: MakeApp) -> None:
    """The second program shows the run, says that it only watches, and counts nothing."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await press(pilot, "space")
        with Logbook.open(pilot.app.context.paths.data) as other:
            onlooker = ActiveRun.resume(other, screen.run.uid, pilot.app.context.clock, "other")
            assert onlooker.view_only
            assert not onlooker.take_over()
            await press(pilot, "space")
            assert onlooker.refresh()
            assert onlooker.state.steps_done == 2


async def test_pressing_space_after_the_last_step_finishes_the_run_and_closes_the_counter(make: MakeApp) -> None:
    """After the last step, Space finishes the run in the log and closes the counter."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, 1)
        await press(pilot, "space")
        assert screen.state.cursor is None
        await press(pilot, "space")
        assert logged(pilot.app).status == "finished"
        assert not isinstance(pilot.app.screen, CounterScreen)


@pytest.mark.parametrize("size", [(40, 12), (20, 5), (120, 36)])
async def test_a_pass_can_be_counted_at_every_screen_size(make: MakeApp, size: tuple[int, int]) -> None:
    """On a very small and on a large terminal, each key press counts a step."""
    async with make(job=ARBOR, opening=Opening).run_test(size=size) as pilot:
        await opened(pilot)
        await press(pilot, *["space"] * (BEFORE_CUTS + 1))
        assert logged(pilot.app).steps_done == BEFORE_CUTS + 1


@pytest.mark.parametrize(
    ("terminal", "safe"),
    [
        (Terminal(charset="console", dots="ascii", sixteen_colours=True), CONSOLE_SAFE),
        (Terminal(charset="ascii", dots="ascii"), ASCII_SAFE),
    ],
)
async def test_the_counter_uses_only_characters_that_the_terminal_can_show(
    make: MakeApp, terminal: Terminal, safe: frozenset[str]
) -> None:
    """The counter paints only characters that the font of the Linux console has."""
    async with make(job=ARBOR, opening=Opening, terminal=terminal).run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await press(pilot, *["space"] * (BEFORE_CUTS + 1))
        assert not foreign(pilot.app, safe)


async def test_the_message_after_a_logged_pass_names_the_whole_turns_and_the_dial_reading(make: MakeApp) -> None:
    """The finishing cut of the arbor is 3.20 mm on a dial of 3 mm a turn: 1 turn 0.20 mm."""
    app = make(opening=Opening, job=ARBOR)
    async with app.run_test(size=(80, 24)) as pilot:
        counter = await opened(pilot, 0)
        cuts = [step for step in counter.state.steps if step.action == "cut"]
        while counter.state.cursor is not cuts[-1]:
            counter.run.done()
        counter.paint()
        await pilot.press("space")
        await pilot.pause()
        assert " 1 turn 0.20 mm" in " ".join(painted(app).split())


async def test_the_header_of_the_counter_names_the_lathe_with_which_the_run_was_started(make: MakeApp) -> None:
    """A run keeps the lathe that it was started with, even if another lathe is in use now."""
    app = make(opening=Opening, job=ARBOR)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(pilot, 0)
        app.context.lathe = example_lathe()
        await pilot.pause()
        assert "Metric bench lathe" in painted(app).splitlines()[0]


def test_opening_the_counter_of_a_thread_imports_no_modules_for_dividing() -> None:
    """Finding the useful keys of the first step loads neither dividing plates nor table readings."""
    code = (
        "import sys; from pathlib import Path; from core.jobs.job import read_job; import tui.counter.screen; "
        "from tui.counter.questions import can_be_set; job = read_job(Path(sys.argv[1])); "
        "said = {can_be_set(job.lathe, step) for step in job.operations[2].plan.steps}; assert said == {False, True}; "
        "print([name for name in ('core.run.table_reading', 'core.operations.dividing.plates') if name in sys.modules])"
    )
    command = [sys.executable, "-c", code, str(ARBOR)]
    done = subprocess.run(command, cwd=SAMPLES.parent, capture_output=True, text=True, check=False)
    assert (done.stdout, done.stderr) == ("[]\n", "")
