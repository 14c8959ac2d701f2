"""ISO metric sizes and limits against printed tables."""

import csv
from fractions import Fraction
from pathlib import Path

import pytest

from core.data import read_table
from core.threads.designation import read_thread
from core.threads.metric import metric_series
from core.threads.preferred import preferred_number, preferred_place, stepped_um
from tests.core.thread_figures import by_designation, wrong_rows

PRINTED = by_designation("threads_metric")


@pytest.mark.parametrize("designation", PRINTED)
def test_printed_figures(designation: str) -> None:
    """ISO 965-2, ISO 724 and ASME B1.13M print these."""
    assert wrong_rows(PRINTED[designation]) == []


@pytest.mark.parametrize(
    ("over_mm", "pitch", "grades"),
    [
        # ISO 965-1, external pitch diameter, grades 3 to 9; from memory.
        (5.6, "1.0", (56, 71, 90, 112, 140, 180, 224)),
        (2.8, "0.8", (48, 60, 75, 95, 118, 150, 190)),
        (11.2, "2.0", (80, 100, 125, 160, 200, 250, 315)),
        (22.4, "3.0", (100, 125, 160, 200, 250, 315, 400)),
        (22.4, "3.5", (106, 132, 170, 212, 265, 335, 425)),
        (45.0, "5.5", (132, 170, 212, 265, 335, 425, 530)),
    ],
)
def test_external_grades_are_steps_from_grade_6(over_mm: float, pitch: str, grades: tuple[int, ...]) -> None:
    """All grades printed for a cell follow from its grade 6."""
    cell = next(
        int(row["um"])
        for row in read_table("metric_tolerances")
        if row["quantity"] == "Td2" and row["over_mm"] == f"{over_mm:g}" and row["pitch_mm"] == pitch
    )
    assert grades == tuple(stepped_um(cell, 4 * (grade - 6)) for grade in range(3, 10))


@pytest.mark.parametrize(
    ("designation", "tolerance_um"),
    [
        # ISO 965-1, internal pitch diameter, grades 4 to 8, and internal minor diameter; from memory.
        ("M10x1.5-4H", (112, 190)),
        ("M10x1.5-5H", (140, 236)),
        ("M10x1.5-6H", (180, 300)),
        ("M10x1.5-7H", (224, 375)),
        ("M10x1.5-8H", (280, 475)),
        ("M8x1-4H", (95, 150)),
        ("M8x1-5H", (118, 190)),
        ("M8x1-7H", (190, 300)),
        ("M8x1-8H", (236, 375)),
        ("M20-4H5H", (140, 355)),
    ],
)
def test_internal_grades(designation: str, tolerance_um: tuple[int, int]) -> None:
    """Grades 4 to 8 inside, as ISO 965-1 prints them."""
    limits = read_thread(designation).limits
    assert limits.pitch_diameter_max_mm and limits.pitch_diameter_min_mm
    assert limits.minor_max_mm and limits.minor_min_mm
    found = (
        round(1000 * (limits.pitch_diameter_max_mm - limits.pitch_diameter_min_mm)),
        round(1000 * (limits.minor_max_mm - limits.minor_min_mm)),
    )
    assert tolerance_um == found


@pytest.mark.parametrize(
    ("designation", "allowance_um"),
    # ISO 965-1, fundamental deviations; from memory.
    [("M6-6e", 60), ("M6-6f", 40), ("M6-6g", 26), ("M6-6h", 0), ("M24-6e", 85), ("M24-6f", 63), ("M24-6g", 48)],
)
def test_positions_outside(designation: str, allowance_um: int) -> None:
    """Positions e to h move pitch and major diameter inwards alike."""
    thread = read_thread(designation)
    assert thread.limits.major_max_mm is not None and thread.limits.pitch_diameter_max_mm is not None
    assert allowance_um == round(1000 * (thread.major_basic_mm - thread.limits.major_max_mm))
    moved = thread.pitch_diameter_basic_mm - thread.limits.pitch_diameter_max_mm
    assert allowance_um == round(1000 * moved)


def test_position_g_inside_moves_outwards() -> None:
    """M10-6G: EI = 32 um (ISO 965-1 Table, from memory), all three diameters outwards."""
    plain, moved = read_thread("M10-6H").limits, read_thread("M10-6G").limits
    for end in ("major_min_mm", "pitch_diameter_min_mm", "pitch_diameter_max_mm", "minor_min_mm", "minor_max_mm"):
        assert getattr(moved, end) - getattr(plain, end) == pytest.approx(0.032, abs=1e-9)


def test_limits_the_standard_does_not_set_are_left_out() -> None:
    """ISO 965-1 limits neither the external minor nor the largest internal major diameter."""
    outside, inside = read_thread("M10").limits, read_thread("M10-6H").limits
    assert (outside.minor_max_mm, outside.minor_min_mm, inside.major_max_mm) == (None, None, None)


@pytest.mark.parametrize("designation", ["M13x1.1", "M30x1.2-6H", "M100x5.5-4g6g"])
def test_pitch_outside_the_tables_is_worked_out_and_said(designation: str) -> None:
    """Limits by formula lie within one preferred number of the formula of ISO 965-1, and a note says so."""
    thread = read_thread(designation)
    limits = thread.limits
    assert limits.pitch_diameter_max_mm and limits.pitch_diameter_min_mm
    assert any("formula" in note for note in thread.notes)
    tolerance_um = 1000 * (limits.pitch_diameter_max_mm - limits.pitch_diameter_min_mm)
    range_mm = {13.0: (11.2, 22.4), 30.0: (22.4, 45.0), 100.0: (90.0, 180.0)}[thread.major_basic_mm]
    factor = {"6g": 1.0, "6H": 1.32, "4g6g": 0.63}[thread.tolerance_class]
    wanted_um = factor * 90 * thread.pitch_mm**0.4 * (range_mm[0] * range_mm[1]) ** 0.05
    assert tolerance_um == pytest.approx(wanted_um, rel=0.035)


def test_table_pitches_carry_no_formula_note() -> None:
    """Every thread of the coarse series from M1.6 to M68 has its limits from the tables."""
    coarse = [name for name, _ in metric_series() if "x" not in name and float(name[1:]) >= 1.6]
    assert len(coarse) > 30
    for name in coarse:
        assert not [note for side in ("outside", "inside") for note in read_thread(name, side=side).notes], name


def test_formulas_and_tables_agree_but_for_rounding() -> None:
    """The formulas of ISO 965-1 lie within a tenth or so of each recalled cell."""
    for row in read_table("metric_tolerances"):
        pitch, um = float(row["pitch_mm"]), float(row["um"])
        formula = {
            "e": 50 + 11 * pitch,
            "f": 30 + 11 * pitch,
            "g": 15 + 11 * pitch,
            "Td": 180 * pitch ** (2 / 3) - 3.15 / pitch**0.5,
            "TD1": 433 * pitch - 190 * pitch**1.22 if pitch <= 0.8 else 230 * pitch**0.7,
        }.get(row["quantity"])
        if formula is None:
            formula = 90 * pitch**0.4 * (float(row["over_mm"]) * float(row["to_mm"])) ** 0.05
        assert um == pytest.approx(formula, rel=0.11), row


def test_coarse_series_is_that_of_iso_261() -> None:
    """Pitches of the coarse series, ISO 261 Table 2 (from memory), by size."""
    printed = "1 .25 1.2 .25 1.6 .35 2 .4 2.5 .45 3 .5 4 .7 5 .8 6 1 8 1.25 10 1.5 12 1.75 16 2 20 2.5 24 3 30 3.5"
    printed += " 36 4 42 4.5 48 5 56 5.5 64 6"
    words = printed.split()
    series = dict(metric_series())
    for size, pitch in zip(words[::2], words[1::2], strict=True):
        assert Fraction(pitch) == series[f"M{size}"]


def test_shared_tolerance_cells_are_unchanged() -> None:
    """A spot of each table of ISO 965-1, as published limits of size prove it (M12, M24, M30, M56 6g; M10 6H)."""
    cells = {
        (row["quantity"], row["over_mm"], row["pitch_mm"]): int(row["um"]) for row in read_table("metric_tolerances")
    }
    assert (cells["g", "", "1.75"], cells["Td", "", "1.75"], cells["Td2", "11.2", "1.75"]) == (34, 265, 150)
    assert (cells["g", "", "3.0"], cells["Td", "", "3.0"], cells["Td2", "22.4", "3.0"]) == (48, 375, 200)
    assert (cells["g", "", "5.5"], cells["Td", "", "5.5"], cells["Td2", "45", "5.5"]) == (75, 560, 265)
    assert cells["TD1", "", "1.5"] == 300


@pytest.mark.parametrize("place", range(0, 120, 7))
def test_preferred_numbers_follow_the_fortieth_root_of_ten(place: int) -> None:
    """ISO 3: R40 is 10^(1/40), rounded by at most 1.3 per cent."""
    assert float(preferred_number(place)) == pytest.approx(10 ** (place / 40), rel=0.013)
    assert place == preferred_place(float(preferred_number(place)))


def test_every_cell_has_a_source() -> None:
    """Each row of each thread table names where it comes from."""
    names = [path.stem for path in Path(__file__).parents[2].joinpath("core", "data").glob("*_series.csv")]
    assert len(names) >= 7
    for name in [*names, "metric_tolerances", "trapezoidal_pitches", "trapezoidal_tolerances"]:
        assert all(row["source"].strip() for row in read_table(name)), name


def test_tables_are_plain_csv() -> None:
    """No row of a table has more or fewer cells than its heading."""
    for path in Path(__file__).parents[2].joinpath("core", "data").glob("*.csv"):
        lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("# ")]
        assert len({len(row) for row in csv.reader(lines)}) == 1, path.name
