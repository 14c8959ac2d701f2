"""The table of units agrees with pint row by row, and gives its units without loading pint."""

import subprocess
import sys
from fractions import Fraction

from core.conversion.units import csv_unit
from core.data import read_table
from tests.core.conversion.units_of_pint import rows
from tests.core.conversion.units_oracle import exact_registry

LATER = "microyard"
"""Units that pint knows and the table lacks."""
# From memory: units in handbooks, on drawings and on motor plates. They are in pint under these names.
TYPED = (
    "yd", "yard", "mile", "micron", "microns", "millimetre", "millimeters", "centimetre", "metres", "furlong",
    "nanometer", "angstrom", "nautical_mile", "fathom", "point", "hand",
    "turn", "turns", "revolution", "radians", "mrad", "gon", "grad", "arcseconds", "arcminute", "circle",
    "day", "days", "lbs", "mph", "kph", "knot", "mps", "hertz", "Hz", "kHz", "rps", "minutes", "hours", "msec",
    "lb", "pound", "ounce", "oz", "kg", "gram", "newton", "N", "kN", "lbf", "kgf", "kip",
    "MPa", "psi", "bar", "mbar", "Pa", "joule", "kW", "watts", "horsepower", "liter", "litre", "mL", "acre",
)  # fmt: skip


def test_each_unit_in_the_table_has_the_value_given_by_pint() -> None:
    """Every number is exactly pint's, and pint reads the base units as written."""
    registry = exact_registry()
    listed = read_table("units")
    for row in listed:
        one = registry.Quantity(1, row["name"]).to(row["unit"].replace(" ", "*"))
        # Pi has a limited number of places.
        assert abs(Fraction(row["number"]) / Fraction(one.magnitude) - 1) < Fraction(1, 10**30), row
        assert csv_unit(row["name"]) is not None
    assert len(listed) > 1_000


def test_the_unit_table_equals_a_table_generated_from_pint() -> None:
    """The table is the same if made again.

    After a change of pint run `python -m tests.core.conversion.units_of_pint`.
    """
    assert {row["name"]: Fraction(row["number"]) for row in read_table("units")} == {
        name: value.number for name, value in rows().items()
    }


def test_common_units_are_looked_up_without_loading_pint() -> None:
    """Lengths, angles, speeds and forces load no pint. A rare unit does, so that the check can fail."""
    program = (
        "import sys\n"
        "from core.conversion.unit_lookup import unit_value\n"
        "for asked in sys.argv[1:]:\n"
        "    before = 'pint' in sys.modules\n"
        "    unit_value(asked)\n"
        "    if 'pint' in sys.modules and not before:\n"
        "        print(asked)\n"
    )
    asked = [*TYPED, LATER]
    done = subprocess.run([sys.executable, "-c", program, *asked], capture_output=True, text=True, check=True)
    assert done.stdout == f"{LATER}\n"
