"""Opens operation forms as the board does, and types or pastes into them."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from textual.app import App
from textual.events import Paste
from textual.pilot import Pilot

from core.operations.registry import PlanInput
from core.plan import Plan
from tests.conftest import MakeApp
from tui.operation.form import OperationForm
from tui.operation.screen import OperationScreen
from tui.widgets.base_screen import BaseScreen
from tui.widgets.message_line import MessageLine

Opened = tuple[Pilot[None], OperationScreen]


class Under(BaseScreen[None]):
    """The screen below an operation form. It replaces the board."""

    AUTO_FOCUS = ""


@asynccontextmanager
async def opened(
    make: MakeApp, screen: OperationScreen, *, size: tuple[int, int] = (80, 24), **more: Any
) -> AsyncIterator[Opened]:
    """Open an operation form as the board does."""
    app = make(opening=Under, **more)
    async with app.run_test(size=size) as pilot:
        app.push_screen(screen)
        await pilot.pause()
        yield pilot, screen


async def press(pilot: Pilot[None], *keys: str) -> None:
    """Press keys, and wait until all their effects are finished."""
    await pilot.press(*keys)
    await pilot.pause()
    await pilot.pause()


async def fill(pilot: Pilot[None], key: str, text: str) -> None:
    """Replace the text in a field by pasting `text`."""
    field = pilot.app.screen.query_one(OperationForm).entries[key][1]
    field.focus()
    if field.text or not text:
        await press(pilot, "ctrl+u")
    if text:
        await paste(pilot, text)


async def paste(pilot: Pilot[None], text: str) -> None:
    """Paste a text at the cursor. A paste is painted only once."""
    pilot.app.post_message(Paste(text))
    await pilot.pause()
    await pilot.pause()


def error_of(screen: OperationScreen, key: str) -> str:
    """Return the message beside a field."""
    return screen.query_one(OperationForm).entries[key][1].error


def wrong(screen: OperationScreen) -> set[str]:
    """Return the keys of the visible fields that show a message."""
    entries = screen.query_one(OperationForm).entries
    return {key for key, (_, field) in entries.items() if field.display and field.error}


def said(app: App[None]) -> bool:
    """Return True if the top screen shows a sentence above its keys."""
    return bool(app.screen.query_one(MessageLine).sentence)


class Begun(list[PlanInput]):
    """Records the inputs of started runs without starting them."""

    def begin(self, app: object, plan_input: PlanInput, plan: Plan) -> None:
        """Record the input of one run."""
        self.append(plan_input)
