"""The board changes, moves and removes operations of the open job. The tests read the file with tomllib."""

import tomllib
from pathlib import Path

import pytest
from textual.pilot import Pilot

from tests.conftest import MakeApp
from tests.tui.counters import press, read_and_start
from tests.tui.made_up import said
from tests.tui.painted import painted
from tests.tui.runs_made import JOB, job_file
from tui.board.operation_list import OperationList
from tui.board.screen import BoardScreen
from tui.counter.screen import CounterScreen
from tui.operation.declared import DeclaredScreen
from tui.widgets.quantity_field import QuantityField
from tui.widgets.question import OneOf, YesNo


@pytest.fixture
def job_path(tmp_path: Path) -> Path:
    """Return a job file of three operations for the example lathe."""
    return job_file(tmp_path)


def names(path: Path) -> list[str]:
    """Return the names of the operations in a job file, read with tomllib (TOML 1.0.0)."""
    return [table["name"] for table in tomllib.loads(path.read_text())["operation"]]


async def choose(pilot: Pilot[None], number: int) -> None:
    """Press e on the board and choose one of the offered actions."""
    await pilot.press("e")
    await pilot.pause()
    await pilot.press(str(number))
    await pilot.pause()
    if isinstance(pilot.app.screen, OneOf):
        await pilot.press("enter")
        await pilot.pause()


async def test_editing_an_operation_replaces_only_the_changed_value_in_the_job_file(
    make: MakeApp, job_path: Path
) -> None:
    """The fields show the file's values. Esc, or F4 without a change, leaves every byte; F4 saves a changed value."""
    app = make(job=job_path)
    async with app.run_test(size=(120, 36)) as pilot:
        await pilot.pause()
        for key in ("escape", "f4"):
            await choose(pilot, 1)
            assert isinstance(app.screen, DeclaredScreen)
            await pilot.press(key)
            for _ in range(4):
                await pilot.pause()
            assert isinstance(app.screen, BoardScreen)
            assert job_path.read_text() == JOB
        await choose(pilot, 1)
        assert isinstance(app.screen, DeclaredScreen)
        assert "Rough the base" in painted(app).splitlines()[0]
        # F5 would begin a run that the job knows nothing of: it is not offered.
        assert "F5" not in painted(app).splitlines()[-1]
        await pilot.press("f5")
        await pilot.pause()
        assert isinstance(app.screen, DeclaredScreen)
        field = app.screen.query_one("#field-to", QuantityField)
        assert field.text == "20 mm"
        field.focus()
        await pilot.press("end", *["backspace"] * 5, *"19.5 mm", "f4")
        for _ in range(4):
            await pilot.pause()
        assert isinstance(app.screen, BoardScreen)
        assert job_path.read_text() == JOB.replace('to = "20 mm"', 'to = "19.5 mm"')
        assert said(app)
        assert app.context.job is not None and app.context.job.operations[0].plan_input.parameters["to"] == "19.5 mm"


async def test_an_operation_in_a_job_can_be_moved_and_removed(make: MakeApp, job_path: Path) -> None:
    """The first operation cannot move up. It moves down one position, and is removed after a question."""
    app = make(job=job_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await choose(pilot, 2)
        assert said(app)
        assert job_path.read_text() == JOB
        await choose(pilot, 3)
        assert names(job_path) == ["Deburr", "Rough the base", "Thread the stem"]
        assert app.screen.query_one(OperationList).cursor == 1
        await choose(pilot, 4)
        assert names(job_path) == ["Deburr", "Rough the base", "Thread the stem"]
        await pilot.press("1")
        await pilot.pause()
        assert len(names(job_path)) == 2


async def test_the_text_of_an_operation_done_by_hand_can_be_changed(make: MakeApp, job_path: Path) -> None:
    """The form shows the saved sentence, and the user can change it."""
    app = make(job=job_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("down")
        await choose(pilot, 1)
        await pilot.press("end", *" Twice.", "f4")
        for _ in range(3):
            await pilot.pause()
        assert tomllib.loads(job_path.read_text())["operation"][1]["text"] == "Break every edge. Twice."


async def test_the_list_of_kinds_opens_a_form_for_every_kind_of_operation(make: MakeApp, job_path: Path) -> None:
    """The list of kinds opens a form for each kind."""
    from core.operations.registry import OPERATIONS

    app = make(job=job_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        for place, kind in enumerate(OPERATIONS):
            await pilot.press("a")
            await pilot.pause()
            await pilot.press(*["down"] * place, "enter")
            await pilot.pause()
            assert not isinstance(app.screen, BoardScreen | OneOf), kind
            await pilot.press("escape")
            await pilot.pause()
            assert isinstance(app.screen, BoardScreen), kind


async def test_typing_an_absolute_path_replaces_the_suggested_folder(make: MakeApp, job_path: Path) -> None:
    """The question for a file suggests a folder. A path that starts with / replaces the folder."""
    app = make()
    async with app.run_test(size=(120, 36)) as pilot:
        await pilot.pause()
        board = app.screen
        assert isinstance(board, BoardScreen)
        from tui.board.job_actions import ask_for_file

        ask_for_file(board)
        await pilot.pause()
        await pilot.press(*str(job_path), "enter")
        await pilot.pause()
        assert app.context.job is not None and app.context.job.path == job_path


async def test_pressing_f2_or_esc_on_the_counter_returns_to_the_board(make: MakeApp, job_path: Path) -> None:
    """F2 asks once, and two Esc close the form without losing anything. On the board F2 does nothing."""
    app = make(job=job_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        for keys in (("f2", "1"), ("escape", "enter")):
            await press(pilot, "enter")
            await read_and_start(pilot)
            assert "Rough the base" in painted(app).splitlines()[0]
            # Esc cancels this question as any other.
            await press(pilot, keys[0], "escape")
            assert isinstance(app.screen, CounterScreen)
            await press(pilot, keys[0])
            assert isinstance(app.screen, YesNo)
            await press(pilot, keys[1])
            assert isinstance(app.screen, BoardScreen)
        await press(pilot, "f2")
        assert isinstance(app.screen, BoardScreen)
