"""The list of actions offers the present actions of a screen, is narrowed by words, and never counts a pass."""

from pathlib import Path
from typing import Any

import pytest
from textual.events import Key

from core.operations.registry import OPERATIONS
from tests.conftest import MakeApp
from tests.tui.counter.test_instrument import at_a_pass
from tests.tui.counters import Opening, press
from tests.tui.painted import foreign, painted
from tests.tui.runs_made import job_file
from tests.tui.shown import Shown
from tui.board.screen import BoardScreen
from tui.glyphs import ASCII_SAFE
from tui.help import key_help
from tui.operation.screen import OperationScreen
from tui.palette import PaletteList, PaletteScreen, actions_now
from tui.terminal import Terminal
from tui.widgets.key_bar import key_items
from tui.widgets.line_list import LineList
from tui.widgets.message_line import MessageLine

ARBOR = Path(__file__).parents[2] / "sample_jobs" / "sundial_arbor.toml"


def rows(app: Any) -> list[str]:
    """Return the listed actions, each with its keys."""
    lines = app.screen.query_one(LineList)
    return [" ".join(lines.line(index, 60).plain.split()) for index in range(lines.count)]


async def test_the_list_of_actions_contains_every_key_of_the_key_bar_and_the_help_page(
    make: MakeApp, tmp_path: Path
) -> None:
    """Only the key that opens the list is missing. Each explanation is also on the help page."""
    app = make(job=job_file(tmp_path))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        listed = actions_now(app.screen)
        in_bar = {item.words for item in key_items(app.screen)} - {"Actions"}
        assert in_bar and in_bar <= {bound.words for bound in listed}
        helped = dict(key_help(app.screen))
        assert all(bound.tooltip in helped[" or ".join(bound.keys)] for bound in listed)


async def test_typing_words_narrows_the_list_of_actions(make: MakeApp, tmp_path: Path) -> None:
    """The word "groove" leaves one action, which opens the form of a groove like the key g."""
    app = make(job=job_file(tmp_path))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await press(pilot, "ctrl+p", *"groove")
        assert rows(app) == ["Cut a groove g"]
        await press(pilot, "enter")
        assert isinstance(app.screen, OperationScreen) and app.screen.kind == "groove"


async def test_every_kind_of_operation_can_be_found_by_name_in_the_list_of_actions(
    make: MakeApp, tmp_path: Path
) -> None:
    """The first match for a word such as "taper" adds that kind. Words without a match are refused before Enter."""
    words = {"taper": "taper", "drill": "drill", "shoulder": "shoulders", "axis": "axes", "square": "square"}
    app = make(job=job_file(tmp_path))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        added = {bound.action for bound in actions_now(app.screen)}
        assert {f"make('{kind}')" for kind in OPERATIONS} <= added
        for word, kind in words.items():
            await press(pilot, "ctrl+p", *word)
            assert app.screen.query_one(PaletteList).actions[0].action == f"make('{kind}')"
            assert not app.screen.query_one(MessageLine).sentence
            await press(pilot, "z", "z")
            assert app.screen.query_one(MessageLine).sentence
            await press(pilot, "escape")


async def test_a_disabled_action_is_not_in_the_list_of_actions(make: MakeApp) -> None:
    """F6 is disabled on this screen; F5 is enabled."""
    app = make(opening=lambda: Shown())
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "ctrl+p")
        names = [row.split()[0] for row in rows(app)]
        assert "Possible" in names and "Impossible" not in names
        await press(pilot, *"poss", "enter")
        assert isinstance(app.screen, Shown) and app.screen.told == ["done"]


async def test_pressing_enter_in_an_empty_list_of_actions_runs_no_action(make: MakeApp) -> None:
    """Enter shows a refusal and the list stays open. Esc then closes the list."""
    app = make(opening=lambda: Shown())
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "ctrl+p", *"zinc", "enter")
        assert isinstance(app.screen, PaletteScreen)
        assert app.screen.query_one(MessageLine).sentence
        await press(pilot, "escape")
        assert isinstance(app.screen, Shown) and app.screen.told == []


@pytest.mark.parametrize("size", [(80, 24), (40, 12)])
async def test_the_explanation_of_the_selected_action_is_never_cut_off(
    make: MakeApp, tmp_path: Path, size: tuple[int, int]
) -> None:
    """Each action is selected in turn, and its whole explanation is on the screen."""
    app = make(job=job_file(tmp_path))
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        await press(pilot, "ctrl+p")
        actions = app.screen.query_one(PaletteList).actions
        for bound in actions:
            shown = " ".join(painted(app).replace("│", " ").split())
            assert bound.words in shown and bound.tooltip in shown
            await press(pilot, "down")


async def test_the_list_of_actions_fits_a_screen_of_40_columns_and_12_rows(make: MakeApp, tmp_path: Path) -> None:
    """At 40 by 12 in ASCII, the field, an action and the action's key are visible."""
    app = make(job=job_file(tmp_path), terminal=Terminal(charset="ascii"))
    async with app.run_test(size=(40, 12)) as pilot:
        await pilot.pause()
        await press(pilot, "ctrl+p", *"hist")
        assert "hist" in painted(app) and "> History  F3" in painted(app)
        assert not foreign(app, ASCII_SAFE)


# In the counter.


async def test_the_list_of_actions_cannot_be_used_to_count_a_pass(make: MakeApp) -> None:
    """ "Done" is listed with its key, but Enter on it only says which key counts a pass."""
    app = make(job=ARBOR, opening=Opening)
    async with app.run_test(size=(80, 24)) as pilot:
        counter = await at_a_pass(pilot)
        done = counter.state.steps_done
        await press(pilot, "ctrl+p", *"done", "enter", "enter")
        assert isinstance(app.screen, PaletteScreen) and rows(app)[0].startswith("Done Space")
        assert "Space" in app.screen.query_one(MessageLine).sentence
        await press(pilot, "escape")
        assert counter.state.steps_done == done
        await press(pilot, "space")
        assert counter.state.steps_done == done + 1


async def test_keys_that_only_start_a_number_are_not_in_the_list_of_actions(make: MakeApp) -> None:
    """At a step that asks for a number, the key bar shows 0-9. The list of actions does not contain it."""
    app = make(job=ARBOR, opening=Opening)
    async with app.run_test(size=(80, 24)) as pilot:
        counter = await at_a_pass(pilot)
        while counter.state.cursor is not None and counter.state.cursor.action != "measure":
            counter.run.done()
        counter.paint()
        await pilot.pause()
        assert "Number" in {item.words for item in key_items(counter)}
        assert "Number" not in {bound.words for bound in actions_now(counter)}


@pytest.mark.parametrize("words", ["pict", "note"])
async def test_holding_enter_after_choosing_an_action_counts_no_pass(make: MakeApp, words: str) -> None:
    """Enter selects an action and is held for a second. No pass is counted and no question answered."""
    app = make(job=ARBOR, opening=Opening, quiet_s=0.8)
    async with app.run_test(size=(80, 24)) as pilot:
        counter = await at_a_pass(pilot)
        done, last = counter.state.steps_done, counter.state.last_seq
        now_s = 1000.0

        async def hit(key: str, after_s: float) -> None:
            nonlocal now_s
            now_s += after_s
            event = Key(key, key if len(key) == 1 else None)
            event.time = now_s
            event.set_sender(app)
            app.post_message(event)
            await pilot.pause()
            await pilot.pause()

        await hit("ctrl+p", 5.0)
        for letter in words:
            await hit(letter, 0.3)
        await hit("enter", 1.0)
        await hit("enter", 0.5)
        for _ in range(15):
            await hit("enter", 1 / 30)
        assert not isinstance(app.screen, PaletteScreen)
        assert (counter.state.steps_done, counter.state.last_seq) == (done, last)


async def test_an_action_chosen_from_the_list_asks_the_same_question_as_its_key(make: MakeApp) -> None:
    """Skip asks first. After the answer "no" nothing is logged."""
    app = make(job=ARBOR, opening=Opening)
    async with app.run_test(size=(80, 24)) as pilot:
        counter = await at_a_pass(pilot)
        last = counter.state.last_seq
        await press(pilot, "ctrl+p", *"skip", "enter")
        assert app.screen is not counter and not isinstance(app.screen, (PaletteScreen, BoardScreen))
        await press(pilot, "escape")
        assert app.screen is counter and counter.state.last_seq == last
