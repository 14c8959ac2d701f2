"""The widget that shows a pattern to scale, and in a run how far each position is cut."""

from core.operations.patterns.picture import PatternPicture
from core.run.cut_progress import PatternProgress
from tui.widgets.pattern_drawing import PatternDrawing
from tui.widgets.picture import Picture


class PatternSketch(Picture):
    """Shows one pattern. Its drawing is kept while the pattern stays the same."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._picture: PatternPicture | None = None
        self._drawing: PatternDrawing | None = None
        self._standing: PatternProgress | None = None

    def show_pattern(self, picture: PatternPicture | None, standing: PatternProgress | None = None) -> None:
        """Show a pattern, or nothing. With `standing`, show it as far as a run has cut it."""
        if picture is None:
            self._picture = self._drawing = None
            self.show(None)
            return
        if self._drawing is None or picture != self._picture:
            self._picture, self._drawing = picture, PatternDrawing(picture)
        elif standing == self._standing:
            return
        self._standing, drawing = standing, self._drawing
        self.show(lambda canvas: drawing.draw(canvas, standing))
