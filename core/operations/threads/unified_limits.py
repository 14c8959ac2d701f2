"""Limits of size of Unified threads by the formulas and rounding of ASME B1.1, in inches.

Values are rounded where the standard rounds them, exact ties to the even
figure as printed; so all of it is done in exact fractions.
"""

from fractions import Fraction
from typing import NamedTuple

from core.operations.threads.form import Range

CLASSES = ("1A", "2A", "3A", "1B", "2B", "3B")
_OF_2A = {
    "1A": Fraction(3, 2),
    "2A": Fraction(1),
    "3A": Fraction(3, 4),
    "1B": Fraction(195, 100),
    "2B": Fraction(13, 10),
    "3B": Fraction(975, 1000),
}
"""Pitch-diameter tolerance of each class over that of 2A."""
_PITCH_LINE = Fraction(64951905, 10**8)
_MINOR = Fraction(108253175, 10**8)
_SMALLEST_TO_3_PLACES = Fraction(138, 1000)
"""#6: from here up internal minor diameters are printed to three places."""


class UnifiedThread(NamedTuple):
    """What the formulas need: major diameter and length of engagement [in], threads to the inch."""

    major_in: Fraction
    tpi: Fraction
    engagement_in: Fraction

    @property
    def pitch_in(self) -> Fraction:
        """Pitch to eight places, as the standard takes it [in]."""
        return round(1 / self.tpi, 8)

    @property
    def basic_pitch_diameter_in(self) -> Fraction:
        """D - 0.64951905 P to four places [in]."""
        return round(self.major_in - round(_PITCH_LINE * self.pitch_in, 6), 4)

    @property
    def basic_minor_in(self) -> Fraction:
        """D - 1.08253175 P, of the internal thread, to four places [in]."""
        return round(self.major_in - round(_MINOR * self.pitch_in, 6), 4)


def pitch_tolerance_in(thread: UnifiedThread, tolerance_class: str) -> Fraction:
    """Return the tolerance of the pitch diameter to six places [in].

    Source: ASME B1.1, 0.0015 D^(1/3) + 0.0015 LE^(1/2) + 0.015 P^(2/3) for 2A.

    >>> ue = UnifiedThread(major_in=Fraction(1, 2), tpi=Fraction(28), engagement_in=Fraction(9, 28))
    >>> float(pitch_tolerance_in(ue, "2A"))
    0.003668
    """
    size, engagement, pitch = float(thread.major_in), float(thread.engagement_in), float(thread.pitch_in)
    of_2a = Fraction(0.0015 * size ** (1 / 3) + 0.0015 * engagement**0.5 + 0.015 * pitch ** (2 / 3))
    return round(round(of_2a, 6) * _OF_2A[tolerance_class], 6)


def external_ranges_in(thread: UnifiedThread, tolerance_class: str) -> tuple[Range, Range]:
    """Return the limits of major and pitch diameter, largest first, to four places [in]."""
    allowance = Fraction(0)
    if tolerance_class != "3A":
        allowance = round(Fraction(3, 10) * pitch_tolerance_in(thread, "2A"), 4)
    factor = 0.09 if tolerance_class == "1A" else 0.06
    tolerance = round(Fraction(factor * float(thread.pitch_in) ** (2 / 3)), 6)
    major = round(thread.major_in - allowance, 4)
    pitch = round(thread.major_in - allowance - round(_PITCH_LINE * thread.pitch_in, 6), 4)
    return (
        (major, round(major - tolerance, 4)),
        (pitch, round(pitch - pitch_tolerance_in(thread, tolerance_class), 4)),
    )


def internal_ranges_in(thread: UnifiedThread, tolerance_class: str) -> tuple[Range, Range]:
    """Return the limits of pitch and minor diameter, largest first [in].

    From #6 up classes 1B and 2B have minor diameters of three places; 3B has a
    least of three places and a largest of four.
    """
    pitch = thread.basic_pitch_diameter_in
    least = thread.basic_minor_in
    largest = least + round(_minor_tolerance_in(thread, tolerance_class), 4)
    if thread.major_in >= _SMALLEST_TO_3_PLACES:
        least = round(least, 3)
        largest = largest if tolerance_class == "3B" else round(largest, 3)
    return (round(pitch + pitch_tolerance_in(thread, tolerance_class), 4), pitch), (largest, least)


def _minor_tolerance_in(thread: UnifiedThread, tolerance_class: str) -> Fraction:
    """TD1 of ASME B1.1 [in]."""
    pitch, size = thread.pitch_in, thread.major_in
    small = Fraction(0.05 * float(pitch) ** (2 / 3)) + Fraction(3, 100) * pitch / size - Fraction(2, 1000)
    most = Fraction(394, 1000) * pitch
    if tolerance_class == "3B":
        coarse = thread.tpi < 13
        floor = Fraction(12, 100) * pitch if coarse else Fraction(23, 100) * pitch - Fraction(3, 2) * pitch**2
        return min(max(small, floor), most)
    usual = pitch / 4 - Fraction(4, 10) * pitch**2
    if size < Fraction(1, 4):
        return min(max(small, usual), most)
    return usual if thread.tpi >= 4 else Fraction(15, 100) * pitch
