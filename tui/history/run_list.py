"""The list of past runs, newest first, with one run in each row."""

from collections.abc import Callable, Mapping, Sequence

from textual.content import Content

from core.events.state import RunSummary
from core.run.event_words import run_names, wall_parts
from tui.glyphs import Glyphs, cut, glyphs_of
from tui.widgets.line_list import LineList
from tui.widgets.progress import SIGNS, progress_words

_LEAST_FOR_DATE, _LEAST_FOR_JOB = 50, 76
_STATE = 20


class RunList(LineList):
    """The list of past runs: the start, progress, operation and job of each run."""

    def __init__(self, read_all: Callable[[], None], *, id: str | None = None) -> None:
        """Make an empty list.

        `read_all`: a function that fills in the runs that the list has not yet read from the log.
        """
        super().__init__(id=id)
        self._runs: Sequence[RunSummary] = ()
        self._last_entries: Mapping[str, str] = {}
        self._read_all = read_all

    def show_runs(self, runs: Sequence[RunSummary], last_entries: Mapping[str, str]) -> None:
        """Show these runs in place of those shown so far.

        `last_entries`: for runs that look alike in the list, the time of the last entry, by the run's uid.
        """
        self._runs, self._last_entries = runs, last_entries
        self.set_count(len(runs))

    @property
    def run_info(self) -> RunSummary | None:
        """The run under the cursor; None if the list is empty."""
        return self._runs[self.cursor] if self._runs else None

    def read_all(self) -> None:
        """Read the rest of the runs from the log into this list, so that a search finds them."""
        self._read_all()

    def line(self, index: int, columns: int) -> Content:
        """Return the row of the run at `index`, `columns` characters wide, as it is painted.

        On a narrow screen, the less important parts are left out.
        """
        glyphs = glyphs_of(self.app)
        info = self._runs[index]
        date, time = wall_parts(info.begun)
        when = f"{date} {time[:5]}" if columns >= _LEAST_FOR_DATE else date[5:]
        state = _state_words(info, glyphs, wide=columns >= _LEAST_FOR_JOB)
        head = f"{when}  {glyphs[SIGNS[info.status]]} {state}  "
        room = columns - len(head)
        name, job = (glyphs.text(words) for words in run_names(info))
        if info.uid in self._last_entries:
            date, time = wall_parts(self._last_entries[info.uid])
            until = f"{date[5:]} {time[:5]}"
            if columns >= _LEAST_FOR_JOB:
                until = f"{cut(name, room - len(until) - len(', until '), glyphs['ellipsis'])}, until {until}"
            return Content(head + until)
        if job and len(named := f"{name}, {job}") <= room:
            name = named
        return Content(head + cut(name, room, glyphs["ellipsis"]))


def _state_words(info: RunSummary, glyphs: Glyphs, *, wide: bool) -> str:
    words = progress_words(info, 0, glyphs)
    if not wide:
        return f"{words:<14}"
    if info.status == "running":
        words = f"open, {words}"
    return f"{glyphs.text(words):<{_STATE}}"
