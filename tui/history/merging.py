"""Merges the log of another computer into the log of this computer, and shows a report of the result."""

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
    """Ask for the log of another computer, merge its runs into the log of this computer, and show a report.

    `read_again`: a function that shows the list of runs again if an error has stopped the merge.
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
            detail=[
                "Enter the path of the other log, or of its backup. A USB stick usually appears as a folder "
                "below /media."
            ],
        )
    )
    if path is None:
        return
    screen.show_message(f"Merging {name_of(path)}. Keys that you press now take effect after the merge.")
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
    """Shows the result of a merge: which runs were added, continued, kept as two runs, or skipped."""

    TITLE = "Merged"
    HELP = (
        "This page shows how many runs, and how many notes on lathes, were added from the other log. A run that was "
        "continued on both computers is kept as two runs, and a run listed as skipped was not merged. You can merge "
        "again at any time, because no run and no note is added twice."
    )
    TERMS = ("run", "event")
    BINDINGS = [
        Binding("escape,enter,asterisk,multiply", "close", "Close", key_display="Esc", tooltip="Close this page."),
    ]

    def __init__(self, report: MergeReport) -> None:
        super().__init__()
        self._report = report

    def compose_body(self) -> ComposeResult:
        """Yield the page that shows the report."""
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
