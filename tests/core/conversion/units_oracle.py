"""Gives tests pint's registry to check units with. It is shared, as making it takes a third of a second."""

from fractions import Fraction
from functools import cache
from typing import Any


@cache
def exact_registry() -> Any:
    """Return pint's registry with exact fractions instead of floats."""
    import pint

    return pint.UnitRegistry(non_int_type=Fraction)
