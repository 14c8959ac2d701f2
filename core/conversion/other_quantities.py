"""Areas, forces, powers, temperatures and other quantities in the units in which they are usually given.

Lengths, angles, pitches and speeds are converted in other modules.
"""

import re
from fractions import Fraction

from core.conversion.answers import Conversion
from core.conversion.dimensions import (
    AREA,
    CURRENT,
    DENSITY,
    FLOW,
    FORCE,
    MASS,
    NUMBER,
    POWER,
    PRESSURE,
    RESISTANCE,
    TEMPERATURE,
    TIME,
    TORQUE,
    VOLTAGE,
    VOLUME,
    Dimension,
    UnitLookup,
    Value,
    base_units_text,
    dimension_name,
)
from core.conversion.expression import evaluate
from core.conversion.units import PI
from core.values.errors import QuantityError
from core.values.plain_text import quoted
from core.values.quantities import Kind, read_number, unit_size
from core.values.words import Row, exact_text, field_text, figure_text

# Each unit as it is shown, and as sums accept it.
_USUAL: dict[Dimension, tuple[tuple[str, str], ...]] = {
    TIME: (("s", "s"), ("min", "min"), ("h", "h")),
    AREA: (("mm²", "mm²"), ("cm²", "cm²"), ("in²", "in²")),
    VOLUME: (("mm³", "mm³"), ("cm³", "cm³"), ("L", "1000 * cm³"), ("in³", "in³")),
    FLOW: (("cm³/min", "cm³/min"), ("L/min", "1000 * cm³ / min"), ("in³/min", "in³/min")),
    POWER: (("W", "W"), ("kW", "kW"), ("hp", "hp")),
    MASS: (("kg", "kg"), ("g", "g"), ("lb", "lb"), ("oz", "oz")),
    FORCE: (("N", "N"), ("kgf", "kgf"), ("lbf", "lbf")),
    PRESSURE: (("MPa", "MPa"), ("bar", "bar"), ("psi", "psi")),
    TORQUE: (("N m (J)", "N*m"), ("lbf ft", "lbf*ft"), ("lbf in", "lbf*in")),
    DENSITY: (("g/cm³", "g/cm³"), ("kg/m³", "kg/m³"), ("lb/in³", "lb/in³")),
    CURRENT: (("A", "A"), ("mA", "mA")),
    VOLTAGE: (("V", "V"),),
    RESISTANCE: (("ohm", "ohm"),),
}
_SI = ("m", "rad", "s", "kg", "K", "A", "mol", "cd")
_IN_FIELDS: tuple[Kind, ...] = ("time", "power")
_LARGEST = Fraction(10) ** 30

_TEMPERATURE = re.compile(
    r"\s*([-+]?[\d.,/ ]+?)\s*(°\s*[CFK]|deg[CFK]|degrees?\s+(?:celsius|fahrenheit)|celsius|fahrenheit|kelvin|K)\s*",
    re.ASCII | re.IGNORECASE,
)
_ZERO_K = Fraction("273.15")


def other_answer(asked: str, value: Value, units: UnitLookup) -> Conversion:
    """Return the answer for a quantity in its usual units, or in SI base units if it has no usual units.

    `asked`: the question, which the answer repeats. `units`: the function that finds a unit by its name.
    """
    if value.dimension == TEMPERATURE:
        return _temperature(asked, value.number - _ZERO_K)
    if abs(value.number) > _LARGEST or 0 < abs(value.number) < 1 / _LARGEST:
        raise QuantityError(f"{quoted(asked)} is too large or too small for a workshop. Check the number and its unit.")
    if value.dimension == NUMBER:
        text = field_text(value.number, "")
        return Conversion(
            asked=asked,
            kind="number",
            figures={"value": float(value.number)},
            rows=(
                Row("number", exact_text(value.number, ""), text),
                Row("per cent", figure_text(value.number * 100, "%")),
            ),
            field_text=text,
        )
    kind = dimension_name(value.dimension)
    shown = [(unit, value.number / evaluate(sum_, units).number) for unit, sum_ in _USUAL.get(value.dimension, ())]
    shown = shown or [_in_si(value)]
    return _listed(asked, kind, shown)


def temperature_answer(text: str, asked: str) -> Conversion | None:
    """Return the answer for a temperature in kelvin, Celsius and Fahrenheit; None if `text` states no temperature.

    `asked`: the question, which the answer repeats.

    Source: NIST SP 811, appendix B.9: K = C + 273.15, F = 9/5 C + 32.
    """
    match = _TEMPERATURE.fullmatch(text)
    if match is None:
        return None
    number = read_number(match[1])
    scale = match[2].casefold().removeprefix("degrees").removeprefix("degree").removeprefix("deg").strip(" °")[0]
    celsius = {"c": number, "k": number - _ZERO_K, "f": (number - 32) * Fraction(5, 9)}[scale]
    return _temperature(asked, celsius)


def _temperature(asked: str, celsius: Fraction) -> Conversion:
    if not -_ZERO_K <= celsius <= 10**6:
        raise QuantityError(f"{quoted(asked)} is out of range. Enter a temperature from -273.15 degC to 1000000 degC.")
    shown = [("°C", celsius), ("°F", celsius * Fraction(9, 5) + 32), ("K", celsius + _ZERO_K)]
    return _listed(asked, "temperature", shown)


def _listed(asked: str, kind: str, shown: list[tuple[str, Fraction]]) -> Conversion:
    rows: list[Row] = [
        Row("is" if place == 0 else "or", figure_text(number, unit), _field_text(number, unit))
        for place, (unit, number) in enumerate(shown)
    ]
    values = [{"value": float(number), "unit": unit} for unit, number in shown]
    first = next((row.field_text for row in rows if row.field_text), "")
    return Conversion(asked=asked, kind=kind, figures={"values": values}, rows=tuple(rows), field_text=first)


def _field_text(number: Fraction, unit: str) -> str:
    """Return a time or a power as text for an entry field; "" for other quantities, which no field accepts."""
    taken = any(unit_size(unit, kind) is not None for kind in _IN_FIELDS)
    return field_text(number, unit) if taken else ""


def _in_si(value: Value) -> tuple[str, Fraction]:
    """Return the SI unit of a quantity, and the quantity's number in that unit. Lengths are in m, angles in radians."""
    dimension = value.dimension
    number = value.number / Fraction(1000) ** dimension.length * (PI / 180) ** dimension.angle
    return base_units_text(dimension, _SI), number
