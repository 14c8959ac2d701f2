"""A labelled field for a value with its unit; says in words, beside or below it, what is wrong."""

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

from core.operations.form import LONGEST_ENTRY
from core.values.errors import CoreError, QuantityError
from core.values.plain_text import clean, wrapped
from core.values.quantities import read_number
from tui.context import context_of
from tui.glyphs import glyphs_of
from tui.widgets.form import FIELD_KEYS, field_places, label_text
from tui.widgets.plain_input import PlainInput

Value = TypeVar("Value")

_LEAST_BESIDE = 30
"""Columns that a message needs to stand beside its field; where there are fewer it goes below."""


class QuantityField(Generic[Value], Widget):
    """Reads what is typed, at every key, with a function that raises CoreError.

    `unit` stands behind the entry where it counts: for a bare number. An empty field has the
    value None, which is wrong only where the field is `required`.
    """

    BINDINGS = FIELD_KEYS

    @dataclass
    class Changed(Message):
        """The user changed the text; `field.value` and `field.error` hold what came of it."""

        field: "QuantityField[Any]"

        @property
        def control(self) -> "QuantityField[Any]":
            """The field, so that @on can select by its id."""
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
        """What will stand in the field once it is on a screen; only then can an Input hold it."""
        self._judge(self._first_text)

    @property
    def text(self) -> str:
        """What stands in the field; set by the program it is judged at once, and no Changed is posted."""
        return self._entry.value if self._first_text is None else self._first_text

    @text.setter
    def text(self, text: str) -> None:
        text = clean(text, self._entry.longest)
        self._judge(text)
        if self._first_text is None:
            # In the field with the cursor it is replaced by what is typed next, as when the cursor comes to it.
            self._entry.offer(text)
            self._lay_out()
        else:
            self._first_text = text

    @property
    def stated(self) -> str:
        """What stands in the field, with its own unit where that counts."""
        return self._with_unit(self.text) if self.text.strip() else ""

    @property
    def hint(self) -> str:
        """What stands, muted, in the empty field: an example, or what counts if nothing is typed."""
        return self._entry.placeholder

    @hint.setter
    def hint(self, hint: str) -> None:
        self._entry.placeholder = clean(hint, 60)

    def say(self, error: str) -> None:
        """Show what another part found wrong with this field, "" for nothing; the next key judges anew."""
        self.error = clean(error)
        self._lay_out()

    def touch(self) -> None:
        """From now on say that the field is empty; before anyone was in it that would be noise."""
        self._touched = True
        self._lay_out()

    def focus(self, scroll_visible: bool = True) -> "QuantityField[Value]":
        """Put the cursor in the field."""
        self._entry.focus(scroll_visible)
        return self

    def compose(self) -> ComposeResult:
        """The entry; label, unit and message are painted round it."""
        if self._first_text:
            self._entry.value = self._first_text
        self._first_text = None
        yield self._entry

    def render(self) -> Content:
        """Return label, brackets, unit and message; the entry covers the space between the brackets."""
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
        """Point at the label of the field in focus."""
        self.refresh()

    def on_descendant_blur(self) -> None:
        """Point no more."""
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
        """Read the text; keep the value or the sentence that says what is wrong."""
        self._judged, self.value, self.error = text, None, ""
        if not text.strip():
            self.error = "is missing" if self.required else ""
            return
        try:
            self.value = self._read(self._with_unit(text))
        except CoreError as error:
            self.error = error.message

    def _with_unit(self, text: str) -> str:
        return f"{text} {self.unit}" if self._unit_counts(text) else text

    def _unit_counts(self, text: str) -> bool:
        """Tell whether the field's unit goes with the text: not where that states one of its own."""
        if not self.unit or not text.strip():
            return bool(self.unit)
        try:
            read_number(text)
        except QuantityError:
            return False
        return True

    def _message(self) -> tuple[str, list[str]]:
        """Return the message beside the field, or its lines below it."""
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
        """Put the entry between its brackets and take the rows that the message needs."""
        if not self.is_attached or not self.size.width:
            return
        places = field_places(self.size.width)
        self._entry.styles.margin = (0, 0, 0, places.label + 1)
        self._entry.styles.width = places.entry
        self.styles.height = 1 + len(self._message()[1])
        self.refresh()
