"""Saving adds no operation twice, and the material belongs to the whole job. The tests read files with tomllib."""

import tomllib
from pathlib import Path

import pytest
from textual.pilot import Pilot

from tests.conftest import MakeApp
from tests.tui.made_up import said
from tests.tui.operation.test_changing import choose
from tests.tui.painted import painted
from tests.tui.runs_made import JOB, job_file
from tui.board.screen import BoardScreen
from tui.operation.declared import DeclaredScreen
from tui.operation.screen import ActionList
from tui.widgets.question import YesNo


@pytest.fixture
def job_path(tmp_path: Path) -> Path:
    """Return a job file of three operations with the material brass."""
    return job_file(tmp_path)


def shown(pilot: Pilot[None]) -> str:
    """Return the screen's words as one line."""
    return " ".join(painted(pilot.app).split())


async def press(pilot: Pilot[None], *pressed: str) -> None:
    """Press keys and wait until all their effects are finished."""
    await pilot.press(*pressed)
    for _ in range(4):
        await pilot.pause()


async def type_turning(pilot: Pilot[None], material: str = "") -> None:
    """Add a turned diameter to the job, and stop at the question for its name."""
    await press(pilot, "a", "1")
    assert isinstance(pilot.app.screen, DeclaredScreen)
    await press(pilot, *"30", "down", *"28", "down", *material, "down", *"1", "f4")


async def test_saving_a_form_twice_adds_its_operation_to_the_job_only_once(make: MakeApp, job_path: Path) -> None:
    """A second F4 says that the job has the operation, and F5 starts nothing.

    F4 after a change updates the operation.
    """
    app = make(job=job_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await type_turning(pilot)
        await press(pilot, *" rim", "enter")
        assert isinstance(app.screen, DeclaredScreen) and app.screen.in_job
        once = job_path.read_text()
        assert len(tomllib.loads(once)["operation"]) == 4
        await press(pilot, "f4")
        assert said(app)
        await press(pilot, "f5")
        assert isinstance(app.screen, DeclaredScreen) and job_path.read_text() == once
        await press(pilot, "end", *".5", "f4")
        cuts = [table.get("cut") for table in tomllib.loads(job_path.read_text())["operation"]]
        assert len(cuts) == 4 and cuts[-1] == "1.5 mm"
        await press(pilot, "end", "5")
        while not isinstance(app.screen.focused, ActionList):
            await press(pilot, "down")
        assert "Save as another operation" in shown(pilot)
        await press(pilot, "down", "down", "enter", *" 3", "enter")
        saved = tomllib.loads(job_path.read_text())["operation"]
        assert [table.get("cut") for table in saved[3:]] == ["1.5 mm", "1.55 mm"]
        await press(pilot, "escape")
        assert isinstance(app.screen, BoardScreen)


async def test_saving_a_form_again_updates_the_operation_in_the_new_job(make: MakeApp, job_path: Path) -> None:
    """F8, a change and F4 leave one operation in the new job, with the form's present values and without a question."""
    app = make(job=job_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await type_turning(pilot)
        await press(pilot, "escape", "f8", *"Rim", "enter", "enter", "enter")
        assert app.context.job is not None and app.context.job.path != job_path
        path = app.context.job.path
        await press(pilot, "end", *".5", "f4")
        assert isinstance(app.screen, DeclaredScreen) and app.screen.in_job
        assert [table.get("cut") for table in tomllib.loads(path.read_text())["operation"]] == ["1.5 mm"]


async def test_the_material_of_a_job_can_be_changed_on_the_board(make: MakeApp, job_path: Path) -> None:
    """Keys e and 5 save the material for every operation. The answer "none" removes it."""
    app = make(job=job_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await choose(pilot, 5)
        await press(pilot, *"cast bronze", "enter")
        assert tomllib.loads(job_path.read_text()) == {**tomllib.loads(JOB), "material": "cast bronze"}
        assert app.context.job is not None and {op.plan_input.material for op in app.context.job.operations} == {
            "cast bronze"
        }
        assert said(app)
        await press(pilot, "e")
        assert " cast bronze" in shown(pilot)
        await press(pilot, "5", *"none", "enter")
        assert job_path.read_text() == JOB.replace('material = "brass"\n', "")
        await press(pilot, "e", "5")
        await press(pilot, *"brass", "enter")
        assert job_path.read_text() == JOB


async def test_entering_a_new_material_asks_whether_to_use_it_for_the_whole_job(make: MakeApp, job_path: Path) -> None:
    """The question comes for a new operation and for a changed operation."""
    app = make(job=job_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await type_turning(pilot, "oak")
        await press(pilot, "enter")
        assert isinstance(app.screen, YesNo)
        await press(pilot, "0")
        assert isinstance(app.screen, DeclaredScreen) and said(app)
        assert tomllib.loads(job_path.read_text())["material"] == "brass"
        await press(pilot, "escape")
        assert isinstance(app.screen, BoardScreen)
        await choose(pilot, 1)
        app.screen.query_one("#field-material").focus()
        await press(pilot, *"oak", "f4")
        await press(pilot, "1")
        assert isinstance(app.screen, BoardScreen)
        assert tomllib.loads(job_path.read_text())["material"] == "oak"
