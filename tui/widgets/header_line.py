"""The top row of every screen: the screen's title, and the lathe to which its numbers apply."""

from collections.abc import Callable

from textual.content import Content
from textual.widget import Widget

from core.lathe.lathe import Lathe
from core.values.plain_text import clean
from tui.context import context_of
from tui.glyphs import cut, glyphs_of


class HeaderLine(Widget):
    """Shows the title on the left, and on the right the lathe's name or "example lathe"."""

    def __init__(self, lathe: Callable[[], Lathe]) -> None:
        """Make the row. `lathe` returns the lathe to which the numbers on the screen apply."""
        super().__init__()
        self._lathe = lathe

    def on_mount(self) -> None:
        """Update the row whenever the title or the lathe changes."""
        self.watch(self.screen, "title", self._changed, init=False)
        context_of(self).lathe_changed.subscribe(self, lambda _: self._changed())

    def on_unmount(self) -> None:
        """Stop following changes of the lathe. Otherwise the program would keep this widget in memory."""
        context_of(self).lathe_changed.unsubscribe(self)

    def render(self) -> Content:
        """Return the row as text for the screen.

        If there is little room, the title is shortened and "example lathe" stays.
        """
        lathe = self._lathe()
        spell = glyphs_of(self.app).text
        columns = self.size.width
        title = spell(clean(self.screen.title or ""))
        name = "example lathe" if lathe.example else spell(clean(lathe.name, 80))
        room = len(name) if lathe.example else columns - min(len(title), columns // 2) - 3
        name = cut(name, max(room, 0))
        title = cut(title, max(columns - len(name) - 3, 0))
        gap = max(columns - len(title) - len(name) - 2, 1)
        return Content(f" {title}{' ' * gap}{name} ")

    def _changed(self) -> None:
        self.refresh()
