"""A drawing made of dots, which are smaller than a character unless the terminal can show only ASCII.

Crossing curves never erase each other. The drawing is true to scale: `show` gives both axes the same scale for any
shape of character cell.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from copy import copy
from functools import lru_cache
from itertools import compress
from typing import Literal, NamedTuple

from core.drawing import Grid
from tui.terminal import Dots

Ink = Literal["data", "reference", "mark", "label", "cut"]
INKS: tuple[Ink, ...] = ("data", "reference", "mark", "label", "cut")
Anchor = Literal["left", "middle", "right"]

CELL_ASPECT = 2.0
"""The height of a character cell divided by its width. It is exactly 2 for 8x16 and 16x32 console fonts."""

_DOTS_PER_CELL: dict[Dots, tuple[int, int]] = {
    "braille": (2, 4),
    "quadrant": (2, 2),
    "half": (1, 2),
    "ascii": (1, 1),
}
# Unicode braille patterns number the left column from the top, then the right column, and the last row at the end.
_BRAILLE_BITS = (1, 8, 2, 16, 4, 32, 64, 128)
_QUADRANTS = " ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█"
_HALVES = " ▀▄█"
_MOST_SAMPLES = 4096
_ASCII_INKS = {"data": "*", "reference": ".", "mark": "#", "label": "+", "cut": "="}


Stamp = tuple[tuple[int, int], ...]
"""Cells and their dots, stored for drawing them again on canvases of equal size."""


class Run(NamedTuple):
    """Neighbouring characters of a row that are drawn in the same ink."""

    text: str
    ink: Ink


class Canvas:
    """A drawing in a grid of character cells. Positions are in the caller's own units (x to the right, y upwards)."""

    def __init__(self, columns: int, rows: int, dots: Dots, cell_aspect: float = CELL_ASPECT) -> None:
        self.columns, self.rows, self.dots = columns, rows, dots
        across, down = _DOTS_PER_CELL[dots]
        self.width, self.height = columns * across, rows * down
        self._dot_aspect = cell_aspect * across / down
        bits = _BRAILLE_BITS if dots == "braille" else tuple(1 << bit for bit in range(across * down))
        self._cell_across = [i // across for i in range(self.width)]
        self._cell_down = [j // down * columns for j in range(self.height)]
        self._bit = [[bits[j * across + i % across] for i in range(self.width)] for j in range(down)]
        self._down = down
        self._cells = bytearray(columns * rows)
        self._inks = bytearray(columns * rows)
        self._letters: dict[int, str] = {}
        self._scale, self._left, self._top = 1.0, 0.0, 0.0

    def show(self, x_min: float, x_max: float, y_min: float, y_max: float) -> None:
        """Choose the part of the plane that the canvas shows, in the caller's units.

        That part is drawn centred, true to scale and as large as possible.
        """
        across = max(x_max - x_min, 1e-9)
        up = max(y_max - y_min, 1e-9)
        # A single dot still needs a size. Otherwise nothing could be shown.
        wide, high = max(self.width - 1, 0.5), max(self.height - 1, 0.5)
        self._scale = min(wide / across, high * self._dot_aspect / up)
        self._left = (x_min + x_max) / 2 - (self.width - 1) / 2 / self._scale
        self._top = (y_min + y_max) / 2 + (self.height - 1) / 2 * self._dot_aspect / self._scale

    @property
    def dot(self) -> float:
        """The width of a dot in the caller's units."""
        return 1 / self._scale

    @property
    def grid(self) -> Grid:
        """The positions of the centres of all dots, in the caller's units."""
        down = self._dot_aspect / self._scale
        return Grid(self._left, self._top, 1 / self._scale, down, self.width, self.height)

    def holds(self, x: float, y: float) -> bool:
        """Return True if a point in the caller's units is on the canvas."""
        column, row = self.cell_at(x, y)
        return 0 <= column < self.columns and 0 <= row < self.rows

    def set_dots(self, places: Iterable[tuple[int, int]], ink: Ink = "data") -> None:
        """Draw the dots at the given (column, row) pairs, which are counted in dots from the top left."""
        self._plot(places, ink)

    def has_dot(self, across: int, below: int) -> bool:
        """Return True if the dot in column `across` and row `below`, counted from the top left, is set."""
        cell = self._cell_down[below] + self._cell_across[across]
        return bool(self._cells[cell] & self._bit[below % self._down][across])

    def dots_in(self, below: int) -> list[int]:
        """Return the columns of the dots that are set in row `below`, counted in dots from the top."""
        first = self._cell_down[below]
        if not any(self._cells[first : first + self.columns]):
            return []
        return [across for across in range(self.width) if self.has_dot(across, below)]

    def letters_in(self, row: int) -> dict[int, str]:
        """Return the letters in a row of cells, in a dict of column numbers and letters."""
        return {cell % self.columns: letter for cell, letter in self._letters.items() if cell // self.columns == row}

    def letter(self, column: int, row: int) -> str:
        """Return the letter in a cell; "" if there is none."""
        return self._letters.get(row * self.columns + column, "")

    def line(self, x1: float, y1: float, x2: float, y2: float, ink: Ink = "data", every: int = 1) -> None:
        """Draw a straight line from (x1, y1) to (x2, y2). If `every` is 3, draw only every third dot."""
        i1, j1 = self._at(x1, y1)
        i2, j2 = self._at(x2, y2)
        clipped = _clipped(i1, j1, i2, j2, self.width - 0.5, self.height - 0.5)
        if clipped is None:
            return
        i1, j1, i2, j2 = clipped
        steps = max(math.ceil(max(abs(i2 - i1), abs(j2 - j1))), 1)
        self._plot(
            [(i1 + (i2 - i1) * n / steps, j1 + (j2 - j1) * n / steps) for n in range(0, steps + 1, every)],
            ink,
        )

    def polyline(
        self, points: Sequence[tuple[float, float]], ink: Ink = "data", *, closed: bool = False, every: int = 1
    ) -> None:
        """Draw straight lines from point to point. If `closed`, also connect the last point to the first.

        If `every` is 3, draw only every third dot.
        """
        ends = [*points[1:], points[0]] if closed and points else points[1:]
        for (x1, y1), (x2, y2) in zip(points, ends, strict=False):
            self.line(x1, y1, x2, y2, ink, every)

    def circle(self, x: float, y: float, radius: float, ink: Ink = "data", every: int = 1) -> None:
        """Draw the part of a circle that lies on the canvas. If `every` is 3, draw only every third dot."""
        i, j = self._at(x, y)
        across = radius * self._scale
        down = across / self._dot_aspect
        turn = _turn(_samples(across, down))[::every]
        self._plot([(i + across * cosine, j - down * sine) for cosine, sine in turn], ink)

    def arc(
        self, x: float, y: float, radius: float, start_deg: float, sweep_deg: float, ink: Ink = "data", every: int = 1
    ) -> None:
        """Draw an arc that starts at the angle `start_deg` and extends anticlockwise over `sweep_deg`.

        If `sweep_deg` is negative, the arc extends clockwise. An arc of 360 degrees or more is drawn as a full circle.
        If `every` is 3, draw only every third dot.
        """
        if abs(sweep_deg) >= 360:
            self.circle(x, y, radius, ink, every)
            return
        i, j = self._at(x, y)
        across = radius * self._scale
        down = across / self._dot_aspect
        steps = max(math.ceil(_samples(across, down) * abs(sweep_deg) / 360), 1)
        angles = [math.radians(start_deg + sweep_deg * step / steps) for step in range(0, steps + 1, every)]
        self._plot([(i + across * math.cos(angle), j - down * math.sin(angle)) for angle in angles], ink)

    def polar(
        self,
        x: float,
        y: float,
        radius_at: Callable[[float], float],
        ink: Ink = "data",
        samples: int = 360,
    ) -> None:
        """Draw a closed curve around (x, y), made of `samples` straight lines.

        `radius_at` returns the radius of the curve at an angle [deg], counted anticlockwise from +x.
        """
        points = []
        for sample, (cosine, sine) in enumerate(_turn(samples)):
            radius = radius_at(360 * sample / samples)
            points.append((x + radius * cosine, y + radius * sine))
        self.polyline(points, ink, closed=True)

    def point(self, x: float, y: float, ink: Ink = "mark") -> None:
        """Draw the dot nearest to a point in the caller's units."""
        self._plot([self._at(x, y)], ink)

    def fill(self, points: Sequence[tuple[float, float]], ink: Ink = "data", *, sparse: bool = False) -> None:
        """Fill the inside of a closed polygon. If `sparse` is True, set only one dot in every second cell."""
        places = [self._at(x, y) for x, y in points]
        if not all(math.isfinite(i) and math.isfinite(j) for i, j in places):
            return
        across, down = _DOTS_PER_CELL[self.dots]
        first = max(math.ceil(min((j for _, j in places), default=0.0)), 0)
        last = min(math.floor(max((j for _, j in places), default=-1.0)), self.height - 1)
        sides = list(zip(places, [*places[1:], *places[:1]], strict=True))
        for row in range(first, last + 1):
            if sparse and row % down:
                continue
            start = across * (row // down % 2) if sparse else 0
            for left, right in _inside(sides, row):
                begins, ends = max(math.ceil(left), 0), min(math.floor(right), self.width - 1)
                step = 2 * across if sparse else 1
                begins += (start - begins) % step
                self._plot([(i, row) for i in range(begins, ends + 1, step)], ink)

    def label(self, x: float, y: float, text: str, anchor: Anchor = "middle", ink: Ink = "label") -> None:
        """Write text over the drawing, in the row of cells that contains (x, y).

        `anchor` says which part of the text is at that point. Text that would cross the edge of the canvas is moved
        inside.
        """
        i, j = self._at(x, y)
        if not (math.isfinite(i) and math.isfinite(j)):
            return
        across, down = _DOTS_PER_CELL[self.dots]
        text = text[: self.columns]
        before = {"left": 0, "middle": (len(text) - 1) // 2, "right": len(text) - 1}[anchor]
        column = min(max(math.floor(i + 0.5) // across - before, 0), self.columns - len(text))
        row = min(max(math.floor(j + 0.5) // down, 0), self.rows - 1)
        self.write(column, row, text, ink)

    def empty(self) -> "Canvas":
        """Return an empty canvas with the same size and visible part."""
        other = copy(self)
        other._cells, other._inks, other._letters = bytearray(len(self._cells)), bytearray(len(self._inks)), {}
        return other

    def stamp(self) -> Stamp:
        """Return the dots drawn so far, which `put` can draw again on a canvas of the same size."""
        drawn = compress(range(len(self._cells)), self._cells)
        return tuple((cell, self._cells[cell]) for cell in drawn)

    def put(self, stamp: Stamp, ink: Ink = "data") -> None:
        """Draw the dots of a stamp taken from a canvas of the same size."""
        cells, inks, number = self._cells, self._inks, INKS.index(ink)
        for cell, bits in stamp:
            cells[cell] |= bits
            inks[cell] = number

    def redraw(self, other: "Canvas") -> None:
        """Replace this drawing with a copy of the drawing on another canvas of the same size."""
        self._cells[:], self._inks[:], self._letters = other._cells, other._inks, dict(other._letters)

    def is_blank(self, column: int, row: int, columns: int) -> bool:
        """Return True if `columns` cells of a row, starting at `column`, are all on the canvas and empty."""
        if not (0 <= row < self.rows and column >= 0 and column + columns <= self.columns):
            return False
        first = row * self.columns + column
        cells = range(first, first + columns)
        return not any(self._cells[cell] or cell in self._letters for cell in cells)

    def write(self, column: int, row: int, text: str, ink: Ink = "label") -> None:
        """Write text over the drawing, with its first character in the cell at `column` and `row`."""
        for offset, letter in enumerate(text[: self.columns - column]):
            cell = row * self.columns + column + offset
            self._letters[cell] = letter
            self._inks[cell] = INKS.index(ink)

    def cell_at(self, x: float, y: float) -> tuple[int, int]:
        """Return the column and row of the cell that contains a point. The cell may be outside the canvas."""
        i, j = self._at(x, y)
        across, down = _DOTS_PER_CELL[self.dots]
        return math.floor(i + 0.5) // across, math.floor(j + 0.5) // down

    def lines(self) -> list[list[Run]]:
        """Return the rows of the drawing. Each row is a list of runs of characters in one ink."""
        return [self._line(row) for row in range(self.rows)]

    def _line(self, row: int) -> list[Run]:
        runs: list[Run] = []
        text, ink = "", INKS[0]
        for cell in range(row * self.columns, (row + 1) * self.columns):
            letter = self._letters.get(cell) or self._character(cell)
            cell_ink = ink if letter == " " else INKS[self._inks[cell]]
            if cell_ink != ink and text:
                runs.append(Run(text, ink))
                text = ""
            ink = cell_ink
            text += letter
        return [*runs, Run(text, ink)]

    def _character(self, cell: int) -> str:
        bits = self._cells[cell]
        if not bits:
            return " "
        if self.dots == "braille":
            return chr(0x2800 + bits)
        if self.dots == "ascii":
            return _ASCII_INKS[INKS[self._inks[cell]]]
        return (_QUADRANTS if self.dots == "quadrant" else _HALVES)[bits]

    def _at(self, x: float, y: float) -> tuple[float, float]:
        """Convert a point from the caller's units to dots, counted from the top left."""
        return (x - self._left) * self._scale, (self._top - y) * self._scale / self._dot_aspect

    def _plot(self, places: Iterable[tuple[float, float]], ink: Ink) -> None:
        """Set those dots at `places` that lie on the canvas. This is the innermost loop of all drawing."""
        cells, inks, number = self._cells, self._inks, INKS.index(ink)
        cell_across, cell_down, bit, down = self._cell_across, self._cell_down, self._bit, self._down
        # Subtract a tiny amount, so that rounding up never reaches the dot beyond the last one.
        right, bottom = self.width - 0.5 - 1e-9, self.height - 0.5 - 1e-9
        for across, below in places:
            if -0.5 <= across < right and -0.5 <= below < bottom:
                i, j = int(across + 0.5), int(below + 0.5)
                cell = cell_down[j] + cell_across[i]
                cells[cell] |= bit[j % down][i]
                inks[cell] = number


def _samples(across: float, down: float) -> int:
    """Return how many points draw an ellipse with these half axes [dots] without gaps.

    The result is one of only a few values, so that calculated angles can be used again.
    """
    largest = max(across, down)
    if not 0 <= largest < _MOST_SAMPLES:
        # A curve that is not a number, or wider than any screen, would not be visible.
        return _MOST_SAMPLES
    return min(math.ceil(2 * math.pi * largest * 1.1 / 16 + 1) * 16, _MOST_SAMPLES)


@lru_cache(maxsize=64)
def _turn(samples: int) -> tuple[tuple[float, float], ...]:
    """Return the (cosine, sine) pairs of `samples` evenly spaced angles over 360 degrees."""
    angles = (2 * math.pi * sample / samples for sample in range(samples))
    return tuple((math.cos(angle), math.sin(angle)) for angle in angles)


def _inside(
    sides: Sequence[tuple[tuple[float, float], tuple[float, float]]], row: int
) -> Iterable[tuple[float, float]]:
    """Return the (left, right) intervals of a row of dots that lie inside a closed polygon.

    `sides` contains the two end points of each side of the polygon [dots].
    """
    crossed = sorted(
        i1 + (row - j1) * (i2 - i1) / (j2 - j1) for (i1, j1), (i2, j2) in sides if min(j1, j2) <= row < max(j1, j2)
    )
    return zip(crossed[::2], crossed[1::2], strict=False)


def _clipped(
    i1: float, j1: float, i2: float, j2: float, right: float, bottom: float
) -> tuple[float, float, float, float] | None:
    """Return the part of a straight line that lies on the canvas; None if no part does.

    All values are in dots. The last dots of the canvas end at `right` and `bottom`. The method is from Liang and
    Barsky.
    """
    if not all(math.isfinite(value) for value in (i1, j1, i2, j2)):
        return None
    start, end = 0.0, 1.0
    for step, room in (
        (i1 - i2, i1 + 0.5),
        (i2 - i1, right - i1),
        (j1 - j2, j1 + 0.5),
        (j2 - j1, bottom - j1),
    ):
        if step == 0:
            if room < 0:
                return None
        elif step < 0:
            start = max(start, room / step)
        else:
            end = min(end, room / step)
    if start > end:
        return None
    return i1 + (i2 - i1) * start, j1 + (j2 - j1) * start, i1 + (i2 - i1) * end, j1 + (j2 - j1) * end
