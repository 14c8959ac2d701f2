"""Screens of operations opened as the board does it, and typed into as a hand or a paste does."""

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
    """What lies under the screen of an operation, as the board does."""

    AUTO_FOCUS = ""


@asynccontextmanager
async def opened(
    make: MakeApp, screen: OperationScreen, *, size: tuple[int, int] = (80, 24), **more: Any
) -> AsyncIterator[Opened]:
    """Open the screen of an operation as the board does."""
    app = make(opening=Under, **more)
    async with app.run_test(size=size) as pilot:
        app.push_screen(screen)
        await pilot.pause()
        yield pilot, screen


async def press(pilot: Pilot[None], *keys: str) -> None:
    """Press keys, and let all that comes of them happen."""
    await pilot.press(*keys)
    await pilot.pause()
    await pilot.pause()


async def fill(pilot: Pilot[None], key: str, text: str) -> None:
    """Put a text into a field in the place of what stands there, as a terminal pastes it."""
    field = pilot.app.screen.query_one(OperationForm).entries[key][1]
    field.focus()
    if field.text or not text:
        await press(pilot, "ctrl+u")
    if text:
        await paste(pilot, text)


async def paste(pilot: Pilot[None], text: str) -> None:
    """Put a text where the cursor is, as a terminal pastes it: one painting, not one for each key."""
    pilot.app.post_message(Paste(text))
    await pilot.pause()
    await pilot.pause()


def error_of(screen: OperationScreen, key: str) -> str:
    """Return what is said beside a field."""
    return screen.query_one(OperationForm).entries[key][1].error


def wrong(screen: OperationScreen) -> set[str]:
    """Return the keys of the fields in use beside which something is said to be wrong or missing."""
    entries = screen.query_one(OperationForm).entries
    return {key for key, (_, field) in entries.items() if field.display and field.error}


def said(app: App[None]) -> bool:
    """Tell whether a sentence stands above the keys of the screen on top."""
    return bool(app.screen.query_one(MessageLine).sentence)


class Begun(list[PlanInput]):
    """What runs would have been begun from, in place of beginning them."""

    def begin(self, app: object, plan_input: PlanInput, plan: Plan) -> None:
        """Take note of one."""
        self.append(plan_input)
