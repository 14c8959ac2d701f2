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
    """A field to type a key's value in."""

    key: str
    label: str
    unit: str = ""
    """Unit of a bare number."""
    hint: str = ""
    whole: bool = False
    """True: a whole number, written without quotes in the table."""
    required: bool = False
    """True: must be entered whenever the field is shown."""
    longest: int = LONGEST_ENTRY
    """Longest text in characters; a list needs more than a size."""
    leave_out: str = ""
    """Characters that are not allowed in the value."""
    limits: bool = False
    """True: a wanted size, which can be limits or a fit."""
    applies: tuple[str, Collection[str]] | None = None
    """Shown only if a choice, by its key, is one of these words; None: always."""
    listed: bool = False
    """True: several values in one line, a list in the table; a bare number gets `unit`."""


class Choice(NamedTuple):
    """A field with a few options; without values it is a choice for the screen only."""

    key: str
    label: str
    options: tuple[tuple[str, str | None], ...]
    """(words, value of the key); None: no key."""
    start: str = ""
    """Words chosen at first; "" chooses the words of the table's value, or else the first words."""
    applies: tuple[str, Collection[str]] | None = None
    """As for Entry."""


Row = str | Entry | Choice
"""A heading, or a field."""


MATERIAL = Entry(key="material", label="Material", hint="(not set)")
"""The material. Every form asks for it, but it belongs to the job, not to the operation's table."""


class Figure(NamedTuple):
    """One line of figures: its name, the value with its unit, and a note."""

    name: str
    value: str
    note: str = ""


def _no_hints(parameters: Any, lathe: Lathe) -> Mapping[str, str]:
    return {}


class Form(NamedTuple):
    """How an operation is entered. The first argument of its functions is what the operation's `read` returned."""

    rows: Callable[[Lathe, Mapping[str, Any]], Sequence[Row]]
    """Returns headings and fields, for a lathe and the table to start with."""
    name: Callable[[Any, Lathe], str]
    """Suggests a name."""
    summary: Callable[[Any, Lathe, Plan], str]
    """Returns a sentence that says what to set."""
    figures: Callable[[Any, Lathe, Plan], Iterable[Figure]]
    """Returns the figures that matter most."""
    help: str
    """Returns the help text in paragraphs, each a few plain sentences."""
    hints: Callable[[Any, Lathe], Mapping[str, str]] = _no_hints
    """Returns, by key, the values that count if nothing is typed."""


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
    """Return the keys of the fields that do not apply; `chosen` returns the words chosen for a choice's key.

    >>> sorted(unused_keys([Entry("depth", "Depth", applies=("by", ("depth",)))], lambda key: "diameter"))
    ['depth']
    """
    fields = [row for row in rows if not isinstance(row, str)]
    return {row.key for row in fields if row.applies and chosen(row.applies[0]) not in row.applies[1]}
