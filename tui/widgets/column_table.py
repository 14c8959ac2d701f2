"""A long list with columns and one heading. Only the visible rows are created."""

from collections.abc import Callable, Sequence
from typing import Literal, NamedTuple

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.events import Resize
from textual.widgets import Static

from core.values.plain_text import clean
from tui.glyphs import glyphs_of
from tui.widgets.line_list import LineList

_GAP = "  "
_POINTER = "  "
"""The blanks at the start of every row, which a list reserves for its pointer."""
RowOf = Callable[[int], Sequence[str]]
"""Returns the cells of one row, given the row's index from 0."""


class Column(NamedTuple):
    """One column of a list. If the list is too narrow, the columns with the highest `rank` are hidden first."""

    title: str
    width: int
    rank: int = 0
    align: Literal["left", "right"] = "right"


class ColumnLines(LineList):
    """The rows of a list with columns, without its heading."""

    def __init__(self, columns: Sequence[Column], *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._columns = columns
        self._row_of: RowOf = _no_row

    def show_rows(self, columns: Sequence[Column], count: int, row_of: RowOf) -> None:
        """Show `count` rows in these columns. `row_of` returns the cells of the row with a given index."""
        self._columns, self._row_of = columns, row_of
        self.set_count(count)

    def search_text(self, index: int) -> str:
        """Return the visible cells of one row. A search ignores hidden columns."""
        return self.line(index, self.scrollable_content_region.width - len(_POINTER)).plain

    def line(self, index: int, columns: int) -> Content:
        """Return the row with this index, at most `columns` wide."""
        cells = [glyphs_of(self.app).text(clean(cell)) for cell in self._row_of(index)]
        return Content(row_text(cells, self._columns, columns))


class ColumnTable(Vertical):
    """A list with columns, and with a heading above its rows."""

    DEFAULT_CSS = """
    ColumnTable { width: 1fr; height: 1fr; }
    ColumnTable > Static { height: 1; color: $text-primary; text-style: bold; text-wrap: nowrap; }
    """

    def __init__(self, columns: Sequence[Column], *, id: str | None = None, can_search: bool = True) -> None:
        super().__init__(id=id)
        self._columns = columns
        self.lines = ColumnLines(columns)
        self.lines.can_search = can_search

    def compose(self) -> ComposeResult:
        """Yield the heading, then the rows."""
        yield Static(markup=False)
        yield self.lines

    def show_rows(self, count: int, row_of: RowOf, columns: Sequence[Column] | None = None) -> None:
        """Show `count` rows. `row_of` returns the cells of the row with a given index.

        If `columns` is not None, these columns replace the present ones.
        """
        self._columns = self._columns if columns is None else columns
        self.lines.show_rows(self._columns, count, row_of)
        self._show_heading()

    def on_resize(self, event: Resize) -> None:
        """Fit the heading to the new width."""
        self._show_heading()

    def _show_heading(self) -> None:
        titles = [glyphs_of(self.app).text(column.title) for column in self._columns]
        # The list reserves a column for its scroll bar.
        room = self.size.width - len(_POINTER) - 1
        self.query_one(Static).update(Content(_POINTER + row_text(titles, self._columns, room)))


def row_text(cells: Sequence[str], columns: Sequence[Column], room: int) -> str:
    """Return one row of text with each cell in its column.

    `room` is the width for the row in characters. Columns for which there is no room are left out.

    >>> row_text(["1", "0 turns"], [Column("no.", 3), Column("set to", 8, 1)], 13)
    '  1   0 turns'
    """
    shown = _fitting(columns, room)
    parts = [
        f"{cell:>{column.width}}" if column.align == "right" else f"{cell:<{column.width}}"
        for index, (cell, column) in enumerate(zip(cells, columns, strict=True))
        if index in shown
    ]
    return _GAP.join(parts).rstrip()


def _fitting(columns: Sequence[Column], room: int) -> set[int]:
    """Return the indexes of the columns that fit into `room` characters, always at least one.

    Columns with a low rank are preferred.
    """
    chosen: set[int] = set()
    used = -len(_GAP)
    for index in sorted(range(len(columns)), key=lambda index: (columns[index].rank, index)):
        used += columns[index].width + len(_GAP)
        if used > room and chosen:
            break
        chosen.add(index)
    return chosen


def _no_row(index: int) -> Sequence[str]:
    raise IndexError(index)
