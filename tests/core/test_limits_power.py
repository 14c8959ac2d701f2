"""Trapezoidal and Acme sizes and limits against printed tables and the formulas of their standards."""

import pytest

from core.data import read_table
from core.threads.designation import read_thread
from tests.core.thread_figures import by_designation, wrong_rows

PRINTED = by_designation("threads_trapezoidal", "threads_acme")


@pytest.mark.parametrize("designation", PRINTED)
def test_printed_figures(designation: str) -> None:
    """ISO 2904, ISO 2903 and ASME B1.5 print these."""
    assert wrong_rows(PRINTED[designation]) == []


@pytest.mark.parametrize(
    "row", read_table("trapezoidal_tolerances"), ids=lambda row: row["to_mm"] + " " + row["pitch_mm"]
)
def test_trapezoidal_tolerances_follow_the_metric_formula(row: dict[str, str]) -> None:
    """Td2(6) = 90 P^0.4 d^0.1, d the geometric mean of the range, rounded to a preferred number."""
    mean_mm = (float(row["over_mm"]) * float(row["to_mm"])) ** 0.5
    assert float(row["um"]) == pytest.approx(90 * float(row["pitch_mm"]) ** 0.4 * mean_mm**0.1, rel=0.04)


def test_acme_root_is_a_flat_that_fits_the_flanks() -> None:
    """ASME B1.5: root flat 0.3707 P - 0.259 times the clearance on the diameter."""
    thread = read_thread("3/4-6 Acme")
    assert pytest.approx(thread.root_flat_mm / 25.4, abs=0.00005) == 0.3707 / 6 - 0.259 * 0.020


def test_trapezoidal_root_is_a_flat_that_fits_the_flanks() -> None:
    """ISO 2901: 0.366 P - 0.536 ac."""
    thread = read_thread("Tr20x4")
    assert pytest.approx(thread.root_flat_mm, abs=1e-5) == 0.366025 * 4 - 0.535898 * 0.25


@pytest.mark.parametrize(("tpi", "clearance_in"), [("3/4-6", 0.020), ("1/2-10", 0.020), ("3/8-12", 0.010)])
def test_acme_clearance(tpi: str, clearance_in: float) -> None:
    """ASME B1.5: 0.020 in on the diameter, 0.010 in finer than 10 to the inch; outside and inside."""
    outside, inside = read_thread(f"{tpi} Acme"), read_thread(f"{tpi} Acme", side="inside")
    core_in = (outside.major_basic_mm - outside.minor_basic_mm - outside.pitch_mm) / 25.4
    assert clearance_in == pytest.approx(core_in, abs=0.00006)
    assert inside.limits.major_min_mm is not None
    assert clearance_in == pytest.approx((inside.limits.major_min_mm - inside.major_basic_mm) / 25.4, abs=1e-9)


def test_acme_better_classes_are_tighter() -> None:
    """3G and 4G: allowance 0.006 and 0.004 sqrt D, tolerance 0.014/0.0028 and 0.010/0.002 (from memory)."""
    for name, allowance, tolerance in (
        ("3G", 0.006, 0.014 * 0.2**0.5 + 0.0028),
        ("4G", 0.004, 0.010 * 0.2**0.5 + 0.002),
    ):
        limits = read_thread(f"1-5 Acme-{name}").limits
        assert limits.pitch_diameter_max_mm and limits.pitch_diameter_min_mm
        largest = limits.pitch_diameter_max_mm / 25.4
        assert 0.9 - allowance == pytest.approx(largest, abs=0.00006)
        assert largest - tolerance == pytest.approx(limits.pitch_diameter_min_mm / 25.4, abs=0.0001)


def test_several_starts_keep_the_profile() -> None:
    """Tr40x14P7: pitch 7, lead 14, sizes of Tr40x7 (ISO 2904)."""
    thread, single = read_thread("Tr40x14P7"), read_thread("Tr40x7")
    assert (thread.pitch_mm, thread.lead_mm, thread.starts) == (7.0, 14.0, 2)
    assert thread.minor_basic_mm == single.minor_basic_mm
    assert any("several starts" in note for note in thread.notes)
