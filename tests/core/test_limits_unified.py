"""Unified sizes and limits against printed tables."""

from fractions import Fraction

import pytest

from core.threads.designation import read_thread
from core.threads.unified_limits import UnifiedThread, pitch_tolerance_in
from tests.core.thread_figures import by_designation, wrong_rows

PRINTED = by_designation("threads_unified")


@pytest.mark.parametrize("designation", PRINTED)
def test_printed_figures(designation: str) -> None:
    """ASME B1.1 and handbooks after it print these."""
    assert wrong_rows(PRINTED[designation]) == []


def test_pitch_tolerance_of_the_worked_example() -> None:
    """1/2-28 UNEF-2A: Td2 = 0.003668 in (handbook 31st ed. Table 3, worked example)."""
    thread = UnifiedThread(major_in=Fraction(1, 2), tpi=Fraction(28), engagement_in=Fraction(9, 28))
    assert Fraction(3668, 10**6) == pitch_tolerance_in(thread, "2A")


@pytest.mark.parametrize(
    ("designation", "engagement_in"),
    [
        # ASME B1.1: the diameter for UNC, UNF, 4-, 6- and 8-UN; nine pitches for the others.
        ("1-8 UNC", 1.0),
        ("1-12 UNF", 1.0),
        ("1 1/4-8 UN", 1.25),
        ("2 5/8-4 UN", 2.625),
        ("1 3/4-6 UN", 1.75),
        ("15/16-16 UN", 9 / 16),
        ("1-20 UNEF", 9 / 20),
        ("1-14 UNS", 9 / 14),
        ("2-12 UN", 9 / 12),
    ],
)
def test_length_of_engagement(designation: str, engagement_in: float) -> None:
    """Tolerance of 3A, which has no allowance, is 0.75 of the formula with that length."""
    limits = read_thread(f"{designation}-3A").limits
    assert limits.pitch_diameter_max_mm and limits.pitch_diameter_min_mm and limits.major_max_mm
    size, pitch = limits.major_max_mm / 25.4, read_thread(designation).pitch_mm / 25.4
    wanted = 0.75 * (0.0015 * size ** (1 / 3) + 0.0015 * engagement_in**0.5 + 0.015 * pitch ** (2 / 3))
    found = (limits.pitch_diameter_max_mm - limits.pitch_diameter_min_mm) / 25.4
    assert wanted == pytest.approx(found, abs=0.00006)


def test_ties_go_to_the_even_figure() -> None:
    """ASME B1.1 prints 0.91005 as 0.9100 (1-8 UNC-2A) and 0.06865 as 0.0686 (#1-64 UNC-2A)."""
    one_inch, number_1 = read_thread("1-8 UNC-2A").limits, read_thread("#1-64 UNC-2A").limits
    assert pytest.approx(one_inch.pitch_diameter_min_mm, abs=1e-9) == 0.9100 * 25.4
    assert pytest.approx(number_1.major_min_mm, abs=1e-9) == 0.0686 * 25.4


def test_allowance_only_for_1a_and_2a() -> None:
    """Class 3A and all internal classes start at the basic size (ASME B1.1)."""
    assert read_thread("1-8 UNC-3A").limits.major_max_mm == 25.4
    basic = read_thread("1-8 UNC").pitch_diameter_basic_mm
    for tolerance_class in ("1B", "2B", "3B"):
        assert basic == read_thread(f"1-8 UNC-{tolerance_class}").limits.pitch_diameter_min_mm


def test_limits_the_standard_does_not_set_are_left_out() -> None:
    """The external minor and the largest internal major diameter are free."""
    outside, inside = read_thread("1/4-20 UNC").limits, read_thread("1/4-20 UNC-2B").limits
    assert (outside.minor_max_mm, outside.minor_min_mm, inside.major_max_mm) == (None, None, None)
    assert inside.major_min_mm == pytest.approx(6.35)
