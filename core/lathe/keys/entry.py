"""The types that declare one key of a lathe file: its form in the file, its meaning and its question in set-up."""

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any, Literal, NamedTuple

from core.values.fields import Table
from core.values.quantities import Kind, Quantity

Bound = float | Fraction
Ends = tuple[Bound, Bound]
"""The lowest and the highest usual number, as fractions if decimals would not be exact."""

OWN_KEY = "~"
"""First character of keys that only set-up keeps, such as the unit engraved on a dial. No lathe file has them."""
KIND = "~kind"
UNIT = "~unit"
DIAL_UNIT = "dial"
"""Stands for the unit engraved on the dial to which a key belongs."""
WHOLE = "*"
"""In the list of keys that an option deletes, stands for all keys of the table."""
THERE, NONE = "there", "none"
DIAL, READOUT = "dial", "readout"
STEPS, STEPLESS = "steps", "stepless"
SHARP, FLAT, ROUND = "sharp", "flat", "round"
"""The question about a part that set-up asks before it asks for the part's keys. See `Question.when`."""


class ValueForm(NamedTuple):
    """The form and the limits of a key's value.

    The limits are in the base unit of the value's kind, such as mm for a length. In a list, each item must be within
    the limits.
    """

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
    """The function that turns the value in the file into the value of a field. None for `field_value`."""

    def field_value(self, read: Any) -> Any:
        """Return a key's value as its field stores it.

        A quantity becomes a float, and a list of quantities becomes floats in rising order. Other values stay
        unchanged. If the form has a function `of`, that function converts the value instead.
        """
        if self.of is not None:
            return self.of(read)
        if isinstance(read, Quantity):
            return float(read.value)
        return tuple(sorted(float(item.value) for item in read)) if self.name in {"quantities", "range"} else read


class Option(NamedTuple):
    """One of the answers that the user can choose for a question of set-up."""

    words: str
    value: Any
    """The value that the key gets; None removes the key."""
    short: str = ""
    """The words for this answer in the list of chapters; "" if nothing is shown."""
    removes: tuple[str, ...] = ()
    """The keys of the same table that this answer deletes. (WHOLE,) deletes all keys."""
    picture: str = ""
    """The picture for this answer, shown while the cursor is on the answer in place of the question's own picture."""


class Question(NamedTuple):
    """A question that set-up asks about one key.

    The user chooses one of `options`, or types the answer if there are none.
    """

    asked: str
    label: str = ""
    """The label of the answer in the list of chapters, such as "one turn" before 4 mm."""
    how: tuple[str, ...] = ()
    """Sentences that say how to find the answer, paragraph by paragraph."""
    picture: str = ""
    options: tuple[Option, ...] = ()
    example: str = ""
    measuring: str = ""
    """The name of a measuring method in core.lathe.set_up.measuring.MEASURING_METHODS; "" if there is none."""
    usual: Ends | None = None
    """The usual range of the answer, in the base unit. None if the answer is not a number.

    Set-up asks the user to confirm a number outside this range.
    """
    share: tuple[str, Bound, Bound] | None = None
    """Another key of the table, and the usual range of this number divided by the value of that key."""
    when: tuple[str, ...] = ()
    """The kinds of part to which the question applies, such as (DIAL, READOUT); () for all."""
    beside: str = ""
    """The key that must have a value before this question is asked; "" if there is none."""
    late: bool = False
    """True to ask this question after the others of its part, wherever the key is in the file."""
    implied: Callable[[Mapping[str, Any]], Any] | None = None
    """Returns the answer that other keys of a table imply, if the table lacks this key. Otherwise returns None."""
    clashes: Callable[[Mapping[str, Any], Any], tuple[str, ...]] | None = None
    """Returns the keys of a table that contradict an answer."""
    key: str = ""
    """The key that the question is about. `Key.asked` fills in this field and the form."""
    form: ValueForm = ValueForm("word")

    def applies(self, known: Any, table: Mapping[str, Any]) -> bool:
        """Return whether set-up asks this question.

        `known`: the kind of the part, such as DIAL or READOUT. `table`: the answers about the part so far.
        """
        return (not self.when or known in self.when) and (not self.beside or bool(table.get(self.beside)))

    def value_in(self, table: Mapping[str, Any]) -> Any:
        """Return the answer in a table, or the answer that the table's other keys imply; None if there is no answer."""
        if self.key in table:
            return table[self.key]
        return self.implied(table) if self.implied else None

    def removes(self, table: Mapping[str, Any], value: Any) -> tuple[str, ...]:
        """Return the keys of `table` that must be deleted because they contradict the answer `value`."""
        option = self.option_of(value)
        named = (*(option.removes if option else ()), *(self.clashes(table, value) if self.clashes else ()))
        return tuple(key for key in table if key != self.key and (WHOLE in named or key in named))

    def option_of(self, value: Any) -> Option | None:
        """Return the option with this value; None if the user has to type the value."""
        return next((option for option in self.options if option.value == value), None)


class Key(NamedTuple):
    """The declaration of one key of a lathe file."""

    form: ValueForm
    comment: str
    """The comment next to the key in the file."""
    field: str = ""
    """The field of the Lathe, or of the part, that this key fills; "" if the field has the name of the key."""
    question: Question | Callable[[str], Question | None] | None = None
    """The question for this key. None if there is none.

    For a key of a dial: a function that returns the question for the dial's name.
    """

    def asked(self, name: str, dial: str = "") -> Question | None:
        """Return the question about this key; None if the key has no question.

        `name`: the name of the key. `dial`: the name of the dial that the question mentions; "" if the key does not
        belong to a dial.
        """
        question = self.question(dial) if callable(self.question) else self.question
        return question and question._replace(key=name, form=self.form)


class Part(NamedTuple):
    """The declaration of one table of a lathe file, or of the keys before the first table if `section` is ""."""

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
    """Reports keys that contradict each other. A missing or wrong key is passed as None or ()."""

    def questions(self, dial: str = "") -> tuple[Question, ...]:
        """Return the questions about this part in the order in which set-up asks them.

        `dial`: the name of the dial that the questions mention; "" if the part is not a dial.
        """
        asked = [question for name, key in self.keys.items() if (question := key.asked(name, dial))]
        return tuple(sorted(asked, key=lambda question: question.late))


def exact(quantity: Quantity) -> Fraction:
    """Return the exact value of a quantity in its base unit, such as mm or degrees."""
    return quantity.value


def as_read(quantity: Quantity) -> Quantity:
    """Return a quantity unchanged. Used for keys whose values must keep the unit in which they were written."""
    return quantity
