"""Compound movements: two circles of one plate together, for numbers that no single circle divides.

The index pin is moved on one circle, then the plate with it on another; both
parts add up. Handbooks print them as 40/51 = 10/15 + 2/17.
"""

from collections.abc import Sequence
from fractions import Fraction
from itertools import combinations
from math import floor, lcm
from typing import Any, NamedTuple


class Compound(NamedTuple):
    """A movement of whole turns and signed holes on two circles of one plate."""

    circles: tuple[int, int]
    holes: tuple[int, int]
    turns: int

    @property
    def total(self) -> Fraction:
        """The whole movement [handle turns], exact."""
        parts = (Fraction(held, circle) for held, circle in zip(self.holes, self.circles, strict=True))
        return self.turns + sum(parts, Fraction(0))

    def as_data(self) -> dict[str, Any]:
        """Return the movement as plain data."""
        return {"circles": list(self.circles), "holes": list(self.holes), "turns": self.turns}


def compound_on(turns: Fraction, circles: tuple[int, int]) -> Compound | None:
    """Return the movement on two circles that is exactly `turns` handle turns, None where there is none.

    Of those possible the one without an extra turn, then with the fewest holes to
    count. It exists where the denominator of `turns` divides the least common
    multiple of the circles.

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
    found = []
    for a in range(least_a - first // per_second * per_second - per_second, first, per_second):
        if abs(a) >= first:
            continue
        b = (wanted - a * per_first) // per_second % second
        for held in (b, b - second):
            carry = (wanted - a * per_first - held * per_second) // spaces
            found.append((carry != 0, abs(a) + abs(held), abs(held), a, held, carry))
    _, _, _, a, held, carry = min(found)
    return Compound(circles, (a, held), floor(turns) + carry)


def compound_pairs(denominator: int, plates: Sequence[Sequence[int]]) -> list[tuple[int, int]]:
    """Return the pairs of circles of one plate that together divide a turn into `denominator` parts."""
    pairs = (pair for plate in plates for pair in combinations(sorted(set(plate)), 2))
    return [pair for pair in pairs if lcm(*pair) % denominator == 0]


def compound_words(move: Compound) -> str:
    """Return a compound movement in words.

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
