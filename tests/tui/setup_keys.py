"""Opens set-up in tests as the board does, and answers its questions by keys."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from textual.events import Key, Paste
from textual.pilot import Pilot

from tests.conftest import MakeApp
from tests.tui.made_up import Under
from tui.setup.chapter import ChapterScreen
from tui.setup.screen import SetupScreen
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
    """Press keys one by one. A key such as "=text" pastes the text after "=" into the field."""
    for key in pressed:
        await _send(pilot, Paste(key[1:]) if key.startswith("=") else Key(key, key if len(key) == 1 else None))
    await pilot.pause()


async def _send(pilot: Pilot[None], event: Key | Paste) -> None:
    """Send an event and wait until app and screen have handled it.

    Textual's pilot would wait at each key until the processor is idle, which takes longer.
    """
    pilot.app.post_message(event)
    # Once for the screen to get it, once for the app to do what the screen asks for, such as another screen.
    for _ in range(2):
        handed_on = asyncio.Event()
        pilot.app.call_later(handed_on.set)
        await handed_on.wait()
        await pilot.pause(0)


async def chapter(pilot: Pilot[None], name: str, *pressed: str) -> None:
    """Open a chapter of set-up, press keys in it, and close it if the keys have not closed it.

    `name` is the chapter's key in the lathe file, such as "dial.compound", or "" for the lathe itself.
    """
    point_at(pilot, name)
    await keys(pilot, "enter", *pressed)
    if isinstance(pilot.app.screen, ChapterScreen):
        await keys(pilot, "f8")
    assert isinstance(pilot.app.screen, SetupScreen)


def point_at(pilot: Pilot[None], name: str) -> None:
    """Select the chapter with this key of the lathe file."""
    screen = pilot.app.screen
    assert isinstance(screen, SetupScreen)
    lines = screen.query_one("#chapters", LineList)
    for index in range(lines.count):
        lines.cursor = index
        if screen.chapter is not None and screen.chapter.name == name:
            return
    raise AssertionError(f"no chapter is called {name!r}")


def asked(pilot: Pilot[None]) -> str:
    """Return the key of the lathe file that the present question is about; "" at the end of a chapter."""
    screen = pilot.app.screen
    assert isinstance(screen, ChapterScreen)
    return screen.question.key if screen.question is not None else ""


def told(pilot: Pilot[None]) -> str:
    """Return the text in the field of the present question, with its unit."""
    screen = pilot.app.screen
    assert isinstance(screen, ChapterScreen)
    return screen.stated
