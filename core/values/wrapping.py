"""Sentences broken into lines."""

import re
import textwrap

_NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=(?:mm|in|deg|tpi|rpm|s)\b)", re.ASCII)
_KEPT = "\u00a0"


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


def wrapped_sizes(sentence: str, columns: int, *, first: str = "", rest: str = "") -> list[str]:
    """Return a sentence as lines, like `wrapped`, no number at the end of a line without its unit.

    >>> wrapped_sizes("touching the work at 1.0000 in", 28)
    ['touching the work at', '1.0000 in']
    """
    kept = _NUMBER_AND_UNIT.sub(_KEPT, sentence)
    return [line.replace(_KEPT, " ") for line in wrapped(kept, columns, first=first, rest=rest)]
