"""Keeping an operation that was made up on screen: in the open job, or in a job file of its own."""

import re
import unicodedata
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from core.errors import CoreError, FileError
from core.job_editor import change_operation
from core.job_writer import JOB_SUFFIX, append_operation, lathe_file, new_job
from core.jobs import Job
from core.operations import Parameters
from core.plain_text import quoted
from tui.screens.ask import Typed
from tui.screens.open_job import new_file

if TYPE_CHECKING:
    from tui.app import HalfnutApp

LONGEST_NAME = 80
_LONGEST_TITLE = 200


async def keep_in_job(app: "HalfnutApp", job: Job, parameters: Parameters) -> str:
    """Ask what the operation is called there, add it to the open job and save its file; return what was done.

    "" where the question was given up. Raises FileError, with the file untouched.
    """
    used = {operation.name: operation.number for operation in job.operations}
    name = await _name(app, unused_name(str(parameters["name"]), used), used)
    if name is None:
        return ""
    adopt(app, append_operation(job.path, {**parameters, "name": name}, app.lathe_path, app.paths.own_lathe))
    return f"Added to {quoted(str(job.path), 100)} as {quoted(name)}."


def keep_change(app: "HalfnutApp", job: Job, parameters: Parameters) -> str:
    """Let the operation of that name hold these parameters in the job's file; return what was done.

    Raises FileError, with the file untouched.
    """
    name = str(parameters["name"])
    changed = change_operation(job.path, name, parameters, app.lathe_path, app.paths.own_lathe)
    adopt(app, changed)
    if changed.text == job.text:
        return f"{quoted(name)} is as it was: nothing was changed."
    return f"{quoted(name)} is changed in {quoted(str(job.path), 100)}."


async def keep_in_new_file(app: "HalfnutApp", parameters: Parameters, material: str | None) -> str:
    """Ask for title, file and name, write a new job and open it; return what was done.

    "" where a question was given up. Raises FileError, with nothing written.
    """
    question = Typed("What is the new job called?", lambda text: text_up_to(text, _LONGEST_TITLE), label="Title")
    title = await app.push_screen_wait(question)
    if title is None:
        return ""
    folder = app.job.path.resolve().parent if app.job else Path.cwd()
    path = await app.push_screen_wait(new_file("In which file is it kept?", str(folder / file_name(title))))
    if path is None:
        return ""
    name = await _name(app, str(parameters["name"]), {})
    if name is None:
        return ""
    path = path.with_name(path.name + JOB_SUFFIX) if path.suffix != JOB_SUFFIX else path
    lathe = lathe_file(app.job, app.lathe_path) if app.job else app.lathe_path
    table = {**parameters, "name": name}
    adopt(app, new_job(path, table, title=title, lathe=lathe, material=material, own_lathe=app.paths.own_lathe))
    return f"Kept in the new job file {quoted(str(path), 100)} as {quoted(name)}."


def adopt(app: "HalfnutApp", job: Job) -> None:
    """Let a job be the one that is open."""
    app.job = job
    app.lathe = job.lathe


def unused_name(name: str, used: Collection[str]) -> str:
    """Return `name`, or with the first number behind it that makes it new.

    >>> unused_name("Thread M10", ["Thread M10", "Thread M10 2"])
    'Thread M10 3'
    """
    number = 2
    found = name
    while found in used:
        found = f"{name[: LONGEST_NAME - 4]} {number}"
        number += 1
    return found


def file_name(title: str) -> str:
    """Return a plain file name for a title.

    >>> file_name("Nose adaptor, 2nd piece")
    'nose_adaptor_2nd_piece.toml'
    """
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return f"{re.sub(r'[^a-z0-9]+', '_', plain).strip('_')[:60] or 'job'}{JOB_SUFFIX}"


def text_up_to(text: str, longest: int) -> str:
    """Return a text that is not too long; raises CoreError."""
    if len(text.strip()) > longest:
        raise CoreError(f"found {len(text.strip())} characters; accepted are at most {longest}")
    return text.strip()


def told(error: FileError) -> str:
    """Return the errors of a file in a few sentences: the first ones, and how many more there are."""
    first = error.messages[:2]
    more = len(error.messages) - len(first)
    return " ".join([*(f"{message.rstrip('.')}." for message in first), *([f"And {more} more."] if more else [])])


async def _name(app: "HalfnutApp", suggested: str, used: Mapping[str, int]) -> str | None:
    def read(text: str) -> str:
        name = text_up_to(text, LONGEST_NAME)
        if name in used:
            raise CoreError(f"{quoted(name)} is operation {used[name]} of this job; accepted is another name")
        return name

    question = Typed("What is this operation called in the job?", read, label="Name", text=suggested)
    return await app.push_screen_wait(question)
