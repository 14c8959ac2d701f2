"""A hand at set-up: opens it as the board does, and answers by keys."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from textual.events import Paste
from textual.pilot import Pilot

from tests.conftest import MakeApp
from tests.tui.made_up import Under
from tui.screens.setup import SetupScreen
from tui.screens.setup_chapter import ChapterScreen
from tui.widgets.line_list import LineList


@asynccontextmanager
async def set_up(make: MakeApp, *, size: tuple[int, int] = (80, 24), **more: Any) -> AsyncIterator[Pilot[None]]:
    """Open set-up as the board does."""
    app = make(opening=Under, **more)
    async with app.run_test(size=size) as pilot:
        app.push_screen(SetupScreen())
        await pilot.pause()
        yield pilot


async def keys(pilot: Pilot[None], *pressed: str) -> None:
    """Press keys one by one; "=text" puts a text into the field as a terminal pastes it."""
    for key in pressed:
        if key.startswith("="):
            pilot.app.post_message(Paste(key[1:]))
            await pilot.pause()
        else:
            await pilot.press(key)
    await pilot.pause()


async def chapter(pilot: Pilot[None], title: str, *pressed: str) -> None:
    """Open a chapter from the list and answer it; leave it where the keys have not."""
    screen = pilot.app.screen
    assert isinstance(screen, SetupScreen)
    screen.query_one("#chapters", LineList).cursor = [found.title for found in screen._chapters].index(title)
    await keys(pilot, "enter", *pressed)
    if isinstance(pilot.app.screen, ChapterScreen):
        await keys(pilot, "f8")
    assert isinstance(pilot.app.screen, SetupScreen)
