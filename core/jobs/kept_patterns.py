"""The patterns that the user keeps for use in other jobs: a folder of job files with one pattern in each."""

import os
from collections.abc import Mapping
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple

from core.jobs.editor import JOB_SUFFIX, file_name, operation_text, with_title
from core.jobs.job import JOB_FORMAT
from core.values.errors import FileError
from core.values.fields import LONGEST_NAME
from core.values.files import (
    failure,
    make_folder,
    may_exist,
    name_of,
    parse_toml,
    read_text,
    read_toml,
    sync_folder,
    table_text,
    write_text,
)
from core.values.first_version import operation_table
from core.values.plain_text import as_name, clean, quoted

PATTERN = "pattern"
MOST_KEPT = 2_000
"""The largest number of files in the list."""
_MOST_OF_ONE_NAME = 1_000


_NOT_KEPT = frozenset(
    {
        "kind",
        "name",
        "height_error",
        "eccentricity",
        "eccentric_at",
        "face_runout",
        "face_radius",
        "face_high_at",
        "correct",
    }
)
"""Keys that a kept pattern does not have: its name is the title, and the errors are those of one clamping."""


class KeptPattern(NamedTuple):
    """One file in the folder of kept patterns, with the pattern in it if the file is usable."""

    path: Path
    name: str
    """The title in the file, or the file name if the file cannot be used."""
    parameters: Mapping[str, Any]
    """The TOML table of the pattern, as in a job file; {} without a pattern."""
    problem: str = ""
    """The reason why the pattern cannot be opened, in sentences; "" if it can be opened."""


def kept_files(folder: Path) -> list[Path]:
    """Return the job files in the folder of kept patterns, sorted by name; [] if the folder does not exist.

    Raises FileError if the folder cannot be read.
    """
    try:
        with os.scandir(folder) as entries:
            names = [entry.name for entry in islice(entries, MOST_KEPT) if entry.name.endswith(JOB_SUFFIX)]
    except FileNotFoundError:
        return []
    except OSError as error:
        raise failure(folder, "The folder of kept patterns cannot be read", error) from None
    return [folder / name for name in sorted(names, key=str.casefold) if not name.startswith(".")]


def read_kept(path: Path) -> KeptPattern:
    """Return the pattern kept in a file. If there is none or the file is unreadable, `problem` gives the reason."""
    name = clean(path.name, LONGEST_NAME)
    try:
        data = read_toml(path)
    except FileError as error:
        return KeptPattern(path, name, {}, error.every[0].removeprefix(f"{name_of(path)}: "))
    operations = data.get("operation")
    tables = [one for one in operations if isinstance(one, Mapping)] if isinstance(operations, list) else []
    patterns = [table for table in map(operation_table, tables) if table.get("kind") == PATTERN]
    if not patterns:
        return KeptPattern(path, name, {}, "This file has no pattern. Move it to another folder.")
    title = data.get("title")
    named = as_name(title, LONGEST_NAME) if isinstance(title, str) else ""
    return KeptPattern(path, named or name, patterns[0])


def kept_under(folder: Path, name: str) -> Path | None:
    """Return the file of the pattern that was kept under `name`; None if there is no such pattern."""
    return next((path for path in _numbered(folder, name) if may_exist(path) and read_kept(path).name == name), None)


def keep_pattern(folder: Path, name: str, parameters: Mapping[str, Any], replaced: Path | None = None) -> Path:
    """Write a pattern to a job file in the folder of kept patterns, and return the path of the file.

    `parameters`: the pattern's TOML table. `replaced`: the file of an earlier pattern with the same name, which is
    overwritten; None for a new file. After a power cut, either the old or the new file is complete. Raises FileError if
    the file cannot be written.
    """
    others = {key: value for key, value in parameters.items() if key not in _NOT_KEPT}
    table = {"kind": PATTERN, "name": as_name(name, LONGEST_NAME), **others}
    text = f"{table_text({'format': JOB_FORMAT, 'title': name})}\n{operation_text(table)}"
    # The text must be valid before it is written, so that every kept pattern can also be opened.
    parse_toml(text, folder)
    make_folder(folder)
    path = replaced or _free_path(folder, name)
    write_text(path, text)
    return path


def rename_pattern(path: Path, name: str) -> Path:
    """Give the kept pattern in a file another name, and return the path of its new file.

    The new file is named after the pattern, and only the title in it differs. The old file is deleted last. Raises
    FileError if another pattern has this name, or if a file cannot be read or written.
    """
    folder = path.parent
    if kept_under(folder, name) not in {None, path}:
        raise FileError([f"A pattern called {quoted(name)} already exists. Enter another name."])
    text = with_title(read_text(path), name, path)
    new = _free_path(folder, name, path)
    write_text(new, text)
    if new != path:
        forget_pattern(path)
    return new


def forget_pattern(path: Path) -> None:
    """Delete the file of a kept pattern. Raises FileError if the file cannot be deleted."""
    try:
        path.unlink(missing_ok=True)
        sync_folder(path.parent)
    except OSError as error:
        raise failure(path, "The file cannot be deleted", error) from None


def _free_path(folder: Path, name: str, own: Path | None = None) -> Path:
    """Return the first free path for the file of a pattern called `name`.

    `own`: the pattern's present file, which counts as free; None for a new pattern. Raises FileError if all possible
    file names are in use.
    """
    for path in _numbered(folder, name):
        if path == own or not (path.is_symlink() or may_exist(path)):
            return path
    raise FileError([f"{name_of(folder)}: Too many files have names like this. Enter another name."])


def _numbered(folder: Path, name: str) -> list[Path]:
    """Return the possible paths for the file of a pattern called `name`, the preferred path first."""
    path = folder / file_name(name, "pattern")
    return [path, *(path.with_stem(f"{path.stem}_{number}") for number in range(2, _MOST_OF_ONE_NAME))]
