"""Paints a drawing that core has described on a canvas, in dots or characters that the terminal can show."""

from collections.abc import Callable
from typing import NamedTuple

from core.drawing import Drawing, Fill, Look
from tui.terminal import Dots
from tui.widgets.canvas import Canvas, Ink


class _Stroke(NamedTuple):
    ink: Ink
    every: int
    """The distance between the drawn dots of the line [dots]."""


_STROKES: dict[Look, _Stroke] = {
    "edge": _Stroke("data", 1),
    "faint": _Stroke("reference", 3),
    "wanted": _Stroke("label", 2),
    "tool": _Stroke("mark", 1),
}
_IN_CHARACTERS = 2
"""The distance between the drawn dots of a faint line [dots], if each dot is a whole character."""


def paint_drawing(canvas: Canvas, drawing: Drawing, spell: Callable[[str], str]) -> None:
    """Paint a drawing on a canvas: first its areas, then its lines, then its labels.

    `spell` replaces characters that this terminal lacks.
    """
    bounds, plain = drawing.bounds, canvas.dots == "ascii"
    canvas.show(bounds.x_least, bounds.x_most, bounds.y_least, bounds.y_most)
    for area in drawing.areas:
        _fill(canvas, area.points, area.fill)
    for stroke in drawing.strokes:
        if stroke.fine and plain:
            continue
        ink, every = _STROKES[stroke.look]
        if plain:
            every = _IN_CHARACTERS if stroke.look == "faint" else 1
        canvas.polyline(stroke.points, ink, closed=stroke.closed, every=every)
    for name in drawing.names:
        canvas.label(*name.at, spell(name.text), name.anchor)


def _fill(canvas: Canvas, points: tuple[tuple[float, float], ...], fill: Fill) -> None:
    if fill == "metal":
        canvas.fill(points, "reference", sparse=True)
    else:
        canvas.fill(points, "cut")


def signs(drawing: Drawing, dots: Dots) -> str:
    """Return a legend for the fillings and lines of a drawing; "" if none of them needs an explanation."""
    fills, looks = {area.fill for area in drawing.areas}, {stroke.look for stroke in drawing.strokes}
    plain = dots == "ascii"
    meant = [
        ("metal" in fills, "Dots: metal."),
        ("this pass" in fills, "=: this pass." if plain else "Full: this pass."),
        ("wanted" in looks, "+: wanted." if plain else "Broken line: wanted."),
    ]
    return " ".join(words for shown, words in meant if shown)
