"""Opening a job file: its path is typed, what is there is listed, and every error in it is shown."""

from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Input

from core.jobs.job import Job, read_job
from core.values.errors import CoreError, FileError
from core.values.files import name_of, read_text, short_path
from core.values.plain_text import clean
from tui.context import AppContext
from tui.widgets.file_errors import FileErrorsScreen
from tui.widgets.line_list import LineList
from tui.widgets.message_line import MessageLine
from tui.widgets.plain_input import PlainInput
from tui.widgets.question import QuestionScreen

_LONGEST_PATH = 1_000
_MOST_LISTED = 500


def open_job(context: AppContext, path: Path) -> Job | None:
    """Open a job and its lathe; a file with errors changes nothing, and all of them are shown."""
    try:
        job = read_job(path, context.lathe_path, context.paths.own_lathe)
    except FileError as error:
        context.push_screen(FileErrorsScreen(path, error))
        return None
    context.job = job
    context.lathe = job.lathe
    return job


class PathQuestion(QuestionScreen[Path]):
    """Asks for a file by its path; `accept` raises CoreError for one that will not do."""

    HELP = (
        "Type the path of the file; below stand the folders and the TOML files that go on as typed. Tab types as much "
        "as they have in common. ~ is your own folder."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "answer", "Take it", tooltip="Take the file, or go into the folder."),
        Binding("tab", "complete", "Complete", tooltip="Type what the listed names have in common.", priority=True),
        # A path may hold the sign that gives up other questions, so only this key is told of.
        Binding("escape", "give_up", "Give up", tooltip="Leave the question unanswered; nothing changes."),
    ]
    DEFAULT_CSS = """
    PathQuestion LineList { max-height: 8; }
    """

    def __init__(
        self, question: str, accept: Callable[[Path], object], *, text: str = "", folder: Path | None = None
    ) -> None:
        """`folder`: where a name without a folder is; without it, where the program was started."""
        super().__init__(question)
        self._accept, self._folder = accept, folder or Path()
        self._entry = PlainInput(text, longest=_LONGEST_PATH)
        self._names: list[str] = []

    def compose_answer(self) -> ComposeResult:
        """The path, and what is there."""
        yield self._entry
        yield LineList(id="names")
        yield MessageLine()

    def on_mount(self) -> None:
        """Type behind what stands there already."""
        self.query_one("#names").can_focus = False
        self._entry.focus()
        self._entry.cursor_position = len(self._entry.value)
        self._list_names()

    @on(Input.Changed)
    def _typed(self, event: Input.Changed) -> None:
        event.stop()
        self.query_one(MessageLine).say("")
        begun_anew = _begun_anew(self._entry.value)
        if begun_anew != self._entry.value:
            self._type(begun_anew)
        self._list_names()

    def action_complete(self) -> None:
        """Type what all listed names begin with."""
        if self._names:
            folder = self._entry.value[: self._entry.value.rfind("/") + 1]
            self._type(folder + _common_start(self._names))

    def action_answer(self) -> None:
        """Take the file, go into a folder, or say what is wrong with it."""
        text = self._entry.value.strip()
        path = _path(text) if "/" in text else self._folder / text
        if _is_folder(path) and not text.endswith("/"):
            self._type(f"{text}/" if text else "./")
            return
        try:
            self._accept(path)
        except CoreError as error:
            self.query_one(MessageLine).say(error.message)
        else:
            self.give(path)

    def _type(self, text: str) -> None:
        self._entry.value = text
        self._entry.cursor_position = len(text)

    def _list_names(self) -> None:
        folder, _, begun = self._entry.value.rpartition("/")
        place = _path(folder or "/") if "/" in self._entry.value else self._folder
        self._names = sorted(name for name in _names_in(place) if name.startswith(begun))
        self.query_one("#names", LineList).show(self._names)


def _begun_anew(text: str) -> str:
    """Return a path from where a hand began another one behind a folder: at a second / or at ~.

    >>> _begun_anew("~/jobs//media/stick")
    '/media/stick'
    >>> _begun_anew("/home/jobs/~/lathe")
    '~/lathe'
    """
    start = max(text.rfind("//"), text.rfind("/~"))
    return text[start + 1 :] if start >= 0 else text


def existing_file(question: str, text: str) -> PathQuestion:
    """Return the question for a file that can be read as text."""
    return PathQuestion(question, read_text, text=text)


def new_file(context: AppContext, question: str, name: str) -> PathQuestion:
    """Return the question for a file that is not there yet; `name` is proposed in the user's own folder.

    That folder is made when a file in it is chosen; any other has to be there.
    """
    own = context.paths.documents

    def accept(path: Path) -> None:
        _refuse_existing(path, own)

    return PathQuestion(question, accept, text=short_path(_unused(own / name)), folder=own)


def reading_folder(context: AppContext) -> str:
    """Return the folder that files are looked for in first, as it is typed.

    The open job's; else the user's own, once there is one; else the one the program was started in.
    """
    own = context.paths.documents
    folder = context.job.path.resolve().parent if context.job else own if _is_folder(own) else Path.cwd()
    return f"{short_path(folder).rstrip('/')}/"


def _unused(path: Path) -> Path:
    """Return a path as it is, or with the first number that makes it new: log.txt, log_2.txt."""
    numbered = (path.with_stem(f"{path.stem}_{number}") for number in range(2, _MOST_LISTED))
    try:
        return next((free for free in (path, *numbered) if not free.exists()), path)
    except OSError:
        return path


def _refuse_existing(path: Path, own: Path) -> None:
    """Refuse a file that is there, and a folder that is not; the user's own folder is made."""
    try:
        if path.exists() or path.is_symlink():
            raise FileError([f"{name_of(path)}: is there already; a new name is wanted"])
        if path.parent == own:
            own.mkdir(parents=True, exist_ok=True)
        if not path.parent.is_dir():
            raise FileError([f"{name_of(path.parent)}: there is no such folder"])
    except OSError as error:
        raise FileError([f"{name_of(path)}: {clean(error.strerror or 'cannot be used')}"]) from None


def _common_start(names: list[str]) -> str:
    """Return what all names begin with.

    >>> _common_start(["gnomon.toml", "gnomon_screw.toml"])
    'gnomon'
    """
    # What the first and the last in order have in common, all between them have too.
    first, last = min(names), max(names)
    count = next((place for place, pair in enumerate(zip(first, last, strict=False)) if len(set(pair)) > 1), len(first))
    return first[:count]


def _path(text: str) -> Path:
    path = Path(text)
    try:
        return path.expanduser()
    except RuntimeError:
        # "~name" of nobody: a file may be called so.
        return path


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except OSError:
        return False


def _names_in(folder: Path) -> Iterator[str]:
    """Yield the folders and TOML files in a folder that can be typed, none of them hidden."""
    try:
        for entry in islice(folder.iterdir(), _MOST_LISTED):
            if entry.name.startswith(".") or clean(entry.name) != entry.name:
                continue
            if entry.is_dir():
                yield f"{entry.name}/"
            elif entry.suffix == ".toml":
                yield entry.name
    except OSError:
        return
