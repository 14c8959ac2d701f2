"""Dividing plates: hole circles, notches of a direct-index plate, and two hole circles of one plate used in
combination.

With two circles, the index pin first moves in one circle. The plate then moves in the other circle and carries the pin
with it, so that the two moves add up. Handbooks print such a movement as 40/51 = 10/15 + 2/17.
"""

import math
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import combinations
from math import floor, lcm
from typing import Any, NamedTuple

from core.lathe.lathe import how_to_add
from core.values.errors import PlanError
from core.values.plain_text import sentence

COMMON_PLATES = (
    (15, 16, 17, 18, 19, 20),
    (21, 23, 27, 29, 31, 33),
    (37, 39, 41, 43, 47, 49),
)
"""The three plates that most dividing heads come with; common practice, printed in handbooks."""


class Circle(NamedTuple):
    """A hole circle of a dividing plate, or the notches of a direct-index plate on the table's spindle."""

    plate: int
    """The number of the plate, counted from 1 in the order of the lathe file."""
    holes: int
    """The number of holes in the circle, or of notches in the direct-index plate."""


def nearest_hole(turns: Fraction, circle: int) -> int:
    """Return the hole nearest to a number of handle turns, counted in holes from zero.

    Half-way between two holes, return the lower one. `circle`: the number of holes in the circle.

    >>> nearest_hole(Fraction(40, 51), 17)
    13
    """
    return math.ceil(turns * circle - Fraction(1, 2))


def best_circles(turns: Sequence[Fraction], plates: Sequence[Sequence[int]]) -> list[Circle]:
    """Return the hole circles whose largest error over all positions is the smallest, those with the fewest holes
    first.

    `turns`: the handle turns from zero to each position. Raises PlanError if there are no plates.

    >>> [circle.holes for circle in best_circles([Fraction(40, 9)], COMMON_PLATES)]
    [18, 27]
    """
    circles = sorted({circle for plate in plates for circle in plate})
    if not circles:
        raise PlanError(
            f'This lathe\'s rotary table has no plates. Enter with = "dial", or {how_to_add("plates")}.', field="with"
        )
    worst = dict(_worst(turns, circles))
    least = min(worst.values())
    best = {holes for holes, error in worst.items() if error == least}
    matches = [
        Circle(number, holes)
        for number, plate in enumerate(plates, start=1)
        for holes in sorted(best.intersection(plate))
    ]
    return sorted(matches, key=lambda circle: (circle.holes, circle.plate))


class _CircleChoice(NamedTuple):
    """The hole circles chosen for the layers so far. Choices are compared as tuples, and the smaller one is better."""

    plate_changes: int
    changes_at: tuple[bool, ...]
    """For each layer, whether the plate is changed before it. A late change compares as smaller than an early one."""
    circle_changes: int
    holes: int
    circles: tuple[Circle, ...]

    def on_to(self, circle: Circle) -> "_CircleChoice":
        """Return this choice, with a hole circle for the next layer added."""
        last = self.circles[-1]
        changes = circle.plate != last.plate
        return _CircleChoice(
            self.plate_changes + changes,
            (*self.changes_at, changes),
            self.circle_changes + (circle != last),
            self.holes + circle.holes,
            (*self.circles, circle),
        )


def fewest_changes(choices: Sequence[Sequence[Circle]]) -> tuple[Circle, ...]:
    """Return one hole circle for each layer, with the fewest changes of plate, as late as possible, then of circle.

    Of equally good circles, the one with the fewest holes is taken. At a ratio of 40:1, 7 and 9 divisions share a plate
    that has circles of 21 and 27 holes:

    >>> sevens, nines, seventeens = [Circle(2, 21), Circle(3, 49)], [Circle(1, 18), Circle(2, 27)], [Circle(1, 17)]
    >>> [circle.holes for circle in fewest_changes([sevens, nines, seventeens])]
    [21, 27, 17]
    """
    best = [_CircleChoice(0, (), 0, circle.holes, (circle,)) for circle in choices[0]]
    for nexts in choices[1:]:
        best = [min(chosen.on_to(circle) for chosen in best) for circle in nexts]
    return min(best).circles


def _worst(turns: Sequence[Fraction], circles: Sequence[int]) -> Iterator[tuple[int, Fraction]]:
    """Yield each hole circle with its largest error [handle turns]. Integer arithmetic keeps thousands of positions
    fast.
    """
    common = lcm(*(place.denominator for place in turns))
    places = [int(place * common) for place in turns]
    for circle in circles:
        past = [place * circle % common for place in places]
        worst = max(min(over, common - over) for over in past)
        yield circle, Fraction(worst, common * circle)


def direct_index_plates(targets_deg: Sequence[Fraction], direct: Sequence[int], wanted: str) -> list[Circle]:
    """Return every direct-index plate that has a notch at each target angle [deg], those with the fewest notches first.

    Raises PlanError if no plate has all these notches. `wanted`: how that error names the request.
    """
    if not direct:
        raise PlanError(
            f"This lathe's rotary table has no direct-index plate. {sentence(how_to_add('direct'))}", field="with"
        )
    matches = [
        Circle(number, notches)
        for number, notches in enumerate(direct, start=1)
        if all((target * notches / 360).denominator == 1 for target in targets_deg)
    ]
    if matches:
        return sorted(matches, key=lambda plate: plate.holes)
    numbers = sorted({part for notches in direct for part in range(2, notches + 1) if notches % part == 0})
    raise PlanError(
        f"No direct-index plate of this table ({_listed(direct)} notches) has a notch at every position of {wanted}. "
        f"Enter one of these numbers of divisions, and start at a notch: {_listed(numbers)}.",
        field="with",
    )


def _listed(numbers: Sequence[int]) -> str:
    return ", ".join(str(number) for number in numbers)


class Compound(NamedTuple):
    """A movement of whole turns, and of holes on two circles of one plate. A negative number of holes goes back."""

    circles: tuple[int, int]
    holes: tuple[int, int]
    turns: int

    @property
    def total(self) -> Fraction:
        """The whole movement in handle turns, exact."""
        parts = (Fraction(held, circle) for held, circle in zip(self.holes, self.circles, strict=True))
        return self.turns + sum(parts, Fraction(0))

    def as_data(self) -> dict[str, Any]:
        """Return the movement as a mapping of plain values that can be stored in the log."""
        return {"circles": list(self.circles), "holes": list(self.holes), "turns": self.turns}


def compound_on(turns: Fraction, circles: tuple[int, int]) -> Compound | None:
    """Return the movement on two hole circles that adds up to exactly `turns` handle turns; None if there is none.

    A movement without extra whole turns is preferred, then the one with the fewest holes to count. A movement exists if
    the denominator of `turns` divides the least common multiple of the two numbers of holes.

    >>> compound_on(Fraction(40, 51), (15, 17))
    Compound(circles=(15, 17), holes=(10, 2), turns=0)
    """
    first, second = circles
    spaces = lcm(first, second)
    if spaces % turns.denominator:
        return None
    # In units of 1/spaces of a turn: a * per_first + b * per_second = wanted.
    per_first, per_second = spaces // first, spaces // second
    wanted = int((turns - floor(turns)) * spaces)
    least_a = wanted * pow(per_first, -1, per_second) % per_second if per_second > 1 else 0
    movements = []
    for a in range(least_a - first // per_second * per_second - per_second, first, per_second):
        if abs(a) >= first:
            continue
        b = (wanted - a * per_first) // per_second % second
        for held in (b, b - second):
            carry = (wanted - a * per_first - held * per_second) // spaces
            movements.append((carry != 0, abs(a) + abs(held), abs(held), a, held, carry))
    _, _, _, a, held, carry = min(movements)
    return Compound(circles, (a, held), floor(turns) + carry)


def compound_pairs(denominator: int, plates: Sequence[Sequence[int]]) -> list[tuple[int, int]]:
    """Return the pairs of hole circles of one plate that in combination divide a turn into `denominator` parts."""
    pairs = (pair for plate in plates for pair in combinations(sorted(set(plate)), 2))
    return [pair for pair in pairs if lcm(*pair) % denominator == 0]


def compound_words(move: Compound) -> str:
    """Return in words a movement on two hole circles.

    >>> compound_words(Compound((23, 33), (21, -11), 0))
    '21 holes on in the 23 circle with the pin, and 11 holes back in the 33 circle with the plate'
    """
    whole = f"{abs(move.turns)} turn{'' if abs(move.turns) == 1 else 's'}{' back' if move.turns < 0 else ''}"
    parts = [whole] if move.turns else []
    for held, circle, what in zip(move.holes, move.circles, ("pin", "plate"), strict=True):
        if held:
            holes = f"{abs(held)} hole{'' if abs(held) == 1 else 's'}"
            parts.append(f"{holes} {'on' if held > 0 else 'back'} in the {circle} circle with the {what}")
    return ", ".join(parts[:-1]) + (", and " if len(parts) > 1 else "") + parts[-1] if parts else "no movement"
