"""Which radius, offset or count makes the circles touch, or pass through the centre. Derived; lengths in mm."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from core.values.errors import PlanError
from core.values.quantities import mm_text

Say = Callable[[float], str]
"""Turns a length [mm] into words in the unit of the lathe."""

Meeting = Literal["points", "grooves", "centre"]
"""What is wanted: neighbours' tip lines just meet, their groove edges do, all tip lines pass the centre."""


@dataclass(frozen=True, kw_only=True)
class Solved:
    """A ring with the quantity that was left open filled in."""

    count: int
    """Where the count was open: the largest whole number that does not overlap."""
    offset_mm: float
    circle_radius_mm: float
    exact_count: float
    """The count that would meet exactly; the same as `count` where that was given."""


def radius_to_touch_mm(offset_mm: float, count: int, groove_width_mm: float = 0.0, say: Say = mm_text) -> float:
    """Return the circle radius at which neighbours just touch, r = R sin(180/N) - w/2 [mm].

    `groove_width_mm`: 0 for tip lines, the width at the face for groove edges.
    Raises PlanError where there is no such radius, saying what would give one, lengths as `say` words them.

    >>> round(radius_to_touch_mm(20, 6), 6)
    10.0
    """
    _need_two(count)
    half_spacing = offset_mm * math.sin(math.pi / count)
    half_width = groove_width_mm / 2
    if half_spacing <= half_width:
        least = half_width / math.sin(math.pi / count)
        raise PlanError(
            f"offset x sin(180/{count}) is {say(half_spacing)}, which must be more than half the groove, "
            f"{say(half_width)}; accepted is an offset above {say(least)}, fewer circles, or a "
            f"groove narrower than {say(2 * half_spacing)}",
            field="circle_radius",
        )
    return half_spacing - half_width


def offset_to_touch_mm(circle_radius_mm: float, count: int, groove_width_mm: float = 0.0) -> float:
    """Return the offset at which neighbours just touch, R = (r + w/2) / sin(180/N) [mm].

    >>> round(offset_to_touch_mm(10, 6), 6)
    20.0
    """
    _need_two(count)
    return (circle_radius_mm + groove_width_mm / 2) / math.sin(math.pi / count)


def count_to_touch(
    offset_mm: float, circle_radius_mm: float, groove_width_mm: float = 0.0, say: Say = mm_text
) -> float:
    """Return the number of circles, seldom a whole one, that just touch round the ring, 180 / asin((r + w/2) / R).

    Raises PlanError where the circles are so large that not even two find room.

    >>> round(count_to_touch(20, 10), 6)
    6.0
    """
    reach = circle_radius_mm + groove_width_mm / 2
    if reach > offset_mm:
        raise PlanError(
            f"the cutter reaches {say(reach)} and must not reach further than the offset, "
            f"{say(offset_mm)}, for two circles to find room; accepted is an offset of at least "
            f"{say(reach)}, or a smaller radius",
            field="count",
        )
    return math.pi / math.asin(reach / offset_mm)


def solve(
    meeting: Meeting,
    *,
    count: int | None = None,
    offset_mm: float | None = None,
    circle_radius_mm: float | None = None,
    groove_width_mm: float = 0.0,
    say: Say = mm_text,
) -> Solved:
    """Return the ring with the one quantity that is None worked out; raises PlanError.

    "centre" joins offset and radius only; the count must be given. `say` words a length [mm].
    """
    width = groove_width_mm if meeting == "grooves" else 0.0
    if [count, offset_mm, circle_radius_mm].count(None) != 1:
        raise PlanError("leave open just one of count, offset and circle radius", field="count")
    if count is None:
        if meeting == "centre":
            raise PlanError("any count passes the centre; leave offset or circle radius open", field="count")
        offset, radius = offset_mm or 0.0, circle_radius_mm or 0.0
        exact = count_to_touch(offset, radius, width, say)
        return Solved(count=math.floor(exact + 1e-9), offset_mm=offset, circle_radius_mm=radius, exact_count=exact)
    if offset_mm is None:
        radius = circle_radius_mm or 0.0
        offset = radius if meeting == "centre" else offset_to_touch_mm(radius, count, width)
    else:
        offset = offset_mm
        radius = offset if meeting == "centre" else radius_to_touch_mm(offset, count, width, say)
    return Solved(count=count, offset_mm=offset, circle_radius_mm=radius, exact_count=count)


def angle_to_touch_deg(offset_1_mm: float, radius_1_mm: float, offset_2_mm: float, radius_2_mm: float) -> float:
    """Return the angle between the centres of two circles of different rings that just touch outside [deg].

    acos((R1^2 + R2^2 - (r1 + r2)^2) / 2 R1 R2). Raises PlanError where they touch
    at no angle, saying which inequality fails.

    >>> round(angle_to_touch_deg(10, 5, 10, 5), 6)
    60.0
    """
    reach, nearest, furthest = radius_1_mm + radius_2_mm, abs(offset_1_mm - offset_2_mm), offset_1_mm + offset_2_mm
    if not nearest <= reach <= furthest or not offset_1_mm * offset_2_mm:
        raise PlanError(
            f"the radii together are {mm_text(reach)}; accepted, for the circles to touch at some angle, is from "
            f"{mm_text(nearest)} to {mm_text(furthest)} (difference and sum of the offsets), both offsets above 0",
            field="circle_radius",
        )
    cosine = (offset_1_mm**2 + offset_2_mm**2 - reach**2) / (2 * offset_1_mm * offset_2_mm)
    return math.degrees(math.acos(max(-1.0, min(1.0, cosine))))


def _need_two(count: int) -> None:
    if count < 2:
        raise PlanError(
            f"found a count of {count}; accepted, for neighbours to touch, are 2 or more", field="circle_radius"
        )
