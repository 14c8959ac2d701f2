"""The fields of one operation. Together they hold the operation's keys and values, as in a job file."""

import dataclasses
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Static

from core.lathe.lathe import Lathe
from core.operations.form import Choice, Entry, Row
from core.operations.natural_step import NaturalStep, natural_step
from core.values.fields import Problem
from core.values.stepping import number_at
from tui.widgets.choice_field import ChoiceField
from tui.widgets.quantity_field import QuantityField

STEP_KEYS = "<>"
"""The keys that change a number step by step. They cannot be typed into a number field."""


@dataclass(frozen=True)
class FormState:
    """The contents of all fields and choices of a form, for undo and redo."""

    texts: Mapping[str, str]
    """The text of each field, by field key."""
    chosen: Mapping[str, str]
    """The selected value of each choice, by key; the displayed words if the choice exists only on screen."""
    records: tuple[Any, ...] = ()
    """The entries of the form's lists, such as layers; () for a form without lists."""
    shown: tuple[int, ...] = dataclasses.field(default=(), compare=False)
    """The list entries that the fields show. Selecting another entry does not count as a change."""


class OperationForm(Vertical):
    """The headings and fields of one operation, from top to bottom. The typed text is checked in core, not here."""

    @dataclass
    class Edited(Message):
        """The message that the user has changed a field or a choice."""

        form: "OperationForm"
        typed_in: QuantityField[str] | None = None
        """The field whose text the user typed; None for any other change."""

    def __init__(self, rows: Sequence[Row], table: Mapping[str, Any], *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.rows = rows
        """The headings and fields in order."""
        self._changed_last: QuantityField[str] | ChoiceField | None = None
        self.entries = {row.key: (row, _entry_field(row, table)) for row in rows if isinstance(row, Entry)}
        self.choices = {row.key: (row, _choice_field(row, table)) for row in rows if isinstance(row, Choice)}

    def compose(self) -> ComposeResult:
        """Yield the headings and fields from top to bottom."""
        for row in self.rows:
            if isinstance(row, str):
                yield Static(Content(row), classes="heading")
            elif isinstance(row, Entry):
                yield self.entries[row.key][1]
            else:
                yield self.choices[row.key][1]

    def table(self) -> dict[str, Any]:
        """Return the operation's keys and values from all visible fields that are not empty."""
        table: dict[str, Any] = {}
        for row in self.rows:
            if isinstance(row, Choice):
                choice = self.choices[row.key][1]
                value = row.options[choice.index][1]
                if choice.display and value is not None:
                    table[row.key] = value
            elif isinstance(row, Entry):
                entry = self.entries[row.key][1]
                if entry.display and entry.value is not None:
                    table[row.key] = _items(entry.value, row.unit) if row.listed else _typed(entry.value, row.whole)
        return table

    def texts(self) -> dict[str, str]:
        """Return, by key, the text of every field that is not empty, and the displayed words of every chosen option."""
        typed = {key: field.text for key, (_, field) in self.entries.items() if field.text}
        return typed | {key: field.value for key, (_, field) in self.choices.items()}

    def chosen(self, key: str) -> str:
        """Return the displayed words of the selected option in the choice with this key."""
        return self.choices[key][1].value

    def state(self) -> FormState:
        """Return the contents of all fields and choices, which `restore` can put back."""
        texts = {key: field.text for key, (_, field) in self.entries.items()}
        chosen = {key: _option(row, field.index) for key, (row, field) in self.choices.items()}
        return FormState(texts, chosen)

    def restore(self, state: FormState) -> None:
        """Put a state's contents back into all fields and choices."""
        for key, text in state.texts.items():
            field = self.entries[key][1]
            if field.text != text:
                field.text = text
        for key, chosen in state.chosen.items():
            row, choice = self.choices[key]
            options = [_option(row, index) for index in range(len(row.options))]
            if chosen in options:
                choice.index = options.index(chosen)

    def key_of(self, field: Widget | None) -> str:
        """Return the key of the visible number field to which a widget belongs; "" if there is no such field."""
        for key, (row, entry) in self.entries.items():
            if field is not None and entry.display and entry in (field, field.parent):
                return key if is_stepped(row) else ""
        return ""

    def place_of(self, key: str) -> str:
        """Return the label of the field with this key, for use in a sentence elsewhere on the screen."""
        return self.label_of(key).strip()

    def step_of(self, key: str, lathe: Lathe) -> NaturalStep | None:
        """Return by how much the keys < and > change a field's number; None if they do not change this field."""
        return natural_step(self.entries[key][0], self.table(), lathe)

    def split_at_cursor(self, key: str) -> tuple[str, str, str]:
        """Return a field's text in three parts: before the number at the cursor, the number itself, and after it.

        If the field does not accept a list, the number is the whole text.
        """
        row, field = self.entries[key]
        start, end = number_at(field.text, field.cursor) if row.takes_list else (0, len(field.text))
        return field.text[:start], field.text[start:end], field.text[end:]

    def use(self, unused: Collection[str]) -> None:
        """Hide the fields and choices with the keys in `unused`, and show all others."""
        for key, (_, field) in (*self.entries.items(), *self.choices.items()):
            field.display = key not in unused

    def focus_wrong(self) -> None:
        """Move the focus to the first field or choice with an error, if there is one."""
        for _, field in self.entries.values():
            if field.display and field.error:
                field.touch()
                field.focus()
                return
        for _, choice in self.choices.values():
            if choice.display and choice.error:
                choice.focus()
                return

    def focus_empty(self) -> None:
        """Move the focus to the first required field that is empty, if there is one."""
        for row, field in self.entries.values():
            if row.required and field.display and not field.text:
                field.focus()
                return

    def missing(self) -> list[str]:
        """Return the labels of all required fields that are empty."""
        return [row.label for row, field in self.entries.values() if row.required and field.display and not field.value]

    def show_problems(self, problems: Iterable[Problem]) -> list[Problem]:
        """Show each problem beside its field. Return the problems whose field is hidden or does not exist."""
        said: dict[str, str] = {}
        unshown = []
        for problem in problems:
            key = problem.field or problem.key
            field = self._field(key)
            if field is not None and field.display:
                said.setdefault(key, self.in_field_words(problem.message))
            else:
                unshown.append(problem)
        for key, (row, field) in self.entries.items():
            error = said.get(key, "")
            # An empty required field shows its own message.
            if field.error != error and not (row.required and not field.value):
                field.show_error(error)
        for key, (_, choice) in self.choices.items():
            if choice.error != said.get(key, ""):
                choice.show_error(said.get(key, ""))
        return unshown

    def _field(self, key: str) -> QuantityField[str] | ChoiceField | None:
        held = self.entries.get(key) or self.choices.get(key)
        return held[1] if held else None

    def show_problem_at_last_change(self, message: str) -> list[Problem]:
        """Show a message beside the field that the user changed last.

        If there is no such field, return the message as a problem; otherwise return an empty list.
        """
        keys = (key for key, (_, field) in self.entries.items() if field is self._changed_last)
        return self.show_problems([Problem(where="", key=next(keys, ""), message=message)])

    def label_of(self, key: str) -> str:
        """Return the label of the field with this key. If there is no such field, return words made from the key."""
        for row in self.rows:
            if not isinstance(row, str) and row.key == key:
                return row.label
        return key.replace("_", " ").capitalize()

    def in_field_words(self, message: str) -> str:
        """Return a message in which the form's labels, in quotes, replace the keys of a job file."""
        for row in self.rows:
            if not isinstance(row, str) and "_" in row.key:
                message = re.sub(rf'"?\b{row.key}\b"?', f'"{row.label.strip()}"', message)
        return message

    def offer(self, key: str, options: tuple[tuple[str, str | None], ...]) -> None:
        """Replace the options of a choice, and keep the same option selected.

        Do nothing if the selected option is not among the new options.
        """
        row, field = self.choices[key]
        values = [value for _, value in options]
        chosen = row.options[field.index][1]
        if options == row.options or chosen not in values:
            return
        offered = row._replace(options=options)
        self.choices[key] = (offered, field)
        self.rows = tuple(offered if other is row else other for other in self.rows)
        field.offer([words for words, _ in options], values.index(chosen))

    def hint(self, hints: Mapping[str, str]) -> None:
        """Show a hint in each empty field: in brackets, the value that the plan uses for the field.

        `hints` holds these values by field key. A field without such a value shows its own hint.
        """
        for key, (row, field) in self.entries.items():
            value = hints.get(key, "")
            field.hint = f"({value})" if value else row.hint

    @on(QuantityField.Changed)
    @on(ChoiceField.Changed)
    def _changed(self, event: QuantityField.Changed | ChoiceField.Changed) -> None:
        event.stop()
        self._changed_last = event.field
        self.post_message(self.Edited(self, event.field if isinstance(event, QuantityField.Changed) else None))


def _option(row: Choice, index: int) -> str:
    """Return the value of an option; its displayed words if it has no value."""
    words, value = row.options[index]
    return words if value is None else value


def is_stepped(row: Entry) -> bool:
    """Return True if the keys < and > change the number in a field."""
    return bool(row.whole or row.unit) and not row.listed


def _entry_field(row: Entry, table: Mapping[str, Any]) -> QuantityField[str]:
    return QuantityField(
        row.label,
        str.strip,
        text=_list_text(table[row.key]) if row.listed and row.key in table else str(table.get(row.key, "")),
        # Each number of a list may have its own unit.
        unit="" if row.listed else row.unit,
        hint=row.hint,
        required=row.required,
        longest=row.longest,
        leave_out=row.leave_out + (STEP_KEYS if is_stepped(row) else ""),
        limits=row.limits,
        id=f"field-{row.key}",
    )


def _choice_field(row: Choice, table: Mapping[str, Any]) -> ChoiceField:
    words = [option for option, _ in row.options]
    held = [option for option, value in row.options if value is not None and value == table.get(row.key)]
    return ChoiceField(row.label, words, value=row.start or (held or words)[0], id=f"field-{row.key}")


def _list_text(items: object) -> str:
    # Few forms have lists. The others open sooner without this import.
    from core.operations.runout.readings import list_text

    return list_text(items)


def _items(text: str, unit: str) -> list[str]:
    """Split a typed list into its items, and add `unit` to every number without a unit."""
    from core.operations.runout.readings import split_list

    return split_list(text, unit)


def _typed(text: str, whole: bool) -> str | int:
    """Return the typed text as an int if `whole` is true and the text is a whole number; otherwise return it unchanged.

    Core refuses any other text in a field for whole numbers.
    """
    return int(text) if whole and text.isascii() and text.isdecimal() else text
