"""Merges another machine's log into this one: the question for its path, and the page that reports what came over."""

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
    """Ask for another machine's log, merge its runs, and show what came over.

    `read_again` shows the list as it is now, if not all runs could be merged.
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
            "Which log do you want to merge into the one here?",
            partial(log_at, own=logbook.path),
            text=reading_folder(context),
            ending=".sqlite3",
            detail=["Enter the log of the other machine, or a backup of it. A stick is often in a folder of /media."],
        )
    )
    if path is None:
        return
    screen.show_message(f"Merging {name_of(path)}. Wait; your keys are answered after that.")
    try:
        # Meanwhile screens are painted, and keys wait.
        report = await asyncio.to_thread(merge, logbook, path)
    except CoreError as error:
        context.log_has_changed()
        read_again()
        context.show_failure(error)
        return
    context.log_has_changed()
    context.push_screen(MergeReportScreen(report))


class MergeReportScreen(BaseScreen[None]):
    """What came over from another log."""

    TITLE = "Merged"
    HELP = (
        "This page says which runs came over from the other log. A run that was kept as two was continued on both "
        "machines; one that was skipped stays as it is here. Notes on lathes come over as well. You can merge again at "
        "any time: no run and no note comes over twice."
    )
    TERMS = ("run", "event")
    BINDINGS = [
        Binding("escape,enter,asterisk,multiply", "close", "Close", key_display="Esc", tooltip="Close this page."),
    ]

    def __init__(self, report: MergeReport) -> None:
        super().__init__()
        self._report = report

    def compose_body(self) -> ComposeResult:
        """Yield the report, wrapped and never cut."""
        yield Pager(self._lines)

    def action_close(self) -> None:
        """Close this page."""
        self.dismiss()

    def _lines(self, columns: int) -> list[Content]:
        spell = glyphs_of(self.app).text
        return [
            Content(line)
            for sentence in self._report.lines()
            for line in [*wrapped(spell(clean(sentence, _LONGEST)), columns), ""]
        ]
