"""Fits: their sizes match printed limits, they have the right kind, and dial marks are inside them."""

import json
from fractions import Fraction

import pytest

from core.conversion.answers import text_lines
from core.conversion.convert import convert
from core.lathe.lathe import Lathe
from core.lathe.reader import example_lathe
from core.values.errors import QuantityError
from tests.published import Printed, none_wrong, printed_rows

PRINTED = printed_rows("iso286")


def _of_quantity(quantity: str) -> list[Printed]:
    return [row for row in PRINTED if row.quantity == quantity]


@pytest.mark.parametrize("size_mm", sorted({row.inputs["d"] for row in _of_quantity("limits mm")}))
def test_limits_of_size_match_published_tables_of_iso_tolerances(size_mm: int) -> None:
    """Both limits of a size such as `30 H7` are those of the printed table."""
    wrong = []
    for row in _of_quantity("limits mm"):
        if row.inputs["d"] == size_mm:
            code = row.inputs["code"]
            part = convert(f"{size_mm} {code}", None).figures["hole" if code[0].isupper() else "shaft"]
            if [part["min_mm"], part["max_mm"]] != pytest.approx(json.loads(row.printed), abs=row.tolerance):
                wrong.append(f"{size_mm} {code}: {row.printed} in {row.source}, here {part}")
    none_wrong(wrong)


@pytest.mark.parametrize("row", _of_quantity("fit"), ids=str)
def test_limits_and_clearances_of_fits_match_published_tables(row: Printed) -> None:
    """Hole, shaft and both clearances are those of the preferred-fit tables."""
    printed = json.loads(row.printed)
    figures = convert(f"{row.inputs['d']} {row.inputs['code']}", None).figures
    for part in ("hole", "shaft"):
        assert [figures[part]["min_mm"], figures[part]["max_mm"]] == pytest.approx(printed[part], abs=1e-9)
    assert figures["clearance_min_mm"] * 1000 == pytest.approx(printed["min_clear"])
    assert figures["clearance_max_mm"] * 1000 == pytest.approx(printed["max_clear"])


@pytest.mark.parametrize("size", [5, 8, 14, 25, 40, 70, 100, 150, 220, 300, 380, 450])
@pytest.mark.parametrize("letter", ["k", "n", "p", "s"])
def test_a_hole_basis_fit_has_the_same_clearances_as_the_equivalent_shaft_basis_fit(size: int, letter: str) -> None:
    """H7/p6 and P7/h6 have the same clearances above 3 mm. The rule of delta has this purpose (ISO 286-1)."""
    first, second = (convert(f"{size} {code}", None).figures for code in (f"H7/{letter}6", f"{letter.upper()}7/h6"))
    for key in ("clearance_min_mm", "clearance_max_mm"):
        assert first[key] == pytest.approx(second[key])


@pytest.mark.parametrize(
    ("asked", "name"),
    [("30 H7/g6", "clearance"), ("30 H7/h6", "clearance"), ("30 H7/k6", "transition"), ("30 H7/s6", "interference"),
     ("10 H7/p6", "interference"), ("30H7 / n6", "transition"), ("30 mm H7-g6", "clearance"), ("Ø30 H7 g6",
     "clearance")],
)  # fmt: skip
def test_the_clearances_decide_whether_a_fit_is_clearance_transition_or_interference(asked: str, name: str) -> None:
    """A least clearance of 0 counts as clearance, a largest of 0 as interference (10 H7/p6: 15 and 15 um)."""
    assert convert(asked, None).figures["fit"] == name


def test_limits_of_a_fit_in_inches_are_rounded_inward() -> None:
    """30 H7/g6 by hand: 30.021 mm is 1.18193 in, 30 mm 1.18110 in, 29.993 mm 1.18083 in, 29.980 mm 1.18031 in."""
    figures = convert("30 H7/g6", None).figures
    assert (figures["hole"]["min_in"], figures["hole"]["max_in"]) == (1.1812, 1.1819)
    assert (figures["shaft"]["min_in"], figures["shaft"]["max_in"]) == (1.1804, 1.1808)


@pytest.mark.parametrize("asked", ["30 H4", "2 h3", "400 g5/", "120 H5", "7 js3"])
def test_limits_of_a_fit_in_inches_never_lie_outside_the_exact_limits(asked: str) -> None:
    """The inches lie inside the exact limits, however narrow the tolerance zone is."""
    figures = convert(asked.rstrip("/"), None).figures
    part = figures.get("hole") or figures["shaft"]
    lower, upper = (Fraction(str(part[key])) * Fraction(254, 10) for key in ("min_in", "max_in"))
    assert Fraction(str(part["min_mm"])) <= lower <= upper <= Fraction(str(part["max_mm"]))


def test_every_dial_mark_given_for_a_fit_lies_within_the_limits_of_its_part() -> None:
    """Each mark for a part is inside its limits as a diameter. "Between" is shown only if no mark is."""
    lathe = example_lathe()
    answer = convert("31.7 H9/e9", lathe)
    limits = {part: (answer.figures[part]["min_mm"], answer.figures[part]["max_mm"]) for part in ("hole", "shaft")}
    assert {reading.limit for reading in answer.dials} == {"lower", "upper", "between"}
    for reading in answer.dials:
        dial = lathe.dials[reading.setting.dial]
        lower, upper = limits[str(reading.part)]
        diameter_mm = 2 * reading.setting.position * float(dial.mm_per_unit)
        if reading.limit == "between":
            mark_mm = 2 * dial.mark_mm
            assert not lower <= round(diameter_mm / mark_mm) * mark_mm <= upper
        else:
            assert lower - 1e-9 <= diameter_mm <= upper + 1e-9


@pytest.mark.parametrize(
    "asked",
    ["30 H99", "30 Z7", "0 H7", "501 H7", "30 g6/H7", "30 H7/H8", "30 g6/h6", "10 t6", "1 a11", "30 HH7", "30 H7/x6",
     "30 Js7", "30 K9", "5000 H7/g6", "1 h14", "1 N9"],
)  # fmt: skip
def test_invalid_fits_and_fits_outside_the_tables_are_refused(asked: str) -> None:
    """The refusal says what to enter instead."""
    with pytest.raises(QuantityError, match=r"[Ee]nter"):
        convert(asked, None)


def test_every_size_of_a_fit_is_shown_with_its_unit() -> None:
    """The lines for a terminal give deviations, sizes and clearances with their units."""
    lathe: Lathe | None = None
    text = "\n".join(text_lines(convert("30 H7/g6", lathe)))
    assert "30.021 mm (30021 µm)" in text
    for words in ("0 µm to +21 µm", "-20 µm to -7 µm", "7 µm", "41 µm", "1.1812 in (1181.2 thou)"):
        assert words in text
