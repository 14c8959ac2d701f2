"""What the screens of set-up share: the draft on disk, keeping it, and letting the program follow."""

from typing import TYPE_CHECKING, Any

from core.jobs.job import read_job
from core.jobs.writer import lathe_file
from core.lathe.keys.entry import Question
from core.lathe.reader import find_lathe
from core.lathe.set_up.chapter import Chapter
from core.lathe.set_up.draft import Draft, keep_draft, read_draft
from core.lathe.set_up.keeping import keep
from core.values.errors import FileError
from core.values.files import name_of

if TYPE_CHECKING:
    from pathlib import Path

    from tui.app import HalfnutApp


class SetupWork:
    """The answers about one lathe; each is on disk before it counts."""

    def __init__(self, path: "Path") -> None:
        """Take up what was answered before; raises FileError where the lathe file has errors."""
        self.draft: Draft = read_draft(path)
        self.notice = ""
        """That a file of a hand was left alone: said as long as set-up is open."""

    def answer(self, chapter: Chapter, question: Question, value: Any, index: int) -> None:
        """Take an answer; raises FileError where it cannot be written, and then it does not count."""
        draft = self.draft.answered(chapter, question, value, index)
        keep_draft(draft)
        self.draft = draft

    def keep(self, app: "HalfnutApp") -> str:
        """Write what is complete to the lathe file and let the program use it; return what was done, "" for nothing.

        Raises FileError; the answers are in the draft then.
        """
        kept = keep(self.draft)
        self.draft = kept.draft
        if kept.beside is not None:
            self.notice = kept.sentence
        if not kept.written:
            return ""
        return " ".join(part for part in (kept.sentence, follow(app)) if part)


def follow(app: "HalfnutApp") -> str:
    """Let the program use the lathe that counts now; return what became of the open job, "" where all went well."""
    try:
        if app.job is None:
            app.lathe = find_lathe(app.lathe_path, app.paths.own_lathe)
        elif lathe_file(app.job, app.lathe_path) is None:
            app.job = read_job(app.job.path, app.lathe_path, app.paths.own_lathe)
            app.lathe = app.job.lathe
    except FileError as error:
        return _without_job(app, error)
    return ""


def other_lathe(app: "HalfnutApp") -> str:
    """Say where another lathe than the one set up here counts: --lathe, or the job's own; "" where none does."""
    if app.lathe_path is not None:
        return f"The program was started with --lathe {name_of(app.lathe_path)}: that lathe counts until it is left."
    try:
        named = app.job and lathe_file(app.job)
    except FileError:
        named = None
    if named:
        return f"The open job names its own lathe ({named.name}): that one counts for the job, not this one."
    return ""


def in_use_as(app: "HalfnutApp", path: "Path") -> str:
    """Say in what way a lathe file is in use now, "" where it is not."""
    if path == app.paths.own_lathe:
        return "is the lathe that counts"
    if app.lathe_path is not None and app.lathe_path.resolve() == path.resolve():
        return "is the lathe the program was started with"
    try:
        named = app.job and lathe_file(app.job)
    except FileError:
        named = None
    return "is the lathe of the open job" if named and named.resolve() == path.resolve() else ""


def _without_job(app: "HalfnutApp", error: FileError) -> str:
    """Close a job that cannot be planned on the lathe that counts now, as it could not be opened either."""
    closed, app.job = app.job, None
    try:
        app.lathe = find_lathe(app.lathe_path, app.paths.own_lathe)
    except FileError as worse:
        return worse.messages[0]
    if closed is None:
        return error.messages[0]
    return f"The open job cannot be planned on this lathe and was closed: {error.messages[0]}"
