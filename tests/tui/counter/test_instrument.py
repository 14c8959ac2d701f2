"""An instrument that types at the counter: its number becomes a measurement or a question, never key presses."""

import asyncio
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from textual.events import Key

from core.inputs import Measured
from tests.conftest import MakeApp
from tests.tui.counters import Opening, at_first_measurement, entered, logged, press
from tests.tui.made_up import said
from tui.counter.screen import CounterScreen
from tui.widgets.message_line import MessageLine
from tui.widgets.quantity_field import QuantityField
from tui.widgets.question import OneOf, OneOfOrNumber, Typed, YesNo

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
ARBOR = SAMPLES / "sundial_arbor.toml"
NAMES = {"\r": "enter", "\n": "ctrl+j", " ": "space", "-": "minus", ".": "full_stop", ",": "comma"}


async def typed(pilot: Any, text: str, gap_s: float = 0.005) -> None:
    """Type a text like an instrument, then wait until the program has handled all keys.

    Each key has the time at which the instrument sent it, even if this machine handles the key late.
    """
    start_s = time.monotonic()
    for number, character in enumerate(text):
        event = Key(NAMES.get(character, character), character)
        event.time = start_s + number * gap_s
        pilot.app.post_message(event)
        if gap_s:
            await asyncio.sleep(gap_s)
    await idle(pilot)


async def idle(pilot: Any) -> None:
    """Wait until the program has handled all keys."""
    for _ in range(200):
        await pilot.pause()
        if pilot.app.key_queue.is_idle:
            break
        await asyncio.sleep(0.01)
    await pilot.pause()


async def at_a_pass(pilot: Any) -> CounterScreen:
    """Return the counter of the turned blank at its first pass."""
    screen = await at_first_measurement(pilot, 0)
    for _ in range(2):
        screen.run.undo()
    screen.paint()
    await pilot.pause()
    assert screen.state.cursor is not None and screen.state.cursor.action == "cut"
    return screen


@pytest.mark.parametrize(
    ("text", "gap_s"),
    [("27.71\r", 0.0), ("27.71\r", 0.005), ("27.71\r", 0.1), ("27,710\n", 0.03), ("+0027.71 mm\r", 0.0)],
)
async def test_a_number_sent_by_an_instrument_is_logged_at_a_step_that_asks_for_a_measurement(
    make: MakeApp, text: str, gap_s: float
) -> None:
    """No other key is pressed, and nothing else is logged."""
    async with make(job=ARBOR, opening=Opening, quiet_s=0.8).run_test(size=(80, 24)) as pilot:
        screen = await at_first_measurement(pilot, 0)
        done = screen.state.steps_done
        await typed(pilot, text, gap_s)
        assert pilot.app.screen is screen
        assert 27.71 in entered(pilot.app)[1].values()
        assert logged(pilot.app).steps_done <= done + 1 and len(logged(pilot.app).revisions) == 1


@pytest.mark.parametrize(
    ("text", "gap_s"),
    [("28.71\r", 0.0), ("28.71\r", 0.03), ("28.71\r", 0.1), ("-0,03\n", 0.005), ("2.5 mm\r", 0.0)],
)
async def test_a_number_sent_by_an_instrument_during_a_pass_opens_a_question(
    make: MakeApp, text: str, gap_s: float
) -> None:
    """One question opens and nothing is counted. Esc ignores the number."""
    async with make(job=ARBOR, opening=Opening, quiet_s=0.8).run_test(size=(80, 24)) as pilot:
        screen = await at_a_pass(pilot)
        before = logged(pilot.app).last_seq
        await typed(pilot, text, gap_s)
        assert isinstance(pilot.app.screen, OneOfOrNumber)
        await press(pilot, "escape")
        assert pilot.app.screen is screen and said(pilot.app)
        assert logged(pilot.app).last_seq == before
        await asyncio.sleep(0.9)
        await press(pilot, "space")
        assert logged(pilot.app).last_seq == before + 1


async def test_a_number_sent_by_an_instrument_during_a_pass_can_be_logged_as_a_measurement(make: MakeApp) -> None:
    """The first answer is the size that this operation measures."""
    async with make(job=ARBOR, opening=Opening, quiet_s=0.8).run_test(size=(80, 24)) as pilot:
        await at_a_pass(pilot)
        await typed(pilot, "29.1\r")
        await press(pilot, "a")
        await idle(pilot)
        assert 29.1 in entered(pilot.app)[1].values()


async def test_digits_sent_by_an_instrument_without_an_enter_do_not_act_as_counter_keys(make: MakeApp) -> None:
    """The digits 2, 8, 7 and 1 must not open the questions of these keys. A late Enter counts no pass."""
    async with make(job=ARBOR, opening=Opening, quiet_s=0.8).run_test(size=(80, 24)) as pilot:
        screen = await at_a_pass(pilot)
        before = logged(pilot.app).last_seq
        await typed(pilot, "28.71")
        assert pilot.app.screen is screen and "28.71" in screen.query_one(MessageLine).sentence
        await asyncio.sleep(0.3)
        await typed(pilot, "\r")
        assert pilot.app.screen is screen and logged(pilot.app).last_seq == before


async def test_keys_pressed_before_and_after_a_number_sent_by_an_instrument_keep_their_meaning(make: MakeApp) -> None:
    """N opens the note, whose field takes a number as text. Esc after a number closes the question about it."""
    async with make(job=ARBOR, opening=Opening, quiet_s=0.8).run_test(size=(80, 24)) as pilot:
        screen = await at_a_pass(pilot)
        await typed(pilot, "n28.71\r")
        assert pilot.app.screen is screen and logged(pilot.app).notes[-1].text == "28.71"
        pilot.app.post_message(Key("2", "2"))
        for key in ("8", "full_stop", "7", "enter", "escape"):
            pilot.app.post_message(Key(key, "." if key == "full_stop" else key[:1]))
        await idle(pilot)
        assert pilot.app.screen is screen and logged(pilot.app).steps_done == screen.state.steps_done


async def test_a_held_digit_key_counts_as_one_key_press(make: MakeApp) -> None:
    """A held 7 opens its question once and answers nothing."""
    async with make(job=ARBOR, opening=Opening, quiet_s=0.8).run_test(size=(80, 24)) as pilot:
        await at_a_pass(pilot)
        before = logged(pilot.app).last_seq
        await typed(pilot, "1" * 30, 0.03)
        assert isinstance(pilot.app.screen, Typed) and logged(pilot.app).last_seq == before


async def test_a_number_sent_by_an_instrument_does_not_choose_an_answer_from_a_list(make: MakeApp) -> None:
    """The question stays open with a message, for yes or no and for a list of steps."""
    async with make(job=ARBOR, opening=Opening, quiet_s=0.8).run_test(size=(80, 24)) as pilot:
        await at_a_pass(pilot)
        before = logged(pilot.app).last_seq
        for key, kind in (("u", YesNo), ("g", OneOf)):
            await press(pilot, key)
            asked = pilot.app.screen
            assert isinstance(asked, kind)
            for gap_s in (0.0, 0.03, 0.1):
                await typed(pilot, "10.01\r", gap_s)
                assert pilot.app.screen is asked
                assert "10.01" in asked.query_one(MessageLine).sentence
            await press(pilot, "escape")
        assert logged(pilot.app).last_seq == before


async def test_typing_a_digit_at_a_step_that_asks_for_a_measurement_opens_the_field_with_that_digit(
    make: MakeApp,
) -> None:
    """The next digits follow in the field. At this step, letters have the actions of digit keys."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await at_first_measurement(pilot, 0)
        await press(pilot, "2")
        assert isinstance(pilot.app.screen, Typed)
        await press(pilot, *"7.7")
        assert pilot.app.screen.query_one(QuantityField).text == "27.7"
        await press(pilot, "enter")
        assert pilot.app.screen is screen and 27.7 in entered(pilot.app)[1].values()


@pytest.mark.parametrize(("gap_s", "is_used"), [(0.005, True), (0.1, False)])
async def test_the_unit_set_for_instruments_does_not_apply_to_numbers_typed_by_hand(
    make: MakeApp, gap_s: float, is_used: bool
) -> None:
    """1.0905 in = 27.6987 mm (1 in = 25.4 mm). For a number typed slowly, the program asks for the unit."""
    app = make(job=ARBOR, opening=Opening, quiet_s=0.8)
    app.context.controls = replace(app.context.controls, instrument_unit="in")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at_first_measurement(pilot, 0)
        await typed(pilot, "1.0905\r", gap_s)
        assert (pilot.app.screen is screen) == is_used
        if is_used:
            assert pytest.approx(27.6987) in entered(pilot.app)[1].values()
        else:
            assert pilot.app.screen.query_one(QuantityField).text == "1.0905"


@pytest.mark.parametrize(("gap_s", "is_used"), [(0.005, True), (0.1, False)])
async def test_a_number_that_an_instrument_sends_to_an_open_field_gets_the_unit_set_for_instruments(
    make: MakeApp, gap_s: float, is_used: bool
) -> None:
    """The unit is the same with the field already open. Only an instrument replaces half a typed number."""
    app = make(job=ARBOR, opening=Opening, quiet_s=0.8)
    app.context.controls = replace(app.context.controls, instrument_unit="in")
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await at_first_measurement(pilot, 0)
        await press(pilot, "m")
        await typed(pilot, "1.0905\r", gap_s)
        assert (pilot.app.screen is screen) == is_used
        if not is_used:
            await typed(pilot, "in", 0.3)
            await typed(pilot, "\r")
        assert pilot.app.screen is screen and pytest.approx(27.6987) in entered(pilot.app)[1].values()


async def test_a_number_sent_by_an_instrument_starts_nothing_on_the_board(make: MakeApp) -> None:
    """The board has no digit keys. The Enter of the instrument must not start an operation."""
    async with make(job=ARBOR, quiet_s=0.8).run_test(size=(80, 24)) as pilot:
        await idle(pilot)
        board = pilot.app.screen
        for gap_s in (0.0, 0.005, 0.03, 0.1):
            await typed(pilot, "28.71\r", gap_s)
            assert pilot.app.screen is board and "28.71" in board.query_one(MessageLine).sentence


async def test_a_number_sent_by_an_instrument_fills_only_the_selected_field_of_a_form(make: MakeApp) -> None:
    """A field in mm gets inches from an instrument in inches. A number typed quickly by hand is questioned."""
    app = make(job=ARBOR, quiet_s=0.8)
    app.context.controls = replace(app.context.controls, instrument_unit="in")
    async with app.run_test(size=(80, 24)) as pilot:
        await idle(pilot)
        await press(pilot, "d")
        form = app.screen
        for _ in range(30):
            field = app.focused.parent if app.focused is not None else None
            if isinstance(field, QuantityField) and field.unit == "mm":
                break
            await press(pilot, "down")
        assert isinstance(field, QuantityField)
        await typed(pilot, "1.2\r", 0.1)
        assert (field.text, app.screen) == ("1.2", form) and "1.2" in form.query_one(MessageLine).sentence
        await asyncio.sleep(0.3)
        await typed(pilot, "1,0905\n")
        assert (field.text, app.screen) == ("1.0905 in", form) and field.error == ""


async def test_a_number_sent_by_an_instrument_after_a_measured_length_is_taken_as_a_diameter(make: MakeApp) -> None:
    """A length is chosen from the list. Otherwise the instrument's next diameter would move the carriage."""
    async with make(job=SAMPLES / "sundial_post.toml", opening=Opening, quiet_s=0.8).run_test(size=(80, 24)) as pilot:
        screen = await at_first_measurement(pilot, 0)
        await press(pilot, "m", "b", *"59.6", "enter")
        assert logged(pilot.app).revisions[-1].entered == Measured(what="length", size_mm=59.6)
        await typed(pilot, "36.9\r")
        assert logged(pilot.app).revisions[-1].entered == Measured(what="size", size_mm=36.9)
        assert screen.state.cursor is not None and screen.state.cursor.action == "cut"


async def test_a_number_sent_by_an_instrument_during_a_pass_can_be_logged_as_a_note(make: MakeApp) -> None:
    """The note has the number with the unit of the lathe."""
    async with make(job=ARBOR, opening=Opening, quiet_s=0.8).run_test(size=(80, 24)) as pilot:
        await at_a_pass(pilot)
        await typed(pilot, "28.71\r")
        await press(pilot, "b")
        assert logged(pilot.app).notes[-1].text == "measured 28.71 mm"
