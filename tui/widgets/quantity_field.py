"""A field with a label and a unit. An error message is shown beside or below the field."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from textual import on
from textual.app import ComposeResult
from textual.content import Content
from textual.events import Resize
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Input

from core.operations.form import LONGEST_ENTRY, with_unit
from core.values.errors import CoreError, QuantityError
from core.values.plain_text import clean, wrapped
from core.values.quantities import read_number
from tui.context import context_of
from tui.glyphs import glyphs_of
from tui.widgets.form_field import FIELD_KEYS, field_places, label_text
from tui.widgets.plain_input import PlainInput

Value = TypeVar("Value")

_LEAST_BESIDE = 30
"""The fewest columns for an error message beside its field. With fewer columns the message goes below."""


class QuantityField(Generic[Value], Widget):
    """A field that turns its text into a value after every key.

    The function `read` does this, and raises CoreError for wrong text. If the text is a number without a unit, `unit`
    is shown after the entry. An empty field has the value None, which is an error only if the field is `required`.
    """

    BINDINGS = FIELD_KEYS

    @dataclass
    class Changed(Message):
        """Sent when the user has changed the text. Read `field.value` and `field.error` for the result."""

        field: "QuantityField[Any]"

        @property
        def control(self) -> "QuantityField[Any]":
            """The field that sent the message. Textual's @on reads it to select messages by the id of a field."""
            return self.field

    def __init__(
        self,
        label: str,
        read: Callable[[str], Value],
        *,
        text: str = "",
        unit: str = "",
        hint: str = "",
        required: bool = False,
        longest: int = LONGEST_ENTRY,
        leave_out: str = "",
        limits: bool = False,
        id: str | None = None,
        classes: str | None = None,
    ) -> None:
        super().__init__(id=id, classes=classes)
        self.label, self.unit, self.required = label, unit, required
        self.takes_limits = limits
        self.value: Value | None = None
        self.error = ""
        self._read = read
        self._touched = False
        self._judged = ""
        self._entry = PlainInput(placeholder=hint, longest=longest, leave_out=leave_out)
        self._first_text: str | None = clean(text, longest)
        """The text before the field is on a screen. Until then an Input cannot hold text."""
        self._judge(self._first_text)

    @property
    def text(self) -> str:
        """The text in the field. A text set by the program is parsed immediately, and Changed is not posted."""
        return self._entry.value if self._first_text is None else self._first_text

    @text.setter
    def text(self, text: str) -> None:
        text = clean(text, self._entry.longest)
        self._judge(text)
        if self._first_text is None:
            # In the focused field the next typed character replaces this text.
            self._entry.offer(text)
            self._lay_out()
        else:
            self._first_text = text

    @property
    def cursor(self) -> int:
        """The number of characters before the cursor. Setting the cursor also ends the selection of the text."""
        return self._entry.cursor_position

    @cursor.setter
    def cursor(self, position: int) -> None:
        self._entry.cursor_position = position

    @property
    def stated(self) -> str:
        """The text in the field, with the field's unit added to a bare number."""
        return with_unit(self.text, self.unit)

    @property
    def hint(self) -> str:
        """The muted text in an empty field: an example, or the value that is used if the field stays empty."""
        return self._entry.placeholder

    @hint.setter
    def hint(self, hint: str) -> None:
        self._entry.placeholder = clean(hint, 60)

    def show_error(self, error: str) -> None:
        """Show an error that was found outside this field; "" removes it. The next key checks only the text again."""
        self.error = clean(error)
        self._lay_out()

    def require(self, required: bool) -> None:
        """Set whether an empty field is an error."""
        if required != self.required:
            self.required = required
            self._judge(self.text)
            self._lay_out()

    def touch(self) -> None:
        """From now on, show an error while the field is required but empty.

        A field that the user has not yet visited shows no such error.
        """
        self._touched = True
        self._lay_out()

    def focus(self, scroll_visible: bool = True) -> "QuantityField[Value]":
        """Move the focus to the field."""
        self._entry.focus(scroll_visible)
        return self

    def focus_at_end(self) -> None:
        """Focus the field with the cursor after its text, so that the next key continues the text."""
        self._entry.select_on_focus = False
        self._entry.cursor_position = len(self._entry.value)
        self._entry.focus()

    def compose(self) -> ComposeResult:
        """Yield the entry. Label, unit and message are painted around the entry."""
        if self._first_text:
            self._entry.value = self._first_text
        self._first_text = None
        yield self._entry

    def render(self) -> Content:
        """Return the label, the brackets, the unit and the message. The entry covers the space between the brackets."""
        spell = glyphs_of(self.app).text
        places = field_places(self.size.width)
        focused = self._entry.has_focus
        pointer = glyphs_of(self.app)["current"]
        label = label_text(spell(self.label), places.label, focused=focused, pointer=pointer)
        parts: list[str | tuple[str, str]] = [
            (label, "bold" if focused else ""),
            f"[{' ' * places.entry}]{spell(self._behind)}",
        ]
        beside, below = self._message()
        if beside:
            parts.append((f" {beside}", "$text-error"))
        parts += [(f"\n{line}", "$text-error") for line in below]
        return Content.assemble(*parts)

    def _on_resize(self, event: Resize) -> None:
        self._lay_out()

    def on_descendant_focus(self) -> None:
        """Show the pointer before the label."""
        self.refresh()

    def on_descendant_blur(self) -> None:
        """Hide the pointer before the label."""
        self.refresh()

    @on(Input.Changed)
    def _typed(self, event: Input.Changed) -> None:
        event.stop()
        if event.value == self._judged:
            return
        typed = f"{self.label}: {event.value}"
        fault = context_of(self).faults.guard(lambda: self._judge(event.value), typed)
        self.error = fault or self.error
        self._lay_out()
        self.post_message(self.Changed(self))

    @on(Input.Blurred)
    def _left(self, event: Input.Blurred) -> None:
        event.stop()
        self.touch()

    @property
    def _behind(self) -> str:
        return f" {self.unit}" if self._unit_counts(self.text) else ""

    def _judge(self, text: str) -> None:
        self._judged, self.value, self.error = text, None, ""
        if not text.strip():
            self.error = "Fill in this field." if self.required else ""
            return
        try:
            self.value = self._read(with_unit(text, self.unit))
        except CoreError as error:
            self.error = error.message

    def _unit_counts(self, text: str) -> bool:
        """Return True if the field's unit applies to `text`, because `text` is empty or a number without a unit."""
        if not self.unit or not text.strip():
            return bool(self.unit)
        try:
            read_number(text)
        except QuantityError:
            return False
        return True

    def _message(self) -> tuple[str, list[str]]:
        """Return the error message beside the field, and the rows of the message below it.

        At least one of the two is empty, because a message that does not fit beside the field goes below it.
        """
        if not self.error or not (self._touched or self.text):
            return "", []
        glyphs = glyphs_of(self.app)
        sentence = f"{glyphs['caution']} {glyphs.text(self.error)}"
        columns = self.size.width
        room = columns - field_places(columns).after - len(self._behind) - 1
        if room >= _LEAST_BESIDE and len(sentence) <= room:
            return sentence, []
        return "", wrapped(sentence, columns - 1, first="    ", others="      ")

    def _lay_out(self) -> None:
        if not self.is_attached or not self.size.width:
            return
        places = field_places(self.size.width)
        self._entry.styles.margin = (0, 0, 0, places.label + 1)
        self._entry.styles.width = places.entry
        self.styles.height = 1 + len(self._message()[1])
        self.refresh()
