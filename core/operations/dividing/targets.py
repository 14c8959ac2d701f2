"""Where the positions lie: exact, and each from the same zero, so that nothing adds up."""

from collections.abc import Sequence
from fractions import Fraction

FULL_CIRCLE = Fraction(360)
MOST_DIVISIONS = 2_000


def even_targets_deg(
    divisions: int, start_deg: Fraction = Fraction(0), *, falling: bool = False
) -> tuple[Fraction, ...]:
    """Return the angles of `divisions` even positions from a start angle, exact [deg].

    `falling`: the numbers of the table's scale go down from one to the next.

    >>> [str(angle) for angle in even_targets_deg(7)][:3]
    ['0', '360/7', '720/7']
    """
    step = FULL_CIRCLE / divisions * (-1 if falling else 1)
    return tuple(start_deg + step * number for number in range(divisions))


def listed_targets_deg(
    angles_deg: Sequence[Fraction], start_deg: Fraction = Fraction(0), *, falling: bool = False
) -> tuple[Fraction, ...]:
    """Return listed angles counted from a start angle, in their order [deg]."""
    return tuple(start_deg - angle if falling else start_deg + angle for angle in angles_deg)


def repeated_deg(angles_deg: Sequence[Fraction]) -> Fraction | None:
    """Return the first angle that is the same place as one before it, None where all differ [deg].

    >>> repeated_deg([Fraction(0), Fraction(90), Fraction(360)])
    Fraction(360, 1)
    """
    seen: set[Fraction] = set()
    for angle in angles_deg:
        if angle % FULL_CIRCLE in seen:
            return angle
        seen.add(angle % FULL_CIRCLE)
    return None


def whole_degree_divisions() -> tuple[int, ...]:
    """Return every number of divisions whose step is a whole number of degrees: the 24 divisors of 360."""
    return tuple(number for number in range(1, 361) if 360 % number == 0)
