"""The form of a runout check: its fields, readings typed or pasted earlier, and their result."""

from pathlib import Path
from typing import Any

import pytest

from core.jobs.job import read_job
from tests.conftest import MakeApp
from tests.tui.made_up import Begun, fill, opened, press, wrong
from tests.tui.painted import foreign, painted
from tui.glyphs import CONSOLE_SAFE
from tui.operation.form import OperationForm
from tui.operation.results import PICTURES
from tui.operation.screen import OperationScreen
from tui.runout.screen import RunoutScreen
from tui.terminal import Terminal

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
ARBOR = SAMPLES / "sundial_arbor.toml"
METRIC, INCH = SAMPLES / "metric_lathe.toml", SAMPLES / "inch_lathe.toml"
FOUR = ["0.10 mm", "0.02 mm", "-0.06 mm", "0.04 mm"]


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> Begun:
    """Record the plan input of a start instead of starting a run."""
    noted = Begun()
    monkeypatch.setattr("tui.runs.start_without_job", noted.begin)
    return noted


def choose(screen: OperationScreen, key: str, words: str) -> None:
    """Choose a word of a field with keys."""
    field = screen.query_one(OperationForm).choices[key][1]
    while field.value != words:
        field.action_choose(1)


async def test_readings_pasted_into_the_runout_form_show_their_result(make: MakeApp, begun: Begun) -> None:
    """Worked by hand: 0.08 and -0.01 are half of each pair's difference, so the work is 0.081 mm high at 352.9°."""
    async with opened(make, RunoutScreen(), lathe=METRIC, size=(160, 40)) as (pilot, screen):
        choose(screen, "spread", "4")
        choose(screen, "workholding", "four jaw")
        await fill(pilot, "tolerance", "0.02")
        await fill(pilot, "readings", '["0.10 mm", "0.02 mm", "-0.06 mm", "0.04 mm"]')
        shown = " ".join(painted(pilot.app).split())
        for number in ("0.16 mm", "0.081 mm ± 0.004 mm", "352.9°", "0.08 mm"):
            assert f" {number}" in shown
        await press(pilot, "f5")
    table: dict[str, Any] = {
        "kind": "runout",
        "name": "Runout outside",
        "surface": "outside",
        "workholding": "four jaw",
    }
    table |= {"positions": 4, "tolerance": "0.02 mm", "readings": FOUR}
    assert [plan_input.parameters for plan_input in begun] == [table]


async def test_a_runout_form_without_readings_shows_the_expected_uncertainty(make: MakeApp) -> None:
    """The uncertainty of the result follows from the number of readings and the graduation."""
    async with opened(make, RunoutScreen(), lathe=METRIC, size=(160, 40)) as (pilot, screen):
        # Twice the standard error 0.01 / sqrt 12 x sqrt(2 / 8) (GUM F.2.2.1).
        assert "± 0.003 mm" in painted(pilot.app)
        choose(screen, "spread", "4")
        await pilot.pause()
        await pilot.pause()
        assert "± 0.004 mm" in painted(pilot.app)


TABLES: list[dict[str, Any]] = [
    {"positions": 8, "surface": "outside", "planes": 1, "diameter": "20 mm"},
    {"readings": FOUR, "drift": "0.01 mm"},
    {"positions": 5, "readings": [*FOUR, "0 mm"]},
    {"readings": [*FOUR, "0 mm"]},
    {
        "surface": "bore",
        "stylus_angle": "15 deg",
        "angles": ["0 deg", "100 deg", "200°30'"],
        "workholding": "three jaw",
    },
    {"planes": 2, "apart": "40 mm", "workholding": "flange", "bolt_circle": "50 mm", "readings": [FOUR, FOUR]},
    {"surface": "face", "diameter": "60 mm", "bolt_circle": "50 mm"},
]


async def test_editing_a_runout_check_keeps_every_value(make: MakeApp) -> None:
    """Lists, whole numbers and missing keys are the same before and after."""
    async with opened(make, RunoutScreen(), lathe=METRIC) as (pilot, _):
        for table in TABLES:
            parameters = {"kind": "runout", "name": "Check", **table}
            screen = RunoutScreen(parameters)
            pilot.app.switch_screen(screen)
            await pilot.pause()
            await pilot.pause()
            assert screen.plan_input.parameters == parameters
            assert screen.ready
        operation = next(operation for operation in read_job(ARBOR).operations if operation.kind == "runout")
        screen = RunoutScreen(operation.plan_input.parameters)
        pilot.app.switch_screen(screen)
        await pilot.pause()
        await pilot.pause()
        assert (screen.plan_input.parameters, screen.plan) == (operation.plan_input.parameters, operation.plan)


async def test_the_runout_form_shows_only_the_fields_that_apply_to_the_choices(make: MakeApp) -> None:
    """Own marks, two planes and a bolt circle have fields only if they are chosen."""
    async with opened(make, RunoutScreen(), lathe=METRIC) as (pilot, screen):
        form = screen.query_one(OperationForm)

        def asked(key: str) -> bool:
            return bool(form.entries[key][1].display)

        assert not any(map(asked, ("apart", "angles", "positions", "bolt_circle", "readings_second", "drift")))
        choose(screen, "planes", "two planes")
        choose(screen, "spread", "own marks")
        choose(screen, "workholding", "flange")
        await fill(pilot, "readings", "0 0.02 0.01")
        assert all(map(asked, ("apart", "angles", "bolt_circle", "readings_second", "drift")))
        assert not screen.ready
        await fill(pilot, "angles", "0 120 240")
        await fill(pilot, "apart", "40")
        await fill(pilot, "readings_second", "0 0.01 0.02")
        assert screen.ready
        assert screen.plan_input.parameters["readings"] == [
            ["0 mm", "0.02 mm", "0.01 mm"],
            ["0 mm", "0.01 mm", "0.02 mm"],
        ]
        choose(screen, "surface", "face")
        await pilot.pause()
        await pilot.pause()
        assert "planes" not in screen.plan_input.parameters


REFUSED = [
    ("readings", "0 0.1"),
    ("readings", "0 high 0"),
    ("readings", "0 nan 0 1"),
    ("angles", "0 90"),
    ("angles", "0 90 90"),
    ("angles", "0 1 2"),
    ("stylus_angle", "85"),
]


async def test_each_error_in_the_runout_form_is_shown_beside_its_field(make: MakeApp) -> None:
    """No other field shows the error, no run can start, and typed text stays."""
    parameters = {"kind": "runout", "angles": ["0 deg", "90 deg", "180 deg"], "readings": FOUR[:3]}
    async with opened(make, RunoutScreen(parameters), lathe=METRIC) as (pilot, screen):
        for key, text in REFUSED:
            before = screen.query_one(OperationForm).entries[key][1].text
            await fill(pilot, key, text)
            assert wrong(screen) == {key}, text
            assert not screen.ready
            await fill(pilot, key, before)
        # The indicator has slipped. The drift has the error, and the readings stay in their field.
        assert screen.ready
        await fill(pilot, "drift", "0.2")
        assert wrong(screen) == {"drift"}
        assert screen.plan_input.parameters["readings"] == FOUR[:3]


async def test_readings_without_a_unit_are_read_as_inches_on_an_inch_lathe(make: MakeApp) -> None:
    """24 readings in one field are inches, and none is cut off."""
    async with opened(make, RunoutScreen(), lathe=INCH) as (pilot, screen):
        choose(screen, "spread", "24")
        await fill(pilot, "readings", " ".join(["-0.0015"] * 23 + ["0.00149999"]))
        readings = screen.plan_input.parameters["readings"]
        assert (len(readings), readings[0], readings[-1]) == (24, "-0.0015 in", "0.00149999 in")


async def test_the_polar_picture_shows_the_readings_the_jaws_and_the_scale(make: MakeApp) -> None:
    """On the bare console, the picture uses only its characters. The signs and the order of the marks are drawn too."""
    console = Terminal(charset="console", dots="ascii", sixteen_colours=True)
    parameters = {"kind": "runout", "readings": FOUR, "workholding": "three jaw", "diameter": "20 mm"}
    async with opened(make, RunoutScreen(parameters), lathe=METRIC, terminal=console) as (pilot, screen):
        await press(pilot, "f7")
        shown = painted(pilot.app)
        assert screen.page == PICTURES and "120 J2" in shown and "0.05 mm" in shown
        assert foreign(pilot.app, CONSOLE_SAFE) == set()
        await press(pilot, "pagedown", "pagedown")
        assert painted(pilot.app) != shown


async def test_the_help_of_the_runout_form_explains_the_signs_and_the_order_of_marks(make: MakeApp) -> None:
    """F1 shows the meaning of + on each surface, and the order of the marks."""
    async with opened(make, RunoutScreen(), size=(80, 120)) as (pilot, _):
        await press(pilot, "f1")
        assert "  270 |  +  | 90" in painted(pilot.app)
