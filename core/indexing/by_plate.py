"""Setting a rotary table by the holes of a plate, or by the notches of a plate on its spindle."""

import math
from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import lcm
from typing import NamedTuple

from core.errors import PlanError
from core.lathe import to_tell

COMMON_PLATES = (
    (15, 16, 17, 18, 19, 20),
    (21, 23, 27, 29, 31, 33),
    (37, 39, 41, 43, 47, 49),
)
"""The three plates most dividing heads come with; common practice, printed in handbooks."""


class Circle(NamedTuple):
    """A hole circle, and how far the worst position lies from its hole."""

    holes: int
    worst_turns: Fraction
    """Worst error as handle turns; 0 where the circle is exact."""


def nearest_hole(turns: Fraction, circle: int) -> int:
    """Return the hole nearest to a place, both counted from zero; half-way the lower one.

    >>> nearest_hole(Fraction(40, 51), 17)
    13
    """
    return math.ceil(turns * circle - Fraction(1, 2))


def best_circle(turns: Sequence[Fraction], plates: Sequence[Sequence[int]]) -> Circle:
    """Return the circle with the least worst error over all places; of equals the one with the fewest holes.

    `turns` are handle turns from zero. Raises PlanError where there are no plates.
    """
    circles = sorted({circle for plate in plates for circle in plate})
    if not circles:
        raise PlanError(
            f'this lathe\'s rotary table has no plates: use with = "dial", or {to_tell("plates")}', field="with"
        )
    return min(_worst(turns, circles), key=lambda circle: circle.worst_turns)


def _worst(turns: Sequence[Fraction], circles: Sequence[int]) -> Iterator[Circle]:
    """Yield each circle with its worst error; whole numbers, since there may be thousands of places."""
    common = lcm(*(place.denominator for place in turns))
    places = [int(place * common) for place in turns]
    for circle in circles:
        past = [place * circle % common for place in places]
        worst = max(min(over, common - over) for over in past)
        yield Circle(circle, Fraction(worst, common * circle))


def notched_plate(targets_deg: Sequence[Fraction], direct: Sequence[int], wanted: str) -> int:
    """Return the notches of the plate that has one at every target.

    Raises PlanError where none has, saying which numbers can be had; `wanted`
    says what was asked for.
    """
    if not direct:
        raise PlanError(
            f"this lathe's rotary table has no notched plate on its spindle: {to_tell('direct')}", field="with"
        )
    for notches in sorted(direct):
        if all((target * notches / 360).denominator == 1 for target in targets_deg):
            return notches
    numbers = sorted({part for notches in direct for part in range(2, notches + 1) if notches % part == 0})
    raise PlanError(
        f"no notched plate of this table ({_listed(direct)} notches) has a notch at every position of {wanted}; "
        f'accepted with "direct" are {_listed(numbers)} divisions from a notch',
        field="with",
    )


def _listed(numbers: Sequence[int]) -> str:
    return ", ".join(str(number) for number in numbers)
