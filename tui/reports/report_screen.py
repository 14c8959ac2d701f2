"""A report on screen: headings, figures and advice, which scroll; and its export to a file."""

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
"""How many events are read or followed before keys are looked for again."""
_FORMS = {
    "Text, to read or print": ".txt",
    "Markdown": ".md",
    "A page to print": ".html",
    "JSON, for programs": ".json",
}


class ReportScreen(BaseScreen[None]):
    """A page with a report, which can be saved in a file."""

    AUTO_FOCUS = "#report"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("x", "export", "Export", tooltip="Save this page in a file: text, Markdown, a page to print or JSON."),
        Binding("escape,asterisk,multiply", "close", "Close", key_display="Esc", tooltip="Close this page."),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.report: Report | None = None
        """What is shown; None while it is being read."""

    @property
    @abstractmethod
    def file_stem(self) -> str:
        """How the name proposed for an export starts."""

    @abstractmethod
    def data(self) -> dict[str, Any]:
        """Return what the report says as data for JSON."""

    def compose_body(self) -> ComposeResult:
        """Yield the page."""
        yield Pager(self._lines, id="report")

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Export only what has been read."""
        return None if action == "export" and self.report is None else True

    def show_report(self, report: Report) -> None:
        """Show a report from its first line."""
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
        """Read what the page is made of, part by part. Keys are looked for between two parts."""
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
        """Save this page in a file."""
        if self.report is not None:
            self.context.ask_in_turn(self._export(self.report))

    async def _export(self, report: Report) -> None:
        ask = self.context.ask
        chosen = await ask(OneOf("Which form do you want?", list(_FORMS)))
        if chosen is None:
            return
        ending = list(_FORMS.values())[chosen]
        path = await ask(new_file(self.context, "To which file?", f"{self.file_stem}{ending}"))
        if path is None:
            return
        try:
            write_new(path, report_as(report, ending.removeprefix("."), self.data).splitlines())
        except CoreError as error:
            self.show_message(error.message)
        else:
            self.show_message(f"This page is saved in {name_of(path)}.")


def events_in_parts(logbook: Logbook, run: str) -> Generator[None, None, list[Event]]:
    """Return all events of a run, read page by page with a pause after each; raises LogbookError."""
    events: list[Event] = []
    while page := logbook.events_from(run, len(events), PAGE):
        events += page
        yield
    if not events:
        raise LogbookError("The log has no entry of this run. Quit, then check it: halfnut log --verify.")
    return events


def _part_contents(part: ReportPart, columns: int, glyphs: Glyphs) -> Iterator[Content]:
    """Yield one part as lines; its heading is bold in place of a line under it."""
    if part.heading:
        yield Content.styled(glyphs.text(part.heading).upper(), "bold $text-primary")
    for line in part_lines(part._replace(heading="", advice=()), columns):
        yield Content(glyphs.text(line))
    for line in part_lines(ReportPart("", advice=part.advice), columns, glyphs["caution"]):
        yield Content.styled(glyphs.text(line), "$text-warning")
