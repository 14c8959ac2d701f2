"""How a runout check ends."""

from pathlib import Path

from tests.conftest import MakeApp
from tests.tui.counters import logged, press
from tests.tui.runout.test_runout_counter import JOB, TURN, job, opened, read, told

__all__ = ["job"]


async def test_enter_ends_the_check_if_no_further_move_would_show(make: MakeApp, job: Path) -> None:
    """No tolerance given: 0.01 mm of movement, of which 0.005 is offset, is left; a mark hides 0.008 of a difference.

    Twice the standard error of a difference of two readings: 2 sqrt 2 0.01 / sqrt 12 (GUM F.2.2.1).
    """
    job.write_text(JOB.replace('tolerance = "0.02 mm"\n', ""))
    async with opened(make, job) as (pilot, screen):
        await read(pilot, *TURN)
        await press(pilot, "k", "enter", "enter", "enter", "enter", "1", "enter")
        await read(pilot, "0", "0", "0", "0.01")
        await press(pilot, "k")
        assert "do" not in told(screen)
        assert screen.state.steps_open == 1
        await press(pilot, "enter", "enter")
        assert logged(pilot.app).status == "finished"
