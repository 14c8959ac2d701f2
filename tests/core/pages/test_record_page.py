"""The record of a lathe in words and as data, from measurements that the tests make up."""

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

import pytest

from core.pages.record_page import record_data, record_report
from core.pages.report import report_text
from core.record.lathe_notes import LatheNote, new_note
from core.record.lathe_record import lathe_record
from core.record.observations import CutKind, DialDifference, EndTaper, RunObservations, SpringYield
from tests.core.record.simulated_lathe import described

LATHE = described()
CUT = CutKind("cross_slide", "turn")


def wall(day: int) -> str:
    """Return the morning of a day in January."""
    return f"2026-01-{day:02}T09:00:00+00:00"


def page_and_dial(run: RunObservations, *notes: LatheNote) -> tuple[str, dict[str, Any]]:
    """Return the page of a record from one run, and the data of its one dial."""
    record = lathe_record(LATHE, [run._replace(lathe_name=LATHE.name)], notes)
    (dial,) = record_data(record)["dials"]
    return report_text(record_report(record), 120), dial


def differences(values_mm: Sequence[float]) -> tuple[DialDifference, ...]:
    """Return measurements with these differences, one on each day."""
    unit = LATHE.dials["cross_slide"].mm_per_unit
    return tuple(
        DialDifference(CUT, wall(day), value_mm, None, False, Fraction(unit))
        for day, value_mm in enumerate(values_mm, start=1)
    )


@pytest.mark.parametrize("values_mm", [[0.02] * 4, [0.02, 0.02001, 0.02, 0.02001]])
def test_a_mean_of_equal_measurements_is_shown_without_a_confidence_interval(values_mm: list[float]) -> None:
    """Four equal values show that the measuring was coarse. They do not show that the mean is exact."""
    page, dial = page_and_dial(RunObservations("", differences(values_mm)))
    assert "+0.02 mm (4 measurements, all alike)" in page
    assert "± 0 mm" not in page
    assert dial["periods"][0]["difference"]["interval_mm"] is None


def test_a_mean_of_different_measurements_is_shown_with_its_confidence_interval() -> None:
    """Of 0.01, 0.02, 0.03 and 0.04 mm the 95 % interval is 3.182 * 0.01291 / 2 = 0.0205 mm (Student's t, from memory).

    0.01291 mm is their standard deviation.
    """
    page, dial = page_and_dial(RunObservations("", differences([0.01, 0.02, 0.03, 0.04])))
    assert "+0.025 mm ± 0.021 mm (4 measurements)" in page
    assert dial["periods"][0]["difference"]["interval_mm"] == pytest.approx(0.0205, abs=1e-4)


def test_an_adjustment_of_the_lathe_separates_earlier_from_later_tapers_and_spring_passes() -> None:
    """The tailstock was out of line by 0.1 mm until it was aligned. The present lathe turns straight."""
    tapers = tuple(EndTaper(CUT, wall(day), 0.1 if day <= 4 else 0.0) for day in range(1, 9))
    springs = tuple(SpringYield(CUT, wall(day), 0.03 if day <= 4 else 0.01) for day in range(1, 9))
    aligned = new_note(LATHE.name, "", "adjustment", "2026-01-05T00:00:00+00:00", "tailstock aligned")
    page, dial = page_and_dial(RunObservations("", differences([0.02] * 8), springs, tapers), aligned)
    assert [period["free_end_larger"]["mean_mm"] for period in dial["periods"]] == [0.1, 0.0]
    assert [period["spring_pass"]["mean_mm"] for period in dial["periods"]] == [0.03, 0.01]
    assert (dial["free_end_larger"]["mean_mm"], dial["spring_pass"]["mean_mm"]) == (0.0, 0.01)
    before, after = page.partition("Since 2026-01-05")[::2]
    assert "+0.1 mm (4 times, all alike)" in before and "+0.1 mm" not in after
    assert "0 mm (4 times, all alike)" in after


def test_the_record_shows_a_measured_taper_even_if_no_size_was_compared_with_the_dial() -> None:
    """No size was compared with the dial after the adjustment, but both ends were measured."""
    taper = EndTaper(CUT, wall(6), 0.1)
    aligned = new_note(LATHE.name, "", "adjustment", "2026-01-05T00:00:00+00:00", "tailstock aligned")
    page, _ = page_and_dial(RunObservations("", differences([0.02] * 4), tapers=(taper,)), aligned)
    after = page.partition("Since 2026-01-05")[2]
    assert "no size measured yet" in after and "+0.1 mm (1 time: too few to judge)" in after
