"""Finds the plates, bars and shims whose total comes nearest to a height, without trying every combination."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

UNITS_PER_MM = 100_000
"""Sizes are counted in units of 0.00001 mm, exact for micrometres and for ten-thousandths of an inch (0.00254 mm)."""
MOST_SUMS = 20_000
"""The most sums kept for either half of the pieces; those with the fewest pieces come first.

More would take too long.
"""
LEAST_PLATE_MM = 1.0
"""A thinner plate is hard to make [mm]; common practice, no source."""

_SAME_MM = 1e-6

_Sums = dict[int, tuple[int, int]]
"""For each sum the fewest pieces that make it: their number, and a bit for each piece used."""


class Stack(NamedTuple):
    """The stack of the user's pieces that comes nearest to a wanted height. Lengths are in mm."""

    pieces_mm: tuple[float, ...]
    """Largest first; () if no piece brings the stack nearer to the height."""
    left_mm: float
    """Height minus stack: above 0 if the stack is too low."""
    is_best: bool = True
    """False if there were too many pieces to try all of them together."""

    @property
    def plate_mm(self) -> float | None:
        """The size of the plate that would make the stack exact [mm]; None if the stack is already exact or no plate
        can help.

        The plate fills the remaining gap. If the gap is too thin for a plate, the plate also replaces the smallest
        piece that makes it thick enough, or else the whole stack.
        """
        if abs(self.left_mm) * UNITS_PER_MM < 1:
            return None
        for piece in (0.0, *reversed(self.pieces_mm)):
            if piece + self.left_mm >= LEAST_PLATE_MM:
                return _mm(_units(piece + self.left_mm))
        whole = sum(self.pieces_mm) + self.left_mm
        return _mm(_units(whole)) if whole > 0 else None

    def plate_words(self, length_text: Callable[[float], str]) -> str:
        """Return text that gives the plate to make and the piece that it replaces; "" if there is no plate to make.

        For example "1.28 mm in place of the whole stack". `length_text`: a function that returns a length [mm] as text.
        """
        plate = self.plate_mm
        if plate is None:
            return ""
        if not self.pieces_mm or abs(plate - self.left_mm) < _SAME_MM:
            return length_text(plate)
        replaced = next((piece for piece in self.pieces_mm if abs(plate - piece - self.left_mm) < _SAME_MM), None)
        place = "whole stack" if replaced is None else f"{length_text(replaced)} piece"
        return f"{length_text(plate)} in place of the {place}"


def best_stack(height_mm: float, owned_mm: Iterable[float]) -> Stack:
    """Return the stack nearest to a height [mm]. Of equally near stacks, the one with the fewest pieces wins, then the
    lower one.

    `owned_mm`: the sizes of the user's plates, bars and shims [mm]. Each is used once; a size listed twice means two
    pieces. The pieces are divided into two halves, and each sum of one half is paired with the best sum of the other.
    This takes a few thousand steps for 25 pieces, instead of 33 million.

    >>> best_stack(7.4, [6, 1, 0.5, 0.2, 0.2])
    Stack(pieces_mm=(6, 1, 0.2, 0.2), left_mm=0.0, is_best=True)
    """
    wanted = _units(height_mm)
    # A piece above twice the height is worse than no piece at all.
    pieces = sorted((size for size in owned_mm if 0 < _units(size) <= 2 * wanted), reverse=True)
    if wanted <= 0 or not pieces:
        return Stack((), _mm(wanted))
    sizes = [_units(size) for size in pieces]
    (ones, all_ones), (others, all_others) = (_sums(sizes, first, 2 * wanted) for first in (0, 1))
    best = min(_pairs(ones, others, wanted))
    chosen = [size for number, size in enumerate(pieces) if best[3] >> number & 1]
    return Stack(tuple(chosen), _mm(wanted - best[2]), all_ones and all_others)


def _sums(sizes: Sequence[int], first: int, most: int) -> tuple[_Sums, bool]:
    """Return the sums that can be made from every second piece, from index `first` on.

    The second result is True if every combination was tried. No sum exceeds `most`.
    """
    sums, is_whole = _Sums({0: (0, 0)}), True
    for number in range(first, len(sizes), 2):
        added = {
            total + sizes[number]: (count + 1, which | 1 << number)
            for total, (count, which) in sums.items()
            if total + sizes[number] <= most
        }
        for total, pieces in added.items():
            if total not in sums or pieces[0] < sums[total][0]:
                sums[total] = pieces
        if len(sums) > MOST_SUMS:
            kept = sorted(sums.items(), key=lambda item: item[1])[: MOST_SUMS // 2]
            sums, is_whole = dict(kept), False
    return sums, is_whole


def _pairs(ones: _Sums, others: Mapping[int, tuple[int, int]], wanted: int) -> Iterable[tuple[int, int, int, int]]:
    """Yield, for each sum of one half of the pieces, the totals that it forms with the nearest sums of the other half.

    Each result is (error, number of pieces, total, pieces used), so that the smallest result is the best stack.
    `wanted`: the height that the total should have.
    """
    falling = sorted(others, reverse=True)
    at = 0
    for one in sorted(ones):
        # As the sums of this half grow, the best partner in the other half gets smaller.
        while at + 1 < len(falling) and one + falling[at + 1] >= wanted:
            at += 1
        for other in falling[at : at + 2]:
            total = one + other
            count, which = ones[one][0] + others[other][0], ones[one][1] | others[other][1]
            yield abs(total - wanted), count, total, which


def _units(length_mm: float) -> int:
    return round(Fraction(length_mm) * UNITS_PER_MM)


def _mm(units: int) -> float:
    return units / UNITS_PER_MM
