"""The tables on the dividing screens are read back and followed as a user would."""

import json
import re
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.lathe.lathe import RotaryTable
from core.operations.dividing.division import divide, even_targets_deg
from core.operations.dividing.division_tables import (
    division_answers,
    exact_divisions,
    exact_means_text,
    exact_step_and_means,
    number_rows,
    read_divisions,
    whole_degree_rows,
)
from core.operations.dividing.plates import COMMON_PLATES
from core.operations.dividing.setting_table import setting_row
from core.values.angles import split_angles
from core.values.errors import QuantityError
from core.values.quantities import read_quantity
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import COMPOUND_AT_40, EXACT_AT_40, WHOLE_DEGREES, lathe_with
from tests.published import Printed, printed_rows

HEAD = RotaryTable(ratio=Fraction(40), plates=COMMON_PLATES, direct=(24, 60))
DEGREES_IN_A_TURN = {ratio: Fraction(360, ratio) for ratio in (36, 40, 60, 72, 80, 90, 120)}
"""Largest reading of the handle's dial, as makers engrave tables of these ratios."""
_PARTS = re.compile(r"([+-])?\s*(\d+)(?:/(\d+))?")
_TURNS = re.compile(r"(-?\d+) turns?")
_HOLES = re.compile(r"(\d+) holes?")


def table(ratio: int, minutes: int | None = 1, plates: bool = False) -> RotaryTable:
    """Return a rotary table with the given fields."""
    found = lathe_with(ratio, minutes=minutes, plates=plates).rotary_table
    assert found is not None
    return found


def sum_of(formula: str) -> Fraction:
    """Return the sum of a movement in handbook form, such as "1 + 21/23 - 11/33"."""
    total = Fraction(0)
    for sign, above, below in _PARTS.findall(formula):
        total += Fraction(int(above), int(below or 1)) * (-1 if sign == "-" else 1)
    return total


def turns_of(words: str, circle: int) -> Fraction:
    """Return the handle turns that words such as "5 turns 15 holes" mean on a hole circle."""
    turns, holes = _TURNS.search(words), _HOLES.search(words)
    return int(turns[1] if turns else 0) + Fraction(int(holes[1] if holes else 0), circle)


def degrees_of(words: str, ratio: int) -> Fraction:
    """Return the table angle [deg] that words such as "12 turns 3°26'" mean."""
    turns = _TURNS.search(words)
    rest = words[turns.end() :] if turns else words
    return DEGREES_IN_A_TURN[ratio] * int(turns[1] if turns else 0) + read_quantity(rest.strip(), "angle").value


def arcsec_of(words: str) -> float:
    """Return an angle such as -0°01'12.5" in seconds of arc."""
    size_deg = read_quantity(words.lstrip("+-"), "angle").value
    return float(-size_deg if words.startswith("-") else size_deg) * 3600


@pytest.mark.parametrize("row", [row for row in printed_rows("indexing") if "n" in row.inputs])
def test_displayed_dividing_settings_match_published_settings(row: Printed) -> None:
    """Exercise sheets and manuals print the same settings, on the hole circle that they name."""
    circle, turns, holes = json.loads(row.printed)
    inputs = row.inputs
    only = RotaryTable(ratio=Fraction(inputs["ratio"]), plates=(tuple(inputs["circles"]),))
    (answer,) = division_answers(only, inputs["n"])
    assert turns_of(answer.step, circle) == turns + Fraction(holes, circle)
    assert answer.worst == "exact" and figures(answer.plate_text) >= {str(circle), "1"}
    assert answer.arms.startswith(f"{holes} space") if holes else "not needed" in answer.arms


def test_the_table_of_divisions_lists_139_numbers_as_exact_on_a_single_hole_circle() -> None:
    """A step of whole holes is exact on one circle. All other numbers get their largest error."""
    assert [row.divisions for row in number_rows(HEAD)[:359] if "worst" not in row.by_plate] == EXACT_AT_40
    for number in EXACT_AT_40:
        plate, _ = division_answers(HEAD, number)
        circle = int(plate.plate_text.split()[0])
        assert turns_of(plate.step, circle) == Fraction(40, number)


@pytest.mark.parametrize("number", COMPOUND_AT_40)
def test_the_displayed_movement_on_two_hole_circles_adds_up_to_the_wanted_step(number: int) -> None:
    """The displayed formula adds up to 40/N."""
    (plate, _) = division_answers(HEAD, number)
    assert sum_of(plate.both_circles) == Fraction(40, number)
    assert plate.worst.startswith("worst ")


def test_a_division_that_the_rotary_table_cannot_set_exactly_is_shown_as_inexact() -> None:
    """127 has no hole circle, no pair of circles and no notches."""
    plate, direct = division_answers(HEAD, 127)
    assert plate.both_circles == "" and plate.worst != "exact"
    assert not figures(direct.step) and direct.worst == ""
    assert exact_means_text(HEAD, 127) == ""


def test_exact_divisions_are_shown_with_their_hole_circles_and_notches() -> None:
    """24 has six circles and notches on both plates, 51 two circles together. For 8, 5 whole turns suit any circle."""
    assert [figures(words) for words in exact_step_and_means(HEAD, 24)] == [
        {"1", "10"},
        {"15", "18", "21", "27", "33", "39", "24"},
    ]
    movement, circles = exact_step_and_means(HEAD, 51)
    assert movement == "10/15 + 2/17" and figures(circles) == {"15", "17", "18"}
    assert figures(exact_step_and_means(HEAD, 8)[1]) == {"24"}
    assert set(exact_divisions(HEAD)) == {
        number
        for number in range(2, 401)
        if any((Fraction(40, number) * circle).denominator == 1 for plate in COMMON_PLATES for circle in plate)
        or any(
            (Fraction(40, number) * first * second).denominator == 1
            and any((Fraction(40, number) - Fraction(held, first)) * second % 1 == 0 for held in range(first))
            for plate in COMMON_PLATES
            for first in plate
            for second in plate
        )
        or 24 % number == 0
        or 60 % number == 0
    }


@pytest.mark.parametrize("ratio", [36, 40, 60, 72, 80, 90, 120])
def test_each_displayed_whole_degree_setting_turns_the_table_by_exactly_its_step(ratio: int) -> None:
    """Each row turns the table by its named step, by dial and by plate. Notches give the same step."""
    rows = whole_degree_rows(table(ratio, plates=True))
    assert [row.divisions for row in rows] == WHOLE_DEGREES
    for row in rows:
        step = Fraction(360, row.divisions)
        assert row.step == f"{step}°"
        assert degrees_of(row.by_dial, ratio) == step
        words, _, circle = row.by_plate.partition(" of ")
        if "off" not in row.by_plate:
            assert turns_of(words, int(circle or 1)) * 360 / ratio == step
    for row in whole_degree_rows(HEAD):
        if row.direct:
            notches, of = (int(part) for part in row.direct.split(" of "))
            assert Fraction(360 * notches, of) == Fraction(360, row.divisions)


@pytest.mark.parametrize("ratio", [36, 72, 90])
def test_every_displayed_setting_turns_the_table_by_its_step_to_the_nearest_mark_or_hole(ratio: int) -> None:
    """Each row, read back, gives the step within half a mark or hole.

    The largest error of all positions is as printed.
    """
    rows = number_rows(table(ratio, minutes=2, plates=True))
    assert [row.divisions for row in rows] == list(range(2, 401))
    for row in rows[::7]:
        step = Fraction(360, row.divisions)
        words, _, worst = row.by_dial.partition(", worst ")
        assert abs(degrees_of(words, ratio) - step) <= Fraction(1, 60)
        marks = [Fraction(360 * number * 30, row.divisions) for number in range(row.divisions)]
        off_arcsec = max(abs(mark - round(mark)) for mark in marks) * 120
        assert arcsec_of(worst or "0 deg") == pytest.approx(float(off_arcsec), abs=0.51)
        words, _, circle = row.by_plate.partition(", worst ")[0].partition(" of ")
        off = turns_of(words, int(circle or 1)) * 360 / ratio - step
        assert abs(off) <= Fraction(180, ratio * int(circle or 1))


@settings(deadline=None, max_examples=40, derandomize=True)
@given(
    st.sampled_from((36, 40, 72, 90)),
    st.integers(2, 60),
    st.booleans(),
    st.sampled_from(("dial", "plate")),
    st.fractions(min_value=-180, max_value=180, max_denominator=60),
)
def test_the_displayed_settings_of_a_division_add_up_to_its_angles(
    ratio: int, count: int, falling: bool, way: str, start: Fraction
) -> None:
    """Position and move of each row, read back, give the wanted angle within the displayed error."""
    rotary = table(ratio, plates=True)
    dividing = divide(
        rotary, "dial" if way == "dial" else "plate", even_targets_deg(count, start, falling=falling), falling=falling
    )
    rows = [setting_row(dividing, index, 50.0, lambda length_mm: f"{length_mm:.6f}") for index in range(count)]

    def angle(words: str) -> Fraction:
        if way == "dial":
            return degrees_of(words, ratio)
        return turns_of(words, dividing.circle or 1) * 360 / ratio

    for number, row in enumerate(rows):
        wanted = start + (-1 if falling else 1) * Fraction(360 * number, count)
        off = angle(row.place) - wanted
        told = 0.0 if row.error == "exact" else arcsec_of(row.error)
        assert float(off) * 3600 == pytest.approx(told, abs=0.051)
        # A second of arc is 4.848137e-6 radians.
        length = 0.0 if row.error_length == "exact" else float(row.error_length)
        assert float(off) * 3600 * 4.848137e-6 * 50 == pytest.approx(length, abs=2e-6)
        assert abs(read_quantity(row.wanted, "angle").value - wanted) <= Fraction(1, 72_000)
    for before, after in pairwise(rows):
        assert angle(after.place) - angle(before.place) == (-1 if falling else 1) * angle(after.move)


def test_a_move_back_in_a_list_of_angles_is_shown_as_turning_back() -> None:
    """From 90 to 30 degrees the table turns back by 60 degrees, which is 12 turns at 72:1."""
    dividing = divide(table(72), "dial", [Fraction(90), Fraction(30)])
    assert setting_row(dividing, 1, None, str).move == "back 12 turns 0°00'"


@pytest.mark.parametrize(
    ("typed", "wanted"),
    [
        ("0; 90", ["0 deg", "90 deg"]),
        ("0+90+180", ["0 deg", "90 deg", "180 deg"]),
        ("0, 37,5, 90", ["0 deg", "37,5 deg", "90 deg"]),
        ("-10; 12d30m", ["-10 deg", "12d30m"]),
        ("; ;", []),
        ("x", ["x"]),
    ],
)
def test_several_angles_entered_in_one_field_are_read_separately(typed: str, wanted: list[str]) -> None:
    """A semicolon, a plus sign or a comma with a space separates angles. The reader refuses anything but numbers."""
    assert wanted == split_angles(typed)


@pytest.mark.parametrize("typed", ["", "0", "1", "2001", "10000", "2.5", "-3", "½", "٣", "twelve"])
def test_invalid_numbers_of_divisions_are_refused(typed: str) -> None:
    """Each refusal says which numbers are accepted."""
    with pytest.raises(QuantityError, match=r"\b2 to 2000\b"):
        read_divisions(typed)
