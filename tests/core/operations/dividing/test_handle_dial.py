"""Dividing by the handle's dial: exact targets, nearest marks, and no accumulated errors."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.lathe.lathe import Lathe, RotaryTable
from core.operations.dividing.division import (
    divide,
    even_targets_deg,
    listed_targets_deg,
    repeated_step_cost_deg,
    setting_of,
    whole_degree_divisions,
)
from core.values.angles import dms_text
from core.values.dials import Setting
from core.values.quantities import read_quantity
from tests.core.operations.dividing.rotary import WHOLE_DEGREES, lathe_with

RATIOS = (36, 40, 60, 72, 80, 90, 120)


def rotary(lathe: Lathe) -> RotaryTable:
    """Return the lathe's rotary table."""
    assert lathe.rotary_table is not None
    return lathe.rotary_table


def by_minutes(minutes: Fraction | int = 1, ratio: int = 90) -> RotaryTable:
    """Return a table with this dial graduation, in minutes."""
    return rotary(lathe_with(ratio, minutes=minutes))


@pytest.mark.parametrize("falling", [False, True])
def test_the_steps_of_every_number_of_divisions_add_up_to_360_degrees(falling: bool) -> None:
    """For N from 2 to 1000 the steps add up to exactly 360 degrees, from any start angle."""
    # Every count up to 100, then every seventh. The arithmetic does not depend on the count.
    for count in (*range(2, 101), *range(101, 1001, 7), 1000):
        start = Fraction(count, 7)
        targets = even_targets_deg(count, start, falling=falling)
        # In parts of a degree that are whole for every target. This is faster and equally exact.
        parts = 7 * count
        assert all(parts % target.denominator == 0 for target in targets)
        places = [target.numerator * (parts // target.denominator) for target in targets]
        turn = -360 * parts if falling else 360 * parts
        steps = [after - before for before, after in pairwise([*places, places[0] + turn])]
        assert len(targets) == count and targets[0] == start
        assert set(steps) == {turn // count} and sum(steps) == turn


@pytest.mark.parametrize(
    ("minutes", "counts"), [(1, range(2, 361)), (1, range(361, 1001, 13)), (Fraction(1, 6), range(3, 1001, 47))]
)
def test_every_position_is_set_within_half_a_dial_graduation_of_its_exact_angle(
    minutes: Fraction | int, counts: range
) -> None:
    """Every position of every N tried from 2 to 1000 is a mark, at most half a graduation from its exact angle.

    All in whole marks: |mark x N - marks of a turn x k| <= N / 2.
    """
    table = by_minutes(minutes)
    turn = int(21_600 / minutes)
    for count in counts:
        positions = divide(table, "dial", even_targets_deg(count)).positions
        assert [position.number for position in positions] == list(range(1, count + 1))
        for position in positions:
            marks = position.set_deg.numerator * turn // (360 * position.set_deg.denominator)
            assert Fraction(360 * marks, turn) == position.set_deg
            assert 2 * abs(marks * count - turn * (position.number - 1)) <= count


@settings(deadline=None)
@given(
    st.sampled_from(RATIOS),
    st.sampled_from((1, 2, 3)),
    st.fractions(min_value=-360, max_value=360, max_denominator=3600),
    st.integers(2, 400),
    st.booleans(),
)
def test_whole_turns_and_dial_reading_add_up_to_the_angle_of_the_position(
    ratio: int, minutes: int, start: Fraction, count: int, falling: bool
) -> None:
    """The reading is less than one turn. The rounding is the set angle minus the wanted angle."""
    per_turn = 360 / ratio
    dividing = divide(by_minutes(minutes, ratio), "dial", even_targets_deg(count, start, falling=falling))
    for position in dividing.positions:
        setting = setting_of(dividing, position, None)
        assert isinstance(setting, Setting) and setting.turns is not None and setting.reading is not None
        assert 0 <= setting.reading < per_turn
        assert setting.turns * per_turn + setting.reading == pytest.approx(setting.position, abs=1e-9)
        sense = -1 if falling else 1
        wanted = float(start) + sense * 360 * (position.number - 1) / count
        assert setting.position - wanted == pytest.approx(setting.rounding, abs=1e-9)
        assert abs(setting.rounding) <= minutes / 120 + 1e-12


@settings(deadline=None)
@given(st.integers(2, 300), st.fractions(min_value=0, max_value=359, max_denominator=60))
def test_a_number_of_divisions_and_the_list_of_its_angles_give_the_same_settings(count: int, start: Fraction) -> None:
    """N divisions and the list of their angles are set alike."""
    table = by_minutes()
    angles = [Fraction(360 * number, count) for number in range(count)]
    assert (
        divide(table, "dial", even_targets_deg(count, start)).positions
        == divide(table, "dial", listed_targets_deg(angles, start)).positions
    )


def test_a_vernier_limits_position_errors_to_half_its_smallest_division() -> None:
    """With a vernier of 10 seconds on a dial of 2 minutes, no position is more than 5 seconds off."""
    table = rotary(lathe_with(minutes=2, vernier_seconds=10))
    for count in (7, 11, 13, 97, 360, 371):
        assert divide(table, "dial", even_targets_deg(count)).worst_error_deg <= Fraction(5, 3600)


def test_the_turns_and_reading_of_a_division_match_a_hand_calculation() -> None:
    """At 90:1, 360/7 deg is 12 turns of 4 deg and 3 deg 25.714 min. A dial of minutes shows 3 deg 26 min."""
    wanted = Fraction(360 * 60, 7)
    turns, reading = divmod(round(wanted), 4 * 60)
    assert (turns, reading) == (12, 206)
    dividing = divide(by_minutes(1, 90), "dial", even_targets_deg(7))
    second = dividing.positions[1]
    setting = setting_of(dividing, second, None)
    assert isinstance(setting, Setting) and setting.reading is not None
    assert setting.turns == turns
    assert setting.reading * 60 == pytest.approx(reading, abs=1e-9)
    assert second.error_deg == Fraction(round(wanted) - wanted, 60)


@pytest.mark.parametrize(("count", "about_arcsec"), [(7, 25.7), (13, 27.7), (97, 29.7)])
def test_the_largest_error_of_a_division_matches_exact_fractions(count: int, about_arcsec: float) -> None:
    """The largest error of any position on a dial of minutes matches an exact fraction."""
    places = [Fraction(360 * 60 * number, count) for number in range(count)]
    worst = max(abs(place - round(place)) for place in places) / 60
    assert float(worst * 3600) == pytest.approx(about_arcsec, abs=0.06)
    assert divide(by_minutes(1), "dial", even_targets_deg(count)).worst_error_deg == worst


@pytest.mark.parametrize("count", [7, 13])
def test_repeating_a_rounded_step_accumulates_its_rounding_error(count: int) -> None:
    """Seven times 51 deg 26 min is 2 minutes too far. Thirteen times 27 deg 42 min is 6 minutes too far."""
    too_far = count * round(Fraction(360 * 60, count)) - 360 * 60
    assert too_far == {7: 2, 13: 6}[count]
    dividing = divide(by_minutes(1), "dial", even_targets_deg(count))
    assert repeated_step_cost_deg(dividing) == Fraction(too_far, 60)


def test_the_divisions_with_whole_degree_steps_are_the_divisors_of_360() -> None:
    """There are 24 such divisions, and 40 is among them."""
    assert len(WHOLE_DEGREES) == 24 and 40 in WHOLE_DEGREES
    assert list(whole_degree_divisions()) == WHOLE_DEGREES


@settings(deadline=None)
@given(st.fractions(min_value=-360, max_value=360, max_denominator=360))
def test_displayed_angles_are_within_half_a_second_of_arc_of_the_exact_angle(angle: Fraction) -> None:
    """Degrees, minutes and seconds in words never show 60 minutes or 60 seconds."""
    text = dms_text(angle, Fraction(1, 3600))
    assert abs(read_quantity(text, "angle").value - angle) <= Fraction(1, 7200)
    assert "60" not in text.split("°")[1]


@pytest.mark.parametrize(
    ("angle", "words"),
    [
        (Fraction(239999, 60000), "4°00'"),
        (Fraction(-1, 2), "-0°30'"),
        (Fraction(-1, 10**6), "0°00'"),
        (Fraction(359999, 1000), "360°00'"),
    ],
)
def test_angles_are_rounded_before_they_are_split_into_degrees_and_minutes(angle: Fraction, words: str) -> None:
    """3 deg 59.99 min is shown as 4 deg, not as 3 deg 60 min. A minus sign is kept, except on zero."""
    assert words == dms_text(angle)
