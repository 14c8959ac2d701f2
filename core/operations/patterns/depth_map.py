"""The depth of a face at every point of a grid: the greatest depth of all grooves at that point.

Every groove is added row by row, only within its own outline. The order of the grooves does not matter, so a screen can
add them one by one. Lengths in mm, x to the right, y up. The formulas are derived here, not taken from a source.
"""

import math
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from core.drawing import Grid
from core.lathe.lathe import Cutter
from core.operations.patterns.elements import depth_beside_mm
from core.operations.patterns.picture import CutPicture, FaceFall

_STEPS = 512
"""Steps in half a groove's width. On straight flanks the depths are right to a 512th of the groove's depth."""
_FULL_TURN_DEG = 360.0
Point = tuple[float, float]


class DepthMap:
    """The depth of a face at every point of a grid. Grooves are added one by one."""

    def __init__(self, grid: Grid, least_width_mm: float = 0.0) -> None:
        """Start with a face without grooves.

        A groove narrower than `least_width_mm` [mm] gets a flat bottom of that width.
        """
        self.grid = grid
        self.depths_mm: list[list[float]] = [[0.0] * grid.columns for _ in range(grid.rows)]
        """The depths by grid row [mm]; 0 is land."""
        self._least_width_mm = least_width_mm
        self._xs = [grid.left + grid.across * column for column in range(grid.columns)]

    def add(self, cut: CutPicture) -> None:
        """Add a groove. A groove with an unknown cutter or depth changes nothing."""
        if cut.cutter is None or cut.depth_mm <= 0:
            return
        spread_mm = max(0.0, self._least_width_mm / 2 - cut.cutter.groove_width_mm(cut.depth_mm) / 2)
        section = _section(cut.cutter, cut.depth_mm, spread_mm)
        match cut.shape:
            case "circle" | "dot":
                self._add_ring(cut.at_mm, cut.radius_mm, section, fall=cut.fall)
            case "line":
                self._add_slot(cut.at_mm, cut.to_mm, section, cut.fall)
            case "arc":
                self._add_arc(cut, section)

    def _rows(self, low_mm: float, high_mm: float) -> Iterator[tuple[list[float], float]]:
        """Yield, for each grid row whose height y is between two values, the depths in the row [mm] and its y [mm]."""
        grid = self.grid
        first = max(0, math.ceil((grid.top - high_mm) / grid.down))
        last = min(grid.rows - 1, math.floor((grid.top - low_mm) / grid.down))
        for number in range(first, last + 1):
            yield self.depths_mm[number], grid.top - grid.down * number

    def _columns(self, low_mm: float, high_mm: float) -> range:
        grid = self.grid
        first = max(0, math.ceil((low_mm - grid.left) / grid.across))
        last = min(grid.columns - 1, math.floor((high_mm - grid.left) / grid.across))
        return range(first, last + 1)

    def _add_ring(
        self,
        centre_mm: Point,
        radius_mm: float,
        section: "_Section",
        arc: "_Sector | None" = None,
        fall: FaceFall | None = None,
    ) -> None:
        """Add a groove along a circle, or a round dot if the radius is 0.

        `arc`: only the part within this sector. `fall`: the runout of the face; None for a true face.
        """
        (centre_x, centre_y), xs, sqrt = centre_mm, self._xs, math.sqrt
        depths, per_mm, half_mm = section.depths_mm, section.steps_a_mm, section.half_mm
        outer_mm, inner_mm = radius_mm + half_mm, max(0.0, radius_mm - half_mm)
        for row, y_mm in self._rows(centre_y - outer_mm, centre_y + outer_mm):
            up_mm = y_mm - centre_y
            up_2 = up_mm * up_mm
            far_mm = sqrt(max(0.0, outer_mm * outer_mm - up_2))
            near_mm = sqrt(inner_mm * inner_mm - up_2) if up_2 < inner_mm * inner_mm else 0.0
            halves = ((-far_mm, -near_mm), (near_mm, far_mm)) if near_mm else ((-far_mm, far_mm),)
            for low_mm, high_mm in halves:
                for column in self._columns(centre_x + low_mm, centre_x + high_mm):
                    along_mm = xs[column] - centre_x
                    # For speed, this innermost loop looks depths up and does not calculate them.
                    depth_mm = depths[int(abs(sqrt(along_mm * along_mm + up_2) - radius_mm) * per_mm + 0.5)]
                    if fall is not None:
                        depth_mm -= fall.at_mm((xs[column], y_mm))
                    if depth_mm > row[column] and (arc is None or arc.holds(along_mm, up_mm)):
                        row[column] = depth_mm

    def _add_slot(self, from_mm: Point, to_mm: Point, section: "_Section", fall: FaceFall | None) -> None:
        (x1, y1), (x2, y2), half_mm = from_mm, to_mm, section.half_mm
        along_x, along_y = x2 - x1, y2 - y1
        length_2 = along_x**2 + along_y**2
        if not length_2:
            self._add_ring(from_mm, 0.0, section, fall=fall)
            return
        depths, per_mm = section.depths_mm, section.steps_a_mm
        # Half the length of the row inside the slot, if the slot's middle line is not level.
        reach_mm = half_mm * math.sqrt(length_2) / abs(along_y) if along_y else math.inf
        for row, y_mm in self._rows(min(y1, y2) - half_mm, max(y1, y2) + half_mm):
            middle_mm = x1 + along_x * (y_mm - y1) / along_y if along_y else x1
            low_mm = max(min(x1, x2) - half_mm, middle_mm - reach_mm)
            high_mm = min(max(x1, x2) + half_mm, middle_mm + reach_mm)
            for column in self._columns(low_mm, high_mm):
                from_x, from_y = self._xs[column] - x1, y_mm - y1
                share = min(1.0, max(0.0, (from_x * along_x + from_y * along_y) / length_2))
                beside_mm = math.hypot(from_x - share * along_x, from_y - share * along_y)
                if beside_mm < half_mm:
                    lower_mm = 0.0 if fall is None else fall.at_mm((self._xs[column], y_mm))
                    row[column] = max(row[column], depths[int(beside_mm * per_mm + 0.5)] - lower_mm)

    def _add_arc(self, cut: CutPicture, section: "_Section") -> None:
        radius_mm = math.dist(cut.at_mm, cut.centre_mm)
        if abs(cut.sweep_deg) >= _FULL_TURN_DEG:
            self._add_ring(cut.centre_mm, radius_mm, section, fall=cut.fall)
            return
        start = math.atan2(cut.at_mm[1] - cut.centre_mm[1], cut.at_mm[0] - cut.centre_mm[0])
        end = start + math.radians(cut.sweep_deg)
        first, last = min(start, end), max(start, end)
        self._add_ring(cut.centre_mm, radius_mm, section, _Sector.between(first, last), cut.fall)
        for angle in (start, end):
            place = cut.centre_mm[0] + radius_mm * math.cos(angle), cut.centre_mm[1] + radius_mm * math.sin(angle)
            self._add_ring(place, 0.0, section, fall=cut.fall)


class _Section(NamedTuple):
    """The depths across a groove, from its middle to its edge in equal steps."""

    half_mm: float
    steps_a_mm: float
    depths_mm: tuple[float, ...]


@lru_cache(maxsize=256)
def _section(cutter: Cutter, depth_mm: float, spread_mm: float) -> _Section:
    """Return the depths across a groove. `spread_mm`: half the width of a flat bottom that is added to the groove."""
    half_mm = cutter.groove_width_mm(depth_mm) / 2 + spread_mm
    steps = [depth_beside_mm(cutter, depth_mm, max(0.0, half_mm * step / _STEPS - spread_mm)) for step in range(_STEPS)]
    # Two extra entries, because rounding can give an index just past the edge.
    return _Section(half_mm, _STEPS / half_mm, (*steps, 0.0, 0.0))


class _Sector(NamedTuple):
    """The angles between two rays, stored as vectors, so that testing a point takes only two cross products."""

    from_x: float
    from_y: float
    to_x: float
    to_y: float
    is_wide: bool
    """Whether the sector is more than half a turn."""

    @classmethod
    def between(cls, first: float, last: float) -> "_Sector":
        """Return the sector that runs anticlockwise from one angle to another [rad]."""
        return cls(math.cos(first), math.sin(first), math.cos(last), math.sin(last), last - first > math.pi)

    def holds(self, x: float, y: float) -> bool:
        """Return whether a point lies in the sector. The point's coordinates count from the sector's centre."""
        after_first = self.from_x * y - self.from_y * x >= 0
        before_last = x * self.to_y - y * self.to_x >= 0
        return after_first or before_last if self.is_wide else after_first and before_last
