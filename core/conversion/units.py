"""Finds the size of a unit in the program's own tables."""

from fractions import Fraction
from functools import cache, lru_cache

from core.conversion.dimensions import (
    ANGLE,
    BASE_UNITS,
    LENGTH,
    PITCH,
    POWER,
    ROTATION,
    TIME,
    TORQUE,
    Dimension,
    Value,
)
from core.data import read_table
from core.values.errors import QuantityError
from core.values.plain_text import quoted
from core.values.quantities import MM_PER_INCH, Kind, shop_dependent, unit_size

PI = Fraction(31415926535897932384626433832795028841971693993751, 10**49)
"""Pi to 49 places, as many as pint has. A full turn from pint then converts to exactly 360 deg."""

_FOOT_MM = Fraction(3048, 10)
_WATT = 10**6  # kg mm^2 s^-3
_OWN: dict[str, Value] = {
    "ft": Value(_FOOT_MM, LENGTH),
    "foot": Value(_FOOT_MM, LENGTH),
    "feet": Value(_FOOT_MM, LENGTH),
    "inches": Value(MM_PER_INCH, LENGTH),
    "rad": Value(180 / PI, ANGLE),
    "h": Value(Fraction(3600), TIME),
    # 550 ft lbf/s (NIST SP 811, appendix B.8), from the exact pound and standard gravity.
    "hp": Value(550 * _FOOT_MM / 1000 * Fraction("0.45359237") * Fraction("9.80665") * _WATT, POWER),
    "Nm": Value(Fraction(10**6), TORQUE),
    "tpi": Value(1 / MM_PER_INCH, PITCH),
}
"""Units that fields and files do not accept. Exact, NIST SP 811 appendix B. Case matters: nm is not Nm."""

# Kind of quantity in a field, size of its base unit in the base units here, dimension.
_KINDS: tuple[tuple[Kind, Fraction, Dimension], ...] = (
    ("length", Fraction(1), LENGTH),
    ("angle", Fraction(1), ANGLE),
    ("rotation", Fraction(1, 60), ROTATION),
    ("time", Fraction(1), TIME),
    ("power", Fraction(_WATT), POWER),
)
_COUNTRY_DEPENDENT = {
    "ton": "metric_ton, short_ton or long_ton",
    "tons": "metric_ton, short_ton or long_ton",
    "gal": "US_liquid_gallon or imperial_gallon",
    "gallon": "US_liquid_gallon or imperial_gallon",
    "gallons": "US_liquid_gallon or imperial_gallon",
    "pint": "US_pint or imperial_pint",
    "quart": "US_liquid_quart or imperial_quart",
    "C": "degC, with nothing else in the sum",
    "F": "degF, with nothing else in the sum",
    "drill": "#7, letter F or the size of the drill with its unit",
}
LONGEST_NAME = 40


def own_unit(name: str, *, with_table: bool = True) -> Value | None:
    """Return the size and dimension of a unit from the program's own tables; None if they lack it.

    `with_table`: True to search the table made from pint as well. Raises QuantityError for a name that means different
    units in different countries.
    """
    if name in _COUNTRY_DEPENDENT:
        raise QuantityError(f"{quoted(name)} has more than one meaning. Enter {_COUNTRY_DEPENDENT[name]}.")
    return _own_unit(name) or (csv_unit(name) if with_table else None)


def unknown_unit(name: str) -> QuantityError:
    """Return the error for a name that neither the program's tables nor pint have."""
    return QuantityError(
        f"{quoted(name)} is not a known unit. Enter a unit such as mm, um, in, thou, ft, deg, arcmin, rad, tpi, rpm, "
        "m/min, ft/min, s, min, W, N, lbf, kg, lb, MPa or psi."
    )


@lru_cache(maxsize=512)
def _own_unit(name: str) -> Value | None:
    """Return a unit from the program's own tables; None if they lack the name.

    Raises QuantityError if the unit's size differs from shop to shop.
    """
    if complaint := shop_dependent(name):
        raise QuantityError(f"{quoted(name)} {complaint}")
    if own := _OWN.get("tpi" if name.casefold() == "tpi" else name):
        return own
    for kind, factor, dimension in _KINDS:
        size = unit_size(name, kind)
        if size is not None:
            return Value(size * factor, dimension)
    return None


def csv_unit(name: str) -> Value | None:
    """Return the size and dimension of a unit from the table made from pint; None if the table lacks the name.

    Source: core/data/units.csv, which is compared with pint.

    >>> csv_unit("hand").number  # 4 in
    Fraction(508, 5)
    """
    row = _rows_by_name().get(name)
    return None if row is None else Value(Fraction(row["number"]), _dimension(row["unit"]))


@cache
def _rows_by_name() -> dict[str, dict[str, str]]:
    return {row["name"]: row for row in read_table("units")}


def _dimension(units: str) -> Dimension:
    """Return the dimension given by base units with exponents, such as "mm^2 s^-3 kg"."""
    exponents = dict.fromkeys(BASE_UNITS, 0)
    for part in units.split():
        unit, _, exponent = part.partition("^")
        exponents[unit] = int(exponent or 1)
    return Dimension(*exponents.values())
