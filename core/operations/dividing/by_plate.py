"""Setting a rotary table by the holes of a plate, or by the notches of a plate on its spindle."""

import math
from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import lcm
from typing import NamedTuple

from core.lathe.lathe import how_to_add
from core.values.errors import PlanError

COMMON_PLATES = (
    (15, 16, 17, 18, 19, 20),
    (21, 23, 27, 29, 31, 33),
    (37, 39, 41, 43, 47, 49),
)
"""The three plates most dividing heads come with; common practice, printed in handbooks."""


class Circle(NamedTuple):
    """A hole circle of a plate, or a plate of notches on the table's spindle."""

    plate: int
    """Number of its plate, counted from 1 as the lathe file lists them."""
    holes: int
    """Holes of the circle, or notches of the plate."""


def nearest_hole(turns: Fraction, circle: int) -> int:
    """Return the hole nearest to a place, both counted from zero; half-way the lower one.

    >>> nearest_hole(Fraction(40, 51), 17)
    13
    """
    return math.ceil(turns * circle - Fraction(1, 2))


def best_circles(turns: Sequence[Fraction], plates: Sequence[Sequence[int]]) -> list[Circle]:
    """Return every circle with the least worst error over all places, fewest holes first.

    `turns` are handle turns from zero. Raises PlanError where there are no plates.

    >>> [circle.holes for circle in best_circles([Fraction(40, 9)], COMMON_PLATES)]
    [18, 27]
    """
    circles = sorted({circle for plate in plates for circle in plate})
    if not circles:
        raise PlanError(
            f'this lathe\'s rotary table has no plates: use with = "dial", or {how_to_add("plates")}', field="with"
        )
    worst = dict(_worst(turns, circles))
    least = min(worst.values())
    best = {holes for holes, error in worst.items() if error == least}
    found = [
        Circle(number, holes)
        for number, plate in enumerate(plates, start=1)
        for holes in sorted(best.intersection(plate))
    ]
    return sorted(found, key=lambda circle: (circle.holes, circle.plate))


class _Way(NamedTuple):
    """Circles for the first patterns, each with the next; the least of two is the one to take."""

    plate_changes: int
    changes_at: tuple[bool, ...]
    """Before which patterns the plate is changed; a late change is less than an early one."""
    circle_changes: int
    holes: int
    circles: tuple[Circle, ...]

    def on_to(self, circle: Circle) -> "_Way":
        """Return this way with one more circle."""
        last = self.circles[-1]
        changes = circle.plate != last.plate
        return _Way(
            self.plate_changes + changes,
            (*self.changes_at, changes),
            self.circle_changes + (circle != last),
            self.holes + circle.holes,
            (*self.circles, circle),
        )


def staying_circles(choices: Sequence[Sequence[Circle]]) -> tuple[Circle, ...]:
    """Return one circle of each pattern's choices so that plate, then circle, change as seldom and late as they can.

    Of equals those with the fewest holes. 7, 9 and 17 at 40:1 stay on the plate with
    21 and 27 for the first two:

    >>> sevens, nines, seventeens = [Circle(2, 21), Circle(3, 49)], [Circle(1, 18), Circle(2, 27)], [Circle(1, 17)]
    >>> [circle.holes for circle in staying_circles([sevens, nines, seventeens])]
    [21, 27, 17]
    """
    ways = [_Way(0, (), 0, circle.holes, (circle,)) for circle in choices[0]]
    for nexts in choices[1:]:
        ways = [min(way.on_to(circle) for way in ways) for circle in nexts]
    return min(ways).circles


def _worst(turns: Sequence[Fraction], circles: Sequence[int]) -> Iterator[tuple[int, Fraction]]:
    """Yield each circle with its worst error [turns]; whole numbers, since there may be thousands of places."""
    common = lcm(*(place.denominator for place in turns))
    places = [int(place * common) for place in turns]
    for circle in circles:
        past = [place * circle % common for place in places]
        worst = max(min(over, common - over) for over in past)
        yield circle, Fraction(worst, common * circle)


def notched_plates(targets_deg: Sequence[Fraction], direct: Sequence[int], wanted: str) -> list[Circle]:
    """Return every plate that has a notch at each target, fewest notches first.

    Raises PlanError where none has, saying which numbers can be had; `wanted`
    says what was asked for.
    """
    if not direct:
        raise PlanError(
            f"this lathe's rotary table has no notched plate on its spindle: {how_to_add('direct')}", field="with"
        )
    found = [
        Circle(number, notches)
        for number, notches in enumerate(direct, start=1)
        if all((target * notches / 360).denominator == 1 for target in targets_deg)
    ]
    if found:
        return sorted(found, key=lambda plate: plate.holes)
    numbers = sorted({part for notches in direct for part in range(2, notches + 1) if notches % part == 0})
    raise PlanError(
        f"no notched plate of this table ({_listed(direct)} notches) has a notch at every position of {wanted}; "
        f'accepted with "direct" are {_listed(numbers)} divisions from a notch',
        field="with",
    )


def _listed(numbers: Sequence[int]) -> str:
    return ", ".join(str(number) for number in numbers)
