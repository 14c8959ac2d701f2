"""Limits of size, "12.5 +0.02 -0.01 mm", in every unit, rounded so that nothing outside them is let in."""

import re
from fractions import Fraction
from math import ceil, floor
from typing import NamedTuple

from core.conversion.answers import Answer
from core.conversion.dial_readings import reading_rows, readings_within
from core.conversion.lengths import check_length
from core.conversion.tokens import NUMBER
from core.conversion.wording import Row, exact_text, field_text
from core.lathe.lathe import Lathe
from core.values.errors import QuantityError
from core.values.plain_text import quoted
from core.values.quantities import MM_PER_INCH, number_text, read_number, read_quantity

STEP_MM = Fraction(1, 1000)
STEP_IN = Fraction(1, 10_000)

INWARD = "inward, so that nothing outside the limits is let in"

_UNIT = r"(?:[A-Za-zµμ]+|\")"
# A bare 0 stands apart from the number before it: "30 +0.1 mm" is no 3 mm with 0 and 0.1.
_DEVIATION = rf"(?:[-+−]\s*{NUMBER}|(?<![\d.,])0(?:[.,]0*)?(?![\d.,]|/\d))"
_LIMITS = re.compile(
    rf"\s*(?P<nominal>{NUMBER})\s*(?P<unit>{_UNIT})?\s*"
    rf"(?:(?:±|\+/-|\+-)\s*(?P<both>{NUMBER})|(?P<one>{_DEVIATION})\s*/?\s*(?P<other>{_DEVIATION}))"
    rf"\s*(?P<last>{_UNIT})?\s*",
    re.ASCII,
)


_RANGE = re.compile(
    rf"\s*(?P<lower>{NUMBER})\s*(?P<unit>{_UNIT})?\s*(?:\bto\b|…)\s*(?P<upper>{NUMBER})\s*(?P<last>{_UNIT})?\s*",
    re.ASCII | re.IGNORECASE,
)


class Limits(NamedTuple):
    """Two limits of size [mm], exact."""

    lower_mm: Fraction
    upper_mm: Fraction


def limits_spelled(text: str) -> Limits | None:
    """Return the limits that a text states, None where it states none.

    Two sizes, "28.98 to 29.00 mm", or a nominal size and two deviations, with one
    unit at the end or behind the first number; a sum, where each term has its own, is no such text.
    Raises QuantityError where the unit is none of a length, or left out.

    >>> limits_spelled("12.5 +0.02 -0.01 mm")
    Limits(lower_mm=Fraction(1249, 100), upper_mm=Fraction(313, 25))
    """
    if match := _RANGE.fullmatch(text):
        return _between(text, match)
    match = _LIMITS.fullmatch(text)
    if match is None:
        return None
    if not (match["unit"] or match["last"]):
        raise QuantityError(
            f'found {quoted(text)}, limits without a unit; accepted are limits such as "12.5 +0.02 -0.01 mm"'
        )
    nominal_unit, unit = match["unit"] or match["last"], match["last"] or match["unit"]
    nominal = _length_mm(match["nominal"], nominal_unit)
    if match["both"]:
        amount = _length_mm(match["both"], unit)
        deviations = (-amount, amount)
    else:
        deviations = (_deviation_mm(match["one"], unit), _deviation_mm(match["other"], unit))
    return Limits(lower_mm=nominal + min(deviations), upper_mm=nominal + max(deviations))


def _between(text: str, match: re.Match[str]) -> Limits:
    """Return the limits of "28.98 to 29.00 mm"; raises QuantityError without a unit."""
    last = match["last"] or match["unit"]
    if not last:
        raise QuantityError(f'found {quoted(text)}, limits without a unit; enter limits such as "28.98 to 29.00 mm"')
    ends = _length_mm(match["lower"], match["unit"] or last), _length_mm(match["upper"], last)
    return Limits(lower_mm=min(ends), upper_mm=max(ends))


def inward(lower: Fraction, upper: Fraction, step: Fraction) -> tuple[Fraction, Fraction]:
    """Return two limits rounded towards each other to whole steps.

    Where no whole step lies between them the step is made ten times finer, and
    again, until one does; limits that are equal may stay as they are.

    >>> inward(Fraction("12.4906"), Fraction("12.5199"), Fraction(1, 100))
    (Fraction(25, 2), Fraction(1251, 100))
    """
    for _ in range(6):
        rounded = ceil(lower / step) * step, floor(upper / step) * step
        if rounded[0] <= rounded[1]:
            return rounded
        step /= 10
    return lower, upper


def limits_answer(asked: str, limits: Limits, lathe: Lathe | None) -> Answer:
    """Return two limits in mm and inches, rounded inward, and the marks of each dial that lie inside."""
    for limit_mm in (limits.lower_mm, limits.upper_mm):
        check_length(asked, limit_mm)
    lower_mm, upper_mm = inward(limits.lower_mm, limits.upper_mm, STEP_MM)
    lower_in, upper_in = inward(limits.lower_mm / MM_PER_INCH, limits.upper_mm / MM_PER_INCH, STEP_IN)
    dials = readings_within(lathe, limits.lower_mm, limits.upper_mm)
    middle_mm = (limits.lower_mm + limits.upper_mm) / 2
    rows = (
        limit_row("least", lower_mm, lower_in),
        limit_row("most", upper_mm, upper_in),
        both_row("limits", limits.lower_mm, limits.upper_mm),
        Row("rounding", INWARD),
        middle_row("middle", middle_mm),
        *reading_rows(dials),
    )
    return Answer(
        asked=asked,
        kind="limits",
        figures={
            "lower_mm": float(lower_mm),
            "upper_mm": float(upper_mm),
            "lower_in": float(lower_in),
            "upper_in": float(upper_in),
        },
        rows=rows,
        dials=dials,
        field_text=field_text(middle_mm, "mm"),
    )


def limit_row(label: str, limit_mm: Fraction, limit_in: Fraction) -> Row:
    """Return one limit in every unit; both are whole steps already.

    >>> limit_row("least", Fraction("12.49"), Fraction("0.4918")).words
    '12.49 mm (12490 µm), 0.4918 in (491.8 thou)'
    """
    metric, inch = number_text(limit_mm, 9), number_text(limit_in, 9)
    words = f"{metric} mm ({number_text(limit_mm * 1000, 6)} µm), {inch} in ({number_text(limit_in * 1000, 6)} thou)"
    return Row(label, words, f"{metric} mm")


def both_row(label: str, lower_mm: Fraction, upper_mm: Fraction) -> Row:
    """Return both limits in one row, as a field that asks for a wanted size takes them; nothing is rounded."""
    text = f"{number_text(lower_mm, 6)} to {number_text(upper_mm, 6)} mm"
    return Row(label, text, text, is_limits=True)


def middle_row(label: str, middle_mm: Fraction) -> Row:
    """Return the size that is aimed at."""
    words = f"{exact_text(middle_mm, 'mm')}, {exact_text(middle_mm / MM_PER_INCH, 'in')}"
    return Row(label, words, field_text(middle_mm, "mm"))


def _length_mm(number: str, unit: str) -> Fraction:
    return read_quantity(f"{number} {unit}", "length").value


def _deviation_mm(text: str, unit: str) -> Fraction:
    """Return a deviation with its sign; its size may be below what a length may have."""
    number = read_number(text.replace("−", "-").replace(" ", "", 1) if text[0] in "+-−" else text)
    return number * _length_mm("1", unit)
