"""A pattern shaded by depth like cut wood: in greys, by the density of dots, or in plain characters.

The depths are calculated groove by groove in short slices of time, so that no key waits.
"""

import math
import time
from collections.abc import Collection
from functools import lru_cache
from itertools import groupby
from typing import Literal, NamedTuple

from rich.color import Color
from rich.segment import Segment
from rich.style import Style
from textual.content import Content
from textual.strip import Strip

from core.operations.patterns.depth_map import DepthMap
from core.operations.patterns.picture import PatternPicture, PatternPlace
from core.run.cut_progress import PatternProgress
from tui.terminal import Dots, Terminal
from tui.themes import WOOD_LETTER, WOOD_LINE, WOOD_TONES
from tui.widgets.canvas import Canvas
from tui.widgets.pattern_drawing import WRONG, View, draw_cut
from tui.widgets.picture import painted_line

Manner = Literal["greys", "density", "characters"]
_RAMP = ":-=+*%#@"
"""Plain characters from the shallowest groove to the deepest. A dot is the blank's edge, or a cut to come."""
_LEAST_DENSITY = 0.2
_DITHER = ((0, 8, 2, 10), (12, 4, 14, 6), (3, 11, 1, 9), (15, 7, 13, 5))
"""The order in which dots are set as a groove deepens: an ordered dither (Bayer, 1973), which spreads them evenly."""
_LINE = -1
"""A value in place of a tone, for the outline of the blank or of a cut to come."""


def manner_of(terminal: Terminal) -> Manner:
    """Return how a terminal can show the shading: in greys, by the density of dots, or in plain characters."""
    if terminal.dots == "ascii":
        return "characters"
    return "density" if terminal.one_look else "greys"


class _Looks(NamedTuple):
    """The tones of the two dots of one cell. The tone of a dot outside the blank is None."""

    upper: int | None
    lower: int | None


class WoodShading:
    """The shading of one visible part of a pattern, for a widget of one size."""

    def __init__(self, picture: PatternPicture, view: View, columns: int, rows: int, terminal: Terminal) -> None:
        self.manner = manner_of(terminal)
        dots: Dots = "half" if self.manner == "greys" else terminal.dots
        self._picture, self.canvas = picture, Canvas(columns, rows, dots)
        view.show_on(self.canvas, picture)
        self._pending: list[int] = []
        self._added: set[int] = set()
        """The grooves that are shaded, by their index in the picture."""
        self._standing: PatternProgress | None = None
        self._deepest_mm = max((cut.depth_mm for cut in picture.cuts), default=0.0)
        self._map = self._empty_map()
        self._strips: dict[int, Strip] = {}
        self._ground: Color | None = None

    def follow(self, standing: PatternProgress | None) -> None:
        """Choose the grooves to shade: those cut so far in a run, or all grooves if `standing` is None.

        `work` then shades them.
        """
        wanted = _cut_already(self._picture, standing)
        if self._added - wanted:
            self._map, self._added = self._empty_map(), set()
        self._pending = sorted(wanted - self._added)
        self._standing = standing
        self._strips.clear()
        self._draw_lines(wanted)

    def _empty_map(self) -> DepthMap:
        grid = self.canvas.grid
        return DepthMap(grid, least_width_mm=min(grid.across, grid.down))

    @property
    def is_done(self) -> bool:
        """True if all grooves are shaded."""
        return not self._pending

    @property
    def open_grooves(self) -> int:
        """The number of grooves that are not shaded yet."""
        return len(self._pending)

    def work(self, seconds: float) -> None:
        """Shade grooves for about `seconds` [s], and at least one groove."""
        end = time.monotonic() + seconds
        self._strips.clear()
        while self._pending:
            number = self._pending.pop()
            self._map.add(self._picture.cuts[number])
            self._added.add(number)
            if time.monotonic() >= end:
                return

    def _draw_lines(self, cut_already: Collection[int]) -> None:
        """Draw the blank, its centre, the position numbers and the outlines of grooves that are not cut yet.

        `cut_already` contains the indexes of the grooves that are cut.
        """
        canvas = self.canvas.empty()
        if self._picture.rim_mm is not None and self.manner != "greys":
            canvas.circle(0, 0, self._picture.rim_mm, "reference", every=2)
        present = self._standing.present if self._standing else None
        # A position that is cut again is in the picture twice: first where it was planned.
        named = set[PatternPlace]()
        for number, cut in enumerate(self._picture.cuts):
            state = self._standing.states.get(cut.place) if self._standing else None
            if state is not None and number not in cut_already:
                draw_cut(canvas, cut.tip_line, state)
            is_named = cut.place == present if self._standing else cut.place.position == 1 and not cut.was_moved
            is_seen = canvas.holds(*cut.at_mm)
            if is_seen and is_named and cut.place not in named:
                canvas.label(*cut.at_mm, f"[{cut.place.position}]" if self._standing else "1", ink="mark")
                named.add(cut.place)
            elif is_seen and cut.was_moved and (self._standing is None or state is not None):
                canvas.label(*cut.at_mm, WRONG)
        if canvas.holds(0, 0):
            canvas.label(0, 0, "+", ink="reference")
        self.canvas = canvas

    # In dots or characters.

    def draw(self, canvas: Canvas) -> None:
        """Draw the shading on a canvas of the same size."""
        drawn = self.canvas.empty()
        drawn.redraw(self.canvas)
        (self._draw_density if self.manner == "density" else self._draw_characters)(drawn)
        canvas.redraw(drawn)

    def _draw_density(self, canvas: Canvas) -> None:
        # Of every sixteen dots, the number set depends on the depth: see _DITHER.
        a_mm = 16 * (1 - _LEAST_DENSITY) / self._deepest_mm if self._deepest_mm else 0.0
        for row, depths in enumerate(self._map.depths_mm):
            thresholds = [order + 0.5 - 16 * _LEAST_DENSITY for order in _DITHER[row % 4]]
            canvas.set_dots(
                (column, row)
                for column, depth_mm in enumerate(depths)
                if depth_mm and depth_mm * a_mm > thresholds[column % 4]
            )

    def _draw_characters(self, canvas: Canvas) -> None:
        a_mm = (len(_RAMP) - 1e-9) / self._deepest_mm if self._deepest_mm else 0.0
        for row, depths in enumerate(self._map.depths_mm):
            for column, depth_mm in enumerate(depths):
                if depth_mm and not canvas.letter(column, row):
                    canvas.write(column, row, _RAMP[int(depth_mm * a_mm)], "data")

    def contents(self, ground: Color) -> list[Content]:
        """Return all rows as styled text for a page. `ground` is the colour of the background."""
        if self.manner != "greys":
            canvas = self.canvas.empty()
            self.draw(canvas)
            return [painted_line(runs) for runs in canvas.lines()]
        rows = range(self.canvas.rows)
        return [Content.assemble(*map(_styled, self.strip(row, ground))) for row in rows]

    # In greys.

    def strip(self, row: int, ground: Color) -> Strip:
        """Return one row of cells in greys. Each cell contains two dots, one above the other.

        `ground` is the colour of the background.
        """
        if ground != self._ground:
            # The user switched to other colours.
            self._ground, self._strips = ground, {}
        if row not in self._strips:
            self._strips[row] = self._painted(row, ground)
        return self._strips[row]

    def _painted(self, row: int, ground: Color) -> Strip:
        upper, lower = self._tones(2 * row), self._tones(2 * row + 1)
        letters, segments, column = self.canvas.letters_in(row), list[Segment](), 0
        looks: list[_Looks | str] = [_Looks(*pair) for pair in zip(upper, lower, strict=True)]
        for at, letter in letters.items():
            looks[at] = letter
        for look, group in groupby(looks):
            count = len(list(group))
            if isinstance(look, str):
                segments.append(Segment(look * count, _letter_style(lower[column], ground)))
            else:
                character = " " if look.upper == look.lower else "▀"
                segments.append(Segment(character * count, _style(look.upper, look.lower, ground)))
            column += count
        return Strip(segments, self.canvas.columns)

    def _tones(self, row: int) -> list[int | None]:
        """Return the tone of every dot in a row of dots. The tone outside the blank is None."""
        depths = self._map.depths_mm[row]
        # Slightly less than the number of tones, so that the deepest groove gets the last tone.
        a_mm = (len(WOOD_TONES) - 1 - 1e-9) / self._deepest_mm if self._deepest_mm else 0.0
        land = self._land(row)
        tones = [1 + int(depth_mm * a_mm) if depth_mm else bare for depth_mm, bare in zip(depths, land, strict=True)]
        for column in self.canvas.dots_in(row):
            if not depths[column]:
                tones[column] = _LINE
        return tones

    def _land(self, row: int) -> list[int | None]:
        """Return the tones of a row of dots without grooves: 0 for uncut wood inside the blank, None outside."""
        grid, rim_mm = self._map.grid, self._picture.rim_mm
        if rim_mm is None:
            return [0] * grid.columns
        y_mm = grid.top - grid.down * row
        half_mm = math.sqrt(max(rim_mm**2 - y_mm**2, 0.0))
        first = min(max(math.ceil((-half_mm - grid.left) / grid.across), 0), grid.columns)
        end = max(min(math.floor((half_mm - grid.left) / grid.across) + 1, grid.columns), first)
        if abs(y_mm) > rim_mm:
            end = first
        return [None] * first + [0] * (end - first) + [None] * (grid.columns - end)


def _cut_already(picture: PatternPicture, standing: PatternProgress | None) -> set[int]:
    numbered = enumerate(picture.cuts)
    return {number for number, cut in numbered if standing is None or standing.states.get(cut.place) == "cut"}


_COLOURS = {number: Color.parse(tone) for number, tone in enumerate(WOOD_TONES)} | {_LINE: Color.parse(WOOD_LINE)}
_LETTER = Color.parse(WOOD_LETTER)


def _styled(segment: Segment) -> tuple[str, str]:
    """Return the text of a segment, and its style in Textual's notation."""
    style = segment.style or Style.null()
    colours = [colour.get_truecolor().hex for colour in (style.color, style.bgcolor) if colour is not None]
    return segment.text, f"{'bold ' if style.bold else ''}{' on '.join(colours)}"


@lru_cache(maxsize=512)
def _style(upper: int | None, lower: int | None, ground: Color) -> Style:
    return Style(color=_colour(upper, ground), bgcolor=_colour(lower, ground))


def _letter_style(tone: int | None, ground: Color) -> Style:
    # A letter is painted on the colour of uncut wood, so that it is readable everywhere.
    return Style(color=_LETTER, bgcolor=_colour(None if tone is None else 0, ground), bold=True)


def _colour(tone: int | None, ground: Color) -> Color:
    return ground if tone is None else _COLOURS[tone]
