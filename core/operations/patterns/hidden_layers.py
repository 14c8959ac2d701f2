"""Finds layers that nobody can see, because other grooves are at least as deep everywhere. Lengths in mm.

The search compares points along the tip line of a groove and across its width. A groove is visible at each point where
it is deeper than every other groove. The method is derived here, not taken from a source.
"""

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from core.lathe.lathe import Cutter
from core.operations.patterns.boring_head import VISIBLE_MM
from core.operations.patterns.elements import Element, depth_beside_mm, elements, exact_cuts
from core.operations.patterns.geometry import nearest_on_segment
from core.operations.patterns.layers import PatternJob

_STEP_MM = 0.4
"""Distance between the places compared along a tip line."""
_MOST_PLACES = 20_000
_MOST_LOOKS = 100_000
"""The most comparisons for one layer. After these the search stops without an answer, to keep the form quick."""
_LOOKS_FOR_DEPTH = 30_000
_ACROSS = (0.0, 0.5, -0.5, 0.95, -0.95)
"""The places compared across a groove, as parts of half its width."""
_STRIDE = 0.618
"""The search leaps ahead by this part of all points, so that it soon finds a visible point."""


class HiddenLayer(NamedTuple):
    """A layer whose grooves are all hidden by other grooves."""

    number: int
    depth_mm: float
    """The greatest depth of the layer."""
    shows_from_mm: float
    """The layer is visible if it is cut slightly deeper than this."""


class UnsearchedLayer(NamedTuple):
    """A layer with so many grooves that the search stopped without an answer."""

    number: int


class _Place(NamedTuple):
    """A point on a tip line, and the direction across the groove at that point."""

    x_mm: float
    y_mm: float
    across_x: float
    across_y: float


class _Spent(Exception):  # noqa: N818
    """Raised when the search would take too long."""


def searched_layers(job: PatternJob) -> Iterator[HiddenLayer | UnsearchedLayer]:
    """Yield every layer whose grooves are all hidden, and every layer whose search stopped without an answer."""
    if len(job.layers) < 2 or any(layer.cutter is None or layer.depth_mm is None for layer in job.layers):
        return
    grooves = elements(job, exact_cuts(job))
    cutters = {layer.number: layer.cutter for layer in job.layers if layer.cutter is not None}
    for layer in job.layers:
        own = [groove for groove in grooves if groove.layer == layer.number]
        others = [(groove, cutters[groove.layer]) for groove in grooves if groove.layer != layer.number]
        deepest_mm = max((groove.depth_mm or 0.0 for groove, _ in others), default=0.0)
        if layer.depth_mm is None or not own or layer.depth_mm > deepest_mm + VISIBLE_MM:
            # This layer is the deepest, so the bottom of its deepest groove is visible.
            continue
        search = _Search(others, job.blank_diameter_mm)
        try:
            if not any(search.shows(groove, cutters[layer.number]) for groove in own):
                yield HiddenLayer(layer.number, layer.depth_mm, search.shows_from_mm(own))
        except _Spent:
            yield UnsearchedLayer(layer.number)


class _Search:
    """The search for visible points in one layer, among the grooves of all other layers."""

    def __init__(self, others: Sequence[tuple[Element, Cutter]], blank_diameter_mm: float | None) -> None:
        # Deep grooves come first, because they most often cover a point.
        self._others = sorted(others, key=lambda other: -(other[0].depth_mm or 0.0))
        self._rim_mm = math.inf if blank_diameter_mm is None else blank_diameter_mm / 2
        self._looks = 0

    def shows(self, groove: Element, cutter: Cutter) -> bool:
        half_mm, depth_mm = (groove.width_mm or 0.0) / 2, groove.depth_mm or 0.0
        own_mm = [depth_beside_mm(cutter, depth_mm, abs(part) * half_mm) for part in _ACROSS]
        for place in _places(groove):
            for part, deep_mm in zip(_ACROSS, own_mm, strict=True):
                x_mm, y_mm = place.x_mm + place.across_x * part * half_mm, place.y_mm + place.across_y * part * half_mm
                if math.hypot(x_mm, y_mm) <= self._rim_mm and not self._is_covered(x_mm, y_mm, deep_mm):
                    return True
        return False

    def shows_from_mm(self, grooves: Sequence[Element]) -> float:
        """Return the smallest depth at which any of the grooves would be visible [mm]."""
        most_places = max(1, _LOOKS_FOR_DEPTH // (len(self._others) * len(grooves)))
        depths = [
            self._depth_mm(place.x_mm, place.y_mm)
            for groove in grooves
            for _, place in zip(range(most_places), _places(groove), strict=False)
            if math.hypot(place.x_mm, place.y_mm) <= self._rim_mm
        ]
        return min(depths, default=math.inf)

    def _is_covered(self, x_mm: float, y_mm: float, deep_mm: float) -> bool:
        for index, (groove, cutter) in enumerate(self._others):
            self._looks += 1
            if self._looks > _MOST_LOOKS:
                raise _Spent
            if (groove.depth_mm or 0.0) + VISIBLE_MM < deep_mm:
                return False
            if depth_at_mm(groove, cutter, x_mm, y_mm) + VISIBLE_MM >= deep_mm:
                self._try_first(index)
                return True
        return False

    def _try_first(self, index: int) -> None:
        """Move a groove to the front of the search, because it probably covers the next point too."""
        if index > 1 and self._others[index][0].depth_mm == self._others[0][0].depth_mm:
            self._others[0], self._others[index] = self._others[index], self._others[0]

    def _depth_mm(self, x_mm: float, y_mm: float) -> float:
        return max(depth_at_mm(groove, cutter, x_mm, y_mm) for groove, cutter in self._others)


def _places(groove: Element) -> Iterator[_Place]:
    """Yield points along the whole tip line of a groove.

    Each point is far from the previous one, so that a visible point is found soon.
    """
    radius_mm, sweep = groove.line_radius_mm, math.radians(groove.sweep_deg or 360.0)
    if groove.shape == "dot" or (groove.shape == "circle" and not radius_mm):
        for turn in range(8):
            angle = math.tau * turn / 8
            yield _Place(groove.x_mm, groove.y_mm, math.cos(angle), math.sin(angle))
        return
    if groove.to_x_mm is not None and groove.to_y_mm is not None:
        along_x, along_y = groove.to_x_mm - groove.x_mm, groove.to_y_mm - groove.y_mm
        length_mm = math.hypot(along_x, along_y)
        for part in _parts(length_mm):
            across = (-along_y / length_mm, along_x / length_mm) if length_mm else (1.0, 0.0)
            yield _Place(groove.x_mm + along_x * part, groove.y_mm + along_y * part, *across)
        return
    centre_x, centre_y = groove.x_mm, groove.y_mm
    start = 0.0
    if groove.centre_x_mm is not None and groove.centre_y_mm is not None:
        centre_x, centre_y = groove.centre_x_mm, groove.centre_y_mm
        start = math.atan2(groove.y_mm - centre_y, groove.x_mm - centre_x)
    for part in _parts(radius_mm * sweep):
        cosine, sine = math.cos(start + sweep * part), math.sin(start + sweep * part)
        yield _Place(centre_x + radius_mm * cosine, centre_y + radius_mm * sine, cosine, sine)


def _parts(length_mm: float) -> Iterator[float]:
    """Yield fractions from 0 to 1 of a length, each far from the previous one.

    When all are yielded, they are close enough together to find any visible part of a groove. `length_mm`: the length.
    """
    count = max(2, min(_MOST_PLACES, math.ceil(length_mm / _STEP_MM)))
    for number in range(count):
        yield number * _STRIDE % 1
    yield 1.0


def depth_at_mm(groove: Element, cutter: Cutter, x_mm: float, y_mm: float) -> float:
    """Return the depth of a groove at a point on the work [mm]; 0 outside the groove."""
    beside_mm = _beside_mm(groove, x_mm, y_mm)
    if beside_mm * 2 >= (groove.width_mm or 0.0):
        return 0.0
    return depth_beside_mm(cutter, groove.depth_mm or 0.0, beside_mm)


def _beside_mm(groove: Element, x_mm: float, y_mm: float) -> float:
    place, start = (x_mm, y_mm), (groove.x_mm, groove.y_mm)
    if groove.to_x_mm is not None and groove.to_y_mm is not None:
        return math.dist(place, nearest_on_segment(place, start, (groove.to_x_mm, groove.to_y_mm)))
    if groove.centre_x_mm is not None and groove.centre_y_mm is not None:
        return _beside_arc_mm(groove, x_mm - groove.centre_x_mm, y_mm - groove.centre_y_mm)
    return abs(math.dist(place, start) - groove.line_radius_mm)


def _beside_arc_mm(arc: Element, x_mm: float, y_mm: float) -> float:
    """Return the distance of a point from an arc [mm]. The point's coordinates count from the arc's centre."""
    start_x, start_y = arc.x_mm - (arc.centre_x_mm or 0.0), arc.y_mm - (arc.centre_y_mm or 0.0)
    radius_mm, sweep = math.hypot(start_x, start_y), math.radians(arc.sweep_deg or 0.0)
    start = math.atan2(start_y, start_x)
    if (math.atan2(y_mm, x_mm) - start) % math.tau <= sweep:
        return abs(math.hypot(x_mm, y_mm) - radius_mm)
    ends = (start, start + sweep)
    return min(math.hypot(x_mm - radius_mm * math.cos(end), y_mm - radius_mm * math.sin(end)) for end in ends)
