"""Which numbers divide exactly with what one has, and tables of divisions to hang beside the machine."""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from math import gcd
from typing import NamedTuple

from core.lathe.lathe import RotaryTable
from core.operations.dividing.by_dial import smallest_deg
from core.operations.dividing.compound import compound_pairs

ARCSEC_PER_TURN = 360 * 3600
MOST = 400
"""Divisions that a dividing table goes up to; more is rarely asked for."""


class Division(NamedTuple):
    """One line of a dividing table: a single step, on the best single circle."""

    divisions: int
    circle: int
    turns: int
    holes: int
    """Nearest holes behind the whole turns; 0 <= holes < circle."""
    worst_arcsec: float
    """Worst error of any position counted from zero; 0 where the circle is exact."""

    @property
    def exact(self) -> bool:
        """True where every position falls on a hole."""
        return self.worst_arcsec == 0


def dividing_table(
    ratio: int, plates: Sequence[Sequence[int]], divisions: Iterable[int] = range(2, MOST + 1)
) -> list[Division]:
    """Return the best single circle for every number of divisions.

    `ratio` is handle turns for one turn of the table. Of circles with the same
    worst error the one with the fewest holes is taken.

    >>> dividing_table(40, [(15, 16, 17, 18, 19, 20)], [9])[0][1:4]
    (18, 4, 8)
    """
    circles = sorted({circle for plate in plates for circle in plate})
    return [_best_division(number, ratio, circles) for number in divisions]


def _best_division(divisions: int, ratio: int, circles: Sequence[int]) -> Division:
    best, least = circles[0], 1.0
    for circle in circles:
        # The positions fall `parts` to a hole; the worst lies in the middle between two holes, or next to it.
        parts = divisions // gcd(ratio * circle, divisions)
        worst = (parts // 2) / (parts * circle)
        if worst < least:
            best, least = circle, worst
            if worst == 0:
                break
    whole, rest = divmod(ratio * best, divisions)
    turns, holes = divmod(whole + (2 * rest > divisions), best)
    return Division(divisions, best, turns, holes, least * ARCSEC_PER_TURN / ratio)


def ways_to_divide(table: RotaryTable, divisions: int) -> tuple[str, ...]:
    """Return every means this table has that divides a number exactly, in words.

    >>> ways_to_divide(RotaryTable(ratio=Fraction(40), plates=((15, 17),), direct=(24,)), 51)
    ('circles 15 and 17 together',)
    """
    step_deg = Fraction(360, divisions)
    found = []
    if table.dial_graduation_deg is not None and (step_deg / smallest_deg(table)).denominator == 1:
        found.append("dial")
    needed = (table.ratio / divisions).denominator
    circles = [circle for plate in table.plates for circle in plate if circle % needed == 0]
    found += [f"circle {circle}" for circle in sorted(set(circles))]
    if not circles:
        found += [f"circles {one} and {other} together" for one, other in compound_pairs(needed, table.plates)]
    found += [f"notches {notches}" for notches in sorted(set(table.direct)) if notches % divisions == 0]
    return tuple(found)


def ways_words(table: RotaryTable, divisions: int) -> str:
    """Return every means that divides a number exactly, as short as it can be said; "" where there is none.

    >>> ways_words(RotaryTable(ratio=Fraction(40), plates=((15, 16, 18),), direct=(24,)), 6)
    'circles 15, 18; notches 24'
    """
    ways = ways_to_divide(table, divisions)
    circles = [way.removeprefix("circle ") for way in ways if way.startswith("circle ")]
    words = [way for way in ways if not way.startswith(("circle ", "notches "))]
    if circles:
        all_of_them = len(circles) == len({circle for plate in table.plates for circle in plate})
        words.append("any circle" if all_of_them else f"circle{'s' * (len(circles) > 1)} {', '.join(circles)}")
    return "; ".join([*words, *(way for way in ways if way.startswith("notches "))])


def exact_divisions(table: RotaryTable, most: int = MOST) -> dict[int, tuple[str, ...]]:
    """Return every number from 2 to `most` that this table divides exactly, with the means."""
    found = {number: ways_to_divide(table, number) for number in range(2, most + 1)}
    return {number: ways for number, ways in found.items() if ways}
