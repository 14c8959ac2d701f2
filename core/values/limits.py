"""Limits of size as drawings state them ("12.5 +0.02 -0.01 mm", "28.98 to 29.00 mm"), and how limits are rounded.

The regular expressions in this module are slow to compile. So import the module only for a text that may contain
limits.
"""

import re
from fractions import Fraction
from math import ceil, floor
from typing import NamedTuple

from core.values.errors import QuantityError
from core.values.plain_text import quoted
from core.values.quantities import NUMBER_PATTERN, read_number, read_quantity

LIMIT_STEP_MM = Fraction(1, 1000)
LIMIT_STEP_IN = Fraction(1, 10_000)

_UNIT = r"(?:[A-Za-zµμ]+|\")"
# A bare 0 must not touch the number before it: "30 +0.1 mm" is not 3 mm with 0 and 0.1.
_DEVIATION = rf"(?:[-+−]\s*{NUMBER_PATTERN}|(?<![\d.,])0(?:[.,]0*)?(?![\d.,]|/\d))"
_LIMITS = re.compile(
    rf"\s*(?P<nominal>{NUMBER_PATTERN})\s*(?P<unit>{_UNIT})?\s*"
    rf"(?:(?:±|\+/-|\+-)\s*(?P<both>{NUMBER_PATTERN})|(?P<one>{_DEVIATION})\s*/?\s*(?P<other>{_DEVIATION}))"
    rf"\s*(?P<last>{_UNIT})?\s*",
    re.ASCII,
)
_RANGE = re.compile(
    rf"\s*(?P<lower>{NUMBER_PATTERN})\s*(?P<unit>{_UNIT})?\s*(?:\bto\b|…)\s*(?P<upper>{NUMBER_PATTERN})\s*(?P<last>{_UNIT})?\s*",
    re.ASCII | re.IGNORECASE,
)


class SizeLimits(NamedTuple):
    """The lower and the upper limit of a size [mm], both exact."""

    lower_mm: Fraction
    upper_mm: Fraction


def limits_spelled(text: str) -> SizeLimits | None:
    """Return the limits of size that a text states; None if the text does not state limits.

    The text has either two sizes, as in "28.98 to 29.00 mm", or a nominal size and two deviations. One unit follows the
    last or the first number. A sum with a unit in each term does not state limits. Raises QuantityError if the unit is
    missing or is not a unit of length.

    >>> limits_spelled("12.5 +0.02 -0.01 mm")
    SizeLimits(lower_mm=Fraction(1249, 100), upper_mm=Fraction(313, 25))
    """
    if match := _RANGE.fullmatch(text):
        return _between(text, match)
    match = _LIMITS.fullmatch(text)
    if match is None:
        return None
    if not (match["unit"] or match["last"]):
        raise QuantityError(f"{quoted(text)} has no unit. Enter limits such as 12.5 +0.02 -0.01 mm.")
    nominal_unit, unit = match["unit"] or match["last"], match["last"] or match["unit"]
    nominal = _length_mm(match["nominal"], nominal_unit)
    if match["both"]:
        amount = _length_mm(match["both"], unit)
        deviations = (-amount, amount)
    else:
        deviations = (_deviation_mm(match["one"], unit), _deviation_mm(match["other"], unit))
    return SizeLimits(lower_mm=nominal + min(deviations), upper_mm=nominal + max(deviations))


def _between(text: str, match: re.Match[str]) -> SizeLimits:
    """Return the limits in a text such as "28.98 to 29.00 mm". Raises QuantityError if the text has no unit."""
    last = match["last"] or match["unit"]
    if not last:
        raise QuantityError(f"{quoted(text)} has no unit. Enter limits such as 28.98 to 29.00 mm.")
    ends = _length_mm(match["lower"], match["unit"] or last), _length_mm(match["upper"], last)
    return SizeLimits(lower_mm=min(ends), upper_mm=max(ends))


def rounded_inward(lower: Fraction, upper: Fraction, step: Fraction) -> tuple[Fraction, Fraction]:
    """Return two limits, each rounded towards the other to a whole number of steps.

    If no whole number of steps lies between the limits, the step is divided by ten until one does, at most five times.
    If none lies between them even then, the limits are returned unchanged.

    >>> rounded_inward(Fraction("12.4906"), Fraction("12.5199"), Fraction(1, 100))
    (Fraction(25, 2), Fraction(1251, 100))
    """
    for _ in range(6):
        rounded = ceil(lower / step) * step, floor(upper / step) * step
        if rounded[0] <= rounded[1]:
            return rounded
        step /= 10
    return lower, upper


def _length_mm(number: str, unit: str) -> Fraction:
    return read_quantity(f"{number} {unit}", "length").value


def _deviation_mm(text: str, unit: str) -> Fraction:
    """Return a deviation with its sign [mm].

    The deviation may be smaller than the smallest length that a field accepts.
    """
    number = read_number(text.replace("−", "-").replace(" ", "", 1) if text[0] in "+-−" else text)
    return number * _length_mm("1", unit)
