"""ISO 286: tolerance zones against printed limits, and against the formulas of the standard's annex."""

import json
from contextlib import suppress
from fractions import Fraction
from itertools import pairwise
from math import sqrt

import pytest

from core.values.iso286 import zone
from tests.core.values.iso286_formulas import EDGES_MM, FINE_EDGES_MM, NoFormulaError, zone_um
from tests.published import Printed, none_wrong, printed_rows

PRINTED = printed_rows("iso286")
STEPS = tuple(pairwise(EDGES_MM))
FINE_STEPS = tuple(pairwise(FINE_EDGES_MM[5:]))


def _of_quantity(quantity: str) -> list[Printed]:
    return [row for row in PRINTED if row.quantity == quantity]


def _mean_mm(step: tuple[int, int]) -> float:
    """Return the geometric mean of a step of sizes [mm], from which the formulas start. Below 3 mm, that of 1 and 3."""
    return sqrt(max(step[0], 1) * step[1])


@pytest.mark.parametrize("code", sorted({row.inputs["code"] for row in _of_quantity("limits um")}))
def test_both_deviations_of_a_tolerance_zone_match_the_published_values(code: str) -> None:
    """Both deviations are those of the printed table [um]."""
    wrong = []
    for row in _of_quantity("limits um"):
        if row.inputs["code"] == code:
            limits = zone(Fraction(row.inputs["d"]), code)
            if [float(limits.lower_um), float(limits.upper_um)] != json.loads(row.printed):
                wrong.append(f"{row.inputs['d']} {code}: {row.printed} in {row.source}, here {limits}")
    none_wrong(wrong)


def test_fundamental_deviations_match_the_published_values() -> None:
    """The deviation nearer to zero is the printed one."""
    wrong = []
    for row in _of_quantity("deviation um"):
        limits = zone(Fraction(row.inputs["d"]), f"{row.inputs['letter']}6")
        if min(limits.lower_um, limits.upper_um, key=abs) != int(row.printed):
            wrong.append(f"{row.inputs}: {row.printed} in {row.source}, here {limits}")
    none_wrong(wrong)


def test_the_formulas_of_iso_286_give_the_published_limits() -> None:
    """Only cells rounded by hand differ. The formulas can therefore check other zones."""
    compared = 0
    for row in _of_quantity("limits um"):
        with suppress(NoFormulaError):
            assert json.loads(row.printed) == list(zone_um(row.inputs["d"], row.inputs["code"])), row
            compared += 1
    assert compared > 30


CODES = (
    *("H5", "H6", "H7", "H8", "H9", "H10", "H11", "H12", "H13", "H14", "H15", "H16", "h5", "h6", "h7", "h8", "h9"),
    *("h11", "js6", "js7", "JS7", "d8", "d9", "d10", "D9", "D10", "e7", "e8", "e9", "E8", "E9", "f6", "f7", "F7", "F8"),
    *("g5", "g6", "G6", "G7", "k5", "k6", "K6", "K7", "m5", "m6", "M7", "n5", "n6", "N7", "N9", "p6", "P7", "s6", "S7"),
    *("t6", "T7", "u6", "U7"),
)


def test_tolerance_zones_match_the_formulas_of_iso_286() -> None:
    """Zones of every step of sizes, hole and shaft, are exactly those of ISO 286-1's formulas and rounding."""
    wrong, compared = [], 0
    for size_mm in FINE_EDGES_MM[1:]:
        for code in CODES:
            with suppress(NoFormulaError):
                worked_out = zone_um(size_mm, code)
                limits = zone(Fraction(size_mm), code)
                compared += 1
                if (limits.lower_um, limits.upper_um) != worked_out:
                    wrong.append(f"{size_mm} {code}: worked out {worked_out}, here {limits}")
    none_wrong(wrong)
    assert compared > 1000


@pytest.mark.parametrize("step", STEPS[1:])
def test_standard_tolerances_match_the_formulas_of_iso_286(step: tuple[int, int]) -> None:
    """IT5 to IT16 are 7 to 1000 tolerance units (ISO 286-1, annex), as exactly as the standard rounds them."""
    mean_mm = _mean_mm(step)
    unit_um = 0.45 * mean_mm ** (1 / 3) + 0.001 * mean_mm
    factors = (7, 10, 16, 25, 40, 64, 100, 160, 250, 400, 640, 1000)
    for grade, factor in enumerate(factors, start=5):
        limits = zone(Fraction(step[1]), f"H{grade}")
        assert float(limits.upper_um) == pytest.approx(factor * unit_um, rel=0.05, abs=0.7), (step, grade)


@pytest.mark.parametrize(
    ("letter", "factor", "power"),
    [("d", -16, 0.44), ("e", -11, 0.41), ("f", -5.5, 0.41), ("g", -2.5, 0.34), ("n", 5, 0.34)],
)
def test_fundamental_deviations_match_the_formulas_of_iso_286(letter: str, factor: float, power: float) -> None:
    """d, e, f, g and n are a factor times a power of D (ISO 286-1, annex), except for the table's rounding."""
    for step in STEPS[1:]:
        limits = zone(Fraction(step[1]), f"{letter}6")
        nearer = float(min(limits.lower_um, limits.upper_um, key=abs))
        assert nearer == pytest.approx(factor * _mean_mm(step) ** power, rel=0.025, abs=0.95), step


@pytest.mark.parametrize(("letter", "factor", "from_mm"), [("s", 0.4, 50), ("t", 0.63, 40), ("u", 1.0, 18)])
def test_deviations_of_press_fit_shafts_match_the_formulas_of_iso_286(letter: str, factor: float, from_mm: int) -> None:
    """s, t and u are IT7 plus 0.4 D, 0.63 D and D (ISO 286-1, annex), in the finer steps of sizes."""
    for step in FINE_STEPS:
        if step[0] < from_mm:
            continue
        size = Fraction(step[1])
        wanted = float(zone(size, "H7").upper_um) + factor * _mean_mm(step)
        assert float(zone(size, f"{letter}6").lower_um) == pytest.approx(wanted, rel=0.02, abs=1), step


@pytest.mark.parametrize("step", STEPS)
def test_a_standard_tolerance_five_grades_coarser_is_ten_times_larger(step: tuple[int, int]) -> None:
    """From IT6 on, every fifth grade is ten times larger (ISO 286-1, annex). For 3 to 6 mm, IT11 is rounded to 75."""
    tolerances = {grade: zone(Fraction(step[1]), f"H{grade}").upper_um for grade in range(6, 19)}
    for grade in range(6, 14):
        if (step, grade) != ((3, 6), 6):
            assert tolerances[grade + 5] == 10 * tolerances[grade], grade


@pytest.mark.parametrize("step", STEPS)
def test_standard_tolerances_of_the_finest_grades_match_the_formulas_of_iso_286(step: tuple[int, int]) -> None:
    """IT1 is 0.8 + 0.02 D. IT2 to IT4 have even ratios up to IT5 (ISO 286-1, annex), roughly rounded."""
    tolerances = [float(zone(Fraction(step[1]), f"H{grade}").upper_um) for grade in range(1, 6)]
    assert tolerances[0] == pytest.approx(0.8 + 0.02 * _mean_mm(step), rel=0.2)
    ratio = tolerances[4] / tolerances[0]
    for place in (1, 2, 3):
        assert tolerances[place] == pytest.approx(tolerances[0] * ratio ** (place / 4), rel=0.2), place


@pytest.mark.parametrize("step", STEPS[1:])
def test_the_deviations_of_letters_m_and_p_follow_from_the_standard_tolerances(step: tuple[int, int]) -> None:
    """m is IT7 - IT6. p is IT7 and up to 5 um more. s to 50 mm is IT8 and 1 to 4 um more (ISO 286-1, annex)."""
    size = Fraction(step[1])
    it6, it7, it8 = (zone(size, f"H{grade}").upper_um for grade in (6, 7, 8))
    assert zone(size, "m6").lower_um == it7 - it6
    assert 0 <= zone(size, "p6").lower_um - it7 <= 5
    if step[1] <= 50:
        assert 1 <= zone(size, "s6").lower_um - it8 <= 4
    assert float(zone(size, "k6").lower_um) == pytest.approx(0.6 * _mean_mm(step) ** (1 / 3), abs=0.8)


def test_the_deviations_of_letters_a_b_and_c_match_the_formulas_of_iso_286() -> None:
    """a and b: 265 + 1.3 D and 3.5 D, 140 + 0.85 D and 1.8 D. c over 40 mm: 95 + 0.8 D (ISO 286-1, annex)."""
    for step in ((3, 6), (6, 10), (10, 18), *FINE_STEPS):
        size, mean_mm = Fraction(step[1]), _mean_mm(step)
        wanted = {
            "a": 265 + 1.3 * mean_mm if step[1] <= 120 else 3.5 * mean_mm,
            "b": 140 + 0.85 * mean_mm if step[1] <= 160 else 1.8 * mean_mm,
        }
        if step[0] >= 40:
            wanted["c"] = 95 + 0.8 * mean_mm
        for letter, deviation_um in wanted.items():
            assert -float(zone(size, f"{letter}11").upper_um) == pytest.approx(deviation_um, rel=0.05), (letter, step)


def test_the_deviation_of_letter_r_lies_between_those_of_letters_p_and_s() -> None:
    """r is the geometric mean of p and s (ISO 286-1, annex)."""
    for step in FINE_STEPS:
        p, r, s = (float(zone(Fraction(step[1]), f"{letter}6").lower_um) for letter in "prs")
        assert r == pytest.approx(sqrt(p * s), abs=1.2), step


@pytest.mark.parametrize("edge", EDGES_MM[1:-1])
def test_each_range_of_nominal_sizes_includes_its_upper_end(edge: int) -> None:
    """Each step is above one size up to and including the next: 30 is in 18 to 30, and 30.001 is not."""
    assert zone(Fraction(edge), "h7") == zone(Fraction(edge) - Fraction(1, 1000), "h7")
    assert zone(Fraction(edge), "h7") != zone(Fraction(edge) + Fraction(1, 1000), "h7")


@pytest.mark.parametrize("step", STEPS)
def test_only_letters_a_to_c_and_r_to_u_have_narrower_ranges_of_sizes(step: tuple[int, int]) -> None:
    """Tolerances and d to p are constant in a step. Only a to c and r to u have finer steps (ISO 286-1)."""
    codes = [f"H{grade}" for grade in range(1, 19)]
    codes += ["d9", "e8", "f7", "g6", "h6", "j5", "j6", "j7", "k6", "m6", "n6", "p6", "J6", "J7", "J8"]
    for size in (14, 24, 40, 65, 100, 140, 160, 200, 225, 280, 355, 450):
        if step[0] < size <= step[1]:
            for code in codes:
                assert zone(Fraction(size), code) == zone(Fraction(step[1]), code), (size, code)


@pytest.mark.parametrize("size", [2, 5, 8, 14, 25, 40, 70, 100, 150, 220, 300, 380, 450])
@pytest.mark.parametrize("letter", ["d", "f", "g", "h", "js"])
def test_the_tolerance_zone_of_a_hole_mirrors_that_of_the_shaft_with_the_same_letter(size: int, letter: str) -> None:
    """A hole to H, and JS, is its shaft mirrored at the zero line (ISO 286-1, rule for holes)."""
    for grade in (7, 8, 9):
        hole, shaft = (zone(Fraction(size), f"{name}{grade}") for name in (letter.upper(), letter))
        assert (hole.lower_um, hole.upper_um) == (-shaft.upper_um, -shaft.lower_um)


def test_tolerance_zones_of_press_fit_holes_in_coarse_grades_are_not_shifted() -> None:
    """Above 3 mm N9 is 0 to -IT9, and P9 starts at -p (ISO 286-1; N9 and P9 are printed for keyways)."""
    assert zone(Fraction(8), "N9").upper_um == 0
    assert zone(Fraction(8), "P9").upper_um == -15
