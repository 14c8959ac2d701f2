"""The figures of a pattern, as the card prints them."""

from itertools import combinations
from typing import Any

from core.operations.dividing.duration import estimated_time_s
from core.operations.dividing.pattern import Pattern
from core.operations.patterns.crossings import crossing_count
from core.operations.patterns.effects import position_effect
from core.operations.patterns.geometry import RingShape, turned_by_deg
from core.operations.patterns.job import Layer, PatternJob
from core.operations.patterns.relations import relation
from core.operations.patterns.solving import angle_to_touch_deg
from core.operations.patterns.visible import least_depth_mm
from core.plan import Step
from core.values.angles import ARCSEC_PER_DEG
from core.values.errors import PlanError


def layer_figures(job: PatternJob, patterns: list[Pattern], steps: list[Step]) -> dict[str, Any]:
    """Return the figures of every layer, how layers lie to each other, and the time."""
    figures: dict[str, Any] = {
        "layers": [_of_layer(job, layer, pattern) for layer, pattern in zip(job.layers, patterns, strict=True)]
    }
    if len(job.layers) > 1:
        figures["between_layers"] = _between(job)
    passes = sum(step.action == "cut" for step in steps)
    if passes:
        figures["passes"] = passes
    return figures | {"estimated_time_s": estimated_time_s(steps, patterns[0].dividing.table)}


def _of_layer(job: PatternJob, layer: Layer, pattern: Pattern) -> dict[str, Any]:
    shape, dividing, height = job.shape(layer), pattern.dividing, job.height_error_mm
    found: dict[str, Any] = {
        "count": layer.count,
        "offset_mm": layer.offset_mm,
        "circle_radius_mm": layer.circle_radius_mm,
        "spacing_mm": shape.spacing_mm,
        "overlap_mm": shape.overlap_mm,
        "groove_overlap_mm": shape.groove_overlap_mm,
        "inner_mm": shape.inner_mm,
        "outer_mm": shape.outer_mm,
        "inner_edge_mm": shape.inner_edge_mm,
        "outer_edge_mm": shape.outer_edge_mm,
        "groove_width_mm": shape.groove_width_mm,
        "crossings": crossing_count(shape),
        "depth_min_mm": least_depth_mm(job, layer),
        "effective_offset_mm": shape.offset_mm,
        "turned_by_deg": turned_by_deg(layer.offset_mm, height) if height else None,
        "worst_error_arcsec": float(dividing.worst_error_deg * ARCSEC_PER_DEG),
        "worst_error_mm": position_effect(shape, float(dividing.worst_error_deg)).shift_mm,
        "gap_error_mm": position_effect(shape, float(dividing.worst_neighbour_error_deg)).spacing_change_mm,
    }
    return {key: value for key, value in found.items() if value is not None}


def _between(job: PatternJob) -> list[dict[str, Any]]:
    """Return how neighbouring layers lie to each other, and any others whose envelopes overlap."""
    found = []
    for (one, one_shape), (other, other_shape) in combinations(zip(job.layers, job.shapes, strict=True), 2):
        apart = max(one_shape.inner_mm, other_shape.inner_mm) > min(one_shape.outer_mm, other_shape.outer_mm)
        if apart and other.number > one.number + 1:
            continue
        lie = relation(one_shape, other_shape)
        found.append(
            {
                "layers": [one.number, other.number],
                "lie": lie.lie,
                "gap_mm": lie.gap_mm,
                "crossing_pairs": lie.crossing_pairs,
                **_touch_at(one_shape, other_shape),
            }
        )
    return found


def _touch_at(one: RingShape, other: RingShape) -> dict[str, float]:
    """Return at which angle between their centres circles of two layers touch; nothing where they do at none."""
    try:
        angle = angle_to_touch_deg(one.offset_mm, one.circle_radius_mm, other.offset_mm, other.circle_radius_mm)
    except PlanError:
        return {}
    return {"touch_at_deg": angle}
