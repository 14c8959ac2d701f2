"""A page of text that may be longer than the screen. Only the visible rows are painted."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from textual.binding import Binding
from textual.content import Content
from textual.events import Resize
from textual.geometry import Size
from textual.strip import Strip
from textual.visual import Visual

from tui.glyphs import glyphs_of
from tui.widgets.searchable_view import SearchableView

if TYPE_CHECKING:
    from tui.widgets.search_line import Sought

_GUTTER = 2
"""The number of columns before the text that hold the signs of found rows during a search."""
_ABOVE = 2
"""The number of rows shown above the found row."""
Writer = Callable[[int], Sequence[Content]]
"""Returns the rows of a text for a width in columns."""


class Pager(SearchableView):
    """A text wrapped to its present width. The arrow keys scroll it, and nothing in it can be selected."""

    BINDINGS = [
        Binding("up,minus,subtract", "lines(-1)", "Line up", show=False),
        Binding("down,plus,add", "lines(1)", "Line down", show=False),
        Binding("pageup", "page(-1)", "Page up", show=False),
        Binding("pagedown,space", "page(1)", "Page down", show=False),
        Binding("home", "end(False)", "Beginning", show=False),
        Binding("end", "end(True)", "End", show=False),
    ]

    def __init__(self, write: Writer, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._write = write
        self._lines: Sequence[Content] = ()
        self._written_for = Size(0, 0)
        self._found: int | None = None
        """The index of the found row that is shown."""

    def show(self, write: Writer) -> None:
        """Show another text from its first row on. `write` returns the rows of the text for a width in columns."""
        self._write = write
        self._written_for = Size(0, 0)
        self._lay_out()
        self.scroll_to(y=0, animate=False)

    def action_lines(self, lines: int) -> None:
        """Scroll down by `lines` rows, or up if `lines` is negative."""
        self.scroll_relative(y=lines, animate=False)

    def action_page(self, pages: int) -> None:
        """Scroll down by `pages` pages, or up if `pages` is negative."""
        self.scroll_relative(y=pages * max(self.scrollable_content_region.height - 1, 1), animate=False)

    def action_end(self, last: bool) -> None:
        """Scroll to the last row if `last`, otherwise to the first row."""
        self.scroll_to(y=len(self._lines) if last else 0, animate=False)

    def on_resize(self, event: Resize) -> None:
        """Wrap the text again for the new size."""
        self._lay_out()

    def render_line(self, y: int) -> Strip:
        """Return visible row `y`, counted from the top of the page on the screen."""
        index = self.scroll_offset.y + y
        columns = self.scrollable_content_region.width
        style = self.visual_style
        if index >= len(self._lines):
            return Strip.blank(columns, style.rich_style)
        strips = Visual.to_strips(self, self._line(index), columns, 1, style, pad=True)
        return strips[0] if strips else Strip.blank(columns, style.rich_style)

    def _line(self, index: int) -> Content:
        """Return the row with this index.

        During a search, a row that contains the words searched for starts with a sign, and any other row with blanks.
        """
        line, sought, glyphs = self._lines[index], self._sought, glyphs_of(self.app)
        if sought is None:
            return line
        if not sought.is_in(line.plain):
            return Content(" " * _GUTTER) + line
        return Content(f"{glyphs['current' if index == self._found else 'bullet']} ") + sought.shown_in(line)

    # Searching.

    @property
    def search_texts(self) -> Sequence[str]:
        """The texts of all rows, as they are wrapped now."""
        return [line.plain for line in self._lines]

    @property
    def search_place(self) -> int:
        """The index of the first visible row, at which a search starts."""
        return self.scroll_offset.y

    def show_search(self, sought: "Sought | None", index: int | None) -> None:
        """Mark the rows that contain the words in `sought`, and scroll to the row with this index.

        If `index` is None, do not scroll. If `sought` is None, the search ends.
        """
        opens_or_closes = (sought is None) != (self._sought is None)
        self._sought, self._found = sought, index if sought is not None and sought.text.strip() else None
        if opens_or_closes:
            self._written_for = Size(0, 0)
            self._lay_out()
        if index is not None:
            self._keep_in_sight(index)
        self.refresh()

    def _keep_in_sight(self, index: int) -> None:
        top, rows = self.scroll_offset.y, self.scrollable_content_region.height
        if not top <= index < top + rows:
            self.scroll_to(y=max(index - _ABOVE, 0), animate=False, force=True)

    def _lay_out(self) -> None:
        # The scroll bar's column is kept free, so that the bar does not make the text longer again.
        columns = self.size.width - 1
        if columns > 0 and self.size != self._written_for:
            self._written_for = self.size
            self._lines = self._write(columns if self._sought is None else max(columns - _GUTTER, 1))
        self.virtual_size = Size(self.scrollable_content_region.width, len(self._lines))
        self.refresh()
