"""Where the tip lines of one ring cross, counted by symmetry. Derived.

Circles i and i + k of N meet on the bisector between their centres, at
R cos d + and - sqrt(r^2 - R^2 sin^2 d) from the table's axis, d = 180 k / N. A
direction round the axis is told in half steps (180 / N degrees), which are whole
numbers, so that points of different pairs that fall together are known as one.
"""

import math
from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

from core.rings.geometry import RingShape

_SAME = 1e-9
"""Lengths this close, against the size of the ring, are one; far above what rounding leaves."""


class _Meeting(NamedTuple):
    """One of the two points where circles `apart` positions apart meet."""

    radius_mm: float
    """From the table's axis, 0 or more."""
    apart: int
    opposite: bool
    """It lies on the other side of the axis than the circles' centres."""


def crossing_count(ring: RingShape) -> int:
    """Return the number of distinct points where tip lines of a ring cross; touching is no crossing.

    >>> crossing_count(RingShape(count=6, offset_mm=10, cutter_radius_mm=10))
    13
    """
    same_mm = _SAME * ring.outer_mm
    count = 0
    for group in _grouped(sorted(_meetings(ring, same_mm)), same_mm):
        directions = {direction for meeting in group for direction in _directions(ring, meeting)}
        count += min(1, len(directions)) if group[0].radius_mm <= same_mm else len(directions)
    return count


def _meetings(ring: RingShape, same_mm: float) -> Iterator[_Meeting]:
    for apart in range(1, ring.count // 2 + 1):
        half_angle = math.pi * apart / ring.count
        along, across = ring.offset_mm * math.cos(half_angle), ring.offset_mm * math.sin(half_angle)
        if ring.cutter_radius_mm - across <= same_mm:
            # Further apart they do not meet either.
            return
        reach = math.sqrt(ring.cutter_radius_mm**2 - across**2)
        for place in (along + reach, along - reach):
            yield _Meeting(abs(place), apart, place < 0)


def _grouped(meetings: list[_Meeting], same_mm: float) -> Iterator[list[_Meeting]]:
    """Yield the meetings at one distance from the axis together; they come sorted."""
    if not meetings:
        return
    group = [meetings[0]]
    for before, meeting in pairwise(meetings):
        if meeting.radius_mm - before.radius_mm > same_mm:
            yield group
            group = []
        group.append(meeting)
    yield group


def _directions(ring: RingShape, meeting: _Meeting) -> Iterator[int]:
    """Yield where such points lie, in half steps round, for every pair of circles that is cut."""
    turn = ring.count if meeting.opposite else 0
    for first in range(ring.count):
        second = (first + meeting.apart) % ring.count
        if first + 1 not in ring.left_out and second + 1 not in ring.left_out:
            yield (2 * first + meeting.apart + turn) % (2 * ring.count)
