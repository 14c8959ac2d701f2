"""Reads one layer of a `pattern` operation: its places, sizes, cutter and depth."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, get_args

from core.lathe.lathe import Cutter
from core.operations.dividing.division import FULL_CIRCLE
from core.operations.dividing.job import read_start
from core.operations.patterns.condition_reading import Entered, needs_width, read_conditions, solved_fields
from core.operations.patterns.conditions import CONDITION_KEYS, MOST_COUNT
from core.operations.patterns.geometry import LengthText
from core.operations.patterns.layers import SHAPES, Layer, LayerPosition, Point, Shape
from core.values.errors import PlanError, QuantityError
from core.values.fields import Table
from core.values.plain_text import clean, quoted
from core.values.quantities import Kind, mm_text, read_quantity

MOST_POSITIONS = 20_000
"""The most positions of all layers together."""
FURTHEST_MM = 1_000
"""The largest x or y of a place, from the work's centre."""
_MOST_TURNS_DEG = 36_000

_RING = ("count", "start", "spread", "offset", "offset_step", "about", "repeat", "repeat_offset", "repeat_start")
_ALL = ("shape", "cutter", "depth", "depth_step", "cut", "skip")
KEYS_OF_SHAPE: Mapping[Shape, tuple[str, ...]] = {
    "circles": (*_ALL, *_RING, "at", "circle_radius", "circle_radius_step", *CONDITION_KEYS),
    "dots": (*_ALL, *_RING, "at"),
    "slots": (*_ALL, "count", "start", "spread", "from", "to", "offset_step"),
    "arcs": (*_ALL, *_RING, "at", "through"),
}
"""The keys that a layer of each shape may have."""
_KEYS = frozenset(key for keys in KEYS_OF_SHAPE.values() for key in keys)


@dataclass(frozen=True, kw_only=True)
class Surroundings:
    """The parts of the operation and the lathe that are needed to read a layer."""

    own_cutters: tuple[Cutter, ...]
    lathe_cutters: tuple[Cutter, ...]
    wrong_cutters: frozenset[str] = frozenset()
    """Names of the operation's cutters that have a problem."""
    height_error_mm: float = 0.0
    """The height error that changes distances on the work; 0 if the settings correct it."""
    to_text: LengthText = mm_text

    @property
    def cutters(self) -> Mapping[str, Cutter]:
        """All cutters that a layer may name, by name.

        A cutter of the operation replaces a lathe cutter of the same name.
        """
        return {cutter.name: cutter for cutter in (*self.lathe_cutters, *self.own_cutters)}

    @property
    def only_cutter(self) -> Cutter | None:
        """The cutter for a layer that names none; None unless exactly one cutter exists."""
        known = self.own_cutters or self.lathe_cutters
        return known[0] if len(known) == 1 else None


def read_layer(table: Table, number: int, around: Surroundings) -> Layer | None:
    """Return a layer from its table in a job file; None if the layer has a problem.

    `number`: the layer's number. `around`: the parts of the operation and the lathe that the layer needs.
    """
    before = len(table.problems)
    shape = table.word("shape", SHAPES, required=True)
    if shape is None:
        # This call refuses keys that no shape has. The shape decides about the other keys later.
        for key in _KEYS:
            table.has(key)
        table.refuse_unknown()
        return None
    known: Shape = next(one for one in get_args(Shape) if one == shape)
    _refuse_other_shapes(table, known)
    cutter = read_cutter_of(table, around)
    fields = _read_places(table) if "at" in table.data and known != "slots" else _read_ring(table, known)
    fields |= _read_sizes(table, known)
    fields |= _read_depths(table)
    entered = read_conditions(table, fields) if known == "circles" and "at" not in table.data else {}
    # Positions to skip can be checked only if the count is known.
    is_count_open = bool(entered) and fields["count"] is None
    skip = frozenset[int]() if is_count_open else _read_skip(table, fields)
    if entered and len(table.problems) == before:
        fields |= _solve(table, entered, fields | {"skip": skip}, cutter, around)
    if is_count_open:
        skip = _read_skip(table, fields)
    table.refuse_unknown()
    if len(table.problems) > before:
        return None
    layer = Layer(number=number, shape=known, cutter=cutter, skip=skip, **fields)
    _refuse_impossible_steps(table, layer)
    return layer if len(table.problems) == before else None


def place_key(layer: Layer) -> str:
    """Return the key in a layer's table that gives its positions: "at", "from" or "offset"."""
    if layer.at_mm:
        return "at"
    return "from" if layer.shape == "slots" else "offset"


def _refuse_other_shapes(table: Table, shape: Shape) -> None:
    """Record a problem for each key that belongs only to other shapes."""
    for key in table.data:
        if key in _KEYS and key not in KEYS_OF_SHAPE[shape]:
            table.has(key)
            *others, last = [one for one in SHAPES if key in KEYS_OF_SHAPE[one]]
            users = f"{', '.join(others)} and {last}" if others else last
            table.problem(
                key,
                f"This entry is only for {users}, but this layer has {shape}. Remove this entry, or change the shape.",
            )


def read_cutter_of(table: Table, around: Surroundings) -> Cutter | None:
    """Return a layer's cutter; None if the layer has none, or if the cutter has a problem."""
    named = table.text("cutter", longest=80)
    if named is not None:
        if named in around.cutters or named in around.wrong_cutters:
            return around.cutters.get(named)
        known = ", ".join(quoted(name) for name in around.cutters)
        advice = f"Enter one of these: {known}" if known else "Add it under [[operation.cutter]]"
        table.problem("cutter", f"There is no cutter {quoted(named)} here or in the lathe file. {advice}.")
    elif not table.has("cutter") and len(around.own_cutters) > 1:
        known = ", ".join(quoted(cutter.name) for cutter in around.own_cutters)
        table.problem("cutter", f"No cutter is named, but this pattern has several. Enter one of these: {known}.")
    return around.only_cutter


# The positions.


def _read_places(table: Table) -> dict[str, Any]:
    """Return the fields of a layer whose positions are listed one by one."""
    for key in (*_RING, *CONDITION_KEYS):
        if table.has(key):
            table.problem(key, 'This cannot be used together with "at", which lists the places. Remove one of the two.')
    # A dict keeps the order and finds a place quickly among thousands.
    places: dict[Point, None] = {}
    for number, item in enumerate(table.items("at", _PLACES, least=1, most=MOST_POSITIONS), start=1):
        place = _place(table, "at", item, f"Place {number}: ")
        if place is None:
            return {}
        if place in places:
            table.problem("at", f"Place {number} is already in the list. Enter every place once.")
            return {}
        places[place] = None
    return {"count": len(places), "at_mm": tuple(places)} if places else {}


_PLACES = 'a list of places such as [["10 mm", "0 mm"], ["-3 mm", "12.5 mm"]]'


def _place(table: Table, key: str, item: object, which: str = "") -> Point | None:
    """Return the point [mm] that a list of two lengths gives.

    For an invalid list, record a problem and return None. `which`: words that begin the message, such as the number of
    the item.
    """
    shown = clean(f"[{', '.join(map(quoted, item))}]", 60) if isinstance(item, list | tuple) else quoted(item)
    if not isinstance(item, list | tuple) or len(item) != 2:
        found = f"{shown} is not two lengths"
        table.problem(key, f'{which}{found}. Enter x and y from the work\'s centre, such as ["10 mm", "0 mm"].')
        return None
    x_mm, y_mm = (_quantity(table, key, part, "length", which) for part in item)
    if x_mm is None or y_mm is None:
        return None
    if max(abs(x_mm), abs(y_mm)) > FURTHEST_MM:
        table.problem(key, f"{which}{shown} is too far out. Enter at most {FURTHEST_MM} mm either way.")
        return None
    return float(x_mm), float(y_mm)


def _quantity(table: Table, key: str, item: object, kind: Kind, which: str = "") -> Fraction | None:
    try:
        return read_quantity(item, kind).value
    except QuantityError as error:
        table.problem(key, f"{which}{error.message}")
        return None


def _read_ring(table: Table, shape: Shape) -> dict[str, Any]:
    """Return the fields of a layer whose positions lie in a ring."""
    conditions = any(key in table.data for key in CONDITION_KEYS) and shape == "circles"
    count = table.whole("count", required=not conditions, least=1, most=MOST_COUNT)
    spread = table.quantity("spread", "angle", least=-_MOST_TURNS_DEG, most=_MOST_TURNS_DEG)
    ring: dict[str, Any] = {
        "count": count,
        "start_deg": read_start(table),
        "offset_step_mm": table.length("offset_step", least=-FURTHEST_MM, most=FURTHEST_MM) or 0.0,
    }
    if spread is not None:
        ring["spread_deg"] = spread.value
    if shape == "slots":
        ring["offset_mm"] = table.length("from", required=True, least=0, most=FURTHEST_MM)
        ring["to_offset_mm"] = table.length("to", required=True, least=-FURTHEST_MM, most=FURTHEST_MM)
        if ring["offset_mm"] is not None and ring["offset_mm"] == ring["to_offset_mm"]:
            table.problem("to", "The slot would start and end at the same place. Enter another offset, or use dots.")
        return ring
    ring["offset_mm"] = table.length("offset", required=not conditions, least=0, most=FURTHEST_MM)
    about = _place(table, "about", table.data["about"]) if table.has("about") else None
    return ring | ({} if about is None else {"about_mm": about}) | _read_repeats(table)


def _read_repeats(table: Table) -> dict[str, Any]:
    before = len(table.problems)
    repeat = table.whole("repeat", least=1, most=MOST_COUNT) or 1
    is_wrong = len(table.problems) > before
    offset_mm = table.length("repeat_offset", least=0, most=FURTHEST_MM)
    start = table.quantity("repeat_start", "angle", least=-360, most=360)
    if repeat > 1 and not offset_mm and (offset_mm is not None or "repeat_offset" not in table.data):
        found = "At 0 mm," if "repeat_offset" in table.data else "Missing. Without this offset,"
        table.problem(
            "repeat_offset", f"{found} all {repeat} rings would lie in one place. Enter a length such as 30 mm."
        )
    if repeat == 1 and not is_wrong:
        for key, value in (("repeat_offset", offset_mm), ("repeat_start", start and start.value)):
            if value:
                table.problem(
                    key, "This entry needs repeated rings. Enter a repeat of 2 or more, or remove this entry."
                )
    return {
        "repeat": repeat,
        "repeat_offset_mm": offset_mm or 0.0,
        "repeat_start_deg": Fraction(0) if start is None else start.value,
    }


# The sizes and depths.


def _read_sizes(table: Table, shape: Shape) -> dict[str, Any]:
    if shape == "circles":
        conditions = any(key in table.data for key in CONDITION_KEYS)
        return {
            "circle_radius_mm": table.length("circle_radius", required=not conditions, above=0, most=FURTHEST_MM),
            "circle_radius_step_mm": table.length("circle_radius_step", least=-FURTHEST_MM, most=FURTHEST_MM) or 0.0,
        }
    if shape == "arcs":
        through = table.quantity("through", "angle", required=True, above=0, most=360)
        return {} if through is None else {"through_deg": through.value}
    return {}


def _read_depths(table: Table) -> dict[str, Any]:
    """Return the fields for the depths, the depth step from position to position, and the greatest depth of a pass."""
    depths = read_depth(table)
    step_mm = table.length("depth_step", least=-100, most=100) or 0.0
    cut_mm = table.length("cut", above=0)
    for key in ("cut", "depth_step"):
        if table.has(key) and not table.has("depth"):
            table.problem(
                key, "This entry needs a depth, but the layer has none. Enter a depth too, or remove this entry."
            )
    return {"depths_mm": depths, "depth_step_mm": step_mm, "cut_mm": cut_mm}


def read_depth(table: Table) -> tuple[float, ...]:
    """Return the depths [mm] under the key `depth`, which holds one depth or a list; () without a valid depth."""
    if not table.has("depth") or not isinstance(table.data["depth"], list):
        depth_mm = table.length("depth", above=0)
        return () if depth_mm is None else (depth_mm,)
    depths = []
    for item in table.items("depth", 'a depth such as "0.4 mm", or a list of them', least=1, most=MOST_COUNT):
        depth = _quantity(table, "depth", item, "length")
        if depth is None:
            return ()
        if depth <= 0:
            table.problem("depth", f"{quoted(item)} is too small. Enter more than 0 mm.")
            return ()
        depths.append(float(depth))
    return tuple(depths)


# Values and problems that depend on several keys.


def _solve(
    table: Table, entered: Entered, fields: dict[str, Any], cutter: Cutter | None, around: Surroundings
) -> dict[str, Any]:
    """Return the fields that follow from the conditions.

    If the conditions cannot be solved, record the reason as a problem and return {}.
    """
    if cutter is None and around.cutters and needs_width(entered):
        known = ", ".join(quoted(name) for name in around.cutters)
        table.problem(
            "cutter", f"No cutter is named, but the condition needs the groove's width. Enter one of these: {known}."
        )
        return {}
    # In a ring about another point, a height error turns and shifts the ring. Its inner distances hardly change.
    is_central = fields.get("about_mm") in {None, (0.0, 0.0)} and fields["repeat"] == 1
    height_mm = around.height_error_mm if is_central else 0.0
    depth_mm = max(_depths_cut(fields), default=None)
    width_mm = None if cutter is None or depth_mm is None else cutter.groove_width_mm(depth_mm)
    try:
        return solved_fields(entered, fields, width_mm, height_mm, around.to_text)
    except PlanError as error:
        table.problem(error.field or next(iter(entered)), error.message)
        return {}


def _depths_cut(fields: Mapping[str, Any]) -> tuple[float, ...]:
    """Return the depths of the positions that are cut [mm]; all entered depths if the count is unknown."""
    depths: tuple[float, ...] = fields["depths_mm"]
    count, repeat, skip = fields["count"], fields["repeat"], fields["skip"]
    if not depths or count is None:
        return depths
    return tuple(
        depths[k % len(depths)] for k in range(count) if any(ring * count + k + 1 not in skip for ring in range(repeat))
    )


def _read_skip(table: Table, fields: Mapping[str, Any]) -> frozenset[int]:
    """Return the positions to skip. Problems with the count itself have already been recorded."""
    count = fields.get("count") and fields["count"] * fields.get("repeat", 1)
    items = table.items("skip", "a list of positions", most=MOST_POSITIONS)
    numbers = table.checked_wholes("skip", items, least=1, most=count or MOST_POSITIONS)
    skipped: set[int] = set()
    for number in numbers:
        if number in skipped:
            table.problem("skip", f"{number} is in the list twice. Enter every position once.")
            break
        skipped.add(number)
    if count and len(skipped) >= count:
        table.problem("skip", f"All {count} positions are skipped. Skip at most {count - 1}.")
    return frozenset(skipped)


def _refuse_impossible_steps(table: Table, layer: Layer) -> None:
    """Record a problem for too many positions, for sizes that fall to 0 or below, or for a cut that is repeated."""
    positions = layer.count * layer.repeat
    if positions > MOST_POSITIONS:
        table.problem(
            "repeat" if layer.repeat > 1 else "count",
            f"The layer has {positions} positions. Enter fewer: a pattern has at most {MOST_POSITIONS}.",
        )
        return
    ring = replace(layer, repeat=1).positions
    cut = [
        place for place in ring if any(k * layer.count + place.number not in layer.skip for k in range(layer.repeat))
    ]
    depths = [(place.number, place.depth_mm) for place in cut if place.depth_mm is not None]
    radii = [(place.number, place.circle_radius_mm) for place in cut if place.circle_radius_mm is not None]
    slots = [place.number for place in cut] if layer.shape == "slots" else []
    starts = [(number, layer.offset_mm + layer.offset_step_mm * (number - 1)) for number in slots]
    for key, values, least in (
        ("depth_step", depths, _NOTHING_MM),
        ("circle_radius_step", radii, _NOTHING_MM),
        # Past the table's axis a slot would run the other way. A ring may continue through its centre.
        ("offset_step", starts, -_NOTHING_MM),
    ):
        number = next((number for number, value in values if value < least), None)
        if number is not None:
            table.problem(
                key, f"At position {number} this size falls to 0 or below. Enter a smaller step, or fewer positions."
            )
            return
    _refuse_arcs_nowhere(table, layer)
    _refuse_same_cut(table, layer, cut)


_NOTHING_MM = 1e-6


def _refuse_arcs_nowhere(table: Table, layer: Layer) -> None:
    """Record a problem for an arc of radius 0 about the table's axis, because such an arc is only a dot."""
    on_axis = [place for place in layer.cut_positions if math.hypot(place.x_mm, place.y_mm) < _NOTHING_MM]
    if layer.shape == "arcs" and on_axis:
        words = f"Position {on_axis[0].number} lies on the table's axis, where an arc is only a dot"
        table.problem(place_key(layer), f"{words}. Enter a larger offset, or use dots.")


def _refuse_same_cut(table: Table, layer: Layer, ring: Sequence[LayerPosition]) -> None:
    """Record a problem if two positions of a ring are the same cut."""
    seen: dict[tuple[float, ...], int] = {}
    for position in ring:
        # A slot from the table's axis has the same start at every angle.
        angle_deg = float(position.angle_deg or 0) % 360 if layer.shape == "slots" else 0.0
        cut = (position.x_mm, position.y_mm, position.circle_radius_mm or 0.0, angle_deg)
        if layer.shape == "arcs" and layer.through_deg >= FULL_CIRCLE:
            # An arc of a full turn is the same groove from any start.
            cut = (math.hypot(position.x_mm, position.y_mm), 0.0, 0.0, 0.0)
        number = seen.setdefault(tuple(round(value, 6) + 0.0 for value in cut), position.number)
        if number == position.number:
            continue
        advice = "Enter another count, spread or step"
        if layer.offset_mm == 0 and not layer.offset_step_mm:
            advice = f"Enter an offset above 0 mm, or one position instead of {layer.count}"
        key = "spread" if "spread" in table.data and layer.offset_mm else place_key(layer)
        table.problem(key, f"Positions {number} and {position.number} would be the same cut. {advice}.")
        return
