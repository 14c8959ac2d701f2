"""Measures the shading of a pattern: the whole picture, one slice of the work, and one more cut position.

The floor for the whole picture is the time in which an empty Textual app paints a screen of the same size. A frame
lasts 1/30 s. Shading is done in slices after the lines have been painted, and a key waits for at most one slice.
"""

import asyncio
import math
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from rich.color import Color
from textual.app import App, ComposeResult
from textual.widgets import Static

from core.lathe.lathe import Cutter
from core.operations.patterns.picture import CutPicture, PatternPicture, PatternPlace
from core.run.cut_progress import PatternProgress
from tests.bench.measuring import BenchRow
from tui.terminal import Terminal
from tui.widgets.pattern_drawing import WHOLE
from tui.widgets.wood_shading import WoodShading

FRAME_MS = 1000 / 30
SLICE_S = 0.008
TIMES = 9
GROUND = Color.parse("#ffffff")
_CUTTER = Cutter(name="wide", tip_angle_deg=120)
_DEPTH_MM = 0.6


def rows(folder: Path, environment: Mapping[str, str]) -> Iterator[BenchRow]:
    """Yield the measured rows of shading."""
    many = rings(1200)
    yield _shaded("36 circles shaded at 80x24", rings(36), (80, 24), at_most=3)
    yield _shaded("1,200 grooves shaded at 200x60", many, (200, 60), at_most=30)
    yield _slice(many)
    yield _one_more(many)


def rings(count: int) -> PatternPicture:
    """Return a picture of `count` circles of 6 mm, in rings of at most 60, on a blank of 100 mm."""
    cuts, ring = [], 60
    for number in range(count):
        offset_mm = 40 - 1.6 * (number // ring)
        angle = 2 * math.pi * (number % ring) / min(ring, count)
        place = PatternPlace(1 + number // ring, 1 + number % ring)
        at = offset_mm * math.cos(angle), offset_mm * math.sin(angle)
        half_mm = _CUTTER.groove_width_mm(_DEPTH_MM) / 2
        cuts.append(CutPicture(place, "circle", at, half_mm, radius_mm=6.0, cutter=_CUTTER, depth_mm=_DEPTH_MM))
    return PatternPicture(50.0, tuple(cuts), 50.0)


def whole(picture: PatternPicture, size: tuple[int, int]) -> None:
    """Shade and paint a whole picture on a screen of this size."""
    shading = WoodShading(picture, WHOLE, *size, Terminal())
    shading.follow(None)
    while not shading.is_done:
        shading.work(SLICE_S)
    for row in range(size[1]):
        shading.strip(row, GROUND)


class TextApp(App[None]):
    """An app with one text as large as the screen, which is the floor."""

    AUTO_FOCUS = ""

    def compose(self) -> ComposeResult:
        """Yield the text."""
        yield Static(id="text")


async def paints_ms(size: tuple[int, int], shown: Callable[[], object]) -> tuple[list[float], list[float]]:
    """Return the times for paints of an empty app and for calls of `shown`, measured in turn [ms].

    A paint puts a new text into every cell, arranges it and makes the characters for the terminal. Waits are not
    included.
    """
    painted, ours = list[float](), list[float]()
    columns, rows = size
    async with TextApp().run_test(size=size) as pilot:
        text, screen = pilot.app.query_one(Static), pilot.app.screen
        for number in range(TIMES + 1):
            begun = time.perf_counter()
            text.update("\n".join(chr(65 + (number + row) % 26) * columns for row in range(rows)))
            screen._refresh_layout()
            update = screen._compositor.render_update(full=True)
            assert update is not None and update.render_segments(pilot.app.console)
            middle = time.perf_counter()
            shown()
            end = time.perf_counter()
            if number:
                painted.append((middle - begun) * 1000)
                ours.append((end - middle) * 1000)
    return painted, ours


def _shaded(what: str, picture: PatternPicture, size: tuple[int, int], *, at_most: float) -> BenchRow:
    columns, rows = size
    painted, ours = asyncio.run(paints_ms(size, lambda: whole(picture, (columns, rows - 4))))
    against = f"the paint of an empty app of this size; the least of {TIMES} of both"
    return BenchRow(what=what, against=against, taken=min(ours), floor=min(painted), at_most=at_most)


def _slice(picture: PatternPicture) -> BenchRow:
    """Return the row for the time that one slice of shading keeps a key waiting."""
    shading = WoodShading(picture, WHOLE, 200, 56, Terminal())
    shading.follow(None)
    taken = []
    while not shading.is_done:
        begun = time.perf_counter()
        shading.work(SLICE_S)
        taken.append((time.perf_counter() - begun) * 1000)
    middle = sorted(taken)[len(taken) // 2]
    return BenchRow(
        what="a slice of this shading", against="half a frame; the median", taken=middle, floor=FRAME_MS / 2, at_most=1
    )


def _one_more(picture: PatternPicture) -> BenchRow:
    """Return the row for shading and painting one more position of a run."""
    shading = WoodShading(picture, WHOLE, 200, 56, Terminal())
    places = [cut.place for cut in picture.cuts]
    states = dict.fromkeys(places, "cut") | {places[-1]: "coming"}
    before, after = PatternProgress(states), PatternProgress(dict.fromkeys(places, "cut"))  # type: ignore[arg-type]

    def one_more() -> None:
        shading.follow(after)
        shading.work(SLICE_S)
        for row in range(56):
            shading.strip(row, GROUND)

    times = []
    for _ in range(3):
        shading.follow(before)
        while not shading.is_done:
            shading.work(1.0)
        begun = time.perf_counter()
        one_more()
        times.append((time.perf_counter() - begun) * 1000)
    against = f"two frames; the least of {len(times)}"
    return BenchRow(
        what="one more of 1,200 positions, shaded", against=against, taken=min(times), floor=2 * FRAME_MS, at_most=1
    )
