"""Saves the operation of a form in the open job, or in a new job file."""

from collections.abc import Collection, Mapping
from typing import NamedTuple

from core.jobs.editor import (
    JOB_SUFFIX,
    append_operation,
    change_material,
    change_operation,
    file_name,
    lathe_file,
    new_job,
)
from core.jobs.job import Job
from core.operations.registry import Parameters
from core.values.errors import CoreError, FileError
from core.values.fields import LONGEST_NAME
from core.values.files import short_path
from core.values.plain_text import as_name, clean, counted, quoted
from tui.context import AppContext
from tui.widgets.path_question import new_file
from tui.widgets.question import Typed, YesNo

_LONGEST_TITLE = 200
_LONGEST_MATERIAL = 200
_NO_MATERIAL = "none"


class SavedOperation(NamedTuple):
    """The operation that a form saved last: its name in the job, and its other keys and values."""

    name: str
    parameters: Parameters

    @classmethod
    def newest(cls, job: Job | None) -> "SavedOperation":
        """Return the last operation of a job. If there is no job, return an operation without a name."""
        return cls.of(job.operations[-1].plan_input.parameters) if job else cls(name="", parameters={})

    @classmethod
    def of(cls, table: Parameters) -> "SavedOperation":
        """Return a saved operation from the keys and values of an operation, with the name separated from the rest."""
        others = {key: value for key, value in table.items() if key != "name"}
        return cls(name=as_name(str(table["name"])), parameters=others)

    @classmethod
    def called(cls, name: str, job: Job | None) -> "SavedOperation":
        """Return the job's operation with this name. If the job has none, return an operation without a name."""
        found = (one for one in (job.operations if job else ()) if one.name == name)
        return next((cls.of(one.plan_input.parameters) for one in found), cls(name="", parameters={}))

    def still_in(self, job: Job | None) -> str:
        """Return this operation's name if the job has an operation with this name; otherwise ""."""
        return self.name if job is not None and any(one.name == self.name for one in job.operations) else ""

    def name_in(self, job: Job | None, table: Parameters) -> str:
        """Return this operation's name if the job still has it with the keys and values of `table`; otherwise ""."""
        return self.still_in(job) if SavedOperation.of(table).parameters == self.parameters else ""


async def add_to_job(context: AppContext, job: Job, parameters: Parameters) -> str:
    """Save new parameters for the job's operation with the same name. Return a sentence that reports the result.

    Raise FileError if the file cannot be saved; the file then stays unchanged.
    """
    used = {operation.name: operation.number for operation in job.operations}
    name = await _name(context, unused_name(as_name(str(parameters["name"])), used), used)
    if name is None:
        return ""
    use_job(
        context, append_operation(job.path, {**parameters, "name": name}, context.lathe_path, context.paths.own_lathe)
    )
    return f"Saved in {quoted(short_path(job.path), 100)} as {quoted(name)}."


def save_change(context: AppContext, job: Job, parameters: Parameters) -> str:
    """If the form's material differs from the job's material, ask whether the whole job is to use the form's material.

    Return a sentence that reports the result or the failure; "" if both materials are the same or no job is open.
    """
    name = str(parameters["name"])
    changed = change_operation(job.path, name, parameters, context.lathe_path, context.paths.own_lathe)
    use_job(context, changed)
    if changed.text == job.text:
        return f"Nothing has changed in {quoted(name)}."
    return f"{quoted(name)} has been saved in {quoted(short_path(job.path), 100)}."


async def save_material(context: AppContext, material: str | None) -> str:
    """Ask whether the whole job uses a new material, if the form's material differs from the job's material.

    Return a sentence that reports the result or the failure; "" if both materials are the same.
    """
    job = context.job
    if job is None or (material or None) == job.material:
        return ""
    question = YesNo(
        "Use this material for the whole job?",
        detail=[f"In this form: {material or _NO_MATERIAL}. In the job: {job.material or _NO_MATERIAL}."],
    )
    if await context.ask(question):
        try:
            return change_job_material(context, material)
        except FileError as error:
            return f"The material was not saved. {first_errors(error)}"
    return f"The material of the job stays {clean(job.material or _NO_MATERIAL, 60)}."


async def ask_material(context: AppContext) -> str:
    """Ask for the material of the open job, and save it in the job's file.

    Return a sentence that reports the result; "" if the user cancels or no job is open. Raise FileError if the file
    cannot be saved.
    """
    if context.job is None:
        return ""
    question = Typed(
        "From which material is this job cut?",
        _material,
        label="Material",
        text=context.job.material or "",
        hint=f"such as brass, or {_NO_MATERIAL}",
        detail=[
            "The cautions and the usual passes of all operations depend on the material.",
            f"Enter {_NO_MATERIAL} for no material.",
        ],
    )
    material = await context.ask(question)
    return "" if material is None else change_job_material(context, material or None)


def change_job_material(context: AppContext, material: str | None) -> str:
    """Save a new material in the open job's file. None means no material.

    Return a sentence that reports the result; "" if no job is open. Raise FileError if the file cannot be saved.
    """
    if context.job is None:
        return ""
    use_job(context, change_material(context.job.path, material or None, context.lathe_path, context.paths.own_lathe))
    kept = "Unfinished runs continue as they were started."
    return f"The job's material is now {clean(material or _NO_MATERIAL, 60)}. {kept}"


def _material(text: str) -> str:
    """Return the typed name of a material; "" if the user typed "none". Raise CoreError if the text is too long."""
    material = text_up_to(text, _LONGEST_MATERIAL)
    return "" if material.casefold() == _NO_MATERIAL else material


async def save_as_new_job(context: AppContext, parameters: Parameters, material: str | None) -> str:
    """Ask for a job title, a file and a name for the operation. Save a new job with this operation, and open the job.

    Return a sentence that reports the result, or "" if the user cancels. Raise FileError if the file cannot be saved;
    no file is then written.
    """
    question = Typed("What is the new job called?", lambda text: text_up_to(text, _LONGEST_TITLE), label="Title")
    title = await context.ask(question)
    if title is None:
        return ""
    path = await context.ask(new_file(context, "In which file do you want to save the new job?", file_name(title)))
    if path is None:
        return ""
    name = await _name(context, str(parameters["name"]), {})
    if name is None:
        return ""
    path = path.with_name(path.name + JOB_SUFFIX) if path.suffix != JOB_SUFFIX else path
    lathe = lathe_file(context.job, context.lathe_path) if context.job else context.lathe_path
    table = {**parameters, "name": name}
    use_job(
        context, new_job(path, table, title=title, lathe=lathe, material=material, own_lathe=context.paths.own_lathe)
    )
    copied = lathe is not None and not lathe.resolve().is_relative_to(path.parent.resolve())
    beside = " A copy of the lathe file is in the same folder. Move both files together." if copied else ""
    return f"Saved in the new job file {quoted(short_path(path), 100)} as {quoted(name)}.{beside}"


def use_job(context: AppContext, job: Job) -> None:
    """Open a job in place of the present job, with the lathe that the job names."""
    context.job = job
    context.lathe = job.lathe


def unused_name(name: str, used: Collection[str]) -> str:
    """Return `name`; if another operation already has this name, return `name` followed by a number.

    >>> unused_name("Thread M10", ["Thread M10", "Thread M10 2"])
    'Thread M10 3'
    """
    number = 2
    candidate = name
    while candidate in used:
        candidate = f"{name[: LONGEST_NAME - 4]} {number}"
        number += 1
    return candidate


def text_up_to(text: str, longest: int) -> str:
    """Return a text without spaces at its ends. Raise CoreError if the text is longer than `longest` characters."""
    if len(text.strip()) > longest:
        raise CoreError(f"This text has {len(text.strip())} characters. Enter at most {longest} characters.")
    return text.strip()


def first_errors(error: FileError) -> str:
    """Return, in sentences, the first two errors of a file and the number of further errors."""
    first = error.every[:2]
    more = len(error.every) - len(first)
    return " ".join(
        [
            *(f"{message.rstrip('.')}." for message in first),
            *([f"The file has {counted(more, 'more error')}."] if more else []),
        ]
    )


async def _name(context: AppContext, suggested: str, used: Mapping[str, int]) -> str | None:
    def read(text: str) -> str:
        name = as_name(text_up_to(text, LONGEST_NAME))
        if name in used:
            raise CoreError(f"Operation {used[name]} of this job is already called {quoted(name)}. Enter another name.")
        return name

    question = Typed("What is this operation called in the job?", read, label="Name", text=suggested)
    return await context.ask(question)
