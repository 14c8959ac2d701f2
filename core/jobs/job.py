"""Reads a job file: a title, a lathe and operations. A file with any error is refused, with all errors listed."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from core.lathe.lathe import Lathe
from core.lathe.reader import example_lathe, find_lathe
from core.operations.registry import (
    Parameters,
    PlanInput,
    count_steps,
    operation_of,
    picture_from,
    plan_of,
    read_operation,
)
from core.plan import MOST_STEPS, Plan
from core.values.errors import FileError, PlanError
from core.values.fields import Problem, Table
from core.values.files import may_exist, name_of, parse_toml, read_text
from core.values.first_version import clash_words, operation_table, written_names
from core.values.plain_text import as_name, counted, quoted

if TYPE_CHECKING:
    from core.operations.patterns.picture import PatternPicture

JOB_FORMAT = 1
MOST_OPERATIONS = 1_000


@dataclass(frozen=True, kw_only=True)
class JobOperation:
    """One operation of a job, planned for the job's lathe."""

    number: int
    name: str
    kind: str
    plan_input: PlanInput
    plan: Plan
    written: Parameters
    """The operation's TOML table as written in the file, perhaps with names of the first version."""
    parameters: Any = field(compare=False, repr=False)
    """The checked parameters, as the operation's declaration reads them from the plan input."""

    @property
    def picture(self) -> "PatternPicture | None":
        """The picture of the operation's pattern, as set on the lathe's dials; None if it has no pattern."""
        return picture_from(self.kind, self.parameters, self.plan_input.lathe)

    @property
    def figure_names(self) -> Mapping[str, str]:
        """The labels that this kind of operation gives to some figures, by the figure's key."""
        return operation_of(self.kind).figure_names


@dataclass(frozen=True, kw_only=True)
class Job:
    """A job as read from its file. Every operation has been checked and planned."""

    path: Path
    title: str
    material: str | None
    lathe: Lathe
    operations: tuple[JobOperation, ...]
    text: str
    """The text of the file at reading time, to find out later whether the file has changed."""


def read_job(path: Path, lathe_path: Path | None = None, own_lathe: Path | None = None) -> Job:
    """Return the job in a file.

    The job is planned for the first of these lathes that is given: the file `lathe_path`, the lathe file that the job
    names, the user's lathe file `own_lathe`, the example lathe. Raises FileError with every error in the job file.
    """
    return parse_job(read_text(path), path, lathe_path, own_lathe)


def parse_job(text: str, path: Path, lathe_path: Path | None = None, own_lathe: Path | None = None) -> Job:
    """Return the job in `text`. `path`: the file that contains the text, or that will contain it.

    The job is planned for the first of these lathes that is given: the file `lathe_path`, the lathe file that the job
    names, the user's lathe file `own_lathe`, the example lathe. Raises FileError with every error in the text.
    """
    data = parse_toml(text, path)
    if "dial" in data and "operation" not in data:
        raise FileError(
            [f"{name_of(path)}: This file describes a lathe, because it has [dial] sections. Choose a job file."]
        )
    problems: list[Problem] = []
    top = Table(data, name_of(path), problems)
    top.whole("format", required=True, least=JOB_FORMAT, most=JOB_FORMAT)
    title = top.text("title", required=True, longest=200) or ""
    lathe_name = top.text("lathe", longest=200)
    material = top.text("material", longest=200)
    lathe, lathe_errors = _lathe(path, lathe_path, lathe_name, own_lathe)
    tables = top.items(
        "operation", "operations, each of which begins with [[operation]]", least=1, most=MOST_OPERATIONS
    )
    if not tables and not top.has("operation"):
        top.problem(
            "operation", "A job needs at least one operation. Begin one with [[operation]] on a line of its own."
        )
    top.refuse_unknown()
    operations = _operations(tables, top, lathe, material)
    if lathe_errors or problems:
        raise FileError([*lathe_errors, *(str(problem) for problem in problems)])
    return Job(path=path, title=title, material=material, lathe=lathe, operations=operations, text=text)


def _lathe(
    path: Path, lathe_path: Path | None, lathe_name: str | None, own_lathe: Path | None
) -> tuple[Lathe, tuple[str, ...]]:
    """Return the lathe of a job, and the errors in its file. If there are errors, return the example lathe with them.

    The lathe is the first one given: the file `lathe_path`, the file `lathe_name` that the job names, the user's file
    `own_lathe`, the example lathe. `path`: the job file.
    """
    lathe_file = lathe_path
    if lathe_path is None and lathe_name is not None:
        lathe_file = named_lathe(path, lathe_name)
        if not may_exist(lathe_file):
            name = quoted(Path(lathe_name).name)
            missing = f"There is no file {quoted(lathe_name, 200)}. Copy {name} into the folder of the job."
            return example_lathe(), (str(Problem(name_of(path), "lathe", missing)),)
    try:
        return find_lathe(lathe_file, own_lathe), ()
    except FileError as error:
        return example_lathe(), error.every


def named_lathe(job: Path, name: str) -> Path:
    """Return the path of the lathe file that a job file names. `name`: a path relative to the job's folder.

    If there is no such file, for example on another computer, a file with the same name in the job's folder is used.
    """
    named, beside = job.parent / name, job.parent / Path(name).name
    return beside if not may_exist(named) and may_exist(beside) else named


class _ReadOperation(NamedTuple):
    """One operation that has been read but not planned yet."""

    number: int
    table: Table
    parameters: Any
    written: Parameters


def _operations(tables: list[Any], top: Table, lathe: Lathe, material: str | None) -> tuple[JobOperation, ...]:
    """Return every operation of a job with its plan.

    `tables`: the TOML tables of the operations. `top`: the table of the whole file. If the job has too many steps in
    total, nothing is planned, and an error is added to `top`. `material`: the work's material; None if not stated.
    """
    read = _read_all(tables, top, lathe)
    steps = sum(_steps_of(operation, lathe, material) for operation in read)
    if steps > MOST_STEPS:
        top.problem(
            "operation",
            f"{counted(len(read), 'operation')} take {steps} steps. A job can have at most {MOST_STEPS} steps. "
            "Divide the job into several files.",
        )
        return ()
    planned = (_planned(operation, lathe, material) for operation in read)
    return tuple(operation for operation in planned if operation is not None)


def _read_all(tables: list[Any], top: Table, lathe: Lathe) -> list[_ReadOperation]:
    operations: list[_ReadOperation] = []
    names: dict[str, int] = {}
    for number, data in enumerate(tables, start=1):
        where = f"{top.where}, operation {number}"
        if not isinstance(data, Mapping):
            top.problem(
                "operation",
                f"{quoted(data)} is not an operation. Begin each operation with [[operation]] on a line of its own.",
            )
            continue
        name = data.get("name")
        if isinstance(name, str):
            where += f" {quoted(name, 80)}"
            # The log finds a run by the name on screen, not by the name in the file.
            shown = as_name(name)
            if shown in names:
                top.problem(
                    "operation",
                    f"Operations {names[shown]} and {number} have the same name {quoted(shown)}. "
                    "Give each operation its own name.",
                )
            names.setdefault(shown, number)
        table = _table(data, where, top.problems)
        parameters = read_operation(table, lathe)
        if parameters is not None:
            operations.append(_ReadOperation(number, table, parameters, data))
    return operations


def _table(data: Parameters, where: str, problems: list[Problem]) -> Table:
    """Return an operation's TOML table, with keys that have been renamed under their present names.

    Error messages use the names in the file. `where`: the name of the table for messages. `problems`: the list to which
    errors are added.
    """

    def clash(old: str, new: str) -> None:
        problems.append(Problem(where, old, clash_words(new)))

    return Table(operation_table(data, clash), where, problems, written_names(data))


def _steps_of(operation: _ReadOperation, lathe: Lathe, material: str | None) -> int:
    """Return how many steps an operation will have; 0 if it cannot be planned.

    The reason is reported when the operation is planned.
    """
    try:
        return count_steps(operation.parameters, operation.table.data["kind"], lathe, material)
    except PlanError:
        return 0


def _planned(operation: _ReadOperation, lathe: Lathe, material: str | None) -> JobOperation | None:
    kind, table = operation.table.data["kind"], operation.table
    plan = plan_of(table, operation.parameters, kind, lathe, material)
    if plan is None:
        return None
    plan_input = PlanInput(kind=kind, parameters=table.data, lathe=lathe, material=material)
    name = table.text("name") or ""
    return JobOperation(
        number=operation.number,
        name=name,
        kind=kind,
        plan_input=plan_input,
        plan=plan,
        written=operation.written,
        parameters=operation.parameters,
    )
