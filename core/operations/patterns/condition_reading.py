"""Reads the conditions of a layer, and works out the layer's count, offset or circle radius from them."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from core.operations.dividing.division import FULL_CIRCLE
from core.operations.patterns.conditions import (
    CONDITION_KEYS,
    MOST_COUNT,
    SIZE_KEYS,
    Condition,
    Envelope,
    Neighbours,
    Ring,
    Sizes,
    quoted,
    solve_conditions,
)
from core.operations.patterns.geometry import LengthText, effective_offset_mm
from core.values.errors import PlanError
from core.values.fields import Table

MEETINGS = ("points", "grooves")
_MOST_MM = 1_000
_STEPS = ("offset_step", "circle_radius_step", "depth_step")
_NEED_WIDTH = ("land", "inner_edge", "outer_edge")
_EXAMPLES = {"count": "a whole number such as 36", "offset": "a length such as 20 mm"}

Entered = Mapping[str, Any]
"""The conditions of a layer by key: a word, a length [mm] or a count."""


def read_conditions(table: Table, fields: Mapping[str, Any]) -> Entered:
    """Return the conditions that a layer's table states; {} if it states none, or if one of them has a problem.

    `fields`: the fields of the Layer that were read before the conditions.
    """
    before = len(table.problems)
    entered: dict[str, Any] = {
        "meet": table.word("meet", MEETINGS),
        "overlap": table.length("overlap", least=-_MOST_MM, most=_MOST_MM),
        "land": table.length("land", least=0, most=_MOST_MM),
        "touches": table.whole("touches", least=1, most=MOST_COUNT // 2),
        **{key: table.length(key, least=0, most=_MOST_MM) for key in ("inner", "inner_edge")},
        **{key: table.length(key, above=0, most=_MOST_MM) for key in ("outer", "outer_edge")},
    }
    keys = [key for key in CONDITION_KEYS if key in table.data]
    if keys and len(table.problems) == before:
        _check_places(table, keys)
        _check_shape(table, keys[0], fields)
    return {key: entered[key] for key in keys} if len(table.problems) == before else {}


def _check_places(table: Table, keys: Sequence[str]) -> None:
    """Record a problem unless there are at most two conditions and as many missing sizes as conditions.

    `keys`: the keys of the conditions. The sizes are count, offset and circle radius.
    """
    missing = [key for key in SIZE_KEYS if key not in table.data]
    if len(keys) > 2:
        table.problem(keys[2], f"{quoted(keys)} are all entered. Keep at most two of them.")
    elif not missing:
        table.problem(
            keys[0],
            f"{quoted(SIZE_KEYS)} are all entered, so nothing is left to work out from {quoted(keys)}. "
            "Remove one entry.",
        )
    elif len(missing) < len(keys):
        table.problem(
            keys[1],
            f'"{keys[0]}" alone gives the {_plain(missing[0])}. Remove one of the two conditions, or another size.',
        )
    else:
        for key in missing[: len(missing) - len(keys)]:
            table.problem(key, f"Missing. Enter {_EXAMPLES[key]}.")


def _plain(key: str) -> str:
    return key.replace("_", " ")


def _check_shape(table: Table, key: str, fields: Mapping[str, Any]) -> None:
    """Record a problem for a ring with a condition whose circles are not equal or not spread over 360 deg.

    `key`: the key of the condition. `fields`: the fields of the Layer read so far.
    """
    if fields.get("spread_deg", FULL_CIRCLE) != FULL_CIRCLE:
        table.problem(
            key,
            'This condition needs circles spread over 360 deg. Remove "spread", or enter the size itself instead of '
            "the condition.",
        )
    for step in _STEPS:
        if fields.get(f"{step}_mm"):
            table.problem(key, f'This condition needs equal circles. Remove this condition or "{step}".')


def needs_width(entered: Entered) -> bool:
    """Return whether any of the conditions concerns the edges of grooves, which requires the groove's width."""
    return any(key in _NEED_WIDTH or value == "grooves" for key, value in entered.items())


def conditions_of(entered: Entered, width_mm: float | None) -> tuple[Condition, ...]:
    """Return the entered conditions as relations between the sizes of a ring.

    `width_mm`: the groove's width at the face [mm]; None if it is unknown. Raises PlanError if a condition needs the
    width and the width is unknown.
    """
    if width_mm is None and needs_width(entered):
        raise PlanError(
            "The groove's width is not known. Enter a depth, and a cutter with its tip angle.",
            field=next(key for key in entered if needs_width({key: entered[key]})),
        )
    return tuple(_condition(key, value, (width_mm or 0.0) / 2) for key, value in entered.items())


def _condition(key: str, value: Any, half_mm: float) -> Condition:
    match key:
        case "meet":
            return Neighbours(key, half_room_mm=half_mm if value == "grooves" else 0.0)
        case "overlap":
            return Neighbours(key, half_room_mm=-value / 2, entered_mm=value)
        case "land":
            return Neighbours(key, half_room_mm=half_mm + value / 2, entered_mm=value)
        case "touches":
            return Neighbours(key, apart=value)
        case "inner_edge":
            return Envelope(key, is_outer=False, tip_line_mm=value + half_mm)
        case "outer_edge":
            return Envelope(key, is_outer=True, tip_line_mm=value - half_mm)
    return Envelope(key, is_outer=key == "outer", tip_line_mm=value)


def solved_fields(
    entered: Entered, fields: Mapping[str, Any], width_mm: float | None, height_error_mm: float, to_text: LengthText
) -> dict[str, Any]:
    """Return the fields that the conditions of a layer determine.

    These are count, offset, circle radius, the names of the conditions, and a note on a second ring. `entered`: the
    conditions. `fields`: the fields of the Layer, with None for each missing size. `width_mm`: the groove's width at
    its greatest depth [mm]; None if it is unknown. `height_error_mm`: the height error between the axes of table and
    spindle [mm]. `to_text` returns a length [mm] as text. Raises PlanError if no ring satisfies the conditions.
    """
    offset_mm = fields["offset_mm"]
    sizes = Sizes(
        fields["count"],
        None if offset_mm is None else effective_offset_mm(offset_mm, height_error_mm),
        fields["circle_radius_mm"],
    )
    solution = solve_conditions(conditions_of(entered, width_mm), sizes, height_error_mm, to_text)
    keys, note = " and ".join(entered), ""
    if solution.others:
        other = _size_words(solution.others[0], sizes, height_error_mm, to_text)
        note = f"Another ring fits too, with {other}. To cut that ring, enter its sizes instead of the condition."
    return {
        "count": solution.count,
        "offset_mm": slide_mm(solution.ring, height_error_mm) if offset_mm is None else offset_mm,
        "circle_radius_mm": solution.ring.circle_radius_mm,
        "condition": keys,
        "condition_note": note,
    }


def slide_mm(ring: Ring, height_error_mm: float) -> float:
    """Return the offset to set on the slide for a ring [mm].

    If the axes differ in height, the offset is less than the distance of the circles from the ring's centre.
    """
    if not height_error_mm:
        return ring.distance_mm
    return math.sqrt(max(0.0, ring.distance_mm**2 - height_error_mm**2))


def _size_words(ring: Ring, sizes: Sizes, height_error_mm: float, to_text: LengthText) -> str:
    words = {
        "count": f"a count of {round(ring.count)}",
        "offset": f"an offset of {to_text(slide_mm(ring, height_error_mm))}",
        "circle_radius": f"a circle radius of {to_text(ring.circle_radius_mm)}",
    }
    return " and ".join(words[key] for key in sizes.open_keys)
