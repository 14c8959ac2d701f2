"""One ring of circles: its centres, its inner and outer radius, and how its circles meet each other or another ring.

The cutter's point runs on a circle of radius r about the spindle axis. The table's axis lies at the offset R from the
spindle axis. On the work the tip lines are circles of radius r, and their centres lie on a circle of radius R about the
table's axis. The formulas are derived here, not taken from a source. Lengths in mm, angles in degrees.
"""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal, NamedTuple

from core.values.errors import PlanError
from core.values.quantities import mm_text


def effective_offset_mm(offset_mm: float, height_error_mm: float) -> float:
    """Return the true distance between two axes that differ in height [mm]: sqrt(R^2 + h^2).

    R is the offset, and h the height error.

    >>> round(effective_offset_mm(20, 1), 3)
    20.025
    """
    return math.hypot(offset_mm, height_error_mm)


def turned_by_deg(offset_mm: float, height_error_mm: float) -> float:
    """Return the angle by which an axis height error turns a ring [deg]: atan(h / R), with the sign of h.

    R is the offset, and h the height error.

    >>> round(turned_by_deg(20, 1), 3)
    2.862
    """
    return math.degrees(math.atan2(height_error_mm, offset_mm))


def nearest_on_segment(
    place: tuple[float, float], start: tuple[float, float], end: tuple[float, float]
) -> tuple[float, float]:
    """Return the point of the straight line from `start` to `end` that is nearest to `place`. All points in mm.

    >>> nearest_on_segment((3, 4), (0, 0), (10, 0)), nearest_on_segment((-3, 4), (0, 0), (10, 0))
    ((3.0, 0.0), (0.0, 0.0))
    """
    along_x, along_y = end[0] - start[0], end[1] - start[1]
    length_2 = along_x**2 + along_y**2
    share = 0.0
    if length_2:
        share = ((place[0] - start[0]) * along_x + (place[1] - start[1]) * along_y) / length_2
    share = min(1.0, max(0.0, share))
    return start[0] + share * along_x, start[1] + share * along_y


@dataclass(frozen=True, kw_only=True)
class RingShape:
    """One ring of circles on the work."""

    count: int
    offset_mm: float
    """True distance of the axes, axis height error included."""
    circle_radius_mm: float
    groove_width_mm: float | None = None
    """Width of the grooves at the face; None if the cutter or the depth is unknown."""
    start_deg: float = 0.0
    skip: frozenset[int] = frozenset()
    """Numbers of the positions that are not cut, counted from 1."""

    @property
    def spacing_mm(self) -> float | None:
        """The distance between neighbouring centres, 2 R sin(180/N) [mm]; None for a single circle.

        R is the offset, and N the number of circles.
        """
        return None if self.count < 2 else 2 * self.offset_mm * math.sin(math.pi / self.count)

    @property
    def overlap_mm(self) -> float | None:
        """The length by which neighbouring tip lines overlap [mm], below 0 for a gap; None for a single circle."""
        return None if self.spacing_mm is None else 2 * self.circle_radius_mm - self.spacing_mm

    @property
    def groove_overlap_mm(self) -> float | None:
        """The length by which neighbouring grooves overlap [mm], below 0 if land remains between them.

        None for a single circle, or if the width of the grooves is unknown.
        """
        if self.overlap_mm is None or self.groove_width_mm is None:
            return None
        return self.overlap_mm + self.groove_width_mm

    @property
    def inner_mm(self) -> float:
        """The radius of the largest circle about the table's axis that no tip line enters [mm]."""
        return abs(self.offset_mm - self.circle_radius_mm)

    @property
    def outer_mm(self) -> float:
        """The radius of the smallest circle about the table's axis that contains all tip lines [mm]."""
        return self.offset_mm + self.circle_radius_mm

    @property
    def inner_edge_mm(self) -> float | None:
        """The radius of the largest circle about the table's axis that no groove enters [mm].

        It is 0 if grooves cover the axis, and None if the width of the grooves is unknown.
        """
        return None if self.groove_width_mm is None else max(0.0, self.inner_mm - self.groove_width_mm / 2)

    @property
    def outer_edge_mm(self) -> float | None:
        """The radius of the smallest circle about the table's axis that contains all grooves [mm].

        None if the width of the grooves is unknown.
        """
        return None if self.groove_width_mm is None else self.outer_mm + self.groove_width_mm / 2

    def centres_mm(self) -> list[tuple[int, float, float]]:
        """Return the number, x and y of every circle that is cut. Coordinates are counted from the table's axis [mm].

        As seen on the work's face, position 1 is at `start_deg`, counted from the right, and positions are numbered
        anticlockwise.
        """
        centres = []
        for number in range(1, self.count + 1):
            if number not in self.skip:
                angle = math.radians(self.start_deg + 360 * (number - 1) / self.count)
                centres.append((number, self.offset_mm * math.cos(angle), self.offset_mm * math.sin(angle)))
        return centres


_SAME = 1e-9
"""Lengths that differ by less than this part of the ring's size count as equal. Rounding errors are far smaller."""


def crossing_count(ring: RingShape) -> int:
    """Return the number of distinct points at which tip lines of a ring cross. Touching points do not count.

    >>> crossing_count(RingShape(count=6, offset_mm=10, circle_radius_mm=10))
    13
    """
    pairs = _crossing_pairs(ring)
    if ring.inner_mm <= _SAME * ring.outer_mm:
        return pairs + min(1, pairs)
    return 2 * pairs


def _crossing_pairs(ring: RingShape) -> int:
    """Return the number of pairs of circles that cross in a ring.

    The centres of two such circles are less than twice the circle radius apart.
    """
    cut = [number not in ring.skip for number in range(1, ring.count + 1)]
    pairs = 0
    for apart in range(1, ring.count // 2 + 1):
        half_distance = ring.offset_mm * math.sin(math.pi * apart / ring.count)
        if ring.circle_radius_mm - half_distance <= _SAME * ring.outer_mm:
            # Circles further apart do not cross either.
            break
        both = sum(one and cut[index - apart] for index, one in enumerate(cut))
        # Each pair of opposite circles was counted twice.
        pairs += both // 2 if 2 * apart == ring.count else both
    return pairs


RelationKind = Literal["apart", "inside", "touch", "cross"]
_TOUCH_MM = 1e-6


class Relation(NamedTuple):
    """How the tip lines of two rings lie relative to each other."""

    lie: RelationKind
    """"apart": no circles meet. "inside": some circles lie within circles of the other ring. "touch". "cross"."""
    gap_mm: float
    """Smallest distance between tip lines of the two rings; 0 if they touch or cross."""
    crossing_pairs: int
    """The number of crossing pairs, with one circle of each ring."""


def relation(one: RingShape, other: RingShape) -> Relation:
    """Return whether the circles of two rings are apart, inside each other, touching or crossing.

    Two circles touch if the distance between their centres is the sum of their radii (from outside) or the difference
    (from inside). They cross if the distance lies between the difference and the sum.
    """
    together = one.circle_radius_mm + other.circle_radius_mm
    within = abs(one.circle_radius_mm - other.circle_radius_mm)
    gap, crossing, inside = math.inf, 0, 0
    others = _CirclesByAngle(other)
    # The distance between two circles grows with the angle between them, so a search by angle is enough.
    first, past = _turned(one, other, within + _TOUCH_MM), _turned(one, other, together - _TOUCH_MM)
    deepest, middle = _turned(one, other, within - _TOUCH_MM), _turned(one, other, (within + together) / 2)
    for _, x_mm, y_mm in one.centres_mm():
        angle = math.atan2(y_mm, x_mm)
        crossing += max(0, others.within(angle, past) - others.within(angle, first))
        inside += others.within(angle, deepest)
        for other_x_mm, other_y_mm in others.beside(angle, middle):
            apart = math.hypot(x_mm - other_x_mm, y_mm - other_y_mm)
            # Two equal circles in the same place count as touching.
            gap = min(gap, max(apart - together, within - apart))
    if crossing:
        return Relation(lie="cross", gap_mm=0.0, crossing_pairs=crossing)
    if gap <= _TOUCH_MM:
        return Relation(lie="touch", gap_mm=0.0, crossing_pairs=0)
    return Relation(lie="inside" if inside else "apart", gap_mm=gap, crossing_pairs=0)


def _turned(one: RingShape, other: RingShape, apart_mm: float) -> float:
    """Return the angle between two circles, one of each ring, whose centres are `apart_mm` apart [rad].

    The angle is at most pi. If the centres of even opposite circles are nearer than `apart_mm`, the result is 2 pi.
    """
    if apart_mm <= abs(one.offset_mm - other.offset_mm):
        return 0.0
    if apart_mm > one.offset_mm + other.offset_mm:
        # Even the opposite circle is nearer than `apart_mm`.
        return 2 * math.pi
    square = one.offset_mm**2 + other.offset_mm**2 - apart_mm**2
    return math.acos(max(-1.0, min(1.0, square / (2 * one.offset_mm * other.offset_mm))))


class _CirclesByAngle:
    """The circles of a ring, sorted by angle and repeated for one turn before and one turn after."""

    def __init__(self, ring: RingShape) -> None:
        centres = sorted((math.atan2(y_mm, x_mm), (x_mm, y_mm)) for _, x_mm, y_mm in ring.centres_mm())
        self.count = len(centres)
        self._angles = [angle + turn for turn in (-2 * math.pi, 0.0, 2 * math.pi) for angle, _ in centres]
        self._centres = [centre for _, centre in centres] * 3

    def within(self, angle: float, turned: float) -> int:
        """Return the number of circles whose angle differs from `angle` by less than `turned` [rad]."""
        if turned > math.pi:
            return self.count
        return max(0, bisect_left(self._angles, angle + turned) - bisect_right(self._angles, angle - turned))

    def beside(self, angle: float, turned: float) -> Iterator[tuple[float, float]]:
        """Yield the centres of the circles next to the angles `angle - turned` and `angle + turned` [rad]."""
        for place in (angle - min(turned, math.pi), angle + min(turned, math.pi)):
            index = bisect_left(self._angles, place)
            yield from self._centres[max(0, index - 1) : index + 1]


LengthText = Callable[[float], str]
"""A function that returns a length [mm] as text in the unit of the lathe."""

Meeting = Literal["points", "grooves", "centre"]
"""What must meet: the tip lines of neighbours, the edges of their grooves, or all tip lines at the centre."""


def angle_to_touch_deg(offset_1_mm: float, radius_1_mm: float, offset_2_mm: float, radius_2_mm: float) -> float:
    """Return the angle between the centres of two circles, one of each ring, that touch from outside [deg].

    The angle is acos((R1^2 + R2^2 - (r1 + r2)^2) / (2 R1 R2)), with offsets R and circle radii r. Raises PlanError if
    the circles touch at no angle. The message suggests radii.

    >>> round(angle_to_touch_deg(10, 5, 10, 5), 6)
    60.0
    """
    together, nearest, furthest = radius_1_mm + radius_2_mm, abs(offset_1_mm - offset_2_mm), offset_1_mm + offset_2_mm
    if not nearest <= together <= furthest or not offset_1_mm * offset_2_mm:
        raise PlanError(
            f"These circles touch at no angle, because the sum of their radii is {mm_text(together)}. Enter radii "
            f"whose sum is between the difference and the sum of the offsets, {mm_text(nearest)} to "
            f"{mm_text(furthest)}. Both offsets must be above 0.",
            field="circle_radius",
        )
    cosine = (offset_1_mm**2 + offset_2_mm**2 - together**2) / (2 * offset_1_mm * offset_2_mm)
    return math.degrees(math.acos(max(-1.0, min(1.0, cosine))))
