"""Writes a lathe file that a hand can read and change, and never over one that a hand has changed."""

import re
from collections.abc import Iterator, Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any

from core.errors import FileError
from core.files import name_of, parse_toml, read_text, write_text
from core.job_writer import toml_value
from core.lathe_comments import COMMENTS, DIAL_COMMENTS, HEADING, SECTION_COMMENTS
from core.lathe_file import lathe_from
from core.plain_text import clean

MOST_BESIDE = 999

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
    body = "\n".join([*HEADING, *_tables(data)]) + "\n"
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
    """Return the lines of all tables, in the order of COMMENTS."""
    yield from _keys(data, COMMENTS[""])
    for place, (name, dial) in enumerate(data.get("dial", {}).items()):
        header = name if _PLAIN_NAME.fullmatch(name) else toml_value(name)
        first = _section_comment("dial") if place == 0 else []
        yield from ("", *first, *_section_comment(f"dial.{name}"), f"[dial.{header}]", *_keys(dial, DIAL_COMMENTS))
    for section, comments in COMMENTS.items():
        if section and data.get(section):
            yield from ("", *_section_comment(section), f"[{section}]", *_keys(data[section], comments))


def _section_comment(section: str) -> list[str]:
    comment = SECTION_COMMENTS.get(section)
    return [f"# {comment}"] if comment else []


def _keys(table: Mapping[str, Any], comments: Mapping[str, str]) -> Iterator[str]:
    for key, comment in comments.items():
        if key not in table:
            continue
        if isinstance(table[key], list | tuple):
            yield f"# {comment}"
            yield from _list_lines(key, list(table[key]))
        else:
            yield f"{f'{key} = {_scalar(table[key])}':<{_COMMENT_COLUMN}}  # {comment}"


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
