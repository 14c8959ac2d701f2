"""Cleans text that comes from outside, once, at the border.

Names and titles from files, arguments and pasted text may hold control
sequences, direction marks or lone surrogates. None of them may reach a
terminal, whatever shows the text later.
"""

import unicodedata

LONGEST_MESSAGE = 300
REPLACEMENT = "\N{REPLACEMENT CHARACTER}"

_SPACES = "\t\n\r\v\f"
_REPLACED = frozenset({"Cc", "Cs", "Co", "Cn", "Zl", "Zp"})


def clean(text: str, longest: int = LONGEST_MESSAGE) -> str:
    """Return `text` on one line, safe to print, at most `longest` characters.

    Format characters (Cf: direction marks, zero-width) are dropped; control,
    surrogate, private-use and unassigned ones become U+FFFD; tabs, line ends
    and spaces of every width become spaces.

    >>> clean("M10\\x1b[2J\\n")
    'M10\ufffd[2J '
    """
    kept: list[str] = []
    # Cut before cleaning: a 50 MB "name" must not cost 50 MB of work.
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
    """Return a name as it is shown, logged and compared: cleaned, without blanks at its ends.

    >>> as_name("Turn the end ")
    'Turn the end'
    """
    return clean(text, longest).strip()


def quoted(value: object, longest: int = 60) -> str:
    """Return what was found, cleaned, short and in quotes, to stand in a message.

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
    """Return a text as one that may follow others: a capital first, and one full stop last, or its own ? or !.

    >>> sentence("nothing can be moved"), sentence("Is the table locked?"), sentence("Read it again.")
    ('Nothing can be moved.', 'Is the table locked?', 'Read it again.')
    """
    words = text.strip()
    ended = words if words.endswith(("?", "!")) else f"{words.rstrip('.')}."
    return f"{ended[:1].upper()}{ended[1:]}"


def counted(count: int, what: str) -> str:
    """Return so many of a thing, in the singular or the plural.

    >>> counted(1, "step"), counted(3, "step")
    ('1 step', '3 steps')
    """
    return f"{count} {what}{'' if count == 1 else 's'}"
