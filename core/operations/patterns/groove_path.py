"""The path of the cutter's point along one groove in a picture, and the sizes that change along the path.

Depth and width change where the face runs out. Gaps change where grooves are out of place. Lengths in mm. The formulas
are derived here, not taken from a source.
"""

import math
from collections.abc import Iterator
from itertools import product
from typing import NamedTuple

from core.operations.patterns.geometry import nearest_on_segment
from core.operations.patterns.picture import CutPicture, Point

Range = tuple[float, float]
"""The smallest and the greatest value of a length [mm]."""
_FULL_TURN_DEG = 360.0


class PathPlace(NamedTuple):
    """A point on the path, with the direction across the path."""

    at_mm: Point
    across: Point
    """Direction to the left of the path, of length 1."""


def path(cut: CutPicture, parts: int) -> list[PathPlace]:
    """Return the points, including both ends, that divide a groove's path into `parts` equal parts.

    A dot has one point.
    """
    if cut.shape == "dot":
        return [PathPlace(cut.at_mm, (0.0, 1.0))]
    if cut.shape == "line":
        (x1, y1), (x2, y2) = cut.at_mm, cut.to_mm
        apart_mm = math.dist(cut.at_mm, cut.to_mm) or 1.0
        across = (y1 - y2) / apart_mm, (x2 - x1) / apart_mm
        shares = [part / parts for part in range(parts + 1)]
        return [PathPlace((x1 + (x2 - x1) * share, y1 + (y2 - y1) * share), across) for share in shares]
    centre_mm, radius_mm, start, sweep = _turn(cut)
    angles = [start + sweep * part / parts for part in range(parts + 1)]
    return [
        PathPlace(_on_circle(centre_mm, radius_mm, angle), (-math.cos(angle), -math.sin(angle))) for angle in angles
    ]


def length_mm(cut: CutPicture) -> float:
    """Return the length of the cutter's path along a groove [mm]; 0 for a dot."""
    match cut.shape:
        case "line":
            return math.dist(cut.at_mm, cut.to_mm)
        case "arc":
            return math.dist(cut.at_mm, cut.centre_mm) * math.radians(abs(cut.sweep_deg))
        case _:
            return math.tau * cut.radius_mm


def _turn(cut: CutPicture) -> tuple[Point, float, float, float]:
    """Return the centre [mm], radius [mm], first angle [rad] and sweep [rad] of a circle or an arc."""
    if cut.shape == "circle":
        return cut.at_mm, cut.radius_mm, 0.0, math.tau
    (x_mm, y_mm), (centre_x, centre_y) = cut.at_mm, cut.centre_mm
    sweep_deg = max(-_FULL_TURN_DEG, min(cut.sweep_deg, _FULL_TURN_DEG))
    start = math.atan2(y_mm - centre_y, x_mm - centre_x)
    return cut.centre_mm, math.dist(cut.at_mm, cut.centre_mm), start, math.radians(sweep_deg)


def _on_circle(centre_mm: Point, radius_mm: float, angle: float) -> Point:
    return centre_mm[0] + radius_mm * math.cos(angle), centre_mm[1] + radius_mm * math.sin(angle)


def depth_range_mm(cut: CutPicture) -> Range:
    """Return the smallest and the greatest depth along a groove [mm].

    The smallest depth is 0 if the cutter misses part of the face.
    """
    depths = [cut.depth_at(place) for place in _extremes(cut)]
    return min(depths), max(depths)


def width_range_mm(cut: CutPicture) -> Range:
    """Return the smallest and the greatest width at the face along a groove [mm]."""
    widths = [2 * cut.half_width_at(place) for place in _extremes(cut)]
    return min(widths), max(widths)


def _extremes(cut: CutPicture) -> Iterator[Point]:
    """Yield points of a groove's path that include the points where the face is highest and lowest."""
    if cut.shape in {"dot", "line"}:
        yield cut.at_mm
        if cut.shape == "line":
            yield cut.to_mm
        return
    centre_mm, radius_mm, start, sweep = _turn(cut)
    angles = [start, start + sweep]
    if cut.fall is not None:
        steepest = math.atan2(cut.fall.up, cut.fall.across)
        first, length = min(start, start + sweep), abs(sweep)
        angles += [angle for angle in (steepest, steepest + math.pi) if (angle - first) % math.tau <= length]
    yield from (_on_circle(centre_mm, radius_mm, angle) for angle in angles)


class _Nearest(NamedTuple):
    """The nearest points of two paths, and the distance between these points; below 0 if the paths cross."""

    gap_mm: float
    one_mm: Point
    other_mm: Point


def gap_mm(one: CutPicture, other: CutPicture) -> float:
    """Return the width of the land between two grooves of the same shape [mm]; below 0 for grooves that overlap."""
    if one.shape in {"circle", "dot"}:
        nearest = _between_circles(one, other)
    elif one.shape == "line":
        nearest = _between_lines(one, other)
    else:
        nearest = _between_arcs(one, other)
    return nearest.gap_mm - one.half_width_at(nearest.one_mm) - other.half_width_at(nearest.other_mm)


def _between_circles(one: CutPicture, other: CutPicture) -> _Nearest:
    apart_mm = math.dist(one.at_mm, other.at_mm)
    towards = math.atan2(other.at_mm[1] - one.at_mm[1], other.at_mm[0] - one.at_mm[0])
    if apart_mm < abs(one.radius_mm - other.radius_mm):
        # One circle lies inside the other, so the nearest points lie on the same side of both centres.
        side = towards if one.radius_mm > other.radius_mm else towards + math.pi
        near_mm = abs(one.radius_mm - other.radius_mm) - apart_mm
        places = [_on_circle(cut.at_mm, cut.radius_mm, side) for cut in (one, other)]
    else:
        near_mm = apart_mm - one.radius_mm - other.radius_mm
        sides = ((one, towards), (other, towards + math.pi))
        places = [_on_circle(cut.at_mm, cut.radius_mm, side) for cut, side in sides]
    return _Nearest(near_mm, *places)


def _between_lines(one: CutPicture, other: CutPicture) -> _Nearest:
    found = []
    for first, second in ((one, other), (other, one)):
        for end in (first.at_mm, first.to_mm):
            place = nearest_on_segment(end, second.at_mm, second.to_mm)
            ends = (end, place) if first is one else (place, end)
            found.append(_Nearest(math.dist(end, place), *ends))
    return min(found)


def _between_arcs(one: CutPicture, other: CutPicture) -> _Nearest:
    """Return the nearest points of two arcs about the same centre: two of their ends, or points on one ray."""
    ends = [[place.at_mm for place in path(cut, 1)] for cut in (one, other)]
    found = [_Nearest(math.dist(*pair), *pair) for pair in product(*ends)]
    for first, second in ((one, other), (other, one)):
        centre_mm, radius_mm, start, sweep = _turn(second)
        least = min(start, start + sweep)
        for end in ends[0] if first is one else ends[1]:
            angle = math.atan2(end[1] - centre_mm[1], end[0] - centre_mm[0])
            if (angle - least) % math.tau <= abs(sweep):
                place = _on_circle(centre_mm, radius_mm, angle)
                places = (end, place) if first is one else (place, end)
                found.append(_Nearest(math.dist(end, place), *places))
    return min(found)
