"""Paints the picture of the current step: the dial at the mark to set, a drawing of the cut, and sentences."""

from collections.abc import Sequence
from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from core.run.step_pictures import StepPicture
from core.values.plain_text import clean, wrapped
from tui.counter.dial_strip import strip_lines
from tui.glyphs import Glyphs, glyphs_of
from tui.terminal import Dots, terminal_of
from tui.widgets.canvas import INKS, Canvas, Ink, Run
from tui.widgets.drawing_painter import paint_drawing, signs

Row = tuple[Run, ...]

_LEAST_DRAWING_ROWS, _USUAL_DRAWING_ROWS = 6, 10
_MOST_DRAWING_ROWS = 22
_MOST_KEPT = 4
"""How many painted pictures are kept. An undo shows an earlier picture again."""


class StepSketch(Widget):
    """The picture at the right of the counter. It is made once for each size, and only changed rows are painted."""

    ALLOW_SELECT = False
    COMPONENT_CLASSES: ClassVar[set[str]] = {f"step-sketch--{ink}" for ink in INKS}
    DEFAULT_CSS = """
    StepSketch { dock: right; height: 100%; display: none; padding-left: 1; }
    StepSketch > .step-sketch--reference { color: $text-muted; }
    StepSketch > .step-sketch--mark { color: $text-accent; text-style: bold; }
    StepSketch > .step-sketch--label { color: $text-primary; text-style: bold; }
    StepSketch > .step-sketch--cut { color: $text-accent; text-style: bold; }
    """

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._picture = StepPicture()
        self._rows: tuple[Row, ...] = ()
        self._save: dict[tuple[StepPicture, int, int], tuple[Row, ...]] = {}
        self._inks: dict[Ink, Style] = {}

    def show_picture(self, picture: StepPicture) -> None:
        """Show the picture of a step."""
        self._picture = picture
        before, self._rows = self._rows, self._arranged()
        changed = [y for y in range(max(len(before), len(self._rows))) if _row(before, y) != _row(self._rows, y)]
        self.refresh(*(Region(0, y, self.size.width, 1) for y in changed))

    def on_resize(self) -> None:
        """Make the picture again for the new size."""
        self._rows = self._arranged()
        self.refresh()

    def notify_style_update(self) -> None:
        """Paint the picture again after a change of theme or style."""
        super().notify_style_update()
        self._inks = {}

    def render_line(self, y: int) -> Strip:
        """Return one painted row of the picture."""
        if not self._inks:
            self._inks = {ink: self.get_component_rich_style(f"step-sketch--{ink}") for ink in INKS}
        strip = Strip([Segment(run.text, self._inks[run.ink]) for run in _row(self._rows, y)])
        return strip.adjust_cell_length(self.size.width, self._inks["data"])

    def _arranged(self) -> tuple[Row, ...]:
        columns, rows = self.size
        if not columns or not rows or not self._picture:
            return ()
        key = self._picture, columns, rows
        arranged = self._save.get(key)
        if arranged is None:
            if len(self._save) >= _MOST_KEPT:
                del self._save[next(iter(self._save))]
            dots = terminal_of(self.app).dots
            arranged = self._save[key] = tuple(_arranged(self._picture, columns, rows, glyphs_of(self.app), dots))
        return arranged


def _row(rows: Sequence[Row], y: int) -> Row:
    return rows[y] if y < len(rows) else ()


def _arranged(picture: StepPicture, columns: int, rows: int, glyphs: Glyphs, dots: Dots) -> list[Row]:
    """Return the rows of the picture: the dial at the top, the drawing in the middle, the sentences at the bottom."""
    top = [] if picture.dial is None else strip_lines(picture.dial, columns, glyphs)
    drawing, above = picture.drawing, [_words(line) for line in top]
    if drawing is None:
        return above
    sentences = [words for words in (*drawing.sentences, signs(drawing, dots), drawing.viewpoint) if words]
    below = _lines(sentences, columns, glyphs)
    while below and rows - len(top) - len(below) < _USUAL_DRAWING_ROWS:
        # On a low screen the drawing has priority over its sentences, and numbers over other sentences.
        sentences = sentences[:-1]
        below = _lines(sentences, columns, glyphs)
    room = min(rows - len(top) - len(below), _MOST_DRAWING_ROWS)
    if room < _LEAST_DRAWING_ROWS:
        return above
    canvas = Canvas(columns, room, dots)
    paint_drawing(canvas, drawing, lambda text: clean(glyphs.text(text)))
    return [*above, *map(tuple, canvas.lines()), *map(_words, below)]


def _words(line: str) -> Row:
    return (Run(clean(line, 400), "data"),)


def _lines(sentences: Sequence[str], columns: int, glyphs: Glyphs) -> list[str]:
    return [line for words in sentences for line in wrapped(glyphs.text(words), columns)]
