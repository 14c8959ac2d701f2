"""An unexpected error while the user types becomes a sentence beside the field, and the program continues."""

import ast
from pathlib import Path

import pytest

from core.values.files import short_path
from tests.conftest import MakeApp
from tests.tui.made_up import press
from tests.tui.painted import painted
from tui.board.job_actions import screen_for
from tui.convert.screen import ConversionScreen
from tui.faults import FILE_NAME
from tui.operation.form import OperationForm
from tui.operation.thread import ThreadScreen
from tui.paths import Paths
from tui.widgets.question import Typed

pytestmark = pytest.mark.usefixtures("every_frame")
ROOT = Path(__file__).parents[2]


class UnforeseenError(Exception):
    """An error that no part of the program expects."""


def fails(*_: object, **__: object) -> None:
    """Raise an error, like a formula given a number that nobody has tried."""
    raise UnforeseenError("of [bold]7[/bold]")


async def test_a_thread_pitch_that_no_lathe_can_cut_is_refused_beside_its_field(make: MakeApp, paths: Paths) -> None:
    """Every key press gets an answer, and the program continues."""
    app = make(opening=ThreadScreen)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, *"M10x0.03")
        assert "a pitch of 0.03 mm on 10 mm" in " ".join(painted(app).split())
        await press(pilot, "backspace", "backspace", *"5")
        assert "10 passes" in painted(app) or "passes. The last" in painted(app)
    assert not (paths.data / FILE_NAME).exists()


@pytest.mark.parametrize(
    "where", ["core.operations.threads.planning.thread_cautions", "tui.operation.thread.ThreadScreen.figures"]
)
async def test_an_unexpected_program_error_is_shown_beside_the_field_that_was_changed(
    make: MakeApp, paths: Paths, monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    """The error, in core or in a screen, is also saved once in the fault file. Correct text removes the message."""
    app = make(opening=ThreadScreen)
    async with app.run_test(size=(80, 24)) as pilot:
        with monkeypatch.context() as broken:
            broken.setattr(where, fails)
            await press(pilot, *"M10")
            screen = app.screen
            assert isinstance(screen, ThreadScreen) and not screen.ready
            assert "This value causes an error in the program" in painted(app)
            error = screen.query_one(OperationForm).entries["thread"][1].error
            assert error.startswith("This value causes an error in the program. Enter another value.")
            assert short_path(paths.data / FILE_NAME) in error
            await press(pilot, "f5", "f4")
            assert app.screen is screen
        await press(pilot, "x", "1")
        assert screen.ready and "fails" not in painted(app)
    kept = (paths.data / FILE_NAME).read_text()
    assert "ThreadScreen: {'thread': 'M10', " in kept and "UnforeseenError: of [bold]7[/bold]" in kept
    assert kept.count("Traceback") == len(["M1", "M10"])


async def test_an_unexpected_program_error_without_a_changed_field_is_shown_below_the_form(
    make: MakeApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A form that opens with values has no changed field.

    If the fault file cannot be written, the message says so.
    """
    monkeypatch.setattr("core.operations.size_cut.last_mark_note", fails)
    monkeypatch.setattr("tui.faults.write_text", lambda path, text: path.joinpath("none").write_text(text))
    table = {"from": "30 mm", "to": "26 mm", "cut": "0.5 mm"}
    app = make(opening=lambda: screen_for("turn", table))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        words = " ".join(painted(app).split())
        assert (
            "This value causes an error in the program" in words
            and "The details cannot be saved: No such file" in words
        )
        assert app.is_running


async def test_an_unexpected_program_error_in_a_question_is_shown_beside_its_field(make: MakeApp, paths: Paths) -> None:
    """The question does not accept the value that caused the error."""
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await app.push_screen(Typed("How deep?", lambda text: 1 // len(text[2:]), label="Depth"))
        await press(pilot, "1", "2", "enter")
        assert "This value causes an error in the program" in " ".join(painted(app).split())
        await press(pilot, "3", "enter")
        assert "How deep?" not in painted(app)
    assert "ZeroDivisionError" in (paths.data / FILE_NAME).read_text()


async def test_an_unexpected_program_error_in_a_conversion_is_shown_on_its_page(
    make: MakeApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tui.convert.screen.convert", fails)
    app = make(opening=ConversionScreen)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "5")
        assert "This value causes an error in the program" in " ".join(painted(app).split())


def test_only_one_module_catches_every_exception() -> None:
    """A second general `except` could hide errors. The only one has a comment with its reason."""
    paths = (path for folder in ("core", "tui") for path in (ROOT / folder).rglob("*.py"))
    assert [path.name for path in paths if any(map(_keeps_any_fault, ast.walk(ast.parse(path.read_text()))))] == [
        "faults.py"
    ]


def _keeps_any_fault(node: ast.AST) -> bool:
    """Return True if a handler catches every exception and does not raise it again."""
    if not isinstance(node, ast.ExceptHandler):
        return False
    caught = "BaseException" if node.type is None else ast.unparse(node.type)
    raises = any(isinstance(inner, ast.Raise) for inner in ast.walk(node))
    return not raises and any(name in caught for name in ("Exception", "BaseException"))
