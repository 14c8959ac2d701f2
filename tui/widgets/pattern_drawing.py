"""A pattern drawn to scale in dots; in plain characters as the numbers of its positions.

The dots of every circle are worked out once for a size and put down again at each
drawing: 240 circles are redrawn in a fraction of a frame.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from core.operations.pattern_pictures import PatternPicture
from core.operations.patterns.picture import CutState, PatternPlace, PatternProgress
from tui.terminal import Dots
from tui.widgets.canvas import CELL_ASPECT, Canvas, Ink, Stamp

_EVERY: dict[CutState, int] = {"coming": 4, "started": 2, "cut": 1}
_EVERY_COARSE: dict[CutState, int] = {"coming": 6, "started": 3, "cut": 1}
"""How far apart the drawn dots of an outline are. Coarse dots are further apart, or they would join."""
_INKS: dict[CutState, Ink] = {"coming": "reference", "started": "data", "cut": "data"}
_SIGNS: dict[CutState, str] = {"coming": ".", "started": "+", "cut": "#"}
_FATES: tuple[CutState, ...] = ("coming", "started", "cut")
_WIDE_DOTS = 3
"""The least width of a groove in dots at which both its edges are drawn."""
_MARGIN = 1.02


class _Mark(NamedTuple):
    """One position: its place in the pattern, its centre, and the circles or the spoke drawn for it."""

    place: PatternPlace
    x_mm: float
    y_mm: float
    radii_mm: tuple[float, ...]
    """Radii of the circles round the position; none for a spoke."""
    spoke: tuple[tuple[float, float], tuple[float, float]] | None = None


class PatternDrawing:
    """Draws one pattern on any canvas, and again whenever one of its positions is cut."""

    def __init__(self, picture: PatternPicture) -> None:
        self._picture = picture
        self._size: tuple[int, int, Dots] | None = None
        self._stamps: dict[tuple[PatternPlace, int], Stamp] = {}
        self._marks: tuple[_Mark, ...] = ()

    def draw(self, canvas: Canvas, standing: PatternProgress | None = None) -> None:
        """Draw the pattern. With `standing`, draw each position as far as a run has cut it."""
        reach = self._picture.extent_mm * _MARGIN
        canvas.show(-reach, reach, -reach, reach)
        size = canvas.columns, canvas.rows, canvas.dots
        if size != self._size:
            self._size, self._stamps = size, {}
            self._marks = tuple(_marks(self._picture, canvas.dot))
        if self._picture.rim_mm is not None:
            canvas.circle(0, 0, self._picture.rim_mm, "reference", every=3)
        canvas.label(0, 0, "+", ink="reference")
        if canvas.dots == "ascii":
            _draw_numbers(canvas, self._marks, standing)
        else:
            self._draw_outlines(canvas, standing)

    def _draw_outlines(self, canvas: Canvas, standing: PatternProgress | None) -> None:
        if standing is None:
            for mark in self._marks:
                canvas.put(self._stamp(canvas, mark, 1), "data")
            for mark in self._marks:
                if mark.place.position == 1:
                    canvas.label(mark.x_mm, mark.y_mm, "1")
            return
        every = _EVERY if canvas.dots == "braille" else _EVERY_COARSE
        for fate in _FATES:
            for mark in self._marks:
                if standing.states.get(mark.place) == fate and mark.place != standing.present:
                    canvas.put(self._stamp(canvas, mark, every[fate]), _INKS[fate])
        for mark in self._marks:
            if mark.place == standing.present:
                canvas.put(self._stamp(canvas, mark, 1), "mark")
                canvas.label(mark.x_mm, mark.y_mm, str(mark.place.position), ink="mark")

    def _stamp(self, canvas: Canvas, mark: _Mark, every: int) -> Stamp:
        """Return the dots of one position. They are worked out the first time, on a canvas of the same size."""
        key = mark.place, every
        if key not in self._stamps:
            alone = canvas.empty()
            for radius in mark.radii_mm:
                alone.circle(mark.x_mm, mark.y_mm, radius, every=every)
            if mark.spoke is not None:
                alone.line(*mark.spoke[0], *mark.spoke[1], every=every)
            self._stamps[key] = alone.stamp()
        return self._stamps[key]


def pattern_lines(picture: PatternPicture, columns: int, dots: Dots, cell_aspect: float = CELL_ASPECT) -> list[str]:
    """Return a pattern as lines of text for a card, with as many rows as keep it round."""
    canvas = Canvas(columns, round(columns / cell_aspect), dots, cell_aspect)
    PatternDrawing(picture).draw(canvas)
    lines = ["".join(run.text for run in line).rstrip() for line in canvas.lines()]
    while lines and not lines[0]:
        lines.pop(0)
    while lines and not lines[-1]:
        lines.pop()
    return lines


def _marks(picture: PatternPicture, dot_mm: float) -> Iterator[_Mark]:
    for layer in picture.layers:
        wide = 2 * layer.half_width_mm >= _WIDE_DOTS * dot_mm
        edges = [layer.radius_mm + layer.half_width_mm, max(layer.radius_mm - layer.half_width_mm, 0.0)]
        radii = tuple(edges) if wide else (layer.radius_mm,)
        for circle in layer.circles:
            # Rounded, so that what lies on a line between two cells does so on both sides of the middle.
            x_mm, y_mm = round(circle.x_mm, 9), round(circle.y_mm, 9)
            yield _Mark(PatternPlace(layer.layer, circle.position), x_mm, y_mm, radii)
    for spoke in picture.spokes:
        yield _Mark(PatternPlace(1, spoke.position), *spoke.inner_mm, (), (spoke.inner_mm, spoke.outer_mm))


def _draw_numbers(canvas: Canvas, marks: Sequence[_Mark], standing: PatternProgress | None) -> None:
    """Write numbers as far as there is room, round ones first. Draw signs for the rest."""
    taken: set[tuple[int, int]] = set()
    for mark in sorted(marks, key=lambda mark: (_rank(mark, standing), mark.place)):
        fate: CutState | None = "coming" if standing is None else standing.states.get(mark.place)
        if fate is None:
            continue
        at_hand = standing is not None and mark.place == standing.present
        text, ink = _number(mark.place.position, fate, at_hand)
        column, row = canvas.cell_at(mark.x_mm, mark.y_mm)
        first = column - (len(text) - 1) // 2
        if not at_hand and any((row, cell) in taken for cell in range(first - 1, first + len(text) + 1)):
            text, ink, first = _SIGNS[fate], _INKS[fate], column
        if at_hand or (row, first) not in taken:
            canvas.label(mark.x_mm, mark.y_mm, text, ink=ink)
            taken |= {(row, cell) for cell in range(first, first + len(text))}


def _number(position: int, fate: CutState, at_hand: bool) -> tuple[str, Ink]:
    """Return the sign in the middle of a position, if there is room."""
    if at_hand:
        return f"[{position}]", "mark"
    return (str(position), "label") if fate == "coming" else (_SIGNS[fate], "data")


def _rank(mark: _Mark, standing: PatternProgress | None) -> int:
    """Return a number's place in the order of writing: the present, the first, every tenth, every fifth, the others."""
    position = mark.place.position
    if standing is not None and mark.place == standing.present:
        return 0
    ranks = (position == 1, position % 10 == 0, position % 5 == 0, True)
    return 1 + ranks.index(True)
