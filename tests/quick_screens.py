"""Makes tests of screens fast by five changes to Textual.

Import this module before any module of Textual. Waits between keys are short. The event loop, instead of each widget,
tells whether all work is done. Each style sheet is read once for all programs. Frames are at most 1 ms apart. A frame
is painted only when a test reads the screen (`tests.tui.painted`). Tests about painting use the fixture `every_frame`.
"""

import asyncio
import os
import time
from collections.abc import Iterator
from typing import Any

import pytest

os.environ["TEXTUAL_FPS"] = "1000"

import textual.app
import textual.pilot
from textual._compositor import Compositor
from textual.css.model import RuleSet
from textual.css.stylesheet import Stylesheet

_QUIET_S, _IDLE_S, _QUIET_SPELLS = 0.0012, 0.0003, 2


async def _quick_wait(min_sleep: float = 0.0, max_sleep: float = 1.0) -> None:
    """Wait until the program has nothing to do. Textual's own wait takes at least 20 ms, three times for each key.

    The program has nothing to do if no callback is due in the event loop and no thread has used the processor in two
    checks in a row.
    """
    due = asyncio.get_running_loop()._ready  # type: ignore[attr-defined]
    quiet, until = 0, time.monotonic() + max_sleep
    while quiet < _QUIET_SPELLS and time.monotonic() < until:
        before = time.process_time()
        await asyncio.sleep(_QUIET_S)
        quiet = quiet + 1 if not due and time.process_time() - before < _IDLE_S else 0


async def _all_handled(pilot: textual.pilot.Pilot[Any], timeout: float = 30.0) -> bool:
    """Wait until every message is handled.

    Textual would send one more message to each widget. That is not needed: a widget with a message to handle has a
    callback due in the event loop.
    """
    due = asyncio.get_running_loop()._ready  # type: ignore[attr-defined]
    until = time.monotonic() + timeout
    await asyncio.sleep(0)
    while due and time.monotonic() < until:
        await asyncio.sleep(0)
    return not due


def _read_once(sheet: Stylesheet, css: str, *place: Any, **more: Any) -> list[RuleSet]:
    """Return the rules of a style sheet.

    The rules are kept, because all programs in tests use the same sixty sheets.
    """
    look = _LOOKS.setdefault(frozenset(sheet._variables.items()), len(_LOOKS))
    key = (look, css, place, tuple(more.items()))
    if key not in _RULES:
        _RULES[key] = _read_rules(sheet, css, *place, **more)
    return _RULES[key]


_LOOKS: dict[frozenset[tuple[str, str]], int] = {}
_RULES: dict[tuple[Any, ...], list[RuleSet]] = {}
_read_rules = Stylesheet._parse_rules


def _paint_nothing(
    compositor: Compositor, full: bool = False, screen_stack: Any = None, simplify: bool = False
) -> None:
    compositor._dirty_regions.clear()


_paint = Compositor.render_update
textual.app.wait_for_idle = textual.pilot.wait_for_idle = _quick_wait
textual.pilot.Pilot._wait_for_screen = _all_handled  # type: ignore[method-assign]
Stylesheet._parse_rules = _read_once  # type: ignore[method-assign]
Compositor.render_update = _paint_nothing  # type: ignore[method-assign]


@pytest.fixture
def every_frame(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Paint every frame, as for a real terminal."""
    with monkeypatch.context() as patched:
        patched.setattr(Compositor, "render_update", _paint)
        yield
