"""Writes TOML: keys, texts, whole numbers, lists and tables of these."""

import re
from collections.abc import Mapping

from core.values.plain_text import clean

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+", re.ASCII)
_ESCAPES = {'"': '\\"', "\\": "\\\\", "\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r"}


def table_text(table: Mapping[str, object]) -> str:
    """Return one line of TOML for each key.

    >>> table_text({"passes": 18})
    'passes = 18\\n'
    """
    return "".join(f"{toml_key(key)} = {toml_value(value)}\n" for key, value in table.items())


def toml_value(value: object) -> str:
    """Return a text, a whole number or a list of these as TOML writes it; raises TypeError for anything else.

    Source: TOML 1.0.0, basic strings: quote, backslash and control characters are escaped.

    >>> print(toml_value('5" disc'))
    "5\\" disc"
    """
    if isinstance(value, list | tuple):
        return f"[{', '.join(toml_value(item) for item in value)}]"
    if isinstance(value, bool) or not isinstance(value, int | str):
        raise TypeError(f"cannot be written to a job file: {value!r}")
    if isinstance(value, int):
        return str(value)
    return f'"{"".join(_escaped(character) for character in value)}"'


def _escaped(character: str) -> str:
    if character in _ESCAPES:
        return _ESCAPES[character]
    if character < " " or character == "\x7f":
        return f"\\u{ord(character):04x}"
    # UTF-8 cannot hold half a surrogate pair, and so neither can a file.
    return clean(character) if "\ud800" <= character <= "\udfff" else character


def toml_key(key: str) -> str:
    """Return a key as TOML writes it: bare if its characters allow that, else quoted."""
    return key if _BARE_KEY.fullmatch(key) else toml_value(key)
