"""A `pattern` operation as its tables say it."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, NamedTuple

from core.lathe.lathe import Lathe
from core.operations.dividing.depth import ORDERS, Order
from core.operations.dividing.division import Way
from core.operations.dividing.job import read_depth_dial, read_start, read_way, rotary_table
from core.operations.dividing.targets import even_targets_deg
from core.operations.patterns.geometry import RingShape, effective_offset_mm, groove_width_mm, turned_by_deg
from core.operations.patterns.solving import Meeting, Say, radius_to_touch_mm
from core.values.errors import PlanError
from core.values.fields import Table
from core.values.plain_text import quoted

MOST_LAYERS = 12
MOST_CIRCLES = 360
MEETINGS: tuple[Meeting, ...] = ("points", "grooves")
LAYER_ORDERS = ("wide first", "fewest changes", "written")
USUAL_DEPTH_DIAL = "carriage"
_NOT_YET = "this version of the program cannot cut that yet"


class Tip(NamedTuple):
    """The cutter's point: included angle [deg] and flat [mm]."""

    angle_deg: float
    flat_mm: float = 0.0

    def groove_width_mm(self, depth_mm: float) -> float:
        """Return the width of its groove at the face [mm]."""
        return groove_width_mm(self.angle_deg, self.flat_mm, depth_mm)


@dataclass(frozen=True, kw_only=True)
class Layer:
    """One layer as wanted. Lengths in mm, angles exact in degrees."""

    number: int
    count: int
    offset_mm: float
    """By the cross-slide; travel from the spindle axis to the table's."""
    circle_radius_mm: float
    meeting: Meeting | None = None
    """What the radius was solved for, None where it was given."""
    start_deg: Fraction = Fraction(0)
    depth_mm: float | None = None
    cut_mm: float | None = None
    """Most depth a pass; None: all in one."""
    skip: frozenset[int] = frozenset()


class PatternJob(NamedTuple):
    """Layers of circles on one face. Lengths in mm."""

    layers: tuple[Layer, ...]
    tip: Tip | None = None
    height_error_mm: float = 0.0
    blank_diameter_mm: float | None = None
    face_runout_mm: float | None = None
    """Total indicator reading of the face; None where it was not read."""
    face_radius_mm: float | None = None
    """Radius at which it was read; None: as far out as each layer reaches."""
    depth_dial: str = USUAL_DEPTH_DIAL
    order: Order = "round"
    way: Way = "dial"

    def shape(self, layer: Layer) -> RingShape:
        """Return a layer as it comes out on the work, axis height error included."""
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
        """Every layer as it comes out on the work."""
        return tuple(self.shape(layer) for layer in self.layers)


def read_pattern(table: Table, lathe: Lathe) -> PatternJob | None:
    """Read a `pattern` operation; None where a problem was noted.

    What the page of formats has of a pattern and is not built yet is refused as such.
    """
    before = len(table.problems)
    tip = _read_cutter(table)
    height = table.length("height_error", least=-100, most=100) or 0.0
    blank = table.length("blank_diameter", above=0)
    face, face_radius = table.length("face_runout", least=0, most=10), table.length("face_radius", above=0)
    if table.has("face_radius") and not table.has("face_runout"):
        table.problem("face_radius", "is given without face_runout; accepted is with it")
    order = table.word("order", ORDERS)
    rotary = rotary_table(table, lathe, "layer")
    layers = _read_layers(table, tip, height, lathe.length_text)
    _refuse_operation_not_built(table)
    depth_dial = _depth_dial(table, lathe, layers, len(table.problems) > before)
    way = read_way(table, lathe, rotary)
    if len(table.problems) > before or way is None:
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
        way=way,
    )


def cutter_table(table: Table) -> Table | None:
    """Return the table of the only cutter; None where there is none, or more than one."""
    items = table.items("cutter", "tables [[operation.cutter]]", least=1, most=MOST_LAYERS)
    if len(items) > 1:
        table.problem("cutter", f"found {len(items)} cutters; {_NOT_YET}: use one")
    if len(items) != 1:
        return None
    if not isinstance(items[0], Mapping):
        table.problem("cutter", f"found {quoted(items[0])}; accepted are tables [[operation.cutter]]")
        return None
    return Table(items[0], f"{table.where}, cutter", table.problems, table.written)


def read_tip(cutter: Table) -> Tip | None:
    """Return the point of a cutter; None where a problem was noted."""
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
    found = table.data.get("cutter")
    return [item.get("name") for item in found if isinstance(item, Mapping)] if isinstance(found, list) else []


def _refuse_operation_not_built(table: Table) -> None:
    """Note what is wanted of all layers and not built yet; what is as the program does it anyway is accepted."""
    # With one cutter, two layers need as many changes in either order: they are cut as written.
    order = table.word("layer_order", LAYER_ORDERS) or LAYER_ORDERS[0]
    layers = table.data.get("layer")
    if order != "written" and isinstance(layers, list) and len(layers) > 2:
        found = f"found {quoted(order)}" if "layer_order" in table.data else f"is missing, which is {quoted(order)}"
        table.problem("layer_order", f'{found}; {_NOT_YET} with more than two layers: enter "written"')
    if table.word("offset_side", ("near", "far")) == "far":
        table.problem("offset_side", f'found "far"; {_NOT_YET}: enter "near"')
    if table.text("offset_dial", longest=40) not in {None, "cross_slide"}:
        table.problem("offset_dial", f'found another than "cross_slide"; {_NOT_YET}')
    if table.flag("correct", False):
        table.problem("correct", f"found true; {_NOT_YET}: enter false")
    if table.length("eccentricity"):
        table.problem("eccentricity", f"found other than 0; {_NOT_YET}: leave it out")
    for key in ("eccentric_at", "face_high_at"):
        _refuse_not_built(table, key)


def _refuse_not_built(table: Table, key: str) -> None:
    if table.has(key):
        table.problem(key, f"is given; {_NOT_YET}: leave it out")


def _depth_dial(table: Table, lathe: Lathe, layers: tuple[Layer, ...], wrong: bool) -> str:
    named = read_depth_dial(table, lathe)
    deep = any(layer.depth_mm is not None for layer in layers)
    if deep and not table.has("depth_dial") and USUAL_DEPTH_DIAL not in lathe.dials:
        known = ", ".join(lathe.dials) or "none"
        table.problem(
            "depth_dial", f'is missing, and this lathe has no "{USUAL_DEPTH_DIAL}"; accepted are its dials: {known}'
        )
    if not deep and not wrong and table.has("depth_dial"):
        table.problem("depth_dial", "is given, but no layer has a depth; accepted is with one")
    return named or USUAL_DEPTH_DIAL


def _read_layers(table: Table, tip: Tip | None, height_mm: float, say: Say) -> tuple[Layer, ...]:
    items = table.items("layer", "tables [[operation.layer]]", least=1, most=MOST_LAYERS)
    if not table.has("layer"):
        table.problem("layer", "is missing; wanted is at least one table [[operation.layer]]")
    cutters, layers = _names_of_cutters(table), []
    for number, data in enumerate(items, start=1):
        if not isinstance(data, Mapping):
            table.problem("layer", f"found {quoted(data)}; accepted are tables [[operation.layer]]")
            continue
        layer_table = Table(data, f"{table.where}, layer {number}", table.problems, table.written)
        if (cutter := layer_table.text("cutter", longest=80)) is not None and cutter not in cutters:
            known = ", ".join(quoted(name) for name in cutters) or "none"
            layer_table.problem(
                "cutter", f"found {quoted(cutter)}; accepted are the cutters of this operation: {known}"
            )
        layer = _read_layer(layer_table, number, tip, height_mm, say)
        layer_table.refuse_unknown()
        if layer is not None:
            layers.append(layer)
    return tuple(layers)


_SHAPES = ("circles", "dots", "slots", "arcs")
_STEPS = ("offset_step", "circle_radius_step", "depth_step")
_OF_OTHER_SHAPES = ("at", "from", "to", "through")
_OTHER_CONDITIONS = ("overlap", "land", "touches", "inner", "outer", "inner_edge", "outer_edge")


def _refuse_layer_not_built(table: Table) -> bool:
    """Note what is wanted of a layer and not built yet; tell whether its shape is among that.

    What is as the program does it anyway is accepted.
    """
    shape = table.word("shape", _SHAPES, required=True)
    if shape != "circles":
        if shape is not None:
            table.problem("shape", f'found {quoted(shape)}; {_NOT_YET}: enter "circles"')
        return True
    for key in (*_OF_OTHER_SHAPES, *_OTHER_CONDITIONS, "repeat_offset", "repeat_start"):
        _refuse_not_built(table, key)
    for key in _STEPS:
        if table.length(key):
            table.problem(key, f"found other than 0; {_NOT_YET}: leave it out")
    if table.angle("spread") not in {None, 360.0}:
        table.problem("spread", f'found other than 360 deg; {_NOT_YET}: enter "360 deg"')
    if (table.whole("repeat", least=1, most=MOST_CIRCLES) or 1) > 1:
        table.problem("repeat", f"found more than 1; {_NOT_YET}: enter 1")
    if any(place.value for place in table.quantities("about", "length", least=2, most=2)):
        table.problem("about", f"found another place than the work's centre; {_NOT_YET}: leave it out")
    if isinstance(table.data.get("depth"), list):
        table.problem("depth", f"found a list; {_NOT_YET}: enter one depth")
        return True
    return False


def _read_layer(table: Table, number: int, tip: Tip | None, height_mm: float, say: Say) -> Layer | None:
    before = len(table.problems)
    if _refuse_layer_not_built(table):
        # What another shape would want instead is not to be asked for.
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
        table.problem("cut", "is given, but the layer has no depth; accepted is with one")
    skip = _skip(table, count)
    if count is not None and count > 1 and offset == 0:
        table.problem(
            "offset",
            f"found 0, where all {count} circles would be one; accepted with more than one circle is more than 0 mm",
        )
    if len(table.problems) > before or count is None or offset is None:
        return None
    if meeting is not None:
        radius = _solved_radius(table, count, effective_offset_mm(offset, height_mm), (meeting, tip, depth), say)
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
    """Return what is to meet, where that gives the radius; None where the radius is given, or a problem was noted."""
    meet = table.word("meet", MEETINGS)
    if meet is not None and "circle_radius" in table.data:
        table.problem("meet", "is given together with circle_radius; accepted is one of the two")
        return None
    return next((meeting for meeting in MEETINGS if meeting == meet), None)


def _solved_radius(
    table: Table, count: int, offset_mm: float, wanted: tuple[Meeting, Tip | None, float | None], say: Say
) -> float | None:
    """Return the radius at which neighbours meet as wanted, or note why there is none."""
    meeting, tip, depth_mm = wanted
    width_mm = 0.0
    if meeting == "grooves":
        if tip is None or depth_mm is None:
            table.problem("meet", 'found "grooves", which needs a cutter and depth to know the groove\'s width')
            return None
        width_mm = tip.groove_width_mm(depth_mm)
    try:
        return radius_to_touch_mm(offset_mm, count, width_mm, say)
    except PlanError as error:
        table.problem("meet", error.message)
        return None


def _skip(table: Table, count: int | None) -> frozenset[int]:
    items = table.items("skip", "a list of positions", most=MOST_CIRCLES)
    numbers = table.checked_wholes("skip", items, least=1, most=count or MOST_CIRCLES)
    found = frozenset(numbers)
    if len(found) < len(numbers):
        twice = next(number for number in numbers if numbers.count(number) > 1)
        table.problem("skip", f"found {twice} twice; accepted is every position once")
    if count is not None and len(found) >= count:
        table.problem("skip", f"found all {count} positions; accepted are at most {count - 1}")
    return found
