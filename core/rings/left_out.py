"""Positions of a ring that are not cut: every k-th, or groups, in place of a list typed by hand."""

from core.errors import PlanError


def every_kth(count: int, step: int, first: int | None = None) -> tuple[int, ...]:
    """Return every `step`-th position, from `first` on (default: the `step`-th).

    >>> every_kth(12, 4)
    (4, 8, 12)
    """
    if not 2 <= step <= count:
        raise PlanError(f"found every {step}; accepted is every 2nd to every {count}th", field="left_out")
    return tuple(range(step if first is None else first, count + 1, step))


def groups(count: int, cut: int, leave: int) -> tuple[int, ...]:
    """Return what is left out where `cut` positions are cut and the next `leave` are not, all round.

    >>> groups(10, 3, 2)
    (4, 5, 9, 10)
    """
    if cut < 1 or leave < 1 or cut + leave > count:
        raise PlanError(
            f"found {cut} cut and {leave} left out; accepted are at least 1 of each, together at most {count}",
            field="left_out",
        )
    return tuple(number for number in range(1, count + 1) if (number - 1) % (cut + leave) >= cut)
