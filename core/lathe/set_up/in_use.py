"""Records which of the user's lathe files is in use. A small text file contains the name of that lathe file."""

from pathlib import Path

from core.values.errors import FileError
from core.values.files import failure, make_folder, read_text, write_text
from core.values.plain_text import clean

USUAL_FILE = "lathe.toml"
DRAFTS_FOLDER = "drafts"
"""Folder next to the lathe files, for answers of set-up that are not in a lathe file yet."""
_CHOICE = "lathe_in_use"


def own_lathe(folder: Path) -> Path:
    """Return the path of the lathe file in use: the file that the user chose, otherwise lathe.toml.

    The file may not exist yet.
    """
    try:
        name = read_text(folder / _CHOICE).strip()
    except FileError:
        return folder / USUAL_FILE
    return folder / (name if is_lathe_name(name) else USUAL_FILE)


def use_lathe(path: Path) -> None:
    """Make a lathe file the one in use from now on. Raises FileError if the choice cannot be saved."""
    choice = path.parent / _CHOICE
    make_folder(path.parent)
    if path.name != USUAL_FILE:
        write_text(choice, f"{path.name}\n")
        return
    try:
        choice.unlink(missing_ok=True)
    except OSError as error:
        raise failure(choice, "The file cannot be deleted", error) from None


def is_lathe_name(name: str) -> bool:
    """Return whether a name is a valid file name for a lathe in the user's folder.

    A path to another folder is not valid.

    >>> is_lathe_name("lathe-2.toml"), is_lathe_name("../lathe.toml"), is_lathe_name(".toml")
    (True, False, False)
    """
    return Path(name).suffix == ".toml" and Path(name).name == name and clean(name) == name and not name.startswith(".")
