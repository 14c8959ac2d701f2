"""Calculates a layer's figures a second time: envelope, spacing, widths, depths, crossings, and land."""

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from tests.core.operations.patterns.outside.job_files import Tables, deg, groove_width_mm, mm
from tests.core.operations.patterns.outside.wanted import (
    Settings,
    Vector,
    Wanted,
    all_wanted,
    comes_out_mm,
    cutter_of,
    eccentric_mm,
    settings,
)

TOUCHING_MM, ONE_POINT_MM, PARTS = 1e-7, 1e-6, 721
Circle = tuple[float, float, float]
"""x, y and radius."""


def crossing_points(circles: Sequence[Circle]) -> Vector:
    """Return every distinct point at which two circles cross, one row per point. Touching circles do not cross.

    The common chord of each pair gives its points. Points of several pairs in one place count as one point.
    """
    table = np.array(circles, dtype=float).reshape(-1, 3)
    one, other = np.triu_indices(len(table), k=1)
    centres, radii = table[:, :2], table[:, 2]
    between = centres[other] - centres[one]
    apart = np.hypot(between[:, 0], between[:, 1])
    r1, r2 = radii[one], radii[other]
    crosses = (apart < r1 + r2 - TOUCHING_MM) & (apart > np.abs(r1 - r2) + TOUCHING_MM)
    one, between, apart, r1, r2 = one[crosses], between[crosses], apart[crosses], r1[crosses], r2[crosses]
    along = (apart**2 + r1**2 - r2**2) / (2 * apart)
    half_chord = np.sqrt(r1**2 - along**2)
    direction = between / apart[:, None]
    middle = centres[one] + along[:, None] * direction
    across = half_chord[:, None] * direction[:, ::-1] * np.array([-1.0, 1.0])
    return _distinct(np.vstack([middle + across, middle - across]))


def _distinct(points: Vector) -> Vector:
    if not len(points):
        return points
    same = cKDTree(points).query_pairs(ONE_POINT_MM)
    again = {max(pair) for pair in same}
    return points[[index for index in range(len(points)) if index not in again]]


def places_asked(operation: Tables, number: int) -> list[tuple[Wanted, Vector]]:
    """Return each position of a layer with the place of its centre, for exact dial settings.

    With `correct`, places count from the work's centre. Without it, the pattern is shifted, so they count from the
    table's axis.
    """
    return [
        (wanted, _exact_mm(operation, settings(operation, wanted)))
        for wanted in all_wanted(operation)
        if wanted.layer == number
    ]


def _exact_mm(operation: Tables, ideal: Settings) -> Vector:
    slide_mm = -ideal.slide_mm if operation.get("offset_side", "near") == "far" else ideal.slide_mm
    place = comes_out_mm(operation, slide_mm, ideal.angle_deg)
    return place if operation.get("correct", False) else place + eccentric_mm(operation)


def figures_again(operation: Tables, lathe: Tables, number: int) -> Iterator[tuple[str, float]]:
    """Yield the name and value of each layer figure that follows from the file format alone."""
    layer = operation["layer"][number - 1]
    asked = places_asked(operation, number)
    depths = [wanted.depth_mm for wanted, _ in asked]
    yield "depth_max_mm", max(depths)
    width_mm = groove_width_mm(cutter_of(operation, layer, lathe), max(depths))
    yield "groove_width_mm", width_mm
    inner_mm, outer_mm = envelope_mm(operation, asked)
    yield "inner_mm", inner_mm
    yield "outer_mm", outer_mm
    if len(set(depths)) == 1:
        yield "inner_edge_mm", max(0.0, inner_mm - width_mm / 2)
        yield "outer_edge_mm", outer_mm + width_mm / 2
    if layer["shape"] == "circles":
        circles = [(place[0], place[1], wanted.radius_mm) for wanted, place in asked]
        yield "crossings", len(crossing_points(circles))
        yield from _beside_each_other(layer, asked, width_mm)
    if "face_runout" in operation:
        lost_mm = mm(operation["face_runout"]) * outer_mm / mm(operation["face_radius"])
        yield "depth_min_mm", max(0.0, min(depths) - lost_mm)


def envelope_mm(operation: Tables, asked: Sequence[tuple[Wanted, Vector]]) -> tuple[float, float]:
    """Return the least and the greatest distance of the layer's tip lines from the centre.

    Slots run about the table's axis and cannot be corrected. Arcs cannot either, but a job can start them off that
    axis.
    """
    near, far = [], []
    for wanted, place in asked:
        line = np.array([place])
        if wanted.shape == "slots":
            height_mm = mm(operation.get("height_error", "0 mm"))
            line = np.array([(settings(operation, wanted).slide_mm, height_mm), (wanted.to_offset_mm, height_mm)])
        if wanted.shape == "arcs":
            axis = -eccentric_mm(operation) if operation.get("correct", False) else np.zeros(2)
            start, turns = place - axis, np.radians(np.linspace(0, wanted.through_deg, PARTS))
            x_mm = axis[0] + start[0] * np.cos(turns) - start[1] * np.sin(turns)
            y_mm = axis[1] + start[0] * np.sin(turns) + start[1] * np.cos(turns)
            line = np.column_stack([x_mm, y_mm])
        from_centre = np.hypot(line[:, 0], line[:, 1])
        near.append(np.min(np.abs(from_centre - wanted.radius_mm)))
        far.append(np.max(from_centre + wanted.radius_mm))
    return float(min(near)), float(max(far))


def _beside_each_other(
    layer: Tables, asked: Sequence[tuple[Wanted, Vector]], width_mm: float
) -> Iterator[tuple[str, float]]:
    """Yield the relation of neighbours in an even ring, from the measured chord between their centres."""
    uneven = {"at", "repeat", "skip", "offset_step", "circle_radius_step", "depth_step"} & layer.keys()
    if uneven or len(asked) < 2 or layer.get("spread", "360 deg") != "360 deg" or isinstance(layer["depth"], list):
        return
    chords_mm = [float(np.hypot(*(one[1] - other[1]))) for one, other in itertools.pairwise(asked)]
    if max(chords_mm) - min(chords_mm) > ONE_POINT_MM:
        return
    across_mm = 2 * asked[0][0].radius_mm
    yield "spacing_mm", chords_mm[0]
    yield "overlap_mm", across_mm - chords_mm[0]
    yield "groove_overlap_mm", across_mm + width_mm - chords_mm[0]


def land_percent(elements: Sequence[Mapping[str, Any]], blank_mm: float, cells: int = 1200) -> float:
    """Return the part of a blank's face that no groove covers, on a raster with a given number of cells [%]."""
    axis = (np.arange(cells) + 0.5) / cells * blank_mm - blank_mm / 2
    x_mm, y_mm = np.meshgrid(axis, axis)
    on_blank = np.hypot(x_mm, y_mm) <= blank_mm / 2
    x_mm, y_mm = x_mm[on_blank], y_mm[on_blank]
    bare = np.ones(x_mm.shape, dtype=bool)
    for element in elements:
        half_mm = element["width_mm"] / 2
        reach_mm = 2 * half_mm + _half_length_mm(element)
        here = np.flatnonzero(
            bare & (np.abs(x_mm - element["x_mm"]) < reach_mm) & (np.abs(y_mm - element["y_mm"]) < reach_mm)
        )
        bare[here[_from_line_mm(element, x_mm[here], y_mm[here]) < half_mm]] = False
    return 100 * float(np.mean(bare))


def _half_length_mm(element: Mapping[str, Any]) -> float:
    match element["shape"]:
        case "circle":
            return float(element["radius_mm"])
        case "slot":
            return math.hypot(element["to_x_mm"] - element["x_mm"], element["to_y_mm"] - element["y_mm"])
        case "arc":
            return 2 * math.hypot(element["x_mm"] - element["centre_x_mm"], element["y_mm"] - element["centre_y_mm"])
    return 0.0


def _from_line_mm(element: Mapping[str, Any], x_mm: Vector, y_mm: Vector) -> Vector:
    """Return the distance of points from the path of the cutter's point."""
    from_start = np.hypot(x_mm - element["x_mm"], y_mm - element["y_mm"])
    found: Vector
    match element["shape"]:
        case "circle":
            found = np.abs(from_start - element["radius_mm"])
        case "slot":
            found = _from_slot_mm(element, x_mm, y_mm)
        case "arc":
            found = _from_arc_mm(element, x_mm, y_mm)
        case _:
            found = from_start
    return found


def _from_slot_mm(element: Mapping[str, Any], x_mm: Vector, y_mm: Vector) -> Vector:
    along = np.array([element["to_x_mm"] - element["x_mm"], element["to_y_mm"] - element["y_mm"]])
    length_mm = np.hypot(*along)
    share = ((x_mm - element["x_mm"]) * along[0] + (y_mm - element["y_mm"]) * along[1]) / max(length_mm, 1e-12) ** 2
    share = np.clip(share, 0, 1)
    found: Vector = np.hypot(x_mm - element["x_mm"] - share * along[0], y_mm - element["y_mm"] - share * along[1])
    return found


def _from_arc_mm(element: Mapping[str, Any], x_mm: Vector, y_mm: Vector) -> Vector:
    centre = np.array([element["centre_x_mm"], element["centre_y_mm"]])
    start = np.array([element["x_mm"], element["y_mm"]]) - centre
    radius_mm, start_rad = np.hypot(*start), math.atan2(start[1], start[0])
    sweep = math.radians(element["sweep_deg"])
    round_rad = (np.arctan2(y_mm - centre[1], x_mm - centre[0]) - start_rad) % (2 * math.pi)
    end = centre + radius_mm * np.array([math.cos(start_rad + sweep), math.sin(start_rad + sweep)])
    at_ends = np.minimum(
        np.hypot(x_mm - element["x_mm"], y_mm - element["y_mm"]), np.hypot(x_mm - end[0], y_mm - end[1])
    )
    on_arc = np.abs(np.hypot(x_mm - centre[0], y_mm - centre[1]) - radius_mm)
    found: Vector = np.where(round_rad <= sweep + 1e-9, on_arc, at_ends)
    return found


def effective_offset_mm(operation: Tables, layer: Tables) -> float:
    """Return the offset of a ring about the work's centre, with the axes at different heights."""
    return math.hypot(mm(layer["offset"]), mm(operation.get("height_error", "0 mm")))


def even_chord_mm(layer: Tables) -> float:
    """Return the distance between neighbouring centres of an even ring: 2 R sin(180 deg / count)."""
    return 2 * mm(layer["offset"]) * math.sin(math.pi / layer["count"])


def start_deg(layer: Tables) -> float:
    """Return the start angle of a layer."""
    return float(deg(layer.get("start", "0 deg")))
