"""Keys 8 and 5 in a pattern: work that was taken off is located again by cuts that exist already.

The sample's border is 30 circles at 34 mm: position k is at 12 (k - 1) degrees. A dial of 2 mm a turn shows 34 mm as 17
turns and 0.00. Work put back with a turn of 30 deg and no shift has each cut at the same slide reading, 30 deg further.
"""

from typing import Any

from core.inputs import PutBack
from core.operations.patterns.picture import PatternPlace
from tests.conftest import MakeApp
from tests.tui.counter.test_counter import Opening, opened, press
from tests.tui.counters import entered
from tests.tui.painted import painted
from tests.tui.pattern.test_pattern_counter import BORDER, JOB, go_on_to
from tui.counter.screen import CounterScreen

SLIDE = "17+0.00"


async def at_position(pilot: Any, number: int = 21) -> CounterScreen:
    """Return the counter of the border at a position; earlier positions are cut."""
    screen = await opened(pilot, BORDER)
    await go_on_to(screen, pilot, PatternPlace(1, number), "index")
    return screen


async def find(pilot: Any, slide: str, table: str) -> None:
    """Choose the suggested cut, confirm that the cutter's point is in it, and enter both readings."""
    await press(pilot, "1", "1", *slide, "enter", *table, "enter")


async def test_three_earlier_cuts_locate_work_that_was_taken_off_and_put_back(make: MakeApp) -> None:
    """Cuts 20 and 5 and one between them are each 30 deg further. Nothing is logged before the third."""
    async with make(job=JOB, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await at_position(pilot)
        before = screen.state.last_seq
        open_before = [step.id for step in screen.state.open_steps()]
        await press(pilot, "8", "4")
        for _ in range(2):
            await find(pilot, SLIDE, table_of(pilot))
        assert "Do you want to find a third cut?" in painted(pilot.app)
        await press(pilot, "1")
        await find(pilot, SLIDE, table_of(pilot))
        shown = painted(pilot.app)
        assert "turned 30° anticlockwise" in shown and "agree to 0 mm" in shown
        assert screen.state.last_seq == before
        await press(pilot, "1")
        assert pilot.app.screen is screen
        cause, given = entered(pilot.app)
        assert cause == "put back" and abs(given["turn_deg"] - 30) < 1e-6
        assert max(map(abs, given["shift_mm"])) < 1e-6
        step = next(step for step in screen.state.open_steps() if step.action == "index")
        assert step.at.position == 21 and abs(step.extra["angle_deg"] - (240 + 30)) < 1e-3
        await press(pilot, "minus")
        assert [step.id for step in screen.state.open_steps()] == open_before


def table_of(pilot: Any) -> str:
    """Return the table's reading at the suggested cut: 30 deg more than the first row of the list."""
    line = next(line for line in painted(pilot.app).splitlines() if "1  layer 1, " in line)
    degrees, minutes = line.split("(")[1].split("'")[0].split("°")
    return f"{(int(degrees) + 30) % 360}-{minutes}"


async def test_the_program_asks_again_for_a_slide_reading_that_is_wrong_by_one_turn(make: MakeApp) -> None:
    """The second cut is entered with a slide reading one turn out. The program names it and asks again."""
    async with make(job=JOB, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await at_position(pilot)
        await press(pilot, "8", "4")
        await find(pilot, SLIDE, table_of(pilot))
        second = table_of(pilot)
        await find(pilot, "18+0.00", second)
        await press(pilot, "1")
        await find(pilot, SLIDE, table_of(pilot))
        assert "is wrong by" in painted(pilot.app)
        await press(pilot, "1", *SLIDE, "enter", *second, "enter")
        assert "agree to 0 mm" in painted(pilot.app)
        await press(pilot, "1")
        assert isinstance(screen.state.revisions[-1].entered, PutBack)


async def test_pressing_esc_at_any_question_about_work_put_back_logs_nothing(make: MakeApp) -> None:
    """Esc at the list, at the point, at both readings, at the third cut and at the result logs nothing."""
    async with make(job=JOB, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await at_position(pilot)
        before = screen.state.last_seq
        for keys in ((), ("1",), ("1", "1"), ("1", "1", *SLIDE, "enter")):
            await press(pilot, "8", "4", *keys, "escape")
            assert pilot.app.screen is screen and "Nothing has been logged" in painted(pilot.app)
        await press(pilot, "8", "4")
        for _ in range(2):
            await find(pilot, SLIDE, table_of(pilot))
        await press(pilot, "2", "escape")
        assert pilot.app.screen is screen and screen.state.last_seq == before


async def test_a_table_reading_without_whole_turns_is_refused_with_an_error_in_its_field(make: MakeApp) -> None:
    """A reading without its turns stays in the field, with an example of a full reading."""
    async with make(job=JOB, opening=Opening).run_test(size=(80, 24)) as pilot:
        await at_position(pilot)
        await press(pilot, "8", "4", "1", "1", *"0.5", "enter")
        assert "occurs once in every turn" in painted(pilot.app)
        await press(pilot, "escape")


async def test_key_5_offers_the_answer_that_the_work_was_taken_off_and_put_back(make: MakeApp) -> None:
    """With two positions cut, key 5 offers the answer. After any other move the zeros are found as before."""
    async with make(job=JOB, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await at_position(pilot)
        before = screen.state.last_seq
        await press(pilot, "5", "1", "2")
        assert "Which cut do you want to find first?" in painted(pilot.app)
        await press(pilot, "escape", "5", "1", "escape")
        assert screen.state.last_seq == before
        await press(pilot, "5", "1", "1")
        assert entered(pilot.app)[0] == "moved"
        # The step asks for a reading, so that a digit would start one.
        await press(pilot, "w", "4")
        assert "find the zeros" in painted(pilot.app) and pilot.app.screen is screen


async def test_one_cut_is_not_enough_to_locate_work_that_was_put_back(make: MakeApp) -> None:
    """One circle does not show how far the work was turned. A sentence says so, and key 5 does not offer the answer."""
    async with make(job=JOB, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await at_position(pilot, 2)
        await press(pilot, "8", "4")
        assert pilot.app.screen is screen and "two circles" in painted(pilot.app)
        await press(pilot, "5", "1")
        assert entered(pilot.app)[0] == "moved"
