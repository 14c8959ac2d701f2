"""A list of figures, each with a name, a value with its unit, and a note."""

from collections.abc import Sequence

from textual.content import Content
from textual.widget import Widget

from core.operations.form import Figure
from core.values.plain_text import clean, wrapped
from tui.glyphs import Glyphs, glyphs_of

_GAP = 2


class FigureList(Widget):
    """A list of figures: names in one column, values in the next, and notes after the values if there is room."""

    def __init__(self, figures: Sequence[Figure] = (), *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._figures = tuple(figures)

    def show(self, figures: Sequence[Figure]) -> None:
        """Show other figures in place of the present ones."""
        self._figures = tuple(figures)
        self.refresh(layout=True)

    def render(self) -> Content:
        """Return the figures as text for the screen."""
        return Content("\n").join(self._lines(self.size.width))

    def get_content_height(self, container: object, viewport: object, width: int) -> int:
        """Return the number of rows that the figures need."""
        return len(self._lines(width))

    def _lines(self, columns: int) -> list[Content]:
        return figure_contents(self._figures, columns, glyphs_of(self.app))


def figure_contents(figures: Sequence[Figure], columns: int, glyphs: Glyphs) -> list[Content]:
    """Return figures as rows of text, at most `columns` wide, for a figure list or a pager."""
    spelt = [Figure(*(glyphs.text(clean(part)) for part in figure)) for figure in figures]
    names = max((len(figure.name) for figure in spelt), default=0)
    values = max((len(figure.value) for figure in spelt), default=0)
    names = min(names, columns - _GAP - min(values, columns // 3))
    return [line for figure in spelt for line in _figure_lines(figure, names, columns)]


def _figure_lines(figure: Figure, names: int, columns: int) -> list[Content]:
    """Return the rows of one figure. Nothing is shortened: text that does not fit goes into further rows.

    `names` is the width of the column of names.
    """
    name = figure.name.ljust(names)
    if len(name) + _GAP + len(figure.value) <= columns:
        lines = [Content.assemble(name, " " * _GAP, (figure.value, "bold"))]
    else:
        lines = [Content(line) for line in wrapped(figure.name, columns)]
        lines += [Content.styled(line, "bold") for line in wrapped(figure.value, columns, first="  ", others="  ")]
    if figure.note:
        note = (figure.note, "$text-muted")
        if lines[-1].cell_length + _GAP + len(figure.note) <= columns:
            lines[-1] = Content.assemble(lines[-1], " " * _GAP, note)
        else:
            lines.append(Content.assemble("  ", note))
    return lines
