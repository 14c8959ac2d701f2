"""Opens counters and presses their keys in tests, and reads what the logbook on disk has of them."""

import asyncio
from typing import Any

from core.events.replay import replay
from core.events.state import State
from core.inputs import input_as_data
from core.logbook.logbook import Logbook
from tui.counter.screen import CounterScreen
from tui.runs import open_run
from tui.widgets.base_screen import BaseScreen


class Opening(BaseScreen[None]):
    """A screen from which counters are opened."""

    AUTO_FOCUS = ""


async def press(pilot: Any, *keys: str) -> None:
    """Press keys, each after the key before has been handled."""
    for key in keys:
        await pilot.press(key)
        await pilot.pause()
        # A digit may wait until it is known whether an instrument types a number.
        for _ in range(100):
            if pilot.app.key_queue.is_idle:
                break
            await asyncio.sleep(0.01)
        await pilot.pause()


async def read_and_start(pilot: Any) -> None:
    """Close every page that is shown before a run, and start the run."""
    await pilot.pause()
    # On a very small screen the cautions take many pages.
    for _ in range(60):
        if isinstance(pilot.app.screen, CounterScreen):
            return
        await press(pilot, "1")
    raise AssertionError("no counter has opened")


async def at_first_measurement(pilot: Any, operation: int) -> CounterScreen:
    """Open the counter of an operation (numbered from 0), and do every step up to its first measurement."""
    app = pilot.app
    open_run(app.context, app.context.job.operations[operation])
    await read_and_start(pilot)
    screen = app.screen
    assert isinstance(screen, CounterScreen)
    while screen.state.cursor is not None and screen.state.cursor.action != "measure":
        screen.run.done()
    screen.paint()
    await pilot.pause()
    return screen


def entered(app: Any) -> tuple[str, dict[str, Any]]:
    """Return the cause and the input of the last time the run was planned again, as logged."""
    return input_as_data(logged(app).revisions[-1].entered)


def logged(app: Any) -> State:
    """Return the newest run as the logbook on disk holds it."""
    with Logbook.open(app.context.paths.data, read_only=True) as logbook:
        run = logbook.runs()[0]
        return replay(logbook.events(run.uid), run.uid)
