"""Reading a `pattern` operation from its tables in a job file or form."""

from collections.abc import Mapping
from typing import Any

from core.lathe.lathe import Cutter, Lathe
from core.operations.dividing.depth import ORDERS
from core.operations.dividing.job import read_depth_dial, read_means, read_start, rotary_table
from core.operations.patterns.geometry import (
    LengthText,
    Meeting,
    effective_offset_mm,
    radius_to_touch_mm,
)
from core.operations.patterns.layers import LAYER_ORDERS, SHAPES, USUAL_DEPTH_DIAL, Layer, PatternJob
from core.values.errors import PlanError
from core.values.fields import Table
from core.values.plain_text import quoted

MOST_LAYERS = 12
MOST_CIRCLES = 360
MEETINGS: tuple[Meeting, ...] = ("points", "grooves")
_NOT_YET = "This version cannot cut that yet."


def read_pattern(table: Table, lathe: Lathe) -> PatternJob | None:
    """Return the checked parameters of a `pattern` operation's tables; None if a problem was noted in them.

    Keys of the file format for work that this version cannot cut yet are refused.
    """
    before = len(table.problems)
    cutter = _read_cutter(table)
    height = table.length("height_error", least=-100, most=100) or 0.0
    blank = table.length("blank_diameter", above=0)
    face, face_radius = table.length("face_runout", least=0, most=10), table.length("face_radius", above=0)
    if table.has("face_radius") and not table.has("face_runout"):
        table.problem("face_radius", "Entered without face_runout. Enter that too, or remove this.")
    order = table.word("order", ORDERS)
    rotary = rotary_table(table, lathe, "layer")
    layers = _read_layers(table, cutter, height, lathe.length_text)
    _refuse_operation_not_built(table)
    depth_dial = _depth_dial(table, lathe, layers, len(table.problems) > before)
    means = read_means(table, lathe, rotary)
    if len(table.problems) > before or means is None:
        return None
    return PatternJob(
        layers=layers,
        height_error_mm=height,
        blank_diameter_mm=blank,
        face_runout_mm=face,
        face_radius_mm=face_radius,
        depth_dial=depth_dial,
        order="position" if order == "position" else "round",
        means=means,
    )


def cutter_table(table: Table) -> Table | None:
    """Return the table of the only cutter; None if there is no cutter, or more than one."""
    items = table.items("cutter", "tables [[operation.cutter]]", least=1, most=MOST_LAYERS)
    if len(items) > 1:
        table.problem("cutter", f"There are {len(items)} cutters. {_NOT_YET} Enter one.")
    if len(items) != 1:
        return None
    if not isinstance(items[0], Mapping):
        table.problem("cutter", f"{quoted(items[0])} is not a table. Write [[operation.cutter]] on a line of its own.")
        return None
    return Table(items[0], f"{table.where}, cutter", table.problems, table.written)


def read_cutter(table: Table, name: str = "") -> Cutter | None:
    """Return a cutter from its table; None if a problem was noted in its point."""
    angle = table.angle("tip_angle", required=True, above=0, most=175)
    flat = table.length("tip_flat", least=0)
    return None if angle is None else Cutter(name, angle, tip_flat_mm=flat or 0.0)


def _read_cutter(table: Table) -> Cutter | None:
    own = cutter_table(table)
    if own is None:
        return None
    cutter = read_cutter(own, own.text("name", required=True, longest=80) or "")
    for key in ("tip_radius", "reach"):
        _refuse_not_built(own, key)
    own.refuse_unknown()
    return cutter


def _names_of_cutters(table: Table) -> list[Any]:
    cutters = table.data.get("cutter")
    return (
        [cutter.get("name") for cutter in cutters if isinstance(cutter, Mapping)] if isinstance(cutters, list) else []
    )


def _refuse_operation_not_built(table: Table) -> None:
    """Note settings of all layers that this version cannot cut yet. A value that changes nothing is accepted."""
    # With one cutter, two layers need as many changes in either order, so they are cut as written.
    order = table.word("layer_order", LAYER_ORDERS) or LAYER_ORDERS[0]
    layers = table.data.get("layer")
    if order != "written" and isinstance(layers, list) and len(layers) > 2:
        table.problem("layer_order", f'{order.capitalize()} with {len(layers)} layers: {_NOT_YET} Enter "written".')
    if table.word("offset_side", ("near", "far")) == "far":
        table.problem("offset_side", f'{_NOT_YET} Enter "near".')
    if table.text("offset_dial", longest=40) not in {None, "cross_slide"}:
        table.problem("offset_dial", f'{_NOT_YET} Enter "cross_slide".')
    if table.flag("correct", False):
        table.problem("correct", f"{_NOT_YET} Enter false.")
    if table.length("eccentricity"):
        table.problem("eccentricity", f"{_NOT_YET} Remove it, or enter 0 mm.")
    for key in ("eccentric_at", "face_high_at"):
        _refuse_not_built(table, key)


def _refuse_not_built(table: Table, key: str) -> None:
    if table.has(key):
        table.problem(key, f"{_NOT_YET} Remove it.")


def _depth_dial(table: Table, lathe: Lathe, layers: tuple[Layer, ...], wrong: bool) -> str:
    named = read_depth_dial(table, lathe)
    deep = any(layer.depth_mm is not None for layer in layers)
    if deep and not table.has("depth_dial") and USUAL_DEPTH_DIAL not in lathe.dials:
        known = ", ".join(lathe.dials) or "none"
        table.problem(
            "depth_dial", f'Missing, and this lathe has no "{USUAL_DEPTH_DIAL}". Enter one of its dials: {known}.'
        )
    if not deep and not wrong and table.has("depth_dial"):
        table.problem("depth_dial", "Entered, but no layer has a depth. Enter a depth, or remove this.")
    return named or USUAL_DEPTH_DIAL


def _read_layers(table: Table, cutter: Cutter | None, height_mm: float, to_text: LengthText) -> tuple[Layer, ...]:
    items = table.items("layer", "tables [[operation.layer]]", least=1, most=MOST_LAYERS)
    if not table.has("layer"):
        table.problem("layer", "Missing. Enter at least one table [[operation.layer]].")
    cutters, layers = _names_of_cutters(table), []
    for number, data in enumerate(items, start=1):
        if not isinstance(data, Mapping):
            table.problem("layer", f"{quoted(data)} is not a table. Write [[operation.layer]] on a line of its own.")
            continue
        layer_table = Table(data, f"{table.where}, layer {number}", table.problems, table.written)
        if (named := layer_table.text("cutter", longest=80)) is not None and named not in cutters:
            known = ", ".join(quoted(name) for name in cutters) or "none"
            layer_table.problem(
                "cutter", f"This operation has no cutter {quoted(named)}. Enter one of its cutters: {known}."
            )
        layer = _read_layer(layer_table, number, cutter, height_mm, to_text)
        layer_table.refuse_unknown()
        if layer is not None:
            layers.append(layer)
    return tuple(layers)


_STEPS = ("offset_step", "circle_radius_step", "depth_step")
_OF_OTHERSHAPES = ("at", "from", "to", "through")
_OTHER_CONDITIONS = ("overlap", "land", "touches", "inner", "outer", "inner_edge", "outer_edge")


def _refuse_layer_not_built(table: Table) -> bool:
    """Note settings of a layer that this version cannot cut yet. Return whether its shape is one of them.

    A value that changes nothing is accepted.
    """
    shape = table.word("shape", SHAPES, required=True)
    if shape != "circles":
        if shape is not None:
            table.problem("shape", f'{_NOT_YET} Enter "circles".')
        return True
    for key in (*_OF_OTHERSHAPES, *_OTHER_CONDITIONS, "repeat_offset", "repeat_start"):
        _refuse_not_built(table, key)
    for key in _STEPS:
        if table.length(key):
            table.problem(key, f"{_NOT_YET} Remove it, or enter 0 mm.")
    if table.angle("spread") not in {None, 360.0}:
        table.problem("spread", f'{_NOT_YET} Enter "360 deg".')
    if (table.whole("repeat", least=1, most=MOST_CIRCLES) or 1) > 1:
        table.problem("repeat", f"{_NOT_YET} Enter 1.")
    if any(place.value for place in table.quantities("about", "length", least=2, most=2)):
        table.problem("about", f"{_NOT_YET} Remove it: circles are always round the work's centre.")
    if isinstance(table.data.get("depth"), list):
        table.problem("depth", f'{_NOT_YET} Enter one depth, such as "0.4 mm".')
        return True
    return False


def _read_layer(
    table: Table, number: int, cutter: Cutter | None, height_mm: float, to_text: LengthText
) -> Layer | None:
    before = len(table.problems)
    if _refuse_layer_not_built(table):
        # Keys of another shape are accepted as known, and none is asked for.
        for key in table.data:
            table.has(key)
        return None
    count = table.whole("count", required=True, least=1, most=MOST_CIRCLES)
    offset = table.length("offset", required=True, least=0)
    meeting = _meeting(table)
    radius = table.length("circle_radius", required="meet" not in table.data, above=0)
    start = read_start(table)
    depth, cut = table.length("depth", above=0), table.length("cut", above=0)
    if table.has("cut") and not table.has("depth"):
        table.problem("cut", "Entered, but the layer has no depth. Enter a depth too, or remove this.")
    skip = _skip(table, count)
    if count is not None and count > 1 and offset == 0:
        table.problem(
            "offset",
            f"At 0 mm all {count} circles would be one. Enter more than 0 mm, or one circle.",
        )
    if len(table.problems) > before or count is None or offset is None:
        return None
    if meeting is not None:
        radius = _solved_radius(table, count, effective_offset_mm(offset, height_mm), (meeting, cutter, depth), to_text)
    if radius is None:
        return None
    return Layer(
        number=number,
        cutter=cutter,
        count=count,
        offset_mm=offset,
        circle_radius_mm=radius,
        condition="meet" if meeting else "",
        start_deg=start,
        depths_mm=() if depth is None else (depth,),
        cut_mm=cut,
        skip=skip,
    )


def _meeting(table: Table) -> Meeting | None:
    """Return what must meet, if that determines the radius; None if the radius is entered, or a problem was noted."""
    meet = table.word("meet", MEETINGS)
    if meet is not None and "circle_radius" in table.data:
        table.problem("meet", "Both meet and circle_radius are entered. Keep one of the two.")
        return None
    return next((meeting for meeting in MEETINGS if meeting == meet), None)


def _solved_radius(
    table: Table, count: int, offset_mm: float, wanted: tuple[Meeting, Cutter | None, float | None], to_text: LengthText
) -> float | None:
    """Return the radius at which neighbours meet as wanted, or note why there is no such radius."""
    meeting, cutter, depth_mm = wanted
    width_mm = 0.0
    if meeting == "grooves":
        if cutter is None or depth_mm is None:
            table.problem("meet", "For grooves to meet, their width must be known. Enter a cutter and a depth.")
            return None
        width_mm = cutter.groove_width_mm(depth_mm)
    try:
        return radius_to_touch_mm(offset_mm, count, width_mm, to_text)
    except PlanError as error:
        table.problem("meet", error.message)
        return None


def _skip(table: Table, count: int | None) -> frozenset[int]:
    items = table.items("skip", "a list of positions", most=MOST_CIRCLES)
    numbers = table.checked_wholes("skip", items, least=1, most=count or MOST_CIRCLES)
    skipped = frozenset(numbers)
    if len(skipped) < len(numbers):
        twice = next(number for number in numbers if numbers.count(number) > 1)
        table.problem("skip", f"{twice} is in the list twice. Enter every position once.")
    if count is not None and len(skipped) >= count:
        table.problem("skip", f"All {count} positions are skipped. Enter at most {count - 1}.")
    return skipped
