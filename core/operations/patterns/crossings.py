"""Counts the points at which circles of a pattern cross, and compares two layers. Derived; lengths in mm.

Two circles cross if the distance of their centres lies between the difference and the sum of their radii. Circles that
only touch do not cross.
"""

import math
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import combinations, product

from core.operations.patterns.geometry import Relation
from core.operations.patterns.layers import Point
from core.operations.patterns.tip_lines import TipLine

_TOUCH_MM = 1e-6
"""Circles nearer to each other than this touch. Points nearer to each other than this count as one."""
MOST_PAIRS = 300_000
"""The most pairs of circles compared. More pairs would take seconds."""


@lru_cache(maxsize=24)
def crossing_points(circles: tuple[TipLine, ...]) -> int | None:
    """Return the number of distinct points at which circles cross; None for too many pairs to compare.

    The result is cached, since a form plans the same layers again at every key.

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
    """Yield each pair of circles that are near enough to meet. Each pair comes once."""
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
        """Count a point [mm], unless a counted point lies within _TOUCH_MM."""
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
        """Return the offsets of the cells within _TOUCH_MM of a point, along one direction.

        `part`: the place of the point in its own cell, from 0 to 1.
        """
        near = _TOUCH_MM / self._CELL_MM
        if part < near:
            return (-1, 0)
        return (0, 1) if part > 1 - near else (0,)


@lru_cache(maxsize=24)
def relation_of_circles(ones: tuple[TipLine, ...], others: tuple[TipLine, ...]) -> Relation | None:
    """Return whether circles of two layers are apart, inside each other, touching or crossing.

    Returns None for a layer without circles, or for too many pairs to compare.
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
