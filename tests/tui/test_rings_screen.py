"""The rings screen: every ring by keyboard, what is left open worked out, what is wrong said, the pattern drawn."""

import math
from pathlib import Path
from typing import Any

import pytest

from core.jobs import read_job
from tests.conftest import MakeApp
from tests.tui.made_up import Begun, error_of, fill, opened, press
from tests.tui.painted import foreign, painted
from tui.glyphs import ASCII_SAFE
from tui.screens.operation import OperationScreen
from tui.screens.rings import RingsScreen
from tui.screens.rings_form import RingList, RingsForm
from tui.terminal import Terminal

SAMPLES = Path(__file__).parents[2] / "sample_jobs"
LATHE = SAMPLES / "mixed_lathe.toml"
JOB = SAMPLES / "hour_lines.toml"
ONE: dict[str, Any] = {"tip_angle": "90 deg", "ring": [{"count": 36, "offset": "20 mm", "cutter_radius": "12 mm"}]}


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> Begun:
    """Take note of what a run would be begun from, in place of beginning it."""
    noted = Begun()
    monkeypatch.setattr("tui.runs.begin_ad_hoc", noted.begin)
    return noted


def three_rings() -> RingsScreen:
    """Return the screen with rings of 5, 6 and 7 circles."""
    rings = [{"count": count, "offset": "20 mm", "cutter_radius": "3 mm", "depth": "0.4 mm"} for count in (5, 6, 7)]
    return RingsScreen({"tip_angle": "90 deg", "ring": rings})


def counts(screen: OperationScreen) -> list[Any]:
    """Return the counts of the rings as the operation's table has them."""
    return [ring.get("count") for ring in screen.basis.parameters["ring"]]


async def test_an_operation_of_a_job_comes_back_as_it_was(make: MakeApp) -> None:
    """The fields hold the rings of a job file: text for text, and the plan is that of the job."""
    operation = read_job(JOB).operations[-1]
    async with opened(make, RingsScreen(operation.basis.parameters), job=JOB) as (pilot, screen):
        assert screen.basis == operation.basis
        assert screen.plan == operation.plan
        screen.query_one(RingList).focus()
        await press(pilot, "down")
        assert screen.basis == operation.basis
        assert "Ring 2 of 2" in painted(pilot.app) and "10, 20, 30" in painted(pilot.app)


async def test_a_pattern_typed_from_nothing(make: MakeApp, begun: Begun) -> None:
    """Two rings by keys alone, then counted; the table is what a job file would hold."""
    async with opened(make, RingsScreen(), lathe=LATHE, size=(80, 24)) as (pilot, screen):
        await fill(pilot, "tip_angle", "60")
        await fill(pilot, "count", "12")
        await fill(pilot, "offset", "20")
        await press(pilot, "enter", "right", "enter")
        await fill(pilot, "depth", "0.4")
        await fill(pilot, "left_out", "every 4th")
        screen.query_one(RingList).focus()
        await press(pilot, "end", "enter")
        await press(pilot, "ctrl+u", *"8")
        await fill(pilot, "offset", "11")
        await press(pilot, "f5")
    first = {"count": 12, "offset": "20 mm", "cutter_radius": "touch", "depth": "0.4 mm", "left_out": [4, 8, 12]}
    second = {**first, "count": 8, "offset": "11 mm", "left_out": [4, 8]}
    assert [basis.parameters["ring"] for basis in begun] == [[first, second]]
    assert begun[0].parameters["tip_angle"] == "60 deg" and "face_runout" not in begun[0].parameters


async def test_what_was_left_open_is_worked_out_and_filled_in(make: MakeApp) -> None:
    """36 circles that just touch: which radius, which offset, how many? One key puts the answer in."""
    cases: list[tuple[str, str, dict[str, str], float]] = [
        ("cutter_radius", "equals_sign", {"count": "36", "offset": "20"}, 20 * math.sin(math.pi / 36)),
        ("offset", "asterisk", {"count": "36", "cutter_radius": "5"}, 5 / math.sin(math.pi / 36)),
        ("count", "equals_sign", {"offset": "20", "cutter_radius": "2"}, math.floor(math.pi / math.asin(2 / 20))),
    ]
    async with opened(make, RingsScreen(), lathe=LATHE) as (pilot, screen):
        field = screen.query_one(RingsForm).entries
        for key, fill_in, others, expected in cases:
            for other, text in {key: "", **others}.items():
                await fill(pilot, other, text)
            field[key][1].focus()
            assert "press =" in field[key][1].hint and not screen.ready
            await press(pilot, fill_in)
            assert screen.ready
            found = str(screen.basis.parameters["ring"][0][key]).split()[0]
            assert float(found) == pytest.approx(expected, abs=6e-5)


async def test_the_key_that_fills_in_does_so_from_every_field(make: MakeApp) -> None:
    """Neither = nor * belongs into any field of numbers, nor among the positions left out."""
    async with opened(make, RingsScreen(), lathe=LATHE) as (pilot, screen):
        field = screen.query_one(RingsForm).entries
        for key in ("tip_angle", "start", "depth", "left_out", "tilt"):
            for other, text in {"cutter_radius": "", "count": "36", "offset": "20"}.items():
                await fill(pilot, other, text)
            field[key][1].focus()
            await press(pilot, "equals_sign")
            assert screen.ready, key


async def test_circles_that_meet_at_the_centre_and_grooves_that_touch(make: MakeApp) -> None:
    """The choice beside the fields says what the one that was left open is for."""
    given = {"tip_angle": "90 deg", "ring": [{"count": 12, "offset": "20 mm", "depth": "0.5 mm"}]}
    async with opened(make, RingsScreen(given), lathe=LATHE) as (pilot, screen):
        form = screen.query_one(RingsForm)
        form.choices["meeting"][1].focus()
        await press(pilot, "right")
        assert form.answer is not None
        assert float(form.answer.text.split()[0]) == pytest.approx(20 * math.sin(math.pi / 12) - 0.5, abs=6e-5)
        await press(pilot, "right")
        assert form.answer is not None and form.answer.text == "20 mm"


async def test_why_nothing_fits_is_said(make: MakeApp) -> None:
    """A cutter that reaches further than the offset: the inequality and what would satisfy it."""
    async with opened(make, RingsScreen(), lathe=LATHE) as (pilot, screen):
        await fill(pilot, "offset", "5")
        await fill(pilot, "cutter_radius", "6")
        shown = " ".join(painted(pilot.app).split())
        assert "must not reach further than the offset, 5 mm" in shown and "at least 6 mm" in shown
        assert not screen.ready


async def test_rings_are_added_moved_and_taken_away(make: MakeApp) -> None:
    """By a, n, b and x in the list; the fields follow; the only ring stays."""
    async with opened(make, three_rings(), lathe=LATHE) as (pilot, screen):
        screen.query_one(RingList).focus()
        await press(pilot, "down", "n")
        assert counts(screen) == [5, 7, 6]
        await press(pilot, "b", "b")
        assert counts(screen) == [6, 5, 7]
        await press(pilot, "x")
        assert counts(screen) == [5, 7] and "Ring 1 of 2" in painted(pilot.app)
        await press(pilot, "a")
        assert counts(screen) == [5, 5, 7]
        await press(pilot, "delete", "delete", "delete")
        assert len(counts(screen)) == 1 and "The only ring stays" in painted(pilot.app)
        await press(pilot, *["insert"] * 12)
        assert len(counts(screen)) == 12 and "12 rings already" in painted(pilot.app)


async def test_a_change_is_not_lost_unasked(make: MakeApp) -> None:
    """A ring that was only moved is something to lose as well."""
    async with opened(make, three_rings(), lathe=LATHE) as (pilot, screen):
        screen.query_one(RingList).focus()
        await press(pilot, "n", "escape")
        assert "Leave this page?" in painted(pilot.app)


async def test_what_is_wrong_is_said_beside_its_field(make: MakeApp, begun: Begun) -> None:
    """What was found and what is accepted; nothing can be started meanwhile."""
    cases = (
        ("count", "0", "36", "from 1 to 360"),
        ("offset", "0", "20", "all 36 circles would be one"),
        ("left_out", "evry 4", "", "every 4th"),
        ("left_out", "40", "", "from 1 to 36"),
        ("tip_angle", "180", "90", "at most 175"),
        ("depth", "-1", "", "more than 0"),
    )
    async with opened(make, RingsScreen(ONE), lathe=LATHE) as (pilot, screen):
        for key, wrong, right, said in cases:
            assert screen.ready
            await fill(pilot, key, wrong)
            assert said in error_of(screen, key)
            await press(pilot, "f5")
            assert begun == [] and not screen.ready
            await fill(pilot, key, right)


async def test_what_is_wrong_in_another_ring_is_said_by_its_number(make: MakeApp) -> None:
    """The list marks it, and a sentence names ring and field; going there shows it beside the field."""
    async with opened(make, three_rings(), lathe=LATHE) as (pilot, screen):
        await fill(pilot, "depth", "0")
        screen.query_one(RingList).focus()
        await press(pilot, "down")
        shown = painted(pilot.app)
        assert "1: ! 5 at 20 mm" in shown and "Ring 1: Depth: found" in shown
        assert error_of(screen, "depth") == ""
        await press(pilot, "up")
        assert "more than 0" in error_of(screen, "depth")


async def test_figures_effects_and_picture(make: MakeApp) -> None:
    """Spacing, overlap, groove, settings of both dials, how rings lie, what errors do, and the pattern itself."""
    operation = read_job(JOB).operations[-1]
    async with opened(make, RingsScreen(operation.basis.parameters), job=JOB, size=(120, 50)) as (pilot, screen):
        shown = painted(pilot.app)
        for words in (
            "neighbours",
            "7.108 mm apart  tips touch",
            "groove",
            "0.8 mm wide",
            "13 turns and 1.00 mm",
            "0.028 in below 0, where it reads 0.022",
            "Rings 1, 2",
            "crossings",
        ):
            assert words in shown
        await fill(pilot, "face_runout", "0.1")
        screen.action_scroll_body(1)
        await press(pilot, "f6", "f7")
        found = {figure.name: figure.value for figure in screen.further_figures(screen.plan)}  # type: ignore[arg-type]
        assert found["Face 0.1 mm: ring 1"] == "groove 0.6 mm to 0.8 mm"
        assert not any("bare" in caution for caution in screen.cautions(screen.plan))  # type: ignore[arg-type]
        await fill(pilot, "face_runout", "0.5")
        bare = [caution for caution in screen.cautions(screen.plan) if "bare" in caution]  # type: ignore[arg-type]
        assert bare[0] == (
            "Ring 1: a patch stays bare. The face is up to 0.5 mm lower, the cut 0.4 mm deep: "
            "cut deeper, or set the face true."
        )
        await fill(pilot, "face_runout", "0.1")
        assert "Holds" not in shown
        await press(pilot, "f6", "f6")
        assert sum("\u2800" < letter <= "\u28ff" for letter in painted(pilot.app)) > 200


@pytest.mark.parametrize("size", [(80, 24), (40, 12)])
async def test_every_field_is_reached_at_every_size(make: MakeApp, size: tuple[int, int]) -> None:
    """Down from the first field to the last, and each of them is in sight when the keys are with it."""
    async with opened(make, three_rings(), lathe=LATHE, size=size) as (pilot, screen):
        seen = set()
        for _ in range(40):
            focused = screen.focused
            assert focused is not None
            seen.add(focused.id or (focused.parent.id if focused.parent else ""))
            assert focused.region.overlaps(screen.query_one("#left").region)
            if focused.id == "doings":
                break
            await pilot.press("down")
            await pilot.pause()
        wanted = {
            f"field-{key}" for key in ("tip_angle", "count", "offset", "cutter_radius", "left_out", "cut", "tilt")
        }
        assert wanted | {"rings", "doings"} <= seen


async def test_only_characters_that_the_terminal_has(make: MakeApp) -> None:
    """In plain ASCII, on every page, fields to pictures; the pattern by numbers there."""
    terminal, safe = Terminal(charset="ascii", dots="ascii"), ASCII_SAFE
    operation = read_job(JOB).operations[-1]
    async with opened(make, RingsScreen(operation.basis.parameters), job=JOB, terminal=terminal) as (pilot, screen):
        for _ in range(4):
            assert foreign(pilot.app, safe) == set()
            if screen.page == "pictures":
                assert " 21 " in painted(pilot.app)
            await press(pilot, "f6")
