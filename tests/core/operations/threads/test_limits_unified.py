"""Unified sizes and limits, compared with published values and the formulas of ASME B1.1 in exact fractions."""

import re
from fractions import Fraction

import pytest

from core.data import read_table
from core.operations.threads.designation import read_thread
from core.operations.threads.unified import UnifiedThread, pitch_tolerance_in
from tests.core.exact import power, rounded
from tests.core.operations.threads.printed_limits import by_designation, wrong_rows, wrong_sizes
from tests.published import none_wrong

PRINTED = by_designation("threads_unified")
OF_2A = {"1A": "1.5", "2A": "1", "3A": "0.75", "1B": "1.95", "2B": "1.3", "3B": "0.975"}
"""Tolerance of the pitch diameter of each class as a multiple of the tolerance of 2A (ASME B1.1)."""
FOUR, SIX = Fraction(1, 10**4), Fraction(1, 10**6)


@pytest.mark.parametrize("designation", PRINTED)
def test_unified_thread_limits_match_published_limits(designation: str) -> None:
    """The published limits are those of ASME B1.1 and of handbooks that follow this standard."""
    none_wrong(wrong_rows(PRINTED[designation]))


def worked_out_in(size_in: Fraction, tpi: Fraction, series: str, tolerance_class: str) -> dict[str, Fraction]:
    """Return the limits of size by the formulas and the rounding of ASME B1.1 [in].

    Rounding: P to 8 places, tolerances and multiples of P to 6, the allowance and each size to 4, a tie to the even
    figure. From #6 up, the internal minor diameters of 1B and 2B, and the least of 3B, have 3 places.
    """
    pitch = rounded(1 / tpi, Fraction(1, 10**8))
    engaged = 9 * pitch if series in ("UNEF", "UNS") or (series == "UN" and tpi >= 12) else size_in
    of_2a = rounded(
        Fraction("0.0015") * power(size_in, "1/3")
        + Fraction("0.0015") * power(engaged, "1/2")
        + Fraction("0.015") * power(pitch, "2/3"),
        SIX,
    )
    tolerance = rounded(Fraction(OF_2A[tolerance_class]) * of_2a, SIX)
    pitch_line = rounded(Fraction("0.64951905") * pitch, SIX)
    if tolerance_class.endswith("A"):
        allowance = Fraction(0) if tolerance_class == "3A" else rounded(Fraction("0.3") * of_2a, FOUR)
        of_major = rounded(Fraction("0.09" if tolerance_class == "1A" else "0.06") * power(pitch, "2/3"), SIX)
        major, diameter = rounded(size_in - allowance, FOUR), rounded(size_in - allowance - pitch_line, FOUR)
        return {
            "external allowance": allowance,
            "external major diameter max": major,
            "external major diameter min": rounded(major - of_major, FOUR),
            "external pitch diameter max": diameter,
            "external pitch diameter min": rounded(diameter - tolerance, FOUR),
        }
    diameter = rounded(size_in - pitch_line, FOUR)
    minor = rounded(size_in - rounded(Fraction("1.08253175") * pitch, SIX), FOUR)
    largest = minor + rounded(minor_tolerance_in(size_in, tpi, pitch, tolerance_class), FOUR)
    if size_in >= Fraction("0.138"):
        minor = rounded(minor, Fraction(1, 1000))
        largest = largest if tolerance_class == "3B" else rounded(largest, Fraction(1, 1000))
    return {
        "internal pitch diameter min": diameter,
        "internal pitch diameter max": rounded(diameter + tolerance, FOUR),
        "internal minor diameter min": minor,
        "internal minor diameter max": largest,
    }


def minor_tolerance_in(size_in: Fraction, tpi: Fraction, pitch: Fraction, tolerance_class: str) -> Fraction:
    """Return the tolerance of the internal minor diameter (ASME B1.1, TD1) [in]."""
    of_both = Fraction("0.05") * power(pitch, "2/3") + Fraction("0.03") * pitch / size_in - Fraction("0.002")
    of_pitch = Fraction("0.25") * pitch - Fraction("0.40") * pitch**2
    if tolerance_class == "3B":
        least = Fraction("0.23") * pitch - Fraction("1.5") * pitch**2 if tpi >= 13 else Fraction("0.120") * pitch
    elif size_in >= Fraction("0.25"):
        return of_pitch if tpi >= 4 else Fraction("0.15") * pitch
    else:
        least = of_pitch
    return min(max(of_both, least), Fraction("0.394") * pitch)


def worked_out_for(designation: str) -> dict[str, Fraction]:
    """Return the limits of size of a designation such as 2 1/2-4 UNC-2A by the formulas [in]."""
    ((size, tpi, series, tolerance_class),) = re.findall(r"^(.+)-([\d /]+) (UN\w*)-(..)$", designation)
    return worked_out_in(size_of(size), size_of(tpi), series, tolerance_class)


def size_of(text: str) -> Fraction:
    """Return a size in inches. A screw number means 0.060 in plus 0.013 in for each number (ASME B1.1)."""
    if text.startswith("#"):
        return Fraction("0.060") + int(text[1:]) * Fraction("0.013")
    return sum(map(Fraction, text.split()), Fraction(0))


SERIES = [("UNC", OF_2A), ("UNF", OF_2A), ("UNEF", ("2A", "3A", "2B", "3B")), ("UN", ("2A", "2B"))]
"""Each series with its classes; 1A and 1B exist only for UNC and UNF (ASME B1.1)."""


def test_the_formulas_in_the_tests_reproduce_the_published_unified_limits() -> None:
    """The formulas agree with every printed limit. So they can also check unprinted limits."""
    rows = [row for block in PRINTED.values() for row in block if row.quantity.startswith(("external", "internal"))]
    rows = [row for row in rows if "flat root" not in row.quantity]
    assert len(rows) > 70
    for row in rows:
        assert Fraction(row.printed) == worked_out_for(row.inputs["designation"])[row.quantity], row


@pytest.mark.parametrize(
    ("series", "tolerance_class"), [(series, one) for series, classes in SERIES for one in classes]
)
def test_unified_thread_limits_match_the_formulas_of_asme_b1_1(series: str, tolerance_class: str) -> None:
    """The test covers every size of a series, and every second size of the constant pitches of 8 and 16 tpi."""
    wrong = []
    for row in read_table("unified_series")[:: 2 if series == "UN" else 1]:
        for tpi in row[series.lower()].split():
            if series != "UN" or tpi in ("8", "16"):
                designation = f"{row['size']}-{tpi.replace('.5', ' 1/2')} {series}-{tolerance_class}"
                wrong += wrong_sizes(designation, "in", worked_out_for(designation))
    none_wrong(wrong)


def test_the_pitch_diameter_tolerance_matches_a_published_example() -> None:
    """1/2-28 UNEF-2A: Td2 = 0.003668 in (handbook 31st ed. Table 3, worked example)."""
    thread = UnifiedThread(major_in=Fraction(1, 2), tpi=Fraction(28), engagement_in=Fraction(9, 28))
    assert Fraction(3668, 10**6) == pitch_tolerance_in(thread, "2A")


@pytest.mark.parametrize(
    ("designation", "engagement_in"),
    [
        # ASME B1.1: the diameter for UNC, UNF, 4-, 6- and 8-UN; nine pitches for all other series.
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
def test_the_tolerance_of_a_unified_thread_depends_on_its_length_of_engagement(
    designation: str, engagement_in: float
) -> None:
    """Class 3A has no allowance. Its tolerance is 0.75 of the formula with the length of engagement."""
    limits = read_thread(f"{designation}-3A").limits
    assert limits.pitch_diameter_max_mm and limits.pitch_diameter_min_mm and limits.major_max_mm
    size, pitch = limits.major_max_mm / 25.4, read_thread(designation).pitch_mm / 25.4
    wanted = 0.75 * (0.0015 * size ** (1 / 3) + 0.0015 * engagement_in**0.5 + 0.015 * pitch ** (2 / 3))
    found = (limits.pitch_diameter_max_mm - limits.pitch_diameter_min_mm) / 25.4
    assert wanted == pytest.approx(found, abs=0.00006)


def test_a_limit_half_way_between_two_figures_is_rounded_to_the_even_figure() -> None:
    """ASME B1.1 prints 0.91005 as 0.9100 (1-8 UNC-2A) and 0.06865 as 0.0686 (#1-64 UNC-2A)."""
    one_inch, number_1 = read_thread("1-8 UNC-2A").limits, read_thread("#1-64 UNC-2A").limits
    assert pytest.approx(one_inch.pitch_diameter_min_mm, abs=1e-9) == 0.9100 * 25.4
    assert pytest.approx(number_1.major_min_mm, abs=1e-9) == 0.0686 * 25.4


def test_only_unified_classes_1a_and_2a_have_an_allowance() -> None:
    """Class 3A and all internal classes start at the basic size (ASME B1.1)."""
    assert read_thread("1-8 UNC-3A").limits.major_max_mm == 25.4
    basic = read_thread("1-8 UNC").pitch_diameter_basic_mm
    for tolerance_class in ("1B", "2B", "3B"):
        assert basic == read_thread(f"1-8 UNC-{tolerance_class}").limits.pitch_diameter_min_mm


def test_unified_limits_that_the_standard_does_not_give_are_none() -> None:
    """The external minor and the largest internal major diameter have no limit."""
    outside, inside = read_thread("1/4-20 UNC").limits, read_thread("1/4-20 UNC-2B").limits
    assert (outside.minor_max_mm, outside.minor_min_mm, inside.major_max_mm) == (None, None, None)
    assert inside.major_min_mm == pytest.approx(6.35)


PITCHES = {
    "unc": "#1 64  #2 56  #3 48  #4 40  #5 40  #6 32  #8 32  #10 24  #12 24  1/4 20  5/16 18  3/8 16  7/16 14  1/2 13"
    "  9/16 12  5/8 11  3/4 10  7/8 9  1 8  1 1/8 7  1 1/4 7  1 3/8 6  1 1/2 6  1 3/4 5  2 4.5  2 1/4 4.5  2 1/2 4"
    "  2 3/4 4  3 4  3 1/4 4  3 1/2 4  3 3/4 4  4 4",
    "unf": "#0 80  #1 72  #2 64  #3 56  #4 48  #5 44  #6 40  #8 36  #10 32  #12 28  1/4 28  5/16 24  3/8 24  7/16 20"
    "  1/2 20  9/16 18  5/8 18  3/4 16  7/8 14  1 12  1 1/8 12  1 1/4 12  1 3/8 12  1 1/2 12",
    "unef": "#12 32  1/4 32  5/16 32  3/8 32  7/16 28  1/2 28  9/16 24  5/8 24  11/16 24  3/4 20  13/16 20  7/8 20"
    "  15/16 20  1 20  1 1/16 18  1 1/8 18  1 3/16 18  1 1/4 18  1 5/16 18  1 3/8 18  1 7/16 18  1 1/2 18  1 9/16 18"
    "  1 5/8 18  1 11/16 18",
}
"""Threads to the inch of each size (ASME B1.1, the coarse, fine and extra-fine series; from memory)."""


@pytest.mark.parametrize("series", PITCHES)
def test_every_size_of_a_unified_series_has_the_pitch_listed_in_asme_b1_1(series: str) -> None:
    """No size is missing and no size is added."""
    table = {row["size"]: row[series] for row in read_table("unified_series") if row[series]}
    assert table == dict(entry.rsplit(" ", 1) for entry in PITCHES[series].split("  "))
