"""The pages of the threading screen: figures, steps, pictures, on every terminal and of every size."""

from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from core.jobs import read_job
from tests.conftest import MakeApp
from tests.tui.made_up import opened, press
from tests.tui.painted import foreign, painted
from tui.glyphs import ASCII_SAFE, CONSOLE_SAFE
from tui.screens.threading import ThreadingScreen
from tui.terminal import Terminal
from tui.widgets.operation_form import OperationForm
from tui.widgets.operation_results import PICTURES
from tui.widgets.pager import Pager

SAMPLES = Path(__file__).parents[2] / "sample_jobs"
METRIC, INCH = SAMPLES / "metric_lathe.toml", SAMPLES / "inch_lathe.toml"
ARBOR = SAMPLES / "sundial_arbor.toml"
CONSOLE = Terminal(charset="console", dots="ascii", sixteen_colours=True)
PLAIN = Terminal(charset="ascii", dots="ascii", no_colour=True)


@pytest.mark.parametrize(
    ("size", "terminal", "safe"),
    [
        ((80, 24), Terminal(), None),
        ((80, 24), CONSOLE, CONSOLE_SAFE),
        ((80, 24), PLAIN, ASCII_SAFE),
        ((40, 12), CONSOLE, CONSOLE_SAFE),
        ((120, 36), PLAIN, ASCII_SAFE),
        ((170, 50), Terminal(), None),
    ],
)
async def test_every_page_on_every_terminal(
    make: MakeApp, terminal: Terminal, safe: frozenset[str] | None, size: tuple[int, int]
) -> None:
    """All pages are reached by F6 and left by F7, in the characters the terminal has."""
    given = read_job(ARBOR).operations[2].basis.parameters
    async with opened(make, ThreadingScreen(given), size=size, terminal=terminal, job=ARBOR) as (pilot, screen):
        first, seen = painted(pilot.app), ""
        for _ in range(4):
            seen += painted(pilot.app)
            assert not safe or not foreign(pilot.app, safe)
            await press(pilot, "f6")
        for words in ("Thread", "Pitch diameter", "Swing the compound", "chuck"):
            assert words in seen
        turns = len(screen._sight.turned)
        for _ in range(4 % turns):
            await press(pilot, "f7")
        assert painted(pilot.app) == first
        await press(pilot, "f1")
        assert "Add it to the job" in painted(pilot.app)


async def test_small_screen_shows_all_by_scrolling(make: MakeApp) -> None:
    """At 40x12 every field comes into sight by Tab, every figure and caution by Page down."""
    given = read_job(ARBOR).operations[2].basis.parameters
    async with opened(make, ThreadingScreen(given), size=(40, 12), job=ARBOR) as (pilot, screen):
        labels = [row.label for row, field in screen.query_one(OperationForm).entries.values() if field.display]
        assert await not_shown(pilot, "tab", 24, {label[:12] for label in labels} | {"Start counting"}) == set()
        await press(pilot, "f6")
        words = {"Major diameter", "61 deg", "sharper than", "Over 3 wires", "drives", "Advice only"}
        assert await not_shown(pilot, "pagedown", 18, words) == set()


async def not_shown(pilot: Pilot[None], key: str, times: int, wanted: set[str]) -> set[str]:
    """Return which words do not come into sight by pressing a key so often at the most."""
    for _ in range(times):
        shown = painted(pilot.app)
        wanted = {words for words in wanted if words not in shown}
        if not wanted:
            break
        await press(pilot, key)
    return wanted


async def figures_page(make: MakeApp, lathe: Path, given: dict[str, Any]) -> str:
    """Return all that the page of figures shows at 80x24, turned through by F6 and Page down."""
    async with opened(make, ThreadingScreen(given), size=(80, 24), lathe=lathe) as (pilot, screen):
        await press(pilot, "f6")
        seen = before = painted(pilot.app)
        for _ in range(6):
            await press(pilot, "pagedown")
            if (shown := painted(pilot.app)) == before:
                break
            seen, before = f"{seen}\n{shown}", shown
        pager = screen.query_one("#figures", Pager)
        assert pager.display
    return " ".join(seen.replace("│", "").replace("█", "").split())


async def test_outside_all_is_told(make: MakeApp) -> None:
    """Tool, stop, wires with their certainty, direction, all trains, every wheel of the dial, clearance holes."""
    given = {"thread": "M20x2", "length": "30 mm", "relief": "5 mm"}
    seen = await figures_page(make, METRIC, given)
    for words in (
        "60 deg included, sharp",
        "the standard's root: radius 0.289 mm",
        "on the left",
        "that side cut back to",
        "tip 30 mm to",
        "Over 3 wires",
        "Over 2 wires",
        "Over 1 wire",
        "± 0.012 mm, tolerance 0.16 mm",
        "spindle forward, leadscrew as usual",
        "one idler of any size",
        "of 2 wheels",
        "of 4 wheels",
        "wheel of 16, 4 lines, serves best",
        "wheel of 14, 2 lines",
        "wheel of 15, 3 lines",
        # ISO 273, M20: 21, 22, 24.
        "fine 21 mm, medium 22 mm, coarse 24 mm",
    ):
        assert words in seen, words


async def test_inside_all_is_told(make: MakeApp) -> None:
    """Bar and way out, percentage with its basis, the drills near it: M20x1.5 is tapped from 18.5 mm (ISO 2306)."""
    seen = await figures_page(make, METRIC, {"thread": "M20x1.5-6H", "blank": "18.5 mm"})
    for words in ("round bar of at most", "past its 0", "18.5 mm: 77 % of 3H/4", "92 % of 5H/8", "Drills near it"):
        assert words in seen, words
    assert "wires cannot be laid inside" in seen


async def test_inexact_trains_say_what_they_come_to(make: MakeApp) -> None:
    """An error of the lead is told in parts per million and over the thread's own length."""
    seen = await figures_page(make, METRIC, {"thread": "G1/2", "length": "15 mm"})
    assert "-606 ppm: -0.009 mm over 15 mm" in seen
    assert "of 2 wheels none comes near" in seen
    assert "keep the half nuts closed and reverse the spindle" in seen


async def test_left_hand_and_several_starts(make: MakeApp) -> None:
    """The leadscrew is reversed by the tumbler or one more idler; every way to the next start is listed."""
    given = {"thread": "M24xPh6P3-LH", "runs": "from the chuck", "infeed": "straight"}
    seen = await figures_page(make, METRIC, given)
    for words in ("leadscrew reversed", "by the tumbler", "lead 6 mm, 2 starts", "Next start", "on by 20 teeth"):
        assert words in seen, words


async def test_inches_alone_on_an_inch_lathe(make: MakeApp) -> None:
    """No length in millimetres is told where the dials are in inches."""
    seen = await figures_page(make, INCH, {"thread": "1/2-12 BSW", "length": "1 in", "relief": "0.2 in", "passes": 3})
    assert "Full profile" in seen and " in " in seen
    assert " mm" not in seen


async def test_nothing_is_typed_unseen(make: MakeApp) -> None:
    """Help over a page without fields and back: digits change no field."""
    async with opened(make, ThreadingScreen()) as (pilot, screen):
        await press(pilot, *"M16-6H")
        await press(pilot, "f7")
        assert screen.page == PICTURES
        await press(pilot, "f1", "escape", "1", "2")
        assert screen.query_one(OperationForm).entries["thread"][1].value == "M16-6H"
