"""The user's lathes: those in their folder, a new one, a copy, one taken out."""

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
from core.values.files import name_of, read_text, read_toml, write_text
from core.values.plain_text import clean, quoted

LONGEST_NAME = 80
_MOST_ALIKE = 999


class KnownLathe(NamedTuple):
    """A lathe file in the user's folder."""

    path: Path
    name: str
    """As the file says; "" where it cannot be read."""
    in_use: bool
    edited_by_hand: bool
    """A hand has changed it."""
    has_draft: bool
    """Answers wait in its draft."""
    errors: tuple[str, ...] = ()
    has_file: bool = True
    """There is a file; False where all that was answered waits."""


def lathes_in(folder: Path) -> tuple[KnownLathe, ...]:
    """Return the lathes in the user's folder by file name, those with errors and those only answered among them."""
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
    """Write a new lathe file, empty or with the tables of another one; return its path. Raises FileError."""
    tables = {**(like or {}), "format": LATHE_FORMAT, "name": name}
    return write_lathe(free_path(folder, name), tables)


def free_path(folder: Path, name: str) -> Path:
    """Return a file name for a lathe of that name that neither a lathe nor a draft has."""
    stem = _stem(name)
    for number in range(1, _MOST_ALIKE):
        path = folder / (USUAL_FILE if number == 1 and not own_lathe(folder).exists() else _numbered(stem, number))
        if not path.exists() and not path.is_symlink() and not draft_path(path).exists():
            return path
    raise FileError([f"{name_of(folder)}: has {_MOST_ALIKE - 1} lathes called {quoted(name)}; accepted are fewer"])


def export_lathe(path: Path, target: Path) -> None:
    """Copy a lathe file, to the last character, to a place that is free; raises FileError."""
    text = read_text(path)
    if target.exists() or target.is_symlink():
        raise FileError([f"{name_of(target)}: is there already; a new name is wanted"])
    write_text(target, text)


def remove_lathe(path: Path) -> None:
    """Remove a lathe file, and with it the answers that wait for it.

    Raises FileError for the lathe that counts, which cannot go, and where a file cannot be removed.
    """
    if path == own_lathe(path.parent):
        raise FileError(
            [f"{name_of(path)}: is the lathe that counts; accepted is one that does not: let another count"]
        )
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise FileError([f"{name_of(path)}: cannot be removed: {clean(error.strerror or 'unknown reason')}"]) from None
    delete_draft(path)


def lathe_name(text: str) -> str:
    """Return a name for a lathe; raises CoreError."""
    name = text.strip()
    if not 0 < len(name) <= LONGEST_NAME:
        raise CoreError(f"found {len(name)} characters; accepted are 1 to {LONGEST_NAME}")
    return name


def spare_name(name: str, names: Collection[str]) -> str:
    """Return a name as it is, or with a number behind it where a lathe is called so already.

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
    """Return a plain file name without its ending.

    >>> _stem("Bench lathe, 5½")
    'bench_lathe_51_2'
    """
    decomposed = unicodedata.normalize("NFKD", name).replace("\N{FRACTION SLASH}", "_")
    ascii_only = decomposed.encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "_", ascii_only).strip("_")[:40] or "lathe"


def _numbered(stem: str, number: int) -> str:
    return f"{stem}.toml" if number == 1 else f"{stem}-{number}.toml"
