"""One message to the user. It stays until another message replaces it or the screen clears it."""

from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from core.values.plain_text import clean, wrapped
from tui.glyphs import glyphs_of

LONGEST_SENTENCE = 600


class MessageLine(Widget):
    """A message above the key bar. It takes no room while it is empty, and never disappears by itself."""

    sentence = reactive("", layout=True)

    def show_message(self, sentence: str) -> None:
        """Show `sentence` as the message; "" removes the message."""
        self.sentence = clean(sentence, LONGEST_SENTENCE)

    def watch_sentence(self, sentence: str) -> None:
        """Use rows of the screen only while there is a message."""
        self.display = bool(sentence)

    def render(self) -> Content:
        """Return the message as text for the screen, wrapped."""
        return Content("\n".join(self._lines(self.size.width)))

    def get_content_height(self, container: object, viewport: object, width: int) -> int:
        """Return the number of rows that the message needs."""
        return len(self._lines(width))

    def _lines(self, columns: int) -> list[str]:
        sentence = glyphs_of(self.app).text(self.sentence)
        return wrapped(sentence, columns)
