"""The board: a job with its progress from the log, what can be opened without one, errors of files."""

import sqlite3
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from textual.events import Paste
from textual.pilot import Pilot

from core.jobs.job import read_job
from core.logbook.logbook import Logbook
from core.logbook.schema import FILE_NAME
from core.operations.registry import OPERATIONS
from tests.conftest import MakeApp, ToldTime
from tests.tui.counters import read_and_start
from tests.tui.made_up import said
from tests.tui.painted import foreign, painted
from tests.tui.runs_made import JOB, begin, begin_by_hand, job_file, pinned_collar_plan, run_through, sample
from tui.board.card import CardScreen
from tui.board.operation_list import OperationList
from tui.board.screen import BoardScreen
from tui.board.start_list import StartList
from tui.counter.screen import CounterScreen
from tui.glyphs import ASCII_SAFE, CONSOLE_SAFE
from tui.operation.screen import OperationScreen
from tui.paths import Paths
from tui.terminal import Terminal
from tui.widgets.file_errors import FileErrorsScreen
from tui.widgets.pager import Pager


@pytest.fixture
def job_path(tmp_path: Path) -> Path:
    """Return a job file of three operations on the example lathe."""
    return job_file(tmp_path)


def line_of(app: object, words: str) -> str:
    """Return the one painted line that holds `words`."""
    lines = [line for line in painted(app).splitlines() if words in line]  # type: ignore[arg-type]
    assert len(lines) == 1, painted(app)  # type: ignore[arg-type]
    return lines[0]


def logged_runs(paths: Paths) -> list[tuple[str, str]]:
    """Return operation and status of every run in the log's file, read without the program's help."""
    file = paths.data / FILE_NAME
    if not file.exists():
        return []
    connection = sqlite3.connect(file)
    rows = connection.execute("SELECT op_name, status FROM run ORDER BY number").fetchall()
    connection.close()
    return rows


async def test_progress_is_shown_in_words_and_in_signs(
    make: MakeApp, job_path: Path, paths: Paths, told_time: ToldTime
) -> None:
    """ "Finished", the count of steps done and "not started" are shown, each with its own sign."""
    job = read_job(job_path)
    with Logbook.open(paths.data) as book:
        run_through(begin(book, job, "Rough the base", told_time.clock()))
        run = begin(book, job, "Deburr", told_time.clock())
        run.abandon("the wrong part")
        run.close()
    app = make(job=job_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        lines = [line_of(app, name) for name in ("Rough the base", "Deburr", "Thread the stem")]
        assert [line.split()[1 + line.startswith("▶")] for line in lines] == ["■", "-", "·"]
        assert " 0 of 1" in lines[1]
        # Each says how it stands in other words.
        assert len({line[line.index("  ") :].strip() for line in lines}) == 3


async def test_cursor_is_on_the_run_under_way(make: MakeApp, job_path: Path, paths: Paths, told_time: ToldTime) -> None:
    """The board counts the steps of the run and points at it. Closing the counter leads back there."""
    job = read_job(job_path)
    with Logbook.open(paths.data) as book:
        run = begin(book, job, "Thread the stem", told_time.clock())
        for _ in range(3):
            run.done()
        run.close()
        steps = len(run.state.steps)
    app = make(job=job_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        while not isinstance(app.screen, BoardScreen):
            app.pop_screen()
            await pilot.pause()
        # The board is made now, and reads the log once it has been painted.
        await pilot.pause()
        assert f"3 of {steps}" in line_of(app, "Thread the stem")
        assert app.screen.query_one(OperationList).cursor == 2


async def test_cursor_is_on_the_first_unfinished_operation(
    make: MakeApp, job_path: Path, paths: Paths, told_time: ToldTime
) -> None:
    """If the first operation is finished, the cursor is on the second."""
    with Logbook.open(paths.data) as book:
        run_through(begin(book, read_job(job_path), "Rough the base", told_time.clock()))
    app = make(job=job_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert app.screen.query_one(OperationList).cursor == 1
        assert line_of(app, "Deburr").startswith("▶")


async def test_enter_starts_the_operation_and_logs_it(make: MakeApp, job_path: Path, paths: Paths) -> None:
    """Enter asks once, then the counter opens and the run is in the log. On the board it is shown as open."""
    app = make(job=job_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("down")
        await pilot.press("enter")
        await pilot.pause()
        assert logged_runs(paths) == []
        await read_and_start(pilot)
        assert isinstance(app.screen, CounterScreen)
        assert logged_runs(paths) == [("Deburr", "running")]
        app.pop_screen()
        await pilot.pause()
        assert "0 of 1" in line_of(app, "Deburr")


async def test_the_card_shows_figures_cautions_and_every_step(make: MakeApp, job_path: Path) -> None:
    """The keys for pages reach its last step, and Esc closes it."""
    app = make(job=job_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("end", "c")
        await pilot.pause()
        assert isinstance(app.screen, CardScreen)
        assert "CAUTIONS" in painted(app)
        assert "example lathe" in painted(app)
        seen = painted(app)
        while not app.screen.query_one(Pager).is_vertical_scroll_end:
            await pilot.press("pagedown")
            await pilot.pause()
            seen += painted(app)
        # ISO 261: M10 is of the coarse series with a pitch of 1.5 mm.
        assert "1.5 mm" in seen
        last = app.context.job.operations[2].plan.steps[-1].text  # type: ignore[union-attr]
        assert last[:30] in painted(app)
        await pilot.press("escape")
        await pilot.pause()
        assert isinstance(app.screen, BoardScreen)


async def test_without_a_job_the_samples_are_listed(make: MakeApp) -> None:
    """Each sample has its title. Opening one copies its lathe too, and lathes are not listed."""
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        for name in ("sundial_arbor.toml", "gnomon_screw.toml", "engraving_fixture.toml"):
            assert sample(name).title in painted(app)
        assert "Nine-inch lathe" not in painted(app)
        await pilot.press("enter")
        await pilot.pause()
        assert app.context.job is not None
        assert app.context.lathe is app.context.job.lathe
        assert app.context.job.operations[0].name in painted(app)
        assert app.context.job.lathe.name in painted(app).splitlines()[0]


async def test_recent_jobs_are_listed_newest_first(
    make: MakeApp, tmp_path: Path, paths: Paths, told_time: ToldTime
) -> None:
    """The job worked on last is above the earlier one."""
    first, second = (
        job_file(tmp_path, JOB.replace("Gnomon base", title), f"{title}.toml") for title in ("Older one", "Newer one")
    )
    with Logbook.open(paths.data) as book:
        for path in (first, second):
            begin(book, read_job(path), "Deburr", told_time.clock()).close()
    app = make()
    async with app.run_test(size=(100, 24)) as pilot:
        await pilot.pause()
        text = painted(app)
        assert text.index("Newer one") < text.index("Older one") < text.index("sample")


async def test_opening_a_recent_job_without_its_file_shows_an_error(
    make: MakeApp, job_path: Path, paths: Paths, told_time: ToldTime
) -> None:
    """The job is still listed, since its runs are in the log. Opening it shows that the file is missing."""
    with Logbook.open(paths.data) as book:
        begin(book, read_job(job_path), "Deburr", told_time.clock()).close()
    job_path.unlink()
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, FileErrorsScreen)
        assert app.context.job is None


async def test_a_run_without_a_job_can_be_continued(make: MakeApp, paths: Paths, told_time: ToldTime) -> None:
    """A run without a job file is listed first, and Enter opens its counter."""
    plan_input = sample("engraving_fixture.toml").operations[1].plan_input
    with Logbook.open(paths.data) as book:
        begin_by_hand(book, plan_input, pinned_collar_plan(), told_time.clock()).close()
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert "0 of 3" in line_of(app, "unfinished")
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, CounterScreen)


async def type_path(pilot: Pilot[None], path: str) -> None:
    """Ask for a job file and paste its path over the text in the field."""
    start = pilot.app.screen.query_one(StartList)
    while start.entry is None or start.entry.what != "open":
        await pilot.press("down")
    await pilot.press("enter")
    await pilot.pause()
    await pilot.press("ctrl+u")
    assert pilot.app.focused is not None
    pilot.app.focused.post_message(Paste(path))
    await pilot.pause()


async def test_a_file_is_opened_by_its_path(make: MakeApp, job_path: Path) -> None:
    """A typed path is completed from the files that exist."""
    app = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await type_path(pilot, f"{job_path.parent}/ba")
        assert "base.toml" in painted(app)
        await pilot.press("tab", "enter")
        await pilot.pause()
        assert app.context.job is not None
        assert app.context.job.path == job_path


def folded(app: object) -> str:
    """Return the painted text without frames and line ends, so that wrapped sentences can be looked for."""
    return " ".join(painted(app).replace("│", " ").split())  # type: ignore[arg-type]


async def test_every_error_of_a_file_is_shown_and_nothing_is_logged(
    make: MakeApp, tmp_path: Path, paths: Paths
) -> None:
    """All errors are there at once, with operation and key; Esc goes back to the list."""
    text = JOB.replace('"M10"', '"M9999x-1"').replace('to = "20 mm"', 'to = "20"').replace("title =", "titel =")
    path = job_file(tmp_path, text)
    app = make()
    async with app.run_test(size=(100, 30)) as pilot:
        await pilot.pause()
        await type_path(pilot, str(path))
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, FileErrorsScreen)
        shown = folded(app)
        for part in ("title", "titel", "Rough the base", "Thread the stem", "M9999x-1"):
            assert part in shown
        assert len([line for line in painted(app).splitlines() if line.startswith("! ")]) == 4
        assert app.context.job is None
        assert logged_runs(paths) == []
        await pilot.press("escape")
        await pilot.pause()
        assert isinstance(app.screen, BoardScreen)


def _huge(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(50_000_000)


BAD_FILES: dict[str, Callable[[Path], object]] = {
    "empty": lambda path: path.write_bytes(b""),
    "binary": lambda path: path.write_bytes(b"\x00\x01\x02" * 99),
    "huge": _huge,
    "not-utf8": lambda path: path.write_bytes(b'title = "\xff\xfe"'),
    "nested": lambda path: path.write_text("a = " + "[" * 900 + "]" * 900),
    "not-there": lambda path: None,
}


async def test_files_that_are_not_jobs_are_refused(make: MakeApp, tmp_path: Path, paths: Paths) -> None:
    """The error names the file. Nothing is opened or logged."""
    app = make()
    async with app.run_test(size=(100, 30)) as pilot:
        await pilot.pause()
        for name, spoil in BAD_FILES.items():
            path = tmp_path / f"{name}.toml"
            spoil(path)
            await type_path(pilot, str(path))
            await pilot.press("enter")
            await pilot.pause()
            assert not isinstance(app.screen, BoardScreen), name
            assert path.name in folded(app)
            assert app.context.job is None
            while not isinstance(app.screen, BoardScreen):
                await pilot.press("escape")
                await pilot.pause()
        assert logged_runs(paths) == []


async def test_markup_in_names_is_shown_as_plain_text(make: MakeApp, tmp_path: Path) -> None:
    """Markup is not applied, and no control character reaches the terminal."""
    text = JOB.replace("Gnomon base", "[@click=app.quit]x[/] \\u001b[2J").replace("Deburr", "a[/bold] \\u202e[")
    app = make(job=job_file(tmp_path, text))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("down", "c")
        await pilot.pause()
        assert "a[/bold]" in painted(app)
        await pilot.press("escape")
        await pilot.pause()
        assert "[@click=app.quit]x[/]" in painted(app)
        assert "a[/bold]" in painted(app)
        assert all(character.isprintable() or character == "\n" for character in painted(app))


async def test_without_a_log_the_board_still_works(make: MakeApp, job_path: Path, paths: Paths) -> None:
    """A sentence says what is wrong, jobs and cards can be read, and nothing is reported as logged."""
    paths.data.parent.mkdir(parents=True, exist_ok=True)
    paths.data.write_text("no folder")
    app = make(job=job_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert "logbook" in folded(app)
        assert said(app)
        await pilot.press("c")
        await pilot.pause()
        assert isinstance(app.screen, CardScreen)
        await pilot.press("escape", "enter")
        await pilot.pause()
        assert not isinstance(app.screen, CounterScreen)


async def test_work_by_hand_is_added_to_the_file(make: MakeApp, job_path: Path) -> None:
    """The new operation is appended, the rest of the file stays, and the board shows it."""
    app = make(job=job_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("h")
        await pilot.pause()
        await pilot.press(*"Blacken")
        for keys in (("f4",), ("enter",), ("escape",)):
            await pilot.press(*keys)
            for _ in range(3):
                await pilot.pause()
        after = job_path.read_text(encoding="utf-8")
        assert after.startswith(JOB)
        assert tomllib.loads(after)["operation"][-1] == {"kind": "by_hand", "name": "Blacken", "text": "Blacken"}
        assert line_of(app, " · Blacken").split()[0] == "4"


async def test_opening_the_board_reads_no_events(
    make: MakeApp, job_path: Path, paths: Paths, told_time: ToldTime, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Progress comes from the list of runs, so many earlier passes do not slow the board."""
    with Logbook.open(paths.data) as book:
        run_through(begin(book, read_job(job_path), "Rough the base", told_time.clock()))
    asked: list[str] = []

    def noted(book: Logbook, run: str) -> tuple[()]:
        asked.append(run)
        return ()

    monkeypatch.setattr(Logbook, "events", noted)
    app = make(job=job_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert "■" in line_of(app, "Rough the base")
        assert asked == []


@pytest.mark.parametrize("size", [(80, 24), (120, 36), (40, 12), (24, 8)])
@pytest.mark.parametrize("charset", ["console", "ascii"])
async def test_only_characters_of_the_terminal_are_used(
    make: MakeApp, job_path: Path, size: tuple[int, int], charset: str
) -> None:
    """On the bare console and in plain ASCII, board, start list and card hold no other characters."""
    safe = CONSOLE_SAFE if charset == "console" else ASCII_SAFE
    app = make(job=job_path, terminal=Terminal(charset=charset, dots="ascii", sixteen_colours=True))  # type: ignore[arg-type]
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        for keys in ((), ("c",), ("escape", "o"), ("escape", "f3"), ("f2",)):
            await pilot.press(*keys)
            await pilot.pause()
            assert foreign(app, safe) == set()


def test_every_key_that_adds_an_operation_names_a_registered_kind() -> None:
    """What a key adds is in the registry; a kind without a key of its own is in the list that `a` shows."""
    made = [binding.action[6:-2] for binding in BoardScreen.BINDINGS if str(binding.action).startswith("make(")]  # type: ignore[union-attr]
    assert len(set(made)) == len(made) and set(made) <= set(OPERATIONS)


async def test_every_kind_of_operation_has_a_key_in_the_list_of_kinds(make: MakeApp, job_path: Path) -> None:
    """The first nine have digits, those after them letters in their order; each key opens the form of its kind."""
    keys = [*"123456789", *"abcdefghijklmnopqrstuvwxyz"][: len(OPERATIONS)]
    assert len(keys) == len(OPERATIONS) > 9
    app = make(job=job_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        for key, kind in list(zip(keys, OPERATIONS, strict=True))[8:]:
            await pilot.press("a")
            await pilot.pause()
            shown = OPERATIONS[kind].title
            assert any(line.strip(" │▶").startswith(f"{key}  {shown}") for line in painted(app).splitlines()), key
            await pilot.press(key)
            await pilot.pause()
            assert isinstance(app.screen, OperationScreen) and app.screen.kind == kind
            await pilot.press("escape")
            await pilot.pause()
