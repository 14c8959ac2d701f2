"""Whitworth, BSP and BA sizes and limits against printed tables and the formulas of their standards."""

import math

import pytest

from core.data import read_table
from core.threads.designation import read_thread
from tests.core.thread_figures import by_designation, wrong_rows

PRINTED = by_designation("threads_whitworth", "threads_bsp", "threads_ba")


@pytest.mark.parametrize("designation", PRINTED)
def test_printed_figures(designation: str) -> None:
    """BS 84, BS 2779, ISO 228-1 and BS 93 print these."""
    assert wrong_rows(PRINTED[designation]) == []


def _span_in(designation: str, which: str, side: str = "outside") -> float:
    limits = read_thread(designation, side=side).limits
    return float(getattr(limits, f"{which}_max_mm") - getattr(limits, f"{which}_min_mm")) / 25.4


@pytest.mark.parametrize("fit", ["close", "medium", "free"])
@pytest.mark.parametrize(
    ("size", "tpi", "series"), [("1/4", 20, "BSW"), ("1/2", 12, "BSW"), ("1", 8, "BSW"), ("3/8", 20, "BSF")]
)
def test_bs_84_tolerances(size: str, tpi: int, series: str, fit: str) -> None:
    """T = 0.002 D^(1/3) + 0.003 L^(1/2) + 0.005 p^(1/2) and its multiples (BS 84, as a handbook gives them)."""
    diameter, pitch = {"1/4": 0.25, "1/2": 0.5, "1": 1.0, "3/8": 0.375}[size], 1 / tpi
    medium = 0.002 * math.cbrt(diameter) + 0.003 * math.sqrt(diameter) + 0.005 * math.sqrt(pitch)
    effective = {"close": 2 / 3, "medium": 1.0, "free": 1.5}[fit] * medium
    name, root = f"{size} {series} {fit}", math.sqrt(pitch)
    assert effective == pytest.approx(_span_in(name, "pitch_diameter"), abs=0.0001)
    assert effective == pytest.approx(_span_in(name, "pitch_diameter", "inside"), abs=0.0001)
    assert effective + 0.01 * root == pytest.approx(_span_in(name, "major"), abs=0.0001)
    minor = effective + (0.013 if fit == "close" else 0.02) * root
    assert minor == pytest.approx(_span_in(name, "minor"), abs=0.0001)


@pytest.mark.parametrize(("name", "tolerance_in"), [("1/4 BSF", 0.2 / 26 + 0.004), ("5/16 BSF", 0.2 / 22 + 0.005)])
def test_bs_84_minor_diameter_of_nuts(name: str, tolerance_in: float) -> None:
    """0.2 p and 0.004 from 26 tpi, 0.005 at 24 and 22 tpi (BS 84, as a handbook gives them)."""
    assert tolerance_in == pytest.approx(_span_in(name, "minor", "inside"), abs=0.00006)


def test_bs_84_nuts_start_at_the_basic_sizes() -> None:
    """Nuts have no allowance; close bolts have none; small medium and free bolts have one (from memory)."""
    nut, close = read_thread("1/2 BSW", side="inside"), read_thread("1/2 BSW close")
    assert nut.limits.pitch_diameter_min_mm == nut.pitch_diameter_basic_mm
    assert close.limits.major_max_mm == close.major_basic_mm
    medium, large = read_thread("1/2 BSW").limits, read_thread("1 BSW").limits
    assert medium.major_max_mm is not None and medium.major_max_mm < 12.7
    assert large.major_max_mm == 25.4


@pytest.mark.parametrize("row", read_table("bsp_series"), ids=lambda row: f"G{row['size']}")
def test_pipe_depth_is_that_of_the_whitworth_form(row: dict[str, str]) -> None:
    """ISO 228-1: h = 0.640327 P, rounded to 0.001 mm; D2 = D - h, D1 = D - 2h."""
    depth_mm = round(0.640327 * 25.4 / int(row["tpi"]), 3)
    major = float(row["major_mm"])
    assert major - depth_mm == pytest.approx(float(row["pitch_diameter_mm"]), abs=0.0001)
    assert major - 2 * depth_mm == pytest.approx(float(row["minor_mm"]), abs=0.0001)


def _two_figures(value: float) -> float:
    return float(f"{value:.1e}")


@pytest.mark.parametrize("number", range(17))
def test_ba_sizes_follow_their_progression(number: int) -> None:
    """BS 93: p = 0.9^k and d = 6 p^1.2, each rounded to two figures."""
    thread = read_thread(f"{number} BA")
    assert _two_figures(0.9**number) == pytest.approx(thread.pitch_mm)
    assert _two_figures(6 * (0.9**number) ** 1.2) == pytest.approx(thread.major_basic_mm)


@pytest.mark.parametrize(
    ("name", "which", "side", "tolerance_mm"),
    [
        # BS 93 formulas as a handbook gives them, with p = 1 mm (0 BA) and p = 0.35 mm (10 BA); from memory.
        ("0 BA close", "pitch_diameter", "outside", 0.100),
        ("0 BA normal", "pitch_diameter", "outside", 0.125),
        ("0 BA close", "major", "outside", 0.150),
        ("0 BA normal", "major", "outside", 0.200),
        ("0 BA", "pitch_diameter", "inside", 0.150),
        ("0 BA", "minor", "inside", 0.375),
        ("10 BA close", "pitch_diameter", "outside", 0.048),
        ("10 BA normal", "pitch_diameter", "outside", 0.060),
        ("10 BA", "pitch_diameter", "inside", 0.072),
        ("16 BA", "major", "outside", 0.0475),
    ],
)
def test_ba_tolerances(name: str, which: str, side: str, tolerance_mm: float) -> None:
    """Tolerances by the formulas of BS 93."""
    assert tolerance_mm == pytest.approx(_span_in(name, which, side) * 25.4, abs=0.00051)
