"""The counter of a pattern: the picture beside the number or shown by a key, and the settings of each layer."""

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from core.inputs import PositionCutWrong
from core.operations.patterns.picture import PatternPlace
from core.run.revising import revised_steps
from tests.conftest import MakeApp
from tests.tui.counter.test_counter import Opening, opened, press
from tests.tui.counters import entered
from tests.tui.painted import foreign, painted
from tui.counter.run_pattern import RunPattern
from tui.counter.screen import CounterScreen
from tui.glyphs import CONSOLE_SAFE
from tui.terminal import Terminal
from tui.widgets.pattern_sketch import PatternSketch
from tui.widgets.quantity_field import QuantityField

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
JOB = SAMPLES / "hour_lines.toml"
MARKS, HOLES, BORDER = 0, 1, 2


def dots_of(app: Any) -> int:
    """Return the number of painted braille characters."""
    return sum("\u2800" < letter <= "\u28ff" for letter in painted(app))


async def go_on_to(screen: CounterScreen, pilot: Any, place: PatternPlace, action: str) -> None:
    """Do the steps before that position."""
    while (step := screen.state.cursor) is not None:
        if step.action == action and ((step.at.layer or 1), step.at.position) == place:
            break
        screen.run.done()
    screen.paint()
    await pilot.pause()


async def test_a_wide_screen_shows_the_pattern_beside_the_big_number(make: MakeApp) -> None:
    """At 100 columns the picture needs no key, and the number is as large as without it."""
    async with make(job=JOB, opening=Opening).run_test(size=(100, 30)) as pilot:
        screen = await opened(pilot, BORDER)
        await go_on_to(screen, pilot, PatternPlace(1, 17), "index")
        shown = painted(pilot.app)
        assert dots_of(pilot.app) > 150
        assert screen.query_one(RunPattern).region.right == 100
        assert " 17 of 30" in shown and "█" in shown and " 3.554 mm" in shown


async def test_counting_a_position_moves_the_number_in_the_picture_to_the_next_position(make: MakeApp) -> None:
    """Each count draws one more circle solid and moves the number in the picture."""
    async with make(job=JOB, opening=Opening).run_test(size=(120, 36)) as pilot:
        screen = await opened(pilot, BORDER)
        await go_on_to(screen, pilot, PatternPlace(2, 11), "index")
        before = painted(pilot.app)
        picture = screen.query_one(RunPattern)
        left = picture.region.x
        assert any("11" in line[left:] for line in before.splitlines())
        await press(pilot, "space", "space")
        after = painted(pilot.app)
        assert " 12 of 30" in after
        assert any("12" in line[left:] for line in after.splitlines())
        assert not any("11" in line[left:] for line in after.splitlines())


async def test_a_refused_diameter_of_the_trial_circle_stays_in_its_field(make: MakeApp) -> None:
    """The refusal is shown beside the field, nothing is logged, and further digits reach the same field."""
    async with make(job=JOB, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, BORDER)
        while (step := screen.state.cursor) is not None and step.expects != "circle":
            screen.run.done()
        screen.paint()
        counted = screen.state.steps_done
        await press(pilot, *"3.554", "enter")
        assert pilot.app.screen.query_one(QuantityField).error
        assert screen.state.steps_done == counted and pilot.app.screen is not screen
        await press(pilot, *["backspace"] * 5, *"7.0", "enter")
        assert pilot.app.screen is screen and entered(pilot.app)[1] == {"circle_mm": 7.0}


async def test_the_picture_key_shows_or_hides_the_pattern_on_a_small_screen(make: MakeApp) -> None:
    """At 80x24, * shows the picture beside the words, or the number alone. At 40x12 the picture fills the body."""
    async with make(job=JOB, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, BORDER)
        await go_on_to(screen, pilot, PatternPlace(1, 3), "index")
        assert dots_of(pilot.app) == 0 and screen.check_action("picture", ())
        await press(pilot, "asterisk")
        assert dots_of(pilot.app) > 100
        assert screen._face.rows_used >= 5 and " 3 of 30" in painted(pilot.app)
        await press(pilot, "asterisk")
        assert dots_of(pilot.app) == 0
        await press(pilot, "v")
        await pilot.resize_terminal(40, 12)
        await pilot.pause()
        assert screen.query_one(RunPattern).size.width == 40 and dots_of(pilot.app) > 30
        await press(pilot, "v")
        assert " 3 of 30" in painted(pilot.app)


async def test_the_picture_of_a_pattern_leaves_room_for_all_movements_to_a_position(make: MakeApp) -> None:
    """At 80x24 all words of a slot's steps are next to the picture, although the table and two slides are set."""
    async with make(job=SAMPLES / "gnomon_plate.toml", opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, 0)
        await press(pilot, "asterisk")
        await go_on_to(screen, pilot, PatternPlace(1, 1), "index")
        widths = []
        for _ in range(7):
            left = screen.query_one(RunPattern).region.x
            words = " ".join(" ".join(line[:left] for line in painted(pilot.app).splitlines()).split())
            assert screen.view.movements and all(movement in words for movement in screen.view.movements)
            assert left < 80 and screen.query_one("#body").max_scroll_y == 0
            widths.append(left)
            screen.run.done()
            screen.paint()
            await pilot.pause()
        assert widths == sorted(widths), "the picture may become narrower, but does not change at every step"


async def test_the_settings_of_a_layer_are_shown_at_each_cut_of_that_layer(make: MakeApp) -> None:
    """Circle radius, boring head and cross-slide are shown while layer 2 is cut, and not before."""
    async with make(job=JOB, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, BORDER)
        assert " 3.2 mm" not in painted(pilot.app)
        for action in ("index", "cut"):
            await go_on_to(screen, pilot, PatternPlace(2, 5), action)
            shown = " ".join(painted(pilot.app).split())
            assert all(number in shown for number in (" 3.2 mm", " 13 turns and 1.00 mm", " 0.028 in"))


@pytest.mark.parametrize(("index", "place"), [(MARKS, PatternPlace(1, 9)), (HOLES, PatternPlace(1, 2))])
async def test_the_counter_draws_the_positions_of_operations_that_divide_or_drill_holes(
    make: MakeApp, index: int, place: PatternPlace
) -> None:
    """The picture contains the number of the present position."""
    async with make(job=JOB, opening=Opening).run_test(size=(120, 36)) as pilot:
        screen = await opened(pilot, index)
        await go_on_to(screen, pilot, place, "index")
        left = screen.query_one(RunPattern).region.x
        assert any(str(place.position) in line[left:] for line in painted(pilot.app).splitlines())
        assert dots_of(pilot.app) > 60


async def test_skipping_a_position_also_skips_the_cuts_at_that_position(make: MakeApp) -> None:
    """Without its position, a cut would be made at the table's previous position."""
    async with make(job=JOB, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, BORDER)
        await go_on_to(screen, pilot, PatternPlace(1, 3), "index")
        await press(pilot, "7", "1")
        state = screen.state
        assert state.cursor is not None and (state.cursor.action, state.cursor.at.position) == ("index", 4)
        skip = [step for step in state.steps if state.status_of(step.id) == "skipped"]
        assert [(step.action, step.at.position) for step in skip] == [("index", 3), ("cut", 3)]


async def test_the_counter_shows_which_way_to_turn_the_depth_dial_at_each_position(make: MakeApp) -> None:
    """The cutter was withdrawn before the table turned, so the depth dial has moved since the last cut."""
    async with make(job=JOB, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, BORDER)
        await go_on_to(screen, pilot, PatternPlace(1, 2), "cut")
        assert screen.view.dial is not None and screen.view.dial.direction


async def test_the_counter_draws_no_picture_of_positions_for_an_operation_without_a_pattern(make: MakeApp) -> None:
    """Its steps have their own pictures (see test_counter_pictures)."""
    async with make(job=SAMPLES / "sundial_arbor.toml", opening=Opening).run_test(size=(120, 36)) as pilot:
        screen = await opened(pilot, 0)
        assert not screen.query(RunPattern)


async def test_the_bare_console_draws_the_pattern_with_plain_characters(make: MakeApp) -> None:
    """Cut circles are drawn with *, the present one with # and brackets, later ones with dots."""
    terminal = Terminal(charset="console", dots="ascii", sixteen_colours=True)
    async with make(job=JOB, opening=Opening, terminal=terminal).run_test(size=(120, 36)) as pilot:
        screen = await opened(pilot, BORDER)
        await go_on_to(screen, pilot, PatternPlace(1, 5), "index")
        assert foreign(pilot.app, CONSOLE_SAFE) == set()
        shown = painted(pilot.app)
        assert "[5]" in shown and "#" in shown and shown.count("*") > 12 and shown.count(".") > shown.count("*")


async def test_the_settings_page_of_a_run_lists_the_dial_readings_of_every_position(make: MakeApp) -> None:
    """Position 2 of 30 is selected: 12 degrees are 3 turns of a 90 to 1 table. Position 1 is cut.

    Esc closes the list.
    """
    async with make(job=JOB, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, BORDER)
        await go_on_to(screen, pilot, PatternPlace(1, 2), "cut")
        counted = screen.state.steps_done
        await press(pilot, "l")
        rows = [" ".join(line.split()) for line in painted(pilot.app).splitlines()]
        assert any("cut 1 1 0°00' 17 turns and 0.00 mm" in row for row in rows)
        assert any("now 1 2 3 turns 0°00' 17 turns and 0.00 mm" in row for row in rows)
        assert any("to come 1 3 6 turns 0°00'" in row for row in rows)
        await press(pilot, "escape")
        assert pilot.app.screen is screen and screen.state.steps_done == counted


async def test_a_run_without_a_rotary_table_offers_no_list_of_positions(make: MakeApp) -> None:
    """The key of the list is not offered."""
    async with make(job=SAMPLES / "sundial_arbor.toml", opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, 0)
        assert not screen.check_action("settings", ())


async def test_the_counter_draws_a_wrongly_cut_position_where_it_was_cut(make: MakeApp) -> None:
    """Position 2, cut at 90 degrees and 30 mm, is drawn as x straight above the centre, and not before."""
    async with make(job=JOB, opening=Opening).run_test(size=(120, 36)) as pilot:
        screen = await opened(pilot, BORDER)
        await go_on_to(screen, pilot, PatternPlace(1, 2), "cut")
        left = screen.query_one(RunPattern).region.x
        assert not any("x" in line[left:] for line in painted(pilot.app).splitlines())
        slide = screen.plan_input.lathe.dial("cross_slide").at_travel(30).position
        entered_wrong = PositionCutWrong(1, 2, slide, Fraction(90))
        screen.run.revise(entered_wrong, revised_steps(screen.plan_input, screen.state, entered_wrong))
        screen.paint()
        await pilot.pause()
        lines = [line[left:] for line in painted(pilot.app).splitlines()]
        (wrong,) = (line for line in lines if "x" in line)
        (middle,) = (line for line in lines if "+" in line)
        assert wrong.index("x") == middle.index("+") and lines.index(wrong) < lines.index(middle)
        await press(pilot, "full_stop")
        whole = pilot.app.screen.query_one(PatternSketch).pattern
        assert whole is not None and [cut.place for cut in whole.cuts if cut.was_moved] == [PatternPlace(1, 2)]


async def test_pressing_s_at_a_movement_of_the_boring_head_explains_the_trial_circle(make: MakeApp) -> None:
    """Key 2 at a movement of the boring head explains the trial circle instead of asking for the dial's reading."""
    async with make(job=JOB, opening=Opening).run_test(size=(100, 30)) as pilot:
        screen = await opened(pilot, BORDER)
        while (step := screen.state.cursor) is not None and step.expects != "circle":
            screen.run.done()
        screen.paint()
        await press(pilot, *"7.5", "enter")
        while (step := screen.state.cursor) is not None and step.title != "Move the head":
            screen.run.done()
        screen.paint()
        await press(pilot, "s")
        assert "Cut the next trial circle" in " ".join(painted(pilot.app).split())
