"""Exact numbers with a dimension, such as length or force. Adding two different dimensions is an error."""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from core.values.errors import QuantityError


class Dimension(NamedTuple):
    """A dimension, given by the exponents of the base units mm, deg, s, kg, K, A, mol and cd.

    Angles have a dimension of their own, so that "5 mm + 3 deg" is refused.
    """

    length: int = 0
    angle: int = 0
    time: int = 0
    mass: int = 0
    temperature: int = 0
    current: int = 0
    amount: int = 0
    light: int = 0

    def plus(self, other: "Dimension", sign: int = 1) -> "Dimension":
        """Return the dimension of the product of two quantities (`sign` 1), or of their quotient (`sign` -1).

        `other`: the dimension of the second quantity.
        """
        return Dimension(*(one + sign * two for one, two in zip(self, other, strict=True)))


NUMBER = Dimension()
LENGTH = Dimension(length=1)
ANGLE = Dimension(angle=1)
PITCH = Dimension(length=-1)
"""The dimension of threads per inch: 1/length, so that 1/(8 tpi) is a length."""
ROTATION = Dimension(time=-1)
"""The dimension of a spindle speed. It counts turns, not angles: 25 m/min / (pi * 30 mm) is a spindle speed."""
SPEED = Dimension(length=1, time=-1)
TIME = Dimension(time=1)
AREA = Dimension(length=2)
VOLUME = Dimension(length=3)
FLOW = Dimension(length=3, time=-1)
MASS = Dimension(mass=1)
DENSITY = Dimension(mass=1, length=-3)
FORCE = Dimension(mass=1, length=1, time=-2)
PRESSURE = Dimension(mass=1, length=-1, time=-2)
TORQUE = Dimension(mass=1, length=2, time=-2)
POWER = Dimension(mass=1, length=2, time=-3)
CURRENT = Dimension(current=1)
VOLTAGE = Dimension(mass=1, length=2, time=-3, current=-1)
RESISTANCE = Dimension(mass=1, length=2, time=-3, current=-2)
TEMPERATURE = Dimension(temperature=1)

KINDS = {
    NUMBER: "number",
    LENGTH: "length",
    ANGLE: "angle",
    PITCH: "pitch",
    ROTATION: "speed",
    SPEED: "speed",
    TIME: "time",
    AREA: "area",
    VOLUME: "volume",
    FLOW: "flow",
    MASS: "mass",
    DENSITY: "density",
    FORCE: "force",
    PRESSURE: "pressure",
    TORQUE: "torque or energy",
    POWER: "power",
    CURRENT: "current",
    VOLTAGE: "voltage",
    RESISTANCE: "resistance",
    TEMPERATURE: "temperature",
}
_WORDS = {
    PITCH: "number of threads to a length",
    ROTATION: "speed of rotation",
    SPEED: "speed of travel",
}
BASE_UNITS = ("mm", "deg", "s", "kg", "K", "A", "mol", "cd")


def dimension_name(dimension: Dimension) -> str:
    """Return the name of a dimension, such as "length" or "force"; "quantity" if the dimension has no name here."""
    return KINDS.get(dimension, "quantity")


def with_article(dimension: Dimension) -> str:
    """Return the name of a dimension with "a" or "an"; "a quantity in" its base units if it has no name.

    >>> with_article(ANGLE), with_article(Dimension(length=1, time=1))
    ('an angle', 'a quantity in mm s')
    """
    word = _WORDS.get(dimension) or KINDS.get(dimension) or f"quantity in {base_units_text(dimension)}"
    return f"{'an' if word[0] in 'aeiou' else 'a'} {word}"


def base_units_text(dimension: Dimension, names: tuple[str, ...] = BASE_UNITS) -> str:
    """Return the base units of a dimension as text, such as "mm^2 s^-1"; "" for a bare number.

    `names`: the symbols of the base units, in the order of the exponents.

    >>> base_units_text(FORCE)
    'mm s^-2 kg'
    """
    parts = [
        name if exponent == 1 else f"{name}^{exponent}"
        for name, exponent in zip(names, dimension, strict=True)
        if exponent
    ]
    return " ".join(parts)


@dataclass(frozen=True, slots=True)
class Value:
    """An exact quantity: a number of base units, and the dimension."""

    number: Fraction
    dimension: Dimension = NUMBER

    def __add__(self, other: "Value") -> "Value":
        return Value(self.number + self._same(other, "plus"), self.dimension)

    def __sub__(self, other: "Value") -> "Value":
        return Value(self.number - self._same(other, "minus"), self.dimension)

    def __mul__(self, other: "Value") -> "Value":
        return Value(self.number * other.number, self.dimension.plus(other.dimension))

    def __truediv__(self, other: "Value") -> "Value":
        if other.number == 0:
            raise QuantityError("This divides by 0. Enter a divisor that is not 0.")
        return Value(self.number / other.number, self.dimension.plus(other.dimension, -1))

    def __neg__(self) -> "Value":
        return Value(-self.number, self.dimension)

    def _same(self, other: "Value", word: str) -> Fraction:
        """Return the number of `other`, which is about to be added or subtracted.

        Raises QuantityError if `other` has a different dimension. `word`: "plus" or "minus", for the message.
        """
        if other.dimension != self.dimension:
            raise QuantityError(
                f"This is {with_article(self.dimension)} {word} {with_article(other.dimension)}. "
                "Enter two quantities of the same kind, each with its unit."
            )
        return other.number


UnitLookup = Callable[[str], Value]
"""Returns the value of a unit by its name; raises QuantityError for an unknown one."""
