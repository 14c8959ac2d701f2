"""The screen of the history: lists past runs, newest first, and shows the events of the selected run on Enter."""

from collections import Counter
from pathlib import Path
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.events import ScreenResume
from textual.reactive import reactive

from core.events.state import RunSummary
from core.logbook.logbook import Logbook
from core.run.event_words import run_names, run_progress_words, status_words, wall_parts
from core.values.errors import CoreError
from core.values.files import short_path
from core.values.plain_text import clean, wrapped
from tui.glyphs import glyphs_of
from tui.history.run_list import RunList
from tui.widgets.base_screen import BaseScreen
from tui.widgets.line_list import LineList
from tui.widgets.pager import Pager

PAGE = 100
_EVERY = 1_000_000
"""A number of runs larger than any log has."""
_AHEAD = 20
"""The list reads more runs when the cursor is within this many rows of its end."""


class HistoryScreen(BaseScreen[None]):
    """Lists the logged runs, either those of all jobs or only those of the open job."""

    TITLE = "History"
    AUTO_FOCUS = "#runs"
    HELP = (
        "This page lists all runs, the newest first, each with its date, progress, operation and job. "
        "Choose a run and press Enter to see its events, such as passes with their readings, measurements and notes. "
        "The times come from the computer's clock, but the order is always that of the log."
    )
    MORE_HELP = (
        "If you use two computers, press m to merge the log of the other computer, for example from a USB stick. "
        "This adds the runs, and the notes on lathes, that are missing from this log. If you continued a run on the "
        "other computer, its new events are added. If you continued a run on both computers, the list shows both "
        "versions, each with the time of its last entry. The other log never changes.\n\n"
        "Press x to export a copy of this computer's log for another computer."
    )
    TERMS = ("run", "event", "operation", "job", "abandoned", "step")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "show_run", "Show", tooltip="Show every event of this run."),
        Binding("j", "this_job", "This job only", tooltip="Show only the runs of the open job, or all runs again."),
        Binding("delete", "abandon", "Abandon", tooltip="Abandon this unfinished run. The log keeps it."),
        Binding("s", "summary", "Summary", tooltip="Show a summary of this run: sizes, passes, time and notes."),
        Binding("w", "lathe_record", "This lathe", tooltip="Compare the dials of this lathe with your measurements."),
        Binding("x", "export", "Export", tooltip="Save the listed runs in a file, or copy the whole log."),
        Binding("m", "merge", "Merge", tooltip="Add the runs from the log or backup of another computer."),
        Binding("escape", "app.mode('board')", "Close", key_display="Esc", tooltip="Close this page and show the job."),
        Binding("plus,add", "move(1)", "Next", show=False, tooltip="Go to the next run (same as the Down key)."),
        Binding(
            "minus,subtract", "move(-1)", "Previous", show=False, tooltip="Go to the previous run (same as the Up key)."
        ),
    ]

    job_path: reactive[str | None] = reactive(None)
    """The job file whose runs are listed; None for the runs of all jobs."""

    def __init__(self) -> None:
        super().__init__()
        self._runs: list[RunSummary] = []
        self._last_entries: dict[str, str] = {}
        """The time of the last entry, by uid, of each run that another run in the list resembles."""
        self._complete = False

    def compose_body(self) -> ComposeResult:
        """Yield the list of runs, and below it the details of the selected run."""
        yield RunList(lambda: self._read_more(_EVERY), id="runs")
        full = Pager(self._full_lines, id="full")
        full.can_focus = False
        yield full

    @on(ScreenResume)
    def _come_back(self) -> None:
        """Read the log again, because more events may have been logged on another screen."""
        self._read_again()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return True to show an action's key, or None to dim it.

        Some actions need a run in the list or an open job.
        """
        if action in {"show_run", "export", "summary"}:
            return True if self._runs else None
        if action == "abandon":
            info = self.query_one(RunList).run_info if self._runs else None
            return True if info is not None and info.status == "running" else None
        if action == "this_job":
            return True if self.context.job or self.job_path else None
        return True

    def watch_job_path(self) -> None:
        """List the runs of one job or of all jobs, after `job_path` has changed."""
        if self.is_mounted:
            self.title = self.TITLE if self.job_path is None else "History of this job"
            self._read_again()
            self.query_one(RunList).cursor = 0

    def _read_again(self) -> None:
        """Read the log again. The list keeps as many runs as before, and the cursor stays in its row."""
        shown = len(self._runs)
        self._runs, self._last_entries, self._complete = [], {}, False
        self.show_message("")
        self._read_more(max(shown, PAGE))
        if not self._runs and self._complete:
            self.show_message(
                "Nothing has been logged yet." if self.job_path is None else "Nothing has been logged for this job yet."
            )
        if notices := self.context.log.new_notices():
            self.show_message(notices)
        self.refresh_bindings()

    def _read_more(self, count: int = PAGE) -> None:
        logbook = self._logbook()
        if logbook is None or self._complete:
            return
        before = self._runs[-1].number if self._runs else None
        try:
            runs = logbook.runs(self.job_path, limit=count, before=before)
            self._runs += runs
            self._read_last_entries(logbook)
        except CoreError as error:
            self.show_message(error.message)
            return
        self._complete = len(runs) < count
        self.query_one(RunList).show_runs(self._runs, self._last_entries)
        self.query_one("#full", Pager).show(self._full_lines)

    def _read_last_entries(self, logbook: Logbook) -> None:
        """Read the last entry of each run that looks like another run in the list.

        Such runs have the same name and start, because they are two continuations of one run. The times of their last
        entries show the user which is which.
        """
        number_alike = Counter((run.begun, run_names(run)) for run in self._runs)
        for run in self._runs:
            if number_alike[run.begun, run_names(run)] > 1 and run.uid not in self._last_entries:
                for event in logbook.events_from(run.uid, run.last_seq, 1):
                    self._last_entries[run.uid] = event.wall

    def _logbook(self) -> Logbook | None:
        try:
            return self.context.log.logbook()
        except CoreError as error:
            self.show_message(error.message)
            return None

    @on(LineList.Moved, "#runs")
    def _moved(self, event: LineList.Moved) -> None:
        event.stop()
        if event.index >= len(self._runs) - _AHEAD:
            self._read_more()
        self.query_one("#full", Pager).show(self._full_lines)
        self.refresh_bindings()

    def _full_lines(self, columns: int) -> list[Content]:
        """Return the sentences about the selected run as rows, `columns` characters wide."""
        info = self.query_one(RunList).run_info
        if info is None:
            return []
        name, job = run_names(info)
        sentences = [f"{name}: {status_words(info)}, steps done {run_progress_words(info)}."]
        if info.uid in self._last_entries:
            last_entry = " ".join(wall_parts(self._last_entries[info.uid]))
            sentences.append(
                f"Last entry: {last_entry}. Another run in the list has the same name and start. It may be this run, "
                "continued on another computer."
            )
        if info.origin is not None:
            sentences.append(f"Job: {job}, {clean(short_path(Path(info.origin.job_path)), 400)}")
        spell = glyphs_of(self.app).text
        return [Content(line) for sentence in sentences for line in wrapped(spell(sentence), columns)]

    def action_move(self, step: int) -> None:
        """Move the cursor down by `step` runs, or up if `step` is negative."""
        self.query_one(RunList).action_move(step)

    def action_show_run(self) -> None:
        """Show the events of the selected run."""
        info = self.query_one(RunList).run_info
        if info is not None:
            from tui.history.run_log import RunLogScreen

            self.app.push_screen(RunLogScreen(info))

    def action_summary(self) -> None:
        """Show the closing summary of the selected run."""
        info = self.query_one(RunList).run_info
        if info is not None:
            from tui.reports.closing import ClosingScreen

            self.app.push_screen(ClosingScreen(info))

    def action_lathe_record(self) -> None:
        """Show the record of the lathe in use: how its dials compare with measurements."""
        from tui.reports.lathe_record import LatheRecordScreen

        self.app.push_screen(LatheRecordScreen())

    def action_abandon(self) -> None:
        """Ask whether to abandon the selected run, and abandon it if the user agrees."""
        info = self.query_one(RunList).run_info
        if info is not None:
            from tui.runs import abandon_run

            abandon_run(self.context, info, self._read_again)

    def action_this_job(self) -> None:
        """Switch between the runs of the open job and the runs of all jobs."""
        job = self.context.job
        self.job_path = str(job.path.resolve()) if job is not None and self.job_path is None else None

    def action_merge(self) -> None:
        """Ask for the log of another computer, and merge its runs into the log of this computer."""
        from tui.history.merging import merge_log

        merge_log(self, self._read_again)

    def action_export(self) -> None:
        """Ask for a format and a file name, and export the listed runs to the file."""
        logbook = self._logbook()
        if logbook is not None:
            from tui.history.export import export
            from tui.printing import logged_runs

            export(self, "halfnut-log", lambda: logged_runs(logbook, self.job_path), logbook.backup)
