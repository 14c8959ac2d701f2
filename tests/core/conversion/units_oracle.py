"""Gives tests pint's registry to check units. The tests share it, since making it takes a third of a second."""

from fractions import Fraction
from functools import cache
from typing import Any


@cache
def exact_registry() -> Any:
    """Return pint's registry with exact fractions instead of floats."""
    import pint

    return pint.UnitRegistry(non_int_type=Fraction)
