"""The form of holes on a circle: coordinates, the chord, and the counter at a mill's readout."""

from pathlib import Path

import pytest

from core.jobs.job import read_job
from tests.conftest import MakeApp
from tests.tui.counters import read_and_start
from tests.tui.made_up import Begun, fill, opened, press, said, wrong
from tests.tui.painted import foreign, painted
from tui.counter.big_number import BigNumber
from tui.counter.screen import CounterScreen
from tui.glyphs import ASCII_SAFE
from tui.operation.holes import HolesScreen
from tui.terminal import Terminal

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
METRIC, INCH = SAMPLES / "metric_lathe.toml", SAMPLES / "inch_lathe.toml"
FOUR = {"count": 4, "circle": "64 mm", "start": "45 deg"}


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> Begun:
    """Record the input of a started run without starting the run."""
    noted = Begun()
    monkeypatch.setattr("tui.runs.start_without_job", noted.begin)
    return noted


async def test_a_circle_of_four_holes_can_be_entered_with_the_number_pad_alone(make: MakeApp, begun: Begun) -> None:
    """64 mm diameter at 45 deg gives x = y = 22.627 mm, half the square root of 2 times 32 (any table of sines)."""
    async with opened(make, HolesScreen(), lathe=METRIC, size=(120, 36)) as (pilot, _):
        await press(pilot, "4", "enter", *"64", "enter", *"45", "enter")
        shown = painted(pilot.app)
        # The chord of 4 holes is half the square root of 2 times 64: 45.255 mm.
        assert " 45.255 mm" in shown
        await press(pilot, "f6")
        rows = [line.split()[-6:] for line in painted(pilot.app).splitlines()]
        assert ["1", "22.627", "mm", "22.627", "mm", "45°00'"] in rows
        assert ["3", "-22.627", "mm", "-22.627", "mm", "225°00'"] in rows
        await press(pilot, "f5")
    wanted = {"kind": "holes", "name": "4 holes on 64 mm", "count": 4, "circle": "64 mm", "start": "45 deg"}
    assert [plan_input.parameters for plan_input in begun] == [wanted]


async def test_the_centre_of_a_circle_of_holes_is_entered_in_two_fields(make: MakeApp) -> None:
    """If only one is entered, the other is 0. Both fields show a saved centre."""
    async with opened(make, HolesScreen(FOUR), lathe=METRIC) as (pilot, screen):
        assert "centre" not in screen.plan_input.parameters
        await fill(pilot, "centre_y", "35")
        assert screen.plan_input.parameters["centre"] == ["0 mm", "35 mm"]
    table = {**FOUR, "kind": "holes", "name": "Base", "centre": ["40 mm", "-35 mm"], "sense": "falling"}
    async with opened(make, HolesScreen(table), lathe=METRIC) as (_, screen):
        assert screen.plan_input.parameters == table


async def test_editing_a_circle_of_holes_shows_its_saved_values(make: MakeApp) -> None:
    """The fields show the operation's values, and the plan equals the job's plan."""
    path = SAMPLES / "hour_lines.toml"
    operation = read_job(path).operations[1]
    async with opened(make, HolesScreen(operation.plan_input.parameters), job=path) as (_, screen):
        assert screen.plan_input == operation.plan_input
        assert screen.plan == operation.plan


async def test_each_error_in_the_form_for_holes_is_shown_beside_its_field(make: MakeApp, begun: Begun) -> None:
    """No run can start meanwhile. The centre is one key of the job file and has two fields."""
    async with opened(make, HolesScreen(FOUR), lathe=METRIC) as (pilot, screen):
        for key, text, right in (
            ("count", "1", "4"),
            ("count", "10000", "4"),
            ("count", "2.5", "4"),
            ("circle", "0", "64"),
            ("start", "5 mm", ""),
            ("drill", "-1", ""),
        ):
            assert screen.ready and wrong(screen) == set()
            await fill(pilot, key, text)
            assert wrong(screen) == {key} and not screen.ready
            await press(pilot, "f5")
            await fill(pilot, key, right)
        await fill(pilot, "centre_x", "5 deg")
        assert wrong(screen) == set() and not screen.ready
        await press(pilot, "f5")
        assert begun == []


async def test_overlapping_holes_cause_a_caution(make: MakeApp) -> None:
    """A drill as wide as the chord causes a caution with both numbers."""
    keys = {"count": 6, "circle": "20 mm", "drill": "9 mm"}
    async with opened(make, HolesScreen(keys), lathe=METRIC, size=(120, 36)) as (pilot, screen):
        assert screen.plan is not None
        before = set(screen.cautions(screen.plan))
        await fill(pilot, "drill", "10")
        assert screen.plan is not None
        more = set(screen.cautions(screen.plan)) - before
        assert len(more) == 1 and "10 mm" in more.pop()


async def test_a_circle_diameter_without_a_unit_is_read_as_inches_on_an_inch_lathe(make: MakeApp) -> None:
    """A lathe file without a mill still gives readouts in millimetres."""
    async with opened(make, HolesScreen(), lathe=INCH) as (pilot, screen):
        await fill(pilot, "count", "3")
        await fill(pilot, "circle", "2 1/2")
        assert screen.plan_input.parameters["circle"] == "2 1/2 in"
        assert " 2.165" in painted(pilot.app)


@pytest.mark.parametrize("size", [(80, 24), (40, 12)])
async def test_all_pages_of_the_form_for_holes_use_only_ascii_on_an_ascii_terminal(
    make: MakeApp, size: tuple[int, int]
) -> None:
    """The whole screen, including the picture with its numbers, is plain ASCII."""
    terminal = Terminal(charset="ascii", dots="ascii")
    screen = HolesScreen({**FOUR, "drill": "6 mm"})
    async with opened(make, screen, lathe=METRIC, size=size, terminal=terminal) as (pilot, _):
        for page in screen.PAGES:
            assert not foreign(pilot.app, ASCII_SAFE)
            if page == "pictures":
                shown = painted(pilot.app)
                assert all(str(number) in shown for number in (1, 2, 3, 4))
            await press(pilot, "f6")


async def test_the_counter_shows_the_x_and_y_coordinates_of_each_hole(make: MakeApp) -> None:
    """x is large with y beside it. Key 2 asks for nothing that the plan cannot use."""
    async with opened(make, HolesScreen(FOUR), lathe=METRIC) as (pilot, _):
        await press(pilot, "f5")
        await read_and_start(pilot)
        counter = pilot.app.screen
        assert isinstance(counter, CounterScreen)
        await press(pilot, "2")
        assert pilot.app.screen is counter
        await press(pilot, "space")
        assert painted(pilot.app).count("22.627") == 4
        await press(pilot, "space", "space")
        assert counter.query_one(BigNumber).number == "-22.627"
        assert " 22.627 mm" in painted(pilot.app)
        await press(pilot, "2")
        assert pilot.app.screen is counter and said(pilot.app)
