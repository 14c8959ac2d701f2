"""What an entry of the table of lathe keys holds: how a key stands in the file, what it means, how it is asked."""

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any, Literal, NamedTuple

from core.values.fields import Table
from core.values.quantities import Kind, Quantity

Bound = float | Fraction
Ends = tuple[Bound, Bound]
"""Of what is usual; a fraction where decimals would not say it exactly."""

OWN_KEY = "~"
"""Begins the keys that only set-up keeps and no lathe file holds, such as the unit that a dial is engraved in."""
KIND = "~kind"
UNIT = "~unit"
DIAL_UNIT = "dial"
"""As a key's unit: the one that its dial is engraved in."""
WHOLE = "*"
"""Among the keys that an option removes: all of its table."""
THERE, NONE = "there", "none"
DIAL, READOUT = "dial", "readout"
STEPS, STEPLESS = "steps", "stepless"
"""What set-up may know of a part before it asks for its keys; see Question.when."""


class ValueForm(NamedTuple):
    """What stands under a key. Bounds are in the base unit of its kind; those of a list hold for each item."""

    name: Literal[
        "text", "whole", "number", "flag", "word", "ratio", "quantity", "wholes", "quantities", "range", "plates"
    ]
    """A "range" is two quantities, "plates" are lists of wholes."""
    kind: Kind | None = None
    unit: str = ""
    """Counts for a bare number typed in set-up."""
    words: tuple[str, ...] = ()
    """What a "word" may be."""
    required: bool = False
    above: int | None = None
    least: int | None = None
    most: int | None = None
    longest: int = 400
    """Characters of a text, items of a list."""
    of: Callable[[Any], Any] | None = None
    """Makes of what was read what a field holds; None for what is usual, see `field_value`."""

    def field_value(self, read: Any) -> Any:
        """Return what a field holds: as a float or floats that rise where it was a quantity, else as it was read."""
        if self.of is not None:
            return self.of(read)
        if isinstance(read, Quantity):
            return float(read.value)
        return tuple(sorted(float(item.value) for item in read)) if self.name in {"quantities", "range"} else read


class Option(NamedTuple):
    """One of a few answers."""

    words: str
    value: Any
    """What stands under the key; None leaves the key out."""
    short: str = ""
    """As it stands in the list of chapters; "" for what says nothing there."""
    removes: tuple[str, ...] = ()
    """Keys of the same table that make no sense beside it; (WHOLE,): all of them."""
    picture: str = ""
    """Shown while this answer is pointed at, in place of the question's own."""


class Question(NamedTuple):
    """One question to one key. It is either answered by one of `options` or typed."""

    asked: str
    label: str = ""
    """The answer in the list of chapters: "one turn" (4 mm)."""
    how: tuple[str, ...] = ()
    """How to find out, a paragraph each."""
    picture: str = ""
    options: tuple[Option, ...] = ()
    example: str = ""
    measuring: str = ""
    """What can be measured instead: its name in core.lathe.set_up.measuring.FINDINGS."""
    usual: Ends | None = None
    """In the base unit: a number below or above is asked about once more; None where no number is asked for."""
    share: tuple[str, Bound, Bound] | None = None
    """A key of the same table, and between which shares of its value a number is usual."""
    when: tuple[str, ...] = ()
    """What is known of the part where the question makes sense, such as (DIAL, READOUT); () for always."""
    beside: str = ""
    """The key that must have a value before the question makes sense, "" for none."""
    late: bool = False
    """Asked behind the other questions of its part, wherever the key stands in the file."""
    implied: Callable[[Mapping[str, Any]], Any] | None = None
    """Told a table without the key: the answer that the rest of it gives away, None for none."""
    clashes: Callable[[Mapping[str, Any], Any], tuple[str, ...]] | None = None
    """Told the table so far and an answer: keys of the table that make no sense beside it."""
    key: str = ""
    """This and the form are the key's own, which Key.asked adds."""
    form: ValueForm = ValueForm("word")

    def applies(self, known: Any, table: Mapping[str, Any]) -> bool:
        """Tell whether it makes sense with what is known of the part and with its table so far."""
        return (not self.when or known in self.when) and (not self.beside or bool(table.get(self.beside)))

    def value_in(self, table: Mapping[str, Any]) -> Any:
        """Return the answer that a table holds or gives away, None for none."""
        if self.key in table:
            return table[self.key]
        return self.implied(table) if self.implied else None

    def removes(self, table: Mapping[str, Any], value: Any) -> tuple[str, ...]:
        """Return the keys told in a table that make no sense beside an answer, which leaves them out."""
        option = self.option_of(value)
        named = (*(option.removes if option else ()), *(self.clashes(table, value) if self.clashes else ()))
        return tuple(key for key in table if key != self.key and (WHOLE in named or key in named))

    def option_of(self, value: Any) -> Option | None:
        """Return the option that stands for a value, None where none does."""
        return next((option for option in self.options if option.value == value), None)


class Key(NamedTuple):
    """One key of a lathe file."""

    form: ValueForm
    comment: str
    """As it is written beside it."""
    field: str = ""
    """Where it goes: a field of the Lathe, or of what is made of its part; "" for one of its own name."""
    question: Question | Callable[[str], Question | None] | None = None
    """None where no question asks for it; for a dial's key the question to the dial of a name."""

    def asked(self, name: str, dial: str = "") -> Question | None:
        """Return the question that asks for it by its name, at a dial in words for that dial; None for none."""
        found = self.question(dial) if callable(self.question) else self.question
        return found and found._replace(key=name, form=self.form)


class Part(NamedTuple):
    """One table of a lathe file, or its first lines where `section` is ""."""

    section: str
    title: str
    """As set-up calls it; a dial is called by its name."""
    keys: Mapping[str, Key]
    """By name, in the order in which they are written."""
    comment: str = ""
    """Written above it."""
    field: str = ""
    """The field of the Lathe that holds what is made of it, "" where its keys go to fields of the Lathe."""
    make: Callable[..., Any] = dict
    """Takes by name each field that the file has a value for; not called where a required key is missing or wrong."""
    check: Callable[[Table, Mapping[str, Any]], None] | None = None
    """Takes its keys as read, None or () for what is not given or wrong, and notes what no single one can tell."""

    def questions(self, dial: str = "") -> tuple[Question, ...]:
        """Return its questions in the order in which they are asked."""
        asked = [question for name, key in self.keys.items() if (question := key.asked(name, dial))]
        return tuple(sorted(asked, key=lambda question: question.late))


def exact(quantity: Quantity) -> Fraction:
    """Return a quantity in its base unit, exactly."""
    return quantity.value


def as_read(quantity: Quantity) -> Quantity:
    """Return a quantity with its unit, for a part whose numbers stay in it."""
    return quantity
