"""The field for searching a list or a page, shown above the message and the keys."""

import re
from collections.abc import Sequence
from typing import Any, Protocol, cast

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal
from textual.content import Content
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Input, Static

from tui.context import context_of
from tui.widgets.message_line import MessageLine
from tui.widgets.plain_input import PlainInput

FOUND_STYLE = "underline"
"""The style of found words. A sign before the row also marks it on terminals without styles."""
_LEAVES = "*"
_GOES_ON = "*/"
"""The characters that act as keys, and are not typed, while the field shows the text of the last search."""


class Sought:
    """The words that the user searches for. A row matches if it contains every word, in upper or lower case."""

    def __init__(self, text: str) -> None:
        self.text = text
        self._words = [re.compile(re.escape(word), re.IGNORECASE) for word in text.split()]

    def is_in(self, line: str) -> bool:
        """Return True if a row contains all the words of the search; False if the search has no words.

        >>> Sought("LID ring").is_in("Ring 2 of the lid"), Sought("lid").is_in("Ring 2"), Sought("").is_in("Ring 2")
        (True, False, False)
        """
        return bool(self._words) and all(word.search(line) for word in self._words)

    def shown_in(self, line: Content) -> Content:
        """Return a row in which the found words are underlined."""
        for word in self._words:
            for found in word.finditer(line.plain):
                line = line.stylize(FOUND_STYLE, found.start(), found.end())
        return line


class Searchable(Protocol):
    """A list or a page of rows that can be searched."""

    last_search: str
    """The text of the last search."""

    @property
    def search_texts(self) -> Sequence[str]:
        """The full texts of all rows of the list or page."""

    @property
    def search_place(self) -> int:
        """The index of the row at which a search starts."""

    def show_search(self, sought: Sought | None, index: int | None) -> None:
        """Mark the rows that contain the words in `sought`, and go to the row with this index.

        If `index` is None, do not go to another row. If `sought` is None, the search ends.
        """


class SearchLine(Horizontal):
    """The field for the words to search for, followed by the number of matching rows.

    After each typed character, the first match from the starting row on is shown.
    """

    DEFAULT_CSS = """
    SearchLine { height: 1; }
    SearchLine > Static { width: auto; color: $text-primary; text-style: bold; }
    SearchLine > PlainInput { width: 1fr; }
    """
    BINDINGS = [
        Binding(
            "enter,down,slash,divide",
            "next(1)",
            "Next found",
            key_display="Enter",
            tooltip="Go to the next row with these words.",
        ),
        Binding("up", "next(-1)", "Previous", key_display="Up", tooltip="Go to the previous row with these words."),
        Binding(
            "escape,asterisk,multiply,tab,shift+tab",
            "close",
            "Close search",
            key_display="Esc",
            tooltip="Close the search and stay at the found row.",
        ),
    ]

    def __init__(self, target: Searchable) -> None:
        super().__init__()
        self._target = target
        self._start = target.search_place
        self._at: int | None = None
        """The index of the found row that is shown; None if there is none."""
        self._offered = ""
        """The text of the last search, until the field contains it."""
        self._entry = PlainInput(leave_out=_GOES_ON)

    def compose(self) -> ComposeResult:
        """Yield the field for the words to search for, and the number of matching rows."""
        yield Static(Content(" Search: "))
        yield self._entry
        yield Static(id="found", markup=False)

    def begin(self) -> None:
        """Move the focus to the search field and put the text of the last search into it."""
        self._target.show_search(Sought(self._target.last_search), None)
        self._entry.leave_out = _GOES_ON
        self._offered = self._target.last_search
        self._entry.offer(self._offered)
        self.screen.set_focus(self._entry)

    @on(Input.Changed)
    def _changed(self, event: Input.Changed) -> None:
        event.stop()
        offered, self._offered = self._offered, ""
        if offered and event.value == offered:
            # The text of the last search has arrived in the field. The user has not typed yet.
            return
        self._entry.leave_out = _LEAVES if event.value else _GOES_ON
        self._target.last_search = event.value
        found = self._found()
        self._show(next((index for index in found if index >= self._start), found[0] if found else None), found)

    def action_next(self, step: int) -> None:
        """Go to the next matching row, or to the previous one if `step` is negative.

        After the last match comes the first.
        """
        context_of(self).keys.after_refresh(self.screen, lambda: self._go(step))

    def _go(self, step: int) -> None:
        # Keys typed just before have reached the field by now.
        found = self._found()
        here = self._start if self._at is None else self._at
        after = [index for index in found if (index > here if step > 0 else index < here)]
        choice = after or found
        self._show(choice[0 if step > 0 else -1] if choice else None, found)

    def _found(self) -> list[int]:
        sought = Sought(self._entry.value)
        return [index for index, line in enumerate(self._target.search_texts) if sought.is_in(line)]

    def _show(self, index: int | None, found: Sequence[int]) -> None:
        self._at = index
        words = f" {found.index(index) + 1} of {len(found)} " if index is not None else " not found "
        self.query_one("#found", Static).update(Content(words if self._entry.value.strip() else ""))
        self._target.show_search(Sought(self._entry.value), self._start if index is None else index)

    def action_close(self) -> None:
        """Close the search and stay at the found row."""
        self._target.show_search(None, None)
        self.screen.set_focus(cast(Widget, self._target))
        self.remove()


def open_search(screen: Screen[Any], target: Searchable) -> None:
    """Open the search field of a list or page, `target`. If the field is already open, move the focus to it."""
    lines = screen.query(SearchLine)
    line = lines.first() if lines else SearchLine(target)
    if not lines:
        screen.mount(line, before=screen.query_one(MessageLine))
    context_of(screen).keys.after_refresh(screen, line.begin)
