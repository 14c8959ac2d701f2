"""A pattern drawn to scale, in dots or in plain characters, depending on the terminal.

The dots of each position are calculated once for each size of the drawing. After a cut, only the dots of the position
that was cut are added, so a pattern of 1,200 circles is redrawn in a fraction of a frame.
"""

import math
from collections.abc import Iterator
from typing import NamedTuple

from core.operations.patterns.groove_path import length_mm, path
from core.operations.patterns.picture import CutPicture, PatternPicture, PatternPlace
from core.run.cut_progress import CutState, PatternProgress
from tui.terminal import Dots
from tui.widgets.canvas import CELL_ASPECT, Canvas, Ink, Stamp

_EVERY: dict[CutState, int] = {"coming": 4, "started": 2, "cut": 1}
_EVERY_COARSE: dict[CutState, int] = {"coming": 6, "started": 3, "cut": 1}
"""The distance between the dots of an outline [dots]. Coarse dots need a larger distance, or they would join."""
_INKS: dict[CutState, Ink] = {"coming": "reference", "started": "data", "cut": "data"}
_PLAIN_INKS: dict[CutState, Ink] = {"coming": "reference", "started": "label", "cut": "data"}
"""The plain character for each ink, on terminals without dots."""
_FATES: tuple[CutState, ...] = ("coming", "started", "cut")
_WIDE_DOTS = 3
"""The width of a groove, in dots, from which both its edges are drawn."""
_LEAST_DOT, _LEAST_DOT_COARSE = 1.5, 2.0
"""The smallest radius at which a fed-in cut is drawn [dots]. It is large enough to show the progress of the cut."""
_SPARSE_DOTS = 15_000
_MARGIN = 1.02
WRONG = "x"
"""The sign of a position that was cut in the wrong place."""


class View(NamedTuple):
    """The visible part of a picture: its centre [mm] and its magnification."""

    zoom: float = 1.0
    x_mm: float = 0.0
    y_mm: float = 0.0

    def show_on(self, canvas: Canvas, picture: PatternPicture) -> None:
        """Make a canvas show this part of a picture, to scale."""
        reach_mm = picture.extent_mm * _MARGIN / self.zoom
        canvas.show(self.x_mm - reach_mm, self.x_mm + reach_mm, self.y_mm - reach_mm, self.y_mm + reach_mm)


WHOLE = View()


class PatternDrawing:
    """Draws one pattern on any canvas, and updates the drawing whenever a position is cut."""

    def __init__(self, picture: PatternPicture, view: View = WHOLE) -> None:
        self._picture, self._view = picture, view
        self._size: tuple[int, int, Dots] | None = None
        self._stamps: dict[tuple[CutPicture, CutState], Stamp] = {}
        self._drawn: Canvas | None = None
        self._states: dict[PatternPlace, CutState] = {}
        """The drawn state of each position on `_drawn`."""
        self._by_place = {cut.place: cut for cut in reversed(picture.cuts)}

    def draw(self, canvas: Canvas, standing: PatternProgress | None = None) -> None:
        """Draw the pattern on a canvas.

        `standing` is the progress of a run, and each position is drawn as far as it is cut. If `standing` is None,
        every position is drawn as cut.
        """
        self._view.show_on(canvas, self._picture)
        size = canvas.columns, canvas.rows, canvas.dots
        if size != self._size:
            self._size, self._stamps, self._drawn = size, {}, None
        states = dict.fromkeys(self._by_place, _FATES[-1]) if standing is None else dict(standing.states)
        canvas.redraw(self._drawn_as(canvas, states))
        plain = canvas.dots == "ascii"
        if standing is not None and standing.present in self._by_place:
            self._draw_present(canvas, self._by_place[standing.present])
        elif standing is None and not plain:
            for cut in self._picture.cuts:
                if cut.place.position == 1 and not cut.was_moved and canvas.holds(*cut.at_mm):
                    canvas.label(*_middle(cut), "1")
        if plain:
            layer = 1 if standing is None or standing.present is None else standing.present.layer
            _write_numbers(canvas, [cut for cut in self._picture.cuts if cut.place in states], layer)

    def _drawn_as(self, canvas: Canvas, states: dict[PatternPlace, CutState]) -> Canvas:
        """Return a canvas with the blank and with every position drawn in its state.

        Only positions whose state has changed are drawn again.
        """
        if self._drawn is None or not self._only_advances(states, canvas.dots):
            self._drawn, self._states = canvas.empty(), {}
            if self._picture.rim_mm is not None:
                self._drawn.circle(0, 0, self._picture.rim_mm, "reference", every=3 if canvas.dots != "ascii" else 2)
            if canvas.holds(0, 0):
                self._drawn.label(0, 0, "+", ink="reference")
        inks = _PLAIN_INKS if canvas.dots == "ascii" else _INKS
        for fate in _FATES:
            for cut in self._picture.cuts:
                if states.get(cut.place) == fate != self._states.get(cut.place):
                    self._drawn.put(self._stamp(canvas, cut, fate), inks[fate])
        for cut in self._picture.cuts:
            is_new = cut.place in states and cut.place not in self._states
            if cut.was_moved and is_new and canvas.holds(*cut.at_mm):
                self._drawn.label(*_middle(cut), WRONG)
        self._states = states
        return self._drawn

    def _only_advances(self, states: dict[PatternPlace, CutState], dots: Dots) -> bool:
        """Return True if no position has gone back to an earlier state, so that the drawing only needs more dots."""
        if states == self._states:
            return True
        # Plain characters replace each other, so the order of drawing matters.
        return (
            dots != "ascii"
            and states.keys() == self._states.keys()
            and all(_FATES.index(states[place]) >= _FATES.index(fate) for place, fate in self._states.items())
        )

    def _draw_present(self, canvas: Canvas, cut: CutPicture) -> None:
        canvas.put(self._stamp(canvas, cut, "cut"), "mark")
        number = str(cut.place.position)
        if canvas.holds(*cut.at_mm):
            canvas.label(*_middle(cut), f"[{number}]" if canvas.dots == "ascii" else number, ink="mark")

    def _stamp(self, canvas: Canvas, cut: CutPicture, state: CutState) -> Stamp:
        """Return the dots of a cut in this state, on a canvas of this size. They are calculated only once."""
        key = cut, state
        if key not in self._stamps:
            alone = canvas.empty()
            draw_cut(alone, cut, state)
            self._stamps[key] = alone.stamp()
        return self._stamps[key]


def draw_sparsely(canvas: Canvas, picture: PatternPicture, view: View) -> None:
    """Draw only the middle of every groove, with so few dots that drawing takes less than one frame.

    `view` is the part of the picture that is drawn.
    """
    view.show_on(canvas, picture)
    if picture.rim_mm is not None:
        canvas.circle(0, 0, picture.rim_mm, "reference", every=3)
    every = math.ceil(sum(map(length_mm, picture.cuts)) / canvas.dot / _SPARSE_DOTS)
    for cut in picture.cuts:
        draw_cut(canvas, cut.tip_line, "coming", every)


def pattern_lines(picture: PatternPicture, columns: int, dots: Dots, cell_aspect: float = CELL_ASPECT) -> list[str]:
    """Return a pattern as rows of text for a card, at most `columns` wide.

    The number of rows is chosen so that circles look round. `dots` is the kind of characters to draw with.
    `cell_aspect` is the height of a character divided by its width.
    """
    canvas = Canvas(columns, round(columns / cell_aspect), dots, cell_aspect)
    PatternDrawing(picture).draw(canvas)
    lines = ["".join(run.text for run in line).rstrip() for line in canvas.lines()]
    while lines and not lines[0]:
        lines.pop(0)
    while lines and not lines[-1]:
        lines.pop()
    return lines


def _middle(cut: CutPicture) -> tuple[float, float]:
    # Rounded, so that points on the border of two cells fall symmetrically about the centre.
    return round(cut.at_mm[0], 9), round(cut.at_mm[1], 9)


def draw_cut(canvas: Canvas, cut: CutPicture, state: CutState, every: int = 0) -> None:
    """Draw the edges of a groove, or only its middle if the groove is narrow on this canvas.

    `state` says how far the groove is cut. `every` is the distance between drawn dots [dots]; 0 means the usual
    distance for `state`.
    """
    if _is_outside(canvas, cut):
        return
    plain = canvas.dots == "ascii"
    every = every or (1 if plain else (_EVERY if canvas.dots == "braille" else _EVERY_COARSE)[state])
    half_mm = cut.half_width_mm if 2 * cut.half_width_mm >= _WIDE_DOTS * canvas.dot else 0.0
    x_mm, y_mm = _middle(cut)
    if cut.fall is not None:
        _draw_uneven(canvas, cut, state, every)
        return
    match cut.shape:
        case "circle":
            for radius_mm in _edges(cut.radius_mm, half_mm):
                canvas.circle(x_mm, y_mm, max(radius_mm, 0.0), every=every)
        case "dot":
            _draw_dot(canvas, cut, state, every)
        case "line":
            for start, end in _sides(cut, half_mm):
                canvas.line(*start, *end, every=every)
            if half_mm:
                _draw_ends(canvas, cut, half_mm, every)
        case "arc":
            start_deg = math.degrees(math.atan2(y_mm - cut.centre_mm[1], x_mm - cut.centre_mm[0]))
            for radius_mm in _edges(math.dist(cut.at_mm, cut.centre_mm), half_mm):
                canvas.arc(*cut.centre_mm, max(radius_mm, 0.0), start_deg, cut.sweep_deg, every=every)


def _is_outside(canvas: Canvas, cut: CutPicture) -> bool:
    """Return True if no part of a groove is on the canvas."""
    match cut.shape:
        case "line":
            middles, reach_mm = [cut.at_mm, cut.to_mm], 0.0
        case "arc":
            middles, reach_mm = [cut.centre_mm], math.dist(cut.at_mm, cut.centre_mm)
        case _:
            middles, reach_mm = [cut.at_mm], cut.radius_mm
    grid = canvas.grid
    # A fed-in cut is drawn larger than it is, by a few dots.
    reach_mm += cut.half_width_mm + _WIDE_DOTS * max(grid.across, grid.down)
    across, up = [x_mm for x_mm, _ in middles], [y_mm for _, y_mm in middles]
    return (
        max(across) + reach_mm < grid.left
        or min(across) - reach_mm > grid.left + grid.across * grid.columns
        or min(up) - reach_mm > grid.top
        or max(up) + reach_mm < grid.top - grid.down * grid.rows
    )


def _draw_uneven(canvas: Canvas, cut: CutPicture, state: CutState, every: int) -> None:
    """Draw a groove on a face that runs out.

    The drawn width follows the depth, with gaps where nothing is cut.
    """
    if cut.shape == "dot":
        if cut.depth_at(cut.at_mm) > 0:
            _draw_dot(canvas, cut._replace(half_width_mm=cut.half_width_at(cut.at_mm)), state, every)
        return
    # The outer edge of a circle is longer than the path, by the half width for each radian.
    parts = max(1, math.ceil((length_mm(cut) + math.tau * cut.half_width_mm) / canvas.dot))
    for at_mm, (across_x, across_y) in path(cut, math.ceil(parts / every)):
        if cut.depth_at(at_mm) <= 0:
            continue
        half_mm = cut.half_width_at(at_mm)
        for side in (half_mm, -half_mm) if 2 * half_mm >= _WIDE_DOTS * canvas.dot else (0.0,):
            canvas.point(at_mm[0] + side * across_x, at_mm[1] + side * across_y, "data")
    if cut.shape == "line":
        for end_mm, turned in ((cut.at_mm, cut.to_mm), (cut.to_mm, cut.at_mm)):
            half_mm = cut.half_width_at(end_mm)
            if 2 * half_mm >= _WIDE_DOTS * canvas.dot:
                away_deg = math.degrees(math.atan2(end_mm[1] - turned[1], end_mm[0] - turned[0]))
                canvas.arc(*end_mm, half_mm, away_deg - 90, 180, every=every)


def _edges(middle_mm: float, half_mm: float) -> tuple[float, ...]:
    return (middle_mm + half_mm, middle_mm - half_mm) if half_mm else (middle_mm,)


def _draw_dot(canvas: Canvas, cut: CutPicture, state: CutState, every: int) -> None:
    """Draw a cut for which the cutter is only fed in.

    Such a cut is a point before it is started, a point in a ring once started, and a full dot when finished.
    """
    x_mm, y_mm = _middle(cut)
    canvas.point(x_mm, y_mm, "data")
    if canvas.dots == "ascii" and cut.half_width_mm < canvas.dot:
        return
    least = _LEAST_DOT if canvas.dots == "braille" else _LEAST_DOT_COARSE
    radius_mm = max(cut.half_width_mm, least * canvas.dot)
    if state != "coming" or cut.half_width_mm >= _WIDE_DOTS * canvas.dot:
        canvas.circle(x_mm, y_mm, radius_mm, every=every)
    if state == "cut":
        turn = [2 * math.pi * step / 48 for step in range(48)]
        canvas.fill([(x_mm + radius_mm * math.cos(a), y_mm + radius_mm * math.sin(a)) for a in turn])


def _sides(cut: CutPicture, half_mm: float) -> Iterator[tuple[tuple[float, float], tuple[float, float]]]:
    """Yield the two edges of a straight groove as lines, or only its middle if `half_mm` is 0."""
    (x1, y1), (x2, y2) = cut.at_mm, cut.to_mm
    apart_mm = math.hypot(x2 - x1, y2 - y1)
    if not half_mm or not apart_mm:
        yield cut.at_mm, cut.to_mm
        return
    across_x, across_y = half_mm * (y1 - y2) / apart_mm, half_mm * (x2 - x1) / apart_mm
    for side in (1, -1):
        yield (x1 + side * across_x, y1 + side * across_y), (x2 + side * across_x, y2 + side * across_y)


def _draw_ends(canvas: Canvas, cut: CutPicture, half_mm: float, every: int) -> None:
    """Draw the two round ends that a rotating cutter leaves in a straight groove.

    `half_mm` is half the width of the groove.
    """
    along_deg = math.degrees(math.atan2(cut.to_mm[1] - cut.at_mm[1], cut.to_mm[0] - cut.at_mm[0]))
    canvas.arc(*cut.at_mm, half_mm, along_deg + 90, 180, every=every)
    canvas.arc(*cut.to_mm, half_mm, along_deg - 90, 180, every=every)


class _Written(NamedTuple):
    """The text of a number, and the cell where it starts."""

    column: int
    row: int
    text: str


def _write_numbers(canvas: Canvas, cuts: list[CutPicture], layer: int) -> None:
    """Write the position numbers of one layer, and number 1 of the other layers, where there is room.

    Number 1 comes first, then multiples of ten, then multiples of five, then all other numbers.
    """
    shown = [cut for cut in cuts if canvas.holds(*cut.at_mm)]
    numbered = [cut for cut in shown if cut.place.layer == layer or cut.place.position == 1]
    for cut in sorted(numbered, key=lambda cut: (_rank(cut.place.position), cut.place)):
        for place in _places_of_number(canvas, cut):
            if canvas.is_blank(place.column - 1, place.row, len(place.text) + 2):
                canvas.write(place.column, place.row, place.text)
                break


def _places_of_number(canvas: Canvas, cut: CutPicture) -> Iterator[_Written]:
    """Yield the places where the number of a cut may stand: inside a circle, or right or left of another shape."""
    text = str(cut.place.position)
    column, row = canvas.cell_at(*_middle(cut))
    if cut.shape == "circle":
        yield _Written(column - (len(text) - 1) // 2, row, text)
        return
    yield _Written(column + 2, row, text)
    yield _Written(column - 1 - len(text), row, text)


def _rank(position: int) -> int:
    """Return the rank of a position number: 0 for number 1, 1 for tens, 2 for fives, 3 for other numbers."""
    ranks = (position == 1, position % 10 == 0, position % 5 == 0, True)
    return ranks.index(True)
