"""The number of every step in its pattern, and by how many marks its dial has been shifted since it was planned.

Planning again finds the open steps by their numbers, and leaves a correction that a
measurement once carried over as it is.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from core.plan import Step

NUMBER, SHIFT = "pattern_step", "shift_marks"
_BOTH, _STRIDE = "start", 1_000_000
"""Runs begun with schema 1 may tell number and shift in one: the number, plus so many for each mark of shift."""

MOUNTING = 0
"""The number of putting the dividing plate on the table; runs begun before there was such a step count from 1 too."""

OpenSteps = Mapping[int, int]
"""The steps still open: by number in the pattern, the marks each is shifted by."""


def numbered_extra(number: int, shift: int = 0) -> dict[str, int]:
    """Return the extra of a step that tells its number and its shift [marks].

    >>> numbered_extra(7, -3)
    {'pattern_step': 7, 'shift_marks': -3}
    """
    return {NUMBER: number, SHIFT: shift} if shift else {NUMBER: number}


def open_numbers(steps: Iterable[Step]) -> dict[int, int]:
    """Return the number and shift of every open step that has a number."""
    found = ((number_of(step.extra), shift_of(step.extra)) for step in steps)
    return {number: shift for number, shift in found if number is not None}


def number_of(extra: Mapping[str, Any]) -> int | None:
    """Return the number of a step from its extra, None where it has none.

    >>> number_of({"pattern_step": 7}), number_of({"start": 2_000_007}), number_of({})
    (7, 7, None)
    """
    if NUMBER in extra:
        return int(extra[NUMBER])
    return int(extra[_BOTH]) % _STRIDE if _BOTH in extra else None


def shift_of(extra: Mapping[str, Any]) -> int:
    """Return by how many marks a step has been shifted, 0 where it was not.

    >>> shift_of({"pattern_step": 7, "shift_marks": -3}), shift_of({"start": 2_000_007})
    (-3, 2)
    """
    return int(extra[_BOTH]) // _STRIDE if _BOTH in extra else int(extra.get(SHIFT, 0))


def unshifted(numbers: Iterable[int]) -> dict[int, int]:
    """Return steps as they were planned."""
    return dict.fromkeys(numbers, 0)
