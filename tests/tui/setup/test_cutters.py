"""The page of cutters in set-up, by keys: adding, changing and deleting cutters in the lathe file."""

from core.lathe.lathe import Cutter
from core.lathe.reader import read_lathe
from tests.conftest import MakeApp
from tests.tui.made_up import said
from tests.tui.painted import painted
from tests.tui.setup_keys import asked, keys, point_at, set_up
from tui.paths import Paths
from tui.setup.chapter import ChapterScreen
from tui.setup.cutters import CuttersScreen
from tui.setup.screen import SetupScreen
from tui.widgets.line_list import LineList


async def test_cutters_in_the_lathe_file_can_be_added_changed_and_deleted(make: MakeApp, paths: Paths) -> None:
    """A flat cutter and a sharp cutter are added. The flat one becomes round and the sharp one is deleted."""
    async with set_up(make) as pilot:
        point_at(pilot, "cutter")
        await keys(pilot, "enter")
        assert isinstance(pilot.app.screen, CuttersScreen)
        await keys(pilot, "enter", "=wide", "enter", "2", "=120", "enter", "=0.2", "enter", "=4", "enter", "enter")
        assert isinstance(pilot.app.screen, CuttersScreen) and "wide" in painted(pilot.app)
        await keys(pilot, "a", "=fine", "enter", "1", "=60", "enter", "f8")
        assert read_lathe(paths.own_lathe).cutters == (
            Cutter("wide", 120, tip_flat_mm=0.2, reach_mm=4), Cutter("fine", 60),
        )  # fmt: skip
        assert pilot.app.screen.query_one(LineList).cursor == 1
        await keys(pilot, "up", "enter", "3")
        # This answer deletes the flat, so the program asks first.
        await keys(pilot, "y", "=120", "enter")
        assert isinstance(pilot.app.screen, ChapterScreen) and asked(pilot) == "tip_radius"
        await keys(pilot, "=0.4", "enter", "f8", "down", "d", "n")
        assert len(read_lathe(paths.own_lathe).cutters) == 2
        await keys(pilot, "d", "y")
        assert said(pilot.app)
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, SetupScreen) and "wide 120 deg" in painted(pilot.app)
    assert read_lathe(paths.own_lathe).cutters == (Cutter("wide", 120, tip_radius_mm=0.4, reach_mm=4),)


async def test_a_second_cutter_with_the_same_name_is_refused(make: MakeApp, paths: Paths) -> None:
    """The question stays open with the error. Esc changes nothing."""
    async with set_up(make) as pilot:
        point_at(pilot, "cutter")
        await keys(pilot, "enter", "a", "=wide", "enter", "1", "=90", "enter", "f8", "a", "=wide", "enter")
        assert "already" in painted(pilot.app)
        await keys(pilot, "escape", "escape")
        assert isinstance(pilot.app.screen, SetupScreen)
    assert read_lathe(paths.own_lathe).cutters == (Cutter("wide", 90),)


async def test_the_question_about_the_rotary_tables_direction_has_a_picture_for_each_answer(
    make: MakeApp, paths: Paths
) -> None:
    """The picture names the near and the far side, and its arrows change with the selected answer."""
    async with set_up(make) as pilot:
        point_at(pilot, "rotary_table")
        await keys(pilot, "enter", "1", "=72", "enter", "=2", "enter", "enter", "enter", "enter", "enter")
        assert asked(pilot) == "numbers_rise"
        shown = painted(pilot.app)
        assert "near" in shown and "far" in shown and "from the spindle" in shown and "→" not in shown
        await keys(pilot, "up")
        assert "┌───←───┐" in painted(pilot.app)
        await keys(pilot, "2", "f8")
    table = read_lathe(paths.own_lathe).rotary_table
    assert table is not None and table.numbers_rise == "anticlockwise"
