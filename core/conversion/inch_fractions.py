"""The nearest 1/64 of an inch."""

from fractions import Fraction
from math import floor

PARTS = 64


def nearest_fraction(inches: Fraction) -> Fraction:
    """Return the nearest whole number of sixty-fourths [in], reduced; half-way the larger, away from zero.

    >>> nearest_fraction(Fraction("1.9999")), nearest_fraction(Fraction("1.5156"))
    (Fraction(2, 1), Fraction(97, 64))
    """
    nearest = Fraction(floor(abs(inches) * PARTS + Fraction(1, 2)), PARTS)
    return -nearest if inches < 0 else nearest


def is_half_way(inches: Fraction) -> bool:
    """Tell whether a length lies in the middle between two sixty-fourths."""
    return (inches * PARTS * 2).denominator == 1 and (inches * PARTS).denominator != 1
