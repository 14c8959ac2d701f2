"""A pattern on the whole screen can be enlarged, moved, shown as wood or lines, and saved, from every screen."""

import asyncio
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import pytest

from core.jobs.job import read_job
from core.operations.patterns.picture import PatternPlace
from tests.conftest import MakeApp
from tests.tui.counter.test_counter import Opening, opened, press
from tests.tui.painted import painted
from tests.tui.pattern.test_pattern_counter import BORDER, JOB, dots_of, go_on_to
from tui.board.card import CardScreen
from tui.board.screen import BoardScreen
from tui.paths import Paths
from tui.pattern.screen import PatternScreen
from tui.widgets.pattern_drawing import WHOLE
from tui.widgets.pattern_sketch import PatternSketch
from tui.widgets.pattern_view import PatternView

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
LID = SAMPLES / "sundial_lid.toml"


def view(pilot: Any) -> PatternView:
    """Return the whole-screen page, which must be the top screen."""
    screen = pilot.app.screen
    assert isinstance(screen, PatternView)
    return screen


async def wood_is_there(pilot: Any) -> None:
    """Wait until all grooves are shaded."""
    sketch = pilot.app.screen.query_one(PatternSketch)
    for _ in range(200):
        painted(pilot.app)
        if sketch._shading is not None and sketch._shading.is_done:
            return
        await asyncio.sleep(0.02)
    raise AssertionError("never shaded")


async def test_the_number_pad_moves_and_enlarges_the_picture_opened_from_the_board(make: MakeApp) -> None:
    """+ enlarges, 4 6 8 2 move, 5 shows the whole pattern and 0 closes the page."""
    async with make(job=LID).run_test(size=(80, 24)) as pilot:
        await press(pilot, "p")
        whole = painted(pilot.app)
        assert view(pilot).query_one(PatternSketch).size.height > 18 and dots_of(pilot.app) > 300
        await press(pilot, "plus", "plus")
        assert view(pilot).view.zoom == pytest.approx(2.25) and painted(pilot.app) != whole
        await press(pilot, "6", "8")
        assert view(pilot).view.x_mm > 0 and view(pilot).view.y_mm > 0
        await press(pilot, "4", "2")
        assert (view(pilot).view.x_mm, view(pilot).view.y_mm) == (0, 0)
        await press(pilot, *["plus"] * 20)
        assert view(pilot).view.zoom < 20
        await press(pilot, "5")
        assert view(pilot).view == WHOLE and painted(pilot.app) == whole
        await press(pilot, "minus")
        assert view(pilot).view == WHOLE
        await press(pilot, "0")
        assert isinstance(pilot.app.screen, BoardScreen)


async def test_the_slash_key_switches_the_picture_from_wood_shading_to_lines(make: MakeApp) -> None:
    """Lines appear immediately, keys work during the shading, and / returns to lines on all screens."""
    app = make(job=LID)
    app.context.shows_wood = True
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "p")
        await wood_is_there(pilot)
        shown = painted(pilot.app)
        assert "▀" in shown and dots_of(pilot.app) == 0
        await press(pilot, "plus")
        await wood_is_there(pilot)
        assert painted(pilot.app) != shown
        await press(pilot, "slash")
        assert dots_of(pilot.app) > 300 and "▀" not in painted(pilot.app)
        assert app.context.shows_wood is False


async def test_the_picture_page_can_be_opened_from_the_card_the_form_and_the_counter(make: MakeApp) -> None:
    """F10 on the form, p on the card and the decimal point in the counter open the page. Closing returns to each."""
    async with make(job=LID).run_test(size=(80, 24)) as pilot:
        await press(pilot, "c", "p")
        assert view(pilot).title == "Rings of rings"
        await press(pilot, "escape")
        assert isinstance(pilot.app.screen, CardScreen)
        parameters = read_job(LID).operations[0].plan_input.parameters
        form = PatternScreen(parameters)
        await pilot.app.push_screen(form)
        await press(pilot, "f10")
        assert dots_of(pilot.app) > 300 and view(pilot)
        await press(pilot, "escape")
        assert pilot.app.screen is form
    async with make(job=JOB, opening=Opening).run_test(size=(80, 24)) as pilot:
        counter = await opened(pilot, BORDER)
        await go_on_to(counter, pilot, PatternPlace(1, 17), "index")
        await press(pilot, "full_stop")
        assert "17" in painted(pilot.app) and view(pilot)
        await press(pilot, "full_stop")
        assert pilot.app.screen is counter


@pytest.mark.parametrize("keys", [("ctrl+d",), ("p", "ctrl+d"), ("c", "ctrl+d")])
async def test_a_saved_drawing_never_overwrites_another_file(
    make: MakeApp, paths: Paths, keys: tuple[str, ...]
) -> None:
    """The file is valid XML. The next drawing gets another name, and an existing name is refused."""
    async with make(job=LID).run_test(size=(80, 24)) as pilot:
        await press(pilot, *keys, "enter")
        (saved,) = paths.documents.glob("*.svg")
        assert saved.name == "rings_of_rings.svg"
        root = ET.parse(saved).getroot()
        assert root.attrib["width"].endswith("mm")
        saved.write_text("mine")
        await press(pilot, "ctrl+d", "enter")
        assert sorted(file.name for file in paths.documents.glob("*.svg")) == [saved.name, "rings_of_rings_2.svg"]
        assert saved.read_text() == "mine"
        await press(pilot, "ctrl+d", *["backspace"] * len("_3.svg"), *".svg", "enter")
        assert saved.read_text() == "mine" and "already exists" in " ".join(painted(pilot.app).split())


async def test_the_picture_keys_do_nothing_for_an_operation_without_a_pattern(make: MakeApp) -> None:
    """On the arbor's board the keys do nothing."""
    async with make(job=SAMPLES / "sundial_arbor.toml").run_test(size=(80, 24)) as pilot:
        await press(pilot, "p", "ctrl+d")
        assert isinstance(pilot.app.screen, BoardScreen) and "Picture" not in painted(pilot.app)


async def test_ctrl_w_switches_the_picture_on_the_card_from_wood_shading_to_lines(make: MakeApp) -> None:
    """The picture scrolls with the card, and Ctrl+W switches.

    Many grooves stay lines, so the card opens without delay.
    """
    app = make(job=LID)
    app.context.shows_wood = True
    async with app.run_test(size=(80, 90)) as pilot:
        await press(pilot, "c")
        assert painted(pilot.app).count("▀") > 100 and dots_of(pilot.app) == 0
        await press(pilot, "ctrl+w")
        assert "▀" not in painted(pilot.app) and dots_of(pilot.app) > 200
