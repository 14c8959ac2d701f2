"""One pedal counts like Space and another undoes, even if held or bouncing. Keys with another use are refused."""

import asyncio
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from textual.app import App
from textual.binding import Binding
from textual.events import Key

from tests.conftest import MakeApp
from tests.tui.counter.test_instrument import at_a_pass, idle
from tests.tui.counters import Opening, logged, press
from tests.tui.made_up import said
from tests.tui.painted import painted
from tui.controls import Controls, keep_controls, kept_controls
from tui.controls_screen import ControlsScreen, PressNow
from tui.counter.screen import CounterScreen
from tui.pedal import TAKES_PLACE, own_name, pedal_refusal
from tui.runout.counter import RunoutCounter
from tui.runs import open_run
from tui.widgets.question import Listed, OneOfOrNumber, QuestionScreen, Typed, YesNo

SAMPLES = Path(__file__).parents[2] / "sample_jobs"
ARBOR = SAMPLES / "sundial_arbor.toml"
QUESTIONS = (QuestionScreen, Listed, YesNo, Typed, OneOfOrNumber)


def send(app: App[None], *keys: str) -> None:
    """Send keys to the program in one burst."""
    for key in keys:
        app.post_message(Key(key, key if len(key) == 1 else None))


async def with_pedals(pilot: Any) -> CounterScreen:
    """Open a counter at a pass, with a counting pedal that sends B and an undo pedal that sends page down."""
    pilot.app.context.controls = Controls(pedal="b", undo_pedal="pagedown")
    return await at_a_pass(pilot)


@pytest.mark.parametrize("screen", [CounterScreen, RunoutCounter, *QUESTIONS], ids=lambda screen: screen.__name__)
def test_no_key_of_the_counter_or_of_its_questions_can_be_assigned_to_a_pedal(screen: type) -> None:
    """Keys that only scroll are allowed."""
    keys = {
        binding.key
        for entry in screen.BINDINGS  # type: ignore[attr-defined]
        for binding in Binding.make_bindings([entry])
    }
    assert [key for key in keys if not pedal_refusal(key) and key not in TAKES_PLACE | {"f6"}] == []


@pytest.mark.parametrize("key", ["pagedown", "pageup", "b", "f5", "f8", "f13", "ctrl+v", "z"])
def test_keys_that_presentation_clickers_commonly_send_are_accepted_for_a_pedal(key: str) -> None:
    """The keys of the two pedals must differ."""
    assert pedal_refusal(key) == ""
    assert pedal_refusal(key, other=key)


async def test_one_pedal_can_count_passes_and_a_second_pedal_can_undo_them(make: MakeApp) -> None:
    """Each press acts once, also in upper case. The key bar names the keys of both pedals."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await with_pedals(pilot)
        done = screen.state.steps_done
        await press(pilot, "B")
        assert logged(pilot.app).steps_done == done + 1
        shown = painted(pilot.app)
        assert "Space, B Done" in shown and "-, PgDn Undo" in shown
        await press(pilot, "pagedown")
        assert logged(pilot.app).steps_done == done


@pytest.mark.parametrize("gap_s", [0.0, 0.005, 0.033, 0.3])
async def test_a_held_or_bouncing_pedal_counts_one_pass(make: MakeApp, gap_s: float) -> None:
    """After a pause the pedal counts again, like Space."""
    async with make(job=ARBOR, opening=Opening, quiet_s=0.8).run_test(size=(80, 24)) as pilot:
        screen = await with_pedals(pilot)
        # Two passes come before the next measurement.
        done = screen.state.steps_done
        for _ in range(4 if gap_s > 0.1 else 8):
            send(pilot.app, "b")
            await asyncio.sleep(gap_s)
        await idle(pilot)
        assert logged(pilot.app).steps_done == done + 1 and said(pilot.app)
        await asyncio.sleep(0.9)
        send(pilot.app, "b")
        await idle(pilot)
        assert logged(pilot.app).steps_done == done + 2


async def test_a_held_pedal_does_not_answer_the_question_that_it_opened(make: MakeApp) -> None:
    """At a measurement, the pedal opens a list of answers like Space.

    Its repeats choose no answer in that list and type nothing later.
    """
    async with make(job=ARBOR, opening=Opening, quiet_s=0.8).run_test(size=(80, 24)) as pilot:
        screen = await with_pedals(pilot)
        while screen.state.cursor is not None and screen.state.cursor.action == "cut":
            screen.run.done()
        screen.paint()
        await asyncio.sleep(0.9)
        before = logged(pilot.app).last_seq
        send(pilot.app, *["b"] * 10)
        await idle(pilot)
        assert isinstance(pilot.app.screen, OneOfOrNumber) and logged(pilot.app).last_seq == before


async def test_pressing_a_pedal_in_a_text_field_types_the_letter_of_the_pedal(make: MakeApp) -> None:
    """So a note may contain the letter of the pedal."""
    async with make(job=ARBOR, opening=Opening, quiet_s=0.8).run_test(size=(80, 24)) as pilot:
        await with_pedals(pilot)
        await press(pilot, "n", *"abc", "enter")
        assert logged(pilot.app).notes[-1].text == "abc"


async def test_a_pedal_can_log_a_runout_reading(make: MakeApp) -> None:
    """The pedal logs the reading like Enter."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        app = pilot.app
        app.context.controls = Controls(pedal="b")
        from tests.tui.counters import read_and_start

        open_run(app.context, app.context.job.operations[4])
        await read_and_start(pilot)
        screen = app.screen
        assert isinstance(screen, RunoutCounter)
        while not screen.reads:
            await press(pilot, "space")
        done = screen.state.steps_done
        await press(pilot, *"0.08", "b")
        assert logged(app).steps_done == done + 1


async def test_pressing_a_pedal_on_the_settings_page_assigns_its_key(make: MakeApp) -> None:
    """A key with another use is refused, another key is saved, and Del removes it."""
    async with make(job=ARBOR).run_test(size=(80, 24)) as pilot:
        app = pilot.app
        await pilot.pause()
        await press(pilot, "k")
        assert isinstance(app.screen, ControlsScreen)
        await press(pilot, "enter")
        assert isinstance(app.screen, PressNow)
        for key in ("space", "m", "1", "enter", "tab", "down", "minus"):
            app.screen.show_refusal("")
            await press(pilot, key)
            assert isinstance(app.screen, PressNow) and said(app), key
        await press(pilot, "pagedown")
        assert kept_controls(app.context.paths.controls) == (Controls(pedal="pagedown"), "")
        await press(pilot, "down", "enter", "pagedown")
        assert isinstance(app.screen, PressNow) and said(app)
        await press(pilot, "f8", "down", "enter", "enter", "down", "enter")
        kept = Controls(pedal="pagedown", undo_pedal="f8", instrument_unit="in", bell=True)
        assert kept_controls(app.context.paths.controls) == (kept, "")
        await press(pilot, "up", "up", "delete")
        assert kept_controls(app.context.paths.controls)[0] == replace(kept, undo_pedal="")


@pytest.mark.parametrize(
    "text",
    [
        "pedal = 5\n",
        'pedal = "m"\n',
        'bell = "yes"\n',
        'instrument_unit = "furlong"\n',
        'jobs = "stick/jobs"\n',
        'jobs = ["/media"]\n',
        "pedal = [\n",
        "\x00",
        "[" * 5000,
    ],
)
def test_the_defaults_apply_if_the_settings_file_is_invalid(tmp_path: Path, text: str) -> None:
    """The message names the values that cannot be used."""
    path = tmp_path / "controls.toml"
    path.write_text(text, encoding="utf-8")
    controls, problem = kept_controls(path)
    assert controls == Controls() and "controls.toml" in problem


def test_saved_settings_are_read_back_unchanged(tmp_path: Path) -> None:
    """Key names are read back unchanged, whatever characters they contain."""
    path = tmp_path / "new" / "controls.toml"
    jobs = Controls(jobs='/media/anna/"my" \\ stick')
    for controls in (Controls(), Controls("b", "ctrl+v", "in", bell=True), Controls("circumflex_accent", "\\"), jobs):
        keep_controls(path, controls)
        assert kept_controls(path) == (controls, "")
    assert own_name("B") == "b"
