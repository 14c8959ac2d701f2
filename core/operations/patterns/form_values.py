"""Values that a pattern's form calculates: the one empty field of three, and the skipped positions."""

import math
import re
from collections.abc import Iterable, Mapping
from functools import partial
from typing import Any, NamedTuple

from core.operations.patterns.geometry import Meeting, RingShape, Solved, effective_offset_mm, solve
from core.operations.patterns.job import MOST_CIRCLES, cutter_table, read_cutter
from core.values.dials import Unit
from core.values.errors import PlanError
from core.values.fields import Problem, Table
from core.values.plain_text import quoted
from core.values.quantities import MM_PER_INCH, length_text, number_text

OPEN = ("count", "offset", "circle_radius")


class FieldAnswer(NamedTuple):
    """The value for the field that the user left empty."""

    key: str
    text: str
    """The value as a user would enter it."""
    note: str
    """The text beside the field: what follows from the value."""


def open_field_answer(
    meeting: Meeting, layer: Mapping[str, Any], operation: Mapping[str, Any], unit: Unit = "mm"
) -> FieldAnswer | None:
    """Return the value of a layer's one empty field that makes its circles meet.

    None unless exactly one field is empty and the others can be read. Raises PlanError if there is no such
    layer; the message suggests values that make one.

    >>> open_field_answer("points", {"count": 6, "offset": "20 mm"}, {}).text
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
    to_text = partial(length_text, unit=unit)
    true_offset = None if offset is None else effective_offset_mm(offset, height)
    solved = solve(
        meeting,
        count=count,
        offset_mm=true_offset,
        circle_radius_mm=radius,
        groove_width_mm=width,
        to_text=to_text,
    )
    return _worded(still_open[0], solved, height, width, unit)


def _groove_mm(meeting: Meeting, layer: Table, operation: Table) -> float:
    """Return the width of the grooves [mm] if their edges must meet, else 0; raises PlanError."""
    if meeting != "grooves":
        return 0.0
    own, depth = cutter_table(operation), layer.length("depth", above=0)
    cutter = None if own is None else read_cutter(own)
    if cutter is None or depth is None:
        raise PlanError("The groove's width is not known. Enter the tip angle and the depth.")
    return cutter.groove_width_mm(depth)


def _worded(key: str, solved: Solved, height_mm: float, width_mm: float, unit: Unit) -> FieldAnswer:
    if key == "circle_radius":
        across = f"{length_text(2 * solved.circle_radius_mm, unit)} across"
        return FieldAnswer(key=key, text=_typed(solved.circle_radius_mm, unit), note=across)
    if key == "offset":
        offset = _nominal_offset_mm(solved.offset_mm, height_mm, unit)
        return FieldAnswer(
            key=key, text=_typed(offset, unit), note="travel of the cross-slide from where the axes meet"
        )
    if solved.count > MOST_CIRCLES:
        raise PlanError(
            f"{solved.count} circles would have room. Enter a larger radius or a smaller offset, "
            f"for at most {MOST_CIRCLES}."
        )
    return FieldAnswer(key=key, text=str(solved.count), note=_room_words(solved, width_mm, unit))


def _room_words(solved: Solved, width_mm: float, unit: Unit) -> str:
    shape = RingShape(count=solved.count, offset_mm=solved.offset_mm, circle_radius_mm=solved.circle_radius_mm)
    gap = -(shape.overlap_mm or 0.0) - width_mm
    if gap < 0.0005:
        return "exactly"
    return (
        f"{number_text(solved.exact_count, 3)} would just touch; {solved.count} leave gaps of {length_text(gap, unit)}"
    )


def _nominal_offset_mm(true_mm: float, height_mm: float, unit: Unit) -> float:
    """Return the travel of the cross-slide for a true distance of the axes, if one axis is higher."""
    if true_mm <= abs(height_mm):
        raise PlanError(
            f"The axes must be {length_text(true_mm, unit)} apart, but their height error alone is "
            f"{length_text(abs(height_mm), unit)}. Enter a larger radius, or shim the table level."
        )
    return math.sqrt(true_mm**2 - height_mm**2)


def _typed(length_mm: float, unit: Unit) -> str:
    """Return a length as text for a field, ten times finer than any dial."""
    if unit == "in":
        return f"{number_text(length_mm / float(MM_PER_INCH), 5)} in"
    return f"{number_text(length_mm, 4)} mm"


_BETWEEN = r"(?:\s*[,;]\s*|\s+)"
_NUMBERS = re.compile(rf"\d{{1,5}}(?:-\d{{1,5}})?(?:{_BETWEEN}\d{{1,5}}(?:-\d{{1,5}})?)*", re.ASCII)
_EVERY = re.compile(r"every\s+(\d{1,5})(?:st|nd|rd|th)?(?:\s+from\s+(\d{1,5}))?", re.ASCII | re.IGNORECASE)
_GROUPS = re.compile(r"(\d{1,5})\s+cut[\s,]+(\d{1,5})\s+(?:left(?:\s+out)?|skipped)", re.ASCII | re.IGNORECASE)
EXAMPLES = '"4, 8, 12-15", "every 4th", "every 4th from 1", or "3 cut, 2 skipped"'


def every_kth(count: int, step: int, first: int | None = None) -> tuple[int, ...]:
    """Return every `step`-th position, from `first` on (default: the `step`-th).

    >>> every_kth(12, 4)
    (4, 8, 12)
    """
    if not 2 <= step <= count:
        raise PlanError(
            f"Every {step} does not fit {count} positions. Enter every 2nd to every {count}th.", field="skip"
        )
    return tuple(range(step if first is None else first, count + 1, step))


def groups(count: int, cut: int, leave: int) -> tuple[int, ...]:
    """Return the skipped positions if `cut` positions are cut, then `leave` are skipped, repeated all round.

    >>> groups(10, 3, 2)
    (4, 5, 9, 10)
    """
    if cut < 1 or leave < 1 or cut + leave > count:
        raise PlanError(
            f"{cut} cut, {leave} skipped does not fit {count} positions. Enter at least 1 of each, together at most "
            f"{count}.",
            field="skip",
        )
    return tuple(number for number in range(1, count + 1) if (number - 1) % (cut + leave) >= cut)


def read_skip(text: str, count: int) -> tuple[int, ...]:
    """Return which of `count` positions an entry skips; raises PlanError if it cannot be read.

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
    """Return "5-7" as three numbers, "5" as one."""
    first, _, last = text.partition("-")
    if not last:
        return (int(first),)
    if not 1 <= int(first) < int(last) <= count:
        raise PlanError(
            f"{quoted(text)} is not a range here. Enter a smaller and a larger number from 1 to {count}, such as 5-7.",
            field="skip",
        )
    return range(int(first), int(last) + 1)
