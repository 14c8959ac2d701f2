"""Adds an operation to the text of a job file. The text that is there stays byte for byte.

The new text is checked before it replaces the file. So a usable file stays usable.
"""

import codecs
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from core.jobs.job import JOB_FORMAT, Job, parse_job
from core.operations.registry import Parameters
from core.values.errors import FileError
from core.values.files import failure, name_of, parse_toml, read_text, write_text
from core.values.toml_text import table_text, toml_key

JOB_SUFFIX = ".toml"

_BYTE_ORDER_MARK = "\ufeff"


def append_operation(
    path: Path, parameters: Parameters, lathe_path: Path | None = None, own_lathe: Path | None = None
) -> Job:
    """Append an operation's table to a job file and return the changed job.

    Reads the file again first, so that changes made meanwhile are kept. Writes nothing if
    the file can no longer be used. Raises FileError with every error in the old or the new text.
    """
    before = read_text(path)
    check_usable(before, path, lathe_path, own_lathe)
    end = line_end(before)
    gap = end if before.endswith("\n") else 2 * end
    after = before + gap + operation_text(parameters).replace("\n", end)
    job = parse_job(after, path, lathe_path, own_lathe)
    write_text(path, byte_order_mark(path) + after)
    return job


def new_job(
    path: Path,
    parameters: Parameters,
    *,
    title: str,
    lathe: Path | None = None,
    material: str | None = None,
    own_lathe: Path | None = None,
) -> Job:
    """Write a job file with one operation and return the job.

    lathe: the lathe file that the job names, None for the user's own or the example lathe.
    Raises FileError if `path` exists already, and with every error in what would be written.
    """
    _check_unused(path)
    head: dict[str, object] = {"format": JOB_FORMAT, "title": title}
    if lathe is not None:
        head["lathe"] = _beside(lathe, path)
    if material:
        head["material"] = material
    text = f"{table_text(head)}\n{operation_text(parameters)}"
    job = parse_job(text, path, own_lathe=own_lathe)
    write_text(path, text)
    return job


def lathe_file(job: Job, lathe_path: Path | None = None) -> Path | None:
    """Return the path of a job's lathe file: `lathe_path`, or the one that the job names; None if there is neither.

    Raises FileError if the job's text cannot be read.
    """
    name = parse_toml(job.text, job.path).get("lathe")
    if lathe_path is not None or not isinstance(name, str):
        return lathe_path
    return job.path.parent / name


def operation_text(parameters: Parameters) -> str:
    """Return the text of an operation in a job file; tables inside it, such as layers, come last.

    >>> print(operation_text({"kind": "by_hand", "name": "Chamfer"}), end="")
    [[operation]]
    kind = "by_hand"
    name = "Chamfer"
    """
    sub_tables = {key: value for key, value in parameters.items() if is_tables(value)}
    own = {key: value for key, value in parameters.items() if key not in sub_tables}
    return f"[[operation]]\n{table_text(own)}{sub_tables_text(sub_tables)}"


def sub_tables_text(sub_tables: Mapping[str, Any]) -> str:
    """Return the tables inside an operation, each under a header of its own.

    >>> print(sub_tables_text({"layer": [{"count": 6}]}), end="")
      [[operation.layer]]
    count = 6
    """
    return "".join(
        f"  [[operation.{toml_key(key)}]]\n{table_text(table)}"
        for key, tables in sub_tables.items()
        for table in tables
    )


def is_tables(value: object) -> bool:
    """Return whether a value is a list of tables, which TOML writes below the other keys."""
    return isinstance(value, list) and bool(value) and all(isinstance(item, Mapping) for item in value)


def check_usable(text: str, path: Path, lathe_path: Path | None, own_lathe: Path | None) -> None:
    """Raise FileError if a job file has errors: nothing may be added to it."""
    try:
        parse_job(text, path, lathe_path, own_lathe)
    except FileError as error:
        first = f"{name_of(path)}: Nothing was written, because the file has errors. Correct them first."
        raise FileError([first, *error.every]) from None


def _check_unused(path: Path) -> None:
    """Raise FileError if a name is in use, even by a broken link."""
    try:
        used = path.exists() or path.is_symlink()
        what = "a folder" if path.is_dir() else "a file"
    except OSError as error:
        raise failure(path, "This name cannot be used", error) from None
    if used:
        raise FileError([f"{name_of(path)}: There is {what} of this name already. Enter a name that is not used yet."])


def line_end(text: str) -> str:
    """Return the line end of a text: CR LF or LF."""
    return "\r\n" if "\r\n" in text else "\n"


def byte_order_mark(path: Path) -> str:
    """Return the byte order mark that some editors write at the start of a file; "" if the file has none."""
    try:
        with path.open("rb") as file:
            return _BYTE_ORDER_MARK if file.read(3) == codecs.BOM_UTF8 else ""
    except OSError as error:
        raise failure(path, "The file cannot be read", error) from None


def _beside(lathe: Path, job: Path) -> str:
    """Return the path of a lathe file as a job file names it: relative if it is in the job's folder, else absolute."""
    lathe, folder = lathe.resolve(), job.parent.resolve()
    return str(lathe.relative_to(folder) if lathe.is_relative_to(folder) else lathe)
