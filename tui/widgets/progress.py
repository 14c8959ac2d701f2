"""The progress of a run as a bar and in words."""

from typing import TYPE_CHECKING

from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from tui.glyphs import Glyphs, glyphs_of

if TYPE_CHECKING:
    # SQLite is loaded after the first paint.
    from core.events.state import RunSummary

SIGNS = {"running": "current", "finished": "done", "abandoned": "skipped"}
"""The sign for each status of a run."""
NOT_STARTED = "not started"
LEAST_FOR_BAR, BAR = 66, 28
"""The fewest columns for a progress bar, and the width of the bar [columns]."""
_WIDEST_BAR = 40
_NARROWEST_BAR = 4


def progress_text(done: int, total: int, columns: int, glyphs: Glyphs) -> str:
    """Return a bar and the count of steps, in at most `columns` cells.

    If there is no room for a bar, return only the count.

    >>> progress_text(7, 20, 19, Glyphs("ascii"))
    '[###......] 7 of 20'
    """
    words = f"{done} of {total}"
    room = min(columns - len(words) - 3, _WIDEST_BAR)
    if room < _NARROWEST_BAR or total <= 0:
        return words
    full = room * done // total
    return f"[{glyphs['full'] * full}{glyphs['shade'] * (room - full)}] {words}"


def progress_words(info: "RunSummary | None", columns: int, glyphs: Glyphs) -> str:
    """Return the progress of an operation's run in words, with a bar if there is room.

    `info` is None if the operation has not been started.
    """
    if info is None:
        return NOT_STARTED
    done, total = info.steps_done, info.steps_done + info.steps_open
    if info.status == "running":
        return progress_text(done, total, BAR if columns >= LEAST_FOR_BAR else 0, glyphs)
    if info.status == "finished":
        return "finished" if not info.steps_open else "finished early"
    return f"abandoned at {done} of {total}" if columns >= LEAST_FOR_BAR else "abandoned"


def progress_in(done: int, total: int, columns: int, glyphs: Glyphs) -> str:
    """Return a bar and the count of steps if there is room, or else a short count such as 10/127.

    The short count is never cut off.

    >>> progress_in(10, 127, 8, Glyphs("ascii"))
    '10/127'
    """
    text = progress_text(done, total, columns, glyphs)
    return text if len(text) <= columns else f"{done}/{total}"


class ProgressLine(Widget):
    """A row that shows how many steps of a run are done, and how many there are."""

    done = reactive(0)
    total = reactive(0)

    def show(self, done: int, total: int) -> None:
        """Show that `done` of `total` steps are done."""
        self.done, self.total = done, total

    def render(self) -> Content:
        """Return the bar and the count as text for the screen."""
        return Content(progress_in(self.done, self.total, self.size.width, glyphs_of(self.app)))
