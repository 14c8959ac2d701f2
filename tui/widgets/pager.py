"""A page of text longer than the screen. Only the lines in sight are painted."""

from collections.abc import Callable, Sequence

from textual.binding import Binding
from textual.content import Content
from textual.events import Resize
from textual.geometry import Size
from textual.scroll_view import ScrollView
from textual.strip import Strip
from textual.visual import Visual

Writer = Callable[[int], Sequence[Content]]
"""Makes the lines of a text for a width in columns."""


class Pager(ScrollView, can_focus=True):
    """A text for the present width. The arrow keys scroll it; nothing in it can be chosen."""

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

    def show(self, write: Writer) -> None:
        """Show another text, from its first line."""
        self._write = write
        self._written_for = Size(0, 0)
        self._lay_out()
        self.scroll_to(y=0, animate=False)

    def action_lines(self, lines: int) -> None:
        """Scroll by lines."""
        self.scroll_relative(y=lines, animate=False)

    def action_page(self, pages: int) -> None:
        """Scroll by the height of the page."""
        self.scroll_relative(y=pages * max(self.scrollable_content_region.height - 1, 1), animate=False)

    def action_end(self, last: bool) -> None:
        """Go to the first or the last line."""
        self.scroll_to(y=len(self._lines) if last else 0, animate=False)

    def on_resize(self, event: Resize) -> None:
        """Write the lines again for another size."""
        self._lay_out()

    def render_line(self, y: int) -> Strip:
        """Return row `y` of the lines in sight."""
        index = self.scroll_offset.y + y
        columns = self.scrollable_content_region.width
        style = self.visual_style
        if index >= len(self._lines):
            return Strip.blank(columns, style.rich_style)
        strips = Visual.to_strips(self, self._lines[index], columns, 1, style, pad=True)
        return strips[0] if strips else Strip.blank(columns, style.rich_style)

    def _lay_out(self) -> None:
        # The scroll bar's column is kept free, so that the bar does not make the text longer again.
        columns = self.size.width - 1
        if columns > 0 and self.size != self._written_for:
            self._written_for = self.size
            self._lines = self._write(columns)
        self.virtual_size = Size(self.scrollable_content_region.width, len(self._lines))
        self.refresh()
