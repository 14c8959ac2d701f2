"""The widget that shows a question of set-up: the question, its picture, and how to find the answer."""

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.widgets import Static

from core.values.plain_text import clean, wrapped
from tui.glyphs import glyphs_of

_LONGEST_SENTENCE = 2_000


class QuestionView(Vertical):
    """Shows a question with its picture and sentences, wrapped to the width of the screen."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._asked = ""
        self._picture: Sequence[str] = ()
        self._sentences: Sequence[str] = ()

    def compose(self) -> ComposeResult:
        """Yield the question, which never scrolls, and its picture and sentences, which scroll."""
        yield Static(id="setup-asked", markup=False)
        with VerticalScroll(id="setup-known", can_focus=False):
            yield Static(id="setup-picture", markup=False)
            yield Static(id="setup-how", markup=False)

    def show(self, asked: str, picture: Sequence[str], sentences: Sequence[str], *, from_top: bool) -> None:
        """Show a question with its picture and sentences. `from_top`: True to scroll to the first row."""
        self._asked, self._picture, self._sentences = asked, picture, sentences
        if from_top:
            self.query_one("#setup-known").scroll_to(y=0, animate=False)
        self._write()

    def scroll_lines(self, lines: int) -> None:
        """Scroll the picture and the sentences down by a number of rows."""
        self.query_one("#setup-known").scroll_relative(y=lines, animate=False)

    def scroll_pages(self, pages: int) -> None:
        """Scroll the picture and the sentences down by a number of pages."""
        self.scroll_lines(pages * max(self.query_one("#setup-known").size.height - 1, 1))

    def on_resize(self) -> None:
        """Wrap the sentences for the new width."""
        self._write()

    def _write(self) -> None:
        columns = self.size.width
        if not columns:
            return
        spell = glyphs_of(self.app).text
        # One column stays free for the scroll bar.
        how = [
            line
            for sentence in self._sentences
            for line in wrapped(spell(clean(sentence, _LONGEST_SENTENCE)), max(columns - 1, 1))
        ]
        self.query_one("#setup-asked", Static).update("\n".join(wrapped(spell(clean(self._asked)), columns)))
        self.query_one("#setup-picture", Static).update("\n".join(self._picture))
        self.query_one("#setup-how", Static).update("\n".join(how))
