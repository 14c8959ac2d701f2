"""The user's lathes: those in their folder, a new one, a copy, one taken out."""

import re
import unicodedata
from collections.abc import Collection, Mapping
from itertools import count
from pathlib import Path
from typing import Any, NamedTuple

from core.errors import CoreError, FileError
from core.files import name_of, read_text, read_toml, write_text
from core.lathe import LATHE_FORMAT
from core.lathe_file import lathe_from
from core.lathe_writer import is_untouched, write_lathe
from core.plain_text import quoted
from core.setup.draft import draft_path, read_draft
from core.setup.in_use import USUAL_FILE, is_lathe_name, own_lathe

LONGEST_NAME = 80
_MOST_ALIKE = 999


class KnownLathe(NamedTuple):
    """A lathe file in the user's folder."""

    path: Path
    name: str
    """As the file says; "" where it cannot be read."""
    counts: bool
    by_hand: bool
    """A hand has changed it."""
    waiting: bool
    """Answers wait in its draft."""
    errors: tuple[str, ...] = ()


def lathes_in(folder: Path) -> tuple[KnownLathe, ...]:
    """Return the lathes in the user's folder by file name, those with errors among them."""
    chosen = own_lathe(folder)
    try:
        names = sorted(entry.name for entry in folder.iterdir() if is_lathe_name(entry.name) and entry.is_file())
    except OSError:
        return ()
    return tuple(_known(folder / name, counts=folder / name == chosen) for name in names)


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


def _known(path: Path, *, counts: bool) -> KnownLathe:
    try:
        by_hand = not is_untouched(read_text(path))
        name = lathe_from(read_toml(path), name_of(path)).name
        waiting = bool(read_draft(path).open_answers)
    except FileError as error:
        return KnownLathe(path=path, name="", counts=counts, by_hand=True, waiting=False, errors=error.messages)
    return KnownLathe(path=path, name=name, counts=counts, by_hand=by_hand, waiting=waiting)


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
