"""Makes core/data/units.csv: the units for which a conversion need not load pint, with pint's values.

    python -m tests.core.conversion.units_of_pint

The file has all names in pint of the quantities that `halfnut convert` answers (lengths, angles, speeds, times, forces
and so on), and those with a usual prefix. test_units_table.py compares each row with pint itself.
"""

import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import pint

from core.conversion.dimensions import KINDS, NUMBER, Dimension, Value, base_units_text
from core.conversion.expression import UNIT
from core.conversion.unit_lookup import _PREFIXED, _PREFIXES, _SHORT, ask_pint
from core.conversion.units import own_unit
from core.values.errors import QuantityError
from tests.core.conversion.units_oracle import exact_registry

FILE = Path(__file__).parents[3] / "core" / "data" / "units.csv"
HEAD = """\
# Units beyond those of fields and files, so that converting them need not load pint, which takes half a second.
# Made from pint {version} by `python -m tests.core.conversion.units_of_pint`; number and unit are exact.
name,number,unit,source
"""
_KINDS = {*KINDS, Dimension(angle=1, time=-1)} - {NUMBER}
"""The kinds of quantity that can be converted, and turns per time."""
_LONGEST_SYMBOL = 3
_LONGEST_NUMBER = 160
"""Numbers of units that contain pi are no longer than this. Longer ones are constants of physics."""


def names() -> Iterator[str]:
    """Yield the names that pint has: words also in the plural, and some with prefixes."""
    registry = exact_registry()
    prefixes = {text for text, prefix in registry._prefixes.items() if prefix.name in _PREFIXES}
    # A registry of its own, since a registry adds every name that it is asked for.
    for name in sorted(pint.UnitRegistry()._units):
        is_word = len(name) > _LONGEST_SYMBOL
        customary = [prefix for prefix in prefixes if prefix in _PREFIXES or len(prefix) == 1]
        fitting = [prefix for prefix in customary if (prefix in _PREFIXES) == is_word and "_" not in name]
        for prefix in ("", *sorted(fitting if registry.get_name(name) in _PREFIXED else ())):
            yield f"{prefix}{name}"
            if not name.endswith("s") and (is_word or not prefix):
                yield f"{prefix}{name}s"


def rows() -> dict[str, Value]:
    """Return the units of the table by name."""
    found = {}
    for name in dict.fromkeys(names()):
        if (len(name) < 2 and name not in _SHORT) or not re.fullmatch(UNIT, name, re.ASCII) or _is_known(name):
            continue
        value = ask_pint(name)
        if value and value.dimension in _KINDS and len(str(value.number)) < _LONGEST_NUMBER and _is_exact(name):
            found[name] = value
    return found


def _is_exact(name: str) -> bool:
    """Return whether pint has an exact fraction for a unit. Some constants of physics are rounded."""
    return isinstance(exact_registry().Quantity(1, name).to_root_units().magnitude, int | Fraction)


def _is_known(name: str) -> bool:
    try:
        return own_unit(name, with_table=False) is not None
    except QuantityError:
        return True


def main() -> None:
    """Write the table."""
    from importlib.metadata import version

    lines = [
        f"{name},{value.number},{base_units_text(value.dimension)},pint\n" for name, value in sorted(rows().items())
    ]
    FILE.write_text(HEAD.format(version=version("pint")) + "".join(lines), encoding="utf-8")
    print(f"{len(lines)} units")


if __name__ == "__main__":
    main()
