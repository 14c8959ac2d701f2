"""The advised moves are made on simulated work, which is read again. Less than 1 % of the offset may remain."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations_with_replacement
from math import cos, hypot, radians, sin
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.lathe.lathe import Chuck, Indicator, Lathe
from core.operations.runout.analysis import analyse
from core.operations.runout.harmonics import evenly_spaced
from core.operations.runout.job import RunoutJob, Surface, Workholding, read_runout
from core.operations.runout.moves import moved_by_mm, moves, nearest_shims, shims_mm
from core.operations.runout.operation import plan_runout
from core.operations.runout.sets_of_readings import Turn, analyse_set
from core.operations.runout.tilt import tailstock_words, taper_mm, tilt_moves
from core.values.fields import Problem, Table
from tests.core.figures import figures
from tests.core.operations.runout.runout_bars import Bar, centre_in_three_jaws, first_harmonic
from tests.published import printed_rows

LATHE = Lathe(name="trial", indicator=Indicator(graduation_mm=0.0001))
WIDE, NARROW = replace(LATHE, chuck=Chuck(jaw_face="wide")), replace(LATHE, chuck=Chuck(jaw_face="narrow"))
SURFACES: tuple[Surface, ...] = ("outside", "bore")
# Off every axis of symmetry of three and four jaws, so that a mirrored angle is visible.
HIGH_SPOTS = (13.0, 52.0, 77.0, 98.0, 141.0, 193.0, 238.0, 262.0, 287.0, 344.0)
DIRECTIONS = st.sampled_from(HIGH_SPOTS) | st.floats(0, 359.9)


def _plan_moves(readings: Sequence[Any], lathe: Lathe = LATHE, **keys: Any) -> list[dict[str, Any]]:
    """Return the moves for a job file with these keys."""
    data = {**keys, "readings": [f"{reading:.6f} mm" for reading in readings]}
    problems: list[Problem] = []
    job = read_runout(Table(data, "trial", problems), lathe)
    assert not problems
    assert job is not None
    found: list[dict[str, Any]] = plan_runout(job, lathe, None).figures["moves"]
    return found


def _off(size: float, direction_deg: float) -> tuple[float, float]:
    return size * cos(radians(direction_deg)), size * sin(radians(direction_deg))


def _left(bar: Bar, surface: str, before: float) -> float:
    """Return the first harmonic after the moves as a part of the one before, from readings at many marks."""
    return first_harmonic(bar.readings(evenly_spaced(36), surface))[0] / before


@given(st.floats(0.02, 1.0), DIRECTIONS, st.sampled_from(SURFACES), st.sampled_from(["four jaw", "flange"]))
def test_the_advised_jaw_moves_and_taps_centre_simulated_work(
    size: float, direction: float, surface: Surface, workholding: str
) -> None:
    """Each move takes the bar from its mark towards the axis. Jaws are at the angles of the file format."""
    bar = Bar(_off(size, direction), 20.0, oval=0.05)
    advised = _plan_moves(
        bar.readings(evenly_spaced(8), surface), surface=surface, workholding=workholding, diameter="40 mm"
    )
    after = bar
    for move in advised:
        assert move["amount_mm"] >= 0
        if workholding == "four jaw":
            assert move["how"] == "press"
            assert move["angle_deg"] == 90.0 * (int(move["where"].removeprefix("jaw ")) - 1)
        else:
            assert move["how"] == "tap"
        after = after.moved(move["angle_deg"], move["amount_mm"])
    assert _left(after, surface, size) < 0.01
    assert len(advised) <= (2 if workholding == "four jaw" else 1)


@given(
    st.floats(0.02, 3.0),
    st.floats(10, 60),
    DIRECTIONS,
    st.sampled_from(SURFACES),
    st.sampled_from([True, False]),
    st.sampled_from([8, 12, 24]),
)
def test_advised_shims_centre_simulated_work(
    size: float, radius: float, direction: float, surface: Surface, wide: bool, count: int
) -> None:
    """With the advised shims, jaws of either shape hold the bar true (solved by scipy)."""
    bar = Bar(_off(size, direction), radius)
    lathe = WIDE if wide else NARROW
    advised = _plan_moves(
        bar.readings(evenly_spaced(count), surface),
        lathe,
        surface=surface,
        workholding="three jaw",
        positions=count,
        diameter=f"{2 * radius:.9f} mm",
    )
    shims = [0.0, 0.0, 0.0]
    for move in advised:
        jaw = int(move["where"].removeprefix("jaw ")) - 1
        assert (move["how"], move["angle_deg"]) == ("shim", 120.0 * jaw)
        shims[jaw] = move["amount_mm"]
    moved = centre_in_three_jaws(shims, radius, wide)
    after = Bar((bar.centre[0] + moved[0], bar.centre[1] + moved[1]), radius)
    assert _left(after, surface, size) < 0.01
    assert len(advised) <= 2


@given(st.floats(0.05, 0.5), DIRECTIONS, st.sampled_from([None, 30.0, 110.0]))
def test_shims_under_a_face_remove_its_wobble(size: float, high: float, bolt_circle: float | None) -> None:
    """A shim lifts the face at its mark and pivots it on the opposite point of the circle."""
    diameter, count = 60.0, 12
    angles = evenly_spaced(count)
    face = [size * cos(radians(angle - high)) + 0.01 * cos(2 * radians(angle)) for angle in angles]
    keys: dict[str, Any] = {} if bolt_circle is None else {"bolt_circle": f"{bolt_circle} mm"}
    (move,) = _plan_moves(face, surface="face", positions=count, diameter="60 mm", workholding="flange", **keys)
    circle = bolt_circle or diameter
    mark = radians(move["angle_deg"])
    lifted = []
    for angle, reading in zip(angles, face, strict=True):
        # A point of the face at this radius, measured along the line from pivot to shims.
        along = circle / 2 + diameter / 2 * cos(radians(angle) - mark)
        lifted.append(reading + move["amount_mm"] * along / circle)
    assert first_harmonic(lifted)[0] < 0.01 * size
    assert move["how"] == "shim"


def test_opposite_jaws_are_moved_by_half_the_difference_of_their_readings() -> None:
    """0.10 0.02 -0.06 0.04 by hand: jaw 1 in by 0.08, jaw 4 by 0.01. In a bore, the opposite jaws."""
    readings = [0.10, 0.02, -0.06, 0.04]
    outside = _plan_moves(readings, workholding="four jaw")
    assert [(move["where"], round(move["amount_mm"], 9)) for move in outside] == [("jaw 1", 0.08), ("jaw 4", 0.01)]
    bore = _plan_moves(readings, workholding="four jaw", surface="bore")
    assert [move["where"] for move in bore] == ["jaw 3", "jaw 2"]


def test_the_turns_of_a_jaw_screw_equal_the_move_divided_by_the_screws_lead() -> None:
    """The number of turns is the move divided by the lead of the screw."""
    lathe = replace(LATHE, chuck=Chuck(jaw_lead_mm=4.0))
    job = RunoutJob(angles_deg=evenly_spaced(4), workholding="four jaw")
    found = analyse((0.10, 0.02, -0.06, 0.04), job.angles_deg, job, graduation_mm=0.001)
    assert [move.turns for move in moves(found, job, lathe)] == pytest.approx([0.08 / 4, 0.01 / 4])
    assert figures(moves(found, job, lathe)[0].words(lathe)) >= {"3", "1", "0.08", "7°"}


def test_shim_thickness_matches_published_values() -> None:
    """A printed offset in a three-jaw chuck with narrow jaws gives the printed shim."""
    (row,) = [row for row in printed_rows("runout") if row.quantity == "shim under one jaw"]
    offset, radius = row.inputs["offset"], row.inputs["radius"]
    assert shims_mm((-offset, 0), radius) == pytest.approx((float(row.printed), 0, 0), abs=row.tolerance)
    assert shims_mm((-offset, 0), None) == pytest.approx((1.5 * offset, 0, 0))


@pytest.mark.parametrize("wide", [True, False])
@given(st.lists(st.floats(0, 2), min_size=3, max_size=3))
def test_shims_move_the_bar_as_scipy_predicts(wide: bool, shims: list[float]) -> None:
    """Any three shims move the bar to the position that scipy finds between the jaws."""
    found = moved_by_mm(shims, None if wide else 12.0)
    assert found == pytest.approx(centre_in_three_jaws(shims, 12.0, wide), abs=1e-8)


@given(st.floats(0.01, 2.5), st.lists(st.sampled_from([0.05, 0.1, 0.2, 0.3, 0.5, 1.0]), max_size=6))
def test_the_nearest_shims_in_stock_match_a_complete_search(thickness: float, drawer: list[float]) -> None:
    """No other choice of one or two pieces comes nearer, and neither does no shim."""
    found = nearest_shims(thickness, drawer)
    choices = [(), *((size,) for size in drawer), *combinations_with_replacement(drawer, 2)]
    best = min(abs(sum(choice) - thickness) for choice in choices)
    assert abs(sum(found) - thickness) == pytest.approx(best, abs=1e-8)
    assert all(piece in drawer for piece in found)


def test_one_shim_is_preferred_to_two_shims_of_the_same_total_thickness() -> None:
    """0.2 mm is one sheet of 0.2, not two of 0.1."""
    assert nearest_shims(0.2, (0.1, 0.2)) == (0.2,)


@pytest.mark.parametrize("surface", SURFACES)
def test_the_runout_predicted_for_stock_shims_matches_simulated_readings_after_shimming(surface: Surface) -> None:
    """The prediction for the shims in stock equals the runout read after the move."""
    bar = Bar(_off(0.4, 77), 15.0, oval=0.02, lobes=0.06)
    lathe = replace(NARROW, shims_mm=(0.15, 0.5))
    job = RunoutJob(surface=surface, angles_deg=evenly_spaced(12), workholding="three jaw", diameter_mm=30)
    found = analyse(bar.readings(job.angles_deg, surface), job.angles_deg, job, graduation_mm=0.001)
    advised = moves(found, job, lathe)
    shims = [0.0, 0.0, 0.0]
    for move in advised:
        shims[int(move.where.removeprefix("jaw ")) - 1] = sum(move.pieces_mm)
    moved = centre_in_three_jaws(shims, 15.0, wide=False)
    after = replace(bar, centre=(bar.centre[0] + moved[0], bar.centre[1] + moved[1])).readings(job.angles_deg, surface)
    assert advised[-1].left_mm == pytest.approx(first_harmonic(after)[0], abs=5e-4)
    assert advised[-1].tir_left_mm == pytest.approx(max(after) - min(after), abs=1e-3)


def test_the_wobble_of_a_face_predicted_for_stock_shims_matches_hand_calculation() -> None:
    """0.1 once a turn at a diameter of 60 needs a shim of 0.3 on a circle of 90. With 0.2, a third remains."""
    job = RunoutJob(
        surface="face", angles_deg=evenly_spaced(8), workholding="flange", diameter_mm=60, bolt_circle_mm=90
    )
    face = [0.1 * cos(radians(angle - 77)) for angle in job.angles_deg]
    found = analyse(face, job.angles_deg, job, graduation_mm=0.001)
    (move,) = moves(found, job, replace(LATHE, shims_mm=(0.2,)))
    assert move.amount_mm == pytest.approx(0.3)
    assert move.pieces_mm == (0.2,)
    assert move.left_mm == pytest.approx(0.1 / 3)
    assert move.tir_left_mm == pytest.approx((max(face) - min(face)) / 3)


@pytest.mark.parametrize("surface", SURFACES)
def test_pressing_a_jaw_lowers_an_outside_reading_and_raises_a_bore_reading(surface: Surface) -> None:
    """At the pressed mark the plunger moves out by the amount. In a bore it moves in."""
    bar = Bar(_off(0.3, 52), 20.0)
    job = RunoutJob(surface=surface, angles_deg=evenly_spaced(8), workholding="four jaw", diameter_mm=40)
    found = analyse(bar.readings(job.angles_deg, surface), job.angles_deg, job, graduation_mm=0.001)
    for move in moves(found, job, LATHE):
        (before,) = bar.readings([move.angle_deg], surface)
        (after,) = bar.moved(move.angle_deg, move.amount_mm).readings([move.angle_deg], surface)
        assert move.reading_mm == pytest.approx(after - before, abs=2e-3)
        assert ("rises" in move.words(LATHE)) is (surface == "bore")


@pytest.mark.parametrize("workholding", ["screwed on", "between centres", None])
def test_workholding_without_adjustable_parts_yields_no_correcting_moves(workholding: Workholding | None) -> None:
    """Neither a bar nor a face in such workholding gets moves."""
    job = RunoutJob(angles_deg=evenly_spaced(8), workholding=workholding, diameter_mm=40)
    found = analyse(
        Bar(_off(0.3, 52), 20.0).readings(job.angles_deg, "outside"), job.angles_deg, job, graduation_mm=0.01
    )
    assert moves(found, job, LATHE) == ()
    face = replace(job, surface="face")
    of_face = analyse([0.1, 0, 0, 0, 0, 0, 0, 0], job.angles_deg, face, graduation_mm=0.01)
    assert (moves(of_face, face, LATHE) == ()) is (workholding is not None)


@pytest.mark.parametrize("workholding", ["four jaw", "three jaw", "flange"])
def test_an_offset_too_small_for_the_indicator_yields_no_correcting_move(workholding: Workholding) -> None:
    """An offset of 0.002 read with marks of 0.01 is too small to move."""
    job = RunoutJob(angles_deg=evenly_spaced(8), workholding=workholding, diameter_mm=40)
    readings = [0.002 * cos(radians(angle - 50)) for angle in job.angles_deg]
    assert moves(analyse(readings, job.angles_deg, job, graduation_mm=0.01), job, LATHE) == ()
    assert moves(analyse(readings, job.angles_deg, job, graduation_mm=0.001), job, LATHE) != ()


def _two_planes(job: RunoutJob, axis: Sequence[tuple[float, float]], graduation: float = 0.0001) -> Any:
    turns = [
        Turn(
            angles_deg=job.angles_deg, readings_mm=tuple(Bar(at, 15).readings(job.angles_deg, job.surface)), plane=plane
        )
        for plane, at in enumerate(axis, start=1)
    ]
    return analyse_set(job, turns, graduation).tilt


@pytest.mark.parametrize("surface", SURFACES)
@pytest.mark.parametrize("high", HIGH_SPOTS)
def test_the_tilt_of_the_work_is_separated_from_its_offset(surface: Surface, high: float) -> None:
    """The same TIR in both planes may be pure offset or pure tilt. Only the direction shows which."""
    job = RunoutJob(surface=surface, angles_deg=evenly_spaced(8), planes=2, apart_mm=40, diameter_mm=30)
    offset = _two_planes(job, [_off(0.1, high), _off(0.1, high)])
    assert offset.tilt_deg == pytest.approx(0, abs=1e-6)
    assert offset.below_indicator
    tilt = _two_planes(job, [_off(0.1, high), _off(0.1, high + 180)])
    assert tilt.tilt_deg == pytest.approx(0.28648, abs=1e-4)  # atan(0.2 / 40)
    assert tilt.lean_deg == pytest.approx((high + 180) % 360, abs=0.01)
    assert hypot(*tilt.off_mm(20)) == pytest.approx(0, abs=1e-4)
    assert tilt.off_mm(80) == pytest.approx(_off(0.3, high + 180), abs=1e-3)


@pytest.mark.parametrize("surface", SURFACES)
@given(st.floats(0.02, 0.5), DIRECTIONS, st.floats(0.02, 0.5), DIRECTIONS)
def test_moving_the_jaws_then_the_far_end_centres_both_planes(
    surface: Surface, first: float, here: float, second: float, there: float
) -> None:
    """The jaws move the work sideways. The tap turns it about the first plane. Then both planes run true."""
    job = RunoutJob(surface=surface, angles_deg=evenly_spaced(8), planes=2, apart_mm=60, workholding="four jaw")
    axis = [_off(first, here), _off(second, there)]
    tilt = _two_planes(job, axis)
    near, far = (Bar(at, 15) for at in axis)
    for move in moves(tilt.first, job, LATHE):
        near, far = (bar.moved(move.angle_deg, move.amount_mm) for bar in (near, far))
    for move in tilt_moves(tilt, job, LATHE):
        (before,) = far.readings([move.angle_deg], surface)
        far = far.moved(move.angle_deg, move.amount_mm)
        (after,) = far.readings([move.angle_deg], surface)
        assert move.reading_mm == pytest.approx(after - before, abs=0.02)
    assert hypot(*near.centre) < 0.01 * first
    assert hypot(*far.centre) < 0.01 * (first + second)


@pytest.mark.parametrize("high", HIGH_SPOTS)
def test_shims_under_a_flange_remove_the_tilt_of_the_work(high: float) -> None:
    """A shim at a mark tips the axis away from it by shim over bolt circle. The two planes then agree."""
    job = RunoutJob(
        angles_deg=evenly_spaced(8), planes=2, apart_mm=50, workholding="flange", bolt_circle_mm=80, diameter_mm=30
    )
    axis = [_off(0.05, 33), tuple(map(sum, zip(_off(0.05, 33), _off(0.2, high), strict=True)))]
    tilt = _two_planes(job, axis)  # type: ignore[arg-type]
    (move,) = tilt_moves(tilt, job, LATHE)
    tipped = _off(move.amount_mm / 80 * 50, move.angle_deg)
    lean = (tilt.lean_mm[0] - tipped[0], tilt.lean_mm[1] - tipped[1])
    assert hypot(*lean) < 0.01 * 0.2
    assert move.amount_mm == pytest.approx(0.2 * 80 / 50, rel=1e-3)
    (at_hand,) = tilt_moves(tilt, job, replace(LATHE, shims_mm=(0.24,)))
    assert at_hand.pieces_mm == (0.24,)
    assert at_hand.left_mm == pytest.approx(0.2 - 0.24 * 50 / 80, abs=1e-4)


def test_a_taper_read_along_a_bar_between_centres_yields_the_tailstock_move() -> None:
    """A test bar is 0.03 nearer at its far end, over 150: taper 0.06, tailstock away by 0.02 for every 100."""
    job = RunoutJob(angles_deg=evenly_spaced(8), planes=2, apart_mm=150, workholding="between centres")
    wobble = [0.05 * cos(radians(angle - 77)) for angle in job.angles_deg]
    turns = [
        Turn(angles_deg=job.angles_deg, readings_mm=tuple(reading + mean for reading in wobble), plane=plane)
        for plane, mean in ((1, 0.0), (2, 0.03))
    ]
    tilt = analyse_set(job, turns, 0.001).tilt
    assert tilt is not None
    assert taper_mm(tilt) == pytest.approx(0.06)
    said = tailstock_words(tilt, LATHE.length_text)
    assert {"0.06", "0.02", "100"} <= figures(said)
    level = analyse_set(job, [turns[0], replace(turns[0], plane=2)], 0.001).tilt
    assert level is not None
    assert "in line" in tailstock_words(level, LATHE.length_text)


@pytest.mark.parametrize(("surface", "way"), [("outside", "falls"), ("bore", "rises")])
def test_an_angled_levers_reading_changes_by_more_than_the_jaw_moves(surface: Surface, way: str) -> None:
    """At 60 degrees the reading changes by twice the move (1 / cos 60)."""
    work, marks = Bar((-0.05, 0.0), 20), evenly_spaced(8)
    job = RunoutJob(surface=surface, angles_deg=marks, workholding="four jaw", stylus_deg=60)
    found = analyse([2 * reading for reading in work.readings(marks, surface)], marks, job, graduation_mm=0.01)
    (move,) = moves(found, job, NARROW)
    assert move.amount_mm == pytest.approx(0.05, abs=1e-4)
    words = move.words(NARROW)
    assert {"180°", "0.1"} <= figures(words) and way in words
