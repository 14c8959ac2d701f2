"""The summary of a run on screen: wanted and measured sizes, passes, time and notes."""

from collections.abc import Iterator
from typing import Any

from core.events.replay import apply, replay_each
from core.events.state import RunSummary, State
from core.lathe.lathe import Lathe
from core.logbook.logbook import Logbook
from core.pages.closing_page import closing_data, closing_report
from core.record.closing import ClosingSummary, closing_summary
from core.run.event_words import run_names
from core.values.errors import CoreError
from tui.context import AppContext
from tui.reports.report_screen import PAGE, ReportScreen, events_in_parts
from tui.widgets.header_line import HeaderLine


def show_summary(context: AppContext, uid: str, state: State) -> None:
    """Show the summary of a run. If the log cannot be read, show the reason instead.

    `uid`: the run's uid in the log. `state`: the present state of the run.
    """
    try:
        info = context.log.logbook().run(uid)
    except CoreError as error:
        context.show_failure(error)
        return
    if info is not None:
        context.push_screen(ClosingScreen(info, state))


class ClosingScreen(ReportScreen):
    """Shows the summary of one run. The user can save the summary in a file."""

    HELP = (
        "This page sums up one run: wanted and measured sizes, passes, time and your notes. "
        "Press X to save the page in a file, for example to print it and keep it with the part."
    )
    TERMS = ("run", "pass", "spring pass", "undo", "abandoned")

    def __init__(self, info: RunSummary, state: State | None = None) -> None:
        """Make the page for the summary of a run. `info`: the run's entry in the list of runs.

        `state`: the present state of the run; None to read the run from the log.
        """
        super().__init__()
        self._state = state
        self.title = f"Summary: {run_names(info)[0]}"
        self._info = info
        self._summary: ClosingSummary | None = None

    @property
    def lathe_shown(self) -> Lathe:
        """The lathe of this run; the lathe in use if the run has not been read or its lathe is unreadable."""
        run_lathe = None if self._summary is None else self._summary.lathe
        return run_lathe or self.context.lathe

    @property
    def file_stem(self) -> str:
        """The first part of the file name that an export proposes."""
        return f"halfnut-summary-{self._info.number}"

    def on_mount(self) -> None:
        """Read the run after the first paint, because reading a long run can take seconds."""
        self.show_message("Reading the run.")
        self.call_after_refresh(self._start)

    def _start(self) -> None:
        try:
            self.read_in_parts(self._reading(self.context.log.logbook()))
        except CoreError as error:
            self.context.show_failure(error)

    def _reading(self, logbook: Logbook) -> Iterator[None]:
        """Read the events of the run in parts, with a yield after each part, then show the summary.

        Raises LogbookError if the log cannot be read, and EventError if an event is not possible at its place.
        """
        self._info = logbook.run(self._info.uid) or self._info
        events = yield from events_in_parts(logbook, self._info.uid)
        state = self._state
        if state is None or state.last_seq != events[-1].seq:
            for before, event in replay_each(events):
                if event is events[-1]:
                    # A state from `replay_each` is valid only until the next event.
                    state = before if event.kind == "begun" else apply(before, event)
                elif event.seq % PAGE == PAGE - 1:
                    yield
        self._summary = closing_summary(events, state)
        self.show_message("")
        self.query_one(HeaderLine).refresh()
        self.show_report(closing_report(self._info, self._summary))

    def data(self) -> dict[str, Any]:
        """Return the summary as data for a JSON file."""
        assert self._summary is not None
        return closing_data(self._info, self._summary)
