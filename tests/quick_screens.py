"""Lets a program on a test screen take as long as its work does, by five changes to Textual.

Import this before anything of Textual. Waits between keys are short, no widget is asked whether it has done its
work (the loop knows), a style sheet is read once for all programs, frames are no longer apart than a millisecond,
and a frame is worked out only when somebody looks at it (`tests.tui.painted`), which `every_frame` puts right for
tests that are about painting.
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
    """Wait until the program has nothing to do. A pilot's own wait takes 20 ms or more, three times for each key.

    There is nothing to do if no callback is due in the loop, and no thread has used the processor twice in a row.
    """
    due = asyncio.get_running_loop()._ready  # type: ignore[attr-defined]
    quiet, until = 0, time.monotonic() + max_sleep
    while quiet < _QUIET_SPELLS and time.monotonic() < until:
        before = time.process_time()
        await asyncio.sleep(_QUIET_S)
        quiet = quiet + 1 if not due and time.process_time() - before < _IDLE_S else 0


async def _all_handled(pilot: textual.pilot.Pilot[Any], timeout: float = 30.0) -> bool:
    """Wait until every message has been handled. A pilot sends one more to each of a form's hundred widgets.

    Whoever has a message to handle is due in the loop, so nothing is left once nobody is.
    """
    due = asyncio.get_running_loop()._ready  # type: ignore[attr-defined]
    until = time.monotonic() + timeout
    await asyncio.sleep(0)
    while due and time.monotonic() < until:
        await asyncio.sleep(0)
    return not due


def _read_once(sheet: Stylesheet, css: str, *place: Any, **more: Any) -> list[RuleSet]:
    """Return the rules of a style text. All programs on test screens read the same sixty texts."""
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
    """Paint every frame, as the program does for a terminal."""
    with monkeypatch.context() as patched:
        patched.setattr(Compositor, "render_update", _paint)
        yield
