"""Reading a `pattern` operation from its tables in a job file or form."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, NamedTuple

from core.lathe.lathe import Lathe
from core.operations.dividing.depth import ORDERS, Order
from core.operations.dividing.division import Means, even_targets_deg
from core.operations.dividing.job import read_depth_dial, read_means, read_start, rotary_table
from core.operations.patterns.geometry import (
    LengthText,
    Meeting,
    RingShape,
    effective_offset_mm,
    groove_width_mm,
    radius_to_touch_mm,
    turned_by_deg,
)
from core.values.errors import PlanError
from core.values.fields import Table
from core.values.plain_text import quoted

MOST_LAYERS = 12
MOST_CIRCLES = 360
MEETINGS: tuple[Meeting, ...] = ("points", "grooves")
LAYER_ORDERS = ("wide first", "fewest changes", "written")
USUAL_DEPTH_DIAL = "carriage"
_NOT_YET = "This version cannot cut that yet."


class Tip(NamedTuple):
    """The cutter's point: included angle [deg] and flat [mm]."""

    angle_deg: float
    flat_mm: float = 0.0

    def groove_width_mm(self, depth_mm: float) -> float:
        """Return the width of its groove at the face [mm]."""
        return groove_width_mm(self.angle_deg, self.flat_mm, depth_mm)


@dataclass(frozen=True, kw_only=True)
class Layer:
    """One layer as the job wants it. Lengths in mm, angles exact in degrees."""

    number: int
    count: int
    offset_mm: float
    """Travel of the cross-slide from the spindle axis to the table's."""
    circle_radius_mm: float
    meeting: Meeting | None = None
    """What must meet, if the radius was calculated from that; None if the radius was entered."""
    start_deg: Fraction = Fraction(0)
    depth_mm: float | None = None
    cut_mm: float | None = None
    """Greatest depth of a pass; None: one pass for the whole depth."""
    skip: frozenset[int] = frozenset()


@dataclass(frozen=True, kw_only=True)
class PatternJob:
    """Layers of circles on one face. Lengths in mm."""

    layers: tuple[Layer, ...]
    tip: Tip | None = None
    height_error_mm: float = 0.0
    blank_diameter_mm: float | None = None
    face_runout_mm: float | None = None
    """Total indicator reading of the face; None if it was not read."""
    face_radius_mm: float | None = None
    """Radius at which the face was read; None: the outer radius of each layer."""
    depth_dial: str = USUAL_DEPTH_DIAL
    order: Order = "round"
    means: Means = "dial"

    def wanted_depth_mm(self, layer: int | None) -> float | None:
        """Return the final depth wanted in a layer [mm], the layer counted from 1; None if no depth is entered."""
        return self.layers[(layer or 1) - 1].depth_mm

    def shape(self, layer: Layer) -> RingShape:
        """Return the shape of a layer on the work, axis height error included."""
        turned = turned_by_deg(layer.offset_mm, self.height_error_mm) if self.height_error_mm else 0.0
        width = None
        if self.tip is not None and layer.depth_mm is not None:
            width = self.tip.groove_width_mm(layer.depth_mm)
        return RingShape(
            count=layer.count,
            offset_mm=effective_offset_mm(layer.offset_mm, self.height_error_mm),
            circle_radius_mm=layer.circle_radius_mm,
            groove_width_mm=width,
            start_deg=float(layer.start_deg) + turned,
            skip=layer.skip,
        )

    @property
    def patterns_deg(self) -> tuple[tuple[Fraction, ...], ...]:
        """Every layer's positions from the table's zero, exact [deg]."""
        return tuple(even_targets_deg(layer.count, layer.start_deg) for layer in self.layers)

    @property
    def shapes(self) -> tuple[RingShape, ...]:
        """The shape of every layer on the work."""
        return tuple(self.shape(layer) for layer in self.layers)


def read_pattern(table: Table, lathe: Lathe) -> PatternJob | None:
    """Return the checked parameters of a `pattern` operation's tables; None if a problem was noted in them.

    Keys of the file format for work that this version cannot cut yet are refused.
    """
    before = len(table.problems)
    tip = _read_cutter(table)
    height = table.length("height_error", least=-100, most=100) or 0.0
    blank = table.length("blank_diameter", above=0)
    face, face_radius = table.length("face_runout", least=0, most=10), table.length("face_radius", above=0)
    if table.has("face_radius") and not table.has("face_runout"):
        table.problem("face_radius", "Entered without face_runout. Enter that too, or remove this.")
    order = table.word("order", ORDERS)
    rotary = rotary_table(table, lathe, "layer")
    layers = _read_layers(table, tip, height, lathe.length_text)
    _refuse_operation_not_built(table)
    depth_dial = _depth_dial(table, lathe, layers, len(table.problems) > before)
    means = read_means(table, lathe, rotary)
    if len(table.problems) > before or means is None:
        return None
    return PatternJob(
        layers=layers,
        tip=tip,
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


def read_tip(cutter: Table) -> Tip | None:
    """Return the point of a cutter; None if a problem was noted."""
    angle = cutter.angle("tip_angle", required=True, above=0, most=175)
    flat = cutter.length("tip_flat", least=0)
    return None if angle is None else Tip(angle_deg=angle, flat_mm=flat or 0.0)


def _read_cutter(table: Table) -> Tip | None:
    cutter = cutter_table(table)
    if cutter is None:
        return None
    cutter.text("name", required=True, longest=80)
    tip = read_tip(cutter)
    for key in ("tip_radius", "reach"):
        _refuse_not_built(cutter, key)
    cutter.refuse_unknown()
    return tip


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


def _read_layers(table: Table, tip: Tip | None, height_mm: float, to_text: LengthText) -> tuple[Layer, ...]:
    items = table.items("layer", "tables [[operation.layer]]", least=1, most=MOST_LAYERS)
    if not table.has("layer"):
        table.problem("layer", "Missing. Enter at least one table [[operation.layer]].")
    cutters, layers = _names_of_cutters(table), []
    for number, data in enumerate(items, start=1):
        if not isinstance(data, Mapping):
            table.problem("layer", f"{quoted(data)} is not a table. Write [[operation.layer]] on a line of its own.")
            continue
        layer_table = Table(data, f"{table.where}, layer {number}", table.problems, table.written)
        if (cutter := layer_table.text("cutter", longest=80)) is not None and cutter not in cutters:
            known = ", ".join(quoted(name) for name in cutters) or "none"
            layer_table.problem(
                "cutter", f"This operation has no cutter {quoted(cutter)}. Enter one of its cutters: {known}."
            )
        layer = _read_layer(layer_table, number, tip, height_mm, to_text)
        layer_table.refuse_unknown()
        if layer is not None:
            layers.append(layer)
    return tuple(layers)


_SHAPES = ("circles", "dots", "slots", "arcs")
_STEPS = ("offset_step", "circle_radius_step", "depth_step")
_OF_OTHER_SHAPES = ("at", "from", "to", "through")
_OTHER_CONDITIONS = ("overlap", "land", "touches", "inner", "outer", "inner_edge", "outer_edge")


def _refuse_layer_not_built(table: Table) -> bool:
    """Note settings of a layer that this version cannot cut yet. Return whether its shape is one of them.

    A value that changes nothing is accepted.
    """
    shape = table.word("shape", _SHAPES, required=True)
    if shape != "circles":
        if shape is not None:
            table.problem("shape", f'{_NOT_YET} Enter "circles".')
        return True
    for key in (*_OF_OTHER_SHAPES, *_OTHER_CONDITIONS, "repeat_offset", "repeat_start"):
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


def _read_layer(table: Table, number: int, tip: Tip | None, height_mm: float, to_text: LengthText) -> Layer | None:
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
        radius = _solved_radius(table, count, effective_offset_mm(offset, height_mm), (meeting, tip, depth), to_text)
    if radius is None:
        return None
    return Layer(
        number=number,
        count=count,
        offset_mm=offset,
        circle_radius_mm=radius,
        meeting=meeting,
        start_deg=start,
        depth_mm=depth,
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
    table: Table, count: int, offset_mm: float, wanted: tuple[Meeting, Tip | None, float | None], to_text: LengthText
) -> float | None:
    """Return the radius at which neighbours meet as wanted, or note why there is no such radius."""
    meeting, tip, depth_mm = wanted
    width_mm = 0.0
    if meeting == "grooves":
        if tip is None or depth_mm is None:
            table.problem("meet", "For grooves to meet, their width must be known. Enter a cutter and a depth.")
            return None
        width_mm = tip.groove_width_mm(depth_mm)
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
