"""The number of every step in its pattern, and by how many marks its dial has been shifted since it was planned.

Planning again is told of the open steps no more than one whole number each (the
"start" in their extra). It says which step of the pattern is meant, and what a
measurement has already changed about it, so that a correction once carried over
is not lost when the rest is planned once more.
"""

from collections.abc import Iterable, Mapping

NUMBER = "start"
"""The key under which core.cutting.progress_of looks."""
_STRIDE = 1_000_000
"""Above the number of any step of a pattern."""

OpenSteps = Mapping[int, int]
"""The steps still open: by number in the pattern, the marks each is shifted by."""


def numbered_extra(number: int, shift: int = 0) -> dict[str, int]:
    """Return the extra of a step that tells its number and its shift [marks].

    >>> open_numbers([numbered_extra(7, -3)["start"]])
    {7: -3}
    """
    return {NUMBER: number + shift * _STRIDE}


def open_numbers(codes: Iterable[int]) -> dict[int, int]:
    """Return the number and shift of every open step, from what `progress_of` found."""
    return {code % _STRIDE: code // _STRIDE for code in codes}


def number_of(extra: Mapping[str, object]) -> int | None:
    """Return the number of a step from its extra, None where it has none."""
    code = extra.get(NUMBER)
    return code % _STRIDE if isinstance(code, int) else None


def shift_of(extra: Mapping[str, object]) -> int:
    """Return by how many marks a step has been shifted, 0 where it has no number."""
    code = extra.get(NUMBER)
    return code // _STRIDE if isinstance(code, int) else 0


def unshifted(numbers: Iterable[int]) -> dict[int, int]:
    """Return steps as they were planned."""
    return dict.fromkeys(numbers, 0)
