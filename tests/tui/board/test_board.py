"""The board: a job with its progress from the log, the list of what to open, and errors of files."""

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
from tui.board.screen import LETTERS, BoardScreen
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
    """Return the path of a job with three operations on the example lathe."""
    return job_file(tmp_path)


def line_of(app: object, words: str) -> str:
    """Return the one painted row that holds `words`."""
    lines = [line for line in painted(app).splitlines() if words in line]  # type: ignore[arg-type]
    assert len(lines) == 1, painted(app)  # type: ignore[arg-type]
    return lines[0]


def logged_runs(paths: Paths) -> list[tuple[str, str]]:
    """Return operation and status of every run in the log file, read by SQLite alone."""
    file = paths.data / FILE_NAME
    if not file.exists():
        return []
    connection = sqlite3.connect(file)
    rows = connection.execute("SELECT op_name, status FROM run ORDER BY number").fetchall()
    connection.close()
    return rows


async def test_each_operation_on_the_board_shows_its_progress_as_text_and_as_a_sign(
    make: MakeApp, job_path: Path, paths: Paths, told_time: ToldTime
) -> None:
    """ "Finished", the count of steps done and "not started" each have their own sign."""
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
        # Each progress has its own words.
        assert len({line[line.index("  ") :].strip() for line in lines}) == 3


async def test_the_board_puts_the_cursor_on_the_operation_with_an_unfinished_run(
    make: MakeApp, job_path: Path, paths: Paths, told_time: ToldTime
) -> None:
    """The board counts the steps of the run. When its counter closes, the board is back."""
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
        # The board is made now. It reads the log after its first paint.
        await pilot.pause()
        assert f"3 of {steps}" in line_of(app, "Thread the stem")
        assert app.screen.query_one(OperationList).cursor == 2


async def test_the_board_puts_the_cursor_on_the_first_unfinished_operation(
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


async def test_enter_starts_the_selected_operation_and_logs_its_run(
    make: MakeApp, job_path: Path, paths: Paths
) -> None:
    """Enter asks once, then opens the counter. The board shows the run as open."""
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


async def test_the_card_shows_the_figures_cautions_and_steps_of_an_operation(make: MakeApp, job_path: Path) -> None:
    """The keys for pages reach the last step, and Esc closes the card."""
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
        # ISO 261: the coarse pitch of M10 is 1.5 mm.
        assert "1.5 mm" in seen
        last = app.context.job.operations[2].plan.steps[-1].text  # type: ignore[union-attr]
        assert last[:30] in painted(app)
        await pilot.press("escape")
        await pilot.pause()
        assert isinstance(app.screen, BoardScreen)


async def test_the_board_lists_the_sample_jobs_if_no_job_is_open(make: MakeApp) -> None:
    """The list shows the title of each sample and no lathe files. Opening a sample copies its lathe too."""
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


async def test_the_board_lists_recent_jobs_newest_first(
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


async def test_opening_a_recent_job_whose_file_is_missing_shows_an_error(
    make: MakeApp, job_path: Path, paths: Paths, told_time: ToldTime
) -> None:
    """The job is still listed, because its runs are in the log. The error names the missing file."""
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


async def test_an_unfinished_run_without_a_job_can_be_continued_from_the_board(
    make: MakeApp, paths: Paths, told_time: ToldTime
) -> None:
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
    """Ask for a job file, and replace the text of the field by a pasted path."""
    start = pilot.app.screen.query_one(StartList)
    while start.entry is None or start.entry.what != "open":
        await pilot.press("down")
    await pilot.press("enter")
    await pilot.pause()
    await pilot.press("ctrl+u")
    assert pilot.app.focused is not None
    pilot.app.focused.post_message(Paste(path))
    await pilot.pause()


async def test_a_job_can_be_opened_by_typing_its_path(make: MakeApp, job_path: Path) -> None:
    """The field completes a path from the files that exist."""
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
    """Return the painted text without frames and line ends, so that tests can search for wrapped sentences."""
    return " ".join(painted(app).replace("│", " ").split())  # type: ignore[arg-type]


async def test_opening_a_job_file_with_errors_lists_every_error(make: MakeApp, tmp_path: Path, paths: Paths) -> None:
    """Each error names its operation and key. Esc goes back to the list."""
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


async def test_opening_a_file_that_is_not_a_job_is_refused(make: MakeApp, tmp_path: Path, paths: Paths) -> None:
    """The error names the file. No job is opened and nothing is logged."""
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


async def test_markup_in_job_and_operation_names_is_shown_as_plain_text_on_the_board(
    make: MakeApp, tmp_path: Path
) -> None:
    """Markup has no effect, and no control character reaches the terminal."""
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


async def test_the_board_shows_the_open_job_even_if_the_log_cannot_be_read(
    make: MakeApp, job_path: Path, paths: Paths
) -> None:
    """A sentence gives the error. Jobs and cards can be read, and no message says that anything is logged."""
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


async def test_work_done_by_hand_can_be_added_to_the_job_file_as_an_operation(make: MakeApp, job_path: Path) -> None:
    """The rest of the file does not change, and the board shows the new operation."""
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


async def test_opening_the_board_reads_no_events_from_the_log(
    make: MakeApp, job_path: Path, paths: Paths, told_time: ToldTime, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Progress comes from the list of runs, so many earlier passes do not delay the board."""
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
async def test_the_board_and_the_card_use_only_characters_that_the_terminal_can_show(
    make: MakeApp, job_path: Path, size: tuple[int, int], charset: str
) -> None:
    """This holds for the bare console and for plain ASCII."""
    safe = CONSOLE_SAFE if charset == "console" else ASCII_SAFE
    app = make(job=job_path, terminal=Terminal(charset=charset, dots="ascii", sixteen_colours=True))  # type: ignore[arg-type]
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        for keys in ((), ("c",), ("escape", "o"), ("escape", "f3"), ("f2",)):
            await pilot.press(*keys)
            await pilot.pause()
            assert foreign(app, safe) == set()


def test_each_kind_of_operation_has_its_own_letter_key_on_the_board() -> None:
    """A kind that is added to the registry gets its key, title and explanation from there."""
    assert LETTERS.keys() == OPERATIONS.keys()
    keys = [key for binding in BoardScreen.BINDINGS for key in binding.key.split(",") if len(key) == 1]  # type: ignore[union-attr]
    assert all(keys.count(letter) == 1 for letter in LETTERS.values())


async def test_each_kind_in_the_list_of_new_operations_has_a_key_that_opens_its_form(
    make: MakeApp, job_path: Path
) -> None:
    """The first nine kinds have digits and the others letters. Each key opens the form of its kind."""
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
