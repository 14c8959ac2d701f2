"""The folders in which files are saved and found, the list of jobs, and the paths that F1 and the history show."""

from pathlib import Path

import pytest

from core.jobs.job import read_job
from core.logbook.logbook import Logbook
from core.logbook.merge import merge
from core.values.files import short_path
from tests.conftest import MakeApp, ToldTime
from tests.tui.made_up import paste, press, said
from tests.tui.painted import painted
from tests.tui.runs_made import JOB as RUNS_JOB
from tests.tui.runs_made import begin
from tui.app import HalfnutApp
from tui.board.known_jobs import MOST_RECENT, note_opened, own_jobs, recent_jobs
from tui.board.screen import BoardScreen
from tui.board.start_list import StartList
from tui.counter.caution_page import StartPage
from tui.counter.continue_question import WasItMoved
from tui.counter.screen import CounterScreen
from tui.paths import Paths, user_paths
from tui.widgets.path_question import PathQuestion

JOB = 'format = 1\ntitle = "{}"\n[[operation]]\nkind = "by_hand"\nname = "Deburr"\ntext = "Deburr."\n'


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Start the program in a working folder in which it must write nothing."""
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    return folder


def names(app: HalfnutApp) -> list[str]:
    """Return the names in the list of what to open."""
    return [entry.name for entry in app.screen.query_one(StartList)._entries]


async def test_a_new_job_saved_in_the_users_folder_is_listed_on_the_board(
    make: MakeApp, paths: Paths, here: Path
) -> None:
    """The folder is made when it is first needed. The job is listed before its first run.

    A job saved elsewhere by its path is listed too, also by the next program.
    """
    app = make()
    assert not paths.documents.exists()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        for title, place in (("Sundial", ""), ("Gnomon", f"{here}/mine.toml"), ("Plate", "plate")):
            app.context.job = None
            await press(pilot, "h")
            await paste(pilot, "Deburr.")
            await press(pilot, "f4")
            await paste(pilot, title)
            await press(pilot, "enter")
            if place:
                await press(pilot, "ctrl+u")
                await paste(pilot, place)
            await press(pilot, "enter", "enter", "escape", "o")
            assert isinstance(app.screen, BoardScreen) and title in names(app)
    assert read_job(paths.documents / "sundial.toml").title == "Sundial"
    # A name alone goes into the user's folder. A typed path is used as it is.
    assert read_job(paths.documents / "plate.toml").title == "Plate"
    assert [path.name for path in here.iterdir()] == ["mine.toml"]
    again = make()
    async with again.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert {"Sundial", "Gnomon", "Plate"} <= set(names(again))


async def test_an_export_suggests_an_unused_file_name_in_the_users_folder(
    make: MakeApp, paths: Paths, here: Path
) -> None:
    """A second export proposes another name. F1 and the history show every path with ~."""
    job = paths.documents.parent / "turned.toml"
    job.parent.mkdir(parents=True, exist_ok=True)
    job.write_text(JOB.format("Turned"))
    app = make(job=job)
    async with app.run_test(size=(80, 60)) as pilot:
        await press(pilot, "enter", "1", "0", "1", "f3")
        assert f"Job: Turned, {short_path(job)}" in " ".join(painted(app).split())
        await press(pilot, "x", "1", "enter", "x", "1", "enter")
        await press(pilot, "f1")
        shown = " ".join(painted(app).split())
        for folder in (paths.documents, paths.data, paths.config):
            assert short_path(folder).startswith("~/") and short_path(folder) in shown
    assert sorted(path.name for path in paths.documents.iterdir()) == ["halfnut-log.txt", "halfnut-log_2.txt"]
    assert not list(here.iterdir())


def test_each_user_has_a_separate_folder_for_jobs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The folder follows from --data, or from the desktop's folder for documents."""
    assert user_paths(tmp_path / "anna").documents.is_relative_to(tmp_path / "anna")
    monkeypatch.setenv("XDG_DOCUMENTS_DIR", str(tmp_path / "bert"))
    assert user_paths().documents.parent == tmp_path / "bert"


async def test_the_folder_for_jobs_can_be_on_a_usb_stick(make: MakeApp, paths: Paths, tmp_path: Path) -> None:
    """Keys set the folder. Its jobs are listed, and a new job is saved there.

    After the stick is pulled, an entry says so, and the program makes no folder of that name.
    """
    stick = tmp_path / "stick"
    stick.mkdir()
    (stick / "plate.toml").write_text(JOB.format("Plate"))
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "k", *["down"] * 4, "enter", "ctrl+u")
        await paste(pilot, f"{tmp_path}/none")
        await press(pilot, "enter")
        assert isinstance(app.screen, PathQuestion) and "There is no folder" in painted(app)
        await press(pilot, "ctrl+u")
        await paste(pilot, f"{stick}/")
        await press(pilot, "enter", "escape")
        assert "Plate" in names(app)
        await press(pilot, "h")
        await paste(pilot, "Deburr.")
        await press(pilot, "f4")
        await paste(pilot, "Dial")
        await press(pilot, "enter", "enter", "enter", "escape")
    assert read_job(stick / "dial.toml").title == "Dial"
    stick.rename(tmp_path / "pulled")
    again = make()
    async with again.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert again.context.jobs_folder == stick
        entries = again.screen.query_one(StartList)
        entries.cursor = names(again).index("The folder of jobs is missing")
        await press(pilot, "enter")
        assert "There is no folder" in painted(again)
        (tmp_path / "pulled").rename(stick)
        await press(pilot, "enter")
        assert not said(again) and "Plate" in names(again)
        await press(pilot, "k", *["down"] * 4, "delete")
        assert again.context.jobs_folder == paths.documents


async def test_passes_are_still_logged_after_the_usb_stick_with_the_job_file_is_removed(
    make: MakeApp, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The job was opened by a relative path on the stick."""
    (here / "plate.toml").write_text(JOB.format("Plate"))
    app = make(job=Path("plate.toml"))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        (here / "plate.toml").unlink()
        here.rmdir()
        await press(pilot, "enter", "1", "space", "escape", "1", "o")
        (info,) = app.context.log.logbook().runs()
        assert info.steps_done == 1 and info.origin and info.origin.job_path == str(here / "plate.toml")
        await press(pilot, "escape", "h")
        await paste(pilot, "Deburr.")
        await press(pilot, "f4", "enter")
        assert "There is no such file" in painted(app)
    monkeypatch.chdir(here.parent)


async def test_a_run_merged_from_another_log_can_be_continued_after_its_job_file_was_moved(
    make: MakeApp, paths: Paths, tmp_path: Path, told_time: ToldTime
) -> None:
    """The program asks for the path of the job. A new run for another piece can start instead."""
    there = tmp_path / "media" / "anna"
    there.mkdir(parents=True)
    (there / "base.toml").write_text(RUNS_JOB)
    with Logbook.open(tmp_path / "other") as other:
        run = begin(other, read_job(there / "base.toml"), "Rough the base", told_time.clock())
        run.done()
        run.close()
    here = there.rename(tmp_path / "bert")
    with Logbook.open(paths.data) as book:
        merge(book, tmp_path / "other")
    app = make(job=here / "base.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await press(pilot, "enter")
        assert "1 of " in painted(app) and "base.toml" in painted(app)
        await press(pilot, "1")
        while not isinstance(app.screen, WasItMoved):
            await pilot.pause()
        counter = app.screen_stack[-2]
        assert isinstance(counter, CounterScreen) and counter.run.uid == run.uid
        await press(pilot, "escape", "escape", "1", "enter", "2")
        assert isinstance(app.screen, StartPage)


async def test_the_list_of_recent_jobs_skips_missing_and_damaged_files(make: MakeApp, paths: Paths) -> None:
    """The newest jobs are first, and only a few are listed."""
    paths.documents.mkdir(parents=True)
    app = make()
    async with app.run_test():
        logbook = app.context.log.logbook()
        for number in range(MOST_RECENT + 2):
            path = paths.documents / f"job{number}.toml"
            path.write_text(JOB.format(f"Job {number}"))
            note_opened(paths.data, read_job(path))
        recent = recent_jobs(logbook, paths.data)
        assert [job.title for job in recent] == [f"Job {number}" for number in range(MOST_RECENT + 1, 1, -1)]
        recent[0].path.unlink()
        (paths.documents / "bad.toml").write_text("no TOML [")
        assert recent_jobs(logbook, paths.data)[0].title == f"Job {MOST_RECENT}"
        assert len(own_jobs(paths.documents)) == MOST_RECENT + 1
        (paths.data / "opened_jobs.json").write_text('[["a", 1, 2], 5')
        assert recent_jobs(logbook, paths.data) == []
        assert own_jobs(paths.documents / "none") == []
