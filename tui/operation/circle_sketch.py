"""Draws positions on a circle to scale, with as many position numbers as there is room for."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from core.operations.patterns.picture import PatternPicture
from tui.widgets.canvas import Canvas
from tui.widgets.pattern_drawing import View
from tui.widgets.pattern_sketch import PatternSketch

_BEYOND = 1.14
"""The distance of the position numbers from the centre, as a multiple of the radius of their positions."""
_REACH = 1.24


class _Numbered(NamedTuple):
    number: int
    x_mm: float
    y_mm: float


class CircleSketch(PatternSketch):
    """A picture of a circle with a radial line or a hole at every position, and position numbers outside the circle."""

    shades = False

    def _draw_pattern(self, canvas: Canvas) -> None:
        if self.pattern is not None:
            draw_positions(canvas, self.pattern, self.view)


def draw_positions(canvas: Canvas, picture: PatternPicture, view: View) -> None:
    """Draw the circle, then the positions, then as many position numbers as there is room for."""
    half_width_mm = picture.extent_mm * _REACH / view.zoom
    canvas.show(
        view.x_mm - half_width_mm, view.x_mm + half_width_mm, view.y_mm - half_width_mm, view.y_mm + half_width_mm
    )
    if picture.rim_mm is not None:
        canvas.circle(0, 0, picture.rim_mm, "reference", every=3)
    for cut in picture.cuts:
        if cut.shape == "line":
            canvas.line(*cut.at_mm, *cut.to_mm)
        else:
            canvas.circle(*cut.at_mm, cut.radius_mm)
    if canvas.holds(0, 0):
        canvas.label(0, 0, "+", ink="reference")
    _write_numbers(canvas, list(_numbered(picture)))


def _numbered(picture: PatternPicture) -> Iterator[_Numbered]:
    for cut in picture.cuts:
        if cut.shape == "line":
            yield _Numbered(cut.place.position, *cut.to_mm)
        else:
            beyond = 1 + cut.radius_mm / picture.rim_mm if picture.rim_mm else 1.0
            yield _Numbered(cut.place.position, cut.at_mm[0] * beyond, cut.at_mm[1] * beyond)


def _write_numbers(canvas: Canvas, places: Sequence[_Numbered]) -> None:
    """Write as many position numbers as there is room for.

    1 and 2 come first, then multiples of ten, then multiples of five, then the others.
    """
    taken: set[tuple[int, int]] = set()
    for place in sorted(places, key=lambda place: (_rank(place.number), place.number)):
        text, x_mm, y_mm = str(place.number), place.x_mm * _BEYOND, place.y_mm * _BEYOND
        if not canvas.holds(x_mm, y_mm):
            continue
        column, row = canvas.cell_at(x_mm, y_mm)
        first = column - (len(text) - 1) // 2
        cells = {(row, cell) for cell in range(first - 1, first + len(text) + 1)}
        if not cells & taken:
            canvas.label(x_mm, y_mm, text, ink="mark" if place.number == 1 else "label")
            taken |= cells


def _rank(number: int) -> int:
    return next(rank for rank, comes in enumerate((number <= 2, number % 10 == 0, number % 5 == 0, True)) if comes)
