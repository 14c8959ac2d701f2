"""Change gears, compared with printed trains and with searches of all trains in plain Python and numpy."""

import time
from bisect import bisect
from fractions import Fraction
from functools import cache
from itertools import permutations
from math import prod

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.operations.threads.carriage_travel import by_hand_words
from core.operations.threads.gearing import Train, best_trains, idler_words, length_error_mm
from core.values.errors import PlanError
from tests.core.figures import figures
from tests.core.thread_jobs import at_first_cut, job_of, lathe, plan_of
from tests.published import Printed, printed_rows

INCH = Fraction(254, 10)
SIXTEEN = (20, 25, 30, 35, 40, 45, 50, 55, 60, 63, 65, 70, 75, 80, 100, 127)
TWENTY = (20, 24, 25, 28, 30, 32, 35, 38, 40, 45, 50, 55, 60, 63, 65, 70, 75, 80, 100, 127)
LEADS = ("0.35", "0.5", "0.7", "1", "1.25", "1.75", "2.1", "2.309", "3.5", "4", "6", "0.01", "90")


@cache
def _all_trains(wheels: tuple[int, ...]) -> dict[tuple[tuple[int, ...], tuple[int, ...]], Fraction]:
    """Return every train that can be set up, by its wheels on each side, with its ratio."""
    ratios: dict[tuple[tuple[int, ...], tuple[int, ...]], Fraction] = {}
    for driver, driven in permutations(wheels, 2):
        ratios[(driver,), (driven,)] = Fraction(driver, driven)
    for first, second, third, fourth in permutations(wheels, 4):
        # Wheels in mesh: the first with the second, the third (on the second's arbor) with the fourth.
        if first + second >= third + 15 and third + fourth >= second + 15:
            sides = tuple(sorted((first, third))), tuple(sorted((second, fourth)))
            ratios[sides] = Fraction(first * third, second * fourth)
    return ratios


@cache
def _ratios(wheels: tuple[int, ...], size: int) -> list[Fraction]:
    """Return every ratio of trains with this many wheels, in rising order."""
    return sorted({ratio for (drivers, _), ratio in _all_trains(wheels).items() if 2 * len(drivers) == size})


def _least_error_by_numpy(wheels: tuple[int, ...], wanted: float) -> float:
    """Return the least relative error of all trains, from the full grid of four wheels."""
    teeth = np.array(wheels, dtype=float)
    places = [axis.ravel() for axis in np.meshgrid(*[np.arange(len(wheels))] * 4, indexing="ij")]
    once = np.ones(len(places[0]), dtype=bool)
    for one in range(4):
        for other in range(one):
            once &= places[one] != places[other]
    first, second, third, fourth = (teeth[axis[once]] for axis in places)
    room = (first + second >= third + 15) & (third + fourth >= second + 15)
    four: npt.NDArray[np.float64] = (first * third / (second * fourth))[room]
    two = (teeth[:, None] / teeth[None, :])[~np.eye(len(wheels), dtype=bool)]
    return float(np.abs(np.concatenate([four, two]) / wanted - 1).min())


def _check_set_up(train: Train, wheels: tuple[int, ...]) -> None:
    """Check that a train can be mounted: from wheels in stock, each used once, with room to mesh."""
    used = (*train.drivers, *train.driven)
    assert all(used.count(teeth) <= wheels.count(teeth) for teeth in used)
    assert len(train.drivers) == len(train.driven) in (1, 2)
    if len(train.drivers) == 2:
        assert train.drivers[0] + train.driven[0] >= train.drivers[1] + 15
        assert train.drivers[1] + train.driven[1] >= train.driven[0] + 15


@pytest.mark.parametrize("row", printed_rows("change_gears"))
def test_lead_errors_of_gear_trains_match_published_errors(row: Printed) -> None:
    """With only the printed wheels in stock, the error and its sign are as printed."""
    wanted = Fraction(row.inputs["want_mm"])
    inch_screw = "screw_tpi" in row.inputs
    screw = INCH / int(row.inputs["screw_tpi"]) if inch_screw else Fraction(row.inputs["screw_mm"])
    drivers, driven = row.inputs["drivers"], row.inputs["driven"]
    trains = best_trains(wanted, screw, (*drivers, *driven), most=100)
    same = [t for t in trains if sorted(t.drivers) == sorted(drivers) and sorted(t.driven) == sorted(driven)]
    assert float(row.printed) == pytest.approx(same[0].error_ppm, abs=row.tolerance)


@pytest.mark.parametrize(
    ("want_mm", "screw_mm", "driver", "driven"),
    [
        # Approximations of 127/100. The exact train drives a 127-tooth wheel with 5 x tpi x pitch in mm teeth.
        ("1.27", Fraction(1), 80, 63),
        ("1.27", Fraction(1), 47, 37),
        ("1.27", Fraction(1), 33, 26),
        ("1.27", Fraction(1), 14, 11),
        ("1.5", INCH / 8, 60, 127),
        ("1", INCH / 8, 40, 127),
        ("1.25", INCH / 8, 50, 127),
        ("2", INCH / 4, 40, 127),
        ("1.5", INCH / 6, 45, 127),
    ],
)
def test_the_lead_error_of_a_gear_train_matches_exact_fractions_in_size_and_sign(
    want_mm: str, screw_mm: Fraction, driver: int, driven: int
) -> None:
    """The error is the cut lead over the wanted lead, less 1."""
    wanted = Fraction(want_mm)
    (train,) = best_trains(wanted, screw_mm, (driver, driven), most=1)
    assert (train.drivers, train.driven) == ((driver,), (driven,))
    error = screw_mm * driver / driven / wanted - 1
    assert train.error_ppm == pytest.approx(float(error * 10**6), rel=1e-9, abs=1e-9)
    assert driven != 127 or error == 0


@pytest.mark.parametrize("wheels", [SIXTEEN, TWENTY])
@pytest.mark.parametrize("lead", LEADS)
def test_the_first_gear_train_listed_has_the_smallest_lead_error_of_all_trains(
    lead: str, wheels: tuple[int, ...]
) -> None:
    """numpy finds the least error on the full grid of wheels, for near and far leads."""
    wanted, screw = Fraction(lead), Fraction(3)
    best = best_trains(wanted, screw, wheels, most=1)[0]
    expected = _least_error_by_numpy(wheels, float(wanted / screw))
    assert expected * 1e6 == pytest.approx(abs(best.error_ppm), rel=1e-6, abs=1e-6)
    _check_set_up(best, wheels)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.sampled_from((16, 20, 21, 30, 40, 45, 60, 63, 100, 127)), min_size=2, max_size=7),
    st.fractions(min_value=Fraction(1, 5), max_value=12, max_denominator=50),
    st.sampled_from((Fraction(3), Fraction(6), INCH / 8)),
    st.sampled_from((Fraction(1), Fraction(1, 2), Fraction(20, 33))),
    st.integers(1, 12),
)
def test_the_best_of_all_possible_gear_trains_are_listed_in_order_of_error(
    wheels: list[int], lead: Fraction, screw: Fraction, fixed_ratio: Fraction, most: int
) -> None:
    """The order is by error, then number of wheels, then teeth. The test calculates the errors independently."""
    owned = tuple(wheels)
    trains = best_trains(lead, screw, owned, fixed_ratio, most)
    every = sorted(
        (abs(screw * fixed_ratio * ratio / lead - 1), len(drivers), sum(drivers + driven))
        for (drivers, driven), ratio in _all_trains(owned).items()
    )
    recomputed = []
    for train in trains:
        _check_set_up(train, owned)
        cut = screw * fixed_ratio * Fraction(prod(train.drivers), prod(train.driven))
        assert train.lead_mm == pytest.approx(float(cut), rel=1e-12)
        assert train.error_ppm == pytest.approx(float((cut / lead - 1) * 10**6), rel=1e-9, abs=1e-9)
        recomputed.append((abs(cut / lead - 1), len(train.drivers), sum(train.drivers + train.driven)))
    assert recomputed == every[:most]
    assert len({(*sorted(t.drivers), 0, *sorted(t.driven)) for t in trains}) == len(trains)


def test_searching_all_trains_of_sixteen_wheels_takes_less_than_a_second() -> None:
    """This holds for near and far leads."""
    for lead in LEADS:
        begun_s = time.process_time()
        best_trains(Fraction(lead), INCH / 8, SIXTEEN)
        assert time.process_time() - begun_s < 1


@pytest.mark.parametrize("size", [2, 4])
@pytest.mark.parametrize("lead", LEADS)
def test_among_the_trains_of_two_or_of_four_wheels_the_first_has_the_smallest_error(lead: str, size: int) -> None:
    """A plain search of all trains with two or four wheels finds the same least error."""
    best = best_trains(Fraction(lead), Fraction(3), SIXTEEN, most=1, sizes=(size,))[0]
    ratios, wanted = _ratios(SIXTEEN, size), Fraction(lead) / 3
    at = bisect(ratios, wanted)
    least = min(abs(ratio / wanted - 1) for ratio in ratios[max(at - 1, 0) : at + 1])
    assert abs(best.error_ppm) == pytest.approx(float(least * 10**6), rel=1e-9, abs=1e-9)


def test_trains_of_equal_error_are_listed_in_a_fixed_order() -> None:
    """Trains with fewer wheels come first, then trains with fewer teeth. The order of the stock does not matter."""
    trains = best_trains(Fraction(3, 2), Fraction(3), SIXTEEN, most=12)
    exact = [train for train in trains if train.error_ppm == 0]
    ranks = [(len(train.drivers), sum(train.drivers + train.driven)) for train in exact]
    assert ranks == sorted(ranks)
    assert (trains[0].drivers, trains[0].driven) == ((20,), (40,))
    assert trains == best_trains(Fraction(3, 2), Fraction(3), SIXTEEN[::-1], most=12)


@pytest.mark.parametrize("lead", LEADS)
def test_a_shorter_list_of_trains_is_the_beginning_of_a_longer_list(lead: str) -> None:
    """This holds even if many trains have the same error."""
    many = best_trains(Fraction(lead), Fraction(3), SIXTEEN, most=200)
    for most in range(1, 30):
        assert best_trains(Fraction(lead), Fraction(3), SIXTEEN, most=most) == many[:most]


def test_a_train_uses_a_tooth_count_at_most_as_often_as_the_stock_of_wheels_contains_it() -> None:
    """A tooth count listed twice means two wheels; listed once, it means one wheel."""
    twice = best_trains(Fraction(3), Fraction(3), (40, 40, 20))
    once = best_trains(Fraction(3), Fraction(3), (40, 20))
    assert ((40,), (40,)) in {(train.drivers, train.driven) for train in twice}
    assert all(train.drivers != train.driven for train in once)


def test_a_127_tooth_wheel_cuts_a_metric_lead_exactly_on_an_inch_leadscrew() -> None:
    """A 127-tooth wheel cuts 3 mm exactly on an inch leadscrew. With 63 teeth the best train has an error."""
    with_127 = best_trains(Fraction(3), INCH / 8, (*SIXTEEN, 120), most=1)[0]
    assert with_127.error_ppm == 0
    without = best_trains(Fraction(3), INCH / 8, tuple(set(SIXTEEN) - {127}), most=1)[0]
    assert without.error_ppm != 0


def test_no_gear_train_is_found_for_a_single_wheel() -> None:
    """A train needs at least two wheels."""
    assert best_trains(Fraction(3), Fraction(3), (40,)) == ()


@pytest.mark.parametrize(("teeth", "sizes"), [(14, {1}), (15, {1, 2})])
def test_trains_whose_wheels_have_no_room_to_mesh_are_not_listed(teeth: int, sizes: set[int]) -> None:
    """Four wheels of 15 teeth leave a gap of 15 teeth, which is enough; four of 14 teeth leave too little."""
    trains = best_trains(Fraction(3), Fraction(3), (teeth,) * 4)
    assert {len(train.drivers) for train in trains} == sizes


def test_a_lead_error_of_125_parts_per_million_adds_0_005_mm_over_40_mm() -> None:
    """125 parts per million over 40 mm is 0.005 mm."""
    (train,) = (
        t
        for t in best_trains(Fraction(1), INCH / 16, (21, 45, 30, 50), most=20)
        if sorted(t.drivers) == [21, 45] and sorted(t.driven) == [30, 50]
    )
    assert length_error_mm(train, Fraction(1), 40) == pytest.approx(0.005, abs=1e-6)


def test_two_wheel_trains_and_left_hand_threads_each_need_an_extra_idler() -> None:
    """Two wheels need one idler. A left-hand thread needs a reversed leadscrew."""
    two = Train(drivers=(40,), driven=(60,), lead_mm=2.0, error_ppm=0.0)
    four = Train(drivers=(40, 60), driven=(60, 80), lead_mm=1.5, error_ppm=0.0)
    assert "one idler" in idler_words(two, left_hand=False)
    assert "reverse" not in idler_words(four, left_hand=False)
    assert "two idlers" in idler_words(two, left_hand=True)
    assert "one idler" in idler_words(four, left_hand=True)


@pytest.mark.parametrize(
    ("lead", "screw", "wheels", "ratio", "most", "field"),
    [
        (0, 3, (20, 40), 1, 1, "lead"),
        (1, -3, (20, 40), 1, 1, "leadscrew"),
        (1, 3, (20, 0), 1, 1, "change_gears"),
        (1, 3, (20, 40), 0, 1, "fixed_ratio"),
        (1, 3, (20, 40), 1, 0, "most"),
    ],
)
def test_a_gear_train_value_of_0_or_less_is_refused_at_its_own_field(
    lead: int, screw: int, wheels: tuple[int, ...], ratio: int, most: int, field: str
) -> None:
    """The refusal names the wrong field."""
    with pytest.raises(PlanError) as refused:
        best_trains(Fraction(lead), Fraction(screw), wheels, Fraction(ratio), most)
    assert refused.value.field == field


@pytest.mark.parametrize("starts", [2, 3, 4])
def test_an_exact_train_that_can_index_the_starts_is_listed_first(starts: int) -> None:
    """This holds if the first driver's teeth divide by the starts in any exact train."""
    wheels, screw = (20, 25, 30, 35, 40, 45, 50, 55, 60, 63, 65, 70, 75, 80), Fraction(3)
    lead = Fraction(starts) * 2
    best = best_trains(lead, screw, wheels, starts=starts)
    assert best[0].error_ppm == 0 and best[0].drivers[0] % starts == 0
    assert [train.error_ppm for train in best] == sorted(train.error_ppm for train in best)
    plain = best_trains(lead, screw, wheels)
    assert best[0].error_ppm == plain[0].error_ppm


def test_a_driver_that_can_index_the_starts_comes_first_only_with_room_to_mesh() -> None:
    """Room to mesh counts more than indexing the starts."""
    for train in best_trains(Fraction(8), Fraction(3), (20, 25, 30, 35, 40, 45, 50, 60, 63, 75, 80), starts=2):
        if len(train.drivers) == 2:
            (first, second), (third, fourth) = train.drivers, train.driven
            assert first + third >= second + 15 and second + fourth >= third + 15


@pytest.mark.parametrize("starts", [1, 2, 3])
@pytest.mark.parametrize("lead", ["3", "1.5", "4"])
def test_the_offered_trains_are_the_best_of_hundreds_of_exact_trains(lead: str, starts: int) -> None:
    """Twenty wheels give hundreds of exact trains. The offered trains are the first of them in order."""
    screw = Fraction(3)
    trains = best_trains(Fraction(lead), screw, TWENTY, most=6, sizes=(4,), starts=starts)
    exact = [
        sides for sides, ratio in _all_trains(TWENTY).items() if len(sides[0]) == 2 and ratio == Fraction(lead) / 3
    ]
    assert len(exact) > 50
    # A train can index the starts if a driver's teeth divide by them and that driver can be first with room to mesh.
    ranked = sorted((not _indexes(*sides, starts), sum(sides[0] + sides[1])) for sides in exact)
    assert [(t.drivers[0] % starts != 0, sum(t.drivers + t.driven)) for t in trains] == ranked[:6]


def _indexes(drivers: tuple[int, ...], driven: tuple[int, ...], starts: int) -> bool:
    return any(
        first % starts == 0 and first + second >= third + 15 and third + fourth >= second + 15
        for first, third in permutations(drivers)
        for second, fourth in permutations(driven)
    )


@pytest.mark.parametrize(("thread", "turns"), [("Tr20x8P4", "2.67"), ("M36x4", ""), ("M24xPh6P3", "2")])
def test_gears_that_drive_the_leadscrew_too_fast_need_a_spindle_turned_by_hand(thread: str, turns: str) -> None:
    """A lead of 8 mm on a 3 mm leadscrew needs 2.67 leadscrew turns per spindle turn (common practice, no source)."""
    words = by_hand_words(job_of(thread=thread), lathe())
    assert figures(words) >= {turns} if turns else not words
    dry = next(step for step in plan_of(thread=thread).steps if step.text.startswith("Dry run"))
    assert any(turns in figures(caution) for caution in dry.cautions) == bool(turns)
    hands = at_first_cut(thread=thread)
    assert any("by hand" in hand for hand in hands) == bool(turns)
