"""What a kind of operation asks for, and the figures it shows: words of the trade, in the order in which a turner asks.

A screen makes fields of it. What is typed there is the operation's table, as a job file holds it.
"""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from core.lathe.lathe import Lathe
from core.plan import Plan

LONGEST_ENTRY = 200
"""Most characters of what is asked for on one line."""


class Entry(NamedTuple):
    """A key whose value is typed."""

    key: str
    label: str
    unit: str = ""
    """Counts for a bare number."""
    hint: str = ""
    whole: bool = False
    """A whole number stands in the table without quotes."""
    required: bool = False
    """Wanted wherever the field is shown, even where the operation could do without."""
    longest: int = LONGEST_ENTRY
    """Most characters that are taken; a list needs more than a size does."""
    leave_out: str = ""
    """Characters that no value of it has."""
    limits: bool = False
    """A wanted size, which may be limits or a fit."""
    applies: tuple[str, Collection[str]] | None = None
    """Asked for only where a choice, named by its key, is one of these words; None: always."""


class Choice(NamedTuple):
    """A key whose value is one of a few; or, where no option has a value, a choice for the screen alone."""

    key: str
    label: str
    options: tuple[tuple[str, str | None], ...]
    """(words, what stands under the key); None leaves the key out."""
    start: str = ""
    """Words chosen at first; "" for those of the table's value, else the first."""
    applies: tuple[str, Collection[str]] | None = None
    """As for Entry."""


Row = str | Entry | Choice
"""A heading, or a field."""


MATERIAL = Entry(key="material", label="Material", hint="(not given)")
"""What is cut: every form asks it, and the table leaves it to the job."""


class Figure(NamedTuple):
    """One line: what it is, the value with its unit, and a word on where it comes from."""

    name: str
    value: str
    note: str = ""


def _no_hints(found: Any, lathe: Lathe) -> Mapping[str, str]:
    return {}


class Form(NamedTuple):
    """How an operation is entered. `found` is what its declaration's `read` returned."""

    rows: Callable[[Lathe, Mapping[str, Any]], Sequence[Row]]
    """Headings and fields, for a lathe and the table to begin with."""
    name: Callable[[Any, Lathe], str]
    """Suggests a name, from found and the lathe."""
    summary: Callable[[Any, Lathe, Plan], str]
    """Says in a sentence what is to be set."""
    figures: Callable[[Any, Lathe, Plan], Iterable[Figure]]
    """What is wanted first."""
    help: str
    """Explains it in paragraphs, each a few plain sentences."""
    hints: Callable[[Any, Lathe], Mapping[str, str]] = _no_hints
    """What counts, key by key, where nothing is typed."""


def unused_keys(rows: Iterable[Row], chosen: Callable[[str], str]) -> set[str]:
    """Return the keys of the fields that do not apply to what is `chosen` [words] for each choice's key.

    >>> sorted(unused_keys([Entry("depth", "Depth", applies=("by", ("depth",)))], lambda key: "diameter"))
    ['depth']
    """
    fields = [row for row in rows if not isinstance(row, str)]
    return {row.key for row in fields if row.applies and chosen(row.applies[0]) not in row.applies[1]}
