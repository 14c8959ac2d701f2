"""One ring of circles: where they lie, how they meet, how far they reach. Derived; lengths in mm, angles in degrees.

The cutter's tip runs on a circle of radius r about the spindle axis; the table's
axis lies at the offset R from it. On the work the tip lines are circles of radius
r whose centres lie on a circle of radius R about the table's axis.
"""

import math
from dataclasses import dataclass


def groove_width_mm(tip_angle_deg: float, tip_flat_mm: float, depth_mm: float) -> float:
    """Return the width of a groove at the face: flat + 2 depth tan(included angle / 2) [mm].

    >>> round(groove_width_mm(90, 0.0, 0.6), 6)
    1.2
    """
    return tip_flat_mm + 2 * depth_mm * math.tan(math.radians(tip_angle_deg / 2))


def effective_offset_mm(offset_mm: float, height_error_mm: float) -> float:
    """Return the true distance of the two axes where one lies higher: sqrt(R^2 + h^2) [mm].

    >>> round(effective_offset_mm(20, 1), 3)
    20.025
    """
    return math.hypot(offset_mm, height_error_mm)


def turned_by_deg(offset_mm: float, height_error_mm: float) -> float:
    """Return by how much an axis height error turns the whole ring: atan(h / R) [deg], with the sign of h.

    >>> round(turned_by_deg(20, 1), 3)
    2.862
    """
    return math.degrees(math.atan2(height_error_mm, offset_mm))


@dataclass(frozen=True, kw_only=True)
class RingShape:
    """One ring as it comes out on the work."""

    count: int
    offset_mm: float
    """True distance of the axes, axis height error included."""
    circle_radius_mm: float
    groove_width_mm: float | None = None
    """At the face; None where tip or depth is not known."""
    start_deg: float = 0.0
    skip: frozenset[int] = frozenset()
    """Positions not cut, counted from 1."""

    @property
    def spacing_mm(self) -> float | None:
        """Distance of neighbouring centres, 2 R sin(180/N) [mm]; None for a single circle."""
        return None if self.count < 2 else 2 * self.offset_mm * math.sin(math.pi / self.count)

    @property
    def overlap_mm(self) -> float | None:
        """By how much neighbouring tip lines cross (+) or stay apart (-) [mm]."""
        return None if self.spacing_mm is None else 2 * self.circle_radius_mm - self.spacing_mm

    @property
    def groove_overlap_mm(self) -> float | None:
        """By how much the edges of neighbouring grooves cross (+) or stay apart (-) [mm]."""
        if self.overlap_mm is None or self.groove_width_mm is None:
            return None
        return self.overlap_mm + self.groove_width_mm

    @property
    def inner_mm(self) -> float:
        """Radius of the circle that the tip lines leave free about the table's axis [mm]."""
        return abs(self.offset_mm - self.circle_radius_mm)

    @property
    def outer_mm(self) -> float:
        """Radius of the circle about the table's axis that the tip lines reach [mm]."""
        return self.offset_mm + self.circle_radius_mm

    @property
    def inner_edge_mm(self) -> float | None:
        """As `inner_mm`, for the edges of the grooves; 0 where they cover the centre [mm]."""
        return None if self.groove_width_mm is None else max(0.0, self.inner_mm - self.groove_width_mm / 2)

    @property
    def outer_edge_mm(self) -> float | None:
        """As `outer_mm`, for the edges of the grooves [mm]."""
        return None if self.groove_width_mm is None else self.outer_mm + self.groove_width_mm / 2

    def centres_mm(self) -> list[tuple[int, float, float]]:
        """Return position, x and y of every circle that is cut, about the table's axis [mm].

        As seen on the work's face with position 1 at `start_deg` from the right,
        counted anticlockwise.
        """
        found = []
        for number in range(1, self.count + 1):
            if number not in self.skip:
                angle = math.radians(self.start_deg + 360 * (number - 1) / self.count)
                found.append((number, self.offset_mm * math.cos(angle), self.offset_mm * math.sin(angle)))
        return found
