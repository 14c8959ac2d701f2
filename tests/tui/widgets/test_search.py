"""Searching lists and pages: typed words select the next matching row, without a mouse or colours."""

from pathlib import Path
from typing import Any

import pytest
from textual.content import Content

from core.jobs.job import read_job
from core.logbook.logbook import Logbook
from tests.conftest import MakeApp, ToldTime
from tests.tui.made_up import press
from tests.tui.painted import foreign, painted
from tests.tui.runs_made import begin, job_file
from tests.tui.shown import Shown
from tui.board.operation_list import OperationList
from tui.board.screen import BoardScreen
from tui.glyphs import ASCII_SAFE
from tui.history.run_list import RunList
from tui.history.screen import PAGE, HistoryScreen
from tui.operation.plan_table import PlanTable
from tui.paths import Paths
from tui.terminal import Terminal
from tui.widgets.column_table import Column, ColumnTable
from tui.widgets.line_list import LineList
from tui.widgets.pager import Pager
from tui.widgets.question import OneOf
from tui.widgets.search_line import SearchLine

ARBOR = Path(__file__).parents[3] / "sample_jobs" / "sundial_arbor.toml"
CUTTERS = ("fine 60 deg", "wide 120 deg", "round 3 mm", "Wide 90 deg", "flat 1/4 in")
WIDE = [1, 3]


async def listed(pilot: Any) -> LineList:
    """Return the focused list of cutters."""
    lines: LineList = pilot.app.screen.query_one(LineList)
    lines.focus()
    await pilot.pause()
    return lines


def first_columns(app: Any) -> list[str]:
    """Return the sign in front of each visible cutter."""
    rows = painted(app).splitlines()
    return [next(row for row in rows if cutter in row)[0] for cutter in CUTTERS]


async def test_typing_in_a_search_selects_the_next_row_that_contains_the_words(make: MakeApp) -> None:
    """Upper and lower case are equal. Enter goes to the next match, Up to the previous, and both wrap around."""
    app = make(opening=lambda: Shown(LineList(CUTTERS)))
    async with app.run_test(size=(80, 24)) as pilot:
        lines = await listed(pilot)
        await press(pilot, "/", *"wide")
        assert lines.cursor == WIDE[0] and "1 of 2" in painted(app)
        await press(pilot, "enter")
        assert lines.cursor == WIDE[1] and "2 of 2" in painted(app)
        await press(pilot, "enter")
        assert lines.cursor == WIDE[0]
        await press(pilot, "up")
        assert lines.cursor == WIDE[1]


async def test_the_search_of_a_list_starts_at_the_selected_row(make: MakeApp) -> None:
    """The third row is selected. The next row that contains "wide" is the fourth."""
    app = make(opening=lambda: Shown(LineList(CUTTERS)))
    async with app.run_test(size=(80, 24)) as pilot:
        lines = await listed(pilot)
        await press(pilot, "down", "down", "/", *"wide")
        assert lines.cursor == WIDE[1]


async def test_a_matching_row_contains_every_search_word_in_any_order(make: MakeApp) -> None:
    """The order of the words does not matter."""
    app = make(opening=lambda: Shown(LineList(CUTTERS)))
    async with app.run_test(size=(80, 24)) as pilot:
        lines = await listed(pilot)
        await press(pilot, "/", *"90", "space", *"wide")
        assert lines.cursor == WIDE[1] and "1 of 1" in painted(app)


@pytest.mark.parametrize("charset", ["braille", "console", "ascii"])
async def test_matching_rows_are_marked_with_a_sign_even_without_colour(make: MakeApp, charset: Any) -> None:
    """The selected row has the pointer, the other match a bullet, and other rows no sign."""
    app = make(opening=lambda: Shown(LineList(CUTTERS)), terminal=Terminal(charset=charset, no_colour=True))
    async with app.run_test(size=(80, 24)) as pilot:
        await listed(pilot)
        await press(pilot, "/", *"wide")
        glyphs = app.glyphs
        assert first_columns(app) == [" ", glyphs["current"], " ", glyphs["bullet"], " "]
        if charset == "ascii":
            assert not foreign(app, ASCII_SAFE)


async def test_a_search_without_a_match_keeps_the_selection(make: MakeApp) -> None:
    """The search field says "not found", and no row has the sign of a match."""
    app = make(opening=lambda: Shown(LineList(CUTTERS)))
    async with app.run_test(size=(80, 24)) as pilot:
        lines = await listed(pilot)
        await press(pilot, "down", "down", "/", *"zinc", "enter")
        assert lines.cursor == 2 and "not found" in painted(app)
        assert [sign for sign in first_columns(app) if sign != " "] == ["▶"]


@pytest.mark.parametrize("key", ["escape", "asterisk", "tab"])
async def test_closing_a_search_keeps_the_matching_row_selected(make: MakeApp, key: str) -> None:
    """Esc, or * on a number pad, closes the search. The list then has the focus and shows no signs."""
    app = make(opening=lambda: Shown(LineList(CUTTERS)))
    async with app.run_test(size=(80, 24)) as pilot:
        lines = await listed(pilot)
        await press(pilot, "/", *"wide", "enter", key)
        assert not app.screen.query(SearchLine)
        assert lines.has_focus and lines.cursor == WIDE[1]
        assert first_columns(app) == [" ", " ", " ", "▶", " "]


async def test_pressing_slash_during_a_search_goes_to_the_next_match(make: MakeApp) -> None:
    """After a search, / offers the same words again, and / or Enter goes to the next match.

    A typed character replaces the words.
    """
    app = make(opening=lambda: Shown(LineList(CUTTERS)))
    async with app.run_test(size=(80, 24)) as pilot:
        lines = await listed(pilot)
        await press(pilot, "/", *"wide", "escape")
        await press(pilot, "/", "/")
        assert lines.cursor == WIDE[1]
        await press(pilot, *"flat")
        assert lines.cursor == 4


async def test_a_slash_can_be_part_of_the_text_to_search_for(make: MakeApp) -> None:
    """Inside a word, / is a character, as in 1/4 in."""
    app = make(opening=lambda: Shown(LineList(CUTTERS)))
    async with app.run_test(size=(80, 24)) as pilot:
        lines = await listed(pilot)
        await press(pilot, "/", "1", "/", "4")
        assert lines.cursor == 4 and "1 of 1" in painted(app)


async def test_letter_keys_type_text_while_the_search_is_open(make: MakeApp, tmp_path: Path) -> None:
    """On the board "a" adds an operation and Enter starts one, but not during a search."""
    app = make(job=job_file(tmp_path))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await press(pilot, "/", *"deb", "enter", "enter")
        assert isinstance(app.screen, BoardScreen)
        assert app.screen.query_one(OperationList).cursor == 1
        assert "a Add" not in painted(app)
        await press(pilot, "escape")
        assert "a Add" in painted(app)


async def test_hidden_columns_of_a_list_are_not_searched(make: MakeApp) -> None:
    """At 40 columns the last column is hidden and its words are not found. At 100 columns they are found."""
    columns = (Column("cutter", 12, align="left"), Column("note", 40, rank=1, align="left"))
    for size, found in (((40, 12), 0), ((100, 24), 3)):
        table = ColumnTable(columns)
        app = make(opening=lambda table=table: Shown(table))
        async with app.run_test(size=size) as pilot:
            table.show_rows(len(CUTTERS), lambda index: (CUTTERS[index], "reground" if index == 3 else ""))
            table.lines.focus()
            await pilot.pause()
            await press(pilot, "/", *"reground")
            assert table.lines.cursor == found


async def test_searching_a_page_of_text_scrolls_to_the_matching_row(make: MakeApp) -> None:
    """Row 70 of 90 comes into view at 80 by 24, with a sign before it. It stays when the search closes."""
    texts = [f"step {number}" for number in range(90)]
    app = make(opening=lambda: Shown(Pager(lambda columns: [Content(text) for text in texts])))
    async with app.run_test(size=(80, 24)) as pilot:
        app.screen.query_one(Pager).focus()
        await pilot.pause()
        await press(pilot, "/", *"70")
        assert "▶ step 70" in painted(app) and "1 of 1" in painted(app)
        await press(pilot, "escape")
        assert "\nstep 70" in painted(app)


async def test_the_help_page_can_be_searched(make: MakeApp, tmp_path: Path) -> None:
    """The folder of the log is far down on the page. A search brings it into view."""
    app = make(job=job_file(tmp_path))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await press(pilot, "f1")
        assert "logbook.sqlite3" not in painted(app)
        await press(pilot, "/", *"logbook")
        assert "logbook.sqlite3" in painted(app)
        await press(pilot, "escape", "escape")
        assert isinstance(app.screen, BoardScreen)


async def test_the_list_of_steps_in_a_form_can_be_searched(make: MakeApp) -> None:
    """Enter, the arrows and F6 are keys of the form, but they belong to the search while it is open."""
    app = make(job=ARBOR)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await press(pilot, "e", "1", "f6", "f6")
        table = app.screen.query_one(PlanTable)
        await press(pilot, "/", *"measure", "f6")
        first = table.cursor
        await press(pilot, "enter")
        assert table.cursor > first > 0
        await press(pilot, "up")
        assert table.cursor == first and app.screen.is_searching  # type: ignore[attr-defined]
        await press(pilot, "escape", "f6")
        assert not table.has_focus


async def test_a_search_of_the_history_includes_runs_that_are_not_loaded_yet(
    make: MakeApp, tmp_path: Path, paths: Paths, told_time: ToldTime
) -> None:
    """The oldest run, on the second page of the log, is found."""
    job = read_job(job_file(tmp_path))
    with Logbook.open(paths.data) as book:
        for name in ("Deburr", *["Rough the base"] * PAGE):
            run = begin(book, job, name, told_time.clock())
            run.abandon("tried")
            run.close()
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await press(pilot, "f3")
        assert isinstance(app.screen, HistoryScreen)
        await press(pilot, "/", *"deburr")
        info = app.screen.query_one(RunList).run_info
        assert info is not None and info.origin is not None and info.origin.op_name == "Deburr"


async def test_a_question_offers_no_search_key(make: MakeApp) -> None:
    """In a question, / may be an answer or the start of one."""
    app = make(opening=lambda: Shown(LineList(CUTTERS)))
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(OneOf("Which cutter?", CUTTERS))
        await press(pilot, "/")
        assert not app.screen.query(SearchLine) and "/ Search" not in painted(app)


@pytest.mark.parametrize("size", [(40, 12), (80, 24)])
async def test_the_search_field_and_the_matching_row_fit_on_a_small_terminal(
    make: MakeApp, size: tuple[int, int]
) -> None:
    """The typed words, the number of matches and the found row are all visible."""
    app = make(opening=lambda: Shown(LineList([f"hole {number}" for number in range(60)])))
    async with app.run_test(size=size) as pilot:
        await listed(pilot)
        await press(pilot, "/", *"hole 5")
        shown = painted(app)
        assert "Search: hole 5" in shown and "1 of 15" in shown and "▶ hole 5" in shown
