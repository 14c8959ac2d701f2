"""Keys that come faster than screens open each reach the same screen as slow keys, and none is lost."""

import asyncio
from contextlib import nullcontext
from pathlib import Path
from typing import ClassVar

import pytest
from textual.binding import Binding, BindingType
from textual.events import Key

from core.values.quantities import length_mm
from tests.conftest import MakeApp
from tests.trials.pairs import Gap, KnownKeys, Tried, fault
from tui.__main__ import main
from tui.app import HalfnutApp
from tui.faults import FILE_NAME
from tui.widgets.base_screen import BaseScreen
from tui.widgets.question import OneOf, Typed


class AskingTwice(BaseScreen[None]):
    """A screen that asks two questions, one after the other, when F5 is pressed."""

    AUTO_FOCUS = ""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f5", "ask", "Ask"),
        Binding("1", "count", "Count"),
        Binding("r", "count", "Count"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.answers: list[object] = []
        self.counted = 0

    def action_ask(self) -> None:
        """Ask both questions."""
        self.context.ask_in_turn(self._ask())

    async def _ask(self) -> None:
        self.answers.append(await self.app.push_screen_wait(OneOf("Which?", ["this", "that"])))
        self.answers.append(await self.app.push_screen_wait(Typed("How long?", length_mm, unit="mm")))

    def action_count(self) -> None:
        """Count a pass."""
        self.counted += 1


def _send(app: HalfnutApp, *keys: str) -> None:
    characters = {"full_stop": "."}
    for key in keys:
        app.post_message(Key(key, characters.get(key, key if len(key) == 1 else None)))


async def test_keys_typed_before_a_question_opens_reach_that_question(make: MakeApp) -> None:
    """The key 1 answers the first question, and 1.20, typed in one burst, the second.

    No key reaches the screen below.
    """
    app = make(opening=AskingTwice)
    async with app.run_test(size=(80, 24)) as pilot:
        _send(app, "f5", "1", "1", "full_stop", "2", "0", "enter", "R")
        for _ in range(6):
            await pilot.pause()
        asking = app.screen
        assert isinstance(asking, AskingTwice)
        assert (asking.answers, asking.counted) == ([0, 1.2], 1)


async def test_key_presses_still_waiting_are_dropped_when_the_program_ends(make: MakeApp) -> None:
    """A thousand waiting keys do not delay a requested end."""
    app = make(opening=AskingTwice)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        _send(app, *["1"] * 1000)
        await asyncio.sleep(0)
        app.end(143)
        asking = app.screen
        assert isinstance(asking, AskingTwice)
    assert (asking.counted <= 1, app.return_code) == (True, 143)


async def test_an_error_in_a_closing_screen_does_not_change_the_exit_status(make: MakeApp) -> None:
    """A program that a signal has ended returns the signal's exit status. The error is saved in the fault file."""
    app = make(opening=AskingTwice)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        app.screen.call_later(app.screen.query_one, "#gone")
        app.end(143)
    assert app.return_code == 143
    assert "#gone" in (app.context.paths.data / FILE_NAME).read_text()


@pytest.mark.parametrize("ending_by_signal", [True, False])
def test_an_error_after_a_signal_does_not_change_the_exit_status(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, ending_by_signal: bool
) -> None:
    """After a signal, the error is saved in the fault file. Without a signal, the program raises it."""

    def run(app: HalfnutApp) -> None:
        app.ending_by_signal, app._return_code = ending_by_signal, 143
        raise RuntimeError("taken down")

    monkeypatch.setattr(HalfnutApp, "run", run)
    monkeypatch.setattr("tui.terminal.complaint", lambda *_: "")
    with nullcontext() if ending_by_signal else pytest.raises(RuntimeError):
        assert main(["--data", str(tmp_path)]) == 143
    assert (tmp_path / FILE_NAME).exists() == ending_by_signal


@pytest.mark.parametrize(
    ("place", "keys"),
    [
        ("the counter", ("escape", "f3", "enter")),
        ("a run's page", ("f2", "escape", "enter")),
        ("a run's page", ("g", "f2", "enter")),
        ("the board", ("enter", "f3", "1")),
        # F3 on a page of the history goes one page back; Enter opens it again.
        ("a run's page", ("f3", "enter")),
    ],
)
def test_keys_pressed_quickly_open_the_same_screens_as_keys_pressed_slowly(place: str, keys: tuple[str, ...]) -> None:
    """Keys sent in one burst open the same screens as single keys. A question stays on top of the screen that asked."""
    assert fault(Tried(place, keys, Gap()), KnownKeys()) == ""
