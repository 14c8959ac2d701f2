"""Writes numbers with their units: as a screen shows them, and as a field accepts them."""

from fractions import Fraction
from math import floor, log10
from typing import NamedTuple

from core.values.quantities import number_text

_LARGEST_DENOMINATOR = 100
"""The largest denominator of a fraction that is useful to a turner."""
_FIELD_DIGITS = 9


class Row(NamedTuple):
    """One row of an answer on the conversion page: a label, and a value in words."""

    label: str
    words: str
    field_text: str = ""
    """The value in a form that a field accepts; "" if no field accepts it."""
    is_limits: bool = False
    """True if the value is two sizes, which only a field for limits accepts."""


def figure_text(value: Fraction | float, unit: str = "", digits: int = 7) -> str:
    """Return a number with its unit, rounded to `digits` significant digits.

    An exponent is used only below 1e-9 and from 1e15. `unit`: "" for a number without a unit.

    >>> figure_text(Fraction(1, 3), "in"), figure_text(31750, "um"), figure_text(-12.5)
    ('0.3333333 in', '31750 um', '-12.5')
    """
    number = float(value)
    size = abs(number)
    if number and not 1e-9 <= size < 1e15:
        text = f"{number:.{digits}g}"
    else:
        # A leading zero is not a significant digit.
        places = digits - 1 - floor(log10(size)) if size else 0
        text = number_text(number, min(max(places, 0), 15))
    return f"{text} {unit}".rstrip()


def exact_text(value: Fraction, unit: str, shown_digits: int = 7) -> str:
    """Return a number with its unit, rounded to `shown_digits` significant digits.

    If the decimals are not exact, a fraction with a denominator of at most 100 is added.

    >>> exact_text(Fraction(1, 3), "in")
    '0.3333333 in (exactly 1/3 in)'
    """
    text = figure_text(value, unit, shown_digits)
    if Fraction(figure_text(value, "", shown_digits)) == value or value.denominator > _LARGEST_DENOMINATOR:
        return text
    return f"{text} (exactly {mixed_text(value)} {unit})"


def field_text(value: Fraction | float, unit: str) -> str:
    """Return a number with its unit in a form that a field accepts.

    The number is a fraction if its decimals would not be exact and its denominator is at most 100. Otherwise it is a
    decimal number.

    >>> field_text(Fraction(1, 3), "in"), field_text(Fraction(127, 4), "mm")
    ('1/3 in', '31.75 mm')
    """
    text = figure_text(value, "", _FIELD_DIGITS)
    if isinstance(value, Fraction) and value.denominator <= _LARGEST_DENOMINATOR and Fraction(text) != value:
        text = mixed_text(value)
    return f"{text} {unit}".rstrip()


def unit_row(label: str, value: Fraction, unit: str) -> Row:
    """Return a row with a label, a number and its unit. If the decimals are not exact, a simple fraction is added."""
    return Row(label, exact_text(value, unit), field_text(value, unit))


def mixed_text(value: Fraction) -> str:
    """Return a fraction as a mixed number, such as "1 1/4".

    >>> mixed_text(Fraction(5, 4)), mixed_text(Fraction(-1, 64)), mixed_text(Fraction(2))
    ('1 1/4', '-1/64', '2')
    """
    parts = " ".join(str(part) for part in divmod(abs(value), 1) if part) or "0"
    return f"-{parts}" if value < 0 else parts


def difference_text(difference: Fraction | float, unit: str, digits: int = 3) -> str:
    """Return a difference in words: its amount to `digits` significant digits, and whether the value is more or less.

    A difference below 1e-9 gives "exactly".

    >>> difference_text(-0.0124, "mm"), difference_text(0.0, "mm")
    ('0.0124 mm less', 'exactly')
    """
    if abs(float(difference)) < 1e-9:
        return "exactly"
    return f"{figure_text(abs(float(difference)), unit, digits)} {'more' if difference > 0 else 'less'}"
