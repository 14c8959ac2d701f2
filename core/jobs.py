"""A job file: a title, a lathe, operations. All its errors are told at once, or none is used."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

from core.errors import FileError
from core.fields import Problem, Table
from core.files import name_of, parse_toml, read_text
from core.lathe import Lathe
from core.lathe_file import find_lathe, stand_in_lathe
from core.operations import Basis, Parameters, current_parameters, plan_of, read_operation
from core.plain_text import as_name, quoted
from core.plan import MOST_STEPS, Plan

JOB_FORMAT = 1
MOST_OPERATIONS = 1_000


class JobOperation(NamedTuple):
    """One operation of a job, planned on its lathe."""

    number: int
    name: str
    kind: str
    basis: Basis
    plan: Plan
    written: Parameters
    """Its table as the file has it, perhaps under names of the first version."""


class Job(NamedTuple):
    """A job as its file says, every operation checked and planned."""

    path: Path
    title: str
    material: str | None
    lathe: Lathe
    operations: tuple[JobOperation, ...]
    text: str
    """The file as read, so that a writer can tell whether it has been changed since."""


def read_job(path: Path, lathe_path: Path | None = None, own_lathe: Path | None = None) -> Job:
    """Return the job in a file.

    The lathe is the one at `lathe_path`, else the one the job names, else the
    user's own, else the stand-in. Raises FileError with every error found.
    """
    return parse_job(read_text(path), path, lathe_path, own_lathe)


def parse_job(text: str, path: Path, lathe_path: Path | None = None, own_lathe: Path | None = None) -> Job:
    """Return the job in `text`, the content of `path` now or after it will be written; see `read_job`."""
    data = parse_toml(text, path)
    if "dial" in data and "operation" not in data:
        raise FileError([f"{name_of(path)}: is a lathe file, for it has [dial] tables; wanted is a job file"])
    problems: list[Problem] = []
    top = Table(data, name_of(path), problems)
    top.whole("format", required=True, least=JOB_FORMAT, most=JOB_FORMAT)
    title = top.text("title", required=True, longest=200) or ""
    named = top.text("lathe", longest=200)
    material = top.text("material", longest=200)
    lathe, lathe_errors = _lathe(path, lathe_path, named, own_lathe)
    tables = top.items("operation", "tables [[operation]]", least=1, most=MOST_OPERATIONS)
    if not tables and not top.has("operation"):
        top.problem("operation", "is missing; wanted is at least one table [[operation]]")
    top.refuse_unknown()
    operations = _operations(tables, top, lathe, material)
    if lathe_errors or problems:
        raise FileError([*lathe_errors, *(str(problem) for problem in problems)])
    return Job(path=path, title=title, material=material, lathe=lathe, operations=operations, text=text)


def _lathe(
    path: Path, lathe_path: Path | None, named: str | None, own_lathe: Path | None
) -> tuple[Lathe, tuple[str, ...]]:
    """Return the lathe and no errors, or the stand-in and the errors of the lathe's file."""
    wanted = lathe_path if lathe_path is not None or named is None else path.parent / named
    try:
        return find_lathe(wanted, own_lathe), ()
    except FileError as error:
        return stand_in_lathe(), error.messages


def _operations(tables: list[Any], top: Table, lathe: Lathe, material: str | None) -> tuple[JobOperation, ...]:
    operations: list[JobOperation] = []
    names: dict[str, int] = {}
    steps = 0
    for number, data in enumerate(tables, start=1):
        # A small file must not keep the program busy for minutes.
        if steps > MOST_STEPS:
            top.problem(
                "operation",
                f"found {steps} steps in the first {number - 1} operations; accepted are at most "
                f"{MOST_STEPS} in one job: use several files",
            )
            break
        where = f"{top.where}, operation {number}"
        if not isinstance(data, Mapping):
            top.problem("operation", f"found {quoted(data)}; accepted are tables [[operation]]")
            continue
        name = data.get("name")
        if isinstance(name, str):
            where += f" {quoted(name, 80)}"
            # The log finds a run by the name as it is shown, not as it is written.
            shown = as_name(name)
            if shown in names:
                top.problem(
                    "operation",
                    f"the name {quoted(shown)} is used by {names[shown]} and {number}; accepted is once",
                )
            names.setdefault(shown, number)
        operation = _operation(number, data, Table(current_parameters(data), where, top.problems), lathe, material)
        if operation is not None:
            operations.append(operation)
            steps += len(operation.plan.steps)
    return tuple(operations)


def _operation(
    number: int, written: Parameters, table: Table, lathe: Lathe, material: str | None
) -> JobOperation | None:
    found = read_operation(table, lathe)
    if found is None:
        return None
    kind, name = table.data["kind"], table.text("name") or ""
    plan = plan_of(table, found, kind, lathe, material)
    if plan is None:
        return None
    basis = Basis(kind=kind, parameters=table.data, lathe=lathe, material=material)
    return JobOperation(number=number, name=name, kind=kind, basis=basis, plan=plan, written=written)
