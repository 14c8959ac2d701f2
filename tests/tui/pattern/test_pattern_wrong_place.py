"""Key 8 in a pattern: the list of readings of cut positions, and a position cut in the wrong place."""

from pathlib import Path

from core.operations.patterns.picture import PatternPlace
from tests.conftest import MakeApp
from tests.tui.counter.test_counter import Opening, opened, press
from tests.tui.counters import entered
from tests.tui.painted import painted
from tests.tui.pattern.test_pattern_counter import BORDER, JOB, go_on_to

assert isinstance(JOB, Path)


async def test_key_8_can_list_the_dial_readings_of_positions_already_cut(make: MakeApp) -> None:
    """The position cut last comes first, with its slide reading. Nothing is logged."""
    async with make(job=JOB, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, BORDER)
        await go_on_to(screen, pilot, PatternPlace(1, 4), "index")
        before = screen.state.last_seq
        await press(pilot, "8", "2")
        shown = painted(pilot.app)
        assert "layer 1, 3:" in shown and "cross-slide" in shown and "layer 1, 4:" not in shown
        await press(pilot, "enter")
        assert pilot.app.screen is screen and screen.state.last_seq == before


async def test_a_position_reported_as_cut_in_the_wrong_place_is_cut_again(make: MakeApp) -> None:
    """Position 3 was cut with the table at 30 deg. It is logged, cut again, and followed by position 4."""
    async with make(job=JOB, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, BORDER)
        await go_on_to(screen, pilot, PatternPlace(1, 4), "index")
        await press(pilot, "8", "3", "1", *"30-0", "enter", *"17+0", "enter")
        await press(pilot, "1")
        assert pilot.app.screen is screen
        cause, given = entered(pilot.app)
        assert cause == "cut wrong"
        assert (given["layer"], given["position"], given["table_deg"], given["cut_again"]) == (1, 3, "30", True)
        assert screen.state.cursor is not None and screen.state.cursor.at.position == 3
        await press(pilot, "minus")
        assert screen.state.cursor is not None and screen.state.cursor.at.position == 4


async def test_the_default_answer_keeps_the_remaining_passes_of_a_wrongly_cut_position(
    make: MakeApp, tmp_path: Path
) -> None:
    """The answer that drops passes says how many, and Enter alone keeps them."""
    path = tmp_path / "rim.toml"
    layer = 'count = 6\noffset = "20 mm"\ncircle_radius = "5 mm"\ndepth = "0.6 mm"\ncut = "0.2 mm"\n'
    operation = f'[[operation]]\nkind = "pattern"\nname = "Rim"\n[[operation.layer]]\nshape = "circles"\n{layer}'
    path.write_text(f'format = 1\ntitle = "Rim"\nlathe = "metric_lathe.toml"\n{operation}')
    (tmp_path / "metric_lathe.toml").write_text((JOB.parent / "metric_lathe.toml").read_text())
    async with make(job=path, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, 0)
        await go_on_to(screen, pilot, PatternPlace(1, 4), "index")
        await press(pilot, "8", "3", "1", *"130-0", "enter", *"9+0", "enter")
        assert "Skip its 2 remaining passes." in painted(pilot.app)
        await press(pilot, "enter")
        cause, given = entered(pilot.app)
        assert cause == "cut wrong" and given["cut_again"]


async def test_key_8_can_be_used_to_enter_another_reading_of_the_rotary_table(make: MakeApp) -> None:
    """The first answer asks for the table's reading, as in other operations."""
    async with make(job=JOB, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, BORDER)
        await go_on_to(screen, pilot, PatternPlace(1, 4), "index")
        await press(pilot, "8", "1", *"36-0", "enter")
        assert pilot.app.screen is screen and "position 4 of 30" in painted(pilot.app)


async def test_a_touch_off_is_offered_for_the_carriages_zero_but_not_for_the_cross_slides_zero(make: MakeApp) -> None:
    """The zero where the axes meet needs an indicator; only the carriage's zero needs touching off."""
    async with make(job=JOB, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen, asked = await opened(pilot, BORDER), []
        for dial in ("cross_slide", "carriage"):
            while screen.state.cursor is not None and dial not in screen.state.cursor.zeroed_dials:
                screen.run.done()
            screen.paint()
            await press(pilot, "s")
            asked.append("at touch-off?" in painted(pilot.app))
            await press(pilot, "escape")
        assert asked == [False, True]
