"""What the board offers to open and to begin, and how a new operation or job comes to be."""

import re
import unicodedata
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING

from core.errors import CoreError, FileError
from core.job_writer import JOB_SUFFIX
from core.lathe_file import find_lathe
from core.operations import OPERATIONS
from tui.known_jobs import KnownJob, own_copy, recent_jobs, sample_jobs, unfinished_without_job
from tui.screens.ask import OneOf, Typed
from tui.screens.file_errors import FileErrorsScreen
from tui.screens.open_job import existing_file
from tui.widgets.start_list import Entry

if TYPE_CHECKING:
    from core.logbook import Logbook
    from tui.screens.board import BoardScreen

_LONGEST_TEXT = 500
"""Of something done by hand, as the job file takes it."""


def start_entries(board: "BoardScreen") -> list[Entry]:
    """Return what can be opened or begun; what the log knows comes first, once it has been read.

    Raises LogbookError.
    """
    logbook = board.halfnut.logbook
    recent = recent_jobs(logbook) if logbook else []
    known = {job.path.resolve() for job in recent}
    folder = board.halfnut.paths.samples
    samples = [job for job in _samples() if (folder / job.path.name).resolve() not in known]
    return [
        *(_unfinished(board, logbook) if logbook else []),
        *(_job_entry(board, "recent", job, _short(job.path)) for job in recent),
        *(Entry("sample", job.title, "", partial(_open_sample, board, job.path)) for job in samples),
        Entry("open", "a job file, by typing its path", "", lambda: ask_for_file(board)),
        Entry("new", "a job", "begins with its first operation", lambda: begin_job(board)),
        Entry("new", "a thread", "cut at once, or kept in a job", lambda: make(board, "thread")),
        Entry("new", "a diameter", "outside or a bore", lambda: make(board, "turn")),
        Entry("new", "a face or a groove", "any slide, in passes", lambda: make(board, "cut")),
    ]


_samples = cache(sample_jobs)


def _unfinished(board: "BoardScreen", logbook: "Logbook") -> list[Entry]:
    """Return the runs under way that no job holds: nothing else on screen leads back to them."""
    from tui.event_words import run_names, standing_words

    entries = []
    for info in unfinished_without_job(logbook):
        name, _ = run_names(info)
        entries.append(Entry("unfinished", name, standing_words(info), partial(_go_on, board, info.uid)))
    return entries


def _go_on(board: "BoardScreen", uid: str) -> None:
    from tui.resuming import go_on_run

    go_on_run(board.halfnut, uid)


def _job_entry(board: "BoardScreen", what: str, job: KnownJob, note: str) -> Entry:
    return Entry(what, job.title, note, lambda: board.open(job.path))


def _open_sample(board: "BoardScreen", sample: Path) -> None:
    """Open the user's own copy of a sample."""
    try:
        board.open(own_copy(sample, board.halfnut.paths.samples))
    except FileError as error:
        board.say(error.message)


def ask_for_file(board: "BoardScreen") -> None:
    """Ask for the path of a job file and open it."""

    def answered(path: Path | None) -> None:
        if path is not None:
            board.open(path)

    board.app.push_screen(existing_file("Which job file?", f"{_folder(board)}/"), answered)


def begin_job(board: "BoardScreen") -> None:
    """Close the job that is open and begin another, with its first operation."""
    kinds = list(OPERATIONS)

    def answered(chosen: int | None) -> None:
        if chosen is None:
            return
        app = board.halfnut
        try:
            app.lathe = find_lathe(app.lathe_path, app.paths.own_lathe)
        except FileError as error:
            board.app.push_screen(FileErrorsScreen(app.lathe_path or app.paths.own_lathe, error.messages))
            return
        app.job = None
        board.show_job()
        make(board, kinds[chosen])

    options = [f"{operation.title}: {operation.summary}" for operation in OPERATIONS.values()]
    board.app.push_screen(OneOf("What does the new job begin with?", options), answered)


def make(board: "BoardScreen", kind: str) -> None:
    """Let an operation of a kind be made up, for the job that is open or for none."""
    if kind == "thread":
        from tui.screens.threading import ThreadingScreen

        board.app.push_screen(ThreadingScreen())
    elif kind == "turn" or kind == "cut":
        from tui.screens.turning import TurningScreen

        board.app.push_screen(TurningScreen(kind))
    else:
        board.run_worker(_make_check(board), exclusive=True)


async def _make_check(board: "BoardScreen") -> None:
    """Ask for something done by hand, and keep it in the job or in a new one."""
    from tui.screens.keeping import LONGEST_NAME, keep_in_job, keep_in_new_file

    app = board.halfnut
    question = Typed("What is to be done by hand? One sentence.", lambda text: text_up_to(text, _LONGEST_TEXT))
    text = await app.push_screen_wait(question)
    if text is None:
        return
    parameters = {"kind": "check", "name": text[:LONGEST_NAME].strip(), "text": text}
    try:
        if app.job is None:
            done = await keep_in_new_file(app, parameters, None)
        else:
            done = await keep_in_job(app, app.job, parameters)
    except FileError as error:
        app.push_screen(FileErrorsScreen(app.job.path if app.job else Path("job"), error.messages))
        return
    if done:
        board.show_job()
        board.read_log()
        board.say(done)


def text_up_to(text: str, longest: int) -> str:
    """Return a text that is there and not longer than `longest` characters; raises CoreError."""
    found = text.strip()
    if not 0 < len(found) <= longest:
        raise CoreError(f"found {len(found)} characters; accepted are 1 to {longest}")
    return found


def file_name(title: str) -> str:
    """Return a plain name for the file of a job of that title.

    >>> file_name("Nose adaptor, 2nd piece")
    'nose_adaptor_2nd_piece.toml'
    """
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return f"{re.sub(r'[^a-z0-9]+', '_', plain).strip('_')[:60] or 'job'}{JOB_SUFFIX}"


def _folder(board: "BoardScreen") -> str:
    """Return the folder that files are looked for in first: the open job's, else the one the program runs in."""
    job = board.halfnut.job
    return _short(job.path.resolve().parent if job else Path.cwd())


def _short(path: Path) -> str:
    """Return a path with the user's own folder as ~."""
    try:
        return f"~/{path.relative_to(Path.home())}" if path.is_relative_to(Path.home()) else str(path)
    except RuntimeError:
        return str(path)
