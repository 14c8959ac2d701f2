"""The actions of the board: opens jobs, starts runs, and adds, changes, moves or deletes operations."""

from collections.abc import Callable, Mapping
from functools import cache, partial
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, cast

from core.jobs.editor import move_operation, remove_operation
from core.jobs.job import Job, JobOperation
from core.lathe.reader import find_lathe
from core.operations.registry import OPERATIONS, operation_of
from core.values.errors import FileError
from core.values.files import is_folder, name_of, short_path
from core.values.plain_text import quoted
from tui.board.known_jobs import KnownJob, own_copy, own_jobs, recent_jobs, sample_jobs, unfinished_without_job
from tui.board.setup_offer import setup_entry
from tui.board.start_list import StartEntry
from tui.context import AppContext
from tui.operation.saving import ask_material, use_job
from tui.widgets.file_errors import FileErrorsScreen
from tui.widgets.path_question import existing_file, reading_folder
from tui.widgets.question import OneOf, YesNo

if TYPE_CHECKING:
    from core.logbook.logbook import Logbook
    from tui.operation.screen import OperationScreen

_KEPT = "A kept pattern, to fit to another blank or rotary table"
_CHANGE, _UP, _DOWN, _REMOVE, _MATERIAL = range(5)
_PLACES = {_UP: -1, _DOWN: 1}


class Board(Protocol):
    """The attributes and methods of the board that the functions in this module use."""

    @property
    def context(self) -> AppContext:
        """The state that all screens share: job, lathe, log and controls."""

    def open(self, path: Path) -> None:
        """Open a job file and show the job."""

    def show_job(self) -> None:
        """Show the open job with the cursor on its first operation."""

    def read_log(self) -> None:
        """Read the progress of the job's operations from the log."""

    def point_at(self, name: str) -> None:
        """Move the cursor to the operation called `name`."""

    def show_message(self, sentence: str) -> None:
        """Show a message above the key bar."""


def start_entries(board: Board) -> list[StartEntry]:
    """Return the entries of the list of what the user can open or start.

    Entries from the log come first, and are missing until the log has been read. Raises LogbookError if the log cannot
    be read.
    """
    logbook = board.context.log.opened
    paths = board.context.paths
    recent = recent_jobs(logbook, paths.data) if logbook else []
    # The log holds resolved paths. A path from another machine may be impossible here.
    known = {job.path for job in recent}
    own = [job for job in own_jobs(board.context.jobs_folder) if job.path not in known]
    samples = [job for job in _samples() if (paths.samples / job.path.name).resolve() not in known]
    kinds = OPERATIONS.values()
    others = [kind.short for kind in kinds if not kind.usual]
    return [
        *(_unfinished(board, logbook) if logbook else []),
        *(_job_entry(board, "recent", job, short_path(job.path)) for job in recent),
        *_missing_folder(board),
        *(_job_entry(board, "yours", job, short_path(job.path)) for job in own),
        *(StartEntry("sample", job.title, "", partial(_open_sample, board, job.path)) for job in samples),
        setup_entry(board),
        *_kept(board),
        StartEntry("open", "a job file, by its path", "", lambda: ask_for_file(board)),
        StartEntry("new", "a job", "starts with its first operation", lambda: begin_job(board)),
        *(StartEntry("new", kind.short, kind.summary, partial(make, board, kind.kind)) for kind in kinds if kind.usual),
        StartEntry("new", "something else", f"{', '.join(others[:2])} and {len(others) - 2} more", lambda: add(board)),
    ]


def _kept(board: Board) -> list[StartEntry]:
    """Return a list with one entry, which opens the kept patterns; [] if no pattern is kept."""
    try:
        has_some = any(board.context.paths.patterns.iterdir())
    except OSError:
        has_some = False
    entry = StartEntry("kept", "patterns", "for another blank or rotary table", partial(show_kept, board))
    return [entry] if has_some else []


_samples = cache(sample_jobs)


def _unfinished(board: Board, logbook: "Logbook") -> list[StartEntry]:
    """Return entries for the unfinished runs without a job file, which the user can continue only from this list."""
    from core.run.event_words import run_names, run_progress_words

    entries = []
    for info in unfinished_without_job(logbook):
        name, _ = run_names(info)
        entries.append(StartEntry("unfinished", name, run_progress_words(info), partial(_go_on, board, info.uid), info))
    return entries


def _missing_folder(board: Board) -> list[StartEntry]:
    """Return a list with one entry, which says that the folder of jobs is missing; [] if the folder exists.

    The folder is missing if, for example, it is on a USB stick that is not plugged in.
    """
    folder = board.context.jobs_folder
    if folder == board.context.paths.documents or is_folder(folder):
        return []

    def look_again() -> None:
        board.read_log()
        if not is_folder(folder):
            place = name_of(folder)
            board.show_message(
                f"There is no folder {place}. Plug in the USB stick and press Enter, or press k to set another folder."
            )

    return [StartEntry("yours", "The folder of jobs is missing", short_path(folder), look_again)]


def _go_on(board: Board, uid: str) -> None:
    from tui.runs import resume_run

    resume_run(board.context, uid)


def _job_entry(board: Board, what: str, job: KnownJob, note: str) -> StartEntry:
    return StartEntry(what, job.title, note, lambda: board.open(job.path))


def _open_sample(board: Board, sample: Path) -> None:
    """Open the user's copy of a sample job. If there is no copy yet, make one first."""
    try:
        board.open(own_copy(sample, board.context.paths.samples))
    except FileError as error:
        board.show_message(error.message)


def ask_for_file(board: Board) -> None:
    """Ask for the path of a job file, and open that job."""

    def answered(path: Path | None) -> None:
        if path is not None:
            board.open(path)

    board.context.push_screen(
        existing_file("Which job file do you want to open?", reading_folder(board.context)), answered
    )


def begin_job(board: Board) -> None:
    """Ask for the first operation of a new job, close the open job, and show an empty form for the operation."""
    kinds = list(OPERATIONS)

    def answered(chosen: int | None) -> None:
        if chosen is None:
            return
        context = board.context
        try:
            context.lathe = find_lathe(context.lathe_path, context.paths.own_lathe)
        except FileError as error:
            board.context.push_screen(FileErrorsScreen(context.lathe_path or context.paths.own_lathe, error))
            return
        context.job = None
        board.show_job()
        make(board, kinds[chosen])

    board.context.push_screen(OneOf("What is the first operation of the new job?", _kinds(), letters=True), answered)


def make(board: Board, kind: str) -> None:
    """Show an empty form for a kind of operation. If a job is open, the user can save the operation in the job."""
    _show_form(board, screen_for(kind), kind)


def _show_form(board: Board, screen: "OperationScreen | None", kind: str) -> None:
    """Show the form of an operation. If `screen` is None, this kind has no form: say where to enter the operation."""
    if screen is None:
        board.show_message(
            f"{OPERATIONS[kind].title} has no form. Write the operation into a job file, then open the file."
        )
    else:
        board.context.push_screen(screen)


def add(board: Board) -> None:
    """Ask for a kind of operation, and show an empty form for it."""

    def answered(chosen: int | None) -> None:
        if chosen == len(OPERATIONS):
            show_kept(board)
        elif chosen is not None:
            make(board, list(OPERATIONS)[chosen])

    board.context.push_screen(OneOf("What do you want to add?", [*_kinds(), _KEPT], letters=True), answered)


def show_kept(board: Board) -> None:
    """Show the list of kept patterns. A pattern that the user chooses opens as a filled-in form."""
    from tui.pattern.kept_screen import KeptScreen
    from tui.pattern.screen import PatternScreen

    board.context.push_screen(KeptScreen(PatternScreen))


def change(board: Board, operation: JobOperation) -> None:
    """Ask what to change in an operation of the open job, and make the change.

    The user can change the operation's fields, its place in the job or the material, or delete the operation.
    """
    board.context.ask_in_turn(_change(board, operation))


async def _change(board: Board, operation: JobOperation) -> None:
    job = board.context.job
    material = f"Set the material of the job (now: {job.material if job and job.material else 'not set'})"
    choices = ["Change its fields", "Move it up", "Move it down", "Delete it", material]
    question = OneOf(f"What do you want to do with {quoted(operation.name)}?", choices)
    chosen = await board.context.ask(question)
    if chosen == _CHANGE:
        screen = screen_for(operation.kind, operation.plan_input.parameters)
        if screen is not None:
            screen.changing = operation.name
        _show_form(board, screen, operation.kind)
    elif chosen == _REMOVE:
        await _remove(board, operation)
    elif chosen == _MATERIAL:
        await _change_material(board, operation)
    elif chosen is not None:
        _move(board, operation, _PLACES[chosen])


def _move(board: Board, operation: JobOperation, places: int) -> None:
    job = board.context.job
    if job is not None and not 1 <= operation.number + places <= len(job.operations):
        board.show_message(f"{operation.name} is already the {'first' if places < 0 else 'last'} operation.")
        return
    _save_edit(board, partial(move_operation, places=places), operation, "moved")


async def _remove(board: Board, operation: JobOperation) -> None:
    detail = ["The log keeps the runs of this operation."]
    if await board.context.ask(YesNo(f"Delete {quoted(operation.name)} from the job?", detail=detail)):
        _save_edit(board, remove_operation, operation, "deleted")


async def _change_material(board: Board, operation: JobOperation) -> None:
    try:
        done = await ask_material(board.context)
    except FileError as error:
        _show_errors(board, error)
        return
    if done:
        _show_done(board, done, operation.name)


def _save_edit(board: Board, edit: Callable[..., Job], operation: JobOperation, done: str) -> None:
    """Change the job file with `edit`, a function of `core.jobs.editor`, and show the changed job.

    `done`: the message to show if the change succeeds.
    """
    context = board.context
    if context.job is None:
        return
    try:
        use_job(
            context,
            edit(context.job.path, operation.name, lathe_path=context.lathe_path, own_lathe=context.paths.own_lathe),
        )
    except FileError as error:
        _show_errors(board, error)
        return
    _show_done(board, f"{operation.name} is {done}.", operation.name)


def _show_errors(board: Board, error: FileError) -> None:
    job = board.context.job
    board.context.push_screen(FileErrorsScreen(job.path if job else Path("job"), error))


def _show_done(board: Board, done: str, name: str = "") -> None:
    board.show_job()
    board.read_log()
    board.point_at(name)
    board.show_message(done)


def _kinds() -> list[str]:
    return [f"{operation.title}: {operation.summary}" for operation in OPERATIONS.values()]


_SCREENS: Mapping[str, tuple[str, str]] = {
    "thread": ("tui.operation.thread", "ThreadScreen"),
    "runout": ("tui.runout.screen", "RunoutScreen"),
    "divide": ("tui.operation.divide", "DivideScreen"),
    "holes": ("tui.operation.holes", "HolesScreen"),
    "pattern": ("tui.pattern.screen", "PatternScreen"),
}


def screen_for(kind: str, parameters: Mapping[str, Any] | None = None) -> "OperationScreen | None":
    """Return the form for a kind of operation; None if this kind has no form.

    `parameters`: the TOML table of an existing operation, with which the form is filled in; None for an empty form.
    """
    if kind not in _SCREENS:
        from tui.operation.declared import DeclaredScreen

        form = operation_of(kind).form
        return DeclaredScreen(kind, form, parameters) if form else None
    module, name = _SCREENS[kind]
    return cast("OperationScreen", getattr(import_module(module), name)(parameters))
