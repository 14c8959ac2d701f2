"""Preferred numbers R40, in which the tolerances of thread standards are stepped (ISO 3)."""

import math
from fractions import Fraction

_R40 = (
    100, 106, 112, 118, 125, 132, 140, 150, 160, 170, 180, 190, 200, 212, 224, 236, 250, 265, 280, 300,
    315, 335, 355, 375, 400, 425, 450, 475, 500, 530, 560, 600, 630, 670, 710, 750, 800, 850, 900, 950,
)  # fmt: skip


def preferred_number(place: int) -> Fraction:
    """Return the preferred number at a place counted from 1, forty to the decade.

    >>> float(preferred_number(25)), float(preferred_number(80))
    (4.25, 100.0)
    """
    decade, index = divmod(place, 40)
    return Fraction(_R40[index], 100) * Fraction(10) ** decade


def preferred_place(value: float) -> int:
    """Return the place of the preferred number nearest in ratio to `value` (above 0)."""
    guess = round(40 * math.log10(value))
    return min((guess - 1, guess, guess + 1), key=lambda place: abs(math.log(value / preferred_number(place))))


def stepped_um(value_um: float, steps: int) -> int:
    """Return the whole micrometres that are printed so many places above or below a preferred number.

    Halves go to the even figure, as printed: 42.5 is 42, 47.5 is 48.

    >>> stepped_um(112, -8), stepped_um(67, -8)
    (71, 42)
    """
    return round(preferred_number(preferred_place(value_um) + steps))
