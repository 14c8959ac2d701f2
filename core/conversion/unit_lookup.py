"""Finds the size of a unit: in the program's own tables, or for any other name in the library pint.

Only this module imports pint. pint gets one unit name at a time, made of letters only, and never the user's whole text.
The answers are saved in a cache file, so that pint is loaded only for a name that has not been looked up before.
Reading the cache file runs no code, and a checksum shows whether the file is damaged.
"""

import json
import zlib
from collections.abc import Mapping
from fractions import Fraction
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Any

from core.conversion.dimensions import Dimension, UnitLookup, Value
from core.conversion.units import LONGEST_NAME, PI, own_unit, unknown_unit
from core.values.errors import FileError
from core.values.files import make_folder, write_text

CACHE_FILE = "units.json"
MOST_KEPT = 500

# Most one-letter names are typing errors or constants of physics. These are units of the shop.
_SHORT = frozenset("NJVAKgLlΩ")
# Without these lists "kin" would be a kilo-inch and "PS" a petasiemens.
_PREFIXES = frozenset({"nano", "micro", "milli", "centi", "deci", "hecto", "kilo", "mega", "giga"})
_PREFIXED = frozenset(
    {"meter", "gram", "second", "newton", "pascal", "watt", "joule", "liter", "hertz", "bar", "volt", "ampere", "ohm",
     "kelvin", "radian", "force_gram", "meter_Hg", "farad", "henry", "tesla", "watt_hour", "calorie"}
)  # fmt: skip

# pint's root units in our base units.
_ROOTS: dict[str, tuple[str, Fraction]] = {
    "meter": ("length", Fraction(1000)),
    "second": ("time", Fraction(1)),
    "gram": ("mass", Fraction(1, 1000)),
    "kelvin": ("temperature", Fraction(1)),
    "ampere": ("current", Fraction(1)),
    "mole": ("amount", Fraction(1)),
    "candela": ("light", Fraction(1)),
}

_loading = Lock()
_kept: dict[Path, dict[str, Value]] = {}


def unit_lookup(cache_folder: Path | None) -> UnitLookup:
    """Return the function that finds a unit by its name.

    pint's answers are saved in `cache_folder`; None to save none.
    """
    return lambda name: unit_value(name, cache_folder)


def unit_value(name: str, cache_folder: Path | None = None) -> Value:
    """Return the size and dimension of a unit. `cache_folder`: the folder for pint's saved answers; None to save none.

    Raises QuantityError for an unknown name, and for a name that means different units in different countries.

    >>> unit_value("thou").number
    Fraction(127, 5000)
    """
    if known := own_unit(name):
        return known
    if len(name) <= LONGEST_NAME and (asked := pint_unit(name, cache_folder)):
        return asked
    raise unknown_unit(name)


def pint_unit(name: str, cache_folder: Path | None = None) -> Value | None:
    """Return the size and dimension of a unit; None if pint lacks the name or gives it an unusual meaning.

    `name`: letters and underscores only. `cache_folder`: the folder for pint's saved answers, which may be unwritable;
    None to save none.
    """
    if len(name) < 2 and name not in _SHORT:
        return None
    known = {} if cache_folder is None else _read_cache(cache_folder)
    if name in known:
        return known[name]
    with _loading:
        unit = ask_pint(name)
    if unit is not None and cache_folder is not None and len(known) < MOST_KEPT:
        known[name] = unit
        _write_cache(cache_folder, known)
    return unit


def kept_units(cache_folder: Path) -> Mapping[str, Value]:
    """Return the units that were looked up and saved earlier, without loading pint; {} if none can be read."""
    return _read_cache(cache_folder)


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(non_int_type=Fraction)


def ask_pint(name: str) -> Value | None:
    """Return the exact size of a unit according to pint; None if pint lacks the unit or its size is not exact."""
    registry = _registry()
    readings = registry.parse_unit_name(name)
    if not readings or not _usual_prefix(name, *readings[0][:2]):
        return None
    try:
        one, two = (registry.Quantity(count, name).to_root_units() for count in (1, 2))
        number, items = Fraction(one.magnitude), one.unit_items()
        # A sum cannot use a scale with a zero of its own (degF) or a logarithmic one.
        if Fraction(two.magnitude) != 2 * number:
            return None
    except (ArithmeticError, AttributeError, TypeError, ValueError):
        # pint raises these errors for a name that it cannot resolve. The name is then unknown.
        return None
    return _in_our_units(number, items)


def _usual_prefix(name: str, prefix: str, unit: str) -> bool:
    """Return True if a prefix is usual with a unit, or if the name spells the prefix out, as in "microinch"."""
    if not prefix:
        return True
    return prefix in _PREFIXES and (unit in _PREFIXED or name.startswith(prefix))


def _in_our_units(number: Fraction, items: Any) -> Value | None:
    exponents: dict[str, int] = {}
    for root, power in items:
        exponent = int(power)
        if exponent != power:
            return None
        if root == "radian":
            exponents["angle"] = exponent
            number *= (Fraction(180) / PI) ** exponent
            continue
        if root not in _ROOTS:
            return None
        ours, factor = _ROOTS[root]
        exponents[ours] = exponent
        number *= factor**exponent
    return Value(number, Dimension(**exponents))


def _read_cache(folder: Path) -> dict[str, Value]:
    """Return the units in the cache file by name; {} if there is no such file or it is damaged."""
    if folder not in _kept:
        _kept[folder] = _read_file(folder / CACHE_FILE)
    return _kept[folder]


def _read_file(path: Path) -> dict[str, Value]:
    try:
        content = json.loads(path.read_bytes())
        units = content["units"]
        if content["check"] != _check_sum(units):
            return {}
        return {
            str(name): Value(Fraction(number), Dimension(*(int(exponent) for exponent in exponents)))
            for name, (number, exponents) in units.items()
        }
    except (OSError, ValueError, KeyError, TypeError, AttributeError, ArithmeticError, RecursionError):
        # A cache that cannot be read counts as empty.
        return {}


def _write_cache(folder: Path, known: dict[str, Value]) -> None:
    """Save the units in `known` in the cache file. If saving fails, the next start of the program asks pint again."""
    units = {name: [str(value.number), list(value.dimension)] for name, value in sorted(known.items())}
    try:
        make_folder(folder)
        write_text(folder / CACHE_FILE, json.dumps({"check": _check_sum(units), "units": units}, indent=1) + "\n")
    except FileError:
        return


def _check_sum(units: Any) -> int:
    return zlib.crc32(json.dumps(units, sort_keys=True).encode())


class BackgroundUnits:
    """Finds units for a screen without a delay. Only `look_up`, which runs in another thread, waits for pint."""

    def __init__(self, cache_folder: Path | None) -> None:
        """Make a finder of units. `cache_folder`: the folder for pint's saved answers, which may be unwritable.

        None for `cache_folder` saves no answers.
        """
        self._cache_folder = cache_folder
        self._looked_up: dict[str, Value | None] = {}
        self.wanted = ""
        """The last name asked for that still has to be looked up; "" if there is none."""

    def __call__(self, name: str) -> Value:
        """Return a unit that is already known.

        For an unknown name, save the name in `wanted` and raise QuantityError.
        """
        unit = own_unit(name) or self._looked_up.get(name)
        if unit is None:
            if name not in self._looked_up and len(name) <= LONGEST_NAME:
                self.wanted = name
            raise unknown_unit(name)
        return unit

    def read_kept(self) -> None:
        """Add the units that were looked up and saved when the program ran earlier."""
        if self._cache_folder is not None:
            self._looked_up.update(kept_units(self._cache_folder))

    def look_up(self, name: str) -> Value:
        """Return a unit, looked up in pint if needed.

        Raises QuantityError if neither the tables nor pint know the name.
        """
        if known := own_unit(name):
            return known
        if name not in self._looked_up and len(name) <= LONGEST_NAME:
            self._looked_up[name] = pint_unit(name, self._cache_folder)
        unit = self._looked_up.get(name)
        if unit is None:
            raise unknown_unit(name)
        return unit
