"""Calculates values for the pattern form: the one size that is left empty, and the skipped positions."""

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from functools import partial
from typing import Any, NamedTuple

from core.lathe.lathe import Cutter
from core.lathe.reader import read_cutters
from core.operations.patterns.condition_reading import conditions_of, needs_width, read_conditions, slide_mm
from core.operations.patterns.conditions import (
    CONDITION_KEYS,
    MOST_COUNT,
    SIZE_KEYS,
    Condition,
    Envelope,
    Neighbours,
    Ring,
    Sizes,
    given_words,
    no_ring_words,
    refuse_contradictions,
    rings_of,
)
from core.operations.patterns.geometry import Meeting, effective_offset_mm
from core.operations.patterns.job import CUTTER_HEADER
from core.operations.patterns.layer_reading import Surroundings, read_cutter_of, read_depth
from core.values.dials import Unit
from core.values.errors import PlanError
from core.values.fields import Problem, Table
from core.values.plain_text import quoted
from core.values.quantities import MM_PER_INCH, length_text, number_text

_CONDITIONS: Mapping[Meeting, Mapping[str, Any]] = {
    "points": {"meet": "points"},
    "grooves": {"meet": "grooves"},
    "centre": {"inner": "0 mm"},
}
_DECIMALS: Mapping[Unit, int] = {"mm": 4, "in": 5}
"""Decimals of a suggested value. They are ten times finer than any dial."""
_EXACT_MM = 1e-10


class FieldAnswer(NamedTuple):
    """The value for the field that the user left empty."""

    key: str
    text: str
    """The value as a user would enter it."""
    note: str
    """The text next to the field about the result of the value."""


def open_field_answer(
    wanted: Meeting | Mapping[str, Any],
    layer: Mapping[str, Any],
    operation: Mapping[str, Any],
    unit: Unit = "mm",
    cutters: Sequence[Cutter] = (),
) -> FieldAnswer | None:
    """Return the value for the one empty size of a layer, calculated from a condition.

    `wanted`: what must meet, or a condition as in a job file ({"land": "0.5 mm"}). `unit`: the unit of the answer.
    `cutters`: the cutters of the lathe. A radius is rounded down and an offset up, so that circles that should touch
    never cross. Return None unless exactly one size is empty and the others are valid. Raises PlanError if no size
    satisfies the condition. The message suggests values.

    >>> open_field_answer("points", {"count": 6, "offset": "20 mm"}, {}).text
    '10 mm'
    """
    condition = _CONDITIONS[wanted] if isinstance(wanted, str) else wanted
    still_open = [key for key in SIZE_KEYS if key not in layer]
    if len(still_open) != 1 or any(key in layer for key in CONDITION_KEYS):
        return None
    problems: list[Problem] = []
    layer_table, table = Table({**layer, **condition}, "", problems), Table(operation, "", problems)
    height = table.length("height_error", least=-100, most=100) or 0.0
    if table.flag("correct", False):
        height = 0.0
    offset = layer_table.length("offset", above=0)
    sizes = Sizes(
        layer_table.whole("count", least=1, most=MOST_COUNT),
        None if offset is None else effective_offset_mm(offset, height),
        layer_table.length("circle_radius", above=0),
    )
    entered = read_conditions(layer_table, {})
    width = _groove_mm(layer_table, table, cutters) if needs_width(entered) else None
    if problems or len(entered) != 1:
        return None
    (one,) = conditions_of(entered, width)
    if sizes.count is None and isinstance(one, Envelope):
        return None
    return _worded(still_open[0], one, _solved(one, sizes, height, unit), height, unit)


def _groove_mm(layer: Table, operation: Table, owned: Sequence[Cutter]) -> float | None:
    """Return the width of the layer's grooves [mm]; None if the cutter or the depth is unknown."""
    around = Surroundings(own_cutters=read_cutters(operation, CUTTER_HEADER), lathe_cutters=tuple(owned))
    cutter, depths = read_cutter_of(layer, around), read_depth(layer)
    return cutter.groove_width_mm(max(depths)) if cutter is not None and depths else None


def _solved(condition: Condition, sizes: Sizes, height_mm: float, unit: Unit) -> Ring:
    refuse_contradictions([condition], sizes)
    rings = rings_of([condition], sizes, height_mm)
    if not rings:
        to_text = partial(length_text, unit=unit)
        raise PlanError(no_ring_words([condition], sizes, height_mm, to_text))
    return rings[0]


def _worded(key: str, condition: Condition, ring: Ring, height_mm: float, unit: Unit) -> FieldAnswer:
    if key == "circle_radius":
        across = f"{length_text(2 * ring.circle_radius_mm, unit)} across"
        return FieldAnswer(key=key, text=_typed(ring.circle_radius_mm, unit, up=False), note=across)
    if key == "offset":
        # A larger offset keeps neighbours apart, but an outer radius must not be exceeded.
        up = not (isinstance(condition, Envelope) and condition.is_outer)
        return FieldAnswer(
            key=key,
            text=_typed(slide_mm(ring, height_mm), unit, up=up),
            note="travel of the cross-slide from where the axes meet",
        )
    count = math.floor(ring.count + 1e-9)
    if count > MOST_COUNT:
        raise PlanError(
            f"There is room for {count} circles; at most {MOST_COUNT} are allowed. Enter a larger radius or a smaller "
            "offset."
        )
    return FieldAnswer(key=key, text=str(count), note=_room_words(condition, ring, count, unit))


def _room_words(condition: Condition, ring: Ring, count: int, unit: Unit) -> str:
    whole = Ring(count, ring.distance_mm, ring.circle_radius_mm)
    gap_mm = condition.miss_mm(whole)
    if gap_mm < 0.0005 or not isinstance(condition, Neighbours):
        return "exactly"
    exact = number_text(ring.count, 3)
    if condition.key in {"meet", "touches"}:
        return f"{exact} would just touch; {count} leave gaps of {length_text(gap_mm, unit)}"
    return f"{exact} would be exact; {count} {given_words(condition, whole, partial(length_text, unit=unit))}"


def _typed(length_mm: float, unit: Unit, *, up: bool) -> str:
    """Return a length as text for a field, ten times more finely than any dial can be set.

    `up`: whether to round up instead of down.
    """
    finest = 10 ** _DECIMALS[unit]
    size = length_mm / (float(MM_PER_INCH) if unit == "in" else 1.0)
    # A result of 9.999999999999998 means 10.
    steps = math.ceil((size - _EXACT_MM) * finest) if up else math.floor((size + _EXACT_MM) * finest)
    return f"{number_text(steps / finest, _DECIMALS[unit])} {unit}"


_BETWEEN = r"(?:\s*[,;]\s*|\s+)"
_NUMBERS = re.compile(rf"\d{{1,5}}(?:-\d{{1,5}})?(?:{_BETWEEN}\d{{1,5}}(?:-\d{{1,5}})?)*", re.ASCII)
_EVERY = re.compile(r"every\s+(\d{1,5})(?:st|nd|rd|th)?(?:\s+from\s+(\d{1,5}))?", re.ASCII | re.IGNORECASE)
_GROUPS = re.compile(r"(\d{1,5})\s+cut[\s,]+(\d{1,5})\s+(?:left(?:\s+out)?|skipped)", re.ASCII | re.IGNORECASE)
EXAMPLES = '"4, 8, 12-15", "every 4th", "every 4th from 1", or "3 cut, 2 skipped"'


def every_kth(count: int, step: int, first: int | None = None) -> tuple[int, ...]:
    """Return every `step`-th of `count` positions, beginning with `first`, or with the `step`-th by default.

    >>> every_kth(12, 4)
    (4, 8, 12)
    """
    if not 2 <= step <= count:
        raise PlanError(
            f"Skipping one in every {step} positions is not possible with {count} positions. Enter a step from 2 to "
            f'{count}, such as "every 2nd".',
            field="skip",
        )
    return tuple(range(step if first is None else first, count + 1, step))


def groups(count: int, cut: int, leave: int) -> tuple[int, ...]:
    """Return the skipped positions among `count`, if `cut` positions are cut, the next `leave` are skipped, and so on.

    >>> groups(10, 3, 2)
    (4, 5, 9, 10)
    """
    if cut < 1 or leave < 1 or cut + leave > count:
        raise PlanError(
            f"{cut} cut and {leave} skipped positions do not fit into {count} positions. Enter at least 1 of each, "
            f"and together at most {count}.",
            field="skip",
        )
    return tuple(number for number in range(1, count + 1) if (number - 1) % (cut + leave) >= cut)


def read_skip(text: str, count: int) -> tuple[int, ...]:
    """Return the numbers of the positions that a field's text skips. Raises PlanError for an invalid text.

    `count`: the number of all positions of the layer.

    >>> read_skip("2, 5-7", 12), read_skip("every 4th", 12), read_skip("3 cut, 2 skipped", 10)
    ((2, 5, 6, 7), (4, 8, 12), (4, 5, 9, 10))
    """
    text = text.strip()
    if match := _EVERY.fullmatch(text):
        return every_kth(count, int(match[1]), None if match[2] is None else int(match[2]))
    if match := _GROUPS.fullmatch(text):
        return groups(count, int(match[1]), int(match[2]))
    numbers = re.sub(r"\s*-\s*", "-", text)
    if not _NUMBERS.fullmatch(numbers):
        raise PlanError(f"{quoted(text)} does not say which positions to skip. Enter {EXAMPLES}.", field="skip")
    return tuple(number for part in re.split(_BETWEEN, numbers) for number in _span(part, count))


def _span(text: str, count: int) -> Iterable[int]:
    """Return the numbers from 5 to 7 for "5-7", and one number for "5". `count`: the highest number allowed."""
    first, _, last = text.partition("-")
    if not last:
        return (int(first),)
    if not 1 <= int(first) < int(last) <= count:
        raise PlanError(
            f"{quoted(text)} is not a range of positions. Enter a smaller and a larger number from 1 to {count}, such "
            "as 5-7.",
            field="skip",
        )
    return range(int(first), int(last) + 1)
