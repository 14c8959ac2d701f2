"""The runout screen: what is set up, readings typed or pasted beforehand, what comes of them at once."""

from pathlib import Path
from typing import Any

import pytest

from core.jobs import read_job
from tests.conftest import MakeApp
from tests.tui.made_up import Begun, error_of, fill, opened, press
from tests.tui.painted import foreign, painted
from tui.glyphs import CONSOLE_SAFE
from tui.screens.operation import OperationScreen
from tui.screens.runout import RunoutScreen
from tui.terminal import Terminal
from tui.widgets.operation_form import OperationForm

SAMPLES = Path(__file__).parents[2] / "sample_jobs"
METRIC, INCH = SAMPLES / "metric_lathe.toml", SAMPLES / "inch_lathe.toml"
FOUR = ["0.10 mm", "0.02 mm", "-0.06 mm", "0.04 mm"]


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> Begun:
    """Take note of what a run would be begun from, in place of beginning it."""
    noted = Begun()
    monkeypatch.setattr("tui.runs.begin_ad_hoc", noted.begin)
    return noted


def choose(screen: OperationScreen, key: str, words: str) -> None:
    """Choose a word as its keys would."""
    field = screen.query_one(OperationForm).choices[key][1]
    while field.value != words:
        field.action_choose(1)


async def test_readings_pasted_from_a_job_file(make: MakeApp, begun: Begun) -> None:
    """The worked example of the notes: 0.08 and -0.01, so 0.081 high at 352.9; half of each pair's difference."""
    async with opened(make, RunoutScreen(), lathe=METRIC, size=(160, 40)) as (pilot, screen):
        choose(screen, "spread", "4")
        choose(screen, "holding", "four jaw")
        await fill(pilot, "tolerance", "0.02")
        await fill(pilot, "readings", '["0.10 mm", "0.02 mm", "-0.06 mm", "0.04 mm"]')
        shown = " ".join(painted(pilot.app).split())
        assert "Movement (FIM) 0.16 mm" in shown
        assert "Eccentricity 0.081 mm ± 0.004 mm" in shown
        assert "High spot 352.9°" in shown
        assert "press jaw 1 in by 0.08 mm" in shown
        await press(pilot, "f5")
    table: dict[str, Any] = {"kind": "runout", "name": "Runout outside", "surface": "outside", "holding": "four jaw"}
    table |= {"positions": 4, "tolerance": "0.02 mm", "readings": FOUR}
    assert [basis.parameters for basis in begun] == [table]


async def test_before_any_reading(make: MakeApp) -> None:
    """How well it can be told, and what could be mistaken for what, is said beforehand."""
    async with opened(make, RunoutScreen(), lathe=METRIC, size=(160, 40)) as (pilot, screen):
        shown = " ".join(painted(pilot.app).split())
        # 0.01 / sqrt 12 x sqrt(2 / 8) (GUM F.2.2.1), twice that.
        assert "Eccentricity to ± 0.003 mm" in shown
        choose(screen, "spread", "4")
        await pilot.pause()
        await pilot.pause()
        shown = " ".join(painted(pilot.app).split())
        assert "Eccentricity to ± 0.004 mm" in shown
        assert "a three-lobed part" in shown


TABLES: list[dict[str, Any]] = [
    {"positions": 8, "surface": "outside", "planes": 1, "diameter": "20 mm"},
    {"readings": FOUR, "drift": "0.01 mm"},
    {"positions": 5, "readings": [*FOUR, "0 mm"]},
    {"readings": [*FOUR, "0 mm"]},
    {"surface": "bore", "stylus_angle": "15 deg", "angles": ["0 deg", "100 deg", "200°30'"], "holding": "three jaw"},
    {"planes": 2, "apart": "40 mm", "holding": "flange", "bolt_circle": "50 mm", "readings": [FOUR, FOUR]},
    {"surface": "face", "diameter": "60 mm", "bolt_circle": "50 mm"},
]


async def test_an_operation_of_a_job_comes_back_as_it_was(make: MakeApp) -> None:
    """Key for key, lists as lists, whole numbers as such, and what was left out stays so."""
    async with opened(make, RunoutScreen(), lathe=METRIC) as (pilot, _):
        for table in TABLES:
            given = {"kind": "runout", "name": "Check", **table}
            screen = RunoutScreen(given)
            pilot.app.switch_screen(screen)
            await pilot.pause()
            await pilot.pause()
            assert screen.basis.parameters == given
            assert screen.ready


async def test_the_sample_comes_back_as_it_was(make: MakeApp) -> None:
    """Parameters and plan."""
    path = SAMPLES / "sundial_arbor.toml"
    operation = next(operation for operation in read_job(path).operations if operation.kind == "runout")
    async with opened(make, RunoutScreen(operation.basis.parameters), job=path) as (_, screen):
        assert screen.basis == operation.basis
        assert screen.plan == operation.plan


async def test_fields_come_and_go(make: MakeApp) -> None:
    """Own marks, two planes, a bolt circle: asked only where they apply."""
    async with opened(make, RunoutScreen(), lathe=METRIC) as (pilot, screen):
        form = screen.query_one(OperationForm)

        def asked(key: str) -> bool:
            return bool(form.entries[key][1].display)

        assert not any(map(asked, ("apart", "angles", "positions", "bolt_circle", "readings_second", "drift")))
        choose(screen, "planes", "two planes")
        choose(screen, "spread", "own marks")
        choose(screen, "holding", "flange")
        await fill(pilot, "readings", "0 0.02 0.01")
        assert all(map(asked, ("apart", "angles", "bolt_circle", "readings_second", "drift")))
        assert not screen.ready
        await fill(pilot, "angles", "0 120 240")
        await fill(pilot, "apart", "40")
        await fill(pilot, "readings_second", "0 0.01 0.02")
        assert screen.ready
        assert screen.basis.parameters["readings"] == [
            ["0 mm", "0.02 mm", "0.01 mm"],
            ["0 mm", "0.01 mm", "0.02 mm"],
        ]
        choose(screen, "surface", "face")
        await pilot.pause()
        await pilot.pause()
        assert "planes" not in screen.basis.parameters


REFUSED = [
    ("readings", "0 0.1", "accepted is one for each"),
    ("readings", "0 high 0", "accepted"),
    ("readings", "0 nan 0 1", "accepted"),
    ("angles", "0 90", "3 or more"),
    ("angles", "0 90 90", "90° twice"),
    ("angles", "0 1 2", "too close together"),
    ("stylus_angle", "85", "at most 80"),
]


async def test_what_is_refused(make: MakeApp) -> None:
    """Beside its field, in a sentence; nothing can be started."""
    given = {"kind": "runout", "angles": ["0 deg", "90 deg", "180 deg"]}
    async with opened(make, RunoutScreen(given), lathe=METRIC) as (pilot, screen):
        for key, text, words in REFUSED:
            before = screen.query_one(OperationForm).entries[key][1].text
            await fill(pilot, key, text)
            assert words in error_of(screen, key)
            assert not screen.ready
            await fill(pilot, key, before)


async def test_a_drift_too_large_keeps_the_readings(make: MakeApp) -> None:
    """The indicator has slipped: said at the drift, the readings stay typed."""
    given = {"kind": "runout", "readings": FOUR}
    async with opened(make, RunoutScreen(given), lathe=METRIC) as (pilot, screen):
        await fill(pilot, "drift", "0.2")
        assert "slipped" in error_of(screen, "drift")
        assert screen.basis.parameters["readings"] == FOUR


async def test_inches_on_an_inch_lathe(make: MakeApp) -> None:
    """Bare numbers are inches, 24 of them in one line and none cut off."""
    async with opened(make, RunoutScreen(), lathe=INCH) as (pilot, screen):
        choose(screen, "spread", "24")
        await fill(pilot, "readings", " ".join(["-0.0015"] * 23 + ["0.00149999"]))
        readings = screen.basis.parameters["readings"]
        assert (len(readings), readings[0], readings[-1]) == (24, "-0.0015 in", "0.00149999 in")


async def test_the_picture_page(make: MakeApp) -> None:
    """Readings, jaws, scale; on the bare console with its characters only; signs and order of marks are drawn."""
    console = Terminal(charset="console", dots="ascii", sixteen_colours=True)
    given = {"kind": "runout", "readings": FOUR, "holding": "three jaw", "diameter": "20 mm"}
    async with opened(make, RunoutScreen(given), lathe=METRIC, terminal=console) as (pilot, _):
        await press(pilot, "f7")
        shown = painted(pilot.app)
        assert "[PICTURES]" in shown
        assert "120 J2" in shown
        assert "A ring is 0.05 mm (5 graduations)" in shown
        assert foreign(pilot.app, CONSOLE_SAFE) == set()
        await press(pilot, "pagedown", "pagedown")
        assert "Mark 0 is read first" in painted(pilot.app)


async def test_help_draws_the_conventions(make: MakeApp) -> None:
    """Stated and drawn: what + means on each surface, the order of the marks."""
    async with opened(make, RunoutScreen(), size=(80, 120)) as (pilot, _):
        await press(pilot, "f1")
        shown = painted(pilot.app)
        assert "     indicator            _________                |" in shown
        assert "  270 |  +  | 90" in shown
        assert "+ when the plunger is pushed in" in shown
