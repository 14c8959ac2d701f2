"""The end of a runout check."""

from pathlib import Path

from tests.conftest import MakeApp
from tests.tui.counters import logged, press
from tests.tui.runout.test_runout_counter import JOB, TURN, job, opened, read, told

__all__ = ["job"]


async def test_enter_ends_a_runout_check_whose_remaining_offset_is_too_small_to_measure(
    make: MakeApp, job: Path
) -> None:
    """Without a tolerance, a movement of 0.01 mm is left, of which 0.005 mm is offset. Graduations hide 0.008 mm.

    0.008 mm is twice the standard error of a difference of two readings: 2 sqrt 2 0.01 / sqrt 12 (GUM F.2.2.1).
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
