"""How many distinct points there are where tip lines of one ring cross. Derived.

A point on three circles is as far from three centres, and since all centres lie on
one circle about the table's axis, only that axis is. So crossings fall together at
the axis alone, and only where every tip line passes through it (r = R); all other
crossing pairs have two points of their own.
"""

import math

from core.operations.patterns.geometry import RingShape

_SAME = 1e-9
"""Lengths this close, against the size of the ring, are one; far above what rounding leaves."""


def crossing_count(ring: RingShape) -> int:
    """Return the number of distinct points where tip lines of a ring cross; touching is no crossing.

    >>> crossing_count(RingShape(count=6, offset_mm=10, circle_radius_mm=10))
    13
    """
    pairs = _crossing_pairs(ring)
    if ring.inner_mm <= _SAME * ring.outer_mm:
        return pairs + min(1, pairs)
    return 2 * pairs


def _crossing_pairs(ring: RingShape) -> int:
    """Return how many pairs of circles that are cut cross: their centres are less than 2 r apart."""
    cut = [number not in ring.skip for number in range(1, ring.count + 1)]
    pairs = 0
    for apart in range(1, ring.count // 2 + 1):
        half_distance = ring.offset_mm * math.sin(math.pi * apart / ring.count)
        if ring.circle_radius_mm - half_distance <= _SAME * ring.outer_mm:
            # Further apart they do not cross either.
            break
        both = sum(one and cut[index - apart] for index, one in enumerate(cut))
        # Opposite circles are met from either side.
        pairs += both // 2 if 2 * apart == ring.count else both
    return pairs
