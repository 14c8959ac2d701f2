"""The figures of a pattern for its card: layers, how layers meet, grooves, time, and the number of changes.

Figures of a layer come from the wanted sizes. They include an axis height error that the settings do not correct. The
list of grooves ("elements") and the land come from the real marks. A figure that does not apply has no key.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations
from typing import Any

from core.operations.dividing.steps import DividedCut, estimated_time_s
from core.operations.patterns.effects import layer_depths_mm, position_effect
from core.operations.patterns.elements import elements
from core.operations.patterns.geometry import Relation, angle_to_touch_deg, crossing_count, relation, turned_by_deg
from core.operations.patterns.land import land_percent
from core.operations.patterns.layers import CutAsSet, Layer, PatternJob, Point
from core.operations.patterns.tip_lines import (
    as_asked_mm,
    crossing_points,
    envelope_mm,
    least_spacing_mm,
    relation_of_circles,
    tip_lines,
)
from core.plan import Step
from core.values.angles import ARCSEC_PER_DEG
from core.values.errors import PlanError


def pattern_figures(
    job: PatternJob,
    cuts: Sequence[CutAsSet],
    patterns: Sequence[DividedCut],
    steps: Sequence[Step],
    by_layer: Mapping[int, Sequence[Step]],
    changes: Mapping[str, int],
) -> dict[str, Any]:
    """Return the figures of a pattern for its card, by name.

    `cuts`: every cut with its real settings. `patterns`: the settings of every layer, in the order of the job. `steps`:
    all steps of the plan. `by_layer`: the steps of each layer, by the layer's number. `changes`: the number of changes
    after the first mounting, by the name of the figure for each kind ("cutter_changes").
    """
    figures: dict[str, Any] = {
        "layers": [
            _of_layer(job, layer, pattern, by_layer[layer.number])
            for layer, pattern in zip(job.layers, patterns, strict=True)
        ]
    }
    if between := list(_between(job)):
        figures["between_layers"] = between
    passes = sum(step.action == "cut" for step in steps)
    if passes:
        figures["passes"] = passes
    figures |= {"estimated_time_s": estimated_time_s(steps, patterns[0].dividing.table), **changes}
    grooves = elements(job, cuts)
    if job.blank_diameter_mm is not None:
        figures["land_percent"] = land_percent(grooves, job.blank_diameter_mm)
    figures["elements"] = [groove.as_data() for groove in grooves]
    return {key: value for key, value in figures.items() if value is not None}


def _of_layer(job: PatternJob, layer: Layer, pattern: DividedCut, steps: Sequence[Step]) -> dict[str, Any]:
    least_mm, greatest_mm = layer_depths_mm(job, layer)
    figures = {
        "shape": layer.shape,
        "cutter": layer.cutter.name if layer.cutter is not None and layer.cutter.name else None,
        "count": layer.count,
        "repeat": layer.repeat if layer.repeat > 1 else None,
        **_asked(layer),
        **(_of_even_ring(job, layer) if layer.is_even_ring else _of_other_layer(job, layer)),
        "groove_width_mm": layer.groove_width_mm,
        "depth_min_mm": least_mm,
        "depth_max_mm": greatest_mm,
        **_turned(job, layer),
        **_worst_errors(job, layer, pattern),
        "time_s": estimated_time_s(steps, pattern.dividing.table),
    }
    return {key: value for key, value in figures.items() if value is not None}


def _asked(layer: Layer) -> dict[str, float | None]:
    return {
        "offset_mm": None if layer.at_mm else layer.offset_mm,
        "circle_radius_mm": layer.circle_radius_mm if layer.with_head else None,
    }


def _of_even_ring(job: PatternJob, layer: Layer) -> dict[str, float | None]:
    shape = job.shape(layer)
    return {
        **neighbours_mm(job, layer),
        "inner_mm": shape.inner_mm,
        "outer_mm": shape.outer_mm,
        "inner_edge_mm": shape.inner_edge_mm,
        "outer_edge_mm": shape.outer_edge_mm,
        "crossings": crossing_count(shape),
    }


def _of_other_layer(job: PatternJob, layer: Layer) -> dict[str, float | None]:
    """Return the reach, spacing and crossings of a layer that is not an even ring, by the name of the figure."""
    lines = tip_lines(job, layer)
    inner_mm, outer_mm = envelope_mm(lines)
    width_mm = layer.groove_width_mm
    return {
        **neighbours_mm(job, layer),
        "inner_mm": inner_mm,
        "outer_mm": outer_mm,
        "inner_edge_mm": None if width_mm is None else max(0.0, inner_mm - width_mm / 2),
        "outer_edge_mm": None if width_mm is None else outer_mm + width_mm / 2,
        "crossings": crossing_points(tuple(lines)) if layer.with_head else None,
    }


def neighbours_mm(job: PatternJob, layer: Layer) -> dict[str, float | None]:
    """Return the spacing of neighbouring positions and the overlap of their circles and grooves [mm], by figure name.

    A value is None if it does not apply or is unknown.
    """
    if layer.is_even_ring:
        shape = job.shape(layer)
        spacing_mm, overlap_mm, groove_mm = shape.spacing_mm, shape.overlap_mm, shape.groove_overlap_mm
        return {"spacing_mm": spacing_mm, "overlap_mm": overlap_mm, "groove_overlap_mm": groove_mm}
    # All repeated rings are the same.
    one_ring = layer.positions if layer.at_mm else layer.positions[: layer.count]
    spacing_mm = least_spacing_mm(tuple(as_asked_mm(job, layer, position) for position in one_ring))
    overlap_mm = meets_mm = None
    if spacing_mm is not None and layer.with_head and not layer.circle_radius_step_mm:
        overlap_mm = meets_mm = 2 * layer.circle_radius_mm - spacing_mm
    elif spacing_mm is not None and not layer.with_head and layer.shape != "arcs":
        # Dots, and the ends of slots that lie nearest to each other.
        ends = ((line[:2], line.to or line[:2]) for line in tip_lines(job, layer, one_ring))
        nearest_mm = least_spacing_mm(tuple(min(both, key=_from_axis) for both in ends))
        meets_mm = None if nearest_mm is None else -nearest_mm
    width_mm = layer.groove_width_mm
    groove_mm = None if width_mm is None or meets_mm is None else meets_mm + width_mm
    return {"spacing_mm": spacing_mm, "overlap_mm": overlap_mm, "groove_overlap_mm": groove_mm}


def _from_axis(place: Point) -> float:
    return math.hypot(*place)


def _turned(job: PatternJob, layer: Layer) -> dict[str, float | None]:
    """Return the true offset [mm] of a layer, and the angle by which a height error turns the layer [deg]."""
    if layer.at_mm:
        return {}
    if not job.height_error_mm or all(job.takes_errors_out(layer, position) for position in layer.positions):
        return {"effective_offset_mm": layer.offset_mm}
    if not layer.is_central:
        return {}
    return {
        "effective_offset_mm": math.hypot(layer.offset_mm, job.height_error_mm),
        "turned_by_deg": abs(turned_by_deg(layer.offset_mm, job.height_error_mm)),
    }


def _worst_errors(job: PatternJob, layer: Layer, pattern: DividedCut) -> dict[str, float | None]:
    dividing = pattern.dividing
    worst_deg = float(dividing.worst_error_deg)
    errors: dict[str, float | None] = {"worst_error_arcsec": worst_deg * float(ARCSEC_PER_DEG)}
    if layer.is_even_ring:
        shape = job.shape(layer)
        gap_deg = float(dividing.worst_neighbour_error_deg)
        return errors | {
            "worst_error_mm": position_effect(shape, worst_deg).shift_mm,
            "gap_error_mm": position_effect(shape, gap_deg).spacing_change_mm,
        }
    errors["worst_error_mm"] = worst_shift_mm(layer, pattern)
    return errors


def worst_shift_mm(layer: Layer, pattern: DividedCut) -> float:
    """Return the largest shift of a position in a layer that comes from rounding to the table's marks or holes [mm]."""
    places = {position.number: math.hypot(position.x_mm, position.y_mm) for position in layer.positions}
    return max(
        math.radians(abs(float(position.error_deg))) * places.get(position.number, 0.0)
        for position in pattern.dividing.positions
    )


def _between(job: PatternJob) -> Iterator[dict[str, Any]]:
    """Yield the relation of every two neighbouring layers of circles, and of any two other layers that overlap."""
    reaches = {layer.number: envelope_mm(tip_lines(job, layer)) for layer in job.layers}
    for one, other in combinations(job.layers, 2):
        apart = max(reaches[one.number][0], reaches[other.number][0]) > min(
            reaches[one.number][1], reaches[other.number][1]
        )
        lie = None if apart and other.number > one.number + 1 else layers_relation(job, one, other)
        if lie is None:
            continue
        yield {
            "layers": [one.number, other.number],
            "lie": lie.lie,
            "gap_mm": lie.gap_mm,
            "crossing_pairs": lie.crossing_pairs,
            **_touch_at(job, one, other),
        }


def layers_relation(job: PatternJob, one: Layer, other: Layer) -> Relation | None:
    """Return how the circles of two layers lie relative to each other.

    Return None if a layer has no circles, or if there are too many pairs of circles to compare.
    """
    if one.is_even_ring and other.is_even_ring:
        return relation(job.shape(one), job.shape(other))
    if one.with_head and other.with_head:
        return relation_of_circles(tuple(tip_lines(job, one)), tuple(tip_lines(job, other)))
    return None


def _touch_at(job: PatternJob, one: Layer, other: Layer) -> dict[str, float]:
    """Return the angle between the centres of two touching circles, one of each ring [deg]; {} if no circles touch."""
    if not (one.is_even_ring and other.is_even_ring):
        return {}
    rings = job.shape(one), job.shape(other)
    try:
        angle = angle_to_touch_deg(*(size for ring in rings for size in (ring.offset_mm, ring.circle_radius_mm)))
    except PlanError:
        return {}
    return {"touch_at_deg": angle}
