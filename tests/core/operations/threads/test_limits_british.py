"""Whitworth, BSP and BA sizes and limits, compared with published values and the formulas of their standards."""

import math
from fractions import Fraction

import pytest

from core.data import read_table
from core.operations.threads.designation import read_thread
from tests.core.exact import power, rounded
from tests.core.operations.threads.printed_limits import by_designation, wrong_rows, wrong_sizes
from tests.published import none_wrong

PRINTED = by_designation("threads_whitworth", "threads_bsp", "threads_ba")


@pytest.mark.parametrize("designation", PRINTED)
def test_british_thread_limits_match_published_limits(designation: str) -> None:
    """The published limits are those of BS 84, BS 2779, ISO 228-1 and BS 93."""
    none_wrong(wrong_rows(PRINTED[designation]))


def whitworth_in(size_in: Fraction, tpi: Fraction) -> dict[str, Fraction]:
    """Return the basic sizes of a Whitworth thread [in] by the formulas of BS 84.

    The depth 0.640327 p is rounded to 0.0001 in before it is subtracted; r = 0.137329 p.
    """
    depth = rounded(Fraction("0.640327") / tpi, "0.0001")
    return {
        "thread depth": depth,
        "basic major diameter": size_in,
        "basic pitch diameter": size_in - depth,
        "basic minor diameter": size_in - 2 * depth,
        "root radius": Fraction("0.137329") / tpi,
    }


def ba_mm(number: int) -> dict[str, Fraction]:
    """Return the basic sizes of a BA thread [mm] by the formulas of BS 93.

    p = 0.9^k and d = 6 p^1.2, both to two figures; the depth 0.6 p is rounded to 0.005 mm.
    """
    fine = Fraction(9, 10) ** number
    pitch, major = two_figures(fine), two_figures(6 * power(fine, "1.2"))
    depth = rounded(Fraction("0.6") * pitch, "0.005")
    return {
        "pitch": pitch,
        "basic major diameter": major,
        "basic pitch diameter": major - depth,
        "basic minor diameter": major - 2 * depth,
    }


def two_figures(value: Fraction) -> Fraction:
    """Return a value from 0.1 up to 10, rounded to two figures."""
    return rounded(value, "0.1" if value >= 1 else "0.01")


def test_the_formulas_in_the_tests_reproduce_the_published_british_limits() -> None:
    """BS 84 and BS 93 print these limits. So the formulas can also check unprinted sizes."""
    of_printed = [
        ("1/4-20 BSW", whitworth_in(Fraction(1, 4), Fraction(20))),
        ("5/16-18 BSW", whitworth_in(Fraction(5, 16), Fraction(18))),
        ("3/8-16 BSW", whitworth_in(Fraction(3, 8), Fraction(16))),
        ("1/2-12 BSW", whitworth_in(Fraction(1, 2), Fraction(12))),
        ("2 BA", ba_mm(2)),
        ("8 BA", ba_mm(8)),
    ]
    for designation, worked_out in of_printed:
        for row in PRINTED[designation]:
            assert Fraction(row.printed) == worked_out[row.quantity], row


@pytest.mark.parametrize("series", ["BSW", "BSF"])
def test_whitworth_basic_sizes_match_the_formulas_of_bs_84(series: str) -> None:
    """The test covers the basic sizes of the whole series, by the formulas of BS 84."""
    wrong = []
    for row in read_table("whitworth_series"):
        if row["series"] == series:
            size = sum(map(Fraction, row["size"].split()), Fraction(0))
            wrong += wrong_sizes(f"{row['size']} {series}", "in", whitworth_in(size, Fraction(row["tpi"])))
    none_wrong(wrong)


def test_ba_basic_sizes_match_the_formulas_of_bs_93() -> None:
    """The basic sizes are those of 0 to 16 BA by BS 93. r = 0.1808346 p, whose last figure differs from the form's."""
    wrong = []
    for number in range(17):
        sizes = ba_mm(number)
        wrong += wrong_sizes(f"{number} BA", "mm", sizes)
        wrong += wrong_sizes(f"{number} BA", "in", {name: size / Fraction("25.4") for name, size in sizes.items()})
        radius = Fraction("0.1808346") * sizes["pitch"]
        wrong += wrong_sizes(f"{number} BA", "mm", {"root radius": radius}, within=1e-6)
    none_wrong(wrong)


def test_bsp_class_b_has_twice_the_tolerance_of_class_a() -> None:
    """ISO 228-1 gives class B twice the tolerance of class A, which is printed for G1/8 to G1."""
    rows = [row for block in PRINTED.values() for row in block if row.inputs["designation"].endswith(" A")]
    rows = [row for row in rows if row.quantity == "external pitch diameter tolerance"]
    assert len(rows) == 4
    for row in rows:
        class_b = row.inputs["designation"].replace(" A", " B")
        none_wrong(wrong_sizes(class_b, "mm", {row.quantity: 2 * Fraction(row.printed)}))


def _span_in(designation: str, which: str, side: str = "outside") -> float:
    limits = read_thread(designation, side=side).limits
    return float(getattr(limits, f"{which}_max_mm") - getattr(limits, f"{which}_min_mm")) / 25.4


@pytest.mark.parametrize("fit", ["close", "medium", "free"])
@pytest.mark.parametrize(
    ("size", "tpi", "series"), [("1/4", 20, "BSW"), ("1/2", 12, "BSW"), ("1", 8, "BSW"), ("3/8", 20, "BSF")]
)
def test_bs_84_thread_tolerances_match_the_formulas_of_the_standard(size: str, tpi: int, series: str, fit: str) -> None:
    """T = 0.002 D^(1/3) + 0.003 L^(1/2) + 0.005 p^(1/2), and its multiples (BS 84, from a handbook)."""
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
def test_the_minor_diameter_tolerance_of_bs_84_nuts_matches_the_published_formula(
    name: str, tolerance_in: float
) -> None:
    """The tolerance is 0.2 p and 0.004 in from 26 tpi, 0.005 in at 24 and 22 tpi (BS 84, from a handbook)."""
    assert tolerance_in == pytest.approx(_span_in(name, "minor", "inside"), abs=0.00006)


def test_only_small_bs_84_bolts_of_medium_or_free_fit_have_an_allowance() -> None:
    """Nuts and close bolts have no allowance; small medium and free bolts have an allowance (from memory)."""
    nut, close = read_thread("1/2 BSW", side="inside"), read_thread("1/2 BSW close")
    assert nut.limits.pitch_diameter_min_mm == nut.pitch_diameter_basic_mm
    assert close.limits.major_max_mm == close.major_basic_mm
    medium, large = read_thread("1/2 BSW").limits, read_thread("1 BSW").limits
    assert medium.major_max_mm is not None and medium.major_max_mm < 12.7
    assert large.major_max_mm == 25.4


@pytest.mark.parametrize("row", read_table("bsp_series"), ids=lambda row: f"G{row['size']}")
def test_bsp_basic_sizes_match_the_formulas_of_iso_228_1(row: dict[str, str]) -> None:
    """ISO 228-1: P = 25.4/n; h = 0.640327 P, rounded to 0.001 mm; D2 = D - h, D1 = D - 2h."""
    pitch, major = Fraction("25.4") / int(row["tpi"]), Fraction(row["major_mm"])
    depth = rounded(Fraction("0.640327") * pitch, "0.001")
    worked_out = {
        "pitch": pitch,
        "thread depth": depth,
        "basic pitch diameter": major - depth,
        "basic minor diameter": major - 2 * depth,
    }
    none_wrong(wrong_sizes(f"G{row['size']}", "mm", worked_out))


@pytest.mark.parametrize("number", range(11))
def test_ba_tolerances_match_the_formulas_of_bs_93(number: int) -> None:
    """0 to 10 BA follow BS 93 from a handbook, with formulas from memory, to 0.001 mm. p is the pitch in mm."""
    p = float(ba_mm(number)["pitch"])
    for name, which, side, tolerance_mm in (
        ("close", "pitch_diameter", "outside", 0.08 * p + 0.02),
        ("normal", "pitch_diameter", "outside", 0.10 * p + 0.025),
        ("close", "major", "outside", 0.15 * p),
        ("normal", "major", "outside", 0.20 * p),
        ("", "pitch_diameter", "inside", 0.12 * p + 0.03),
        ("", "minor", "inside", 0.375 * p),
    ):
        found_mm = _span_in(f"{number} BA {name}", which, side) * 25.4
        assert tolerance_mm == pytest.approx(found_mm, abs=0.00051), (name, which, side)


PITCHES = {
    "BSW": "1/8 40  3/16 24  1/4 20  5/16 18  3/8 16  7/16 14  1/2 12  9/16 12  5/8 11  11/16 11  3/4 10  7/8 9  1 8"
    "  1 1/8 7  1 1/4 7  1 1/2 6  1 3/4 5  2 4.5  2 1/4 4  2 1/2 4  2 3/4 3.5  3 3.5",
    "BSF": "3/16 32  7/32 28  1/4 26  9/32 26  5/16 22  3/8 20  7/16 18  1/2 16  9/16 16  5/8 14  11/16 14  3/4 12"
    "  7/8 11  1 10  1 1/8 9  1 1/4 9  1 3/8 8  1 1/2 8  1 3/4 7  2 7",
}
"""Threads to the inch of the usual sizes (BS 84, from memory)."""


@pytest.mark.parametrize("series", PITCHES)
def test_every_common_bsw_or_bsf_size_has_the_pitch_listed_in_bs_84(series: str) -> None:
    """Rarely used sizes are not checked."""
    table = {row["size"]: row["tpi"] for row in read_table("whitworth_series") if row["series"] == series}
    expected = dict(entry.rsplit(" ", 1) for entry in PITCHES[series].split("  "))
    assert {size: table[size] for size in expected} == expected
