"""Stacks match a complete search of all combinations, by itertools and numpy."""

from itertools import combinations
from time import process_time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.operations.axes.stack import Stack, best_stack

SIZES_UM = st.one_of(st.integers(20, 30_000), st.sampled_from([50, 100, 200, 500, 1000, 6350, 12_700]))


def searched(height_um: int, owned_um: list[int]) -> tuple[int, int]:
    """Return the least error [um], and the fewest pieces with this error, from every combination."""
    every = (pieces for count in range(len(owned_um) + 1) for pieces in combinations(owned_um, count))
    return min((abs(sum(pieces) - height_um), len(pieces)) for pieces in every)


@given(st.integers(1, 60_000), st.lists(SIZES_UM, max_size=9))
def test_the_best_stack_matches_a_complete_search(height_um: int, owned_um: list[int]) -> None:
    """The nearest stack comes first, then the fewest pieces. No piece is used more often than it is owned."""
    stack = best_stack(height_um / 1000, [size / 1000 for size in owned_um])
    used_um = [round(piece * 1000) for piece in stack.pieces_mm]
    assert (abs(sum(used_um) - height_um), len(used_um)) == searched(height_um, owned_um)
    assert all(used_um.count(piece) <= owned_um.count(piece) for piece in used_um)
    assert stack.left_mm == pytest.approx((height_um - sum(used_um)) / 1000, abs=1e-9)
    assert list(stack.pieces_mm) == sorted(stack.pieces_mm, reverse=True)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_best_stack_from_25_pieces_is_found_within_a_quarter_of_a_second(seed: int) -> None:
    """numpy adds all 33 million sums, half against half in blocks. The limit is a quarter of a second of computing."""
    chance = np.random.default_rng(seed)
    owned_um = chance.integers(50, 25_000, 25)
    height_um = int(owned_um.sum() // 3)
    before = process_time()
    stack = best_stack(height_um / 1000, (owned_um / 1000).tolist())
    took_s = process_time() - before
    sums, others = (np.array([0]) if not len(half) else _all_sums(half) for half in (owned_um[:12], owned_um[12:]))
    least_um = min(int(np.abs(others + one - height_um).min()) for one in sums)
    assert round(abs(stack.left_mm) * 1000) == least_um
    assert took_s < 1.0 and stack.is_best


def _all_sums(pieces: np.ndarray) -> np.ndarray:
    sums = np.array([0])
    for piece in pieces:
        sums = np.concatenate([sums, sums + piece])
    return sums


def test_inch_and_metric_pieces_of_a_stack_add_up_exactly() -> None:
    """1/4 in and 0.0001 in are exactly 6.35 mm and 2.54 um, so no gap remains."""
    assert best_stack(6.35254 + 1.5, [6.35, 0.00254, 1.0, 0.5, 2.0]) == Stack((6.35, 1.0, 0.5, 0.00254), 0.0)


def test_a_piece_owned_once_is_used_only_once_in_a_stack() -> None:
    """Worked by hand: 3 x 3 to 10 leaves 1. With two pieces of 5 no gap remains."""
    assert best_stack(10, [3, 3, 3]) == Stack((3, 3, 3), 1.0)
    assert best_stack(10, [5, 3]).pieces_mm == (5, 3)
    assert best_stack(10, [5, 3, 5]) == Stack((5, 5), 0.0)


@pytest.mark.parametrize(
    ("height_mm", "owned_mm", "plate_mm"),
    [
        (5.31, [1.0, 0.5], 3.81),  # The gap is thick enough.
        (12.3, [12.0, 0.2], 12.1),  # 0.1 mm is too thin. 0.3 mm is too, so the plate replaces the 12 mm piece.
        (0.8, [], 0.8),  # There is no other piece to replace.
        (2.0, [1.0, 1.0], None),
    ],
)
def test_the_suggested_additional_plate_makes_the_stack_exact(
    height_mm: float, owned_mm: list[float], plate_mm: float | None
) -> None:
    """Worked by hand: the gap, or the gap and a replaced piece, so that the plate is at least 1 mm."""
    plate = best_stack(height_mm, owned_mm).plate_mm
    assert plate == (None if plate_mm is None else pytest.approx(plate_mm))


def test_an_axis_that_needs_no_lift_gets_no_stack() -> None:
    """No piece is put under an axis that is too high or right."""
    assert best_stack(-1.0, [1.0]).pieces_mm == () == best_stack(0.0, [1.0]).pieces_mm


def test_a_stack_chosen_from_too_many_pieces_is_not_called_the_best() -> None:
    """70 odd sizes have more sums than can be kept. The result says so."""
    sizes = np.random.default_rng(4).integers(100_000, 3_000_000, 70) / 100_000
    stack = best_stack(40.00003, sizes.tolist())
    assert not stack.is_best
    assert abs(stack.left_mm) < 0.01
