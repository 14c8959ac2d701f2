"""Lists as a hand types them or pastes them from a job file: readings, marks."""

import re
from collections.abc import Sequence

from core.values.errors import QuantityError
from core.values.quantities import read_number

_QUOTED = re.compile(r'"([^"]*)"|\'([^\']*)\'')
_UNIT = re.compile(r"[A-Za-zµ°\"']+")


def listed(text: str, unit: str) -> list[str]:
    """Return the items of a list, each with its unit; a bare number gets `unit`.

    Parted by blanks, by commas with a blank behind, or by semicolons; in quotes as in a
    job file. A comma without a blank is a decimal comma.

    >>> listed("0 0.02 -0,01mm; 3 thou", "mm")
    ['0 mm', '0.02 mm', '-0,01mm', '3 thou']
    >>> listed('["0.00 mm", "0.02 mm"]', "mm")
    ['0.00 mm', '0.02 mm']
    """
    quoted = [one or other for one, other in _QUOTED.findall(text)] if '"' in text and "[" in text else []
    if quoted:
        return [_with_unit(item.strip(), unit) for item in quoted]
    items: list[str] = []
    for part in re.sub(r"[\[\];]|,(?=\s|$)", " ", text).split():
        if items and _UNIT.fullmatch(part) and _is_number(items[-1]):
            items[-1] += f" {part}"
        else:
            items.append(part)
    return [_with_unit(item, unit) for item in items]


def as_typed(items: object) -> str:
    """Return a list of a job file as it is typed; what is no list as it is, for core to refuse by its name."""
    return "; ".join(str(item) for item in items) if isinstance(items, list | tuple) else str(items)


def two_lists(items: object) -> tuple[object, object]:
    """Return the lists of two planes, the second [] where there is only one."""
    if isinstance(items, Sequence) and not isinstance(items, str) and items and isinstance(items[0], list | tuple):
        return items[0], items[1] if len(items) > 1 else []
    return items, []


def _with_unit(item: str, unit: str) -> str:
    return f"{item} {unit}" if _is_number(item) else item


def _is_number(text: str) -> bool:
    try:
        read_number(text)
    except QuantityError:
        return False
    return True
