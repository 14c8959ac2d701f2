"""A dial's collar drawn in a few lines: the zero line, marks, and the numbers under the long ones."""

from collections.abc import Callable, Sequence

from core.lathe.set_up.collar import Mark

_COLUMNS_A_MARK = 3
_MOST_EACH_SIDE = 12


def collar_lines(marks: Callable[[int], Sequence[Mark]], columns: int) -> list[str]:
    """Return the drawing for a width; `marks` gives so many marks on each side of the zero line.

    >>> from fractions import Fraction
    >>> from core.values.dials import Dial
    >>> from core.lathe.set_up.collar import collar
    >>> dial = Dial(name="compound", unit="mm", graduation=Fraction(1, 10), per_turn=Fraction(2))
    >>> print("\\n".join(collar_lines(lambda each_side: collar(dial, 4, each_side), 30)))
                 ▼
     ┬──┬──┬──┼──┬──┬──┬──┬──┼
             0.5            0.0
    """
    each_side = min(max((columns // _COLUMNS_A_MARK - 2) // 2, 1), _MOST_EACH_SIDE)
    found = marks(each_side)
    middle = _COLUMNS_A_MARK * each_side + 1
    numbers = [" "] * (2 * middle + 2 * _COLUMNS_A_MARK)
    for mark in found:
        start = middle + _COLUMNS_A_MARK * mark.offset - (len(mark.number) - 1) // 2
        if mark.number and start >= 0:
            numbers[start : start + len(mark.number)] = mark.number
    ticks = "──".join("┼" if mark.long else "┬" for mark in found)
    return [" " * middle + "▼", f" {ticks}", "".join(numbers).rstrip()]
