"""Reads TOML files from any source, limited in size. Writes files in such a way that a power cut cannot damage them."""

import os
import re
import stat
import tomllib
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from core.values.errors import CoreError, FileError
from core.values.plain_text import clean, quoted, sentence

LARGEST_FILE = 1_000_000
LONGEST_LINE = 2_000
MOST_DOTS = 8
MOST_DOTS_IN_ALL = 20_000
"""Most dots in the keys of one file. Each dot makes a table. Even a thousand operations need fewer."""

# Possessive (*+, ++), so that the time for a long row of blanks grows only with its length.
_KEY_PART = r"(?:[A-Za-z0-9_-]++|\"[^\"]*+\"|'[^']*+')"
_DOTTED_KEY = re.compile(rf"\s*+\[{{0,2}}+\s*+{_KEY_PART}((?:\s*+\.\s*+{_KEY_PART})++)")
_DOT_AND_PART = re.compile(rf"\.\s*+{_KEY_PART}")
_ESCAPES = {'"': '\\"', "\\": "\\\\", "\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r"}


def read_toml(path: Path) -> dict[str, Any]:
    """Return the tables of a TOML file.

    Raises a FileError with one sentence for each error. Errors are a missing file, a folder, no permission, more than 1
    MB, text that is not UTF-8, lines or keys that are too long, and wrong TOML, with its line and column.
    """
    return parse_toml(read_text(path), path)


def parse_toml(text: str, path: Path) -> dict[str, Any]:
    """Return the tables in `text`, which is the content of the file at `path`.

    Raises FileError if `text` is not TOML.
    """
    _check_shape(text, path)
    if not text.strip():
        raise FileError([f"{name_of(path)}: The file is empty. Choose a job or lathe file."])
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        complaint = str(error).replace("at end of document", _end_of(text))
        raise FileError([f"{name_of(path)}: The file cannot be read as TOML. {sentence(clean(complaint))}"]) from None
    except RecursionError:
        raise FileError([f"{name_of(path)}: The sections are nested too deeply. Use at most 3 levels."]) from None
    except ValueError as error:
        # tomllib passes some numbers to int() and datetime, and these raise a ValueError.
        raise FileError([f"{name_of(path)}: A value cannot be read. {sentence(clean(str(error)))}"]) from None


def read_text(path: Path) -> str:
    """Return the text of a regular UTF-8 file of at most 1 MB. Raises FileError if the file is not like this."""
    name = name_of(path)
    try:
        content = _regular_bytes(path, name)
    except FileNotFoundError:
        raise FileError([f"{name}: There is no such file. Check the name and the folder."]) from None
    except PermissionError:
        raise FileError([f"{name}: You have no permission to read this file."]) from None
    except (OSError, ValueError) as error:
        raise failure(path, "The file cannot be read", error) from None
    return _decoded(content, name)


def _regular_bytes(path: Path, name: str) -> bytes:
    """Return the content of a regular file, up to the size that the file system reports.

    Files that the kernel generates while they are read, such as /proc/kmsg, have a size of 0. They are not read,
    because the program could wait forever. Raises FileError or OSError if the file cannot be read.
    """
    # A device is not even opened. Opening one may already start an action.
    _refuse_special(path.stat(), name)
    # The file may have been replaced since. Opening a pipe must not wait for its writer.
    handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_NOCTTY | os.O_CLOEXEC)
    with os.fdopen(handle, "rb") as file:
        status = os.fstat(handle)
        _refuse_special(status, name)
        return file.read(status.st_size)


def _refuse_special(status: os.stat_result, name: str) -> None:
    if stat.S_ISDIR(status.st_mode):
        raise FileError([f"{name}: This is a folder. Choose a file in it."])
    if not stat.S_ISREG(status.st_mode):
        raise FileError([f"{name}: This is a device or a pipe. Choose a file."])
    if status.st_size > LARGEST_FILE:
        raise FileError(
            [f"{name}: The file has {status.st_size} bytes. Choose a file of at most {LARGEST_FILE} bytes."]
        )


def write_text(path: Path, text: str) -> None:
    """Replace the content of a file in one step. Other programs see either the whole old file or the whole new one.

    If the path is a link, the file at its end is replaced. A device or a pipe is never replaced. Raises FileError if
    the file cannot be written.
    """
    # A card only reads files, so this module is loaded only for writing.
    import tempfile

    target = path.resolve()
    try:
        if target.exists() and not target.is_file():
            raise FileError(
                [f"{name_of(path)}: This cannot be replaced, because it is not an ordinary file. Choose another name."]
            )
        handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=".", suffix=".new")
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            # mkstemp gives access only to the owner. A job file keeps the access rights that it had.
            # The file system of a stick may have no access rights.
            with suppress(OSError):
                Path(temporary).chmod(target.stat().st_mode & 0o777 if target.exists() else 0o644)
            Path(temporary).replace(target)
        except OSError:
            Path(temporary).unlink(missing_ok=True)
            raise
        sync_folder(target.parent)
    except OSError as error:
        raise failure(path, "The file cannot be written", error) from None


def write_new(path: Path, lines: Iterable[str]) -> int:
    """Write lines to a new file. Return the number of lines.

    If an error occurs, the incomplete file is deleted. Raises CoreError if the file already exists or cannot be
    written.
    """
    count = 0
    try:
        with path.open("x", encoding="utf-8", errors="backslashreplace", newline="\n") as file:
            try:
                for line in lines:
                    file.write(f"{line}\n")
                    count += 1
                file.flush()
            except (OSError, CoreError):
                path.unlink(missing_ok=True)
                raise
    except FileExistsError:
        raise CoreError(f"{name_of(path)} already exists. Enter a new name.") from None
    except OSError as error:
        raise CoreError(f"{name_of(path)} cannot be written: {error.strerror or 'unknown reason'}.") from None
    return count


def make_folder(folder: Path) -> None:
    """Create a folder and its missing parent folders. Raises FileError if the folder cannot be created."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise failure(folder, "The folder cannot be created", error) from None


def failure(path: Path, what: str, error: OSError | ValueError) -> FileError:
    """Return the FileError for an action that failed on a path.

    `what`: the failed action in words, which the reason follows. `error`: the error that gives the reason.

    >>> failure(Path("lathe.toml"), "The file cannot be deleted", OSError(30, "Read-only file system")).message
    'lathe.toml: The file cannot be deleted. Read-only file system.'
    """
    reason = error.strerror if isinstance(error, OSError) else str(error)
    return FileError([f"{name_of(path)}: {what}. {sentence(clean(reason or 'unknown reason'))}"])


def may_exist(path: Path) -> bool:
    """Return whether a path exists, or may exist.

    If there is no permission to look, return True, because the attempt to read the path then gives the reason.
    """
    try:
        return path.exists()
    except OSError:
        return True


def is_folder(path: Path) -> bool:
    """Return whether a path is an existing folder.

    Return False if the disk does not answer, as with a removed USB stick.
    """
    try:
        return path.is_dir()
    except OSError:
        return False


def sync_folder(folder: Path) -> None:
    """Sync a folder, so that the names of new files in it survive a power cut. Raises OSError if the disk fails."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def name_of(path: Path) -> str:
    """Return a path as text for messages: with ~ for the home folder, without control characters, and shortened."""
    return clean(short_path(path), 200)


def short_path(path: Path) -> str:
    """Return a path as text, with ~ in place of the user's home folder."""
    try:
        inside = path.relative_to(Path.home()).parts
    except (RuntimeError, ValueError):
        return str(path)
    return "/".join(("~", *inside))


def _decoded(content: bytes, name: str) -> str:
    if b"\0" in content:
        raise FileError(
            [f"{name}: This is not a text file, because it contains a zero byte. Choose a job or lathe file."]
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise FileError([f"{name}: Line {line} is not UTF-8 text. Save the file as UTF-8."]) from None


def _end_of(text: str) -> str:
    """Return the position of the end of a text in words, in the wording of the module tomllib."""
    lines = text.split("\n")
    return f"at line {len(lines)}, column {len(lines[-1]) + 1}, the end of the file"


def _check_shape(text: str, path: Path) -> None:
    """Raise FileError if reading a text as TOML would take minutes, for example because a key has too many dots."""
    if len(text.encode("utf-8", "surrogatepass")) > LARGEST_FILE:
        raise FileError([f"{name_of(path)}: The file is too long. Choose a file of at most {LARGEST_FILE} bytes."])
    problems, dots_in_all = [], 0
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LONGEST_LINE:
            problems.append(
                f"{name_of(path)}: Line {number} has {len(line)} characters. Use at most {LONGEST_LINE} "
                "characters in a line."
            )
        elif "." in line and (key := _DOTTED_KEY.match(line)):
            dots = len(_DOT_AND_PART.findall(key[1]))
            dots_in_all += dots
            if dots > MOST_DOTS:
                problems.append(
                    f"{name_of(path)}: Line {number} has a key with too many dots, "
                    f"{quoted(line.strip(), 40)}. Use at most {MOST_DOTS} dots."
                )
    if dots_in_all > MOST_DOTS_IN_ALL:
        problems.append(
            f"{name_of(path)}: The keys have {dots_in_all} dots in all. Use at most {MOST_DOTS_IN_ALL} dots."
        )
    if problems:
        raise FileError(problems)


# Writing TOML: keys, texts, whole numbers, lists and tables of these.


def table_text(table: Mapping[str, object]) -> str:
    """Return a table as TOML text, with one line for each key.

    >>> table_text({"passes": 18})
    'passes = 18\\n'
    """
    return "".join(f"{toml_key(key)} = {toml_value(value)}\n" for key, value in table.items())


def toml_value(value: object) -> str:
    """Return a value as TOML text. The value must be a text, a whole number, true or false, or a list of these.

    Raises TypeError if the value has another type.

    Source: TOML 1.0.0, basic strings: quotes, backslashes and control characters are escaped.

    >>> print(toml_value('5" disc'))
    "5\\" disc"
    """
    if isinstance(value, list | tuple):
        return f"[{', '.join(toml_value(item) for item in value)}]"
    if isinstance(value, bool):
        return str(value).lower()
    if not isinstance(value, int | str):
        raise TypeError(f"cannot be written to a job file: {value!r}")
    if isinstance(value, int):
        return str(value)
    return f'"{"".join(_escaped(character) for character in value)}"'


def _escaped(character: str) -> str:
    if character in _ESCAPES:
        return _ESCAPES[character]
    if character < " " or character == "\x7f":
        return f"\\u{ord(character):04x}"
    # UTF-8 cannot hold half a surrogate pair, so no file can.
    return clean(character) if "\ud800" <= character <= "\udfff" else character


def toml_key(key: str) -> str:
    """Return a key as TOML text: without quotes if TOML allows its characters in a bare key, otherwise in quotes."""
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else toml_value(key)
