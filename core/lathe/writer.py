"""Writes a lathe file that a hand can read and change, and never over one that a hand has changed."""

import re
from collections.abc import Iterator, Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any

from core.lathe.keys import dial
from core.lathe.keys.entry import Part
from core.lathe.keys.table import PARTS
from core.lathe.reader import lathe_from
from core.values.errors import FileError
from core.values.files import name_of, parse_toml, read_text, write_text
from core.values.plain_text import clean
from core.values.toml_text import toml_value

MOST_BESIDE = 999

_HEADING = (
    "# A lathe: its dials and parts. Change what you like: set-up then leaves this file alone",
    "# and writes another beside it.",
    "# Every length, angle and speed has its unit. What you do not know is left out.",
    "",
)

_SEAL = "# seal of set-up, which tells whether a hand has changed this file: "
_COMMENT_COLUMN = 30
_IN_A_ROW = 10
_PLAIN_NAME = re.compile(r"[A-Za-z0-9_-]+", re.ASCII)


def lathe_text(data: Mapping[str, Any]) -> str:
    """Return the text of a lathe file: its keys in order, a comment to each, sealed in the last line.

    data: the tables as a lathe file holds them. Raises FileError, every error at
    once, where they are no lathe.
    """
    wanted = lathe_from(data, "set-up")
    body = "\n".join([*_HEADING, *_tables(wanted.data)]) + "\n"
    text = body + _SEAL + _seal(body) + "\n"
    if lathe_from(parse_toml(text, Path("set-up")), "set-up") != wanted:
        raise FileError(["set-up: what was written does not read back as the same lathe; nothing was kept"])
    return text


def write_lathe(path: Path, data: Mapping[str, Any]) -> Path:
    """Write a lathe file, whole or not at all, and return the path it was written to.

    Where `path` holds anything but an untouched file of set-up's own, that stays
    and the new one goes beside it ("lathe-2.toml"); the caller says so. The
    folder is made if need be. Raises FileError.
    """
    text = lathe_text(data)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        target = path if _may_replace(path) else _beside(path)
    except OSError as error:
        reason = clean(error.strerror or "unknown reason")
        raise FileError([f"{name_of(path)}: cannot be written: {reason}"]) from None
    write_text(target, text)
    return target


def is_untouched(text: str) -> bool:
    """Tell whether a text is a lathe file as set-up wrote it, to the last character."""
    body, seal, rest = text.rpartition(_SEAL)
    return bool(seal) and rest == _seal(body) + "\n"


def _may_replace(path: Path) -> bool:
    """Tell whether nothing of a hand's is at a path."""
    if not path.exists() and not path.is_symlink():
        return True
    try:
        return is_untouched(read_text(path))
    except FileError:
        return False


def _beside(path: Path) -> Path:
    for number in range(2, MOST_BESIDE + 1):
        candidate = path.with_name(f"{path.stem}-{number}{path.suffix}")
        if not candidate.exists() and not candidate.is_symlink():
            return candidate
    raise FileError([f"{name_of(path)}: has {MOST_BESIDE - 1} more of its name beside it; accepted are fewer"])


def _seal(body: str) -> str:
    return sha256(body.encode("utf-8", "surrogatepass")).hexdigest()[:16]


def _tables(data: Mapping[str, Any]) -> Iterator[str]:
    """Return the lines of all tables, in the order of PARTS."""
    for part in PARTS:
        if not part.section:
            yield from _keys(data, part)
        elif part is dial.PART:
            yield from _dials(data.get(part.section, {}))
        elif data.get(part.section):
            yield from ("", *_comment(part.comment), f"[{part.section}]", *_keys(data[part.section], part))


def _dials(dials: Mapping[str, Any]) -> Iterator[str]:
    for place, (name, table) in enumerate(dials.items()):
        header = name if _PLAIN_NAME.fullmatch(name) else toml_value(name)
        comments = (*_comment("" if place else dial.PART.comment), *_comment(dial.COMMENTS.get(name, "")))
        yield from ("", *comments, f"[dial.{header}]", *_keys(table, dial.PART))


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
    """Return a list on one line where it fits, else some items to a line; lists in it on lines of their own."""
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
