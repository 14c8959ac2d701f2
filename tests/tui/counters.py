"""Counters opened and pressed in tests, and what the logbook on disk holds of them."""

from typing import Any

from core.logbook import Logbook
from core.session import replay
from core.state import State
from tui.screens.base import BaseScreen


class Opening(BaseScreen[None]):
    """A screen to open counters from."""

    AUTO_FOCUS = ""


async def press(pilot: Any, *keys: str) -> None:
    """Press keys, each after the one before has been dealt with."""
    for key in keys:
        await pilot.press(key)
        await pilot.pause()


def logged(app: Any) -> State:
    """Return the newest run as the logbook on disk holds it."""
    with Logbook.open(app.paths.data, read_only=True) as logbook:
        run = logbook.runs()[0]
        return replay(logbook.events(run.uid), run.uid)
