"""The angles at which a cutter's point is ground, and the relief with which its heel clears the groove.

The formulas are derived here, not taken from a source. Lengths are in mm, angles in degrees. The cutting face contains
the shank's axis. A section is a cut through the point, square to the shank. In a section each flank starts at an edge
of the face, at half the width (x) from the axis. At a distance y behind the face the flank is y tan(relief) nearer to
the axis.
"""

from fractions import Fraction
from math import asin, atan, atan2, ceil, cos, degrees, radians, sin, sqrt, tan
from typing import NamedTuple

MARGIN_DEG = 3.0
"""How far the suggested relief exceeds the smallest possible relief [deg]. Our own choice."""
BACK_MARGIN_DEG = 5.0
"""How far beyond the smallest angle the second flank of a cutter on its own axis is rolled [deg]. Our own choice."""
_TIE = 1e-9


class FlankSetting(NamedTuple):
    """The roll of the block and the angle of the rest for one flank. Both angles are at marks of their scales."""

    roll_deg: float
    """How far the block is rolled about the shank's axis. This is the relief in a section."""
    rest_deg: float
    """The angle between the shank and the face of the wheel."""

    @property
    def half_angle_deg(self) -> float:
        """The angle between the flank and the shank's axis, as ground on the cutting face [deg].

        >>> round(FlankSetting(20, 43).half_angle_deg, 3)
        44.78
        """
        return degrees(atan(tan(radians(self.rest_deg)) / cos(radians(self.roll_deg))))


def rest_angle_deg(half_angle_deg: float, roll_deg: float) -> float:
    """Return the angle between shank and wheel [deg] that gives a half angle on the cutting face of a rolled block.

    In the block's own directions the wheel's normal is (cos s cos roll, -cos s sin roll, sin s) for a rest at s. The
    wheel cuts the face along tan(half angle) = tan s / cos roll.

    >>> round(rest_angle_deg(45, 20), 3)
    43.219
    """
    return degrees(atan(tan(radians(half_angle_deg)) * cos(radians(roll_deg))))


def nearest_mark_deg(angle_deg: float, graduation_deg: float) -> float:
    """Return the mark of a scale nearest to an angle [deg]. The mark is always above 0 and below 90 degrees."""
    last = ceil(90 / graduation_deg - _TIE) - 1
    return _mark_deg(min(max(1, round(angle_deg / graduation_deg)), last), graduation_deg)


def mark_at_least_deg(angle_deg: float, graduation_deg: float) -> float:
    """Return the smallest mark of a scale that is at least as large as an angle [deg]."""
    return _mark_deg(ceil(angle_deg / graduation_deg - _TIE), graduation_deg)


def mark_below_deg(angle_deg: float, graduation_deg: float) -> float:
    """Return the largest mark of a scale below an angle [deg]; 0 if the scale has no such mark."""
    return _mark_deg(ceil(angle_deg / graduation_deg - _TIE) - 1, graduation_deg)


def _mark_deg(count: int, graduation_deg: float) -> float:
    return float(count * Fraction(str(graduation_deg)))


def least_relief_deg(circle_radius_mm: float, half_width_mm: float, behind_mm: float) -> float:
    """Return the smallest relief with which the heel clears the outer wall of the groove [deg].

    circle_radius_mm: r, the smallest circle of the point about the spindle's axis; 0 if the point is on that axis.
    half_width_mm: X, half the groove's width at the face of the work.
    behind_mm: b, the thickness of the cutter behind its cutting face.

    In a section of half width x, the wall is a circle of radius R = r + x. With a relief a, the flank's point at y
    behind the face is at sqrt((R - y tan a)^2 + y^2) from the spindle's axis, and it clears the wall while y <= R sin
    2a. The flank ends where both flanks meet (y = x / tan a), or at the back of the shank (y = b). Of all sections up
    to X, the one with x = min(X, b tan a) is the worst. It gives sin^2 a = X / 2(r + X), or tan 2a = b / r. The smaller
    of these two angles is enough. The result is exact for a sharp point, and on the safe side for a flat or round one.
    The inner flank always clears its wall.

    >>> round(least_relief_deg(0, 1, 2), 6), round(least_relief_deg(3, 1, 2), 3)
    (45.0, 16.845)
    """
    where_flanks_meet = degrees(asin(sqrt(half_width_mm / (2 * (circle_radius_mm + half_width_mm)))))
    back_of_shank = degrees(atan2(behind_mm, circle_radius_mm)) / 2
    return min(where_flanks_meet, back_of_shank)


def back_roll_deg(relief_deg: float, graduation_deg: float) -> float:
    """Return the block's roll for the second flank of a cutter that turns on its own axis [deg].

    In a section, the two cutting edges are the ends of a diameter. The ridge where both flanks meet must lie inside the
    circle about this diameter, so the flanks must meet at 90 degrees or more (Thales). The two rolls must therefore add
    up to at least 90 degrees. `relief_deg`: the roll for the first flank.

    >>> back_roll_deg(25, 1)
    70.0
    """
    return mark_at_least_deg(max(relief_deg, 90 - relief_deg + BACK_MARGIN_DEG), graduation_deg)


def ridge_relief_deg(half_angle_deg: float, roll_deg: float) -> float:
    """Return the relief directly behind a sharp point, where both flanks meet in a ridge [deg].

    At a height h the ridge is h tan(half angle) / tan(roll) behind the face.

    >>> round(ridge_relief_deg(60, 15), 3)
    8.794
    """
    return degrees(atan(tan(radians(roll_deg)) / tan(radians(half_angle_deg))))


def shortened_by_mm(half_angle_deg: float, tip_flat_mm: float, tip_radius_mm: float) -> float:
    """Return how much a flat or a round nose makes a sharp point shorter [mm].

    A flat f takes off f / (2 tan(half angle)), and a radius r takes off r (1 / sin(half angle) - 1).

    >>> round(shortened_by_mm(30, 0, 0.5), 9)
    0.5
    """
    half = radians(half_angle_deg)
    return tip_flat_mm / (2 * tan(half)) + tip_radius_mm * (1 / sin(half) - 1)
