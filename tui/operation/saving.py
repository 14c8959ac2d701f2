"""Keeping an operation that was made up on screen: in the open job, or in a job file of its own."""

import re
import unicodedata
from collections.abc import Collection, Mapping
from typing import NamedTuple

from core.jobs.editor import change_material, change_operation
from core.jobs.job import Job
from core.jobs.writer import JOB_SUFFIX, append_operation, lathe_file, new_job
from core.operations.registry import Parameters
from core.values.errors import CoreError, FileError
from core.values.fields import LONGEST_NAME
from core.values.files import short_path
from core.values.plain_text import as_name, clean, quoted
from tui.context import AppContext
from tui.widgets.path_question import new_file
from tui.widgets.question import Typed, YesNo

_LONGEST_TITLE = 200
_LONGEST_MATERIAL = 200
_NO_MATERIAL = "none"


class SavedOperation(NamedTuple):
    """What was added to a job last: its name there, and the rest of its table."""

    name: str
    rest: Parameters

    @classmethod
    def newest(cls, job: Job | None) -> "SavedOperation":
        """Return the last operation of a job as kept, of none nothing."""
        return cls.of(job.operations[-1].plan_input.parameters) if job else cls(name="", rest={})

    @classmethod
    def of(cls, table: Parameters) -> "SavedOperation":
        """Return an operation's table in two."""
        return cls(name=as_name(str(table["name"])), rest={key: value for key, value in table.items() if key != "name"})

    def name_in(self, job: Job | None, table: Parameters) -> str:
        """Return the name under which this very table stands in a job already, "" where it does not."""
        stands = job is not None and any(operation.name == self.name for operation in job.operations)
        return self.name if stands and SavedOperation.of(table).rest == self.rest else ""


async def keep_in_job(context: AppContext, job: Job, parameters: Parameters) -> str:
    """Ask what the operation is called there, add it to the open job and save its file; return what was done.

    "" where the question was given up. Raises FileError, with the file untouched.
    """
    used = {operation.name: operation.number for operation in job.operations}
    name = await _name(context, unused_name(as_name(str(parameters["name"])), used), used)
    if name is None:
        return ""
    adopt(
        context, append_operation(job.path, {**parameters, "name": name}, context.lathe_path, context.paths.own_lathe)
    )
    return f"Added to {quoted(short_path(job.path), 100)} as {quoted(name)}."


def keep_change(context: AppContext, job: Job, parameters: Parameters) -> str:
    """Let the operation of that name hold these parameters in the job's file; return what was done.

    Raises FileError, with the file untouched.
    """
    name = str(parameters["name"])
    changed = change_operation(job.path, name, parameters, context.lathe_path, context.paths.own_lathe)
    adopt(context, changed)
    if changed.text == job.text:
        return f"{quoted(name)} is as it was: nothing was changed."
    return f"{quoted(name)} is changed in {quoted(short_path(job.path), 100)}."


async def keep_material(context: AppContext, material: str | None) -> str:
    """Ask whether a material typed for one operation counts for the open job, where it has another.

    Returns what was done or could not be, "" where nothing was to be asked.
    """
    job = context.job
    if job is None or (material or None) == job.material:
        return ""
    question = YesNo(
        "Does this material count for the whole job from now on?",
        detail=[f"Typed here: {material or _NO_MATERIAL}. The job has: {job.material or _NO_MATERIAL}."],
    )
    if await context.ask(question):
        try:
            return change_job_material(context, material)
        except FileError as error:
            return f"The material is not kept. {first_errors(error)}"
    return f"The job's own material counts there: {clean(job.material or _NO_MATERIAL, 60)}."


async def ask_material(context: AppContext) -> str:
    """Ask what the open job is cut from and keep it in its file; return what was done, "" where given up."""
    if context.job is None:
        return ""
    question = Typed(
        "What is this job cut from?",
        _material,
        label="Material",
        text=context.job.material or "",
        hint=f"such as brass, or {_NO_MATERIAL}",
        detail=["All its operations take their cautions and usual passes from it.", f"{_NO_MATERIAL}: not told."],
    )
    material = await context.ask(question)
    return "" if material is None else change_job_material(context, material or None)


def change_job_material(context: AppContext, material: str | None) -> str:
    """Let the open job's file name another material; return what was done. Raises FileError."""
    if context.job is None:
        return ""
    adopt(context, change_material(context.job.path, material or None, context.lathe_path, context.paths.own_lathe))
    return f"The job's material is {clean(material or _NO_MATERIAL, 60)} now; runs under way go on as begun."


def _material(text: str) -> str:
    """Return a material, "" for none."""
    material = text_up_to(text, _LONGEST_MATERIAL)
    return "" if material.casefold() == _NO_MATERIAL else material


async def keep_in_new_file(context: AppContext, parameters: Parameters, material: str | None) -> str:
    """Ask for title, file and name, write a new job and open it; return what was done.

    "" where a question was given up. Raises FileError, with nothing written.
    """
    question = Typed("What is the new job called?", lambda text: text_up_to(text, _LONGEST_TITLE), label="Title")
    title = await context.ask(question)
    if title is None:
        return ""
    path = await context.ask(new_file(context, "In which file is it kept?", file_name(title)))
    if path is None:
        return ""
    name = await _name(context, str(parameters["name"]), {})
    if name is None:
        return ""
    path = path.with_name(path.name + JOB_SUFFIX) if path.suffix != JOB_SUFFIX else path
    lathe = lathe_file(context.job, context.lathe_path) if context.job else context.lathe_path
    table = {**parameters, "name": name}
    adopt(context, new_job(path, table, title=title, lathe=lathe, material=material, own_lathe=context.paths.own_lathe))
    return f"Kept in the new job file {quoted(short_path(path), 100)} as {quoted(name)}."


def adopt(context: AppContext, job: Job) -> None:
    """Let a job be the one that is open."""
    context.job = job
    context.lathe = job.lathe


def unused_name(name: str, used: Collection[str]) -> str:
    """Return `name`, or with the first number behind it that makes it new.

    >>> unused_name("Thread M10", ["Thread M10", "Thread M10 2"])
    'Thread M10 3'
    """
    number = 2
    candidate = name
    while candidate in used:
        candidate = f"{name[: LONGEST_NAME - 4]} {number}"
        number += 1
    return candidate


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


def first_errors(error: FileError) -> str:
    """Return the errors of a file in a few sentences: the first ones, and how many more there are."""
    first = error.every[:2]
    more = len(error.every) - len(first)
    return " ".join([*(f"{message.rstrip('.')}." for message in first), *([f"And {more} more."] if more else [])])


async def _name(context: AppContext, suggested: str, used: Mapping[str, int]) -> str | None:
    def read(text: str) -> str:
        name = as_name(text_up_to(text, LONGEST_NAME))
        if name in used:
            raise CoreError(f"{quoted(name)} is operation {used[name]} of this job; accepted is another name")
        return name

    question = Typed("What is this operation called in the job?", read, label="Name", text=suggested)
    return await context.ask(question)
