"""Squaring against numpy's least squares, reversal and bending by hand, and simulated set-ups."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.inputs import Moved
from core.lathe.lathe import Lathe
from core.lathe.reader import read_lathe
from core.operations.registry import PlanInput, operation_of, parameters_of
from core.operations.square.straight_line import bending_mm, line_through
from core.plan import Plan
from core.values.errors import FileError
from tests.core.operations.axes.test_axes import Walked, edit, mm
from tests.core.planned import make_plan

METRIC = read_lathe(Path(__file__).parents[4] / "sample_jobs" / "metric_lathe.toml")
FENCE = {"at": ["0 mm", "60 mm", "120 mm"], "tap": "120 mm"}


def plan(lathe: Lathe = METRIC, **keys: Any) -> Plan:
    """Return the plan of a `square` operation."""
    return make_plan(PlanInput("square", {"kind": "square", "name": "it", **keys}, lathe))


def card(**keys: Any) -> dict[str, Any]:
    """Return the figures of a `square` plan."""
    return dict(plan(**keys).figures)


def walk(**keys: Any) -> Walked:
    """Return a run of a `square` operation that has just started."""
    return Walked(METRIC, "square", **keys)


def listed(values: Any) -> list[str]:
    """Return lengths in the form of a job file."""
    return [mm(float(value)) for value in values]


# Figures.


def test_squareness_figures_match_the_worked_example() -> None:
    """By hand: 0, 0.02, 0.05 at 0, 60, 120 has a slope of 0.05 / 120.

    The readings are -0.0033 and 0.0017 off the line. The move is 0.05.
    """
    found = card(readings=["0.00 mm", "0.02 mm", "0.05 mm"], pivot="0 mm", tolerance="0.01 mm", **FENCE)
    assert found["slope_mm_per_100_mm"] == pytest.approx(100 * 0.05 / 120)
    assert found["slope_deg"] == pytest.approx(np.degrees(np.arctan(0.05 / 120)))
    assert found["straightness_mm"] == pytest.approx(0.005)
    assert found["move_mm"] == pytest.approx(0.05)


@given(
    st.lists(
        st.tuples(st.integers(0, 400), st.integers(-300, 300)),
        min_size=2,
        max_size=12,
        unique_by=lambda place: place[0],
    ),
    st.integers(-200, 200),
    st.integers(201, 500),
)
def test_slope_and_straightness_match_numpy(places: list[tuple[int, int]], pivot: int, tap: int) -> None:
    """The positions are in any order. The move is slope x (tap - pivot)."""
    at, readings = np.array([at for at, _ in places], float), np.array([reading / 1000 for _, reading in places])
    found = card(at=listed(at), readings=listed(readings), pivot=mm(pivot), tap=mm(tap))
    (slope, start), *_ = np.linalg.lstsq(np.column_stack([at, np.ones_like(at)]), readings, rcond=None)
    off = readings - slope * at - start
    assert found["slope_mm_per_100_mm"] == pytest.approx(100 * slope, abs=1e-9)
    assert found["move_mm"] == pytest.approx(slope * (tap - pivot), abs=1e-9)
    if len(places) > 2:
        assert found["straightness_mm"] == pytest.approx(off.max() - off.min(), abs=1e-9)
    else:
        assert "straightness_mm" not in found


@pytest.mark.parametrize("seed", range(5))
def test_the_calculated_move_makes_all_readings_along_a_simulated_fence_equal(seed: int) -> None:
    """A straight fence is tapped away by the move and turns about its pivot. It then reads the same everywhere."""
    chance = np.random.default_rng(seed)
    at, lean, pivot, tap = np.linspace(0, 200, 6), chance.uniform(-1e-3, 1e-3), *chance.uniform(-20, 240, 2)
    readings = 0.3 + lean * at
    found = card(at=listed(at), readings=listed(readings), pivot=mm(pivot), tap=mm(tap))
    turned_by = -found["move_mm"] / (tap - pivot)
    after = readings + turned_by * (at - pivot)
    assert np.ptp(after) < 2e-5


def test_reading_a_square_both_ways_round_cancels_the_squares_own_error() -> None:
    """By hand: the slide is off by 0.06 in 100, the square by 0.10. The readings are 0.16, and -0.04 turned over.

    Half of their sum is 0.06.
    """
    found = card(
        at=["0 mm", "100 mm"],
        readings=["0 mm", "0.16 mm"],
        reversed_readings=["0 mm", "-0.04 mm"],
        tap="100 mm",
    )
    assert found["slope_mm_per_100_mm"] == pytest.approx(0.06)
    assert found["own_slope_mm_per_100_mm"] == pytest.approx(0.10)
    assert found["move_mm"] == pytest.approx(0.06)


def test_readings_of_a_faced_disc_past_the_centre_show_twice_the_error_of_the_slide() -> None:
    """numpy faces a disc with a slide that leans by s. Past the centre the reading is 2 s r."""
    lean, radius = 2.5e-4, np.array([0.0, 20.0, 40.0])
    face, path = lean * radius, -lean * radius
    readings = face - path
    found = card(method="facing", at=listed(radius), readings=listed(readings))
    assert found["slope_mm_per_100_mm"] == pytest.approx(100 * lean)
    shown = plan(method="facing", at=listed(radius), readings=listed(readings)).steps[-1]
    assert "0.025 mm" in shown.text and "hollow" in shown.text
    crowned = plan(method="facing", at=listed(radius), readings=listed(-readings)).steps[-1]
    assert "high in the middle" in crowned.text


def test_the_tailstock_move_is_half_the_taper_scaled_to_the_work_length() -> None:
    """By hand: 0.06 mm larger at the tailstock over 200 mm. Half is 0.03, and over 300 mm 0.045 towards the tool."""
    keys = {"method": "between centres", "apart": "200 mm", "diameters": ["25 mm", "25.06 mm"]}
    found = card(work_length="300 mm", **keys)
    assert found["taper_mm"] == pytest.approx(0.06) and found["move_mm"] == pytest.approx(-0.045)
    assert card(**keys)["move_mm"] == pytest.approx(-0.03)
    texts = [step.text for step in plan(work_length="300 mm", **keys).steps]
    assert any("0.045 mm towards you" in text for text in texts)


@pytest.mark.parametrize("off", [0.08, -0.05])
def test_the_tailstock_move_makes_simulated_work_parallel(off: float) -> None:
    """The tailstock is `off` away from the tool, so the turned radius grows along the bar. The move corrects this."""
    length, places = 250.0, np.array([20.0, 220.0])
    diameters = 2 * (12.0 + off * places / length)
    found = card(method="between centres", apart="200 mm", work_length=mm(length), diameters=listed(diameters))
    assert off + found["move_mm"] == pytest.approx(0, abs=2e-6)


@pytest.mark.parametrize("off", [0.08, -0.05])
def test_the_difference_read_along_a_ground_bar_is_corrected_in_full(off: float) -> None:
    """An indicator on the operator's side reads less where the bar is further away. The whole difference counts."""
    length, places = 250.0, np.array([20.0, 120.0, 220.0])
    readings = -off * places / length
    found = card(method="ground bar", at=listed(places), work_length=mm(length), readings=listed(readings))
    assert off + found["move_mm"] == pytest.approx(0, abs=2e-5)


def test_the_advice_for_a_bar_in_the_chuck_states_how_far_the_bar_bends() -> None:
    """F L^3 / 3 E I by hand: 20 N, 150 mm, d 25 mm: I = 19175 mm^4, 67.5e6 / 1.208e10 = 0.00559 mm."""
    assert bending_mm(25, 150) == pytest.approx(0.00559, abs=5e-6)
    its = plan(method="chuck bar", apart="100 mm", stick_out="150 mm", diameters=["25 mm", "25.03 mm"])
    assert its.figures["bending_mm"] == pytest.approx(0.00559, abs=5e-6)
    said = " ".join([*its.cautions, *(step.text for step in its.steps)])
    assert "0.006 mm" in said and "bed" in said and "Never loosen the headstock on this test alone" in said
    assert "move_mm" not in its.figures


def test_readings_at_only_two_positions_give_no_figure_for_straightness() -> None:
    """Every line fits two positions."""
    assert line_through((0.0, 10.0), (0.0, 1.0)).straightness_mm is None


# Runs.


def test_a_square_run_asks_for_readings_before_and_after_each_move() -> None:
    """Outside the tolerance the part is moved and read again until it is within.

    Each set is compared with the one before.
    """
    run = walk(tolerance="0.015 mm", **FENCE)
    run.answers("0", "0.02", "0.05")
    assert run.cursor.title == "Correct it" and "0.05 mm at 120 mm, away from" in run.cursor.text
    run.answers("0", "-0.01", "-0.03")
    assert run.cursor.title == "Correct it" and "0.03 mm at 120 mm, towards" in run.cursor.text
    assert "Before 0.05 mm, now 0.03 mm: the part was moved too far." in run.cursor.findings
    run.answers("0", "0", "0")
    assert run.cursor.title == "Check the result" and run.cursor.text.startswith("Within")
    assert "Before 0.03 mm, now 0 mm." in run.cursor.findings
    run.done()
    assert run.state.cursor is None


def test_a_first_set_of_readings_within_the_tolerance_needs_no_move() -> None:
    """The error is 0.01 mm over the length, and 0.03 mm are allowed."""
    run = walk(tolerance="0.03 mm", **FENCE)
    run.answers("0", "0", "0.01")
    assert run.cursor.title == "Check the result"


def test_a_result_too_close_to_the_tolerance_is_called_uncertain() -> None:
    """Two readings of graduation 0.01 mm are sure to 0.008 mm (k = 2, GUM F.2.2.1). 0.01 of 0.012 mm may be outside."""
    run = walk(tolerance="0.012 mm", at=["0 mm", "100 mm"])
    run.answers("0", "0.01")
    assert "0.008 mm" in run.cursor.text and "too close" in run.cursor.text


def test_the_square_is_turned_over_between_its_two_sets_of_readings() -> None:
    """The result of every later set also allows for the square's own error."""
    run = walk(at=["0 mm", "100 mm"], tap="100 mm", read="both ways", tolerance="0.015 mm")
    run.answers("0", "0.16")
    assert run.cursor.title == "Turn it over"
    run.answers("0", "-0.04")
    assert "0.06 mm at 100 mm" in run.cursor.text
    run.answers("0", "0.10")
    assert run.cursor.title == "Check the result" and run.cursor.text.startswith("Within")


def test_the_advice_to_shim_names_shims_that_the_lathe_file_lists() -> None:
    """0.25 mm is 0.2 + 0.05 of the sample lathe's shims."""
    its = plan(at=["0 mm", "100 mm"], readings=["0 mm", "-0.25 mm"], tap="100 mm", how="shim")
    step = next(step for step in its.steps if step.title == "Correct it")
    assert "0.25 mm at 100 mm, towards the indicator" in step.text and "0.2 mm + 0.05 mm" in step.text


def test_a_move_reported_during_the_second_set_of_readings_repeats_only_that_set() -> None:
    """The readings of the first set stay."""
    run = walk(tolerance="0.015 mm", **FENCE)
    run.answers("0", "0.02", "0.05", "0")
    run.tell(Moved())
    assert run.titles[:3] == ["Read at 0 mm again", "Read at 60 mm again", "Read at 120 mm again"]
    run.answers("0", "0", "0")
    assert run.cursor.title == "Check the result"


def test_a_move_reported_during_the_first_set_of_readings_restarts_that_set() -> None:
    """The indicator has lost its zero."""
    run = walk(**FENCE)
    run.answers("0", "0.02")
    run.tell(Moved())
    assert run.titles[0] == "Read at 0 mm"
    run.answers("0", "0.01", "0.03")
    assert "0.03 mm at 120 mm" in run.cursor.text


def test_both_lands_of_the_test_bar_are_turned_again_after_a_tailstock_move() -> None:
    """Old lands say nothing about the tailstock's new position."""
    run = walk(method="between centres", apart="200 mm", tolerance="0.02 mm")
    run.answers("25", "25.06")
    assert run.titles[:2] == ["Correct it", "Turn both lands again"]
    run.answers("24.8", "24.81")
    assert run.cursor.title == "Check the result"


def every_bad() -> Iterator[tuple[dict[str, Any], str]]:
    """Yield tables that are refused, each with its wrong key."""
    yield {}, "at"
    yield {"at": ["0 mm"]}, "at"
    yield {"at": "0 mm"}, "at"
    yield {"at": ["0 mm", "0 mm"]}, "at"
    yield {"at": ["0 mm", "10 deg"]}, "at"
    yield {"at": ["0 mm", "10 mm"], "readings": ["0 mm"] * 3}, "readings"
    yield {"at": ["0 mm", "10 mm"], "readings": ["0", "0.1 mm"]}, "readings"
    yield {"at": ["0 mm", "10 mm"], "tap": "0 mm"}, "tap"
    yield {"at": ["0 mm", "10 mm"], "pivot": "5 mm", "tap": "5 mm"}, "tap"
    yield {"at": ["0 mm", "10 mm"], "how": "push"}, "how"
    yield {"at": ["0 mm", "10 mm"], "read": "twice"}, "read"
    yield {"at": ["0 mm", "10 mm"], "method": "by eye"}, "method"
    yield {"at": ["0 mm", "10 mm"], "apart": "10 mm"}, "apart"
    yield {"at": ["0 mm", "10 mm"], "tolerance": "0 mm"}, "tolerance"
    yield {"method": "between centres"}, "apart"
    yield {"method": "between centres", "apart": "200 mm", "work_length": "100 mm"}, "work_length"
    yield {"method": "between centres", "apart": "200 mm", "diameters": ["25 mm", "0 mm"]}, "diameters"
    yield {"method": "chuck bar", "apart": "100 mm"}, "stick_out"
    yield {"method": "chuck bar", "apart": "100 mm", "stick_out": "50 mm"}, "stick_out"


@pytest.mark.parametrize(("keys", "key"), list(every_bad()))
def test_each_refusal_of_a_square_operation_names_the_key_with_the_wrong_value(keys: dict[str, Any], key: str) -> None:
    """The refusal also says what to enter."""
    with pytest.raises(FileError) as refused:
        card(**keys)
    assert any(message.startswith(f"{key}: ") and message.endswith(".") for message in refused.value.every)


def test_an_edited_job_keeps_the_readings_taken_in_the_run() -> None:
    """After the first set the tap is nearer to the pivot, so the move is half as large. The readings stay."""
    run = walk(**FENCE)
    run.answers("0", "0.02", "0.05")
    edit(run, tap="60 mm")
    assert run.cursor.title == "Correct it" and "0.025 mm at 60 mm" in run.cursor.text
    edit(run, method="between centres", apart="100 mm", at=None, tap=None)
    assert run.cursor.title == "Turn two lands"


def test_the_drive_is_isolated_within_the_first_two_steps_after_a_reported_move() -> None:
    """Hands come near the chuck, so the step says to isolate the drive."""
    for keys in (FENCE, {"method": "between centres", "apart": "200 mm"}, {"method": "facing", "at": FENCE["at"]}):
        run = walk(**keys)
        run.answers("1", "1")
        run.tell(Moved())
        assert any("isolate its drive" in step.text for step in list(run.state.open_steps())[:2])


def test_readings_from_the_job_file_are_labelled_and_can_be_taken_again() -> None:
    """A new face needs new readings. The verdict says whose readings it has and offers to read.

    After a move, it says to face.
    """
    keys: dict[str, Any] = {"at": ["0 mm", "30 mm", "60 mm"], "tolerance": "0.02 mm"}
    run = walk(method="facing", readings=["0 mm", "0.01 mm", "0.02 mm"], **keys)
    run.to_question()
    assert run.cursor.title == "Check the result" and "readings in the job file" in run.cursor.text
    run.answer("Read again")
    assert run.titles == ["Read at 0 mm", "Read at 30 mm", "Read at 60 mm", "Check the result"]
    run.tell(Moved())
    assert run.titles[:2] == ["Face a disc", "Set the indicator"]
    run.answers("0", "0.05", "0.1")
    assert run.cursor.title == "Check the result" and "Outside" in run.cursor.text
    assert "job file" not in run.cursor.text
    run.done()
    assert run.state.cursor is None


def test_an_answer_does_not_change_the_total_number_of_steps() -> None:
    """An answer replaces its step, so done and open steps add up to the same number."""
    run = walk(**FENCE)
    shown = []
    for value in ("0", "0.02", "0.05"):
        run.to_question()
        shown.append((run.view.done, run.view.total))
        run.answer(value)
    shown.append((run.view.done, run.view.total))
    assert {total for _, total in shown} == {shown[0][1]}
    assert [done for done, _ in shown] == [1, 2, 3, 4]


def test_three_readings_on_one_straight_line_are_not_reported_as_straight_within_0_mm() -> None:
    """The sentence limits the result to these readings, since three readings do not prove a straight edge."""
    (figure,) = (one for one in _figures(readings=["0 mm", "0.02 mm", "0.04 mm"]) if one.name == "Straight within")
    assert "these readings" in figure.note
    run = walk(readings=["0 mm", "0.02 mm", "0.04 mm"], **FENCE)
    (correct,) = (step for step in run.state.steps if step.title == "Correct it")
    assert "tighten the bolts" in correct.cautions[0] and "chuck" not in correct.cautions[0]
    run.tell(Moved())
    run.answers("0", "0.02", "0.04")
    words = " ".join([run.cursor.text, *run.cursor.findings])
    assert "Straight, as far as these readings show" in words


def _figures(**keys: Any) -> list[Any]:
    planned = PlanInput("square", {"kind": "square", "name": "it", **FENCE, **keys}, METRIC)
    form = operation_of("square").form
    assert form is not None and form.figures is not None
    return list(form.figures(parameters_of(planned), METRIC, make_plan(planned)))
