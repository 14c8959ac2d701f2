"""The closing summary of a run on screen: wanted and measured, passes, time, notes."""

from typing import Any

from core.events.state import RunSummary
from core.pages.closing_page import closing_data, closing_report
from core.record.closing import ClosingSummary, closing_summary
from core.run.event_words import run_names
from core.values.errors import CoreError
from tui.context import AppContext
from tui.reports.report_screen import ReportScreen


def show_summary(context: AppContext, uid: str) -> None:
    """Show the summary of a run of the log; if the log cannot be read, say why."""
    try:
        info = context.log.logbook().run(uid)
    except CoreError as error:
        context.show_failure(error)
        return
    if info is not None:
        context.push_screen(ClosingScreen(info))


class ClosingScreen(ReportScreen):
    """What a run came to, on one page to keep."""

    HELP = (
        "This page sums up one run: what was wanted and measured, its passes, its time and your notes. "
        "X saves it in a file; the page to print is for the drawer, beside the part."
    )
    TERMS = ("run", "pass", "spring pass", "undo", "abandoned")

    def __init__(self, info: RunSummary) -> None:
        super().__init__()
        self.title = f"Summary: {run_names(info)[0]}"
        self._info = info
        self._summary: ClosingSummary | None = None

    @property
    def file_stem(self) -> str:
        """How the name proposed for an export starts."""
        return f"halfnut-summary-{self._info.number}"

    def on_mount(self) -> None:
        """Read the run once the page is painted: a long one takes a moment."""
        self.show_message("Reading the run.")
        self.call_after_refresh(self._read)

    def _read(self) -> None:
        try:
            logbook = self.context.log.logbook()
            self._info = logbook.run(self._info.uid) or self._info
            self._summary = closing_summary(logbook.events(self._info.uid))
        except CoreError as error:
            self.context.show_failure(error)
            return
        self.show_message("")
        self.show_report(closing_report(self._info, self._summary))

    def data(self) -> dict[str, Any]:
        """Return the summary as data for JSON."""
        assert self._summary is not None
        return closing_data(self._info, self._summary)
