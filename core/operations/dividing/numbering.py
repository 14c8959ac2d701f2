"""The number of every step in its pattern, and by how many marks its dial has been shifted since it was planned.

Planning again finds the open steps by their numbers, and leaves a correction that a
measurement once carried over as it is.
"""

from collections.abc import Iterable, Mapping

from core.plan import Step

MOUNTING = 0
"""The number of putting the dividing plate on the table; runs begun before there was such a step count from 1 too."""

OpenSteps = Mapping[int, int]
"""The steps still open: by number in the pattern, the marks each is shifted by."""


def open_numbers(steps: Iterable[Step]) -> dict[int, int]:
    """Return the number and shift of every open step that has a number."""
    return {step.at.step: step.at.shift_marks for step in steps if step.at.step is not None}


def unshifted(numbers: Iterable[int]) -> dict[int, int]:
    """Return steps as they were planned."""
    return dict.fromkeys(numbers, 0)
