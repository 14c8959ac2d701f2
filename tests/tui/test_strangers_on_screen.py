"""No content of a log and no size of the terminal makes a screen fail."""

import pytest

from core.events.state import Origin
from core.logbook.logbook import Logbook
from tests.conftest import MakeApp
from tests.core.logbook.run_samples import begin
from tests.trials.program import JOB
from tests.tui.made_up import press
from tests.tui.painted import painted
from tui.paths import Paths

PATHS = ("/jobs/\x00.toml", "\x1b]0;owned\x07", "\ud800.toml", "/" + "n" * 5000, "", "..", "/dev/zero")

pytestmark = pytest.mark.usefixtures("every_frame")


async def test_runs_are_listed_even_if_their_job_paths_are_unusable(make: MakeApp, paths: Paths) -> None:
    """The board and the history list the runs, and opening each run causes no failure."""
    with Logbook.open(paths.data) as logbook:
        for path in PATHS:
            begin(logbook, origin=Origin(job_path=path, job_title=path or "none", op_name="Cut")).close()
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.pause()
        assert "recent" in painted(app)
        for number in range(len(PATHS)):
            await press(pilot, *["home", *["down"] * number], "enter", "escape")
        await press(pilot, "f3", "enter", "escape", "escape")
        assert app.is_running


@pytest.mark.parametrize("keys", [(), ("enter", "1"), ("f1",), ("f3",)], ids=["board", "counter", "help", "history"])
async def test_a_screen_recovers_after_the_terminal_has_been_shrunk_to_one_cell(
    make: MakeApp, keys: tuple[str, ...]
) -> None:
    """After a resize to one cell and back, the screen looks as before."""
    app = make(job=JOB)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot)
        for key in keys:
            await press(pilot, key)
        shown = painted(app)
        for size in ((1, 1), (10, 2), (1, 5), (80, 24)):
            await pilot.resize_terminal(*size)
            await pilot.pause()
        await pilot.pause()
        assert painted(app).split()[:5] == shown.split()[:5]
