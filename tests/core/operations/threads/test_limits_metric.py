"""ISO metric sizes and limits, compared with published values and with the formulas of ISO 965-1 in exact fractions."""

import csv
import re
from fractions import Fraction
from pathlib import Path

import pytest

from core.data import read_table
from core.operations.threads.designation import read_thread
from core.operations.threads.metric import metric_series, preferred_number, preferred_place
from tests.core.operations.threads.metric_formulas import (
    HAND_ROUNDED_UM,
    R40,
    RANGES_MM,
    cell_um,
    formula_um,
    limits_mm,
    preferred_um,
)
from tests.core.operations.threads.printed_limits import by_designation, wrong_rows, wrong_sizes
from tests.published import none_wrong, printed_rows

PRINTED = by_designation("threads_metric")
SERIES = dict(metric_series())


@pytest.mark.parametrize("designation", PRINTED)
def test_metric_thread_limits_match_published_limits(designation: str) -> None:
    """The published limits are those of ISO 965-2, ISO 724 and ASME B1.13M."""
    none_wrong(wrong_rows(PRINTED[designation]))


def size_of(designation: str) -> tuple[Fraction, Fraction, str]:
    """Return the diameter [mm], the pitch [mm] and the class of a designation such as M12 x 1.75 6g or M12-6g."""
    ((size, pitch, tolerance_class),) = re.findall(r"^M([\d.]+)(?: ?x ?([\d.]+))?[ -](\w+)$", designation)
    return Fraction(size), Fraction(pitch) if pitch else SERIES[f"M{size}"], tolerance_class


def test_the_formulas_in_the_tests_reproduce_the_published_metric_limits() -> None:
    """The formulas agree with every printed limit. So they can also check unprinted limits."""
    rows = [row for block in PRINTED.values() for row in block if not row.quantity.startswith("external minor")]
    assert len(rows) > 40
    for row in rows:
        assert Fraction(row.printed) == limits_mm(*size_of(row.inputs["designation"]))[row.quantity], row


EVERY_THREAD = ("6g", "6H")
COARSE_ONLY = ("3h4h", "4g6g", "5h6h", "6e", "6f", "7g6g", "9g8g", "4H5H", "6G", "7H", "8H")


@pytest.mark.parametrize("tolerance_class", EVERY_THREAD + COARSE_ONLY)
def test_metric_thread_limits_match_the_formulas_of_iso_965_1(tolerance_class: str) -> None:
    """The test covers every thread of ISO 261 by ISO 965-1's formulas, for rarer classes only the coarse series."""
    names = [name for name in SERIES if tolerance_class in EVERY_THREAD or "x" not in name]
    designations = [f"{name}-{tolerance_class}" for name in names if name not in ("M1.4", "M1.4x0.2")]
    none_wrong([line for one in designations for line in wrong_sizes(one, "mm", limits_mm(*size_of(one)))])


@pytest.mark.parametrize("designation", ["M1.4-6g", "M1.4-6H", "M1.4x0.2-6g", "M1.4x0.2-6H"])
def test_a_diameter_range_of_iso_965_1_includes_its_largest_diameter(designation: str) -> None:
    """M1.4 is in the range above 0.99 and up to 1.4 mm (ISO 965-1), so its Td2 is 56 um in grade 6."""
    none_wrong(wrong_sizes(designation, "mm", limits_mm(*size_of(designation))))


def test_metric_limits_missing_from_the_standard_are_returned_as_none() -> None:
    """ISO 965-1 limits neither the external minor nor the largest internal major diameter."""
    outside, inside = read_thread("M10").limits, read_thread("M10-6H").limits
    assert (outside.minor_max_mm, outside.minor_min_mm, inside.major_max_mm) == (None, None, None)


@pytest.mark.parametrize("designation", ["M13x1.1", "M30x1.2-6H", "M100x5.5-4g6g"])
def test_a_pitch_without_printed_tolerances_gets_a_note_about_the_formula_used(designation: str) -> None:
    """The limits are within one preferred number of the formula of ISO 965-1."""
    thread = read_thread(designation)
    limits = thread.limits
    assert limits.pitch_diameter_max_mm and limits.pitch_diameter_min_mm
    assert any("formula" in note for note in thread.notes)
    tolerance_um = 1000 * (limits.pitch_diameter_max_mm - limits.pitch_diameter_min_mm)
    range_mm = {13.0: (11.2, 22.4), 30.0: (22.4, 45.0), 100.0: (90.0, 180.0)}[thread.major_basic_mm]
    factor = {"6g": 1.0, "6H": 1.32, "4g6g": 0.63}[thread.tolerance_class]
    wanted_um = factor * 90 * thread.pitch_mm**0.4 * (range_mm[0] * range_mm[1]) ** 0.05
    assert tolerance_um == pytest.approx(wanted_um, rel=0.035)


def test_a_pitch_with_printed_tolerances_gets_no_note_about_a_formula() -> None:
    """Every thread of the coarse series from M1.6 to M68 has printed tolerances."""
    coarse = [name for name, _ in metric_series() if "x" not in name and float(name[1:]) >= 1.6]
    assert len(coarse) > 30
    for name in coarse:
        assert not [note for side in ("outside", "inside") for note in read_thread(name, side=side).notes], name


def test_stored_metric_tolerances_match_the_formulas_of_iso_965_1() -> None:
    """Each is the preferred number nearest to its formula, or a value that ISO 965-1 rounded differently."""
    by_hand = dict(HAND_ROUNDED_UM)
    for row in read_table("metric_tolerances"):
        ends = (Fraction(row["over_mm"]), Fraction(row["to_mm"])) if row["over_mm"] else None
        pitch = Fraction(row["pitch_mm"])
        assert int(row["um"]) == cell_um(row["quantity"], pitch, ends), row
        by_hand.pop((row["quantity"], pitch, ends and ends[0]), None)
    assert by_hand == {}, "no such cells"


def test_every_tolerance_listed_as_an_exception_differs_from_its_formula() -> None:
    """Each exception differs by at most a tenth. A value that equals its formula must not be listed."""
    for (quantity, pitch, over), um in HAND_ROUNDED_UM.items():
        ends = next((ends for ends in RANGES_MM if ends[0] == over), None)
        by_formula = formula_um(quantity, pitch, ends)
        assert um != preferred_um(by_formula), (quantity, pitch)
        assert um == pytest.approx(float(by_formula), rel=0.1), (quantity, pitch)


def test_every_metric_size_has_the_coarse_pitch_of_iso_261() -> None:
    """The published values are those of ISO 261."""
    rows = [row for row in printed_rows("metric_tables") if row.quantity == "coarse pitch"]
    assert {f"M{row.inputs['size_mm']}" for row in rows} == {name for name in SERIES if "x" not in name}
    for row in rows:
        assert Fraction(row.printed) == SERIES[f"M{row.inputs['size_mm']}"], row


def test_the_metric_series_contains_the_fine_pitches_of_iso_262() -> None:
    """The test checks one pitch of each preferred size."""
    fine = {row["size_mm"]: row["fine_mm"].split() for row in read_table("metric_series")}
    rows = [row for row in printed_rows("metric_tables") if row.quantity == "fine pitch"]
    assert len(rows) >= 12
    for row in rows:
        assert row.printed in fine[str(row.inputs["size_mm"])], row


def test_stored_metric_tolerances_agree_with_published_thread_limits() -> None:
    """Published limits give one value of each tolerance in ISO 965-1 (M12, M24, M30, M56 6g; M10 6H)."""
    cells = {
        (row["quantity"], row["over_mm"], row["pitch_mm"]): int(row["um"]) for row in read_table("metric_tolerances")
    }
    assert (cells["g", "", "1.75"], cells["Td", "", "1.75"], cells["Td2", "11.2", "1.75"]) == (34, 265, 150)
    assert (cells["g", "", "3.0"], cells["Td", "", "3.0"], cells["Td2", "22.4", "3.0"]) == (48, 375, 200)
    assert (cells["g", "", "5.5"], cells["Td", "", "5.5"], cells["Td2", "45", "5.5"]) == (75, 560, 265)
    assert cells["TD1", "", "1.5"] == 300


def test_the_preferred_numbers_are_those_of_iso_3() -> None:
    """R40 in the standard follows the fortieth root of ten within 1.3 per cent."""
    assert len(R40) == 40
    for place in range(120):
        assert preferred_number(place) == R40[place % 40] * 10 ** (place // 40)
        assert float(preferred_number(place)) == pytest.approx(10 ** (place / 40), rel=0.013)
        assert place == preferred_place(float(preferred_number(place)))


def test_every_row_of_thread_data_names_its_source() -> None:
    """The rows are those of the data files for threads."""
    names = [path.stem for path in Path(__file__).parents[4].joinpath("core", "data").glob("*_series.csv")]
    assert len(names) >= 7
    for name in [*names, "metric_tolerances", "trapezoidal_pitches", "trapezoidal_tolerances"]:
        assert all(row["source"].strip() for row in read_table(name)), name


def test_every_row_of_thread_data_has_a_cell_for_every_column() -> None:
    """No row has more or fewer cells than the heading of its file."""
    for path in Path(__file__).parents[4].joinpath("core", "data").glob("*.csv"):
        lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("# ")]
        assert len({len(row) for row in csv.reader(lines)}) == 1, path.name
