"""Which of the user's lathe files counts: one word in a file of its own, so that any editor can change it."""

from pathlib import Path

from core.values.errors import FileError
from core.values.files import name_of, read_text, write_text
from core.values.plain_text import clean

USUAL_FILE = "lathe.toml"
DRAFTS_FOLDER = "drafts"
"""Beside the lathe files: what was answered in set-up and does not stand in one of them yet."""
_CHOICE = "lathe_in_use"


def own_lathe(folder: Path) -> Path:
    """Return the file of the lathe that counts, whether it is there or not: the one chosen, else lathe.toml."""
    try:
        name = read_text(folder / _CHOICE).strip()
    except FileError:
        return folder / USUAL_FILE
    return folder / (name if is_lathe_name(name) else USUAL_FILE)


def use_lathe(path: Path) -> None:
    """Let the lathe in a file count from now on; raises FileError."""
    choice = path.parent / _CHOICE
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.name == USUAL_FILE:
            choice.unlink(missing_ok=True)
            return
    except OSError as error:
        reason = clean(error.strerror or "unknown reason")
        raise FileError([f"{name_of(choice)}: cannot be written: {reason}"]) from None
    write_text(choice, f"{path.name}\n")


def is_lathe_name(name: str) -> bool:
    """Tell whether a name is that of a lathe file in the user's folder, and leads nowhere else.

    >>> is_lathe_name("lathe-2.toml"), is_lathe_name("../lathe.toml"), is_lathe_name(".toml")
    (True, False, False)
    """
    return Path(name).suffix == ".toml" and Path(name).name == name and clean(name) == name and not name.startswith(".")
