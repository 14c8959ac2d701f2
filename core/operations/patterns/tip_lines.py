"""The tip lines of a layer for exact settings: their reach, their spacing, and their crossings.

A tip line is the path of the cutter's point on the face. Exact settings are not rounded to marks. A height error that
the settings do not correct still lengthens and turns every offset. Coordinates count from the work's centre, without
eccentricity. Derived; in mm.
"""

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from core.operations.patterns.layers import Layer, LayerPosition, PatternJob, Point


class TipLine(NamedTuple):
    """The path of the cutter's point on the face: a circle, an arc, a slot or a dot."""

    x_mm: float
    """Centre of a circle or an arc, or the start of a dot or a slot."""
    y_mm: float
    radius_mm: float = 0.0
    """Radius of a circle or an arc; 0 for a dot or a slot."""
    to: Point | None = None
    """End of a slot; None for other shapes."""
    from_angle: float = 0.0
    """Direction of an arc's start from its centre [rad]."""
    sweep: float = math.tau
    """The angle of an arc [rad]; a full turn for a circle."""

    def reach_mm(self) -> tuple[float, float]:
        """Return the least and greatest distance of the tip line from the work's centre [mm]."""
        if self.to is not None:
            return _distance_to_segment((self.x_mm, self.y_mm), self.to), max(
                math.hypot(self.x_mm, self.y_mm), math.hypot(*self.to)
            )
        away_mm, towards = math.hypot(self.x_mm, self.y_mm), math.atan2(self.y_mm, self.x_mm)
        if self.sweep >= math.tau or not self.radius_mm:
            return abs(away_mm - self.radius_mm), away_mm + self.radius_mm
        # The nearest and furthest points are ends of the arc, or lie on the line through both centres.
        angles = [self.from_angle, self.from_angle + self.sweep]
        angles += [
            angle for angle in (towards, towards + math.pi) if (angle - self.from_angle) % math.tau <= self.sweep
        ]
        distances = [
            math.hypot(self.x_mm + self.radius_mm * math.cos(angle), self.y_mm + self.radius_mm * math.sin(angle))
            for angle in angles
        ]
        return min(distances), max(distances)


def _distance_to_segment(one: Point, other: Point) -> float:
    """Return the least distance of the work's centre from a straight line between two points [mm]."""
    along_x, along_y = other[0] - one[0], other[1] - one[1]
    length_2 = along_x**2 + along_y**2
    share = 0.0 if not length_2 else -(one[0] * along_x + one[1] * along_y) / length_2
    share = max(0.0, min(1.0, share))
    return math.hypot(one[0] + share * along_x, one[1] + share * along_y)


def as_asked_mm(job: PatternJob, layer: Layer, position: LayerPosition) -> Point:
    """Return the place of a position cut with exact settings, from the work's centre [mm].

    Eccentricity is left out. If the settings correct the errors, this is the wanted place. Otherwise the height error
    moves the place square to its offset.
    """
    x_mm, y_mm = position.x_mm, position.y_mm
    height_mm = job.height_error_mm * (-1 if job.is_far else 1)
    if not height_mm or job.takes_errors_out(layer, position):
        return x_mm, y_mm
    if offset_mm := math.hypot(x_mm, y_mm):
        return x_mm + height_mm * y_mm / offset_mm, y_mm - height_mm * x_mm / offset_mm
    # At offset 0 only the table's angle gives the direction.
    angle = math.radians(position.angle_deg or 0)
    return height_mm * math.sin(angle), -height_mm * math.cos(angle)


def tip_lines(job: PatternJob, layer: Layer, positions: Sequence[LayerPosition] | None = None) -> list[TipLine]:
    """Return the tip line of each cut position, or of each given position, for exact settings."""
    return [_tip_line(job, layer, position) for position in (layer.cut_positions if positions is None else positions)]


def _tip_line(job: PatternJob, layer: Layer, position: LayerPosition) -> TipLine:
    x_mm, y_mm = as_asked_mm(job, layer, position)
    if layer.shape == "circles":
        return TipLine(x_mm, y_mm, position.circle_radius_mm or 0.0)
    if layer.shape == "slots" and position.to_offset_mm is not None:
        height_mm = job.height_error_mm * (-1 if job.is_far else 1)
        angle = math.radians(position.angle_deg or 0)
        end = position.to_offset_mm * math.cos(angle), position.to_offset_mm * math.sin(angle)
        return TipLine(x_mm, y_mm, to=(end[0] + height_mm * math.sin(angle), end[1] - height_mm * math.cos(angle)))
    if layer.shape == "arcs":
        is_corrected = job.takes_errors_out(layer, position)
        # The arc's centre is the table's axis. It differs from the work's centre only if the start is corrected.
        axis_x, axis_y = (-one for one in job.eccentric_mm) if is_corrected else (0.0, 0.0)
        return TipLine(
            axis_x,
            axis_y,
            math.hypot(x_mm - axis_x, y_mm - axis_y),
            from_angle=math.atan2(y_mm - axis_y, x_mm - axis_x),
            sweep=math.radians(float(layer.through_deg)),
        )
    return TipLine(x_mm, y_mm)


def envelope_mm(lines: Iterable[TipLine]) -> tuple[float, float]:
    """Return the radii about the work's centre between which all tip lines lie [mm]."""
    reaches = [line.reach_mm() for line in lines]
    return min(inner for inner, _ in reaches), max(outer for _, outer in reaches)


_ASKEW = 0.309
"""A direction [rad] in which no two points of the usual rings, rows and columns lie level."""


@lru_cache(maxsize=24)
def least_spacing_mm(points: tuple[Point, ...]) -> float | None:
    """Return the least distance between two of the points [mm]; None for fewer than two points.

    The function skips pairs that are further apart along one direction than the least distance so far.

    >>> least_spacing_mm(((0, 0), (10, 0), (0, 4), (10, 7)))
    4.0
    """
    cosine, sine = math.cos(_ASKEW), math.sin(_ASKEW)
    along = sorted((x_mm * cosine + y_mm * sine, x_mm, y_mm) for x_mm, y_mm in points)
    least_mm = math.inf
    for index, (place, x_mm, y_mm) in enumerate(along):
        for beside in range(index + 1, len(along)):
            other_place, other_x_mm, other_y_mm = along[beside]
            if other_place - place >= least_mm:
                break
            least_mm = min(least_mm, math.hypot(x_mm - other_x_mm, y_mm - other_y_mm))
    return None if math.isinf(least_mm) else least_mm
