"""pint as the outside check of units: one registry for all tests, as making it takes a third of a second."""

from fractions import Fraction
from functools import cache
from typing import Any


@cache
def exact_registry() -> Any:
    """Return pint's registry with exact fractions in place of floats."""
    import pint

    return pint.UnitRegistry(non_int_type=Fraction)
