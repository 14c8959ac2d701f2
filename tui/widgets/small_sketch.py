"""A pattern drawn in a few cells. If grooves are crowded, only some are drawn in full, so that circles stay visible."""

from collections.abc import Iterator, Sequence
from itertools import groupby

from core.operations.patterns.picture import CutPicture, PatternPicture, PatternPlace
from tui.terminal import Dots
from tui.widgets.canvas import Canvas, Run
from tui.widgets.pattern_drawing import WHOLE, draw_cut

_CLEAR = 0.22
"""The largest share of dots that may be set. With more dots, grooves run together."""


def small_sketch(picture: PatternPicture, columns: int, rows: int, dots: Dots) -> list[list[Run]]:
    """Return a pattern as the rows of a small canvas, to scale.

    In each layer, some evenly spaced positions are drawn in full, as many as the canvas can show without grooves
    running together. The other positions are drawn as points.
    """
    canvas = Canvas(columns, rows, dots)
    WHOLE.show_on(canvas, picture)
    if picture.rim_mm is not None:
        canvas.circle(0, 0, picture.rim_mm, "reference", every=2)
    whole = set(_whole(picture.cuts, canvas))
    for cut in picture.cuts:
        if cut.place not in whole:
            canvas.point(*cut.at_mm, "reference")
    for cut in picture.cuts:
        if cut.place in whole:
            _draw(canvas, cut)
    return canvas.lines()


def _draw(canvas: Canvas, cut: CutPicture) -> None:
    draw_cut(canvas, cut.tip_line, "cut", 1)


def _whole(cuts: Sequence[CutPicture], canvas: Canvas) -> Iterator[PatternPlace]:
    """Yield the positions that are drawn in full."""
    layers = [list(layer) for _, layer in groupby(cuts, key=lambda cut: cut.place.layer)]
    room = _CLEAR * canvas.width * canvas.height / max(len(layers), 1)
    for layer in layers:
        count = min(max(int(room / _dots_of(layer[0], canvas)), 1), len(layer))
        yield from (layer[number * len(layer) // count].place for number in range(count))


def _dots_of(cut: CutPicture, canvas: Canvas) -> int:
    """Return how many dots of the canvas one groove covers, at least 1."""
    alone = canvas.empty()
    _draw(alone, cut)
    return max(sum(bits.bit_count() for _, bits in alone.stamp()), 1)
