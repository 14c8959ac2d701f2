"""The history: runs newest first and page by page, events in words, notes, export, merging, continuing."""

import csv
import json
from fractions import Fraction
from pathlib import Path

import pytest
from textual.events import Paste
from textual.pilot import Pilot

from core.events.event import Event
from core.inputs import Measured, SetTo
from core.jobs.job import read_job
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.logbook.merge import merge
from core.run.event_words import event_lines, wall_parts
from tests.conftest import MakeApp, ToldTime
from tests.tui.made_up import paste, press, said
from tests.tui.painted import foreign, painted
from tests.tui.runs_made import begin, begin_by_hand, job_file, pinned_collar_plan, run_through, sample
from tui.counter.screen import CounterScreen
from tui.glyphs import ASCII_SAFE
from tui.history.merging import MergeReportScreen
from tui.history.run_list import RunList
from tui.history.run_log import EventList, RunLogScreen
from tui.history.screen import PAGE, HistoryScreen
from tui.paths import Paths
from tui.terminal import Terminal
from tui.widgets.path_question import PathQuestion
from tui.widgets.question import QuestionScreen


@pytest.fixture
def book(paths: Paths) -> Logbook:
    """Return the log that the program will open."""
    return Logbook.open(paths.data)


def pinned(book: Logbook, told_time: ToldTime) -> ActiveRun:
    """Start a run of two cuts on a compound that was not at 0 at touch-off, and touch off at 0.012 in."""
    plan_input = sample("engraving_fixture.toml").operations[1].plan_input
    run = begin_by_hand(book, plan_input, pinned_collar_plan(), told_time.clock())
    run.done("3/250", "in")
    return run


def words_of(book: Logbook, run: ActiveRun) -> list[str]:
    """Return the events of a run in words."""
    return [line.words for line in event_lines(book.events(run.uid))]


def test_the_log_lists_each_pass_with_the_reading_that_the_dial_showed(book: Logbook, told_time: ToldTime) -> None:
    """Touched off at 0.012 in, the cut of 0.030 in was set at 0.012 + 0.030 = 0.042 in, 0.002 in past the dial's 0.

    The cut took 0.25 mm, which is 0.25 / 25.4 in on an inch dial.
    """
    run = pinned(book, told_time)
    run.done()
    touched, cut = words_of(book, run)[1:]
    assert " 0.012 in" in touched
    assert " 0.002 in" in cut and " 0.042" not in cut and cut.count(" 0.0098 in") == 2


def test_an_undone_event_stays_in_the_log_and_is_marked_as_undone(book: Logbook, told_time: ToldTime) -> None:
    """The undo names the event. The event that repeats the step is not marked."""
    run = pinned(book, told_time)
    run.done()
    run.undo()
    run.done()
    lines = list(event_lines(book.events(run.uid)))
    assert [line.undone for line in lines] == [False, False, True, False, False]
    assert " 0.03 in" in lines[3].words
    assert [line.step for line in lines] == ["", "1 of 3", "2 of 3", "", "2 of 3"]


def test_each_kind_of_event_in_the_log_has_its_own_description(book: Logbook, told_time: ToldTime) -> None:
    """Among the kinds are note, skip, repeat, new plan, early finish and reopening, each with its values."""
    run = pinned(book, told_time)
    run.note("the swarf is [blue]")
    run.skip([2], "not needed")
    run.reopen([1, 2])
    run.revise(Measured(what="pitch diameter", size_mm=24.95, free_end_mm=24.98), run.state.steps[1:])
    run.revise(SetTo(dial="compound", position=Fraction("0.01"), shown="11/500"), run.state.steps[1:])
    run.finish(early=True)
    run.undo()
    run.abandon("dropped")
    told = words_of(book, run)[2:]
    # 11/500 in is 0.022 in.
    from_inputs = (("the swarf is [blue]",), (" 0.03 in", "not needed"), (), (" 24.98 mm", " 24.95 mm"), (" 0.022 in",))
    assert len(set(told)) == len(told) == 8
    for words, texts in zip(told, (*from_inputs, (), (), ("dropped",)), strict=True):
        assert all(text in words for text in texts), words


def test_an_event_of_an_unknown_kind_is_shown_as_it_was_logged(book: Logbook, told_time: ToldTime) -> None:
    """A newer program may have logged the event. Its meaning is not guessed."""
    run = pinned(book, told_time)
    events = book.events(run.uid)
    odd = Event(seq=2, kind="done", body={"step": 99}, wall="2026-03-14", session="x", monotonic_ms=1)
    lines = list(event_lines([*events, odd, odd]))
    assert [line.event.seq for line in lines] == [0, 1, 2, 2]
    assert lines[2].words and lines[3].words == 'done {"step":99}'


def test_an_invalid_time_in_the_log_is_shown_as_text_without_control_characters() -> None:
    """The text is shortened and has no control characters."""
    assert wall_parts("2026-03-14T09:26:53+00:00") == ("2026-03-14", "09:26:53")
    assert wall_parts("\x1b[2J") == ("\ufffd[2J", "")


async def open_history(pilot: Pilot[None]) -> HistoryScreen:
    """Press the key of the history, and return the screen."""
    await pilot.pause()
    await pilot.press("f3")
    await pilot.pause()
    assert isinstance(pilot.app.screen, HistoryScreen)
    return pilot.app.screen


async def test_the_history_lists_the_newest_run_first(
    make: MakeApp, tmp_path: Path, book: Logbook, told_time: ToldTime
) -> None:
    """Each row has time, status and name. A later run is above an earlier one, whatever the clock says."""
    job = read_job(job_file(tmp_path))
    told_time.pass_s(7200)
    run_through(begin(book, job, "Rough the base", told_time.clock()))
    told_time.pass_s(-3600)
    begin(book, job, "Deburr", told_time.clock()).close()
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await open_history(pilot)
        lines = painted(app).splitlines()
        assert "2026-03-14 10:26" in lines[1] and " 0 of 1 " in lines[1] and "Deburr" in lines[1]
        assert "2026-03-14 11:26" in lines[2] and " ■ " in lines[2] and "Gnomon base" in lines[2]


async def test_the_history_loads_the_list_of_runs_page_by_page(
    make: MakeApp, tmp_path: Path, book: Logbook, told_time: ToldTime
) -> None:
    """The start reads one page, and scrolling reads the next. In the end every run was listed once."""
    job = read_job(job_file(tmp_path))
    count = PAGE + 5
    for _ in range(count):
        begin(book, job, "Deburr", told_time.clock()).close()
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await open_history(pilot)
        runs = screen.query_one(RunList)
        assert runs.count == PAGE
        numbers = []
        for _ in range(2):
            await pilot.press("end")
            await pilot.pause()
            assert runs.run_info is not None
            numbers.append(runs.run_info.number)
        assert runs.count == count
        assert numbers[-1] == 1


async def test_the_history_of_an_empty_log_shows_a_message(make: MakeApp) -> None:
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await open_history(pilot)
        assert said(app)


async def test_the_j_key_lists_only_the_runs_of_the_open_job(
    make: MakeApp, tmp_path: Path, book: Logbook, told_time: ToldTime
) -> None:
    """The same key lists all runs again."""
    path = job_file(tmp_path)
    run_through(begin(book, read_job(path), "Deburr", told_time.clock()))
    run_through(begin(book, sample("gnomon_screw.toml"), "Chamfer", told_time.clock()))
    app = make(job=path)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await open_history(pilot)
        assert screen.query_one(RunList).count == 2
        await pilot.press("j")
        await pilot.pause()
        assert screen.query_one(RunList).count == 1
        assert "Deburr" in painted(app) and "Chamfer" not in painted(app)
        await pilot.press("j")
        await pilot.pause()
        assert screen.query_one(RunList).count == 2


async def test_the_page_of_a_run_lists_every_event_with_its_step_reading_and_time(
    make: MakeApp, book: Logbook, told_time: ToldTime
) -> None:
    """Enter opens the run. The selected event is shown below in full."""
    run = pinned(book, told_time)
    told_time.pass_s(100)
    run.done()
    run.note("a very long note " + "so long that no line of eighty columns can hold it " * 3 + "END")
    run.close()
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await open_history(pilot)
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, RunLogScreen)
        text = painted(app)
        assert "09:26:53  1 of 3" in text and "09:28:33  2 of 3" in text and " 0.002 in" in text
        assert "END" in text
        await pilot.press("n")
        await pilot.pause()
        assert app.screen.query_one(EventList).count == 1
        await pilot.press("n", "home")
        await pilot.pause()
        assert "Metric lathe with an inch head" in " ".join(painted(app).split())


async def test_an_unfinished_run_can_be_continued_from_its_page_of_events(
    make: MakeApp, book: Logbook, told_time: ToldTime
) -> None:
    """A key opens the counter of the run."""
    pinned(book, told_time).close()
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await open_history(pilot)
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("g")
        await pilot.pause()
        counters = [screen for screen in app.screen_stack if isinstance(screen, CounterScreen)]
        assert len(counters) == 1
        assert counters[0].state.steps_done == 1


async def test_a_finished_run_cannot_be_continued_from_the_history(
    make: MakeApp, tmp_path: Path, book: Logbook, told_time: ToldTime
) -> None:
    """The key is dimmed and does nothing."""
    run_through(begin(book, read_job(job_file(tmp_path)), "Deburr", told_time.clock()))
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await open_history(pilot)
        await pilot.press("enter")
        await pilot.pause()
        assert app.screen.check_action("continue", ()) is None
        await pilot.press("g")
        await pilot.pause()
        assert isinstance(app.screen, RunLogScreen)


async def export(pilot: Pilot[None], form: str, path: Path) -> None:
    """Ask for an export to a file, in the form with this number in the list."""
    await pilot.press("x")
    await pilot.pause()
    await pilot.press(form)
    await pilot.pause()
    await pilot.press("ctrl+u")
    assert pilot.app.focused is not None
    pilot.app.focused.post_message(Paste(str(path)))
    await pilot.pause()
    await pilot.press("enter")
    await pilot.pause()
    await pilot.pause()


async def test_the_history_can_export_runs_as_csv_json_and_text(
    make: MakeApp, tmp_path: Path, book: Logbook, told_time: ToldTime
) -> None:
    """Python's readers of CSV and JSON find every event in the file. The text has a row for each event."""
    run = pinned(book, told_time)
    run.note('quote " and, comma')
    run.close()
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await open_history(pilot)
        for form, name in (("1", "log.txt"), ("2", "log.csv"), ("3", "log.json")):
            await export(pilot, form, tmp_path / name)
            assert (tmp_path / name).exists() and said(app)
        with (tmp_path / "log.csv").open(newline="", encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        assert [row["kind"] for row in rows] == ["begun", "done", "note"]
        assert json.loads(rows[2]["body"]) == {"text": 'quote " and, comma'}
        found = json.loads((tmp_path / "log.json").read_text(encoding="utf-8"))
        assert [event["kind"] for event in found[0]["events"]] == ["begun", "done", "note"]
        assert len((tmp_path / "log.txt").read_text(encoding="utf-8").splitlines()) == 4


async def test_an_exported_copy_of_the_log_can_be_merged_into_another_log(
    make: MakeApp, tmp_path: Path, book: Logbook, told_time: ToldTime
) -> None:
    """The copy holds the same runs."""
    run = pinned(book, told_time)
    run.close()
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await open_history(pilot)
        await export(pilot, "4", tmp_path / "copy.sqlite3")
    with Logbook.open(tmp_path / "other") as other:
        assert merge(other, tmp_path / "copy.sqlite3").counts == {"new": 1}
        assert other.events(run.uid) == book.events(run.uid)


async def test_an_export_never_overwrites_an_existing_file(
    make: MakeApp, tmp_path: Path, book: Logbook, told_time: ToldTime
) -> None:
    """A sentence refuses the path, and the file does not change."""
    pinned(book, told_time).close()
    (tmp_path / "kept.csv").write_text("mine")
    app = make()
    async with app.run_test(size=(100, 24)) as pilot:
        await open_history(pilot)
        await export(pilot, "2", tmp_path / "kept.csv")
        assert isinstance(app.screen, QuestionScreen)
        assert (tmp_path / "kept.csv").read_text() == "mine"


async def test_the_m_key_of_the_history_merges_the_log_of_another_computer(
    make: MakeApp, tmp_path: Path, book: Logbook, told_time: ToldTime
) -> None:
    """A path that is no log is refused in a sentence. After the merge, a page lists the added runs."""
    with Logbook.open(tmp_path / "there") as there:
        pinned(there, told_time).close()
    book.close()
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        history = await open_history(pilot)
        await press(pilot, "m", "ctrl+u")
        await paste(pilot, str(tmp_path))
        await press(pilot, "enter", "enter")
        assert isinstance(app.screen, PathQuestion) and "no logbook" in painted(app)
        await paste(pilot, "there/")
        await press(pilot, "enter")
        while not isinstance(app.screen, MergeReportScreen):
            await pilot.pause(0.01)
        await pilot.pause()
        assert "1 run added" in " ".join(painted(app).split())
        await press(pilot, "escape")
        assert app.screen is history and history.query_one(RunList).count == 1


async def test_two_continuations_of_one_run_are_listed_with_the_times_of_their_last_entries(
    make: MakeApp, tmp_path: Path, book: Logbook, told_time: ToldTime
) -> None:
    """Two computers continued one run. Both rows have the same name, start and progress."""
    run = pinned(book, told_time)
    run.close()
    with Logbook.open(tmp_path / "there") as there:
        merge(there, book.path)
        for hours, log in ((1, there), (2, book)):
            told_time.pass_s(hours * 3600)
            continued = ActiveRun.resume(log, run.uid, told_time.clock(), f"session {hours}")
            continued.note(f"continuation {hours}")
            continued.close()
        assert merge(book, there.path).counts == {"two": 1}
    last_entries = [" ".join(wall_parts(book.events(info.uid)[-1].wall)) for info in book.runs()]
    book.close()
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await open_history(pilot)
        rows = [row for row in painted(app).splitlines() if "until" in row]
        assert [row.split("until ")[1].strip() for row in rows] == [text[5:16] for text in last_entries]
        for text in last_entries:
            assert f"Last entry: {text}." in painted(app)
            await press(pilot, "down")


@pytest.mark.parametrize("size", [(80, 24), (120, 36), (40, 12), (24, 8)])
async def test_the_history_uses_only_ascii_characters_on_an_ascii_terminal(
    make: MakeApp, book: Logbook, told_time: ToldTime, size: tuple[int, int]
) -> None:
    """This holds at every size, also on a very small screen."""
    run = pinned(book, told_time)
    run.note("Ø 12 ± 0.1 \u202e[/] \x1b[2J")
    run.close()
    app = make(terminal=Terminal(charset="ascii", dots="ascii"))
    async with app.run_test(size=size) as pilot:
        await open_history(pilot)
        assert foreign(app, ASCII_SAFE) == set()
        await pilot.press("enter")
        await pilot.pause()
        assert foreign(app, ASCII_SAFE) == set()
        await pilot.press("n", "x")
        await pilot.pause()
        assert foreign(app, ASCII_SAFE) == set()
