"""A field that offers several words, one of which the user selects with Left, Right, Space, + or -."""

from collections.abc import Sequence
from dataclasses import dataclass

from textual.binding import Binding
from textual.content import Content
from textual.message import Message
from textual.reactive import reactive
from textual.widget import Widget

from core.values.plain_text import clean, wrapped
from tui.glyphs import cut, glyphs_of
from tui.themes import chosen_style
from tui.widgets.form_field import FIELD_KEYS, field_places, label_text


class ChoiceField(Widget, can_focus=True):
    """Shows a label and several words, with the selected word in [brackets].

    If the words do not fit, the field shows only the selected word, its number and the number of words.
    """

    BINDINGS = [
        *FIELD_KEYS,
        Binding("right,space,plus,add", "choose(1)", "Next choice", show=False),
        Binding("left,minus,subtract", "choose(-1)", "Previous choice", show=False),
    ]

    index = reactive(0)

    @dataclass
    class Changed(Message):
        """Sent when the user selects another word."""

        field: "ChoiceField"
        value: str

        @property
        def control(self) -> "ChoiceField":
            """The field that sent the message. Textual's @on reads it to select messages by the id of a field."""
            return self.field

    def __init__(
        self,
        label: str,
        words: Sequence[str],
        *,
        value: str = "",
        id: str | None = None,
        classes: str | None = None,
    ) -> None:
        super().__init__(id=id, classes=classes)
        self.label, self.words = label, tuple(words)
        self.error = ""
        self.set_reactive(ChoiceField.index, self.words.index(value) if value else 0)

    @property
    def value(self) -> str:
        """The selected word."""
        return self.words[self.index]

    @value.setter
    def value(self, value: str) -> None:
        self.index = self.words.index(value)

    def action_choose(self, step: int) -> None:
        """Move the selection by `step` words. The first word follows the last."""
        self.index = (self.index + step) % len(self.words)
        self.post_message(self.Changed(self, self.value))

    def offer(self, words: Sequence[str], index: int) -> None:
        """Replace the offered words by `words`, and select the word with this index. No Changed message is sent."""
        self.words = tuple(words)
        self.set_reactive(ChoiceField.index, index)
        self.refresh()

    def show_error(self, error: str) -> None:
        """Show, below the words, what is wrong with the selected word. An empty string removes the message."""
        self.error = clean(error)
        self._lay_out()

    def _error_lines(self) -> list[str]:
        if not self.error or not self.size.width:
            return []
        glyphs = glyphs_of(self.app)
        sentence = f"{glyphs['caution']} {glyphs.text(self.error)}"
        return wrapped(sentence, self.size.width - 1, first="    ", others="      ")

    def _lay_out(self) -> None:
        if self.is_attached:
            self.styles.height = 1 + len(self._error_lines())
            self.refresh()

    def on_resize(self) -> None:
        """Wrap the error message for the new width."""
        self._lay_out()

    def render(self) -> Content:
        """Return the label and the words, and below them the error message."""
        glyphs = glyphs_of(self.app)
        columns = self.size.width
        places = field_places(columns)
        pointer = glyphs["current"]
        label = label_text(glyphs.text(self.label), places.label, focused=self.has_focus, pointer=pointer)
        words = [glyphs.text(word) for word in self.words]
        chosen = chosen_style(self.app) if self.has_focus else "bold"
        parts: list[str | tuple[str, str]] = [(label, "bold" if self.has_focus else "")]
        if places.label + sum(len(word) + 2 for word in words) <= columns:
            for index, word in enumerate(words):
                parts.append((f"[{word}]", chosen) if index == self.index else f" {word} ")
        else:
            count = f" {self.index + 1} of {len(words)}"
            word = cut(words[self.index], columns - places.label - len(count) - 2)
            parts += [(f"[{word}]", chosen), count]
        parts += [(f"\n{line}", "$text-error") for line in self._error_lines()]
        return Content.assemble(*parts)

    def on_focus(self) -> None:
        """Show the pointer before the label."""
        self.refresh()

    def on_blur(self) -> None:
        """Hide the pointer before the label."""
        self.refresh()
