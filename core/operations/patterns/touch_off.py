"""Finds the place to touch off at before a layer: land on a cutter's path, near the highest part of the face."""

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import NamedTuple

from core.operations.patterns.layers import Layer, LayerPosition, PatternJob, Point

_POINTS = 24
"""Number of points checked on each path."""
_LEAST_LAND = 0.25
"""The smallest part of a path that must be land, so that the cutter can touch off on the path."""
_MOST_POSITIONS = 24
_MOST_GROOVES = 1_000
HIGHEST = "the face where it is highest"


def touch_off_words(job: PatternJob, layer: Layer, before: Sequence[Layer]) -> str:
    """Return words for the place at which a layer's cutter touches off. `before`: the layers that are already cut."""
    grooves = list(islice((cut for earlier in before for cut in _grooves(earlier)), _MOST_GROOVES))
    if not grooves:
        return HIGHEST
    most = (0.0, 0)
    for position in islice(_from_the_highest(job, layer), _MOST_POSITIONS):
        share = _land_share(layer, position, grooves)
        most = max(most, (share, position.number), key=lambda one: one[0])
        if share >= _LEAST_LAND:
            break
    share, number = most
    if not share:
        return "the face beside the pattern (every place under this layer is already cut)"
    runs_out = ", where it is highest" if job.face_runout_mm and job.face_high_at_deg is not None else ""
    part = "" if share > 1 - 1 / _POINTS else ", where its path still crosses land"
    return f"the face at position {number}{part}{runs_out}"


def _from_the_highest(job: PatternJob, layer: Layer) -> Iterator[LayerPosition]:
    positions: Iterable[LayerPosition] = layer.cut_positions
    high_deg = job.face_high_at_deg
    if job.face_runout_mm and high_deg is not None:
        high = math.radians(high_deg)
        positions = sorted(positions, key=lambda one: -(one.x_mm * math.cos(high) + one.y_mm * math.sin(high)))
    yield from positions


class _Groove(NamedTuple):
    """An earlier groove: half its width, and its middle line, which is part of a ring or straight."""

    half_mm: float
    centre: complex
    radius_mm: float
    """Radius of the ring; 0 for a dot or a slot."""
    length: complex = 0j
    """Vector from the start to the end of a slot."""

    def covers(self, place: complex) -> bool:
        """Return whether the groove covers a point on the work."""
        away = place - self.centre
        if self.length:
            along = (away * self.length.conjugate()).real / abs(self.length) ** 2
            away -= self.length * min(1.0, max(0.0, along))
        return abs(abs(away) - self.radius_mm) <= self.half_mm


def _groove(layer: Layer, position: LayerPosition) -> _Groove:
    """Return the groove of a position. An arc counts as a whole ring, so that the land found is certain."""
    width = layer.cutter.groove_width_mm(position.depth_mm) if layer.cutter and position.depth_mm else 0.0
    place = complex(position.x_mm, position.y_mm)
    if layer.shape == "circles":
        return _Groove(width / 2, place, position.circle_radius_mm or 0.0)
    if layer.shape == "arcs":
        return _Groove(width / 2, 0j, abs(place))
    end = complex(*path_points(layer, position)[-1])
    return _Groove(width / 2, place, 0.0, end - place)


def _grooves(layer: Layer) -> Iterator[_Groove]:
    for position in layer.cut_positions:
        yield _groove(layer, position)


def path_points(layer: Layer, position: LayerPosition, points: int = _POINTS) -> list[Point]:
    """Return points along the path of the cutter's point at a position [mm]. A circle has `points` of them."""
    x_mm, y_mm = position.x_mm, position.y_mm
    match layer.shape:
        case "circles":
            radius = position.circle_radius_mm or 0.0
            turns = [2 * math.pi * k / points for k in range(points)]
            return [(x_mm + radius * math.cos(turn), y_mm + radius * math.sin(turn)) for turn in turns]
        case "arcs":
            through = math.radians(float(layer.through_deg)) / points
            turns = [through * k for k in range(points + 1)]
            return [
                (x_mm * math.cos(turn) - y_mm * math.sin(turn), x_mm * math.sin(turn) + y_mm * math.cos(turn))
                for turn in turns
            ]
        case "slots":
            angle = math.radians(float(position.angle_deg or 0))
            start, end = math.hypot(x_mm, y_mm), position.to_offset_mm or 0.0
            offsets = [start + (end - start) * k / points for k in range(points + 1)]
            return [(offset * math.cos(angle), offset * math.sin(angle)) for offset in offsets]
    return [(x_mm, y_mm)]


def _land_share(layer: Layer, position: LayerPosition, grooves: Sequence[_Groove]) -> float:
    path = [complex(*point) for point in path_points(layer, position)]
    return sum(not any(groove.covers(place) for groove in grooves) for place in path) / len(path)
