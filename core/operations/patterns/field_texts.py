"""Converts the lists of a layer (depths, a point, places, skipped positions) to the text of a field, and back."""

import math
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from core.operations.form import with_unit
from core.operations.patterns.form_values import read_skip
from core.operations.patterns.layers import Layer
from core.values.dials import Unit
from core.values.errors import PlanError
from core.values.plain_text import quoted
from core.values.quantities import MM_PER_INCH, number_text

_BETWEEN_LENGTHS = re.compile(r"\s*;\s*|,\s+")
"""A comma without a space after it is a decimal comma."""
_MOST_POSITIONS = 20_000
PLACES_EXAMPLE = '"10, 0; -3, 12.5"'


def text_of(value: object) -> str:
    """Return a value from a job file as text for its field in the pattern form.

    >>> text_of([["10 mm", "0 mm"], ["-3 mm", "12.5 mm"]]), text_of(["0.6 mm", "0.3 mm"]), text_of([4, 8])
    ('10 mm, 0 mm; -3 mm, 12.5 mm', '0.6 mm, 0.3 mm', '4, 8')
    """
    if not isinstance(value, list | tuple):
        return str(value)
    nested = any(isinstance(item, list | tuple) for item in value)
    return ("; " if nested else ", ").join(text_of(item) for item in value)


def _depths(text: str, unit: str, count: int | None) -> str | list[str]:
    parts = [with_unit(part, unit) for part in _BETWEEN_LENGTHS.split(text) if part]
    return parts[0] if len(parts) == 1 else parts


def _point(text: str, unit: str, count: int | None = None) -> list[str]:
    parts = [part for part in re.split(r",\s+", text.strip()) if part]
    if len(parts) == 1 and len(text.split()) == 2:
        parts = text.split()
    if len(parts) != 2:
        raise PlanError(f'{quoted(text)} is not two lengths. Enter x and y from the work\'s centre, such as "10, 0".')
    return [with_unit(part, unit) for part in parts]


def _places(text: str, unit: str, count: int | None) -> list[list[str]]:
    places = [part for part in text.split(";") if part.strip()]
    if len(places) == 1 and len(_BETWEEN_LENGTHS.split(text)) > 2:
        raise PlanError(f"Enter x and y of each place, with ; between the places, such as {PLACES_EXAMPLE}.")
    return [_point(place, unit) for place in places]


def _skip(text: str, unit: str, count: int | None) -> list[int]:
    return list(read_skip(text, count or _MOST_POSITIONS))


_READERS: Mapping[str, Callable[[str, str, int | None], Any]] = {
    "depth": _depths,
    "about": _point,
    "at": _places,
    "skip": _skip,
}


def value_of(key: str, text: str, unit: str = "", count: int | None = None) -> Any:
    """Return the value of a form field's text, as a job file holds it. Raises PlanError for an invalid list.

    A number without a unit gets `unit`. `count`: the number of positions; None if it is unknown.

    >>> value_of("at", "10, 0; -3, 12.5", "mm"), value_of("depth", "0.6, 0.3", "mm"), value_of("offset", "20", "mm")
    ([['10 mm', '0 mm'], ['-3 mm', '12.5 mm']], ['0.6 mm', '0.3 mm'], '20 mm')
    """
    text = text.strip()
    reader = _READERS.get(key)
    if reader is not None:
        return reader(text, unit, count)
    if key in WHOLE:
        return int(text) if text.isascii() and text.isdecimal() else text
    return with_unit(text, unit)


def solved_text(key: str, layer: Layer, unit: Unit) -> str:
    """Return a calculated count, offset or circle radius of a layer as text for its field.

    Lengths are given ten times more finely than any dial can be set. A radius is rounded down and an offset up, so that
    circles that should touch do not cross.
    """
    if key == "count":
        return str(layer.count)
    decimals, size_mm = (5, float(MM_PER_INCH)) if unit == "in" else (4, 1.0)
    exact = (layer.offset_mm if key == "offset" else layer.circle_radius_mm) / size_mm
    # The tiny amount prevents a rounding error from changing a number that already has few digits.
    rounded = math.ceil(exact * 10**decimals - 1e-6) if key == "offset" else math.floor(exact * 10**decimals + 1e-6)
    return f"{number_text(rounded / 10**decimals, decimals)} {unit}"


WHOLE: Sequence[str] = ("count", "repeat", "touches")
"""Keys whose value is a whole number."""
