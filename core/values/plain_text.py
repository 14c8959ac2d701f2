"""Handles plain text: removes unsafe characters, quotes values, counts nouns, and wraps sentences.

Names and titles from files, arguments and pasted text may contain control sequences, direction marks or lone
surrogates. These are removed when a text enters the program, so that none of them reaches a terminal.
"""

import re
import unicodedata

LONGEST_MESSAGE = 300
REPLACEMENT = "\N{REPLACEMENT CHARACTER}"

_SPACES = "\t\n\r\v\f"
_REPLACED = frozenset({"Cc", "Cs", "Co", "Cn", "Zl", "Zp"})
_NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=(?:mm|in|deg|tpi|rpm|s)\b)", re.ASCII)
_KEPT = "\u00a0"


def clean(text: str, longest: int = LONGEST_MESSAGE) -> str:
    """Return a text in one row, safe to print, and shortened to at most `longest` characters.

    Format characters (Unicode category Cf: direction marks, zero-width characters) are removed. Control, surrogate,
    private-use and unassigned characters become U+FFFD. Tabs, line ends and spaces of every width become spaces.

    >>> clean("M10\\x1b[2J\\n")
    'M10\ufffd[2J '
    """
    kept: list[str] = []
    # Cut before cleaning, so that a 50 MB "name" does not cost 50 MB of work.
    for character in text[: 4 * longest]:
        category = unicodedata.category(character)
        if character in _SPACES or category == "Zs":
            kept.append(" ")
        elif category in _REPLACED:
            kept.append(REPLACEMENT)
        elif category != "Cf":
            kept.append(character)
    cleaned = "".join(kept)
    if len(cleaned) <= longest and len(text) <= 4 * longest:
        return cleaned
    return cleaned[: longest - 3] + "..."


def as_name(text: str, longest: int = 200) -> str:
    """Return a name as it is shown, logged and compared: without control characters and without spaces at its ends.

    The result has at most `longest` characters.

    >>> as_name("Turn the end ")
    'Turn the end'
    """
    return clean(text, longest).strip()


def quoted(value: object, longest: int = 60) -> str:
    """Return a value from a user or a file in quotes, for use in a message. True, false and numbers get no quotes.

    The text is shortened to `longest` characters, and its control characters are removed.

    >>> quoted("ten")
    '"ten"'
    >>> quoted(True)
    'true'
    """
    if isinstance(value, str):
        return f'"{clean(value, longest)}"'
    if isinstance(value, bool):
        return str(value).lower()
    return clean(str(value), longest)


def sentence(text: str) -> str:
    """Return a text with a capital letter at its start and a full stop at its end. An ending of ? or ! stays.

    >>> sentence("nothing can be moved"), sentence("Is the table locked?"), sentence("Read it again.")
    ('Nothing can be moved.', 'Is the table locked?', 'Read it again.')
    """
    words = text.strip()
    ended = words if words.endswith(("?", "!")) else f"{words.rstrip('.')}."
    return f"{ended[:1].upper()}{ended[1:]}"


def counted(count: int, what: str) -> str:
    """Return a number followed by a noun. The noun is in the plural unless the number is 1.

    >>> counted(1, "step"), counted(3, "step")
    ('1 step', '3 steps')
    """
    return f"{count} {what}{'' if count == 1 else 's'}"


def wrapped(sentence: str, columns: int, *, first: str = "", others: str = "") -> list[str]:
    """Return a sentence wrapped to rows of at most `columns` characters.

    The first row starts with the text `first`, and every other row with the text `others`.

    >>> wrapped("tool out before reversing", 16, first="! ", others="  ")
    ['! tool out', '  before', '  reversing']
    """
    # Reading a number does without this module.
    import textwrap

    narrowest = max(len(first), len(others)) + 1
    return textwrap.wrap(
        sentence,
        max(columns, narrowest),
        initial_indent=first,
        subsequent_indent=others,
        break_on_hyphens=False,
    ) or [first.rstrip()]


def wrapped_sizes(sentence: str, columns: int, *, first: str = "", others: str = "") -> list[str]:
    """Return a sentence wrapped as by `wrapped`, but without a break between a number and its unit.

    >>> wrapped_sizes("touching the work at 1.0000 in", 28)
    ['touching the work at', '1.0000 in']
    """
    kept = _NUMBER_AND_UNIT.sub(_KEPT, sentence)
    return [line.replace(_KEPT, " ") for line in wrapped(kept, columns, first=first, others=others)]
