"""A picture on a screen. It is drawn again whenever the drawing or the size changes."""

from collections.abc import Callable

from textual.content import Content
from textual.widget import Widget

from core.values.plain_text import clean
from tui.terminal import terminal_of
from tui.widgets.canvas import Canvas, Ink, Run

Draw = Callable[[Canvas], None]

STYLES: dict[Ink, str] = {
    "data": "$text",
    "reference": "$text-muted",
    "mark": "bold $text-accent",
    "label": "bold $text-primary",
    "cut": "bold $text-accent",
}


class Picture(Widget):
    """A picture drawn by a function that the caller gives, on an empty canvas of the widget's size."""

    def __init__(self, draw: Draw | None = None, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._draw = draw

    def show(self, draw: Draw | None) -> None:
        """Show what `draw` draws on a canvas; None shows nothing."""
        self._draw = draw
        self.refresh()

    def render(self) -> Content:
        """Return the drawing at the present size."""
        columns, rows = self.size
        if self._draw is None or not columns or not rows:
            return Content("")
        canvas = Canvas(columns, rows, terminal_of(self.app).dots)
        self._draw(canvas)
        return Content("\n").join(painted_line(runs) for runs in canvas.lines())


def painted_line(runs: list[Run]) -> Content:
    """Return one row of a canvas in the colours of its inks."""
    return Content.assemble(*((clean(run.text), STYLES[run.ink]) for run in runs))
