"""The form of an operation: its fields and figures, in the order in which a turner asks.

A screen shows it as fields. The text that the user types becomes the operation's table in a job file.
"""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from core.lathe.lathe import Lathe
from core.plan import Plan
from core.values.errors import QuantityError
from core.values.quantities import read_number

LONGEST_ENTRY = 200
"""Longest text of a field, in characters."""


class Entry(NamedTuple):
    """A field in which the user types the value of a key."""

    key: str
    label: str
    unit: str = ""
    """The unit of a number typed without one."""
    hint: str = ""
    whole: bool = False
    """True for a whole number, which the table holds without quotes."""
    required: bool = False
    """True if the user must fill in the field whenever it is shown."""
    longest: int = LONGEST_ENTRY
    """The most characters that the text may have; a list needs more than a single size."""
    leave_out: str = ""
    """Characters that cannot be typed in the field."""
    limits: bool = False
    """True for a wanted size, which may also be two limits or a fit."""
    applies: tuple[str, Collection[str]] | None = None
    """The key of a choice, and the words of it for which this field is shown; None if it is always shown."""
    listed: bool = False
    """True: several values in one line, a list in the table; a bare number gets `unit`."""
    set_on: tuple[str, ...] = ()
    """The dial on which the value is set. A key whose choice names the dial comes before the usual dial."""
    is_across: bool = False
    """True for a diameter, which changes by twice the travel of the slide."""


class Choice(NamedTuple):
    """A field with a few options. If the options have no values, only the screen uses the choice."""

    key: str
    label: str
    options: tuple[tuple[str, str | None], ...]
    """(words, value of the key) of each option; the value None means that the table lacks the key."""
    start: str = ""
    """The words chosen at first. "" means those of the table's value, or else the first ones."""
    applies: tuple[str, Collection[str]] | None = None
    """The same as `Entry.applies`."""


Row = str | Entry | Choice
"""A heading, or a field."""


MATERIAL = Entry(key="material", label="Material", hint="(not set)")
"""The field of the material, which every form has. The material belongs to the job, not to the operation's table."""


def set_up_rows(*, speed: bool = True) -> tuple[Row, ...]:
    """Return the fields for what a job may say about the set-up. A change of these is shown between operations."""
    return (
        "Set-up, if you want it on the card",
        Entry(key="workholding", label="Workholding", hint="(not set)", longest=80),
        Entry(key="tool", label="Tool", hint="(the usual one)", longest=80),
        *((Entry(key="speed", label="Spindle speed", unit="rpm", hint="(not set)"),) if speed else ()),
    )


class Figure(NamedTuple):
    """One line of figures: its name, the value with its unit, and a note."""

    name: str
    value: str
    note: str = ""


def _no_hints(parameters: Any, lathe: Lathe) -> Mapping[str, str]:
    return {}


def _unchanged(table: Mapping[str, Any]) -> Mapping[str, Any]:
    return table


def _none_spare(texts: Mapping[str, str]) -> Collection[str]:
    return ()


class Form(NamedTuple):
    """How the user enters an operation. Its functions get what the operation's `read` returned."""

    rows: Callable[[Lathe, Mapping[str, Any]], Sequence[Row]]
    """Returns headings and fields for a lathe and for the table that fills them at first."""
    name: Callable[[Any, Lathe], str]
    """Returns a name for the operation, as a suggestion."""
    summary: Callable[[Any, Lathe, Plan], str]
    """Returns a sentence that says what to set."""
    figures: Callable[[Any, Lathe, Plan], Iterable[Figure]]
    """Returns the figures that matter most."""
    help: str
    """The help text. Its first paragraph says in three sentences what the form is for and what to do."""
    hints: Callable[[Any, Lathe], Mapping[str, str]] = _no_hints
    """Returns, by key, the values that apply if the user types nothing."""
    as_fields: Callable[[Mapping[str, Any]], Mapping[str, Any]] = _unchanged
    """Returns the fields, by key, for an operation's table. They differ if the table has a list with a row each."""
    as_table: Callable[[Mapping[str, Any]], Mapping[str, Any]] = _unchanged
    """Returns the operation's table for what is in the fields."""
    spare: Callable[[Mapping[str, str]], Collection[str]] = _none_spare
    """Returns, for the texts typed so far, the keys of rows of a list that need not be shown yet."""


def with_unit(text: str, unit: str) -> str:
    """Return a text with the unit of its field, if it is a bare number.

    >>> with_unit("20", "mm"), with_unit("3/4 in", "mm")
    ('20 mm', '3/4 in')
    """
    try:
        read_number(text)
    except QuantityError:
        return text
    return f"{text} {unit}" if unit else text


def unused_keys(rows: Iterable[Row], chosen: Callable[[str], str]) -> set[str]:
    """Return the keys of the fields that do not apply. `chosen` returns the words chosen for a choice's key.

    >>> sorted(unused_keys([Entry("depth", "Depth", applies=("by", ("depth",)))], lambda key: "diameter"))
    ['depth']
    """
    fields = [row for row in rows if not isinstance(row, str)]
    return {row.key for row in fields if row.applies and chosen(row.applies[0]) not in row.applies[1]}
