"""What the screens of set-up share: the draft on disk, keeping it, and letting the program follow."""

from typing import TYPE_CHECKING, Any

from core.jobs.job import read_job
from core.jobs.writer import lathe_file
from core.lathe.keys.entry import Question
from core.lathe.reader import find_lathe
from core.lathe.set_up.chapters import Chapter
from core.lathe.set_up.draft import Draft, read_draft, save_draft
from core.lathe.set_up.saving import save_answers
from core.values.errors import FileError
from core.values.files import name_of
from tui.context import AppContext

if TYPE_CHECKING:
    from pathlib import Path


class LatheDraft:
    """The answers about one lathe; each is on disk before it counts."""

    def __init__(self, path: "Path") -> None:
        """Take up what was answered before; raises FileError where the lathe file has errors."""
        self.draft: Draft = read_draft(path)
        self.notice = ""
        """That a file of a hand was left alone: said as long as set-up is open."""

    def answer(self, chapter: Chapter, question: Question, value: Any, index: int) -> None:
        """Take an answer; raises FileError where it cannot be written, and then it does not count."""
        draft = self.draft.answered(chapter, question, value, index)
        save_draft(draft)
        self.draft = draft

    def save_answers(self, context: AppContext) -> str:
        """Write what is complete to the lathe file and let the program use it; return what was done, "" for nothing.

        Raises FileError; the answers are in the draft then.
        """
        kept = save_answers(self.draft)
        self.draft = kept.draft
        if kept.beside is not None:
            self.notice = kept.sentence
        if not kept.written:
            return ""
        return " ".join(part for part in (kept.sentence, follow(context)) if part)


def follow(context: AppContext) -> str:
    """Let the program use the lathe that counts now; return what became of the open job, "" where all went well."""
    try:
        if context.job is None:
            context.lathe = find_lathe(context.lathe_path, context.paths.own_lathe)
        elif lathe_file(context.job, context.lathe_path) is None:
            context.job = read_job(context.job.path, context.lathe_path, context.paths.own_lathe)
            context.lathe = context.job.lathe
    except FileError as error:
        return _without_job(context, error)
    return ""


def other_lathe(context: AppContext) -> str:
    """Say where another lathe than the one set up here counts: --lathe, or the job's own; "" where none does."""
    if context.lathe_path is not None:
        started_with = name_of(context.lathe_path)
        return f"The program was started with --lathe {started_with}: that lathe counts until it is left."
    try:
        named = context.job and lathe_file(context.job)
    except FileError:
        named = None
    if named:
        return f"The open job names its own lathe ({named.name}): that one counts for the job, not this one."
    return ""


def in_use_as(context: AppContext, path: "Path") -> str:
    """Say in what way a lathe file is in use now, "" where it is not."""
    if path == context.paths.own_lathe:
        return "is the lathe that counts"
    if context.lathe_path is not None and context.lathe_path.resolve() == path.resolve():
        return "is the lathe the program was started with"
    try:
        named = context.job and lathe_file(context.job)
    except FileError:
        named = None
    return "is the lathe of the open job" if named and named.resolve() == path.resolve() else ""


def _without_job(context: AppContext, error: FileError) -> str:
    """Close a job that cannot be planned on the lathe that counts now, as it could not be opened either."""
    closed, context.job = context.job, None
    try:
        context.lathe = find_lathe(context.lathe_path, context.paths.own_lathe)
    except FileError as worse:
        return worse.messages[0]
    if closed is None:
        return error.messages[0]
    return f"The open job cannot be planned on this lathe and was closed: {error.messages[0]}"
