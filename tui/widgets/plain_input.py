"""A text field of one row that accepts no control characters."""

from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.events import Key, Paste
from textual.widgets import Input

from core.operations.form import LONGEST_ENTRY
from core.values.plain_text import clean


class PlainInput(Input, inherit_bindings=False):
    """A text field without a frame. Control characters are removed or replaced, and text that is too long is cut.

    Enter goes to the screen, and so do the keys that shells, tmux and terminals use.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left", "cursor_left", "Left", show=False),
        Binding("right", "cursor_right", "Right", show=False),
        Binding("home", "home", "To the start", show=False),
        Binding("end", "end", "To the end", show=False),
        Binding("backspace", "delete_left", "Delete before", show=False),
        Binding("delete", "delete_right", "Delete", show=False),
        Binding("ctrl+u", "delete_left_all", "Empty", show=False, tooltip="Empty the field that you type in."),
    ]

    def __init__(
        self, value: str = "", *, placeholder: str = "", longest: int = LONGEST_ENTRY, leave_out: str = ""
    ) -> None:
        """Make the field, which holds at most `longest` characters.

        The characters in `leave_out` cannot be typed here, because their keys belong to the screen.
        """
        self.longest, self.leave_out = longest, leave_out
        super().__init__(clean(value, longest), placeholder=placeholder, compact=True, validate_on=())
        self.cursor_blink = False

    def replace(self, text: str, start: int, end: int) -> None:
        """Replace a part of the text. All typed and pasted text enters the field through this method."""
        room = self.longest - len(self.value) + abs(end - start)
        super().replace(clean(text, self.longest)[: max(room, 0)], start, end)

    def offer(self, text: str) -> None:
        """Put a text into the field and select it, so that the first typed character replaces the text."""
        self.value = clean(text, self.longest)
        self.select_all()

    def check_consume_key(self, key: str, character: str | None) -> bool:
        """Return True if a key types a character into this field.

        `character` is the character that the key types; None for a key without one.
        """
        return super().check_consume_key(key, character) and (character or "") not in self.leave_out

    async def _on_key(self, event: Key) -> None:
        if event.character is not None and event.character in self.leave_out:
            # Stop Input from typing the character. The key then goes to the screen.
            event.prevent_default()

    def _on_paste(self, event: Paste) -> None:
        # Input itself keeps only the first line, and fails on a text without any line.
        if not event.text.splitlines():
            event.stop()
            event.prevent_default()
