"""Conditions for what is seen, in place of count, offset or circle radius."""

from dataclasses import replace

from core.operations.patterns.geometry import LengthText, effective_offset_mm, radius_to_touch_mm
from core.operations.patterns.layers import Layer
from core.values.errors import PlanError
from core.values.fields import Table

CONDITION_KEYS = ("meet", "overlap", "land", "touches", "inner", "outer", "inner_edge", "outer_edge")


def read_conditions(table: Table, layer: Layer) -> tuple[str, ...] | None:
    """Return the conditions; None if a problem was noted."""
    meet = table.word("meet", ("points", "grooves"))
    if meet is None:
        return ()
    if layer.circle_radius_mm is not None:
        table.problem("meet", "Both meet and circle_radius are entered. Keep one of the two.")
        return None
    return (meet,)


def solved_ring(
    table: Table, layer: Layer, conditions: tuple[str, ...], height_mm: float, to_text: LengthText
) -> Layer | None:
    """Return the layer with its radius."""
    width_mm = 0.0
    if conditions[0] == "grooves":
        if layer.cutter is None or not layer.depths_mm:
            table.problem("meet", "For grooves to meet, their width must be known. Enter a cutter and a depth.")
            return None
        width_mm = layer.cutter.groove_width_mm(max(layer.depths_mm))
    try:
        radius = radius_to_touch_mm(effective_offset_mm(layer.offset_mm, height_mm), layer.count, width_mm, to_text)
    except PlanError as error:
        table.problem("meet", error.message)
        return None
    return replace(layer, circle_radius_mm=radius, condition="meet")
