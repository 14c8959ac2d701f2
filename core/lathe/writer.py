"""Writes a lathe file that a person can read and edit. A file that was edited by hand is never overwritten."""

from collections.abc import Iterator, Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any

from core.lathe.keys import dial
from core.lathe.keys.cutters import CUTTER
from core.lathe.keys.entry import Part
from core.lathe.keys.table import PARTS
from core.lathe.reader import lathe_from
from core.values.errors import FileError
from core.values.files import failure, make_folder, name_of, parse_toml, read_text, toml_key, toml_value, write_text

MOST_COPIES = 999

_HEADING = (
    "# This file describes a lathe. You can edit it. Set-up never overwrites an edited file,",
    "# but writes a new file next to it.",
    "# Each length, angle and speed needs its unit. Leave out a key if you do not know its value.",
    "",
)

_SEAL = "# seal of set-up, which tells whether a hand has changed this file: "
_COMMENT_COLUMN = 30
_IN_A_ROW = 10


def lathe_text(data: Mapping[str, Any]) -> str:
    """Return the text of a lathe file, with a comment for each key. The last line is a checksum of the text.

    `data`: the tables of the file. Raises a FileError that lists all errors if the tables do not describe a lathe.
    """
    wanted = lathe_from(data, "set-up")
    body = "\n".join([*_HEADING, *_tables(wanted.data)]) + "\n"
    text = body + _SEAL + _seal(body) + "\n"
    if lathe_from(parse_toml(text, Path("set-up")), "set-up") != wanted:
        raise FileError(["set-up: The new lathe file would not describe the same lathe. Nothing was saved."])
    return text


def write_lathe(path: Path, data: Mapping[str, Any]) -> Path:
    """Write a lathe file, and return the path of the file that was written. A failed write leaves no partial file.

    Only a file that set-up wrote and nobody edited is replaced. If `path` holds any other file, the new file gets an
    unused name such as "lathe-2.toml". A missing folder is created. Raises FileError if the file cannot be written.
    """
    text = lathe_text(data)
    make_folder(path.parent)
    try:
        target = path if _may_replace(path) else _beside(path)
    except OSError as error:
        raise failure(path, "The file cannot be written", error) from None
    write_text(target, text)
    return target


def is_untouched(text: str) -> bool:
    """Return whether the text of a lathe file is exactly as set-up wrote it, according to the checksum at its end."""
    body, seal, ending = text.rpartition(_SEAL)
    return bool(seal) and ending == _seal(body) + "\n"


def _may_replace(path: Path) -> bool:
    """Return whether set-up may write to a path: it holds no file, or a file from set-up that nobody edited."""
    if not path.exists() and not path.is_symlink():
        return True
    try:
        return is_untouched(read_text(path))
    except FileError:
        return False


def _beside(path: Path) -> Path:
    for number in range(2, MOST_COPIES + 1):
        candidate = path.with_name(f"{path.stem}-{number}{path.suffix}")
        if not candidate.exists() and not candidate.is_symlink():
            return candidate
    raise FileError(
        [
            f"{name_of(path)}: There are already {MOST_COPIES - 1} copies of this file. Delete some of them, then "
            "save again."
        ]
    )


def _seal(body: str) -> str:
    return sha256(body.encode("utf-8", "surrogatepass")).hexdigest()[:16]


def _tables(data: Mapping[str, Any]) -> Iterator[str]:
    for part in PARTS:
        if not part.section:
            yield from _keys(data, part)
        elif part is dial.PART:
            yield from _dials(data.get(part.section, {}))
        elif part is CUTTER:
            for place, table in enumerate(data.get(part.section, ())):
                yield from ("", *_comment("" if place else part.comment), f"[[{part.section}]]", *_keys(table, part))
        elif data.get(part.section):
            yield from ("", *_comment(part.comment), f"[{part.section}]", *_keys(data[part.section], part))


def _dials(dials: Mapping[str, Any]) -> Iterator[str]:
    for place, (name, table) in enumerate(dials.items()):
        comments = (*_comment("" if place else dial.PART.comment), *_comment(dial.COMMENTS.get(name, "")))
        yield from ("", *comments, f"[dial.{toml_key(name)}]", *_keys(table, dial.PART))


def _comment(comment: str) -> list[str]:
    return [f"# {comment}"] if comment else []


def _keys(table: Mapping[str, Any], part: Part) -> Iterator[str]:
    for name, key in part.keys.items():
        if name not in table:
            continue
        value = table[name]
        if isinstance(value, list | tuple):
            yield f"# {key.comment}"
            yield from _list_lines(name, list(value))
        else:
            yield f"{f'{name} = {_scalar(value)}':<{_COMMENT_COLUMN}}  # {key.comment}"


def _list_lines(key: str, items: list[Any]) -> Iterator[str]:
    """Yield the TOML lines of a list. A short list takes one line. A longer list has a few items on each line.

    In a list of lists, each inner list has its own line.
    """
    if any(isinstance(item, list | tuple) for item in items):
        yield f"{key} = ["
        yield from (f"    [{', '.join(_scalar(part) for part in item)}]," for item in items)
        yield "]"
        return
    texts = [_scalar(item) for item in items]
    if len(texts) <= _IN_A_ROW:
        yield f"{key} = [{', '.join(texts)}]"
        return
    yield f"{key} = ["
    yield from (f"    {', '.join(texts[at : at + _IN_A_ROW])}," for at in range(0, len(texts), _IN_A_ROW))
    yield "]"


def _scalar(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return repr(value) if isinstance(value, float) else toml_value(value)
