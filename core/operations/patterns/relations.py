"""How two rings lie to each other: apart, one inside the other, touching, or crossing. Derived."""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from typing import Literal, NamedTuple

from core.operations.patterns.geometry import RingShape

Lie = Literal["apart", "inside", "touch", "cross"]
_TOUCH_MM = 1e-6


class Relation(NamedTuple):
    """Two rings, by their tip lines."""

    lie: Lie
    """apart: no circle meets one of the other ring; inside: some lie within others; touch; cross."""
    gap_mm: float
    """Smallest distance between tip lines of the two rings; 0 where they touch or cross."""
    crossing_pairs: int
    """Pairs of circles, one of each ring, that cross."""


def relation(one: RingShape, other: RingShape) -> Relation:
    """Return how the circles of two rings lie to each other.

    Two circles touch where the distance of their centres is the sum (outside) or
    the difference (inside) of their radii, and cross in between.
    """
    together = one.circle_radius_mm + other.circle_radius_mm
    within = abs(one.circle_radius_mm - other.circle_radius_mm)
    gap, crossing, inside = math.inf, 0, 0
    others = _Round(other)
    # From one circle the others lie the further away the more they are turned from it: no need to look at each.
    first, past = _turned(one, other, within + _TOUCH_MM), _turned(one, other, together - _TOUCH_MM)
    deepest, middle = _turned(one, other, within - _TOUCH_MM), _turned(one, other, (within + together) / 2)
    for _, x_mm, y_mm in one.centres_mm():
        angle = math.atan2(y_mm, x_mm)
        crossing += max(0, others.within(angle, past) - others.within(angle, first))
        inside += others.within(angle, deepest)
        for other_x_mm, other_y_mm in others.beside(angle, middle):
            apart = math.hypot(x_mm - other_x_mm, y_mm - other_y_mm)
            # The same circle twice counts as touching all round.
            gap = min(gap, max(apart - together, within - apart))
    if crossing:
        return Relation(lie="cross", gap_mm=0.0, crossing_pairs=crossing)
    if gap <= _TOUCH_MM:
        return Relation(lie="touch", gap_mm=0.0, crossing_pairs=0)
    return Relation(lie="inside" if inside else "apart", gap_mm=gap, crossing_pairs=0)


def _turned(one: RingShape, other: RingShape, apart_mm: float) -> float:
    """Return how far two circles are turned from each other [rad] whose centres are so far apart; pi at most."""
    if apart_mm <= abs(one.offset_mm - other.offset_mm):
        return 0.0
    if apart_mm > one.offset_mm + other.offset_mm:
        # All are nearer, the one right opposite among them.
        return 2 * math.pi
    square = one.offset_mm**2 + other.offset_mm**2 - apart_mm**2
    return math.acos(max(-1.0, min(1.0, square / (2 * one.offset_mm * other.offset_mm))))


class _Round:
    """The circles of a ring in the order of their angles, a turn more on either side."""

    def __init__(self, ring: RingShape) -> None:
        found = sorted((math.atan2(y_mm, x_mm), (x_mm, y_mm)) for _, x_mm, y_mm in ring.centres_mm())
        self.count = len(found)
        self._angles = [angle + turn for turn in (-2 * math.pi, 0.0, 2 * math.pi) for angle, _ in found]
        self._centres = [centre for _, centre in found] * 3

    def within(self, angle: float, turned: float) -> int:
        """Return how many circles are turned from an angle by less than so much [rad]."""
        if turned > math.pi:
            return self.count
        return max(0, bisect_left(self._angles, angle + turned) - bisect_right(self._angles, angle - turned))

    def beside(self, angle: float, turned: float) -> Iterator[tuple[float, float]]:
        """Yield the centres on either side of the two places turned from an angle by so much [rad]."""
        for place in (angle - min(turned, math.pi), angle + min(turned, math.pi)):
            index = bisect_left(self._angles, place)
            yield from self._centres[max(0, index - 1) : index + 1]
