"""Sentences broken into lines."""

import textwrap


def wrapped(sentence: str, columns: int, *, first: str = "", rest: str = "") -> list[str]:
    """Return a sentence as lines of at most `columns` cells; `first` and `rest` lead the lines.

    >>> wrapped("tool out before reversing", 16, first="! ", rest="  ")
    ['! tool out', '  before', '  reversing']
    """
    narrowest = max(len(first), len(rest)) + 1
    return textwrap.wrap(
        sentence,
        max(columns, narrowest),
        initial_indent=first,
        subsequent_indent=rest,
        break_on_hyphens=False,
    ) or [first.rstrip()]


def cut(text: str, columns: int, ellipsis: str = "...") -> str:
    """Return `text` in at most `columns` characters, its end replaced by the ellipsis where it is too long."""
    if len(text) <= columns:
        return text
    if columns <= len(ellipsis):
        return text[: max(columns, 0)]
    return text[: columns - len(ellipsis)].rstrip() + ellipsis
