"""Changes the number in a text by steps up or down, and keeps the unit in which the number is written.

A length for a dial moves from mark to mark. If the number lies between two marks, the first step moves to a mark.
"""

import re
from fractions import Fraction

from core.values.angles import whole_seconds_text
from core.values.errors import QuantityError
from core.values.plain_text import quoted
from core.values.quantities import NUMBER_PATTERN, Kind, Quantity, number_text, read_number, read_quantity, unit_size

_NUMBER_FIRST = re.compile(rf"[+-]?\s*(?:{NUMBER_PATTERN})(\s*[^\d]*)", re.ASCII)
_ON_A_MARK = Fraction(1, 20)
"""A value counts as on a mark up to this distance, in parts of a step, because its text may be rounded."""
_FINEST: dict[Kind, Fraction] = {"length": Fraction(1, 10_000), "angle": Fraction(1, 100)}
"""The finest part of a length [mm] or an angle [deg] that a stepped text shows."""
_MOST_DECIMALS = 7
_BETWEEN_NUMBERS = re.compile(r"\s*;\s*(?=\S)|,\s+(?=\S)")
"""Matches a separator in a list. A comma without a blank after it is a decimal comma."""


def kind_of_unit(unit: str) -> Kind | None:
    """Return the kind of quantity that a unit measures: a length, an angle or a rotation; None for other units.

    >>> kind_of_unit("mm"), kind_of_unit("deg"), kind_of_unit("tpi")
    ('length', 'angle', None)
    """
    kinds: tuple[Kind, ...] = ("length", "angle", "rotation")
    return next((kind for kind in kinds if unit_size(unit, kind) is not None), None)


def number_at(text: str, cursor: int) -> tuple[int, int]:
    """Return where the number at the cursor starts and ends in the text of a list of numbers.

    All positions are in characters from the start of the text. `cursor`: how many characters are before the cursor. A
    cursor in a separator belongs to the number before it.

    >>> number_at("0.6 mm, 0.3 mm", 6), number_at("0.6 mm, 0.3 mm", 8)
    ((0, 6), (8, 14))
    """
    start = 0
    for separator in _BETWEEN_NUMBERS.finditer(text):
        if cursor < separator.end():
            return start, separator.start()
        start = separator.end()
    return start, len(text)


def stepped(text: str, unit: str, size: Fraction, steps: int) -> str:
    """Return a text with its number changed by `steps` steps: up if `steps` is positive, down if it is negative.

    `unit`: the unit of a number written without a unit; "" for a count. `size`: the size of one step [mm, deg or rpm,
    or a count]. Raises QuantityError if the text is not a single number.

    >>> stepped("20", "mm", Fraction(1, 20), 1), stepped("20.03 mm", "mm", Fraction(1, 20), -1)
    ('20.05', '20 mm')
    >>> stepped("1/2 in", "mm", Fraction(254, 10_000), 1), stepped("12°30'", "deg", Fraction(1), 1)
    ('0.501 in', '13°0\\'0"')
    """
    text = text.strip()
    kind = kind_of_unit(unit) if unit else None
    if kind is None:
        number = text.removesuffix(unit)
        return f"{number_text(_next_mark(_bare(number), size, steps), _MOST_DECIMALS)}{text[len(number.rstrip()) :]}"
    quantity = _quantity(text, unit, kind)
    value = _next_mark(quantity.value, size, steps)
    written = _NUMBER_FIRST.fullmatch(text)
    if written is None:
        # Degrees, minutes and seconds.
        return whole_seconds_text(value)
    unit_value = unit_size(quantity.unit, kind) or Fraction(1)
    decimals = _decimals(unit_value, _FINEST.get(kind, Fraction(1)))
    return f"{number_text(value / unit_value, decimals)}{written[1]}"


def _bare(text: str) -> Fraction:
    try:
        return read_number(text)
    except QuantityError:
        raise _not_single(text) from None


def _quantity(text: str, unit: str, kind: Kind) -> Quantity:
    try:
        read_number(text)
    except QuantityError:
        written = text
    else:
        written = f"{text} {unit}"
    try:
        return read_quantity(written, kind)
    except QuantityError:
        raise _not_single(text) from None


def _not_single(text: str) -> QuantityError:
    if not text:
        return QuantityError("This field is empty. Enter a number first.")
    return QuantityError(f"{quoted(text, 40)} is not a single number. Type the new value in the field.")


def _next_mark(value: Fraction, size: Fraction, steps: int) -> Fraction:
    """Return the value `steps` marks further on.

    If `value` lies between two marks, the first step goes to the next mark. `size`: the distance between two marks.
    """
    marks = value / size
    nearest = round(marks)
    if abs(marks - nearest) > _ON_A_MARK:
        nearest = marks.__floor__() if steps > 0 else marks.__ceil__()
    return (nearest + steps) * size


def _decimals(unit_value: Fraction, finest: Fraction) -> int:
    """Return how many decimal places a number needs to show a change of `finest`.

    `unit_value`: the size of the number's unit. Both are in the base unit.
    """
    return next((places for places in range(_MOST_DECIMALS) if unit_value <= finest * 10**places), _MOST_DECIMALS)
