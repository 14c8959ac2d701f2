"""The draft of a lathe file that all screens of set-up share.

This module saves the answers, and makes the program use the lathe that they describe.
"""

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
    """The user's answers about one lathe. Each answer is saved to disk before the program uses it."""

    def __init__(self, path: "Path") -> None:
        """Read the lathe file at `path` and its draft. Raise FileError if the lathe file has errors."""
        self.draft: Draft = read_draft(path)
        self.notice = ""
        """A message that a lathe file edited by hand was not replaced; "" for none. Set-up shows it until it closes."""

    def answer(self, chapter: Chapter, question: Question, value: Any, index: int) -> None:
        """Save an answer. Raise FileError if it cannot be saved. The program does not use the answer in that case."""
        draft = self.draft.answered(chapter, question, value, index)
        save_draft(draft)
        self.draft = draft

    def remove(self, section: KeyPath) -> None:
        """Delete one table of answers. Raise FileError if that fails. The table stays in that case."""
        draft = self.draft.without(section)
        save_draft(draft)
        self.draft = draft

    def save_answers(self, context: AppContext) -> str:
        """Write the complete answers to the lathe file, and make the program use the lathe.

        Return a sentence about the saved answers; "" if nothing changed. Raise FileError if the file cannot be written.
        The answers stay in the draft in that case.
        """
        kept = save_answers(self.draft)
        self.draft = kept.draft
        if kept.beside is not None:
            self.notice = kept.sentence
        if not kept.written:
            return ""
        return " ".join(part for part in (kept.sentence, follow(context)) if part)


def follow(context: AppContext) -> str:
    """Make the whole program use the lathe that is chosen now.

    Return a message if the open job cannot be planned on this lathe; "" if it can.
    """
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
    """Return a message if the program uses a lathe other than the one being set up; otherwise "".

    The program does so if --lathe or the open job names a lathe.
    """
    if context.lathe_path is not None:
        started_with = name_of(context.lathe_path)
        return f"The program was started with --lathe {started_with}, so it uses that lathe until you quit."
    try:
        named = context.job and lathe_file(context.job)
    except FileError:
        named = None
    if named:
        return f"The open job names its own lathe ({named.name}) and uses it instead of this one."
    return ""


def in_use_as(context: AppContext, path: "Path") -> str:
    """Return a phrase that says how a lathe file is used, such as "is the lathe in use"; "" if it is not used."""
    if path == context.paths.own_lathe:
        return "is the lathe in use"
    if context.lathe_path is not None and context.lathe_path.resolve() == path.resolve():
        return "is the lathe with which the program was started"
    try:
        named = context.job and lathe_file(context.job)
    except FileError:
        named = None
    return "is the lathe of the open job" if named and named.resolve() == path.resolve() else ""


def _without_job(context: AppContext, error: FileError) -> str:
    """Close the open job because it cannot be planned on the lathe in use. Return a message with the reason."""
    closed, context.job = context.job, None
    try:
        context.lathe = find_lathe(context.lathe_path, context.paths.own_lathe)
    except FileError as worse:
        return worse.messages[0]
    if closed is None:
        return error.messages[0]
    return f"The open job cannot be planned on this lathe, so it was closed. {sentence(error.messages[0])}"
