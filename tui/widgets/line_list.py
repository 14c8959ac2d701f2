"""A list of lines with a cursor. Only lines in sight are made, as a run may have twenty thousand steps."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual.binding import Binding
from textual.content import Content
from textual.events import Click, Resize
from textual.geometry import Size
from textual.message import Message
from textual.reactive import reactive
from textual.scroll_view import ScrollView
from textual.strip import Strip
from textual.visual import Visual

from tui.glyphs import cut, glyphs_of
from tui.themes import chosen_style

if TYPE_CHECKING:
    from tui.widgets.search_line import Sought

_GUTTER = 2
_WHOLE_LINE = 300
"""The width at which a line is searched [columns]. A list whose lines are longer overrides `search_text`."""
SEARCH_KEY = Binding(
    "slash,divide",
    "search",
    "Search",
    key_display="/",
    tooltip="Search here: type words. Enter goes to the next line that has them, Esc closes the search.",
)


class LineList(ScrollView, can_focus=True):
    """Lines through which the arrow keys move a cursor. What Enter does with the line there, the screen decides.

    Either call `show` with the lines, or override `line` and call `set_count` with their number.
    """

    BINDINGS = [
        Binding("up", "move(-1)", "Line before", show=False),
        Binding("down", "move(1)", "Next line", show=False),
        Binding("pageup", "page(-1)", "Page up", show=False),
        Binding("pagedown", "page(1)", "Page down", show=False),
        Binding("home", "end(False)", "First line", show=False),
        Binding("end", "end(True)", "Last line", show=False),
        SEARCH_KEY,
    ]

    cursor = reactive(0)
    can_search = True
    """False for a list in which nobody has to search."""

    @dataclass
    class Moved(Message):
        """The cursor moved to another line."""

        lines: "LineList"
        index: int

        @property
        def control(self) -> "LineList":
            """The list itself, so that @on can select it by its id."""
            return self.lines

    def __init__(
        self, lines: Sequence[str | Content] = (), *, id: str | None = None, classes: str | None = None
    ) -> None:
        super().__init__(id=id, classes=classes)
        self._lines: Sequence[str | Content] = lines
        self.count = len(lines)
        self.last_search = ""
        self._sought: Sought | None = None
        """The words that are searched for; None while nobody searches."""
        self._search_texts: list[str] | None = None

    def show(self, lines: Sequence[str | Content]) -> None:
        """Show these lines. Their text is shown as it is, without markup."""
        self._lines = lines
        self.set_count(len(lines))

    def set_count(self, count: int) -> None:
        """Set how many lines there are, and paint them again."""
        self.count, self._search_texts = count, None
        self.cursor = max(min(self.cursor, count - 1), 0)
        self._resize()
        self.refresh(layout=True)

    def line(self, index: int, columns: int) -> Content:
        """Return one line for a width of `columns`."""
        line = self._lines[index]
        if not isinstance(line, str):
            return line
        glyphs = glyphs_of(self.app)
        return Content(cut(glyphs.text(line), columns, glyphs["ellipsis"]))

    @property
    def is_pointing(self) -> bool:
        """Whether the cursor is shown."""
        return self.has_focus or self._sought is not None

    def validate_cursor(self, cursor: int) -> int:
        """Keep the cursor on a line."""
        return max(min(cursor, self.count - 1), 0)

    def watch_cursor(self, before: int, cursor: int) -> None:
        """Scroll so that the cursor stays in sight."""
        self.keep_in_sight(cursor)
        self.refresh()
        if before != cursor:
            self.post_message(self.Moved(self, cursor))

    def keep_in_sight(self, index: int) -> None:
        """Scroll as little as needed to show a line."""
        rows = self.scrollable_content_region.height
        top = self.scroll_offset.y
        if index < top:
            self.scroll_to(y=index, animate=False, force=True)
        elif rows and index >= top + rows:
            self.scroll_to(y=index - rows + 1, animate=False, force=True)

    def action_move(self, step: int) -> None:
        """Go up or down by lines."""
        self.cursor += step

    def action_page(self, pages: int) -> None:
        """Go up or down by the number of lines in sight."""
        self.cursor += pages * max(self.scrollable_content_region.height - 1, 1)

    def action_end(self, last: bool) -> None:
        """Go to the first or the last line."""
        self.cursor = self.count - 1 if last else 0

    def on_click(self, event: Click) -> None:
        """Move the cursor to the line that was clicked. Nobody needs a mouse for this."""
        self.cursor = self.scroll_offset.y + event.y

    def on_resize(self, event: Resize) -> None:
        """Keep the cursor in sight when there is less room."""
        self._search_texts = None
        self._resize()
        self.keep_in_sight(self.cursor)

    def on_focus(self) -> None:
        """Show the cursor."""
        self.refresh()

    def on_blur(self) -> None:
        """Hide the cursor."""
        self.refresh()

    def render_line(self, y: int) -> Strip:
        """Return row `y` of the lines in sight."""
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

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Show the key of the search only where there may be something to search for."""
        return action != "search" or (self.can_search and not self.screen.is_modal)

    def action_search(self) -> None:
        """Open the search line."""
        from tui.widgets.search_line import open_search

        self.read_all()
        open_search(self.screen, self)

    def read_all(self) -> None:
        """Get the lines that are not in the list yet, as a search needs them all."""

    def search_text(self, index: int) -> str:
        """Return one line in full, as a search sees it."""
        return self.line(index, _WHOLE_LINE).plain

    @property
    def search_texts(self) -> Sequence[str]:
        """The lines in full. They are made once, until the list changes."""
        if self._search_texts is None:
            self._search_texts = [self.search_text(index) for index in range(self.count)]
        return self._search_texts

    @property
    def search_place(self) -> int:
        """The index of the line where a search starts."""
        return self.cursor

    def show_search(self, sought: "Sought | None", index: int | None) -> None:
        """Show which lines have the words, and point at one of them. None: the search is over."""
        self._sought = sought
        if index is not None:
            self.cursor = index
        self.refresh()

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return how many rows all lines need."""
        return self.count

    def _resize(self) -> None:
        self.virtual_size = Size(self.scrollable_content_region.width, self.count)
