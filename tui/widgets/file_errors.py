"""A page that lists all errors of a file."""

from pathlib import Path

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content

from core.values.errors import FileError
from core.values.files import name_of
from core.values.plain_text import clean, counted, wrapped
from tui.glyphs import glyphs_of
from tui.widgets.base_screen import BaseScreen
from tui.widgets.pager import Pager

_LONGEST = 2_000


class FileErrorsScreen(BaseScreen[None]):
    """Shows the errors of a file that cannot be used."""

    HELP = (
        "This page lists every error in a file, with the operation, the key and the value to enter instead. "
        "Correct the file in a text editor and open it again. Until then the program uses nothing from the file."
    )
    TERMS = ("job", "operation", "lathe file")
    BINDINGS = [
        Binding("escape,enter,asterisk,multiply", "close", "Close", key_display="Esc", tooltip="Close this page."),
    ]

    def __init__(self, path: Path, error: FileError) -> None:
        super().__init__()
        self.title = f"{counted(len(error.every), 'error')}: {name_of(path)}"
        self._errors = error.messages

    def compose_body(self) -> ComposeResult:
        """Yield the errors. Long errors are wrapped and never shortened."""
        yield Pager(self._lines)

    def action_close(self) -> None:
        """Close this page."""
        self.dismiss()

    def _lines(self, columns: int) -> list[Content]:
        glyphs = glyphs_of(self.app)
        mark = f"{glyphs['caution']} "
        lines = [
            Content(line)
            for error in self._errors
            for line in wrapped(glyphs.text(clean(error, _LONGEST)), columns, first=mark, others="  ")
        ]
        return [
            *lines,
            Content(""),
            Content.styled("The program uses the file only after all errors are corrected.", "bold"),
        ]
