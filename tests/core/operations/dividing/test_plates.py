"""Dividing by plates: printed tables, movements on two circles, and the best circle against a complete search."""

import json
from fractions import Fraction
from itertools import combinations
from math import lcm

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.lathe.lathe import RotaryTable
from core.operations.dividing.division import (
    compound_move,
    divide,
    even_targets_deg,
    listed_targets_deg,
    setting_of,
    whole_and_holes,
)
from core.operations.dividing.division_tables import dividing_table, exact_divisions, exact_means
from core.operations.dividing.plates import (
    COMMON_PLATES,
    compound_on,
    compound_pairs,
    direct_index_plates,
    nearest_hole,
)
from core.plan import PlateSetting
from core.values.errors import PlanError
from tests.core.operations.dividing.rotary import CIRCLES, COMPOUND_AT_40, EXACT_AT_40
from tests.published import Printed, printed_rows

FORTY = RotaryTable(ratio=Fraction(40), plates=COMMON_PLATES)


@pytest.mark.parametrize("row", printed_rows("indexing"))
def test_dividing_plate_settings_match_published_settings(row: Printed) -> None:
    """Turns and holes for a division or an angle are as printed, on the named circle."""
    circle, turns, holes = json.loads(row.printed)
    table = RotaryTable(ratio=Fraction(row.inputs["ratio"]), plates=(tuple(row.inputs["circles"]),))
    if "n" in row.inputs:
        targets = even_targets_deg(row.inputs["n"])
    else:
        targets = listed_targets_deg([Fraction(0), Fraction(row.inputs["angle_deg"])])
    dividing = divide(table, "plate", targets)
    setting = setting_of(dividing, dividing.positions[1], dividing.positions[0])
    assert isinstance(setting, PlateSetting)
    assert (setting.turns, setting.holes, setting.circle) == (turns, holes, circle)
    assert setting.move == (turns, holes)
    assert dividing.positions[1].error_deg == 0


def test_up_to_360_only_139_numbers_divide_exactly_on_one_hole_circle_at_40_to_1() -> None:
    """Of 2 to 360, only 139 numbers have a step of whole holes at 40:1. 96 is not among them."""
    assert len(EXACT_AT_40) == 139 and 96 not in EXACT_AT_40
    assert [line.divisions for line in dividing_table(40, COMMON_PLATES, range(2, 361)) if line.exact] == EXACT_AT_40
    ways = exact_divisions(FORTY, 360)
    assert [number for number, means in ways.items() if "together" not in means[0]] == EXACT_AT_40


def fewest_holes(part_of_turn: Fraction) -> int:
    """Return the fewest holes on two circles of one plate that add up to a part of a turn, by a complete search."""
    totals = []
    for first, second in (pair for plate in COMMON_PLATES for pair in combinations(plate, 2)):
        for held in range(1 - first, first):
            other = (part_of_turn - Fraction(held, first)) * second
            if other.denominator == 1 and abs(other) < second:
                totals.append(abs(held) + abs(int(other)))
    return min(totals)


@pytest.mark.parametrize("number", COMPOUND_AT_40)
def test_movements_on_two_hole_circles_match_published_movements(number: int) -> None:
    """No single circle is exact. The movement on two is, and no other without an extra turn counts fewer holes."""
    wanted = Fraction(40, number)
    assert [circle for circle in CIRCLES if circle % wanted.denominator == 0] == []
    chosen = divide(FORTY, "plate", even_targets_deg(number)).both_circles
    assert chosen is not None
    best = compound_on(wanted, chosen)
    assert best is not None and best.total == wanted
    assert sum(map(abs, best.holes)) == fewest_holes(wanted % 1)


@pytest.mark.parametrize("number", [53, 59, 61, 67, 71, 73, 79, 83, 97, 127])
def test_a_number_without_an_exact_pair_of_circles_gets_no_movement_on_two_circles(number: int) -> None:
    """Primes that are in no circle have no exact pair of circles either."""
    pairs = [pair for plate in COMMON_PLATES for pair in combinations(plate, 2)]
    assert all(lcm(*pair) % Fraction(40, number).denominator for pair in pairs)
    assert divide(FORTY, "plate", even_targets_deg(number)).both_circles is None
    assert exact_means(FORTY, number) == ()


@settings(deadline=None)
@given(st.fractions(min_value=0, max_value=5, max_denominator=1700), st.sampled_from(COMMON_PLATES), st.data())
def test_movements_on_two_hole_circles_match_a_complete_search(
    turns: Fraction, plate: tuple[int, ...], data: st.DataObject
) -> None:
    """A movement is found exactly when a search of all holes of both circles finds one. The movement has no error."""
    pair = tuple(sorted(data.draw(st.lists(st.sampled_from(plate), min_size=2, max_size=2, unique=True))))
    first, second = pair[0], pair[1]
    exists = any(
        (turns - Fraction(one, first) - Fraction(other, second)).denominator == 1
        for one in range(first)
        for other in range(second)
    )
    found = compound_on(turns, (first, second))
    assert exists == (found is not None)
    if found is not None:
        assert found.total == turns
        assert abs(found.holes[0]) < first and abs(found.holes[1]) < second


def test_both_hole_circles_of_a_pair_are_on_the_same_plate() -> None:
    """The least common multiple of the two circles is divisible by the denominator."""
    for first, second in compound_pairs(51, COMMON_PLATES):
        assert any(first in plate and second in plate for plate in COMMON_PLATES)
        assert lcm(first, second) % 51 == 0


@pytest.mark.parametrize("ratio", [36, 40, 60, 72, 80, 90, 120])
def test_the_hole_circles_in_the_dividing_table_match_those_found_by_numpy(ratio: int) -> None:
    """For 2 to 400 the best circle has the smallest largest error of all circles, at every position tried."""
    for line in dividing_table(ratio, COMMON_PLATES, range(2, 401)):
        places = np.arange(line.divisions) * ratio / line.divisions
        worst = {
            circle: float(np.abs(np.round(places * circle) / circle - places).max()) * 360 * 3600 / ratio
            for circle in CIRCLES
        }
        assert min(worst.values()) == pytest.approx(line.worst_arcsec, abs=1e-6)
        assert worst[line.circle] == pytest.approx(line.worst_arcsec, abs=1e-6)
        assert 0 <= line.holes < line.circle
        step = line.turns + line.holes / line.circle
        assert abs(step - ratio / line.divisions) <= 0.5 / line.circle + 1e-12


@settings(deadline=None)
@given(st.integers(2, 400), st.sampled_from((36, 40, 60, 72, 90)), st.fractions(0, 90, max_denominator=60))
def test_a_layer_uses_the_hole_circle_whose_largest_error_is_smallest(count: int, ratio: int, start: Fraction) -> None:
    """All positions are on one circle, each in the nearest hole. No other circle is better."""
    table = RotaryTable(ratio=Fraction(ratio), plates=COMMON_PLATES)
    dividing = divide(table, "plate", even_targets_deg(count, start))
    places = np.array([float(start) + 360 * number / count for number in range(count)]) * ratio / 360
    least = min(float(np.abs(np.round(places * circle) / circle - places).max()) for circle in CIRCLES)
    assert float(dividing.worst_error_deg) * ratio / 360 == pytest.approx(least, abs=1e-9)
    for position in dividing.positions:
        setting = setting_of(dividing, position, None)
        assert isinstance(setting, PlateSetting) and setting.circle == dividing.circle
        hole = setting.turns + Fraction(setting.holes, setting.circle or 1)
        assert hole * 360 / ratio == position.set_deg
        assert abs(hole - position.wanted_deg * ratio / 360) <= Fraction(1, 2 * (setting.circle or 1))


@settings(deadline=None)
@given(st.integers(2, 200), st.sampled_from((36, 40, 72)), st.booleans())
def test_the_moves_between_positions_add_up_to_each_position(count: int, ratio: int, falling: bool) -> None:
    """A pin that follows every move passes through every position."""
    table = RotaryTable(ratio=Fraction(ratio), plates=COMMON_PLATES)
    dividing = divide(table, "plate", even_targets_deg(count, falling=falling), falling=falling)
    stands = Fraction(0)
    for before, position in zip((None, *dividing.positions), dividing.positions, strict=False):
        setting = setting_of(dividing, position, before)
        assert isinstance(setting, PlateSetting)
        assert (setting.move is None) == (before is None)
        if setting.move is not None:
            stands += setting.move[0] + Fraction(setting.move[1], setting.circle or 1)
        assert stands == setting.turns + Fraction(setting.holes, setting.circle or 1)


def test_moves_on_two_hole_circles_for_51_divisions_add_up_to_a_full_turn() -> None:
    """51 movements on two circles are 51 even steps. They are exact, and no single circle is."""
    dividing = divide(FORTY, "plate", even_targets_deg(51))
    assert dividing.worst_error_deg > 0
    stands = Fraction(0)
    for before, position in zip(dividing.positions, dividing.positions[1:], strict=False):
        move = compound_move(dividing, position, before)
        assert move is not None
        stands += move.total
        assert stands == Fraction(40 * (position.number - 1), 51)
    assert compound_move(dividing, dividing.positions[0], None) is None


def test_no_pair_of_circles_is_offered_if_one_hole_circle_is_exact() -> None:
    """If one circle is exact, no pair of circles is offered."""
    dividing = divide(FORTY, "plate", even_targets_deg(39))
    assert dividing.both_circles is None
    assert compound_move(dividing, dividing.positions[1], dividing.positions[0]) is None


def test_dividing_by_notches_is_refused_unless_every_position_has_a_notch() -> None:
    """24 notches give 8 but not 7 or 5, and 60 give 5. The refusal of other angles names the plates available."""
    assert direct_index_plates(even_targets_deg(8), (24, 60), "8 divisions")[0].holes == 24
    assert direct_index_plates(even_targets_deg(5), (24, 60), "5 divisions")[0].holes == 60
    with pytest.raises(PlanError, match="2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 24, 30, 60"):
        direct_index_plates(even_targets_deg(7), (24, 60), "7 divisions")
    with pytest.raises(PlanError, match="8 divisions"):
        direct_index_plates(even_targets_deg(8, Fraction(1)), (24, 60), "8 divisions")
    with pytest.raises(PlanError):
        direct_index_plates(even_targets_deg(8), (), "8 divisions")


def test_a_position_half_way_between_two_holes_uses_the_lower_hole() -> None:
    """2.5 spaces are set as 2, so that the pin never goes too far."""
    assert nearest_hole(Fraction(5, 20), 10) == 2
    assert whole_and_holes(Fraction(41, 20), 20) == (2, 1)
