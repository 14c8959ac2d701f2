"""The mouse: a click selects, a double click does what Enter does, the wheel scrolls. Every action has a key too."""

from pathlib import Path

from textual.events import MouseScrollDown

from tests.conftest import MakeApp
from tui.board.operation_list import OperationList
from tui.board.screen import BoardScreen
from tui.operation.screen import OperationScreen
from tui.widgets.pager import Pager
from tui.widgets.question import YesNo

FOOT = Path(__file__).parents[2] / "sample_jobs" / "gnomon_foot.toml"


async def test_clicking_an_operation_on_the_board_selects_it_without_starting_it(make: MakeApp) -> None:
    async with make(job=FOOT).run_test(size=(80, 24)) as pilot:
        await pilot.click(OperationList, offset=(10, 2))
        assert pilot.app.screen.query_one(OperationList).cursor == 2
        assert isinstance(pilot.app.screen, BoardScreen)


async def test_double_clicking_an_operation_on_the_board_asks_whether_to_start_it(make: MakeApp) -> None:
    async with make(job=FOOT).run_test(size=(80, 24)) as pilot:
        await pilot.click(OperationList, offset=(10, 1), times=2)
        await pilot.pause()
        assert isinstance(pilot.app.screen, YesNo)
        assert "Hole for the pin" in str(pilot.app.screen.title)


async def test_clicking_a_field_moves_the_cursor_into_that_field(make: MakeApp) -> None:
    async with make().run_test(size=(80, 24)) as pilot:
        await pilot.press("d")
        await pilot.pause()
        assert isinstance(pilot.app.screen, OperationScreen)
        field = pilot.app.screen.query("Input").last()
        await pilot.click(field)
        assert field.has_focus


async def test_the_mouse_wheel_scrolls_a_long_page(make: MakeApp) -> None:
    async with make().run_test(size=(80, 24)) as pilot:
        await pilot.press("f1")
        await pilot.pause()
        page = pilot.app.screen.query_one(Pager)
        page.post_message(MouseScrollDown(page, 5, 5, 0, 1, 0, False, False, False))
        await pilot.pause(0.2)
        assert page.scroll_offset.y > 0
