"""The workholding set after the readings: no reading is lost and moves are planned. Also the views of F6."""

from pathlib import Path

import pytest

from core.operations.runout.job import WORKHOLDINGS
from tests.conftest import MakeApp
from tests.tui.counters import logged, press
from tests.tui.runout.test_runout_counter import JOB, LATHE, TURN, opened, read, seen, told
from tui.runout.counter import RunoutCounter
from tui.runout.polar_picture import PolarPicture
from tui.runout.reading_entry import ReadingEntry
from tui.widgets.pager import Pager


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """Return the path of a job that does not say how the work is held."""
    (tmp_path / "lathe.toml").write_text(LATHE)
    path = tmp_path / "arbor.toml"
    path.write_text(JOB.replace('workholding = "four jaw"\n', ""))
    return path


async def test_choosing_the_workholding_after_the_readings_plans_the_moves(make: MakeApp, job: Path) -> None:
    """No new turn starts. If the turn is not complete, its readings continue."""
    async with opened(make, job) as (pilot, screen):
        await read(pilot, *TURN[:2])
        digest = screen.state.plan_input.digest
        await press(pilot, "h", "2")
        assert seen(screen).job.workholding == WORKHOLDINGS[1]
        assert screen.state.cursor is not None
        assert screen.state.cursor.reading_at.angle_deg == 180
        await read(pilot, *TURN[2:], "0.08")
        before = seen(screen).current_set.turns
        await press(pilot, "h", "1")
        assert logged(pilot.app).plan_input.answered == {"workholding": "four jaw"}
        assert len(seen(screen).sets) == 1 and seen(screen).current_set.turns == before
        moves = [step.text for step in screen.state.open_steps() if "move" in step.extra]
        assert len(moves) == 2 and "jaw 1" in moves[0] and "0.08 mm" in moves[0]
        assert "do" in told(screen)
        # An answer does not change the job, so no later question asks which of the two to use.
        assert screen.state.plan_input.digest == digest
        # After an undo the question is open again, and the readings are still there.
        await press(pilot, "backspace")
        assert seen(screen).job.workholding == WORKHOLDINGS[1]
        assert seen(screen).current_set.turns == before


async def test_choosing_the_workholding_after_a_move_starts_a_new_turn_of_readings(make: MakeApp, job: Path) -> None:
    """Readings from before the move no longer show the position of the work. The log keeps these readings."""
    async with opened(make, job) as (pilot, screen):
        await press(pilot, "h", "1")
        await read(pilot, *TURN, "0.08")
        await press(pilot, "enter")
        assert screen.state.cursor is not None and "move" in screen.state.cursor.extra
        await press(pilot, "enter", "h", "3")
        assert screen.state.cursor is not None and screen.state.cursor.action == "set"
        assert seen(screen).previous_set is not None


async def test_f6_shows_the_picture_and_the_advice_together_or_one_of_them_alone(make: MakeApp, job: Path) -> None:
    """At 80 columns the field for the reading stays visible and keeps its keys."""
    async with opened(make, job) as (pilot, screen):
        await read(pilot, *TURN[:3])
        picture, told_ = screen.query_one(PolarPicture), screen.query_one("#findings", Pager)
        shown = []
        for _ in range(4):
            shown.append((picture.is_on_screen, told_.is_on_screen))
            assert screen.query_one(ReadingEntry).is_on_screen and isinstance(screen.focused, ReadingEntry)
            await press(pilot, "f6")
        assert shown == [(True, True), (False, True), (True, False), (True, True)]
        assert isinstance(pilot.app.screen, RunoutCounter)
