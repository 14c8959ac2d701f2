"""The form of an operation: its fields in the order in which a turner fills them in, its figures and its help text.

A screen shows the fields. The texts that the user types become the operation's table in a job file.
"""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from core.lathe.lathe import Lathe
from core.plan import Plan
from core.values.errors import QuantityError
from core.values.quantities import read_number

LONGEST_ENTRY = 200
"""The most characters that a field may hold."""


class Entry(NamedTuple):
    """A field of a form, in which the user types the value of one key of the job file."""

    key: str
    label: str
    unit: str = ""
    """The unit of a number that the user types without a unit."""
    hint: str = ""
    whole: bool = False
    """True for a whole number. A job file holds such a number without quotes."""
    required: bool = False
    """True if the user must fill in the field whenever the form shows it."""
    longest: int = LONGEST_ENTRY
    """The most characters that the text may have. A list needs more than a single size."""
    leave_out: str = ""
    """Characters that cannot be typed in the field."""
    limits: bool = False
    """True for a wanted size, which may also be two limits or a fit."""
    applies: tuple[str, Collection[str]] | None = None
    """The key of a choice, and the options with which this field is shown; None if always shown."""
    listed: bool = False
    """True if the field holds several values, which are a list in the table. Each number can omit `unit`."""
    takes_list: bool = False
    """True if the field holds one number or a list of numbers. The keys < and > change the number at the cursor."""
    set_on: tuple[str, ...] = ()
    """The dial on which the value is set. If a choice of the form names a dial, that choice's key comes first."""
    is_across: bool = False
    """True for a diameter, which changes by twice the travel of the slide."""


class Choice(NamedTuple):
    """A field in which the user chooses one of a few options. If no option has a value, only the screen uses the
    choice.
    """

    key: str
    label: str
    options: tuple[tuple[str, str | None], ...]
    """(words, value of the key) for each option. With the value None the table does not have the key."""
    start: str = ""
    """The option chosen at first. "" chooses the option of the table's value, or else the first option."""
    applies: tuple[str, Collection[str]] | None = None
    """The key of another choice, and the options with which this one is shown; None if always shown."""


Row = str | Entry | Choice
"""A heading, or a field."""


MATERIAL = Entry(key="material", label="Material", hint="(not set)")
"""The field for the material, which every form has. The material is a key of the job, not of the operation."""


def set_up_rows(*, speed: bool = True) -> tuple[Row, ...]:
    """Return a heading and the fields for workholding, tool and spindle speed. All fields may stay empty.

    Before each operation, the program lists the entries that differ from those of the operation before. `speed`: False
    omits the spindle speed.
    """
    return (
        "Set-up to show on the card",
        Entry(key="workholding", label="Workholding", hint="(not set)", longest=80),
        Entry(key="tool", label="Tool", hint="(the usual one)", longest=80),
        *((Entry(key="speed", label="Spindle speed", unit="rpm", hint="(not set)"),) if speed else ()),
    )


class Figure(NamedTuple):
    """One figure of a plan as text: its name, its value with the unit, and a note, which is empty if there is none."""

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
    """The form for one kind of operation. Where a function's first argument is Any, it is the result of
    `Operation.read`.
    """

    rows: Callable[[Lathe, Mapping[str, Any]], Sequence[Row]]
    """Returns the headings and fields for a lathe and for the table that fills the fields at first."""
    name: Callable[[Any, Lathe], str]
    """Returns a suggested name for the operation."""
    summary: Callable[[Any, Lathe, Plan], str]
    """Returns a sentence about the cuts or settings of the plan."""
    figures: Callable[[Any, Lathe, Plan], Iterable[Figure]]
    """Returns the most important figures of the plan."""
    help: str
    """The help text. Its first paragraph says in three sentences what the form is for and what to enter."""
    hints: Callable[[Any, Lathe], Mapping[str, str]] = _no_hints
    """Returns, by key, the value that an empty field stands for."""
    as_fields: Callable[[Mapping[str, Any]], Mapping[str, Any]] = _unchanged
    """Returns the texts of the fields, by key, for an operation's table. A list may fill one field an item."""
    as_table: Callable[[Mapping[str, Any]], Mapping[str, Any]] = _unchanged
    """Returns the operation's table for the texts of the fields."""
    spare: Callable[[Mapping[str, str]], Collection[str]] = _none_spare
    """Returns the keys of rows of a list that need not be shown yet, for the texts typed so far."""


def with_unit(text: str, unit: str) -> str:
    """Return a field's text, with `unit` added if the text is a bare number.

    >>> with_unit("20", "mm"), with_unit("3/4 in", "mm")
    ('20 mm', '3/4 in')
    """
    try:
        read_number(text)
    except QuantityError:
        return text
    return f"{text} {unit}" if unit else text


def unused_keys(rows: Iterable[Row], chosen: Callable[[str], str]) -> set[str]:
    """Return the keys of the fields that do not apply to the chosen options.

    `chosen`: takes the key of a choice and returns the option chosen there.

    >>> sorted(unused_keys([Entry("depth", "Depth", applies=("by", ("depth",)))], lambda key: "diameter"))
    ['depth']
    """
    fields = [row for row in rows if not isinstance(row, str)]
    return {row.key for row in fields if row.applies and chosen(row.applies[0]) not in row.applies[1]}
