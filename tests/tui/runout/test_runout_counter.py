"""The counter of a runout check, driven by real keys. The tests check log, state and screen."""

import re
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest
from textual.events import Key, Paste

from core.inputs import Moved, ReadingsTaken
from core.run.runout_view import RunoutView, runout_view
from tests.conftest import MakeApp, ToldTime
from tests.tui.counter.test_instrument import idle
from tests.tui.counter.test_instrument import typed as typed_by_instrument
from tests.tui.counters import Opening, entered, logged, press, read_and_start
from tests.tui.made_up import said
from tests.tui.painted import foreign, painted
from tui.counter.continue_question import WasItMoved
from tui.glyphs import ASCII_SAFE, CONSOLE_SAFE
from tui.runout.counter import RunoutCounter
from tui.runout.polar_picture import PolarPicture
from tui.runout.reading_entry import ReadingEntry
from tui.runs import open_run
from tui.terminal import Terminal
from tui.widgets.question import OneOf, Typed, YesNo

LATHE = """\
format = 1
name = "Bench"
[indicator]
graduation = "0.01 mm"
[chuck]
jaw_lead = "4 mm"
"""
JOB = """\
format = 1
title = "Arbor"
lathe = "lathe.toml"
[[operation]]
kind = "runout"
name = "Check the spigot"
positions = 4
diameter = "20 mm"
tolerance = "0.02 mm"
workholding = "four jaw"
"""
# The work is 0.08 mm off towards mark 0 and 0.03 mm towards mark 90. Each is half the difference of a pair.
TURN = ("0.08", "0.03", "-0.08", "-0.03")
Opened = tuple[Any, RunoutCounter]


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """Return the path of a job with one runout check, on a lathe with an indicator."""
    (tmp_path / "lathe.toml").write_text(LATHE)
    path = tmp_path / "arbor.toml"
    path.write_text(JOB)
    return path


@asynccontextmanager
async def opened(make: MakeApp, job: Path, size: tuple[int, int] = (80, 24), **more: Any) -> AsyncIterator[Opened]:
    """Open the check as the board does, start it, and do the steps before the first reading."""
    app = make(job=job, opening=Opening, **more)
    async with app.run_test(size=size) as pilot:
        assert app.context.job is not None
        open_run(app.context, app.context.job.operations[0])
        await read_and_start(pilot)
        assert isinstance(app.screen, RunoutCounter)
        await press(pilot, "space")
        yield pilot, app.screen


async def read(pilot: Any, *readings: str) -> None:
    """Enter readings. Each reading goes into the field as a whole, because typing has its own tests."""
    for reading in readings:
        pilot.app.screen.query_one(ReadingEntry).text = reading
        await press(pilot, "enter")


def values(app: Any) -> list[tuple[str, str]]:
    """Return value and unit of each reading on disk."""
    state = logged(app)
    marks = (state.results[step.id] for step in state.done_steps)
    return [(mark.value, mark.unit or "") for mark in marks if mark.value is not None]


def seen(screen: RunoutCounter) -> RunoutView:
    """Return the core's view of the run on the screen."""
    return runout_view(screen.plan_input, screen.state)


def told(screen: RunoutCounter) -> set[str]:
    """Return the kinds of result sentences on the screen: "verdict", "asked", "changed", "do", "known"."""
    return {found.kind for found in seen(screen).findings}


def shown(app: Any) -> str:
    """Return the painted text next to the picture as one row."""
    return " ".join(" ".join(line[39:] for line in painted(app).splitlines()).split())


async def test_each_runout_reading_is_on_the_disk_before_the_next_mark_is_shown(make: MakeApp, job: Path) -> None:
    """The reading is saved as typed, with its unit. Figures appear after enough readings."""
    async with opened(make, job) as (pilot, screen):
        assert " 0° " in shown(pilot.app)
        await press(pilot, *TURN[0], "enter")
        assert values(pilot.app) == [("0.08", "mm")]
        assert seen(screen).mark_deg == 90 and " 90° " in shown(pilot.app)
        assert seen(screen).figures == () and "±" not in shown(pilot.app)
        await read(pilot, *TURN[1:3])
        assert seen(screen).figures and "±" in shown(pilot.app)
        await read(pilot, TURN[3])
        assert " 0.085 mm ± 0.004 mm" in shown(pilot.app)
        assert screen.state.cursor is not None
        assert screen.state.cursor.reading_at is not None and screen.state.cursor.reading_at.angle_deg is None


async def test_after_the_closing_reading_of_a_turn_the_moves_of_the_jaws_are_planned(make: MakeApp, job: Path) -> None:
    """Jaws 1 and 2 each move by half the difference of their pair of readings."""
    async with opened(make, job) as (pilot, screen):
        await read(pilot, *TURN, "0.08")
        assert entered(pilot.app)[0] == "measured"
        assert entered(pilot.app)[1]["closing_mm"] == 0.08
        assert told(screen) >= {"verdict", "do"}
        await press(pilot, "enter")
        assert screen.state.cursor is not None and screen.state.cursor.extra["move"]
        # A jaw screw of 4 mm a turn moves 0.08 mm in 7°.
        assert " 0.08 mm (7° " in shown(pilot.app)


async def test_another_turn_of_readings_is_offered_after_the_last_move(make: MakeApp, job: Path) -> None:
    """After the second turn, the results compare both turns. A key ends the check."""
    async with opened(make, job) as (pilot, screen):
        await read(pilot, *TURN)
        await press(pilot, "k", "enter", "enter", "enter", "enter")
        assert isinstance(pilot.app.screen, OneOf)
        await press(pilot, "1", "enter")
        assert len(seen(screen).sets) == 2 and seen(screen).previous_set is not None
        await read(pilot, "0", "0", "0", "0.01")
        await press(pilot, "k")
        assert told(screen) >= {"changed", "verdict"} and not seen(screen).move_advised
        assert "0.085 mm" in shown(pilot.app) and "0.005 mm" in shown(pilot.app)
        kinds = [type(revision.entered) for revision in logged(pilot.app).revisions]
        assert kinds == [ReadingsTaken, Moved, ReadingsTaken]
        # Within the tolerance there is no further question.
        while screen.state.cursor is not None:
            await press(pilot, "enter")
        await press(pilot, "enter")
        assert logged(pilot.app).status == "finished"


async def test_the_up_and_down_keys_change_a_reading_by_one_graduation(make: MakeApp, job: Path) -> None:
    """Readings in graduations are logged as graduations. The key / changes the unit."""
    async with opened(make, job) as (pilot, screen):
        entry = screen.query_one(ReadingEntry)
        await press(pilot, "slash", "minus", "3")
        assert entry.unit == "marks" and "= -0.03 mm" in painted(pilot.app)
        await press(pilot, "enter", "up", "up")
        assert entry.text == "-1"
        await press(pilot, "down", "enter")
        await press(pilot, "slash", "down")
        assert (entry.text, entry.unit) == ("-0.03", "mm")
        assert values(pilot.app) == [("-3", "marks"), ("-2", "marks")]
        assert seen(screen).turn_readings_mm == pytest.approx((-0.03, -0.02))


async def test_backspace_in_an_empty_field_brings_back_the_last_reading(
    make: MakeApp, job: Path, told_time: ToldTime
) -> None:
    """In a filled field, Backspace deletes a character."""
    async with opened(make, job) as (pilot, screen):
        entry = screen.query_one(ReadingEntry)
        await read(pilot, "0.08", "0.3")
        await press(pilot, "5", "backspace")
        assert entry.text == ""
        assert len(values(pilot.app)) == 2
        # This is the same correction: a held Backspace brings no reading back.
        await press(pilot, "backspace")
        assert len(values(pilot.app)) == 2
        told_time.pass_s(2)
        later = Key("backspace", None)
        later.time += 2
        pilot.app.post_message(later)
        await pilot.pause()
        await pilot.pause()
        assert entry.text == "0.3"
        assert values(pilot.app) == [("0.08", "mm")]
        assert screen.state.cursor is not None
        assert screen.state.cursor.reading_at.angle_deg == 90
        await press(pilot, "backspace", "0", "3", "enter")
        assert values(pilot.app)[-1] == ("0.03", "mm")


async def test_correcting_the_last_reading_of_a_turn_plans_the_moves_again(
    make: MakeApp, job: Path, told_time: ToldTime
) -> None:
    """The earlier moves are undone with the reading."""
    async with opened(make, job) as (pilot, screen):
        await read(pilot, *TURN, "0.09")
        told_time.pass_s(2)
        await press(pilot, "backspace")
        assert screen.query_one(ReadingEntry).text == "0.09"
        assert logged(pilot.app).revisions == ()
        await press(pilot, "backspace", "8", "enter")
        assert entered(pilot.app)[1]["closing_mm"] == 0.08


async def test_a_reading_far_from_the_other_readings_must_be_confirmed(make: MakeApp, job: Path) -> None:
    """A reading a thousand times as large as the others can be corrected in the field, or kept."""
    async with opened(make, job) as (pilot, screen):
        await read(pilot, "0.03", "30")
        assert isinstance(pilot.app.screen, YesNo)
        await press(pilot, "1")
        assert screen.query_one(ReadingEntry).text == "30"
        assert len(values(pilot.app)) == 1
        await press(pilot, "enter", "0")
        assert values(pilot.app)[-1] == ("30", "mm")


async def test_no_move_is_planned_from_readings_during_which_the_indicator_slipped(make: MakeApp, job: Path) -> None:
    """A sentence gives the reason and no reading is lost. The turn is read again."""
    async with opened(make, job) as (pilot, screen):
        await read(pilot, *TURN, "0.3")
        assert told(screen) == {"asked"}
        assert len(values(pilot.app)) == 5
        assert logged(pilot.app).revisions == ()
        await press(pilot, "r", "1")
        assert entered(pilot.app)[0] == "moved"


async def test_an_invalid_indicator_reading_is_never_logged(make: MakeApp, job: Path) -> None:
    """A sentence gives the reason. The text stays in the field."""
    async with opened(make, job) as (pilot, screen):
        for text in ("", "-", "1.2.3", "nan"):
            screen.show_message("")
            await read(pilot, text)
            assert said(pilot.app)
            assert screen.query_one(ReadingEntry).text == text
        assert values(pilot.app) == []


@pytest.mark.parametrize("gap_s", [0.0, 0.005, 0.03, 0.1])
async def test_a_reading_sent_by_a_digital_indicator_is_logged(make: MakeApp, job: Path, gap_s: float) -> None:
    """A digital indicator types sign, number and line end. A number typed quickly enough replaces earlier text."""
    async with opened(make, job, quiet_s=0.8) as (pilot, screen):
        await idle(pilot)
        assert screen.reads
        await typed_by_instrument(pilot, "-0,03\n", gap_s)
        await typed_by_instrument(pilot, "+0.08\r\n", gap_s)
        assert values(pilot.app) == [("-0.03", "mm"), ("0.08", "mm")] or (
            gap_s > 0.03 and values(pilot.app) == [("-0,03", "mm"), ("+0.08", "mm")]
        )


async def test_a_pasted_reading_is_logged_in_the_unit_that_it_contains(make: MakeApp, job: Path) -> None:
    """A pasted reading of 1 thou is 0.0254 mm (1 in = 25.4 mm)."""
    async with opened(make, job) as (pilot, _):
        pilot.app.post_message(Paste("1 thou\n"))
        await pilot.pause()
        await pilot.pause()
        await press(pilot, "enter")
        assert values(pilot.app) == [("0.025400000", "mm")]


async def test_a_typed_reading_is_logged_in_the_unit_typed_after_it(make: MakeApp, job: Path) -> None:
    """Spaces and letters after a digit belong to the reading. In an empty field they are keys of the screen."""
    async with opened(make, job) as (pilot, _):
        await press(pilot, *"2", "space", *"thou", "enter")
        assert values(pilot.app) == [("0.050800000", "mm")]
        await press(pilot, "n")
        assert isinstance(pilot.app.screen, Typed) and len(values(pilot.app)) == 1


async def test_reading_the_same_turn_twice_gives_one_combined_result(make: MakeApp, job: Path) -> None:
    """The second turn is planned only by its key. The result uses both turns."""
    async with opened(make, job) as (pilot, screen):
        await press(pilot, "t")
        assert isinstance(pilot.app.screen, RunoutCounter)
        await read(pilot, *TURN)
        await press(pilot, "k", "t", "1")
        assert seen(screen).again
        await read(pilot, "0.09", "0.03", "-0.08", "-0.04")
        await press(pilot, "k")
        logged = entered(pilot.app)[1]
        assert logged["again_mm"] == pytest.approx([0.09, 0.03, -0.08, -0.04])
        first = seen(screen).current_set.planes[1]
        assert first.repeatability_mm is not None
        assert first.readings_mm == pytest.approx((0.085, 0.03, -0.08, -0.035))


async def test_readings_in_two_planes_separate_the_tilt_of_the_work_from_its_offset(make: MakeApp, job: Path) -> None:
    """The planes are read one after the other. The result of both gives tilt and offset separately."""
    job.write_text(JOB + 'planes = 2\napart = "40 mm"\n')
    async with opened(make, job) as (pilot, screen):
        await read(pilot, *TURN)
        await press(pilot, "k", "space")
        assert seen(screen).plane == 2
        await read(pilot, *(reading.removeprefix("-") if "-" in reading else f"-{reading}" for reading in TURN))
        await press(pilot, "k")
        assert any("0.171 mm" in found.words and "40 mm" in found.words for found in seen(screen).findings)
        assert entered(pilot.app)[1]["readings_mm"][1] == pytest.approx([-0.08, -0.03, 0.08, 0.03])


async def test_the_keys_for_note_repeat_and_close_work_during_a_runout_check(make: MakeApp, job: Path) -> None:
    """Digits go into the field. The keys for note, repeat and close each ask one question."""
    async with opened(make, job) as (pilot, screen):
        await read(pilot, *TURN[:2])
        await press(pilot, "n", *"oil", "enter")
        assert logged(pilot.app).notes[-1].text == "oil"
        await press(pilot, "g", "1")
        assert screen.state.cursor is not None
        assert screen.state.cursor.reading_at.angle_deg == 90
        await press(pilot, "4", "escape")
        assert isinstance(pilot.app.screen, YesNo)
        await press(pilot, "0")
        assert screen.query_one(ReadingEntry).text == "4"
        await press(pilot, "escape", "1")
        assert isinstance(pilot.app.screen, Opening)


async def test_an_interrupted_runout_check_continues_at_the_same_mark(make: MakeApp, job: Path) -> None:
    """After its question, another program shows the same mark, unit and readings."""
    async with opened(make, job) as (pilot, _):
        await press(pilot, "slash")
        await read(pilot, "8", "3")
    app = make(job=job, opening=Opening)
    async with app.run_test(size=(80, 24)) as pilot:
        assert app.context.job is not None
        open_run(app.context, app.context.job.operations[0])
        while not isinstance(app.screen, WasItMoved):
            await pilot.pause()
        await press(pilot, "n")
        assert isinstance(app.screen, RunoutCounter)
        assert " 180° " in shown(app)
        assert app.screen.query_one(ReadingEntry).unit == "marks"
        await read(pilot, "-8", "-3")
        assert " 0.085 mm" in shown(app)


async def test_reopening_a_runout_check_after_a_complete_turn_plans_the_missing_moves(make: MakeApp, job: Path) -> None:
    """The program ended after the last reading was logged, but before the moves were planned."""
    async with opened(make, job) as (pilot, screen):
        await read(pilot, *TURN)
        screen.run.done("0.08", "mm")
        assert logged(pilot.app).revisions == ()
    app = make(job=job, opening=Opening)
    async with app.run_test(size=(80, 24)) as pilot:
        assert app.context.job is not None
        open_run(app.context, app.context.job.operations[0])
        while not isinstance(app.screen, WasItMoved):
            await pilot.pause()
        await press(pilot, "n")
        assert entered(app)[0] == "measured"
        assert isinstance(app.screen, RunoutCounter) and told(app.screen) >= {"verdict", "do"}


async def test_a_second_copy_of_the_program_cannot_log_runout_readings(make: MakeApp, job: Path) -> None:
    """The second program shows the readings but no field."""
    async with opened(make, job) as (pilot, _):
        await read(pilot, *TURN[:3])
        other = make(job=job, opening=Opening)
        async with other.run_test(size=(80, 24)) as second:
            assert other.context.job is not None
            open_run(other.context, other.context.job.operations[0])
            while not isinstance(other.screen, RunoutCounter):
                await second.pause()
            await second.pause()
            assert other.screen.blocked and "±" in painted(other)
            await press(second, "5", "enter")
            assert len(values(other)) == 3


INCH_DIALS = """\
[dial.cross_slide]
per_turn = "0.1 in"
graduation = "0.001 in"
reads = "diameter"
"""


@pytest.mark.parametrize(("typed", "keys", "value_mm"), [("0.03", (), 0.03), ("3", ("slash",), 0.03)])
async def test_readings_without_a_unit_are_in_the_unit_of_the_indicator(
    make: MakeApp, job: Path, typed: str, keys: tuple[str, ...], value_mm: float
) -> None:
    """On a lathe with inch dials and a millimetre indicator, a number without a unit is in mm or graduations."""
    (job.parent / "lathe.toml").write_text(LATHE + INCH_DIALS)
    async with opened(make, job) as (pilot, screen):
        entry = screen.query_one(ReadingEntry)
        assert entry.units == ("mm", "marks", "in")
        assert entry.unit == "mm"
        await press(pilot, *keys, *typed)
        assert entry.read_mm() == pytest.approx(value_mm)
        assert ("= 0.03 mm" in painted(pilot.app)) is bool(keys)
        await press(pilot, "enter")
        await read(pilot, *(f"{reading} mm" for reading in TURN[1:]), typed)
        # The closing reading is in the same unit, and all results are in the indicator's unit.
        assert " 0.11 mm" in shown(pilot.app)
        words = [found.words for found in seen(screen).findings] + [
            figure.value for _, figures in seen(screen).figures for figure in figures
        ]
        assert not re.search(r"\.\d+ in\b", " ".join(words))


@pytest.mark.parametrize(
    ("terminal", "safe"),
    [
        (Terminal(charset="console", dots="ascii", sixteen_colours=True), CONSOLE_SAFE),
        (Terminal(charset="ascii", dots="ascii"), ASCII_SAFE),
    ],
)
async def test_a_plain_terminal_draws_the_runout_readings_as_letters(
    make: MakeApp, job: Path, terminal: Terminal, safe: frozenset[str]
) -> None:
    """The picture uses only characters that such a terminal has. Letters mark the readings and the high spot."""
    async with opened(make, job, terminal=terminal) as (pilot, _):
        await read(pilot, *TURN)
        drawn = "".join(line[:39] for line in painted(pilot.app).splitlines()[1:16])
        assert foreign(pilot.app, safe) == set()
        assert drawn.count("o") >= 3 and "H" in drawn


async def test_a_small_terminal_shows_the_next_mark_and_the_field_for_the_reading(make: MakeApp, job: Path) -> None:
    """At 40x12 both are visible, and a key shows the picture."""
    async with opened(make, job, size=(40, 12)) as (pilot, _):
        await read(pilot, *TURN[:3])
        entry = pilot.app.screen.query_one(ReadingEntry)
        assert " 270° " in painted(pilot.app) and "[_" in painted(pilot.app) and entry.is_on_screen
        await press(pilot, "f6")
        assert "[_" in painted(pilot.app) and pilot.app.screen.query_one(PolarPicture).is_on_screen
