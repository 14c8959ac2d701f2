"""Counts the changes between the layers of a pattern, from the steps of a card and for every other order."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise, permutations
from typing import Any, NamedTuple

from tests.core.operations.patterns.outside.job_files import Tables, deg
from tests.core.operations.patterns.outside.machine import TABLE
from tests.core.operations.patterns.outside.wanted import all_wanted, cutter_of, settings

Step = Mapping[str, Any]


class Needs(NamedTuple):
    """The tools and settings that a layer needs, with its first and last slide position."""

    layer: int
    cutter: str
    with_head: bool
    tip_angle_deg: float
    radius_first_mm: float
    radius_last_mm: float
    slide_first_mm: float
    slide_last_mm: float
    plates: frozenset[int]
    """Numbers of the dividing plates that will do; none by dial."""


class Changes(NamedTuple):
    """The number of each kind of change after the first mounting, the most important kind first."""

    cutter: int
    """A cutter in another holder counts: it is taken out, and touched off again."""
    head: int
    plate: int
    slide: int


def needs_of(operation: Tables, lathe: Tables) -> dict[int, Needs]:
    """Return the needs of each layer."""
    found = {}
    for number, layer in enumerate(operation["layer"], start=1):
        wanted = [one for one in all_wanted(operation) if one.layer == number]
        cutter = cutter_of(operation, layer, lathe)
        slides = [settings(operation, one).slide_mm for one in (wanted[0], wanted[-1])]
        if layer["shape"] == "slots":
            slides[1] = wanted[-1].to_offset_mm
        found[number] = Needs(
            number,
            cutter["name"],
            layer["shape"] == "circles",
            float(deg(cutter["tip_angle"])),
            wanted[0].radius_mm,
            wanted[-1].radius_mm,
            *slides,
            best_plates(layer, lathe["rotary_table"]) if operation.get("with") == "plate" else frozenset(),
        )
    return found


def best_plates(layer: Tables, table: Tables) -> frozenset[int]:
    """Return every plate with a circle that divides an even ring with the least worst error."""
    start, turn = deg(layer.get("start", "0 deg")), Fraction(table["ratio"], 360)
    places = [(start + Fraction(360 * k, layer["count"])) * turn for k in range(layer["count"])]
    worst = {
        (number, circle): max(abs(place - Fraction(round(place * circle), circle)) for place in places)
        for number, plate in enumerate(table["plates"], start=1)
        for circle in plate
    }
    least = min(worst.values())
    return frozenset(number for (number, _), error in worst.items() if error == least)


def plates_used(steps: Sequence[Step], table: Tables) -> list[int]:
    """Return the plate of every index step, by its hole circle. No circle is on two plates."""
    numbers = {circle: number for number, plate in enumerate(table["plates"], start=1) for circle in plate}
    used = []
    for step in steps:
        if step["action"] == "index":
            used += [numbers[one["circle"]] for one in step["settings"] if one["dial"] == TABLE and "circle" in one]
    return used


def order_cut(steps: Sequence[Step]) -> list[int]:
    """Return the layers in the order of their first cut."""
    return list(dict.fromkeys(step["layer"] for step in steps if step["action"] == "cut"))


def changes(order: Sequence[Needs]) -> Changes:
    """Return the changes for an order of layers."""
    return Changes(
        cutter=sum((one.cutter, one.with_head) != (other.cutter, other.with_head) for one, other in pairwise(order)),
        head=_head_changes(order),
        plate=_plate_changes([needs.plates for needs in order]),
        slide=sum(abs(one.slide_last_mm - other.slide_first_mm) > 1e-9 for one, other in pairwise(order)),
    )


def _head_changes(order: Sequence[Needs]) -> int:
    """Return the number of times that the head gets another radius.

    A cutter that is put into the head needs a trial circle at any radius, so that setting counts as part of the cutter
    change. A head that is put aside with its cutter keeps its radius until that cutter moves to the collet.
    """
    cutter, radius_mm, changed = "", 0.0, 0
    for needs in order:
        if not needs.with_head:
            cutter = "" if cutter == needs.cutter else cutter
            continue
        changed += cutter == needs.cutter and abs(needs.radius_first_mm - radius_mm) > 1e-9
        cutter, radius_mm = needs.cutter, needs.radius_last_mm
    return changed


def _plate_changes(choices: Sequence[frozenset[int]]) -> int:
    """Return the fewest plate changes. Each plate stays for as many layers as possible."""
    on, changed = frozenset[int](), 0
    for plates in choices:
        if on and not on & plates:
            changed, on = changed + 1, plates
        else:
            on = on & plates if on else plates
    return changed


def best_changes(needs: Mapping[int, Needs], layer_order: str) -> Changes:
    """Return the fewest changes of all allowed orders. With "wide first", no wider cutter follows an acute one."""
    return min(changes(order) for order in allowed_orders(needs, layer_order))


def allowed_orders(needs: Mapping[int, Needs], layer_order: str) -> Iterator[Sequence[Needs]]:
    """Yield every order of layers that the layer order option allows."""
    for order in permutations(needs.values()):
        falls = all(one.tip_angle_deg >= other.tip_angle_deg for one, other in pairwise(order))
        if layer_order == "fewest changes" or (layer_order == "wide first" and falls):
            yield order
