"""The form of dividing, the page of divisions, and the counter at the rotary table, driven by real keys."""

from pathlib import Path

import pytest
from textual.pilot import Pilot

from core.jobs.job import read_job
from tests.conftest import MakeApp
from tests.tui.counters import entered, read_and_start
from tests.tui.made_up import Begun, fill, opened, press, said, wrong
from tests.tui.painted import foreign, painted
from tui.counter.big_number import BigNumber
from tui.counter.screen import CounterScreen
from tui.glyphs import ASCII_SAFE, CONSOLE_SAFE, Charset
from tui.operation.divide import DivideScreen
from tui.operation.divisions import DivisionsScreen
from tui.operation.form import OperationForm
from tui.terminal import Terminal
from tui.widgets.quantity_field import QuantityField

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
METRIC = SAMPLES / "metric_lathe.toml"
"""The example lathe's rotary table has 72 turns to one, graduations of 2 minutes and 3 minutes of backlash."""
PLATES = """\
format = 1
name = "Head with plates"
[dial.cross_slide]
per_turn = "4 mm"
graduation = "0.05 mm"
reads = "diameter"
[rotary_table]
ratio = 40
plates = [[15, 16, 17, 18, 19, 20], [21, 23, 27, 29, 31, 33], [37, 39, 41, 43, 47, 49]]
direct = [24]
"""
BARE = 'format = 1\nname = "Bare"\n[dial.cross_slide]\ngraduation = "0.05 mm"\nreads = "diameter"\n'


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> Begun:
    """Record the input of a started run without starting the run."""
    noted = Begun()
    monkeypatch.setattr("tui.runs.start_without_job", noted.begin)
    return noted


@pytest.fixture
def plates(tmp_path: Path) -> Path:
    """Return a lathe file with a dividing head of 40 to 1, the three common plates and 24 notches."""
    path = tmp_path / "plates.toml"
    path.write_text(PLATES)
    return path


def shown(pilot: Pilot[None]) -> str:
    """Return the painted screen as one line."""
    return " ".join(painted(pilot.app).split())


async def test_seven_equal_divisions_can_be_set_with_the_dial_of_a_rotary_table(make: MakeApp, begun: Begun) -> None:
    """360/7 deg at 72:1 is 10 turns 1 deg 25.7 min. Graduations of 2 min give 1 deg 26 min, 17.1 seconds too far."""
    async with opened(make, DivideScreen(), lathe=METRIC, size=(120, 36)) as (pilot, _):
        await press(pilot, "7")
        # One rounded step repeated would end 7 x 17.1, some 120 seconds, past the start.
        seen = shown(pilot)
        assert "10 turns 1°26'" in seen and "0°02'" in seen
        await press(pilot, "f6")
        assert "2 10 turns 1°26' 10 turns 1°26' +0°00'17.1\"" in shown(pilot)
        await press(pilot, "f5")
    assert [plan_input.parameters for plan_input in begun] == [
        {"kind": "divide", "name": "Divide into 7", "divisions": 7}
    ]


async def test_the_angles_for_dividing_can_be_entered_as_a_list(make: MakeApp, begun: Begun) -> None:
    """All angles are in one field and saved one by one. Bare numbers are degrees."""
    async with opened(make, DivideScreen(), lathe=METRIC) as (pilot, screen):
        await press(pilot, "up", "plus")
        await fill(pilot, "angles", "0; 37,5; 90d30m")
        assert screen.plan_input.parameters["angles"] == ["0 deg", "37,5 deg", "90d30m"]
        assert screen.plan is not None and screen.plan.figures["worst_error_arcsec"] == 0
        assert "7 turns 2°30'" in shown(pilot)


async def test_each_error_in_the_dividing_form_is_shown_beside_its_field(make: MakeApp, begun: Begun) -> None:
    """The error is shown at no other field, and no run can start. A list contains each position once."""
    async with opened(make, DivideScreen({"divisions": 5}), lathe=METRIC) as (pilot, screen):
        for text in ("1", "0", "10000", "2.5", "five"):
            await fill(pilot, "divisions", text)
            assert wrong(screen) == {"divisions"} and not screen.ready
        await press(pilot, "f5")
        assert begun == []
        await fill(pilot, "divisions", "5")
        for key, text in (("start", "x"), ("radius", "0")):
            await fill(pilot, key, text)
            assert wrong(screen) == {key}
            await fill(pilot, key, "")
        screen.query_one(OperationForm).choices["by"][1].focus()
        await press(pilot, "plus")
        for text in ("0; 90; 0", "0; 90 mm", ";"):
            await fill(pilot, "angles", text)
            assert wrong(screen) == {"angles"} and not screen.ready


async def test_the_fields_about_cutting_appear_only_after_a_depth_is_entered(make: MakeApp) -> None:
    """The fields about depth are hidden until a depth is entered."""
    async with opened(make, DivideScreen({"divisions": 4}), lathe=METRIC) as (pilot, screen):
        form = screen.query_one(OperationForm)
        assert not form.entries["cut"][1].display and not form.choices["depth_dial"][1].display
        await fill(pilot, "depth", "2")
        assert form.entries["cut"][1].display and form.choices["depth_dial"][1].display
        assert screen.plan_input.parameters == {
            "kind": "divide",
            "name": "Divide into 4",
            "divisions": 4,
            "depth": "2 mm",
            "depth_dial": "cross_slide",
        }
        await fill(pilot, "cut", "0.5")
        assert screen.plan is not None and screen.plan.figures["passes"] == 16
        await fill(pilot, "depth", "")
        assert "cut" not in screen.plan_input.parameters


async def test_editing_a_dividing_operation_shows_its_saved_values(make: MakeApp) -> None:
    """The fields show the operation's texts unchanged, and the plan equals the job's plan."""
    path = SAMPLES / "hour_lines.toml"
    operation = read_job(path).operations[0]
    async with opened(make, DivideScreen(operation.plan_input.parameters), job=path) as (_, screen):
        assert screen.plan_input == operation.plan_input
        assert screen.plan == operation.plan


async def test_editing_a_dividing_operation_shows_its_saved_list_of_angles(make: MakeApp) -> None:
    """One field shows a list of the job, and the same list is read back from that field."""
    keys = {"kind": "divide", "name": "Lines", "angles": ["0 deg", "37.5 deg", "90°30'"], "sense": "falling"}
    async with opened(make, DivideScreen(keys), lathe=METRIC) as (_, screen):
        assert screen.plan_input.parameters == keys


async def test_the_message_about_a_missing_rotary_table_names_the_key_for_adding_a_table(
    make: MakeApp, tmp_path: Path
) -> None:
    """The sentence names the missing rotary table and the key that opens its questions."""
    lathe = tmp_path / "bare.toml"
    lathe.write_text(BARE)
    async with opened(make, DivideScreen({"divisions": 4}), lathe=lathe) as (pilot, screen):
        assert not screen.ready
        for keys in ((), ("ctrl+r",)):
            await press(pilot, *keys)
            assert "(Bare)" in shown(pilot) and "key l" in shown(pilot)


async def test_the_message_about_a_missing_dividing_plate_suggests_the_dial_instead(make: MakeApp) -> None:
    """The job asks for a plate, but this table has only a dial. The refusal offers the dial."""
    async with opened(make, DivideScreen({"divisions": 4, "with": "plate"}), lathe=METRIC) as (pilot, screen):
        assert not screen.ready
        assert '"plate"' in shown(pilot) and '"dial"' in shown(pilot)


async def test_dividing_by_51_uses_compound_indexing_with_two_hole_circles(make: MakeApp, plates: Path) -> None:
    """No single hole circle divides 51 at 40:1. Handbooks print 10/15 + 2/17."""
    async with opened(make, DivideScreen({"divisions": 51}), lathe=plates, size=(120, 36)) as (pilot, _):
        assert " 10/15 + 2/17" in shown(pilot)


async def test_enter_copies_the_number_typed_in_the_division_table_into_the_form(make: MakeApp, plates: Path) -> None:
    """The number 7 gives 5 turns and 15 holes of 21 with sector arms 15 spaces apart. Enter puts 7 into the field."""
    async with opened(make, DivideScreen(), lathe=plates) as (pilot, screen):
        await press(pilot, "ctrl+r", "7")
        assert " 5 turns 15 holes" in shown(pilot) and " 15 spaces" in shown(pilot)
        await press(pilot, "enter")
        assert pilot.app.screen is screen
        assert screen.plan_input.parameters["divisions"] == 7 and screen.ready


async def test_enter_copies_the_number_selected_in_the_division_table_into_the_form(
    make: MakeApp, plates: Path
) -> None:
    """Down selects a row of exact numbers. Its answer is shown, and Enter puts its number into the field."""
    async with opened(make, DivideScreen(), lathe=plates) as (pilot, screen):
        await press(pilot, "ctrl+r", "down", "down", "down")
        assert " 6 notches" in shown(pilot)
        await press(pilot, "enter")
        assert screen.plan_input.parameters["divisions"] == 4


async def test_the_form_for_dividing_by_the_dial_names_a_hole_circle_that_would_be_exact(
    make: MakeApp, tmp_path: Path
) -> None:
    """72 / 7 is 10 turns and 6 of 21 holes. On a dial of 2' the worst of the seven is 51.4" off."""
    both = tmp_path / "both.toml"
    both.write_text(METRIC.read_text().replace("[rotary_table]", "[rotary_table]\nplates = [[21, 23]]"))
    async with opened(make, DivideScreen({"divisions": 7}), lathe=both) as (pilot, _):
        assert "0°00'51.4\"" in shown(pilot) and "circle 21" in shown(pilot)


async def test_the_division_table_lists_the_numbers_of_divisions_whose_steps_are_whole_degrees(make: MakeApp) -> None:
    """At 72:1, 10 deg is two turns and 8 deg is 1 turn 3 deg. All 24 rows can be scrolled into sight."""
    async with opened(make, DivideScreen(), lathe=METRIC) as (pilot, _):
        await press(pilot, "ctrl+r", "f6")
        assert "7 10 turns 1°26', worst 0°00'51\"" in shown(pilot)
        await press(pilot, "f6")
        assert "36 10° 2 turns 0°00'" in shown(pilot)
        await press(pilot, "down", "end")
        assert "360 1° 1°00'" in shown(pilot)
        assert "45 8° 1 turn 3°00'" in shown(pilot)
        await press(pilot, "home", "up")
        for typed in ("1", "10000", "x"):
            await press(pilot, *typed, "enter")
            assert isinstance(pilot.app.screen, DivisionsScreen)
            assert pilot.app.screen.query_one(QuantityField).error
            await press(pilot, "ctrl+u")


@pytest.mark.parametrize(("charset", "size"), [("console", (80, 24)), ("ascii", (40, 12))])
async def test_all_pages_of_the_dividing_form_use_only_characters_that_the_terminal_can_show(
    make: MakeApp, plates: Path, charset: Charset, size: tuple[int, int]
) -> None:
    """Every page and the division table are painted in characters of such a terminal."""
    safe = CONSOLE_SAFE if charset == "console" else ASCII_SAFE
    screen = DivideScreen({"divisions": 51, "radius": "30 mm"})
    terminal = Terminal(charset=charset, dots="ascii")
    async with opened(make, screen, lathe=plates, size=size, terminal=terminal) as (pilot, _):
        for _page in screen.PAGES:
            assert not foreign(pilot.app, safe)
            await press(pilot, "f6")
        await press(pilot, "ctrl+r")
        assert not foreign(pilot.app, safe)


async def test_the_picture_of_a_dividing_operation_numbers_every_position(make: MakeApp) -> None:
    """The numbers of 12 positions surround the circle, 1 at the right and 4 at the top."""
    terminal = Terminal(charset="ascii", dots="ascii")
    screen = DivideScreen({"divisions": 12})
    async with opened(make, screen, lathe=METRIC, terminal=terminal) as (pilot, _):
        await press(pilot, "f7")
        lines = painted(pilot.app).splitlines()
        place = {
            number: (row, line.index(f" {number} ") if f" {number} " in line else line.index(f" {number}"))
            for number in (1, 4, 7, 10)
            for row, line in enumerate(f"{line} " for line in lines[2:20])
            if f" {number} " in line
        }
        assert place[4][0] < place[1][0] < place[10][0]
        assert place[7][1] < place[4][1] < place[1][1]
        assert abs(place[1][0] - place[7][0]) <= 1


# The counter at the table.


async def counting(pilot: Pilot[None], *keys: str) -> CounterScreen:
    """Start counting the operation in the form, and press keys."""
    await press(pilot, "f5")
    await read_and_start(pilot)
    await press(pilot, *keys)
    assert isinstance(pilot.app.screen, CounterScreen)
    return pilot.app.screen


async def test_the_counter_of_a_dividing_operation_shows_dial_readings_and_turns(make: MakeApp) -> None:
    """The reading is large, with the turns from the last position beside it. A skip makes the next movement longer."""
    async with opened(make, DivideScreen({"divisions": 36, "radius": "50 mm"}), lathe=METRIC) as (pilot, _):
        counter = await counting(pilot, "2")
        # The zero that all is counted from cannot be set otherwise.
        assert pilot.app.screen is counter and said(pilot.app)
        await press(pilot, *["space"] * 4)
        seen = shown(pilot)
        assert "4 of 36" in seen and "2 turns" in seen and "30°00'" in seen
        assert counter.query_one(BigNumber).number == "2 turns 0°00'"
        await press(pilot, "7", "1")
        seen = shown(pilot)
        assert "5 of 36" in seen and "4 turns" in seen and "40°00'" in seen
        await press(pilot, "8", *"40-4", "enter")
        assert pilot.app.screen is counter and "0°04'" in shown(pilot)
        await press(pilot, "2", *"0-6", "enter")
        # 6 minutes of arc at 50 mm: 50 * 0.1 * pi / 180 = 0.087 mm.
        assert "0°06'" in shown(pilot) and "0.087 mm" in shown(pilot)
        assert entered(pilot.app)[1]["position"] == "401/10"


async def test_entering_the_hole_of_the_index_pin_changes_the_next_movement(make: MakeApp, plates: Path) -> None:
    """With a plate, the program asks for the hole and counts the next movement from that hole."""
    async with opened(make, DivideScreen({"divisions": 7}), lathe=plates) as (pilot, _):
        counter = await counting(pilot, *["space"] * 4)
        assert counter.query_one(BigNumber).number == "5 turns 15"
        await press(pilot, "2", *"10", "enter", "space")
        # 2 * 5 5/7 = 11 turns and 9 holes was wanted for the third; 10 was taken, so 14 in place of 15 are left.
        assert "5 turns and 14 holes" in shown(pilot)


async def test_entering_a_hole_without_whole_turns_lists_the_likely_positions(make: MakeApp, plates: Path) -> None:
    """Hole 15 of 21 after position 2 lists the likeliest position, one a turn off, and a check for each."""
    async with opened(make, DivideScreen({"divisions": 7}), lathe=plates) as (pilot, _):
        counter = await counting(pilot, *["space"] * 4)
        await press(pilot, "8", *"15", "enter")
        # Position 2 is at 360/7, 51°26'; a turn of the handle is 9°.
        for words in ("2 of 7", "42°26'", "60°26'", "(51°26')"):
            assert words in shown(pilot)
        await press(pilot, "2", *"15 h 42d", "enter")
        assert pilot.app.screen is counter
        assert "9°00'" in shown(pilot) and "6 turns and 15 holes" in shown(pilot)
        await press(pilot, "8", *"15", "enter", "1")
        assert pilot.app.screen is counter and counter.state.steps_done == 4
