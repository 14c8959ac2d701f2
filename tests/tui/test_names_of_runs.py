"""Runs without a job: their names on the board and in the history, and how to abandon them."""

import pytest

from core.logbook.logbook import Logbook
from tests.conftest import MakeApp
from tests.tui.painted import painted
from tui.paths import Paths
from tui.widgets.quantity_field import QuantityField


@pytest.mark.usefixtures("every_frame")
async def test_a_run_without_a_job_has_the_same_name_on_the_board_and_in_the_history(
    make: MakeApp, paths: Paths
) -> None:
    """The board and the history list the run by the same name and date. One key, after a question, abandons it."""
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        # The first row is a choice; what is typed goes into the first field that is empty.
        await pilot.press("d", *"30", "tab", *"27")
        app.screen.query_one("#field-cut", QuantityField).focus()
        await pilot.press(*"0.5", "f5", "1", "space")
        assert "Turn 30 to 27 mm" in painted(app)
        await pilot.press("escape", "escape")
        assert "Space Done" in painted(app)
        await pilot.press("escape", "enter", "escape")
        if "Close this form?" in painted(app):
            await pilot.press("1")
        board = painted(app)
        assert "unfinished" in board and "Turn 30 to 27 mm" in board and "2026-03-14 09:26" in board
        await pilot.press("f3")
        assert "Turn 30 to 27 mm" in painted(app) and "without a job" not in painted(app)
        await pilot.press("delete")
        assert 'Abandon the run "Turn 30 to 27 mm"' in painted(app)
        await pilot.press("escape", "delete", "1")
        await pilot.pause()
        assert "has been abandoned" in painted(app)
        await pilot.press("f2")
        assert "unfinished" not in painted(app)
    with Logbook.open(paths.data, read_only=True) as logbook:
        assert [(info.name, info.status) for info in logbook.runs()] == [("Turn 30 to 27 mm", "abandoned")]
