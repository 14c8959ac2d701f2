"""Trapezoidal and Acme sizes and limits, compared with published values and the formulas of their standards."""

import re
from fractions import Fraction

import pytest

from core.data import read_table
from core.operations.threads.designation import read_thread
from core.operations.threads.trapezoidal import trapezoidal_series
from tests.core.exact import power, rounded
from tests.core.operations.threads.metric_formulas import (
    MICROMETRE,
    PLACES_BY_GRADE,
    RANGES_MM,
    cell_um,
    formula_um,
    preferred_um,
)
from tests.core.operations.threads.printed_limits import by_designation, wrong_rows, wrong_sizes
from tests.published import Printed, none_wrong

PRINTED = by_designation("threads_trapezoidal", "threads_acme")


@pytest.mark.parametrize("designation", PRINTED)
def test_trapezoidal_and_acme_thread_limits_match_published_limits(designation: str) -> None:
    """The published limits are those of ISO 2904, ISO 2903 and ASME B1.5."""
    none_wrong(wrong_rows(PRINTED[designation]))


CLEARANCES_MM = ((Fraction("1.5"), "0.15"), (Fraction(5), "0.25"), (Fraction(12), "0.5"), (Fraction(44), "1"))
"""The crest clearance ac for pitches up to each of these (ISO 2901).

The published rows have a thread with each clearance.
"""


def trapezoidal_mm(size: Fraction, pitch: Fraction) -> dict[str, Fraction]:
    """Return the sizes of a trapezoidal thread by ISO 2904 [mm].

    d2 = d - P/2, D4 = d + 2 ac, d3 = d - P - 2 ac, D1 = d - P.
    """
    clearance = next(Fraction(clearance) for up_to, clearance in CLEARANCES_MM if pitch <= up_to)
    return {
        "external major diameter max": size,
        "basic pitch diameter": size - pitch / 2,
        "basic minor diameter": size - pitch - 2 * clearance,
        "internal major diameter min": size + 2 * clearance,
        "internal pitch diameter min": size - pitch / 2,
        "internal minor diameter min": size - pitch,
    }


def test_trapezoidal_thread_sizes_match_the_published_formulas() -> None:
    """The test covers every thread of ISO 2902 in the classes of grade 7, and the printed thread."""
    wrong = []
    for name, pitch in trapezoidal_series():
        for quantity, size in trapezoidal_mm(Fraction(name[2:].split("x")[0]), pitch).items():
            position = "H" if quantity.startswith("internal") else "e"
            wrong += wrong_sizes(f"{name}-7{position}", "mm", {quantity: size})
    none_wrong(wrong)
    for row in PRINTED["Tr 8 x 1.5"]:
        assert Fraction(row.printed) == trapezoidal_mm(Fraction(8), Fraction("1.5"))[row.quantity], row


CELLS_BY_HAND = {(Fraction(45), Fraction(18))}
"""Diameter range and pitch for which ISO 2903 prints another pitch-diameter tolerance than the formula's result."""
CRESTS_BY_HAND = {Fraction(pitch) for pitch in (10, 12, 14, 18, 32, 44)}
"""Pitches for which ISO 2903 prints another tolerance of the internal minor diameter than the formula's result."""


def trapezoidal_tolerances_mm(size: Fraction, pitch: Fraction, grade: int) -> dict[str, Fraction]:
    """Return the tolerances of ISO 2903 by the formulas of ISO 965-1, with crests in grade 4, from memory [mm]."""
    range_mm = next(ends for ends in RANGES_MM if ends[0] < size <= ends[1])
    worked_out = {"external major diameter tolerance": cell_um("Td", pitch, None, PLACES_BY_GRADE["Td"][4])}
    if (range_mm[0], pitch) not in CELLS_BY_HAND:
        outside, inside = PLACES_BY_GRADE["Td2"][grade], PLACES_BY_GRADE["Td2"][grade] + 5
        worked_out["external pitch diameter tolerance"] = cell_um("Td2", pitch, range_mm, outside)
        worked_out["internal pitch diameter tolerance"] = cell_um("Td2", pitch, range_mm, inside)
    if pitch not in CRESTS_BY_HAND:
        crest = preferred_um(formula_um("TD1", pitch), PLACES_BY_GRADE["TD1"][4])
        worked_out["internal minor diameter tolerance"] = crest
    return {quantity: um * MICROMETRE for quantity, um in worked_out.items()}


@pytest.mark.parametrize("grade", [7, 8, 9])
def test_trapezoidal_thread_tolerances_match_the_published_formulas(grade: int) -> None:
    """The test covers every thread of ISO 2902 in grade 7, and every fourth in grades 8 and 9.

    External threads have the position that ISO 2903 combines with the grade.
    """
    wrong = []
    for name, pitch in trapezoidal_series()[:: 1 if grade == 7 else 4]:
        tolerances = trapezoidal_tolerances_mm(Fraction(name[2:].split("x")[0]), pitch, grade)
        for quantity, tolerance in tolerances.items():
            position = "H" if quantity.startswith("internal") else "c" if grade == 9 else "e"
            wrong += wrong_sizes(f"{name}-{grade}{position}", "mm", {quantity: tolerance})
    none_wrong(wrong)


ALLOWANCES = [row for block in PRINTED.values() for row in block if row.quantity == "external pitch diameter allowance"]


@pytest.mark.parametrize("row", ALLOWANCES, ids=lambda row: row.inputs["designation"])
def test_the_minor_diameter_tolerance_of_external_trapezoidal_threads_includes_the_allowance(row: Printed) -> None:
    """ISO 2903: the external minor diameter has 1.25 Td2, to a micrometre, plus the printed allowance."""
    designation = row.inputs["designation"]
    ((size, pitch, grade),) = re.findall(r"^Tr(\d+)x(\d+)-(\d)", designation)
    tolerances = trapezoidal_tolerances_mm(Fraction(size), Fraction(pitch), int(grade))
    of_pitch = rounded(tolerances["external pitch diameter tolerance"] * Fraction("1.25"), MICROMETRE)
    worked_out = {"external minor diameter tolerance": of_pitch + Fraction(row.printed)}
    none_wrong(wrong_sizes(designation, "mm", worked_out))


@pytest.mark.parametrize(
    ("over_mm", "to_mm"), [ends for ends in RANGES_MM if ends[0] > 5], ids=lambda end: f"{float(end):g}"
)
def test_stored_trapezoidal_tolerances_match_the_published_formula(over_mm: Fraction, to_mm: Fraction) -> None:
    """Td2(6) = 90 P^0.4 d^0.1, d the geometric mean of the range, as a preferred number, with one exception."""
    rows = [row for row in read_table("trapezoidal_tolerances") if Fraction(row["over_mm"]) == over_mm]
    assert rows
    for row in rows:
        pitch = Fraction(row["pitch_mm"])
        by_formula = formula_um("Td2", pitch, (over_mm, to_mm))
        if (over_mm, pitch) in CELLS_BY_HAND:
            assert int(row["um"]) == pytest.approx(float(by_formula), rel=0.04)
        else:
            assert int(row["um"]) == preferred_um(by_formula), row


ACME_CLASSES = {
    "2G": ("0.008", "0.030", "0.006"),
    "3G": ("0.006", "0.014", "0.0028"),
    "4G": ("0.004", "0.010", "0.002"),
}
"""For each class: allowance over sqrt D, tolerance's shares over sqrt P and sqrt D [in] (ASME B1.5, from memory)."""


def acme_in(size: Fraction, tpi: Fraction, tolerance_class: str) -> dict[str, Fraction]:
    """Return the limits of size of an Acme thread by the formulas of ASME B1.5 [in].

    Each size is rounded to 4 places, a tie to the even figure, before the next allowance or tolerance is subtracted.
    Allowance and tolerance are not rounded. The clearance on the diameter is 0.020 in, above 10 tpi 0.010 in.
    """
    pitch, clearance = 1 / tpi, Fraction("0.020" if tpi <= 10 else "0.010")
    allowance, of_pitch, of_size = map(Fraction, ACME_CLASSES[tolerance_class])
    tolerance = of_pitch * power(pitch, "1/2") + of_size * power(size, "1/2")
    crest = max(pitch / 20, Fraction("0.005"))
    diameter, bore = to_4(size - pitch / 2), to_4(size - pitch)
    largest, core = to_4(diameter - allowance * power(size, "1/2")), to_4(size - pitch - clearance)
    return {
        "external major diameter max": size,
        "external major diameter min": to_4(size - crest),
        "external pitch diameter max": largest,
        "external pitch diameter min": to_4(largest - tolerance),
        "external minor diameter max": core,
        "external minor diameter min": to_4(core - tolerance * 3 / 2),
        "internal major diameter min": size + clearance,
        "internal major diameter max": size + 2 * clearance,
        "internal pitch diameter min": diameter,
        "internal pitch diameter max": to_4(diameter + tolerance),
        "internal minor diameter min": bore,
        "internal minor diameter max": to_4(bore + crest),
    }


def to_4(size_in: Fraction) -> Fraction:
    """Return a size rounded to 4 decimal places."""
    return rounded(size_in, "0.0001")


@pytest.mark.parametrize("tolerance_class", ACME_CLASSES)
def test_acme_thread_limits_match_the_formulas_of_asme_b1_5(tolerance_class: str) -> None:
    """The test covers every size of the standard's series.

    In 5/8-8 2G a tolerance rounded first would give a tie at 0.57785 in.
    """
    wrong = []
    for row in read_table("acme_series"):
        size = sum(map(Fraction, row["size"].split()), Fraction(0))
        limits = acme_in(size, Fraction(row["tpi"]), tolerance_class)
        wrong += wrong_sizes(f"{row['size']}-{row['tpi']} Acme-{tolerance_class}", "in", limits)
    none_wrong(wrong)


def test_the_root_flat_of_an_acme_thread_matches_asme_b1_5() -> None:
    """ASME B1.5: the root flat is 0.3707 P - 0.259 times the clearance on the diameter."""
    thread = read_thread("3/4-6 Acme")
    assert pytest.approx(thread.root_flat_mm / 25.4, abs=0.00005) == 0.3707 / 6 - 0.259 * 0.020


def test_the_root_flat_of_a_trapezoidal_thread_matches_iso_2901() -> None:
    """ISO 2901: the root flat is 0.366 P - 0.536 ac."""
    thread = read_thread("Tr20x4")
    assert pytest.approx(thread.root_flat_mm, abs=1e-5) == 0.366025 * 4 - 0.535898 * 0.25


@pytest.mark.parametrize(("tpi", "clearance_in"), [("3/4-6", 0.020), ("1/2-10", 0.020), ("3/8-12", 0.010)])
def test_the_clearance_of_acme_threads_matches_asme_b1_5(tpi: str, clearance_in: float) -> None:
    """ASME B1.5: 0.020 in on the diameter, above 10 tpi 0.010 in, outside and inside."""
    outside, inside = read_thread(f"{tpi} Acme"), read_thread(f"{tpi} Acme", side="inside")
    core_in = (outside.major_basic_mm - outside.minor_basic_mm - outside.pitch_mm) / 25.4
    assert clearance_in == pytest.approx(core_in, abs=0.00006)
    assert inside.limits.major_min_mm is not None
    assert clearance_in == pytest.approx((inside.limits.major_min_mm - inside.major_basic_mm) / 25.4, abs=1e-9)


def test_the_number_of_starts_does_not_change_the_thread_profile() -> None:
    """Tr40x14P7 has pitch 7 mm, lead 14 mm, and the sizes of Tr40x7 (ISO 2904)."""
    thread, single = read_thread("Tr40x14P7"), read_thread("Tr40x7")
    assert (thread.pitch_mm, thread.lead_mm, thread.starts) == (7.0, 14.0, 2)
    assert thread.minor_basic_mm == single.minor_basic_mm
    assert any("several starts" in note for note in thread.notes)
