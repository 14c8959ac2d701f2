"""Positions of a layer that are not cut: every k-th, or groups, in place of a list typed by hand."""

import re
from collections.abc import Iterable

from core.values.errors import PlanError
from core.values.plain_text import quoted

_BETWEEN = r"(?:\s*[,;]\s*|\s+)"
_NUMBERS = re.compile(rf"\d{{1,4}}(?:-\d{{1,4}})?(?:{_BETWEEN}\d{{1,4}}(?:-\d{{1,4}})?)*", re.ASCII)
_EVERY = re.compile(r"every\s+(\d{1,4})(?:st|nd|rd|th)?(?:\s+from\s+(\d{1,4}))?", re.ASCII | re.IGNORECASE)
_GROUPS = re.compile(r"(\d{1,4})\s+cut[\s,]+(\d{1,4})\s+(?:left(?:\s+out)?|skipped)", re.ASCII | re.IGNORECASE)
ACCEPTED = '"4, 8, 12-15", "every 4th", "every 4th from 1", or "3 cut, 2 skipped"'


def every_kth(count: int, step: int, first: int | None = None) -> tuple[int, ...]:
    """Return every `step`-th position, from `first` on (default: the `step`-th).

    >>> every_kth(12, 4)
    (4, 8, 12)
    """
    if not 2 <= step <= count:
        raise PlanError(f"found every {step}; accepted is every 2nd to every {count}th", field="skip")
    return tuple(range(step if first is None else first, count + 1, step))


def groups(count: int, cut: int, leave: int) -> tuple[int, ...]:
    """Return what is skipped where `cut` positions are cut and the next `leave` are not, all round.

    >>> groups(10, 3, 2)
    (4, 5, 9, 10)
    """
    if cut < 1 or leave < 1 or cut + leave > count:
        raise PlanError(
            f"found {cut} cut and {leave} skipped; accepted are at least 1 of each, together at most {count}",
            field="skip",
        )
    return tuple(number for number in range(1, count + 1) if (number - 1) % (cut + leave) >= cut)


def read_skip(text: str, count: int) -> tuple[int, ...]:
    """Return the positions of `count` that a text says are skipped; raises PlanError for one that says none.

    >>> read_skip("2, 5-7", 12), read_skip("every 4th", 12), read_skip("3 cut, 2 skipped", 10)
    ((2, 5, 6, 7), (4, 8, 12), (4, 5, 9, 10))
    """
    text = text.strip()
    if found := _EVERY.fullmatch(text):
        return every_kth(count, int(found[1]), None if found[2] is None else int(found[2]))
    if found := _GROUPS.fullmatch(text):
        return groups(count, int(found[1]), int(found[2]))
    numbers = re.sub(r"\s*-\s*", "-", text)
    if not _NUMBERS.fullmatch(numbers):
        raise PlanError(f"found {quoted(text)}; accepted is {ACCEPTED}", field="skip")
    return tuple(number for part in re.split(_BETWEEN, numbers) for number in _span(part, count))


def _span(text: str, count: int) -> Iterable[int]:
    """Return "5-7" as three numbers, "5" as one."""
    first, _, last = text.partition("-")
    if not last:
        return (int(first),)
    if not 1 <= int(first) < int(last) <= count:
        raise PlanError(f"found {quoted(text)}; accepted is from a smaller to a larger of 1 to {count}", field="skip")
    return range(int(first), int(last) + 1)
