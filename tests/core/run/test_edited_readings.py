"""A runout check whose job is edited during the run keeps its valid readings."""

from typing import Any

import pytest

from core.inputs import Edited, input_as_data
from core.plan import numbered, step_as_data
from core.run.revising import answered_input, edited_input, plan_input_of, revised_steps
from core.run.runout_view import readings_taken
from tests.core.figures import figures
from tests.core.run.test_runout_view import Check, bar_readings

TURN = bar_readings(0.20, 30, 4)


class Changed(Check):
    """A runout check whose job a test edits, and whose questions at the counter a test answers."""

    def plan(self) -> None:
        """Plan the moves from the last set of readings, as the screen does."""
        taken = readings_taken(self.plan_input, self.state)
        assert taken is not None
        self.tell(taken)

    def change(self, **keys: Any) -> None:
        """Edit keys of the job."""
        parameters = {key: value for key, value in {**self.plan_input.parameters, **keys}.items() if value is not None}
        self._go_by(*edited_input(self.plan_input._replace(parameters=parameters), self.state))

    def answer(self, **answers: Any) -> None:
        """Answer a question of the counter."""
        self._go_by(*answered_input(self.plan_input, self.state, answers))

    def _go_by(self, plan_input: Any, entered: Edited) -> None:
        steps = numbered(revised_steps(plan_input, self.state, entered), self.state.next_step_id)
        cause, given = input_as_data(entered)
        self.log("revised", cause=cause, given=given, steps=[step_as_data(step) for step in steps])
        self.plan_input = plan_input_of(self.state.plan_input)
        assert self.plan_input.parameters == plan_input.parameters

    @property
    def moves(self) -> list[str]:
        """Return the moves that are planned now."""
        return [step.text for step in self.state.open_steps() if "move" in step.extra]


@pytest.mark.parametrize("keys", [{"tolerance": "0.05 mm"}, {"workholding": "flange"}, {"surface": "bore"}])
def test_a_complete_turn_of_readings_is_kept_after_an_edit_of_the_job(keys: dict[str, Any]) -> None:
    """No reading is asked for again, and the moves follow from the edited job."""
    check = Changed(positions=4)
    check.read(*TURN, TURN[0])
    check.plan()
    before = check.seen.current_set.turns
    check.change(**keys)
    assert check.seen.current_set.turns == before and len(check.seen.sets) == 1
    assert not any(step.action == "read" for step in check.state.open_steps())
    assert len(check.moves) == (1 if "workholding" in keys else 2)


@pytest.mark.parametrize("read", [1, 3, 4])
def test_after_an_edit_an_unfinished_turn_of_readings_continues_at_its_next_mark(read: int) -> None:
    """The next mark to read is the one after the last reading."""
    check = Changed(positions=4, workholding="between centres")
    check.read(*TURN[:read])
    check.answer(workholding="four jaw")
    check.read(*TURN[read:], TURN[0])
    check.plan()
    assert len(check.seen.sets) == 1
    assert check.seen.current_set.planes[1].readings_mm == pytest.approx(TURN)
    assert len(check.moves) == 2


def test_an_edit_of_the_number_of_marks_starts_a_new_set_of_readings() -> None:
    """With eight marks instead of four, the readings taken stay as the previous set."""
    check = Changed(positions=4)
    check.read(*TURN, TURN[0])
    check.plan()
    check.change(positions=8)
    assert sum(step.action == "read" for step in check.state.open_steps()) == 8


def test_readings_in_a_job_yield_correcting_moves_once_the_workholding_is_known() -> None:
    """Readings from the job file lead to moves, and no mark is read again."""
    readings = [f"{reading} mm" for reading in TURN]
    check = Changed(positions=4, readings=readings, workholding="between centres")
    check.log("done", step=check.cursor.id)
    check.answer(workholding="four jaw")
    assert check.moves and check.cursor.action == "check"
    assert check.seen.sets[0].complete


def test_an_answer_given_during_a_run_is_kept_until_the_job_sets_another_value() -> None:
    """The answer stays if the edit changes another key. A value in the job replaces it. The digest ignores answers."""
    check = Changed(positions=4)
    digest = check.state.plan_input.digest
    check.answer(workholding="flange")
    assert check.state.plan_input.digest == digest and check.seen.job.workholding == "flange"
    check.change(workholding="three jaw")
    assert check.seen.job.workholding == "three jaw" and check.state.plan_input.answered == {}


def test_after_an_edit_a_check_of_two_planes_continues_at_the_second_plane() -> None:
    """The step that moves the indicator to the second plane is still open."""
    check = Changed(positions=4, planes=2, apart="40 mm")
    check.read(*TURN, TURN[0])
    check.change(tolerance="0.1 mm")
    assert check.cursor.action == "set" and "40 mm" in check.cursor.text
    check.read(*TURN, TURN[0])
    check.plan()
    assert len(check.seen.sets) == 1 and check.seen.current_set.complete


@pytest.mark.parametrize("done", [1, 3])
def test_after_an_edit_of_their_number_the_marks_must_be_made_on_the_work_again(done: int) -> None:
    """Four marks are on the work and the edited job has six, either before a reading or during the turn."""
    check = Changed(positions=4)
    check.log("done", step=check.cursor.id)
    check.read(*TURN[: done - 1])
    check.change(positions=6)
    assert figures(check.cursor.text) >= {"60°", "120°"}
