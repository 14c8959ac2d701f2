"""Reads the keys of one TOML table from a file or a form, and records every problem in the table."""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from core.values.errors import QuantityError
from core.values.plain_text import as_name, clean, quoted
from core.values.quantities import EXAMPLES, MM_PER_INCH, Kind, Quantity, number_text, read_quantity
from core.values.wanted_size import EXAMPLES as SIZE_EXAMPLES
from core.values.wanted_size import WantedSize, read_wanted_size

LONGEST_NAME = 80
"""Most characters of an operation's name."""
_BASE_UNIT: dict[Kind, str] = {
    "length": "mm",
    "pitch": "mm",
    "angle": "deg",
    "rotation": "rpm",
    "surface speed": "m/min",
    "time": "s",
    "power": "W",
}


class Problem(NamedTuple):
    """One error in a TOML table: where the table is, the key, and a message that also says what to enter."""

    where: str
    key: str
    message: str
    field: str = ""
    """The wrong field of a form that shows the key's list in several fields; "" if the key has one field."""

    def __str__(self) -> str:
        return ", ".join(part for part in (self.where, self.key) if part) + f": {self.message}"


class Table:
    """A TOML table from which keys are read.

    A wrong value is recorded as a Problem. The method then returns None, an empty list or tuple, or a default.
    """

    def __init__(
        self, data: Mapping[str, Any], where: str, problems: list[Problem], written: Mapping[str, str] | None = None
    ) -> None:
        """Prepare to read `data`, the content of the table. New problems are added to the list `problems`.

        `where`: the name of the table in the problems. `written`: maps today's names of keys to the old names that the
        file uses, for the problems; None if the file uses today's names.
        """
        self.data = data
        self.where = where
        self.problems = problems
        self.written = written or {}
        self._asked: set[str] = set()

    def has(self, key: str) -> bool:
        """Return whether the table has a key, even if the key's value is wrong."""
        self._asked.add(key)
        return key in self.data

    def problem(self, key: str, message: str, field: str = "") -> None:
        """Record a problem with a key. `message`: what is wrong, and what to enter instead.

        `field`: the wrong field of a form that shows the key's list in several fields; "" if the key has one field.
        """
        self.problems.append(Problem(self.where, self.written.get(key, key), message, field))

    def quantity(
        self,
        key: str,
        kind: Kind,
        *,
        required: bool = False,
        above: float | None = None,
        least: float | None = None,
        most: float | None = None,
    ) -> Quantity | None:
        """Return the quantity of a key; None if the key is missing or its value is wrong.

        The quantity must be more than `above`, at least `least` and at most `most`, all in the base unit of `kind`.
        None means that there is no such limit. A wrong value, or a missing key that is `required`, is recorded as a
        problem.
        """
        if not self._is_there(key, required, EXAMPLES[kind]):
            return None
        try:
            quantity = read_quantity(self.data[key], kind)
        except QuantityError as error:
            self.problem(key, error.message)
            return None
        return quantity if self._within(key, quantity, above, least, most) else None

    def value(self, key: str, kind: Kind, **bounds: Any) -> float | None:
        """Return the quantity of a key as a number in the base unit of `kind`; None if it is missing or wrong.

        `bounds`: the keyword arguments of `quantity`, such as `least=0`.
        """
        quantity = self.quantity(key, kind, **bounds)
        return None if quantity is None else float(quantity.value)

    def length(self, key: str, **bounds: Any) -> float | None:
        """Return the length of a key [mm]; None if it is missing or wrong.

        `bounds`: the keyword arguments of `quantity`, such as `least=0`.
        """
        return self.value(key, "length", **bounds)

    def wanted_size(
        self, key: str, *, required: bool = False, above: float | None = None, least: float | None = None
    ) -> WantedSize | None:
        """Return the wanted size of a key, with its limits if it has any; None if it is missing or wrong.

        The size and its limits must be more than `above` and at least `least` [mm]. None means that there is no such
        limit. A wrong value, or a missing key that is `required`, is recorded as a problem.
        """
        if not self._is_there(key, required, SIZE_EXAMPLES):
            return None
        try:
            size = read_wanted_size(self.data[key])
        except QuantityError as error:
            self.problem(key, error.message)
            return None
        lower = Quantity(kind="length", number=size.lower_mm, unit="mm", value=size.lower_mm)
        return size if self._within(key, lower, above, least, None) else None

    def angle(self, key: str, **bounds: Any) -> float | None:
        """Return the angle of a key [deg]; None if it is missing or wrong.

        `bounds`: the keyword arguments of `quantity`, such as `least=0`.
        """
        return self.value(key, "angle", **bounds)

    def quantities(self, key: str, kind: Kind, *, least: int = 1, most: int = 400) -> tuple[Quantity, ...]:
        """Return the list of quantities of a key; () if the list is missing or wrong.

        The list must have from `least` to `most` items. A wrong list is recorded as a problem.
        """
        quantities = []
        unit = _BASE_UNIT[kind]
        for item in self.items(key, f'a list such as ["10 {unit}", "20 {unit}"]', least=least, most=most):
            try:
                quantities.append(read_quantity(item, kind))
            except QuantityError as error:
                self.problem(key, error.message)
                return ()
        return tuple(quantities)

    def whole(self, key: str, *, required: bool = False, least: int, most: int) -> int | None:
        """Return the whole number of a key, from `least` to `most`; None if it is missing or wrong.

        A wrong value, or a missing key that is `required`, is recorded as a problem.
        """
        accepted = f"a whole number from {least} to {most}" if least < most else str(least)
        if not self._is_there(key, required, accepted):
            return None
        number = self.data[key]
        if complaint := _out_of_range(number, int, least, most):
            unquoted = ", without quotes" if isinstance(number, str) and number.strip().isdecimal() else ""
            self.problem(key, f"{complaint}. Enter {accepted}{unquoted}.")
            return None
        return int(number)

    def wholes(self, key: str, *, least: int, most: int) -> tuple[int, ...]:
        """Return the list of whole numbers of a key; () if the list is missing or wrong.

        Each number must be from `least` to `most`. A wrong list is recorded as a problem.
        """
        return self.checked_wholes(key, self.items(key, "a list of whole numbers", least=1), least=least, most=most)

    def checked_wholes(self, key: str, items: Sequence[Any], *, least: int, most: int) -> tuple[int, ...]:
        """Return `items` if all of them are whole numbers from `least` to `most`.

        Otherwise record a problem with the key and return ().
        """
        for item in items:
            if complaint := _out_of_range(item, int, least, most):
                self.problem(key, f"{complaint}. Enter whole numbers from {least} to {most}.")
                return ()
        return tuple(items)

    def number(self, key: str, *, least: float, most: float) -> float | None:
        """Return the number of a key, without a unit and from `least` to `most`; None if it is missing or wrong."""
        accepted = f"a number from {number_text(least, 3)} to {number_text(most, 3)}"
        if not self._is_there(key, False, accepted):
            return None
        number = self.data[key]
        if complaint := _out_of_range(number, (int, float), least, most):
            self.problem(key, f"{complaint}. Enter {accepted}.")
            return None
        return float(number)

    def flag(self, key: str, default: bool) -> bool:
        """Return the value true or false of a key; `default` if the key is missing or its value is wrong."""
        if not self._is_there(key, False, "true or false"):
            return default
        flag = self.data[key]
        if not isinstance(flag, bool):
            self.problem(key, f"{quoted(flag)} is neither true nor false. Enter true or false, without quotes.")
            return default
        return flag

    def text(self, key: str, *, required: bool = False, longest: int = 200) -> str | None:
        """Return the text of a key without control characters; None if it is missing or wrong.

        The text may have at most `longest` characters. A wrong value, or a missing key that is `required`, is recorded
        as a problem.
        """
        if not self._is_there(key, required, "some text"):
            return None
        text = self.data[key]
        if not isinstance(text, str) or not text.strip():
            complaint = "The text is empty" if isinstance(text, str) else f"{quoted(text)} is not text"
            self.problem(key, f'{complaint}. Enter text in quotes, such as "Left end".')
            return None
        if len(text) > longest:
            self.problem(key, f"The text has {len(text)} characters. Enter at most {longest} characters.")
            return None
        return as_name(text, longest)

    def word(self, key: str, choices: Sequence[str], *, required: bool = False) -> str | None:
        """Return the word of a key, which must be one of `choices`; None if it is missing or wrong.

        A wrong value, or a missing key that is `required`, is recorded as a problem.
        """
        *others, last = (f'"{choice}"' for choice in choices)
        accepted = f"{', '.join(others)} or {last}" if others else last
        if not self._is_there(key, required, accepted):
            return None
        word = self.data[key]
        if not isinstance(word, str) or word not in choices:
            self.problem(key, f"{quoted(word)} is not one of the choices. Enter {accepted}.")
            return None
        return word

    def items(self, key: str, accepted: str, *, least: int = 0, most: int = 400) -> list[Any]:
        """Return the list of a key; [] if the list is missing or wrong.

        The list must have from `least` to `most` items. `accepted`: a description of the right list, which follows
        "Enter" in the message about a wrong list.
        """
        if not self._is_there(key, False, accepted):
            return []
        items = self.data[key]
        if not isinstance(items, list):
            self.problem(key, f"{quoted(items)} is not a list. Enter {accepted}.")
            return []
        if not least <= len(items) <= most:
            entries = "entry" if len(items) == 1 else "entries"
            wanted = f"{least} to {most}" if least < most else str(least)
            self.problem(key, f"The list has {len(items)} {entries}. It must have {wanted} entries. Enter {accepted}.")
            return []
        return items

    def table(self, key: str, *, required: bool = False) -> "Table | None":
        """Return the inner table of a key; None if it is missing or wrong.

        Problems in the inner table are added to the problems of this table. A wrong value, or a missing key that is
        `required`, is recorded as a problem.
        """
        if not self._is_there(key, required, f"a section that begins with [{key}]"):
            return None
        table, name = self.data[key], self.written.get(key, key)
        if not isinstance(table, Mapping):
            self.problem(
                key,
                f"{quoted(table)} is not a section. Write [{name}] on a line of its own, and the keys below this line.",
            )
            return None
        return Table(table, f"{self.where}, [{name}]", self.problems, self.written)

    def refuse_unknown(self) -> None:
        """Record a problem for each key of the table that no method has read, because such a key does not exist."""
        known = ", ".join(sorted(self._asked))
        for key in self.data:
            if key not in self._asked:
                self.problem(clean(key, 40), f"This key does not exist here. Use one of these keys: {known}.")

    def _is_there(self, key: str, required: bool, accepted: str) -> bool:
        self._asked.add(key)
        if key in self.data:
            return True
        if required:
            self.problem(key, f"This value is missing. Enter {accepted}.")
        return False

    def _within(
        self, key: str, quantity: Quantity, above: float | None, least: float | None, most: float | None
    ) -> bool:
        """Return whether a quantity is within its limits. If it is not, record a problem with the key.

        The quantity must be more than `above`, at least `least` and at most `most`. None means that there is no such
        limit.
        """
        value = quantity.value
        if above is not None and value <= Fraction(str(above)):
            complaint = f"is too small. Enter more than {_bound_text(above, quantity)}."
        elif least is not None and value < Fraction(str(least)):
            complaint = f"is too small. Enter at least {_bound_text(least, quantity)}."
        elif most is not None and value > Fraction(str(most)):
            complaint = f"is too large. Enter at most {_bound_text(most, quantity)}."
        else:
            return True
        self.problem(key, f"{quoted(self.data[key])} {complaint}")
        return False


def _out_of_range(number: object, types: type | tuple[type, ...], least: float, most: float) -> str:
    """Return a sentence that says what is wrong with a number without a unit; "" if the number is valid.

    `types`: the types that the number may have. `least` and `most`: its limits.
    """
    if isinstance(number, bool) or not isinstance(number, types) or not isinstance(number, int | float):
        return f"{quoted(number)} is not a {'whole ' if types is int else ''}number"
    if least <= number <= most:
        return ""
    return f"{quoted(number)} is too {'small' if number < least else 'large'}"


def _bound_text(bound: float, quantity: Quantity) -> str:
    """Return a limit as text in the base unit of a quantity, or in inches if the quantity is in inches."""
    if quantity.is_inch:
        return f"{number_text(bound / float(MM_PER_INCH), 4)} in"
    return f"{number_text(bound, 3)} {_BASE_UNIT[quantity.kind]}"
