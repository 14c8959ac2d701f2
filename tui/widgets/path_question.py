"""Questions that ask for a file. The user types a path, and a list shows matching folders and files."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from itertools import islice
from pathlib import Path
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Input

from core.jobs.job import Job, read_job
from core.values.errors import CoreError, FileError
from core.values.files import is_folder, name_of, read_text, short_path
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
    """Open the job in the file `path`, use the job's lathe, and return the job.

    If a file has errors, change nothing, show all errors on a page and return None.
    """
    try:
        job = read_job(path, context.lathe_path, context.paths.own_lathe)
    except FileError as error:
        context.push_screen(FileErrorsScreen(path, error))
        return None
    context.job = job
    context.lathe = job.lathe
    return job


class PathQuestion(QuestionScreen[Path]):
    """A question that asks for the path of a file. A path that cannot be used is refused with the reason."""

    HELP = (
        "This question asks for a file. Type its path; the list shows matching folders and files, and Tab "
        "completes the name. ~ is your home folder."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "answer", "Use it", tooltip="Use this file, or open this folder."),
        Binding("tab", "complete", "Complete", tooltip="Complete the name from the list.", priority=True),
        # A path may hold the * that cancels other questions, so the key bar names only Esc.
        Binding("escape", "cancel", "Cancel", tooltip="Cancel the question. Nothing changes."),
    ]
    DEFAULT_CSS = """
    PathQuestion LineList { max-height: 8; }
    """

    def __init__(
        self,
        question: str,
        accept: Callable[[Path], object],
        *,
        text: str = "",
        folder: Path | None = None,
        ending: str = ".toml",
        detail: Sequence[str] = (),
    ) -> None:
        """Make the question, with `text` in its field.

        `accept` raises CoreError for a path that cannot be used. Relative paths start at `folder`; None means the
        folder in which the program was started. Files are listed if their names end with `ending`, but the user may
        type any name.
        """
        super().__init__(question, detail=detail)
        self._accept, self._folder, self._ending = accept, folder or Path(), ending
        self._entry = PlainInput(text, longest=_LONGEST_PATH)
        self._names: list[str] = []

    def compose_answer(self) -> ComposeResult:
        """Yield the field for the path, and the list of folders and files."""
        yield self._entry
        yield LineList(id="names")
        yield MessageLine()

    def on_mount(self) -> None:
        """Focus the field with the cursor after its text, and list the matching names."""
        self.query_one("#names").can_focus = False
        self._entry.focus()
        self._entry.cursor_position = len(self._entry.value)
        self._list_names()

    @on(Input.Changed)
    def _typed(self, event: Input.Changed) -> None:
        event.stop()
        self.query_one(MessageLine).show_message("")
        from_new_start = _from_new_start(self._entry.value)
        if from_new_start != self._entry.value:
            self._type(from_new_start)
        self._list_names()

    def action_complete(self) -> None:
        """Complete the typed name with the characters that all listed names share."""
        if self._names:
            folder = self._entry.value[: self._entry.value.rfind("/") + 1]
            self._type(folder + _common_start(self._names))

    def action_answer(self) -> None:
        """Use the file, open a folder, or show what is wrong with the path."""
        text = self._entry.value.strip()
        path = _path(text) if "/" in text else self._folder / text
        with suppress(OSError):
            path = path.absolute()
        if is_folder(path) and not text.endswith("/"):
            self._type(f"{text}/" if text else "./")
            return
        try:
            self._accept(path)
        except CoreError as error:
            self.query_one(MessageLine).show_message(error.message)
        else:
            self.give(path)

    def _type(self, text: str) -> None:
        self._entry.value = text
        self._entry.cursor_position = len(text)

    def _list_names(self) -> None:
        folder, _, begun = self._entry.value.rpartition("/")
        place = _path(folder or "/") if "/" in self._entry.value else self._folder
        self._names = sorted(name for name in _names_in(place, self._ending) if name.startswith(begun))
        self.query_one("#names", LineList).show(self._names)


def _from_new_start(text: str) -> str:
    """Return the last absolute path or home path in a typed text: from a second / on, or from a ~ after a /.

    >>> _from_new_start("~/jobs//media/stick")
    '/media/stick'
    >>> _from_new_start("/home/jobs/~/lathe")
    '~/lathe'
    """
    start = max(text.rfind("//"), text.rfind("/~"))
    return text[start + 1 :] if start >= 0 else text


def existing_file(question: str, text: str) -> PathQuestion:
    """Return a question that asks for an existing text file. `text` is already in the field of the question."""
    return PathQuestion(question, read_text, text=text)


def new_file(context: AppContext, question: str, name: str) -> PathQuestion:
    """Return a question that asks for a new file. The field already contains a path in the folder of jobs.

    `name` is the suggested file name. The usual folder of jobs is created if needed. Any other folder must exist.
    """
    own = context.jobs_folder

    def accept(path: Path) -> None:
        # After a stick is removed, no folder with its name may be created.
        _refuse_existing(path, context.paths.documents)

    return PathQuestion(question, accept, text=short_path(_unused(own / name)), folder=own)


def reading_folder(context: AppContext) -> str:
    """Return the folder in which a question for a file starts, spelt as a user would type it.

    That is the folder of the open job, or else the folder of jobs. If there is no folder of jobs, it is the folder in
    which the program was started.
    """
    own = context.jobs_folder
    folder = context.job.path.resolve().parent if context.job else own if is_folder(own) else _started_in()
    return f"{short_path(folder).rstrip('/')}/"


def _started_in() -> Path:
    """Return the folder in which the program was started.

    If that folder no longer exists, for example because a USB stick was removed, return the home folder.
    """
    try:
        return Path.cwd()
    except OSError:
        return Path.home()


def _unused(path: Path) -> Path:
    """Return `path`, or, if there is such a file, a path with a number in its name: log_2.txt after log.txt."""
    numbered = (path.with_stem(f"{path.stem}_{number}") for number in range(2, _MOST_LISTED))
    try:
        return next((free for free in (path, *numbered) if not free.exists()), path)
    except OSError:
        return path


def _refuse_existing(path: Path, own: Path) -> None:
    """Raise CoreError if the file `path` exists or its folder does not. The folder `own` is created if needed."""
    try:
        if path.exists() or path.is_symlink():
            raise FileError([f"{name_of(path)} already exists. Enter a new name."])
        if path.parent == own:
            own.mkdir(parents=True, exist_ok=True)
        if not path.parent.is_dir():
            raise FileError([f"There is no folder {name_of(path.parent)}. Enter a path in an existing folder."])
    except OSError as error:
        raise FileError([f"{name_of(path)} cannot be used: {clean(error.strerror or 'unknown reason')}."]) from None


def _common_start(names: list[str]) -> str:
    """Return the longest text with which all `names` start.

    >>> _common_start(["gnomon.toml", "gnomon_screw.toml"])
    'gnomon'
    """
    # All names sorted between the first and the last share the common start of these two.
    first, last = min(names), max(names)
    count = next((place for place, pair in enumerate(zip(first, last, strict=False)) if len(set(pair)) > 1), len(first))
    return first[:count]


def _path(text: str) -> Path:
    path = Path(text)
    try:
        return path.expanduser()
    except RuntimeError:
        # No user has this name, so "~name" may be a file.
        return path


def _names_in(folder: Path, ending: str) -> Iterator[str]:
    """Yield the names of the folders in `folder`, and of the files whose names end with `ending`.

    Hidden names and names that cannot be typed are left out.
    """
    try:
        for entry in islice(folder.iterdir(), _MOST_LISTED):
            if entry.name.startswith(".") or clean(entry.name) != entry.name:
                continue
            if entry.is_dir():
                yield f"{entry.name}/"
            elif entry.name.endswith(ending):
                yield entry.name
    except OSError:
        return
