"""The list of answers on the conversion page. An answer may take up several rows of the screen."""

from collections.abc import Sequence
from typing import NamedTuple

from textual.content import Content
from textual.events import Resize

from core.values.plain_text import wrapped
from core.values.words import Row
from tui.glyphs import Glyphs, glyphs_of
from tui.widgets.line_list import LineList

_GAP = 2
_EDGE = 3
"""The columns that the pointer and the scroll bar take."""
_LEAST_VALUE = 28
"""The fewest columns for a value next to its label. With fewer columns, the value is below the label."""
_HARD_SPACE = "\u00a0"
_LONGEST_NAME = 26


class _RowLine(NamedTuple):
    content: Content
    row: int


class AnswerList(LineList):
    """The answers to a question. Moving up from the first answer goes back to the field with the question."""

    # On this page / belongs to a typed fraction such as 1/2, so it starts no search.
    can_search = False

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._rows: Sequence[Row] = ()
        self._laid_out: list[_RowLine] = []
        self._muted = False
        self._columns = 0

    @property
    def row(self) -> Row | None:
        """The answer under the cursor; None if there are no answers."""
        return self._rows[self._laid_out[self.cursor].row] if self._laid_out else None

    def show_rows(self, rows: Sequence[Row], *, muted: bool = False) -> None:
        """Show answers in place of those shown so far. `muted`: True if they belong to an earlier question."""
        if rows == self._rows and muted == self._muted:
            return
        if rows != self._rows:
            self.cursor = 0
            self.scroll_to(y=0, animate=False)
        self._rows, self._muted = rows, muted
        self._lay_out()

    def point_at(self, row: int) -> None:
        """Put the cursor on the answer at index `row`."""
        self.cursor = self._first_line(row)

    def line(self, index: int, columns: int) -> Content:
        """Return the painted row of the screen at `index`."""
        return self._laid_out[index].content

    def action_move(self, step: int) -> None:
        """Move the cursor by `step` answers. From the first answer, a move up goes back to the question's field."""
        if not self._laid_out:
            self.screen.focus_previous()
            return
        row = self._laid_out[self.cursor].row + step
        if row < 0:
            self.screen.focus_previous()
        elif row < len(self._rows):
            self.point_at(row)
            # An answer of several rows is scrolled into view as a whole.
            self.keep_in_sight(max(place for place, line in enumerate(self._laid_out) if line.row == row))
            self.keep_in_sight(self.cursor)

    def on_resize(self, event: Resize) -> None:
        """Arrange the answers again if the width of the list has changed."""
        if self.size.width != self._columns:
            row = self._laid_out[self.cursor].row if self._laid_out else 0
            self._lay_out()
            self.point_at(row)
        super().on_resize(event)

    def _first_line(self, row: int) -> int:
        return next((place for place, line in enumerate(self._laid_out) if line.row == row), 0)

    def _lay_out(self) -> None:
        self._columns = self.size.width
        columns = self._columns - _EDGE
        if columns <= 0:
            self._laid_out = []
        else:
            self._laid_out = row_lines(self._rows, columns, glyphs_of(self.app), muted=self._muted)
        self.set_count(len(self._laid_out))


def row_lines(rows: Sequence[Row], columns: int, glyphs: Glyphs, *, muted: bool = False) -> list[_RowLine]:
    """Return answers as painted rows, at most `columns` wide. Each row has the index of its answer in `rows`.

    `muted`: True to paint them as answers to an earlier question.
    """
    labels = max((len(glyphs.text(row.label)) for row in rows), default=0)
    beside = columns - labels - _GAP >= _LEAST_VALUE
    lines: list[_RowLine] = []
    for place, row in enumerate(rows):
        label, words = glyphs.text(row.label), glyphs.text(row.words)
        if not beside and len(label) + _GAP + len(words) <= columns:
            lines.append(_RowLine(_painted(f"{label}{' ' * _GAP}", words, muted), place))
            continue
        indent = labels + _GAP if beside else _GAP
        if label and not beside:
            lines.append(_RowLine(_painted(label, "", muted), place))
            label = ""
        for text in wrapped(_held_together(words), columns - indent):
            lines.append(_RowLine(_painted(label.ljust(indent), text.replace(_HARD_SPACE, " "), muted), place))
            label = ""
    return lines


def _held_together(words: str) -> str:
    """Return a list of short names with no-break spaces in each name, so that no name is split between rows.

    >>> _held_together("1 1/8-8 UN, 6-8 UN") == "1\\xa01/8-8\\xa0UN, 6-8\\xa0UN"
    True
    """
    names = words.split(", ")
    if len(names) < 2 or max(map(len, names)) > _LONGEST_NAME:
        return words
    return ", ".join(name.replace(" ", _HARD_SPACE) for name in names)


def _painted(label: str, words: str, muted: bool) -> Content:
    if muted:
        return Content.styled(f"{label}{words}", "$text-muted")
    return Content.assemble(label, (words, "bold"))
