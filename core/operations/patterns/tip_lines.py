"""The tip lines of a layer for exact settings: how far they reach, their spacing, and their crossings.

A tip line is the path of the cutter's point on the face. Exact settings are not rounded to marks. A height error that
the settings do not correct still lengthens and turns every offset. Coordinates count from the work's centre, without
eccentricity. The formulas are derived here, not taken from a source. Lengths in mm.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import combinations, product
from typing import NamedTuple

from core.operations.patterns.geometry import Relation, nearest_on_segment
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
        """Return the least and the greatest distance of the tip line from the work's centre [mm]."""
        if self.to is not None:
            start = self.x_mm, self.y_mm
            nearest = nearest_on_segment((0.0, 0.0), start, self.to)
            return math.hypot(*nearest), max(math.hypot(*start), math.hypot(*self.to))
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


def as_asked_mm(job: PatternJob, layer: Layer, position: LayerPosition) -> Point:
    """Return the place of a position that is cut with exact settings, from the work's centre without eccentricity [mm].

    If the settings correct the errors, the result is the wanted place. Otherwise the height error moves the place at
    right angles to its offset.
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
    """Return the tip lines of a layer for exact settings: of every cut position, or of the given positions."""
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
    """Return the smallest and the greatest distance of the tip line from the work's centre [mm]."""
    reaches = [line.reach_mm() for line in lines]
    return min(inner for inner, _ in reaches), max(outer for _, outer in reaches)


_ASKEW = 0.309
"""A direction [rad] in which no two points of the usual rings, rows and columns lie level."""


@lru_cache(maxsize=24)
def least_spacing_mm(points: tuple[Point, ...]) -> float | None:
    """Return the smallest distance between two of the points [mm]; None for fewer than two points.

    For speed, the search skips pairs that are further apart along one direction than the smallest distance so far.

    >>> least_spacing_mm(((0, 0), (10, 0), (0, 4), (10, 7)))
    4.0
    """
    along, least_mm = _askew(points), math.inf
    for index in range(len(along)):
        least_mm, _ = _nearest_along(along, index, range(index + 1, len(along)), least_mm)
    return None if math.isinf(least_mm) else least_mm


def nearest_points(points: Sequence[Point]) -> list[int | None]:
    """Return, for each point, the index of the point nearest to it; None for a single point.

    >>> nearest_points([(0, 0), (10, 0), (0, 4)])
    [2, 0, 0]
    """
    along = _askew(points)
    found: list[int | None] = [None] * len(points)
    for index, here in enumerate(along):
        least_mm, before = _nearest_along(along, index, range(index - 1, -1, -1), math.inf)
        _, after = _nearest_along(along, index, range(index + 1, len(along)), least_mm)
        found[here.number] = before if after is None else after
    return found


class _Along(NamedTuple):
    """A point, and its distance along the direction _ASKEW."""

    place_mm: float
    x_mm: float
    y_mm: float
    number: int


def _askew(points: Sequence[Point]) -> list[_Along]:
    """Return the points sorted by their distance along the direction _ASKEW."""
    cosine, sine = math.cos(_ASKEW), math.sin(_ASKEW)
    return sorted(_Along(x_mm * cosine + y_mm * sine, x_mm, y_mm, index) for index, (x_mm, y_mm) in enumerate(points))


def _nearest_along(
    along: Sequence[_Along], at: int, others: Iterable[int], least_mm: float
) -> tuple[float, int | None]:
    """Return the distance [mm] and the index of the point in `others` that is nearest to the point `at`.

    If no point is nearer than `least_mm`, return `least_mm` and None.

    `others`: places in `along` on one side of `at`, the nearest first. The search stops at the first point that is too
    far away along the direction _ASKEW.
    """
    place_mm, x_mm, y_mm, _ = along[at]
    nearest = None
    for other in others:
        other_place_mm, other_x_mm, other_y_mm, index = along[other]
        if abs(other_place_mm - place_mm) >= least_mm:
            break
        apart_mm = math.hypot(x_mm - other_x_mm, y_mm - other_y_mm)
        if apart_mm < least_mm:
            least_mm, nearest = apart_mm, index
    return least_mm, nearest


_TOUCH_MM = 1e-6
"""Circles nearer to each other than this touch. Points nearer to each other than this count as one."""
MOST_PAIRS = 300_000
"""The most pairs of circles compared. More pairs would take seconds."""


@lru_cache(maxsize=24)
def crossing_points(circles: tuple[TipLine, ...]) -> int | None:
    """Return the number of distinct points at which circles cross; None for too many pairs to compare.

    The result is cached, because a form plans the same layers again at every key press.

    >>> crossing_points((TipLine(0, 0, 5), TipLine(6, 0, 5), TipLine(20, 0, 5)))
    2
    """
    cells = _cells(circles)
    if _pair_count(cells) > MOST_PAIRS:
        return None
    points = _DistinctPoints()
    for one, other in _near_pairs(cells):
        apart_x, apart_y = other.x_mm - one.x_mm, other.y_mm - one.y_mm
        apart = math.hypot(apart_x, apart_y)
        if not _crosses(one, other, apart):
            continue
        # The points lie square to the line between the centres, at the distance `beside` on either side.
        along = (apart**2 + one.radius_mm**2 - other.radius_mm**2) / (2 * apart)
        beside = math.sqrt(max(0.0, one.radius_mm**2 - along**2))
        foot_x, foot_y = one.x_mm + apart_x * along / apart, one.y_mm + apart_y * along / apart
        across_x, across_y = -apart_y * beside / apart, apart_x * beside / apart
        points.add(foot_x + across_x, foot_y + across_y)
        points.add(foot_x - across_x, foot_y - across_y)
    return len(points)


def _crosses(one: TipLine, other: TipLine, apart: float) -> bool:
    together = one.radius_mm + other.radius_mm
    return abs(one.radius_mm - other.radius_mm) + _TOUCH_MM < apart < together - _TOUCH_MM


_Cells = dict[tuple[int, int], list[TipLine]]
"""Circles by the grid cell of their centre. Circles that meet lie in the same cell or in neighbouring cells."""
_NEIGHBOURS = ((1, -1), (1, 0), (1, 1), (0, 1))
"""Offsets of half the neighbours of a cell, so that a loop meets every pair of cells once."""


def _cells(circles: Sequence[TipLine]) -> _Cells:
    reach_mm = 2 * max((circle.radius_mm for circle in circles), default=0.0)
    cells: _Cells = {}
    for circle in circles if reach_mm else ():
        cell = math.floor(circle.x_mm / reach_mm), math.floor(circle.y_mm / reach_mm)
        cells.setdefault(cell, []).append(circle)
    return cells


def _pair_count(cells: _Cells) -> int:
    counts = {cell: len(circles) for cell, circles in cells.items()}
    return sum(
        count * (count - 1) // 2
        + count * sum(counts.get((column + beside, row + above), 0) for beside, above in _NEIGHBOURS)
        for (column, row), count in counts.items()
    )


def _near_pairs(cells: _Cells) -> Iterator[tuple[TipLine, TipLine]]:
    """Yield every pair of circles that are near enough to meet, each pair once."""
    for (column, row), circles in cells.items():
        yield from combinations(circles, 2)
        for beside, above in _NEIGHBOURS:
            yield from product(circles, cells.get((column + beside, row + above), ()))


class _DistinctPoints:
    """A count of points on the work. Points within _TOUCH_MM of each other count as one point."""

    _CELL_MM = 1e-4
    """The width of a grid cell, which is far above _TOUCH_MM, so that most points need a look at one cell only."""
    _SHIFT = 0.377
    """Moves the grid by this part of a cell, so that points on an axis of the pattern do not lie on an edge."""

    def __init__(self) -> None:
        self._cells: dict[tuple[int, int], list[Point]] = {}
        self._count = 0

    def __len__(self) -> int:
        return self._count

    def add(self, x_mm: float, y_mm: float) -> None:
        """Count a point [mm], unless a point already counted lies within _TOUCH_MM."""
        across, up = x_mm / self._CELL_MM + self._SHIFT, y_mm / self._CELL_MM + self._SHIFT
        column, row = math.floor(across), math.floor(up)
        columns, rows = self._cells_within_touch(across - column), self._cells_within_touch(up - row)
        for beside in columns:
            for above in rows:
                for known_x_mm, known_y_mm in self._cells.get((column + beside, row + above), ()):
                    if math.hypot(x_mm - known_x_mm, y_mm - known_y_mm) <= _TOUCH_MM:
                        return
        self._cells.setdefault((column, row), []).append((x_mm, y_mm))
        self._count += 1

    def _cells_within_touch(self, part: float) -> tuple[int, ...]:
        """Return the offsets of the grid cells within _TOUCH_MM of a point, along one direction.

        `part`: the place of the point in its own cell, from 0 to 1.
        """
        near = _TOUCH_MM / self._CELL_MM
        if part < near:
            return (-1, 0)
        return (0, 1) if part > 1 - near else (0,)


@lru_cache(maxsize=24)
def relation_of_circles(ones: tuple[TipLine, ...], others: tuple[TipLine, ...]) -> Relation | None:
    """Return whether circles of two layers are apart, inside each other, touching or crossing.

    Return None if a layer has no circles, or if there are too many pairs to compare.
    """
    if not ones or not others or len(ones) * len(others) > MOST_PAIRS:
        return None
    gap, crossing, inside = math.inf, 0, 0
    for one in ones:
        for other in others:
            apart = math.hypot(other.x_mm - one.x_mm, other.y_mm - one.y_mm)
            if _crosses(one, other, apart):
                crossing += 1
                continue
            within = abs(one.radius_mm - other.radius_mm) - apart
            inside += within > _TOUCH_MM
            gap = min(gap, max(apart - one.radius_mm - other.radius_mm, within))
    if crossing:
        return Relation(lie="cross", gap_mm=0.0, crossing_pairs=crossing)
    if gap <= _TOUCH_MM:
        return Relation(lie="touch", gap_mm=0.0, crossing_pairs=0)
    return Relation(lie="inside" if inside else "apart", gap_mm=gap, crossing_pairs=0)
