"""A turn is read several times with nothing moved. All readings count together, and none is lost."""

from math import cos, radians
from typing import Any

import numpy as np
import pytest

from core.events.event import as_read_back
from core.inputs import ReadingsTaken, input_as_data, input_from_data
from core.operations.runout.harmonics import evenly_spaced
from core.operations.runout.job import RunoutJob
from core.operations.runout.readings import repeatability_mm
from core.operations.runout.sets_of_readings import Turn, as_readings_taken, turns_entered
from core.run.runout_view import readings_taken
from tests.core.run.test_runout_view import Check, bar_readings


def _read_again(check: Check, *readings: float) -> None:
    """Read the same turn again, as the counter's key T does, and plan from the readings."""
    check.revise("measured", again=True)
    check.read(*readings)
    _planned(check)


def _planned(check: Check) -> None:
    taken = readings_taken(check.plan_input, check.state)
    assert taken is not None
    check.tell(taken)


@pytest.mark.parametrize("closing", [True, False])
def test_three_readings_of_the_same_turn_form_one_set(closing: bool) -> None:
    """The set has the mean of the three, their scatter by numpy, and the moves as after the first time."""
    check = Check()
    first = bar_readings(0.20, 30)
    rng = np.random.default_rng(7)
    times = [first, *(np.round(np.array(first) + rng.normal(0, 0.01, 8), 3).tolist() for _ in range(2))]
    for number, time in enumerate(times):
        if number == 0:
            check.read(*time)
        else:
            check.revise("measured", again=True)
            assert check.seen.turn_readings_mm == ()
            assert check.seen.times == number + 1
            check.read(*time)
        if closing:
            check.read(time[0])
        else:
            check.skip()
        _planned(check)
        assert [step for step in check.state.open_steps() if "move" in step.extra]
    assert len(check.seen.sets) == 1
    found = check.seen.current_set.planes[1]
    assert found.times == 3
    assert found.readings_mm == pytest.approx(np.mean(times, axis=0))
    residual = np.array(times) - np.mean(times, axis=1, keepdims=True) - np.mean(times, axis=0) + np.mean(times)
    scatter = np.sqrt((residual**2).sum() / (7 * 2))
    assert found.repeatability_mm == pytest.approx(scatter)
    assert found.reading_error_mm == pytest.approx(max(0.01 / np.sqrt(12), scatter / np.sqrt(3)))
    # After a move the whole turn starts another set.
    check.moved()
    check.read(*bar_readings(0.01, 30))
    assert [len(one.turns) for one in check.seen.sets] == [3, 1]


def test_the_scatter_of_two_turns_matches_the_scatter_of_their_paired_readings() -> None:
    """For two times, s² = sum (d - mean d)² / (2 (n - 1))."""
    one, other = np.random.default_rng(2).normal(0, 0.02, (2, 12))
    change = other - one
    expected = np.sqrt(((change - change.mean()) ** 2).sum() / (2 * 11))
    assert repeatability_mm([one.tolist(), (other + 0.3).tolist()]) == pytest.approx(expected)


def test_the_repeatability_of_many_turns_matches_the_scatter_of_their_readings() -> None:
    """Four times three hundred marks scattered by 0.02, each mark and time with its own level, give 0.02."""
    rng = np.random.default_rng(4)
    times = rng.normal(0, 0.02, (4, 300)) + rng.normal(0, 1, 300) + rng.normal(0, 1, (4, 1))
    assert repeatability_mm(times.tolist()) == pytest.approx(0.02, rel=0.06)


def test_a_third_turn_logged_by_the_first_version_is_added_to_its_set_of_readings() -> None:
    """The first version's steps do not number the repeats. The first mark that comes again starts the next turn."""
    check = Check(positions=4)
    check.read(*bar_readings(0.2, 30, 4), bar_readings(0.2, 30, 4)[0])
    _planned(check)
    for _ in range(2):
        check.revise("measured", again=True)
        without = [
            {**data, "extra": {key: value for key, value in data.get("extra", {}).items() if key != "repeat"}}
            for data in map(_as_data, check.state.open_steps())
        ]
        steps = [{**data, "id": check.state.next_step_id + at} for at, data in enumerate(without)]
        check.log("revised", cause="measured", given={"again": True}, steps=steps)
        check.read(*bar_readings(0.2, 30, 4))
        check.skip()
    assert len(check.seen.sets) == 1
    assert check.seen.current_set.planes[1].times == 3


def _as_data(step: Any) -> dict[str, Any]:
    from core.plan import step_as_data

    return dict(step_as_data(step))


def _as_logged(taken: ReadingsTaken) -> ReadingsTaken:
    """Return readings as the log gives them back."""
    cause, given = input_as_data(taken)
    found = input_from_data(cause, as_read_back(given))
    assert isinstance(found, ReadingsTaken)
    return found


@pytest.mark.parametrize("planes", [1, 2])
@pytest.mark.parametrize("times", [1, 2, 3, 4])
@pytest.mark.parametrize("closed", [(), (0,), (1,), (0, 2)])
def test_all_readings_of_a_logged_set_are_read_back_from_the_log(
    planes: int, times: int, closed: tuple[int, ...]
) -> None:
    """All readings and closing readings come back, for every plane and time."""
    job = RunoutJob(angles_deg=evenly_spaced(4), planes=planes, apart_mm=40.0 if planes == 2 else None)
    turns = [
        Turn(
            angles_deg=job.angles_deg,
            readings_mm=tuple(plane + cos(radians(angle)) + repeat for angle in job.angles_deg),
            closing_mm=float(plane) if repeat in closed else None,
            plane=plane,
            repeat=repeat,
        )
        for repeat in range(times)
        for plane in range(1, planes + 1)
    ]
    assert turns_entered(job, _as_logged(as_readings_taken(turns))) == turns


def test_a_logged_set_whose_second_plane_was_skipped_is_read_back_as_one_turn() -> None:
    """Only the readings of the first plane are in the log."""
    job = RunoutJob(angles_deg=evenly_spaced(4), planes=2, apart_mm=40.0)
    turn = Turn(angles_deg=job.angles_deg, readings_mm=(0.0, 0.1, 0.2, 0.1))
    assert turns_entered(job, _as_logged(as_readings_taken([turn]))) == [turn]
