"""Setting up an axis on screen: lists in a form, values asked at their steps, a kill, and a result for a pattern."""

from pathlib import Path
from typing import Any

import pytest

from core.jobs.job import read_job
from tests.conftest import MakeApp
from tests.tui.counters import at_first_measurement, logged, press, read_and_start
from tests.tui.painted import painted
from tui.board.job_actions import screen_for
from tui.counter.continue_question import WasItMoved
from tui.counter.screen import CounterScreen
from tui.operation.declared import DeclaredScreen
from tui.operation.form import OperationForm
from tui.widgets.question import Typed

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
AXES = """
[[operation]]
kind = "axes"
name = "Height of the table"
method = "bars compared"
spindle_bar = "20 mm"
other_bar = "16 mm"
difference = "-3.75 mm"
"""
GRIND = """
[[operation]]
kind = "grind"
name = "Cutter"
cutter = "fresh"
held_in = "spindle"
depth = "1 mm"
tip_angle = "60 deg"
shank = "4 mm"
across_flat = ["2 mm"]
"""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """Return the path of a job with a pattern and a check of the table's height."""
    for name in ("mixed_lathe.toml", "hour_lines.toml"):
        (tmp_path / name).write_text((SAMPLES / name).read_text(encoding="utf-8"), encoding="utf-8")
    path = tmp_path / "hour_lines.toml"
    path.write_text(path.read_text(encoding="utf-8") + AXES, encoding="utf-8")
    return path


async def typed(pilot: Any, value: str) -> None:
    """Answer the question of the current step, long enough after the key before."""
    await press(pilot, value[0])
    assert isinstance(pilot.app.screen, Typed)
    await press(pilot, *value[1:], "enter")


async def to_the_result(pilot: Any, value: str) -> CounterScreen:
    """Measure again, and return the counter at the step with the remaining error."""
    counter = pilot.app.screen
    assert isinstance(counter, CounterScreen)
    while counter.state.cursor is not None and not (
        counter.state.cursor.action == "read" and counter.state.cursor.expects
    ):
        counter.run.done()
    counter.paint()
    await typed(pilot, value)
    return counter


async def test_the_t_key_saves_the_remaining_height_error_in_the_pattern_of_the_job(make: MakeApp, job: Path) -> None:
    """The job file then has the height error and the log has a note. Before a measurement, the key is not offered."""
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        counter = await _opened(pilot)
        assert not counter.is_useful("hand_over")
        await to_the_result(pilot, "-1.97")
        assert counter.state.cursor is not None and counter.is_useful("hand_over")
        before = logged(pilot.app)
        await press(pilot, "t")
        pattern = next(operation for operation in read_job(job).operations if operation.kind == "pattern")
        assert pattern.plan_input.parameters["height_error"] == "0.03 mm"
        assert "0.03 mm" in logged(pilot.app).notes[-1].text
        assert logged(pilot.app).cursor == before.cursor
        assert pilot.app.context.job.operations[2].plan_input.parameters["height_error"] == "0.03 mm"


async def test_the_t_key_saves_the_remaining_height_error_even_after_the_last_step(make: MakeApp, job: Path) -> None:
    """The last page waits for one more key, and T still writes the error into the pattern."""
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        counter = await _opened(pilot)
        await to_the_result(pilot, "-1.97")
        while counter.state.cursor is not None:
            counter.run.done()
        counter.paint()
        assert counter.is_useful("hand_over")
        await press(pilot, "t")
        pattern = next(operation for operation in read_job(job).operations if operation.kind == "pattern")
        assert pattern.plan_input.parameters["height_error"] == "0.03 mm"


async def test_the_t_key_reports_that_each_layer_must_choose_the_newly_ground_cutter(make: MakeApp, job: Path) -> None:
    """Its two layers use two cutters already, so the new one cuts neither until a layer names it."""
    text = job.read_text(encoding="utf-8")
    other = (
        '  [[operation.cutter]]\n  name = "other"\n  tip_angle = "60 deg"\n  [[operation.layer]]\n  cutter = "other"'
    )
    text = text.replace("  [[operation.layer]]", other, 1).replace(
        '  start = "6 deg"', '  cutter = "cutter"\n  start = "6 deg"'
    )
    job.write_text(text + GRIND, encoding="utf-8")
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        counter = await _opened(pilot, 4)
        while counter.state.cursor is not None and counter.state.cursor.title != "Put it in the spindle":
            counter.run.done()
        counter.paint()
        await press(pilot, "t")
        assert "Border. Choose this cutter in each layer that it cuts." in " ".join(painted(pilot.app).split())
        pattern = read_job(job).operations[2].plan_input.parameters
        assert [cutter["name"] for cutter in pattern["cutter"]] == ["cutter", "other", "fresh"]


async def test_pressing_t_is_refused_in_a_job_without_a_pattern(make: MakeApp, tmp_path: Path) -> None:
    """The key bar does not have the key. If it is pressed, a message gives the reason."""
    path = tmp_path / "table.toml"
    path.write_text(f'format = 1\ntitle = "Table"\n{AXES}', encoding="utf-8")
    async with make(job=path).run_test(size=(80, 24)) as pilot:
        counter = await _opened(pilot, 0)
        await to_the_result(pilot, "-1.97")
        assert not counter.is_useful("hand_over")
        await press(pilot, "t")
        assert pilot.app.screen is counter and logged(pilot.app).notes == ()
        assert path.read_text(encoding="utf-8").count("height_error") == 0


async def test_a_logged_reading_is_kept_when_the_program_is_killed(make: MakeApp, job: Path) -> None:
    """The program is killed after one reading. The next start has that reading and asks for the next."""
    job.write_text(job.read_text().replace('difference = "-3.75 mm"\n', ""), encoding="utf-8")
    job.write_text(job.read_text().replace('spindle_bar = "20 mm"\n', ""), encoding="utf-8")
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        await at_first_measurement(pilot, 3)
        await typed(pilot, "20")
        assert logged(pilot.app).plan_input.answered == {"spindle_bar": "20 mm"}
        pilot.app.exit(return_code=137)
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        for _ in range(50):
            await pilot.pause()
        assert isinstance(pilot.app.screen, WasItMoved)
        await press(pilot, "n")
        counter = pilot.app.screen
        assert isinstance(counter, CounterScreen) and counter.state.cursor is not None
        assert counter.state.cursor.title == "Compare the bars"
        await typed(pilot, "-3.75")
        assert logged(pilot.app).plan_input.answered == {"spindle_bar": "20 mm", "difference": "-3.75 mm"}


async def test_several_values_typed_into_one_field_are_saved_as_a_list(make: MakeApp) -> None:
    """Numbers without a unit get the unit of the field. The form shows the saved list in one field again."""
    async with make().run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        screen = screen_for("square", {"kind": "square", "name": "it", "at": ["0 mm", "60 mm"]})
        assert isinstance(screen, DeclaredScreen)
        pilot.app.push_screen(screen)
        await pilot.pause()
        form = screen.query_one(OperationForm)
        field = form.entries["at"][1]
        assert field.text == "0 mm; 60 mm"
        field.text = "0 60 4.5 in"
        await pilot.pause()
        assert form.table()["at"] == ["0 mm", "60 mm", "4.5 in"] and screen.ready
        field.text = "0 60 sixty"
        screen.judge()
        assert not screen.ready and field.error


async def _opened(pilot: Any, operation: int = 3) -> CounterScreen:
    from tui.runs import open_run

    await pilot.pause()
    open_run(pilot.app.context, pilot.app.context.job.operations[operation])
    await read_and_start(pilot)
    counter = pilot.app.screen
    assert isinstance(counter, CounterScreen)
    return counter
