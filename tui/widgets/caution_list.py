"""A list of cautions, each after a caution sign. Long cautions are wrapped and never shortened."""

from collections.abc import Sequence

from textual.content import Content
from textual.widget import Widget

from core.values.plain_text import clean, wrapped
from tui.glyphs import glyphs_of

_LONGEST = 600


class CautionList(Widget):
    """Cautions, one below the other. An empty list takes no room."""

    def __init__(self, cautions: Sequence[str] = (), *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._cautions = tuple(cautions)
        self.display = bool(cautions)

    def show(self, cautions: Sequence[str]) -> None:
        """Show other cautions in place of the present ones."""
        self._cautions = tuple(cautions)
        self.display = bool(cautions)
        self.refresh(layout=True)

    def render(self) -> Content:
        """Return the cautions as text for the screen."""
        return Content("\n".join(self._lines(self.size.width)))

    def get_content_height(self, container: object, viewport: object, width: int) -> int:
        """Return the number of rows that the cautions need."""
        return len(self._lines(width))

    def _lines(self, columns: int) -> list[str]:
        glyphs = glyphs_of(self.app)
        mark = f"{glyphs['caution']} "
        return [
            line
            for caution in self._cautions
            for line in wrapped(glyphs.text(clean(caution, _LONGEST)), columns, first=mark, others="  ")
        ]
