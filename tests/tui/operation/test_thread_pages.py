"""The pages of the threading form (figures, steps, pictures) on every kind and size of terminal."""

from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from core.jobs.job import read_job
from tests.conftest import MakeApp
from tests.tui.made_up import opened, paste, press
from tests.tui.painted import foreign, painted
from tui.glyphs import ASCII_SAFE, CONSOLE_SAFE
from tui.operation.form import OperationForm
from tui.operation.results import FIGURES, PICTURES, STEPS
from tui.operation.thread import ThreadScreen
from tui.terminal import Terminal
from tui.widgets.pager import Pager

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
METRIC, INCH = SAMPLES / "metric_lathe.toml", SAMPLES / "inch_lathe.toml"
ARBOR = SAMPLES / "sundial_arbor.toml"
CONSOLE = Terminal(charset="console", dots="ascii", sixteen_colours=True)
PLAIN = Terminal(charset="ascii", dots="ascii", no_colour=True)


@pytest.mark.parametrize(
    ("size", "terminal", "safe"),
    [
        ((80, 24), Terminal(), None),
        ((80, 24), CONSOLE, CONSOLE_SAFE),
        ((40, 12), PLAIN, ASCII_SAFE),
        ((170, 50), PLAIN, ASCII_SAFE),
    ],
)
async def test_every_page_of_the_thread_form_can_be_shown_on_every_terminal(
    make: MakeApp, terminal: Terminal, safe: frozenset[str] | None, size: tuple[int, int]
) -> None:
    """F6 opens every page and F7 closes it, in the characters of the terminal."""
    table = read_job(ARBOR).operations[2].plan_input.parameters
    async with opened(make, ThreadScreen(table), size=size, terminal=terminal, job=ARBOR) as (pilot, screen):
        # Where figures stand beside the fields, neither has a turn.
        pages, turned = [screen.page], {STEPS, PICTURES} if size[0] > 160 else set(screen.PAGES)
        for _ in screen.PAGES:
            assert not safe or not foreign(pilot.app, safe)
            await press(pilot, "f6")
            pages.append(screen.page)
        assert turned <= set(pages)
        for page in reversed(pages[1:-1]):
            await press(pilot, "f7")
            assert screen.page == page


async def test_every_field_and_figure_of_the_thread_form_can_be_scrolled_into_view(make: MakeApp) -> None:
    """At 40x12, Tab brings every field into sight, and Page down every figure and caution."""
    table = read_job(ARBOR).operations[2].plan_input.parameters
    async with opened(make, ThreadScreen(table), size=(40, 12), job=ARBOR) as (pilot, screen):
        labels = [row.label for row, field in screen.query_one(OperationForm).entries.values() if field.display]
        assert await not_shown(pilot, "tab", 24, {label[:12] for label in labels}) == set()
        await press(pilot, "f6")
        assert screen.plan is not None
        figures = [*screen.figures(screen.plan), *screen.further_figures(screen.plan)]
        assert await not_shown(pilot, "pagedown", 20, {figure.name[:12] for figure in figures}) == set()


async def not_shown(pilot: Pilot[None], key: str, times: int, wanted: set[str]) -> set[str]:
    """Return the words that stay out of sight after pressing a key at most so many times."""
    for _ in range(times):
        shown = painted(pilot.app)
        wanted = {words for words in wanted if words not in shown}
        if not wanted:
            break
        await press(pilot, key)
    return wanted


async def figures_page(make: MakeApp, lathe: Path, table: dict[str, Any]) -> str:
    """Return the whole page of figures, from a terminal that is high enough."""
    async with opened(make, ThreadScreen(table), size=(80, 200), lathe=lathe) as (pilot, screen):
        screen.page = FIGURES
        await pilot.pause()
        assert screen.query_one("#figures", Pager).max_scroll_y == 0
        return " ".join(painted(pilot.app).replace("│", "").split())


async def test_the_form_of_an_external_thread_shows_all_its_figures(make: MakeApp) -> None:
    """The figures are the tool, stop, wires with their uncertainty, trains, dial wheels and clearance holes."""
    seen = await figures_page(make, METRIC, {"thread": "M20x2", "length": "30 mm", "relief": "5 mm"})
    # The root of ISO 965-1 is rounded by 0.144 P; a mark of 0.02 and the wires' own error, 0.16 mm of tolerance.
    for number in ("radius 0.289 mm", "30 mm to", "± 0.012 mm", "0.16 mm"):
        assert number in seen, number
    for wheel in ("of 16, 4", "of 14, 2", "of 15, 3"):
        assert wheel in seen, wheel
    # ISO 273, M20: 21, 22, 24.
    for hole in ("21 mm", "22 mm", "24 mm"):
        assert f" {hole}" in seen, hole


async def test_the_form_of_an_internal_thread_lists_its_tapping_drills(make: MakeApp) -> None:
    """The percentage has its basis, and nearby drills are listed. M20x1.5 is tapped from 18.5 mm (ISO 2306)."""
    seen = await figures_page(make, METRIC, {"thread": "M20x1.5-6H", "blank": "18.5 mm"})
    # 1.5 mm of diameter are 77 % of 2 x 3/4 H and 92 % of 2 x 5/8 H.
    # H is 0.866 of the pitch of 1.5 mm (ISO 68-1).
    for words in ("18.5 mm: 77 %", "3H/4", "92 %", "5H/8", "0.866 of the pitch: 1.299 mm"):
        assert words in seen, words


async def test_gear_trains_that_are_not_exact_are_shown_with_their_lead_error(make: MakeApp) -> None:
    """The error is in parts per million and over the length of the thread."""
    seen = await figures_page(make, METRIC, {"thread": "G1/2", "length": "15 mm"})
    assert "-606 ppm: -0.009 mm over 15 mm" in seen


async def test_a_multi_start_thread_is_shown_with_its_lead_and_the_gear_teeth_to_the_next_start(make: MakeApp) -> None:
    """The figures are lead, starts, and the number of gear teeth to the next start."""
    table = {"thread": "M24xPh6P3-LH", "runs": "from the chuck", "infeed": "straight"}
    seen = await figures_page(make, METRIC, table)
    for words in ("6 mm, 2 starts", "20 teeth"):
        assert words in seen, words


async def test_the_figures_of_a_thread_on_an_inch_lathe_contain_no_millimetres(make: MakeApp) -> None:
    """No length is in millimetres if the dials are in inches."""
    seen = await figures_page(make, INCH, {"thread": "1/2-12 BSW", "length": "1 in", "relief": "0.2 in", "passes": 3})
    assert " in " in seen and " mm" not in seen


async def test_digits_typed_on_a_page_without_visible_fields_change_no_hidden_field(make: MakeApp) -> None:
    """Help is opened over a page without fields and closed. Digits then change no field."""
    async with opened(make, ThreadScreen()) as (pilot, screen):
        await paste(pilot, "M16-6H")
        await press(pilot, "f7")
        assert screen.page == PICTURES
        await press(pilot, "f1", "escape", "1", "2")
        assert screen.query_one(OperationForm).entries["thread"][1].value == "M16-6H"
