"""Tapers in conversion: every form of a taper gives both angles, the indicator and the compound's scale."""

from fractions import Fraction
from math import atan, degrees, pi
from typing import Literal

import pytest

from core.conversion.answers import Conversion, text_lines
from core.conversion.convert import convert
from core.data import read_table
from core.lathe.lathe import CompoundScale
from core.lathe.reader import example_lathe
from core.operations.taper_angles import standard_tapers, stated_taper
from core.values.errors import QuantityError
from core.values.quantities import read_quantity
from tests.published import Printed, printed_rows

STANDARD = [row for row in printed_rows("conversion") if row.quantity == "standard taper"]


@pytest.mark.parametrize(
    "text",
    ["0.5 in per ft", "0.5 in per foot", "0.5 in/ft", "1/8 in per 3 in", "3.175 mm per 76.2 mm", "0.5 tpf", "1:24"],
)
def test_an_operation_reads_every_way_of_writing_a_taper_as_the_same_half_angle(text: str) -> None:
    """Half an inch in a foot is 1:24 on the diameter, a half angle of atan(1/48)."""
    assert float(stated_taper(text, None).half_deg) == pytest.approx(degrees(atan(1 / 48)), rel=1e-12)


def test_the_words_half_and_included_are_accepted_only_with_an_angle() -> None:
    """An angle without such a word is refused. So is a ratio or a bare number with one."""
    assert stated_taper("7°", "half").half_deg == 2 * stated_taper("7 deg", "included").half_deg == 7
    refused: list[tuple[object, Literal["half"] | None]] = [("7 deg", None), ("1:20", "half"), ("7", "half"), (7, None)]
    for text, of in [*refused, ("0 in per ft x", None), ("1 in per 0 mm", None), ("MT 9", None)]:
        with pytest.raises(QuantityError):
            stated_taper(text, of)


def _row(answer: Conversion, label: str) -> str:
    return next(row.words for row in answer.rows if row.label.strip() == label)


@pytest.mark.parametrize(
    "asked",
    ["0.5 in per ft", "0.5 in per foot", "0.5 in/ft", "0.125 in per 3 in", "1/8 in per 3 in", "3.175 mm per 76.2 mm",
     "0.5 tpf", "1/2 TPF", "0.5 in tpf", "0.5 in taper per foot", "1:24", "1 in 24", "2.5:60"],
)  # fmt: skip
def test_every_way_of_writing_a_taper_is_converted_to_the_same_angle(asked: str) -> None:
    """1:24 on the diameter is a half angle of atan(1/48), and an included angle of twice that, by the triangle."""
    half_deg = atan(1 / 48) * 180 / pi
    answer = convert(asked, example_lathe())
    assert answer.figures["half_angle_deg"] == pytest.approx(half_deg, rel=1e-12)
    assert answer.figures["included_deg"] == answer.figures["deg"] == pytest.approx(2 * half_deg, rel=1e-12)
    assert answer.figures["taper_per_foot_in"] == pytest.approx(0.5, rel=1e-12)
    assert answer.figures["indicator_per_100_carriage_mm"] == pytest.approx(100 / 48, rel=1e-12)
    # sin(atan t) = t / sqrt(1 + t^2)
    assert answer.figures["indicator_per_100_compound_mm"] == pytest.approx(100 / 48 / (1 + 48**-2) ** 0.5, rel=1e-12)
    assert _row(answer, "half angle").startswith("1.193489 deg, 1°11'37\"")
    assert _row(answer, "indicator, carriage").startswith("2.083 mm in 100 mm, 20.83 thou/in")
    assert read_quantity(answer.field_text, "angle").value == pytest.approx(half_deg)


@pytest.mark.parametrize("row", STANDARD, ids=str)
def test_half_angles_and_large_ends_of_morse_tapers_match_a_published_table(row: Printed) -> None:
    """The half angles of a published table of Morse tapers, and their large ends in inches, agree."""
    number = row.inputs["asked"].removeprefix("MT ")
    for asked in (f"MT {number}", f"mt{number}", f"Morse {number}", f"Morse taper no. {number}"):
        figures = convert(asked, None).figures
        assert figures["half_angle_deg"] == pytest.approx(float(row.printed), abs=row.tolerance)
        assert figures["large_mm"] == pytest.approx(row.inputs["large_in"] * 25.4, abs=0.002)


def test_metric_tapers_are_one_in_twenty_on_the_diameter() -> None:
    """ISO 296: metric tapers are 1:20, named by their large end. Each row of the table names its source."""
    for size in (4, 6, 80, 100, 120, 160, 200):
        figures = convert(f"metric {size}", None).figures
        assert figures["large_mm"] == size
        assert figures["half_angle_deg"] == pytest.approx(degrees(atan(Fraction(1, 40))), rel=1e-12)
    assert len(standard_tapers()) == 14
    assert all(row["source"].startswith("ISO 296") for row in read_table("standard_tapers"))


@pytest.mark.parametrize(
    ("asked", "half_deg"),
    [("7 deg half", 7), ("14 deg included", 7), ("2 deg 51 min half angle", 2.85), ("5 %", degrees(atan(0.05)))],
)
def test_a_taper_can_be_given_as_half_angle_included_angle_or_percentage(asked: str, half_deg: float) -> None:
    """A percentage is the slope of one side."""
    figures = convert(asked, None).figures
    assert figures["half_angle_deg"] == pytest.approx(half_deg)
    assert figures["included_deg"] == pytest.approx(2 * half_deg)


def test_an_unqualified_angle_is_answered_both_as_half_angle_and_as_included_angle() -> None:
    """2 deg may be either angle: 1:14.318 (1 / 2 tan 2) as the half, 1:28.645 (1 / 2 tan 1) as the included one."""
    answer = convert("2 deg", example_lathe())
    assert "half_angle_deg" not in answer.figures
    lines = text_lines(answer)
    assert any("its included angle is 4 deg" in line for line in lines)
    assert any("1:14.31813" in line for line in lines)
    assert any("1:28.64498" in line for line in lines)


def test_minutes_and_seconds_are_read_as_fractions_of_a_degree() -> None:
    """51 min are 51/60 deg and 30 sec are 30/3600 deg, in sums and in fields alike."""
    for text, expected in (
        ("2 deg 51 min", "2.85"),
        ("2 degrees 51 minutes 36 sec", "2.86"),
        ("2deg 51 arcmin", "2.85"),
    ):
        assert convert(text, None).figures["deg"] == pytest.approx(float(expected), rel=1e-15)
        assert read_quantity(text, "angle").value == Fraction(expected)
    assert convert("2 deg 51 min + 9 arcmin", None).figures["deg"] == 3


@pytest.mark.parametrize(
    ("scale", "half_deg", "mark_deg", "words"),
    [
        (CompoundScale(zero="parallel"), Fraction("1.25"), 1, "at mark 1 deg the half angle is 0.25 deg too small"),
        (
            CompoundScale(zero="perpendicular"),
            Fraction("1.25"),
            89,
            "at mark 89 deg the half angle is 0.25 deg too small",
        ),
        (
            CompoundScale(zero="perpendicular"),
            Fraction("1.75"),
            88,
            "at mark 88 deg the half angle is 0.25 deg too large",
        ),
        (CompoundScale(zero="parallel", graduation_deg=0.5), Fraction("1.25") + Fraction(1, 100), 1.5, "1.5 deg"),
        (CompoundScale(zero="parallel"), Fraction(7), 7, "7 deg, a mark"),
        (
            CompoundScale(zero="perpendicular", end_deg=60),
            Fraction(7),
            None,
            "83 deg, past its end, 60 deg: use the indicator",
        ),
    ],
)
def test_the_answer_to_a_taper_names_the_nearest_mark_of_the_compounds_scale(
    scale: CompoundScale, half_deg: Fraction, mark_deg: float | None, words: str
) -> None:
    """A scale reads the half angle if its zero is along the axis, or 90 deg minus that if its zero is square."""
    lathe = example_lathe()
    object.__setattr__(lathe, "compound", scale)
    answer = convert(f"{half_deg} deg half", lathe)
    assert answer.figures.get("nearest_mark_deg") == mark_deg
    assert words in _row(answer, "compound scale")


@pytest.mark.parametrize("asked", ["MT 7", "metric 5", "0:20", "1:0", "0 tpf per ft", "7 mm half"])
def test_unknown_and_invalid_tapers_are_refused(asked: str) -> None:
    """The refusal lists the known tapers."""
    with pytest.raises(QuantityError):
        convert(asked, None)


def test_a_taper_ratio_is_answered_both_for_the_diameter_and_for_one_side() -> None:
    """2 in 100 on the diameter is atan 0.01 a side. As the slope of one side it is atan 0.02 = 1.145763 deg."""
    answer = convert("2 mm per 100 mm", None)
    assert answer.figures["half_angle_deg"] == pytest.approx(degrees(atan(0.01)))
    assert _row(answer, "if of one side").startswith("half angle 1.145763 deg")
