"""The picture of the step at hand beside the counter's words: its dial at the mark, what is cut or swung, sentences."""

from collections.abc import Sequence

from textual.content import Content
from textual.widget import Widget

from core.step_pictures import StepPicture
from tui.glyphs import Glyphs, glyphs_of
from tui.terminal import Terminal
from tui.widgets.canvas import Canvas
from tui.widgets.dial_strip import strip_lines
from tui.widgets.drawing_painter import paint_drawing, signs
from tui.widgets.picture import painted_line
from tui.widgets.wrapping import wrapped

_LEAST_DRAWING_ROWS, _USUAL_DRAWING_ROWS = 6, 10
_MOST_DRAWING_ROWS = 22
_MOST_KEPT = 4
"""Pictures that are kept as painted: the one at hand, and those just before, which an undo shows again."""


class StepSketch(Widget):
    """Stands at the right of the counter. A picture is painted once for a size, however often it is looked at."""

    DEFAULT_CSS = """
    StepSketch { dock: right; height: 100%; display: none; padding-left: 1; }
    """

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._picture = StepPicture()
        self._kept: dict[tuple[StepPicture, int, int], Content] = {}

    def show_picture(self, picture: StepPicture) -> None:
        """Show the picture of a step."""
        if picture != self._picture:
            self._picture = picture
            self.refresh()

    def notify_style_update(self) -> None:
        """Paint anew in another look."""
        super().notify_style_update()
        self._kept.clear()

    def render(self) -> Content:
        """Return the picture at the present size."""
        columns, rows = self.size
        if not columns or not rows or not self._picture:
            return Content("")
        key = self._picture, columns, rows
        found = self._kept.get(key)
        if found is None:
            if len(self._kept) >= _MOST_KEPT:
                del self._kept[next(iter(self._kept))]
            found = self._kept[key] = self._painted(columns, rows)
        return found

    def _painted(self, columns: int, rows: int) -> Content:
        """Return dial above, drawing in the middle, sentences below; the drawing has the rows these leave."""
        glyphs, drawing = glyphs_of(self.app), self._picture.drawing
        above = [] if self._picture.dial is None else [*strip_lines(self._picture.dial, columns, glyphs)]
        top = [Content(glyphs.text(line)) for line in above]
        if drawing is None:
            return Content("\n").join(top)
        dots = getattr(self.app, "terminal", Terminal()).dots
        sentences = [words for words in (*drawing.says, signs(drawing, dots), drawing.seen) if words]
        below = _lines(sentences, columns, glyphs)
        while below and rows - len(top) - len(below) < _USUAL_DRAWING_ROWS:
            # On a low screen the drawing comes before what is said of it, the numbers before the rest.
            sentences = sentences[:-1]
            below = _lines(sentences, columns, glyphs)
        room = min(rows - len(top) - len(below), _MOST_DRAWING_ROWS)
        if room < _LEAST_DRAWING_ROWS:
            return Content("\n").join(top)
        canvas = Canvas(columns, room, dots)
        paint_drawing(canvas, drawing, glyphs.text)
        middle = [painted_line(runs) for runs in canvas.lines()]
        return Content("\n").join([*top, *middle, *map(Content, below)])


def _lines(sentences: Sequence[str], columns: int, glyphs: Glyphs) -> list[str]:
    return [line for words in sentences for line in wrapped(glyphs.text(words), columns)]
