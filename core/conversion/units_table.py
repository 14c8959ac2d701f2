"""Units beyond those of fields and files from a table, so that they need not wait for pint."""

from fractions import Fraction
from functools import cache

from core.conversion.dimensions import BASE_UNITS, Dimension, Value
from core.data import read_table


def table_unit(name: str) -> Value | None:
    """Return what one of a unit is, None where the table does not hold it.

    Source: core/data/units.csv, made from pint and compared with it.

    >>> table_unit("hand").number  # 4 in
    Fraction(508, 5)
    """
    row = _rows().get(name)
    return None if row is None else Value(Fraction(row["number"]), _dimension(row["unit"]))


@cache
def _rows() -> dict[str, dict[str, str]]:
    return {row["name"]: row for row in read_table("units")}


def _dimension(units: str) -> Dimension:
    """Return the dimension of base units with their exponents: "mm^2 s^-3 kg"."""
    exponents = dict.fromkeys(BASE_UNITS, 0)
    for part in units.split():
        unit, _, exponent = part.partition("^")
        exponents[unit] = int(exponent or 1)
    return Dimension(*exponents.values())
