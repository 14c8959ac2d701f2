"""The one of count, offset and circle radius that was left empty, worked out from the other two. Lengths in mm."""

import math
from collections.abc import Mapping
from functools import partial
from typing import Any, NamedTuple

from core.operations.patterns.geometry import RingShape, effective_offset_mm
from core.operations.patterns.job import MOST_CIRCLES, cutter_table, read_tip
from core.operations.patterns.solving import Meeting, Solved, solve
from core.values.dials import Unit
from core.values.errors import PlanError
from core.values.fields import Problem, Table
from core.values.quantities import MM_PER_INCH, length_text, number_text

OPEN = ("count", "offset", "circle_radius")


class Answer(NamedTuple):
    """What goes into the empty field."""

    key: str
    text: str
    """As it is typed there."""
    note: str
    """What comes of it."""


def answer(
    meeting: Meeting, layer: Mapping[str, Any], operation: Mapping[str, Any], unit: Unit = "mm"
) -> Answer | None:
    """Return what the one open quantity of a layer's table must be for its circles to meet.

    None where not just one is open, or another cannot be read. Raises PlanError where
    there is no such layer, with the inequality that fails and what would satisfy it.

    >>> answer("points", {"count": 6, "offset": "20 mm"}, {}).text
    '10 mm'
    """
    still_open = [key for key in OPEN if key not in layer]
    if len(still_open) != 1 or (meeting == "centre" and still_open == ["count"]):
        return None
    problems: list[Problem] = []
    layer_table, table = Table(layer, "", problems), Table(operation, "", problems)
    count = layer_table.whole("count", least=1, most=MOST_CIRCLES)
    offset, radius = layer_table.length("offset", above=0), layer_table.length("circle_radius", above=0)
    height = table.length("height_error", least=-100, most=100) or 0.0
    width = _groove_mm(meeting, layer_table, table)
    if problems:
        return None
    say = partial(length_text, unit=unit)
    true_offset = None if offset is None else effective_offset_mm(offset, height)
    found = solve(meeting, count=count, offset_mm=true_offset, circle_radius_mm=radius, groove_width_mm=width, say=say)
    return _worded(still_open[0], found, height, width, unit)


def _groove_mm(meeting: Meeting, layer: Table, operation: Table) -> float:
    """Return the groove's width where it counts [mm]; raises PlanError where it is not known."""
    if meeting != "grooves":
        return 0.0
    cutter, depth = cutter_table(operation), layer.length("depth", above=0)
    tip = None if cutter is None else read_tip(cutter)
    if tip is None or depth is None:
        raise PlanError("for groove edges to touch, tip angle and depth are wanted: they make the groove's width")
    return tip.groove_width_mm(depth)


def _worded(key: str, found: Solved, height_mm: float, width_mm: float, unit: Unit) -> Answer:
    if key == "circle_radius":
        across = f"{length_text(2 * found.circle_radius_mm, unit)} across"
        return Answer(key=key, text=_typed(found.circle_radius_mm, unit), note=across)
    if key == "offset":
        offset = _nominal_offset_mm(found.offset_mm, height_mm, unit)
        return Answer(key=key, text=_typed(offset, unit), note="travel of the cross-slide from where the axes meet")
    if found.count > MOST_CIRCLES:
        raise PlanError(
            f"{found.count} circles would find room; accepted are at most {MOST_CIRCLES}: "
            "a larger radius, or a smaller offset"
        )
    return Answer(key=key, text=str(found.count), note=_room_words(found, width_mm, unit))


def _room_words(found: Solved, width_mm: float, unit: Unit) -> str:
    shape = RingShape(count=found.count, offset_mm=found.offset_mm, circle_radius_mm=found.circle_radius_mm)
    gap = -(shape.overlap_mm or 0.0) - width_mm
    if gap < 0.0005:
        return "exactly"
    return f"{number_text(found.exact_count, 3)} would just touch; {found.count} leave gaps of {length_text(gap, unit)}"


def _nominal_offset_mm(true_mm: float, height_mm: float, unit: Unit) -> float:
    """Return the cross-slide's travel for a true distance of the axes, one of which lies higher."""
    if true_mm <= abs(height_mm):
        raise PlanError(
            f"the axes must be {length_text(true_mm, unit)} apart, which must be more than the axis height error, "
            f"{length_text(abs(height_mm), unit)}; accepted is a larger radius, or the table shimmed level"
        )
    return math.sqrt(true_mm**2 - height_mm**2)


def _typed(length_mm: float, unit: Unit) -> str:
    """Return a length as it goes into a field, ten times finer than any dial."""
    if unit == "in":
        return f"{number_text(length_mm / float(MM_PER_INCH), 5)} in"
    return f"{number_text(length_mm, 4)} mm"
