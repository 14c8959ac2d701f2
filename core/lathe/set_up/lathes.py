"""The user's lathe files: functions to list, create, copy, export and delete them."""

import re
import unicodedata
from collections.abc import Collection, Mapping
from itertools import count
from pathlib import Path
from typing import Any, NamedTuple

from core.lathe.lathe import LATHE_FORMAT
from core.lathe.reader import lathe_from
from core.lathe.set_up.draft import delete_draft, draft_path, read_draft
from core.lathe.set_up.in_use import DRAFTS_FOLDER, USUAL_FILE, is_lathe_name, own_lathe
from core.lathe.writer import is_untouched, write_lathe
from core.values.errors import CoreError, FileError
from core.values.files import failure, name_of, read_text, read_toml, write_text
from core.values.plain_text import quoted

LONGEST_NAME = 80
_MOST_ALIKE = 999


class KnownLathe(NamedTuple):
    """One lathe file in the user's folder."""

    path: Path
    name: str
    """The lathe's name in the file; "" if it cannot be read."""
    in_use: bool
    edited_by_hand: bool
    """True if someone has changed the file outside set-up."""
    has_draft: bool
    """True if the lathe's draft has answers that are not in the file."""
    errors: tuple[str, ...] = ()
    has_file: bool = True
    """False if there is no lathe file yet and all answers are in the draft."""


def lathes_in(folder: Path) -> tuple[KnownLathe, ...]:
    """Return the lathes in the user's folder, sorted by file name.

    A lathe may have errors, or may exist only as a draft.
    """
    chosen = own_lathe(folder)
    names = {path.name for path in _files_in(folder) if is_lathe_name(path.name)}
    drafted = {f"{path.stem}{chosen.suffix}" for path in _files_in(folder / DRAFTS_FOLDER) if path.suffix == ".json"}
    drafted = {name for name in drafted - names if is_lathe_name(name)}
    known = [_known(folder / name, in_use=folder / name == chosen) for name in sorted(names | drafted)]
    return tuple(lathe for lathe in known if lathe.has_file or lathe.has_draft)


def _files_in(folder: Path) -> list[Path]:
    try:
        return [path for path in folder.iterdir() if path.is_file()]
    except OSError:
        return []


def new_lathe(folder: Path, name: str, like: Mapping[str, Any] | None = None) -> Path:
    """Write a new lathe file and return its path.

    `like`: the tables of a lathe to copy; None for an empty lathe. Raises FileError if the file cannot be written.
    """
    tables = {**(like or {}), "format": LATHE_FORMAT, "name": name}
    return write_lathe(free_path(folder, name), tables)


def free_path(folder: Path, name: str) -> Path:
    """Return an unused path in a folder for the file of a new lathe. The file name is derived from the lathe's name."""
    stem = _stem(name)
    for number in range(1, _MOST_ALIKE):
        path = folder / (USUAL_FILE if number == 1 and not own_lathe(folder).exists() else _numbered(stem, number))
        if not path.exists() and not path.is_symlink() and not draft_path(path).exists():
            return path
    raise FileError(
        [f"{name_of(folder)}: There are already {_MOST_ALIKE - 1} lathes called {quoted(name)}. Choose another name."]
    )


def export_lathe(path: Path, target: Path) -> None:
    """Copy a lathe file unchanged to the path `target`. Raises FileError if the copy fails."""
    text = read_text(path)
    if target.exists() or target.is_symlink():
        raise FileError([f"{name_of(target)}: This file already exists. Enter a new name."])
    write_text(target, text)


def remove_lathe(path: Path) -> None:
    """Delete a lathe file and its draft.

    Raises FileError if this lathe is in use, or if a file cannot be deleted.
    """
    if path == own_lathe(path.parent):
        raise FileError([f"{name_of(path)}: This lathe is in use and cannot be deleted. Use another lathe first."])
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise failure(path, "The file cannot be deleted", error) from None
    delete_draft(path)


def lathe_name(text: str) -> str:
    """Return the name that a user typed for a lathe, without blanks at its ends.

    Raises CoreError if the name is invalid.
    """
    name = text.strip()
    if not 0 < len(name) <= LONGEST_NAME:
        raise CoreError(f"The name has {len(name)} characters. Enter a name of 1 to {LONGEST_NAME} characters.")
    return name


def spare_name(name: str, names: Collection[str]) -> str:
    """Return `name`, with a number added if `names` already contains it.

    >>> spare_name("Bench lathe", ["Bench lathe", "Bench lathe 2"])
    'Bench lathe 3'
    """
    numbered = (f"{name} {number}" for number in count(2))
    return name if name not in names else next(other for other in numbered if other not in names)


def _known(path: Path, *, in_use: bool) -> KnownLathe:
    if not path.exists():
        waiting = bool(read_draft(path).open_answers)
        return KnownLathe(path=path, name="", in_use=False, edited_by_hand=False, has_draft=waiting, has_file=False)
    try:
        by_hand = not is_untouched(read_text(path))
        name = lathe_from(read_toml(path), name_of(path)).name
        waiting = bool(read_draft(path).open_answers)
    except FileError as error:
        return KnownLathe(path=path, name="", in_use=in_use, edited_by_hand=True, has_draft=False, errors=error.every)
    return KnownLathe(path=path, name=name, in_use=in_use, edited_by_hand=by_hand, has_draft=waiting)


def _stem(name: str) -> str:
    """Return the name of a lathe as a plain file name without an extension.

    >>> _stem("Bench lathe, 5½")
    'bench_lathe_51_2'
    """
    decomposed = unicodedata.normalize("NFKD", name).replace("\N{FRACTION SLASH}", "_")
    ascii_only = decomposed.encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "_", ascii_only).strip("_")[:40] or "lathe"


def _numbered(stem: str, number: int) -> str:
    return f"{stem}.toml" if number == 1 else f"{stem}-{number}.toml"
