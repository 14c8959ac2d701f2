"""A list of rows with a selection. Only visible rows are created, because a run may have twenty thousand steps."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual.binding import Binding
from textual.content import Content
from textual.events import Click, Resize
from textual.geometry import Size
from textual.message import Message
from textual.reactive import reactive
from textual.strip import Strip
from textual.visual import Visual

from tui.glyphs import cut, glyphs_of
from tui.themes import chosen_style
from tui.widgets.searchable_view import SearchableView

if TYPE_CHECKING:
    from tui.widgets.search_line import Sought

_GUTTER = 2
_WHOLE_LINE = 300
"""The width at which a row is searched [columns]. A list with longer rows overrides `search_text`."""


class LineList(SearchableView):
    """A list in which the arrow keys select a row. The screen decides what Enter does.

    Either call `show` with all rows, or override `line` and call `set_count` with their number.
    """

    BINDINGS = [
        Binding("up", "move(-1)", "Previous line", show=False),
        Binding("down", "move(1)", "Next line", show=False),
        Binding("pageup", "page(-1)", "Page up", show=False),
        Binding("pagedown", "page(1)", "Page down", show=False),
        Binding("home", "end(False)", "First line", show=False),
        Binding("end", "end(True)", "Last line", show=False),
    ]

    cursor = reactive(0)

    @dataclass
    class Moved(Message):
        """Sent when the selection has moved to another row."""

        lines: "LineList"
        index: int

        @property
        def control(self) -> "LineList":
            """The list that sent the message. Textual's @on reads it to select messages by the id of a list."""
            return self.lines

    def __init__(
        self, lines: Sequence[str | Content] = (), *, id: str | None = None, classes: str | None = None
    ) -> None:
        super().__init__(id=id, classes=classes)
        self._lines: Sequence[str | Content] = lines
        self.count = len(lines)
        self._search_texts: list[str] | None = None

    def show(self, lines: Sequence[str | Content]) -> None:
        """Show other rows in place of the present ones. Markup in their text is not interpreted."""
        self._lines = lines
        self.set_count(len(lines))

    def set_count(self, count: int) -> None:
        """Set the number of rows and repaint them."""
        self.count, self._search_texts = count, None
        self.cursor = max(min(self.cursor, count - 1), 0)
        self._resize()
        self.refresh(layout=True)

    def line(self, index: int, columns: int) -> Content:
        """Return the row with this index, at most `columns` wide."""
        line = self._lines[index]
        if not isinstance(line, str):
            return line
        glyphs = glyphs_of(self.app)
        return Content(cut(glyphs.text(line), columns, glyphs["ellipsis"]))

    @property
    def is_pointing(self) -> bool:
        """True if the selection is visible."""
        return self.has_focus or self._sought is not None

    def validate_cursor(self, cursor: int) -> int:
        """Return the index of the existing row nearest to `cursor`."""
        return max(min(cursor, self.count - 1), 0)

    def watch_cursor(self, before: int, cursor: int) -> None:
        """Scroll so that the selection stays in sight. If the selection has moved, send Moved."""
        self.keep_in_sight(cursor)
        self.refresh()
        if before != cursor:
            self.post_message(self.Moved(self, cursor))

    def keep_in_sight(self, index: int) -> None:
        """Scroll as little as needed to show the row with this index."""
        rows = self.scrollable_content_region.height
        top = self.scroll_offset.y
        if index < top:
            self.scroll_to(y=index, animate=False, force=True)
        elif rows and index >= top + rows:
            self.scroll_to(y=index - rows + 1, animate=False, force=True)

    def action_move(self, step: int) -> None:
        """Move the selection down by `step` rows, or up if `step` is negative."""
        self.cursor += step

    def action_page(self, pages: int) -> None:
        """Move the selection down by `pages` pages, or up if `pages` is negative."""
        self.cursor += pages * max(self.scrollable_content_region.height - 1, 1)

    def action_end(self, last: bool) -> None:
        """Move the selection to the last row if `last`, otherwise to the first row."""
        self.cursor = self.count - 1 if last else 0

    def on_click(self, event: Click) -> None:
        """Select the row that was clicked. A double click also does what Enter does."""
        self.cursor = self.scroll_offset.y + event.y
        if event.chain == 2:
            self.app.simulate_key("enter")

    def on_resize(self, event: Resize) -> None:
        """Keep the selection in sight when the size changes."""
        self._search_texts = None
        self._resize()
        self.keep_in_sight(self.cursor)

    def on_focus(self) -> None:
        """Paint the selection, which is visible while the list has the focus."""
        self.refresh()

    def on_blur(self) -> None:
        """Paint the list without its selection."""
        self.refresh()

    def render_line(self, y: int) -> Strip:
        """Return visible row `y`, counted from the top of the list on the screen."""
        index = self.scroll_offset.y + y
        columns = self.scrollable_content_region.width
        style = self.visual_style
        if index >= self.count or columns <= _GUTTER:
            return Strip.blank(columns, style.rich_style)
        here, sought, glyphs = index == self.cursor and self.is_pointing, self._sought, glyphs_of(self.app)
        line, sign = self.line(index, columns - _GUTTER), " "
        if sought is not None and sought.is_in(self.search_text(index)):
            line, sign = sought.shown_in(line), glyphs["bullet"]
        content = Content(f"{glyphs['current'] if here else sign} ") + line
        if here:
            content = content.pad_right(max(columns - content.cell_length, 0)).stylize(chosen_style(self.app))
        strips = Visual.to_strips(self, content, columns, 1, style, pad=True)
        return strips[0] if strips else Strip.blank(columns, style.rich_style)

    # Searching.

    def search_text(self, index: int) -> str:
        """Return the full text of the row with this index, for a search."""
        return self.line(index, _WHOLE_LINE).plain

    @property
    def search_texts(self) -> Sequence[str]:
        """The full texts of all rows, which are kept until the list or its width changes."""
        if self._search_texts is None:
            self._search_texts = [self.search_text(index) for index in range(self.count)]
        return self._search_texts

    @property
    def search_place(self) -> int:
        """The index of the row at which a search starts."""
        return self.cursor

    def show_search(self, sought: "Sought | None", index: int | None) -> None:
        """Mark the rows that contain the words in `sought`, and select the row with this index.

        If `index` is None, the selection does not move. If `sought` is None, the search ends.
        """
        self._sought = sought
        if index is not None:
            self.cursor = index
        self.refresh()

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the number of rows in the list."""
        return self.count

    def _resize(self) -> None:
        self.virtual_size = Size(self.scrollable_content_region.width, self.count)
