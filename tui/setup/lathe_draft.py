"""What the screens of set-up share: the draft of a lathe file, saving it, and using the lathe."""

from typing import TYPE_CHECKING, Any

from core.jobs.editor import lathe_file
from core.jobs.job import read_job
from core.lathe.keys.entry import Question
from core.lathe.reader import find_lathe
from core.lathe.set_up.chapters import Chapter, KeyPath
from core.lathe.set_up.draft import Draft, read_draft, save_draft
from core.lathe.set_up.saving import save_answers
from core.values.errors import FileError
from core.values.files import name_of
from core.values.plain_text import sentence
from tui.context import AppContext

if TYPE_CHECKING:
    from pathlib import Path


class LatheDraft:
    """The answers about one lathe. Each is on the disk before it is used."""

    def __init__(self, path: "Path") -> None:
        """Read the answers so far; raises FileError if the lathe file has errors."""
        self.draft: Draft = read_draft(path)
        self.notice = ""
        """The message that a file edited by hand was not replaced. It stays until set-up is closed."""

    def answer(self, chapter: Chapter, question: Question, value: Any, index: int) -> None:
        """Save an answer. Raises FileError if that fails; then the answer is not used."""
        draft = self.draft.answered(chapter, question, value, index)
        save_draft(draft)
        self.draft = draft

    def remove(self, section: KeyPath) -> None:
        """Delete a whole table. Raises FileError if that cannot be written; then it stays."""
        draft = self.draft.without(section)
        save_draft(draft)
        self.draft = draft

    def save_answers(self, context: AppContext) -> str:
        """Write complete answers to the lathe file and use it. Return what was done; "" for nothing.

        Raises FileError; then the answers are still in the draft.
        """
        kept = save_answers(self.draft)
        self.draft = kept.draft
        if kept.beside is not None:
            self.notice = kept.sentence
        if not kept.written:
            return ""
        return " ".join(part for part in (kept.sentence, follow(context)) if part)


def follow(context: AppContext) -> str:
    """Use the lathe that is chosen now. Return a message if the open job cannot be planned on it; else ""."""
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
    """Return a message if the lathe in use is not the one being set up; else "".

    Another one is in use if --lathe or the open job names it.
    """
    if context.lathe_path is not None:
        started_with = name_of(context.lathe_path)
        return f"The program was started with --lathe {started_with}. It uses that lathe until you quit."
    try:
        named = context.job and lathe_file(context.job)
    except FileError:
        named = None
    if named:
        return f"The open job names its own lathe ({named.name}) and uses that one, not this."
    return ""


def in_use_as(context: AppContext, path: "Path") -> str:
    """Return in words what a lathe file is in use for now; "" if it is not in use."""
    if path == context.paths.own_lathe:
        return "is the lathe in use"
    if context.lathe_path is not None and context.lathe_path.resolve() == path.resolve():
        return "is the lathe the program was started with"
    try:
        named = context.job and lathe_file(context.job)
    except FileError:
        named = None
    return "is the lathe of the open job" if named and named.resolve() == path.resolve() else ""


def _without_job(context: AppContext, error: FileError) -> str:
    """Close the open job, because it cannot be planned on the lathe in use."""
    closed, context.job = context.job, None
    try:
        context.lathe = find_lathe(context.lathe_path, context.paths.own_lathe)
    except FileError as worse:
        return worse.messages[0]
    if closed is None:
        return error.messages[0]
    return f"The open job cannot be planned on this lathe, so it was closed. {sentence(error.messages[0])}"
