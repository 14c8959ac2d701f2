"""Draws the readings of a turn to scale, with the fitted circle, the high spot, the jaws and the direction of turn."""

from core.operations.runout.picture import VIEW_RADIUS, DrawnTurn, PolarView
from tui.widgets.canvas import Canvas, Ink
from tui.widgets.picture import Picture

_LEAST_ROWS_FOR_RINGS = 9
_LEAST_ROWS_FOR_NAMES = 6
_SMALL = 0.05


class PolarPicture(Picture):
    """A polar picture of readings: reference rings, the current turn with its fitted circle, and the previous turn.

    The previous turn is drawn in dots.
    """

    def show_view(self, view: PolarView | None) -> None:
        """Show a polar picture; None clears the widget."""
        self.show(None if view is None else lambda canvas: draw_polar(canvas, view))


def draw_polar(canvas: Canvas, view: PolarView) -> None:
    """Draw a polar picture, from the reference rings to the letters. A terminal without fine dots gets no rings."""
    coarse = canvas.dots == "ascii"
    canvas.show(-VIEW_RADIUS, VIEW_RADIUS, -VIEW_RADIUS, VIEW_RADIUS)
    _rings(canvas, view, coarse)
    for start, end in view.jaws:
        canvas.line(*start, *end, "mark")
    if not coarse:
        canvas.polyline(view.turning, "reference")
        _arrow_head(canvas, view)
        canvas.line(-_SMALL, 0.0, _SMALL, 0.0, "reference")
    canvas.label(0.0, 0.0, "<+" if coarse else "+", "middle", "reference")
    for place in view.waiting:
        canvas.label(*place, ":", "middle", "reference")
    for trace in reversed(view.drawn_turns):
        _trace(canvas, trace, trace is view.drawn_turns[0], coarse)
    for (x, y), text in view.names if canvas.rows >= _LEAST_ROWS_FOR_NAMES else ():
        canvas.label(x, y, text, "left" if x > 1 else "right" if x < -1 else "middle")
    if view.indicator is not None:
        start, end = view.indicator
        canvas.line(*start, *end, "mark")
        canvas.label(*end, "#", "middle", "mark")


def _rings(canvas: Canvas, view: PolarView, coarse: bool) -> None:
    radii = view.rings if not coarse and canvas.rows >= _LEAST_ROWS_FOR_RINGS else ()
    for radius in radii:
        canvas.circle(0.0, 0.0, radius, "reference", every=3 if radius == 1 else 7)


def _arrow_head(canvas: Canvas, view: PolarView) -> None:
    if len(view.turning) > 1:
        (x, y), wing = view.turning[-1], 0.16
        canvas.line(x, y, x + wing, y + wing / 4, "reference")
        canvas.line(x, y, x + wing / 8, y + wing * 1.1, "reference")


def _trace(canvas: Canvas, trace: DrawnTurn, present: bool, coarse: bool) -> None:
    ink: Ink = "data" if present else "reference"
    if present:
        canvas.polyline(trace.fitted, ink, closed=True)
    elif not coarse:
        for x, y in trace.fitted[::3]:
            canvas.point(x, y, ink)
    for x, y in trace.points:
        canvas.label(x, y, trace.letter, "middle", ink)
    if present and trace.high is not None:
        canvas.label(*trace.high, "H", "middle", "mark")
