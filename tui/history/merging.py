"""Merges another machine's log into this machine's log: the question for its path, and the report afterwards."""

import asyncio
from collections.abc import Callable
from functools import partial

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content

from core.logbook.merge import MergeReport, merge
from core.logbook.other_log import log_at
from core.values.errors import CoreError
from core.values.files import name_of
from core.values.plain_text import clean, wrapped
from tui.glyphs import glyphs_of
from tui.widgets.base_screen import BaseScreen
from tui.widgets.pager import Pager
from tui.widgets.path_question import PathQuestion, reading_folder

_LONGEST = 1_000


def merge_log(screen: BaseScreen[None], read_again: Callable[[], None]) -> None:
    """Ask for another machine's log, merge its runs into this log, and show a report.

    `read_again`: shows the list of runs again if an error stopped the merge.
    """
    screen.context.ask_in_turn(_merge(screen, read_again))


async def _merge(screen: BaseScreen[None], read_again: Callable[[], None]) -> None:
    context = screen.context
    try:
        logbook = context.log.logbook()
    except CoreError as error:
        screen.show_message(error.message)
        return
    path = await context.ask(
        PathQuestion(
            "Which log do you want to merge into the log of this computer?",
            partial(log_at, own=logbook.path),
            text=reading_folder(context),
            ending=".sqlite3",
            detail=["Enter the path of the other log, or of its backup. A stick is often in a folder of /media."],
        )
    )
    if path is None:
        return
    screen.show_message(f"Merging {name_of(path)}. Keys that you press now take effect afterwards.")
    try:
        # During the merge, screens are still painted and keys wait.
        report = await asyncio.to_thread(merge, logbook, path)
    except CoreError as error:
        context.log_has_changed()
        read_again()
        context.show_failure(error)
        return
    context.log_has_changed()
    context.push_screen(MergeReportScreen(report))


class MergeReportScreen(BaseScreen[None]):
    """Shows the result of a merge: which runs were added, kept as two, or skipped."""

    TITLE = "Merged"
    HELP = (
        "This page lists the runs that this log took from the other log, and how many notes on lathes. A run "
        "continued on both computers is kept as two runs, and a skipped run stays as this log has it. You can "
        "merge again at any time, because no run and no note is taken twice."
    )
    TERMS = ("run", "event")
    BINDINGS = [
        Binding("escape,enter,asterisk,multiply", "close", "Close", key_display="Esc", tooltip="Close this page."),
    ]

    def __init__(self, report: MergeReport) -> None:
        super().__init__()
        self._report = report

    def compose_body(self) -> ComposeResult:
        """Yield the report, wrapped to the width of the screen."""
        yield Pager(self._lines)

    def action_close(self) -> None:
        """Close the report."""
        self.dismiss()

    def _lines(self, columns: int) -> list[Content]:
        spell = glyphs_of(self.app).text
        return [
            Content(line)
            for sentence in self._report.lines()
            for line in [*wrapped(spell(clean(sentence, _LONGEST)), columns), ""]
        ]
