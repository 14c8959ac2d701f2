"""The summary of a run and the record of a lathe, by keys and on the command line."""

import json
from pathlib import Path

import pytest
from textual.pilot import Pilot

from core.events.event import Event
from core.events.state import Origin
from core.inputs import Measured
from core.jobs.job import read_job
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.plan import Expects, Plan, Step
from core.record.lathe_notes import LatheNotes
from core.run.revising import revised_steps
from tests.conftest import MakeApp, ToldTime
from tests.tui.painted import painted
from tests.tui.runs_made import begin, begin_by_hand, job_file, run_through, sample
from tui.__main__ import main
from tui.board.card import CardScreen
from tui.counter.screen import CounterScreen
from tui.log_access import LogAccess
from tui.operation.divide_figures import at_pace
from tui.paths import Paths
from tui.pattern.screen import PatternScreen
from tui.reports.closing import ClosingScreen
from tui.reports.lathe_record import LatheRecordScreen
from tui.widgets.message_line import MessageLine
from tui.widgets.question import QuestionScreen


@pytest.fixture
def book(paths: Paths) -> Logbook:
    """Return the log that the program will open."""
    return Logbook.open(paths.data)


def measured_run(book: Logbook, tmp_path: Path, told_time: ToldTime) -> ActiveRun:
    """Return a finished run with one measurement of 23.33 mm, on work that started at 24 mm."""
    job = read_job(job_file(tmp_path))
    run = begin(book, job, "Rough the base", told_time.clock())
    while run.state.cursor is not None and run.state.cursor.action != "measure":
        told_time.pass_s(30)
        run.done()
    plan_input = job.operations[0].plan_input
    size = Measured(what="size", size_mm=20.43)
    run.revise(size, revised_steps(plan_input, run.state, size))
    run.note("tool was [dull]")
    run_through(run)
    run.close()
    return run


async def opened(pilot: Pilot[None], *keys: str) -> object:
    """Press keys, and return the screen that is on top afterwards."""
    await pilot.pause()
    for key in keys:
        await pilot.press(key)
        await pilot.pause()
    await pilot.pause()
    return pilot.app.screen


async def typed(pilot: Pilot[None], text: str) -> None:
    """Replace the text of the field and press Enter."""
    await pilot.press("ctrl+u", *("space" if sign == " " else sign for sign in text))
    await pilot.press("enter")
    await pilot.pause()


async def test_an_adjustment_of_a_dial_is_on_the_disk_before_the_page_reports_it_as_saved(
    make: MakeApp, book: Logbook, paths: Paths, tmp_path: Path, told_time: ToldTime
) -> None:
    """The file holds the adjustment of the cross-slide. Earlier measurements are counted separately."""
    measured_run(book, tmp_path, told_time)
    book.close()
    told_time.pass_s(600)
    async with make().run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, "f3", "w")
        assert isinstance(screen, LatheRecordScreen)
        lathe = screen.context.lathe
        await opened(pilot, "a", "1", str(2 + list(lathe.dials).index("cross_slide")))
        await typed(pilot, "gib adjusted")
        await typed(pilot, "yesterday")
        assert isinstance(pilot.app.screen, QuestionScreen)
        await typed(pilot, "2026-03-14 09:35")
        assert pilot.app.screen is screen
        (note,) = LatheNotes(paths.data).read().notes
        assert (note.dial, note.sort, note.when) == ("cross_slide", "adjustment", "2026-03-14T09:35:00+00:00")
        data = screen.data()
        (dial,) = data["dials"]
        assert [period["since"] for period in dial["periods"]] == [None, note.when]
        assert dial["periods"][0]["difference"]["measurements"] == 1
        await opened(pilot, "delete", "1", "1")
        assert LatheNotes(paths.data).read().notes == ()


async def test_a_note_about_the_lathe_that_cannot_be_saved_is_not_shown(
    make: MakeApp, paths: Paths, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If the disk refuses, the page shows the error and no note."""
    async with make().run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, "w")
        assert isinstance(screen, LatheRecordScreen)
        monkeypatch.setattr("core.record.lathe_notes.os.write", lambda handle, line: 0)
        await opened(pilot, "a", "2", "1")
        await typed(pilot, "belt new")
        await opened(pilot, "enter")
        assert "Not saved" in screen.query_one(MessageLine).sentence
        assert screen.data()["notes"] == []


async def test_the_summary_of_a_finished_run_can_be_exported(
    make: MakeApp, book: Logbook, tmp_path: Path, told_time: ToldTime
) -> None:
    """The page shows the note as typed. The JSON file holds the measurement."""
    measured_run(book, tmp_path, told_time)
    book.close()
    async with make().run_test(size=(120, 40)) as pilot:
        screen = await opened(pilot, "f3", "s")
        assert isinstance(screen, ClosingScreen) and screen.report is not None
        assert ("tool was [dull]") in str(screen.report)
        await opened(pilot, "x", "4")
        target = tmp_path / "closing.json"
        await typed(pilot, str(target))
        data = json.loads(target.read_text(encoding="utf-8"))
        assert [result["values"] for result in data["measured"]] == [{"size_mm": 20.43}]


async def test_the_header_of_the_summary_names_the_lathe_of_the_run(
    make: MakeApp, book: Logbook, told_time: ToldTime
) -> None:
    """The header names the lathe of the run, even though no job is open."""
    run = begin(book, sample("sundial_arbor.toml"), "Turn the thread blank", told_time.clock())
    run_through(run)
    run.close()
    book.close()
    async with make().run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, "f3", "s")
        assert isinstance(screen, ClosingScreen) and screen.context.lathe.example
        assert "Metric bench lathe" in painted(pilot.app).split("\n")[0]


async def test_the_s_key_on_the_counter_opens_the_summary_only_after_the_last_step(
    make: MakeApp, tmp_path: Path, told_time: ToldTime, book: Logbook
) -> None:
    """Before the last step, S asks for a reading instead."""
    job = job_file(tmp_path)
    run = begin(book, read_job(job), "Deburr", told_time.clock(), session="now")
    run.close()
    book.close()
    async with make(job=job).run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        while isinstance(pilot.app.screen, QuestionScreen):
            await opened(pilot, "n")
        counter = pilot.app.screen
        assert isinstance(counter, CounterScreen)
        assert not isinstance(await opened(pilot, "s"), ClosingScreen)
        await opened(pilot, "space")
        assert isinstance(await opened(pilot, "s"), ClosingScreen)
        assert await opened(pilot, "escape") is counter


def rings(book: Logbook, told_time: ToldTime, passes: int, first_passes: int = 0) -> None:
    """Log a pattern with this many positions on the sample's lathe: 6 s for each position and 11 s for each pass.

    `first_passes`: so many of the passes take 50 s.
    """
    steps = [
        Step(id=number + 1, action="cut" if number % 2 else "index", text="x", expects=Expects.NOTHING)
        for number in range(2 * passes)
    ]
    plan_input = sample("hour_lines.toml").operations[-1].plan_input
    run = begin_by_hand(book, plan_input, Plan(steps=tuple(steps)), told_time.clock())
    for number, step in enumerate(steps):
        told_time.pass_s(6 if step.action == "index" else 50 if number < 2 * first_passes else 11)
        run.done()
    run.close()


def test_the_usual_pace_is_calculated_from_the_last_passes_of_a_run(
    book: Logbook, paths: Paths, told_time: ToldTime
) -> None:
    """The first 200 passes took 50 s each, as long as the user was learning. The last 130 took 11 s."""
    rings(book, told_time, 330, first_passes=200)
    book.close()
    lathe_name = sample("hour_lines.toml").operations[-1].plan_input.lathe.name
    pace = LogAccess(paths.data, lambda: None).pace("pattern", lathe_name)
    assert pace is not None and (pace.pass_s, pace.position_s) == (11, 6)


def test_calculating_the_pace_reads_only_one_event_of_a_run_on_another_lathe(
    book: Logbook, paths: Paths, told_time: ToldTime, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first event names the lathe, so the others need not be read."""
    rings(book, told_time, 20)
    book.close()
    access, read, events_from = LogAccess(paths.data, lambda: None), list[int](), Logbook.events_from

    def counted_events(logbook: Logbook, run: str, first: int, limit: int) -> tuple[Event, ...]:
        events = events_from(logbook, run, first, limit)
        read.append(len(events))
        return events

    monkeypatch.setattr(Logbook, "events_from", counted_events)
    assert access.pace("pattern", "Another") is None
    assert read == [1]


@pytest.mark.parametrize(("passes", "is_known"), [(5, False), (9, True)])
async def test_the_form_of_a_pattern_estimates_the_time_from_logged_passes(
    make: MakeApp, book: Logbook, told_time: ToldTime, passes: int, is_known: bool
) -> None:
    """With enough passes, a position counts 6 s, a pass 11 s and any other step one minute."""
    rings(book, told_time, passes)
    book.close()
    operation = sample("hour_lines.toml").operations[-1]
    async with make(lathe=sample_lathe()).run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        screen = PatternScreen(operation.plan_input.parameters)
        await pilot.app.push_screen(screen)
        await pilot.pause()
        plan = screen.plan
        assert plan is not None
        actions = [step.action for step in plan.steps]
        cuts, turns = actions.count("cut"), actions.count("index")
        seconds = 11 * cuts + 6 * turns + 60 * (len(actions) - cuts - turns)
        figure = next(figure for figure in screen.figures(plan) if figure.name == "Time")
        assert ("your last" in figure.note) == is_known
        assert (f"about {seconds // 60} min at your pace" == figure.value) == is_known


async def test_the_card_of_a_pattern_estimates_the_time_from_logged_passes(
    make: MakeApp, book: Logbook, told_time: ToldTime
) -> None:
    """A position counts 6 s, a pass 11 s and any other step one minute."""
    rings(book, told_time, 9)
    book.close()
    job = sample("hour_lines.toml")
    async with make(job=job.path).run_test(size=(80, 60)) as pilot:
        await opened(pilot, "end", "c")
        card = pilot.app.screen
        assert isinstance(card, CardScreen)
        actions = [step.action for step in job.operations[-1].plan.steps]
        cuts, turns = actions.count("cut"), actions.count("index")
        seconds = 11 * cuts + 6 * turns + 60 * (len(actions) - cuts - turns)
        figures, names = at_pace(job.operations[-1], card.context.log.pace)
        assert figures["estimated_time_s"] == seconds
        assert "9 passes" in names["estimated_time_s"]
        assert "time from your last 9 passes" in painted(pilot.app)


def sample_lathe() -> Path:
    """Return the path of the sample's lathe file."""
    return Path(__file__).parents[3] / "sample_jobs" / "mixed_lathe.toml"


def test_the_summary_command_can_print_every_format(
    book: Logbook, paths: Paths, tmp_path: Path, told_time: ToldTime, capsys: pytest.CaptureFixture[str]
) -> None:
    """It prints the newest run of each operation, even if the job file is missing."""
    run = measured_run(book, tmp_path, told_time)
    assert isinstance(run.state.origin, Origin)
    book.close()
    job = run.state.origin.job_path
    for form in ("text", "markdown", "html", "json"):
        assert main(["summary", job, "--data", str(paths.data), "--format", form]) == 0
        page = capsys.readouterr().out
        assert "20.43" in page
        if form == "json":
            (data,) = json.loads(page)
            assert data["run"] == run.uid
    assert main(["summary", str(tmp_path / "none.toml"), "--data", str(paths.data)]) == 0
    assert "Nothing has been logged" in capsys.readouterr().out


def test_the_summary_command_reads_only_the_newest_run_of_an_operation(
    book: Logbook, paths: Paths, tmp_path: Path, told_time: ToldTime, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of three runs of one operation, the newest is read."""
    runs = [measured_run(book, tmp_path, told_time) for _ in range(3)]
    assert runs[0].state.origin is not None
    book.close()
    read, events = list[str](), Logbook.events
    monkeypatch.setattr(Logbook, "events", lambda logbook, run: read.append(run) or events(logbook, run))
    assert main(["summary", runs[0].state.origin.job_path, "--data", str(paths.data)]) == 0
    assert read == [runs[-1].uid]


def test_the_lathe_command_can_print_every_format(
    book: Logbook, paths: Paths, tmp_path: Path, told_time: ToldTime, capsys: pytest.CaptureFixture[str]
) -> None:
    """JSON and text have the same difference. So few measurements are not judged."""
    measured_run(book, tmp_path, told_time)
    book.close()
    for form in ("text", "markdown", "html", "json"):
        assert main(["lathe", "--data", str(paths.data), "--format", form]) == 0
        page = capsys.readouterr().out
        if form == "json":
            (dial,) = json.loads(page)["dials"]
            assert dial["periods"][0]["difference"]["measurements"] == 1
        else:
            assert "too few to judge" in page
    assert main(["lathe", "extra"]) == 2


async def test_the_record_of_a_lathe_does_not_replay_runs_of_other_lathes(
    make: MakeApp,
    book: Logbook,
    paths: Paths,
    tmp_path: Path,
    told_time: ToldTime,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Screen and command only need the name of such a lathe."""
    run = measured_run(book, tmp_path, told_time)
    other, replayed = run.state.plan_input.lathe_name, list[object]()
    book.close()
    monkeypatch.setattr("core.record.observations.replay_each", lambda events: replayed.extend(events) or iter(()))
    assert main(["lathe", "--data", str(paths.data), "--lathe", str(sample_lathe())]) == 0
    assert f"not counted here: {other}" in " ".join(capsys.readouterr().out.split())
    async with make(lathe=sample_lathe()).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, "f3", "w")
        assert isinstance(screen, LatheRecordScreen)
        assert screen.data()["other_lathes"] == [other]
    assert replayed == []
