"""Exact arithmetic for values that a test computes from the formula of a standard."""

from decimal import Decimal, localcontext
from fractions import Fraction
from functools import cache

Number = int | str | Fraction
"""A number that becomes a Fraction without loss. A decimal is written as text."""
_PLACES = 30


@cache
def power(base: Number, exponent: Number) -> Fraction:
    """Return a positive number to a power, to 30 decimal places, more than the rounding of any standard needs.

    An exact root stays exact, so that ties remain ties.
    """
    with localcontext(prec=2 * _PLACES):
        return Fraction(round(_decimal(Fraction(base)) ** _decimal(Fraction(exponent)), _PLACES))


def rounded(value: Fraction, step: Number) -> Fraction:
    """Return the nearest multiple of the step. A tie goes to the even multiple."""
    step = Fraction(step)
    return round(value / step) * step


def _decimal(number: Fraction) -> Decimal:
    return Decimal(number.numerator) / Decimal(number.denominator)
