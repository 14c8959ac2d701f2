"""How two rings lie to each other: apart, one inside the other, touching, or crossing. Derived."""

import math
from typing import Literal, NamedTuple

from core.rings.geometry import RingShape

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
    together = one.cutter_radius_mm + other.cutter_radius_mm
    within = abs(one.cutter_radius_mm - other.cutter_radius_mm)
    gap, crossing, inside = math.inf, 0, False
    others = other.centres_mm()
    for _, x_mm, y_mm in one.centres_mm():
        for _, other_x_mm, other_y_mm in others:
            apart = math.hypot(x_mm - other_x_mm, y_mm - other_y_mm)
            # The same circle twice counts as touching all round.
            free = max(apart - together, within - apart)
            crossing += free < -_TOUCH_MM
            inside = inside or within - apart > _TOUCH_MM
            gap = min(gap, free)
    if crossing:
        return Relation(lie="cross", gap_mm=0.0, crossing_pairs=crossing)
    if gap <= _TOUCH_MM:
        return Relation(lie="touch", gap_mm=0.0, crossing_pairs=0)
    return Relation(lie="inside" if inside else "apart", gap_mm=gap, crossing_pairs=0)
