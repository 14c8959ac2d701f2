"""Opens counters and presses their keys in tests, and reads the resulting events from the logbook on disk."""

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
    """A screen on top of which a test opens counters."""

    AUTO_FOCUS = ""


async def press(pilot: Any, *keys: str) -> None:
    """Press keys one after another. Each key is handled before the next one is pressed."""
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
    """Close every page that comes before a run, then start the run."""
    await pilot.pause()
    # On a very small screen the cautions take many pages.
    for _ in range(60):
        if isinstance(pilot.app.screen, CounterScreen):
            return
        await press(pilot, "1")
    raise AssertionError("no counter has opened")


async def at_first_measurement(pilot: Any, operation: int) -> CounterScreen:
    """Open the counter of an operation (numbered from 0), and do every step before its first measurement."""
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
    """Return the reason and the entries of the latest logged change of the plan."""
    return input_as_data(logged(app).revisions[-1].entered)


def logged(app: Any) -> State:
    """Return the state of the newest run, read from the logbook on disk."""
    with Logbook.open(app.context.paths.data, read_only=True) as logbook:
        run = logbook.runs()[0]
        return replay(logbook.events(run.uid), run.uid)
