"""One entry of the table of lathe keys: its form in the file, its meaning, and its question in set-up."""

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any, Literal, NamedTuple

from core.values.fields import Table
from core.values.quantities import Kind, Quantity

Bound = float | Fraction
Ends = tuple[Bound, Bound]
"""The lowest and the highest usual number, as fractions if decimals would not be exact."""

OWN_KEY = "~"
"""Starts the keys that set-up keeps and no lathe file has, such as the unit engraved on a dial."""
KIND = "~kind"
UNIT = "~unit"
DIAL_UNIT = "dial"
"""The unit of a key that is in the unit engraved on its dial."""
WHOLE = "*"
"""In the list of keys that an option deletes: all keys of its table."""
THERE, NONE = "there", "none"
DIAL, READOUT = "dial", "readout"
STEPS, STEPLESS = "steps", "stepless"
SHARP, FLAT, ROUND = "sharp", "flat", "round"
"""What set-up asks about a part before it asks for its keys: see `Question.when`."""


class ValueForm(NamedTuple):
    """The form of a key's value. Bounds are in the base unit of its kind; for a list they apply to each item."""

    name: Literal[
        "text", "whole", "number", "flag", "word", "ratio", "quantity", "wholes", "quantities", "range", "plates"
    ]
    """The form of the value. A "range" is two quantities, and "plates" are lists of whole numbers."""
    kind: Kind | None = None
    unit: str = ""
    """The unit of a number that is typed without a unit in set-up."""
    words: tuple[str, ...] = ()
    """The words that a key of form "word" accepts."""
    required: bool = False
    above: int | None = None
    least: int | None = None
    most: int | None = None
    longest: int = 400
    """Most characters of a text, or most items of a list."""
    of: Callable[[Any], Any] | None = None
    """The function that turns what the file holds into the value of a field; None for `field_value`."""

    def field_value(self, read: Any) -> Any:
        """Return the value of a field: a quantity as float, a list of quantities in rising order, others as read."""
        if self.of is not None:
            return self.of(read)
        if isinstance(read, Quantity):
            return float(read.value)
        return tuple(sorted(float(item.value) for item in read)) if self.name in {"quantities", "range"} else read


class Option(NamedTuple):
    """One of the answers that a question offers."""

    words: str
    value: Any
    """The value that the key gets; None removes the key."""
    short: str = ""
    """Its words in the list of chapters; "" if nothing is shown."""
    removes: tuple[str, ...] = ()
    """The keys of the same table that this answer deletes; (WHOLE,) deletes them all."""
    picture: str = ""
    """Shown while the cursor is on this answer, instead of the question's own picture."""


class Question(NamedTuple):
    """One question about one key, answered by one of `options` or by typing."""

    asked: str
    label: str = ""
    """What names the answer in the list of chapters, such as "one turn" before 4 mm."""
    how: tuple[str, ...] = ()
    """How the user can find the answer, paragraph by paragraph."""
    picture: str = ""
    options: tuple[Option, ...] = ()
    example: str = ""
    measuring: str = ""
    """How to measure it: a name in core.lathe.set_up.measuring.MEASURING_METHODS; "" for none."""
    usual: Ends | None = None
    """The usual range, in the base unit; None if no number is asked for.

    Set-up asks the user to confirm a number outside it.
    """
    share: tuple[str, Bound, Bound] | None = None
    """Another key of the table, and the usual range of this number divided by the value of that key."""
    when: tuple[str, ...] = ()
    """The sorts of part to which the question applies, such as (DIAL, READOUT); () for all."""
    beside: str = ""
    """The key that must have a value before this question is asked; "" if there is none."""
    late: bool = False
    """True to ask this question after the others of its part, wherever the key is in the file."""
    implied: Callable[[Mapping[str, Any]], Any] | None = None
    """Returns the answer that the other keys of a table imply, if the table lacks this key; else None."""
    clashes: Callable[[Mapping[str, Any], Any], tuple[str, ...]] | None = None
    """Returns the keys of the table so far that contradict an answer."""
    key: str = ""
    """The key that the question is about. `Key.asked` fills in this and the form."""
    form: ValueForm = ValueForm("word")

    def applies(self, known: Any, table: Mapping[str, Any]) -> bool:
        """Return whether to ask this question, by the kind of the part and the answers in its table so far."""
        return (not self.when or known in self.when) and (not self.beside or bool(table.get(self.beside)))

    def value_in(self, table: Mapping[str, Any]) -> Any:
        """Return the answer that a table holds or implies, None if it does neither."""
        if self.key in table:
            return table[self.key]
        return self.implied(table) if self.implied else None

    def removes(self, table: Mapping[str, Any], value: Any) -> tuple[str, ...]:
        """Return the keys of a table that an answer contradicts, and that it therefore deletes."""
        option = self.option_of(value)
        named = (*(option.removes if option else ()), *(self.clashes(table, value) if self.clashes else ()))
        return tuple(key for key in table if key != self.key and (WHOLE in named or key in named))

    def option_of(self, value: Any) -> Option | None:
        """Return the option with this value, None if there is none."""
        return next((option for option in self.options if option.value == value), None)


class Key(NamedTuple):
    """One key of a lathe file."""

    form: ValueForm
    comment: str
    """The comment beside the key in the file."""
    field: str = ""
    """The field of the Lathe, or of the part, that this key fills; "" if the field has the same name."""
    question: Question | Callable[[str], Question | None] | None = None
    """The question for this key; None if it has none.

    For a key of a dial: a function that returns the question for the dial's name.
    """

    def asked(self, name: str, dial: str = "") -> Question | None:
        """Return the question for this key, None if it has none. For a dial, the question names that dial."""
        question = self.question(dial) if callable(self.question) else self.question
        return question and question._replace(key=name, form=self.form)


class Part(NamedTuple):
    """One table of a lathe file. If `section` is "", the lines before the first table."""

    section: str
    title: str
    """The name of the part in set-up. For a dial, set-up uses the dial's name."""
    keys: Mapping[str, Key]
    """The keys of the table by name, in the order in which they are written."""
    comment: str = ""
    """The comment above the table in the file."""
    field: str = ""
    """The field of the Lathe that holds this part; "" if its keys fill fields of the Lathe itself."""
    make: Callable[..., Any] = dict
    """Makes the part from the fields that have a value. It is not called if a required key is missing or wrong."""
    check: Callable[[Table, Mapping[str, Any]], None] | None = None
    """Reports keys that contradict each other. A key that is missing or wrong is passed as None or ()."""

    def questions(self, dial: str = "") -> tuple[Question, ...]:
        """Return the questions about this part in the order in which they are asked."""
        asked = [question for name, key in self.keys.items() if (question := key.asked(name, dial))]
        return tuple(sorted(asked, key=lambda question: question.late))


def exact(quantity: Quantity) -> Fraction:
    """Return a quantity in its base unit, as an exact fraction."""
    return quantity.value


def as_read(quantity: Quantity) -> Quantity:
    """Return a quantity in the unit it was written in, for a part that keeps its numbers in that unit."""
    return quantity
