"""A `rings` operation as its tables say it."""

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

MOST_RINGS = 12
MOST_CIRCLES = 360
TOUCHING: tuple[Meeting, ...] = ("touch", "touch grooves")
USUAL_DEPTH_DIAL = "saddle"


class Tip(NamedTuple):
    """The cutter's point: included angle [deg] and flat [mm]."""

    angle_deg: float
    flat_mm: float = 0.0

    def groove_width_mm(self, depth_mm: float) -> float:
        """Return the width of its groove at the face [mm]."""
        return groove_width_mm(self.angle_deg, self.flat_mm, depth_mm)


@dataclass(frozen=True, kw_only=True)
class Ring:
    """One ring as wanted. Lengths in mm, angles exact in degrees."""

    number: int
    count: int
    offset_mm: float
    """By the cross-slide; travel from the spindle axis to the table's."""
    cutter_radius_mm: float
    meeting: Meeting | None = None
    """What the radius was solved for, None where it was given."""
    start_deg: Fraction = Fraction(0)
    depth_mm: float | None = None
    left_out: frozenset[int] = frozenset()


class RingsJob(NamedTuple):
    """Rings of circles on one face. Lengths in mm."""

    rings: tuple[Ring, ...]
    tip: Tip | None = None
    axis_height_error_mm: float = 0.0
    blank_diameter_mm: float | None = None
    face_runout_mm: float | None = None
    """Total indicator reading of the face; None where it was not read."""
    face_radius_mm: float | None = None
    """Radius at which it was read; None: as far out as each ring reaches."""
    depth_dial: str = USUAL_DEPTH_DIAL
    cut_mm: float | None = None
    """Most depth a pass; None: each ring in one."""
    order: Order = "round"
    way: Way = "dial"

    def shape(self, ring: Ring) -> RingShape:
        """Return a ring as it comes out on the work, axis height error included."""
        turned = turned_by_deg(ring.offset_mm, self.axis_height_error_mm) if self.axis_height_error_mm else 0.0
        width = None
        if self.tip is not None and ring.depth_mm is not None:
            width = self.tip.groove_width_mm(ring.depth_mm)
        return RingShape(
            count=ring.count,
            offset_mm=effective_offset_mm(ring.offset_mm, self.axis_height_error_mm),
            cutter_radius_mm=ring.cutter_radius_mm,
            groove_width_mm=width,
            start_deg=float(ring.start_deg) + turned,
            left_out=ring.left_out,
        )

    @property
    def patterns_deg(self) -> tuple[tuple[Fraction, ...], ...]:
        """Every ring's positions from the table's zero, exact [deg]."""
        return tuple(even_targets_deg(ring.count, ring.start_deg) for ring in self.rings)

    @property
    def shapes(self) -> tuple[RingShape, ...]:
        """Every ring as it comes out on the work."""
        return tuple(self.shape(ring) for ring in self.rings)


def read_rings(table: Table, lathe: Lathe) -> RingsJob | None:
    """Read a `rings` operation; None where a problem was noted."""
    before = len(table.problems)
    tip = _tip(table)
    height = table.length("axis_height_error", least=-100, most=100) or 0.0
    blank = table.length("blank_diameter", above=0)
    face, face_radius = table.length("face_runout", least=0, most=10), table.length("face_radius", above=0)
    if table.has("face_radius") and not table.has("face_runout"):
        table.problem("face_radius", "is given without face_runout; accepted is with it")
    cut = table.length("cut", above=0)
    order = table.word("order", ORDERS)
    rotary = rotary_table(table, lathe, "ring")
    rings = _rings(table, tip, height, lathe.say)
    depth_dial = _depth_dial(table, lathe, rings, len(table.problems) > before)
    way = read_way(table, lathe, rotary)
    if len(table.problems) > before or way is None:
        return None
    return RingsJob(
        rings=rings,
        tip=tip,
        axis_height_error_mm=height,
        blank_diameter_mm=blank,
        face_runout_mm=face,
        face_radius_mm=face_radius,
        depth_dial=depth_dial,
        cut_mm=cut,
        order="position" if order == "position" else "round",
        way=way,
    )


def _tip(table: Table) -> Tip | None:
    angle = table.angle("tip_angle", above=0, most=175)
    flat = table.length("tip_flat", least=0)
    if angle is None:
        if flat and not table.has("tip_angle"):
            table.problem("tip_flat", "is given without tip_angle; accepted is with it")
        return None
    return Tip(angle_deg=angle, flat_mm=flat or 0.0)


def _depth_dial(table: Table, lathe: Lathe, rings: tuple[Ring, ...], wrong: bool) -> str:
    named = read_depth_dial(table, lathe)
    deep = any(ring.depth_mm is not None for ring in rings)
    if deep and not table.has("depth_dial") and USUAL_DEPTH_DIAL not in lathe.dials:
        known = ", ".join(lathe.dials) or "none"
        table.problem("depth_dial", f'is missing, and this lathe has no "saddle"; accepted are its dials: {known}')
    if not deep and not wrong:
        for key in ("cut", "depth_dial"):
            if table.has(key):
                table.problem(key, "is given, but no ring has a depth; accepted is with one")
    return named or USUAL_DEPTH_DIAL


def _rings(table: Table, tip: Tip | None, height_mm: float, say: Say) -> tuple[Ring, ...]:
    items = table.items("ring", "tables [[operation.ring]]", least=1, most=MOST_RINGS)
    if not table.has("ring"):
        table.problem("ring", "is missing; wanted is at least one table [[operation.ring]]")
    rings = []
    for number, data in enumerate(items, start=1):
        if not isinstance(data, Mapping):
            table.problem("ring", f"found {quoted(data)}; accepted are tables [[operation.ring]]")
            continue
        ring_table = Table(data, f"{table.where}, ring {number}", table.problems)
        ring = _ring(ring_table, number, tip, height_mm, say)
        ring_table.refuse_unknown()
        if ring is not None:
            rings.append(ring)
    return tuple(rings)


def _ring(table: Table, number: int, tip: Tip | None, height_mm: float, say: Say) -> Ring | None:
    before = len(table.problems)
    count = table.whole("count", required=True, least=1, most=MOST_CIRCLES)
    offset = table.length("offset", required=True, least=0)
    radius = _cutter_radius(table)
    start = read_start(table)
    depth = table.length("depth", above=0)
    left_out = _left_out(table, count)
    if count is not None and count > 1 and offset == 0:
        table.problem(
            "offset",
            f"found 0, where all {count} circles would be one; accepted with more than one circle is more than 0 mm",
        )
    if len(table.problems) > before or count is None or offset is None or radius is None:
        return None
    if isinstance(radius, float):
        meeting, radius_mm = None, radius
    else:
        meeting = radius
        solved = _solved_radius(table, count, effective_offset_mm(offset, height_mm), (meeting, tip, depth), say)
        if solved is None:
            return None
        radius_mm = solved
    return Ring(
        number=number,
        count=count,
        offset_mm=offset,
        cutter_radius_mm=radius_mm,
        meeting=meeting,
        start_deg=start,
        depth_mm=depth,
        left_out=left_out,
    )


def _cutter_radius(table: Table) -> float | Meeting | None:
    found: Any = table.data.get("cutter_radius")
    if isinstance(found, str) and found[:1].isalpha():
        table.has("cutter_radius")
        for meeting in TOUCHING:
            if found == meeting:
                return meeting
        table.problem(
            "cutter_radius",
            f'found {quoted(found)}; accepted is a length such as "12 mm", or "touch", or "touch grooves"',
        )
        return None
    return table.length("cutter_radius", required=True, above=0)


def _solved_radius(
    table: Table, count: int, offset_mm: float, wanted: tuple[Meeting, Tip | None, float | None], say: Say
) -> float | None:
    """Return the radius at which neighbours meet as wanted, or note why there is none."""
    meeting, tip, depth_mm = wanted
    width_mm = 0.0
    if meeting == "touch grooves":
        if tip is None or depth_mm is None:
            table.problem(
                "cutter_radius", 'found "touch grooves", which needs tip_angle and depth to know the groove\'s width'
            )
            return None
        width_mm = tip.groove_width_mm(depth_mm)
    try:
        return radius_to_touch_mm(offset_mm, count, width_mm, say)
    except PlanError as error:
        table.problem("cutter_radius", error.message)
        return None


def _left_out(table: Table, count: int | None) -> frozenset[int]:
    items = table.items("left_out", "a list of positions", most=MOST_CIRCLES)
    numbers = table.checked_wholes("left_out", items, least=1, most=count or MOST_CIRCLES)
    found = frozenset(numbers)
    if len(found) < len(numbers):
        twice = next(number for number in numbers if numbers.count(number) > 1)
        table.problem("left_out", f"found {twice} twice; accepted is every position once")
    if count is not None and len(found) >= count:
        table.problem("left_out", f"found all {count} positions; accepted are at most {count - 1}")
    return found
