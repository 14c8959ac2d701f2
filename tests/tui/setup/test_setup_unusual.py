"""Set-up on screen: unusual numbers must be confirmed, and an incomplete part opens at its first open question."""

from core.lathe.reader import read_lathe
from tests.conftest import MakeApp
from tests.tui.made_up import said
from tests.tui.painted import painted
from tests.tui.setup_keys import asked, keys, point_at, set_up, told
from tui.paths import Paths
from tui.setup.chapter import ChapterScreen


async def test_an_unusual_wire_size_must_be_confirmed(make: MakeApp, paths: Paths) -> None:
    """The question about 0.9 in gives both units. Enter keeps the size, and another answer replaces it."""
    async with set_up(make) as pilot:
        await keys(pilot, "down", "enter", "1", "3", "=.1", "enter", "=.001", "enter", "1", "f8")
        point_at(pilot, "stock")
        await keys(pilot, "enter")
        assert "in inches" in " ".join(painted(pilot.app).split())
        await keys(pilot, "=0.9", "enter")
        assert asked(pilot) == "wires" and "0.9 in" in painted(pilot.app) and "22.86 mm" in painted(pilot.app)
        await keys(pilot, "=0.8", "enter")
        assert asked(pilot) == "wires" and "0.8 in" in painted(pilot.app)
        await keys(pilot, "=0.9 1.1 mm", "enter", "=2", "enter")
        assert asked(pilot) == "shims" and said(pilot.app)
        await keys(pilot, "enter")
        assert asked(pilot) == "bars"
        await keys(pilot, "enter")
        assert asked(pilot) == "protractor"
        await keys(pilot, "enter")
        assert asked(pilot) == ""
    lathe = read_lathe(paths.own_lathe)
    assert (lathe.wires_mm, lathe.shims_mm) == ((0.9, 1.1), (50.8,))


async def test_an_unusual_lead_calculated_from_measurements_must_be_confirmed(make: MakeApp, paths: Paths) -> None:
    """A screw of 2 mm that moves 200 mm in ten turns is unusual. Enter keeps the computed lead."""
    async with set_up(make) as pilot:
        await keys(pilot, "down", "enter", "1", "1", "=2", "enter", "=.02", "enter", "1")
        await keys(pilot, "f4", "=200.00", "enter")
        assert asked(pilot) == "lead" and told(pilot) == "20 mm" and said(pilot.app)
        await keys(pilot, "enter", "f8")
    assert read_lathe(paths.own_lathe).dials["cross_slide"].lead_mm == 20


async def test_reopening_an_incomplete_part_of_set_up_shows_its_first_unanswered_question(make: MakeApp) -> None:
    """Later answers do not matter. A complete part opens at its first question."""
    async with set_up(make) as pilot:
        await keys(pilot, "down", "enter", "1", "1", "=2", "enter", "enter", "1", "f8", "enter")
        assert asked(pilot) == "graduation"
        await keys(pilot, "=.02", "enter", "f8", "enter")
        assert isinstance(pilot.app.screen, ChapterScreen) and pilot.app.screen.question is not None
        assert pilot.app.screen.question is pilot.app.screen.asked[0]
        await keys(pilot, "f8")
        point_at(pilot, "rotary_table")
        await keys(pilot, "enter", "1", "=72", "enter", "f8")
        assert painted(pilot.app).count("! ") == 1
        await keys(pilot, "enter")
        assert asked(pilot) == "dial_graduation"
        await keys(pilot, "=2", "enter", "f8")
        assert painted(pilot.app).count("! ") == 0
