"""The base of all report screens: shows headings, figures and advice, and exports the report to a file."""

from abc import abstractmethod
from collections.abc import Generator, Iterator
from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content

from core.events.event import Event
from core.logbook.logbook import Logbook
from core.pages.report import Report, ReportPart, part_lines, report_as
from core.values.errors import CoreError, LogbookError
from core.values.files import name_of, write_new
from tui.glyphs import Glyphs, glyphs_of
from tui.widgets.base_screen import BaseScreen
from tui.widgets.pager import Pager
from tui.widgets.path_question import new_file
from tui.widgets.question import OneOf

PAGE = 250
"""How many events are read before the program handles the next key."""
_FORMS = {
    "Text, to read or print": ".txt",
    "Markdown": ".md",
    "A page to print": ".html",
    "JSON, for programs": ".json",
}


class ReportScreen(BaseScreen[None]):
    """The base class of screens that show a report. The user can scroll the report and save it in a file."""

    AUTO_FOCUS = "#report"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("x", "export", "Export", tooltip="Save this page in a file: text, Markdown, a page to print or JSON."),
        Binding("escape,asterisk,multiply", "close", "Close", key_display="Esc", tooltip="Close this page."),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.report: Report | None = None
        """The report on the screen; None until the log is read."""

    @property
    @abstractmethod
    def file_stem(self) -> str:
        """The first part of the file name that an export proposes."""

    @abstractmethod
    def data(self) -> dict[str, Any]:
        """Return the report as data for a JSON file."""

    def compose_body(self) -> ComposeResult:
        """Yield the page that shows the report."""
        yield Pager(self._lines, id="report")

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return True to show an action's key, or None to dim it. Only a report that has been read can be exported."""
        return None if action == "export" and self.report is None else True

    def show_report(self, report: Report) -> None:
        """Show a report from its first row."""
        self.report = report
        self.query_one(Pager).show(self._lines)
        self.refresh_bindings()

    def _lines(self, columns: int) -> list[Content]:
        if self.report is None:
            return []
        glyphs = glyphs_of(self.app)
        lines: list[Content] = []
        for part in self.report.parts:
            lines += [Content("")] if lines else []
            lines += _part_contents(part, columns, glyphs)
        return lines

    def read_in_parts(self, reading: Iterator[None]) -> None:
        """Run a generator that reads the log in parts. The program handles keys between two parts."""
        if not self.is_attached:
            return
        try:
            next(reading, None)
        except CoreError as error:
            self.context.show_failure(error)
            return
        if self.report is None:
            self.call_later(self.read_in_parts, reading)

    def action_close(self) -> None:
        """Close this page."""
        self.dismiss()

    def action_export(self) -> None:
        """Ask for a format and a file name, and save the report in the file."""
        if self.report is not None:
            self.context.ask_in_turn(self._export(self.report))

    async def _export(self, report: Report) -> None:
        ask = self.context.ask
        chosen = await ask(OneOf("In which format do you want to save this page?", list(_FORMS)))
        if chosen is None:
            return
        ending = list(_FORMS.values())[chosen]
        path = await ask(
            new_file(self.context, "In which file do you want to save this page?", f"{self.file_stem}{ending}")
        )
        if path is None:
            return
        try:
            write_new(path, report_as(report, ending.removeprefix("."), self.data).splitlines())
        except CoreError as error:
            self.show_message(error.message)
        else:
            self.show_message(f"This page has been saved in {name_of(path)}.")


def events_in_parts(logbook: Logbook, run: str) -> Generator[None, None, list[Event]]:
    """Return all events of a run, read page by page. Yields after each page, so that keys can be handled.

    `run`: the uid of the run. Raises LogbookError if the log cannot be read.
    """
    events: list[Event] = []
    while page := logbook.events_from(run, len(events), PAGE):
        events += page
        yield
    if not events:
        raise LogbookError("The log has no events of this run. Quit, then check the log with `halfnut log --verify`.")
    return events


def _part_contents(part: ReportPart, columns: int, glyphs: Glyphs) -> Iterator[Content]:
    """Yield the rows of one part of a report, with its heading in bold."""
    if part.heading:
        yield Content.styled(glyphs.text(part.heading).upper(), "bold $text-primary")
    for line in part_lines(part._replace(heading="", advice=()), columns):
        yield Content(glyphs.text(line))
    for line in part_lines(ReportPart("", advice=part.advice), columns, glyphs["caution"]):
        yield Content.styled(glyphs.text(line), "$text-warning")
