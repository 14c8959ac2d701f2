"""The list of what the user can open or start while no job is open."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from textual.content import Content

from core.values.plain_text import clean
from tui.glyphs import cut, glyphs_of
from tui.widgets.line_list import LineList

if TYPE_CHECKING:
    from core.events.state import RunSummary

_LEAST_FOR_NOTE, _LEAST_FOR_NAME = 20, 16


class StartEntry(NamedTuple):
    """One entry of the list: its sort (such as "recent"), a name, a note, and the action to run on Enter."""

    what: str
    name: str
    note: str
    act: Callable[[], None]
    run: "RunSummary | None" = None
    """The unfinished run that this entry continues; None for any other entry."""


class StartList(LineList):
    """A list of entries in three columns: sort, name and note. On a narrow screen, the notes are shortened first."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._entries: Sequence[StartEntry] = ()

    def show_entries(self, entries: Sequence[StartEntry]) -> None:
        """Show these entries in place of those shown so far."""
        self._entries = entries
        self.set_count(len(entries))

    @property
    def entry(self) -> StartEntry | None:
        """The entry under the cursor; None if the list is empty."""
        return self._entries[self.cursor] if self._entries else None

    def search_text(self, index: int) -> str:
        """Return the text of an entry that a search looks through: its sort, name and note."""
        entry = self._entries[index]
        return glyphs_of(self.app).text(clean(f"{entry.what} {entry.name} {entry.note}"))

    def line(self, index: int, columns: int) -> Content:
        """Return the row of the entry at `index`, `columns` characters wide, as it is painted.

        The sort is shown only in the first of several successive entries of the same sort.
        """
        glyphs = glyphs_of(self.app)
        entry = self._entries[index]
        what = "" if index and self._entries[index - 1].what == entry.what else entry.what
        first = max(len(entry.what) for entry in self._entries) + 2
        second = max(len(clean(entry.name)) for entry in self._entries) + 2
        name, note = glyphs.text(clean(entry.name)), glyphs.text(clean(entry.note))
        # A run's progress and start time are never cut. The name is shortened instead.
        kept = max((len(clean(entry.note)) for entry in self._entries if entry.run), default=0) + 1
        second = min(second, columns - first - (kept if entry.run and columns - first - kept >= _LEAST_FOR_NAME else 0))
        room = columns - first - second
        if room < _LEAST_FOR_NOTE:
            second, note = columns - first, ""
        name = cut(name, second, glyphs["ellipsis"]).ljust(second)
        # The end of a long path tells more than its start.
        if len(note) > room and "/" in note:
            note = glyphs["ellipsis"] + note[len(note) - room + len(glyphs["ellipsis"]) :]
        note = cut(note, room, glyphs["ellipsis"])
        return Content.assemble((what.ljust(first), "$text-primary"), name, (note, "$text-muted"))
