"""Recognizes numbers that an instrument with a cable types, and distinguishes them from keys pressed by hand."""

import re
from collections.abc import Sequence
from typing import Literal, NamedTuple

from textual.events import Key, Paste

QUICK_S = 0.2
"""The longest time between two characters of one number, and before its Enter [s].

Instruments take up to 0.1 s, and a busy computer reads a key late.
"""
SURELY_S = 0.05
"""A gap between characters that is too short for a number typed by hand [s]."""
LINE_ENDS = frozenset({"enter", "ctrl+j"})
"""The keys that a terminal sends for a carriage return and a line feed."""
_LONGEST, _MOST_KEYS = 24, 64
"""The most characters of a number, and the most keys that are judged together."""
_FEWEST_UNENDED = 3
"""The fewest quick keys that count as a number without Enter. Two keys may be that quick by hand; three are not."""
_FEWEST_SURE = 4
_START = re.compile(r"[+-]?(?:\d*[.,]?\d*|\d*[.,]?\d+ ?(?:m|mm|i|in|\")?)")
"""Matches the start of a number with its unit."""
_NUMBER = re.compile(r"[+-]?(?:\d+[.,]?\d*|[.,]\d+) ?(?:mm|in|\")?")


class Burst(NamedTuple):
    """A group of keys that came in quick succession, and what they mean."""

    kind: Literal["number", "by hand", "held", "unended"]
    """The kind of burst: a number with Enter, keys pressed by hand, a held digit, or a number without Enter."""
    text: str
    keys: int
    """How many of the waiting keys belong to the burst."""
    last_s: float
    """The time at which the last key of the burst was pressed [s]."""
    is_sure: bool = False
    """True if nobody types a number so quickly by hand."""
    may_go_on: bool = False
    """True if only the next key can show the end of the burst."""


def is_number(text: str) -> bool:
    """Return True if `text`, which was followed by Enter, is a number from an instrument.

    A single digit or a repeated digit is not, because it comes from a key that was pressed or held by hand.

    >>> is_number("28.71"), is_number("-0,03 mm"), is_number("7"), is_number("111")
    (True, True, False, False)
    """
    return bool(_NUMBER.fullmatch(text)) and len(set(text)) > 1


def first_burst(waiting: Sequence[Key | Paste], quick_s: float) -> Burst | None:
    """Return the burst that starts with the first waiting key; None if that key cannot start a number.

    `quick_s` is the longest time between two keys of a burst [s].
    """
    text, last_s, count, slowest_s = "", 0.0, 0, 0.0
    for event in waiting:
        if not isinstance(event, Key) or (text and event.time - last_s > quick_s):
            break
        if text:
            slowest_s = max(slowest_s, event.time - last_s)
        if text and event.key in LINE_ENDS:
            is_sure = surely_typed(text, slowest_s)
            return Burst(_kind(text, ended=True), text, count + 1, event.time, is_sure)
        typed = text + (event.character or "")
        if event.character is None or not _START.fullmatch(typed) or len(typed) > _MOST_KEYS:
            break
        text, last_s, count = typed, event.time, count + 1
    return Burst(_kind(text, ended=False), text, count, last_s, may_go_on=count == len(waiting)) if text else None


def surely_typed(text: str, slowest_s: float) -> bool:
    """Return True if `text` arrived so quickly that only an instrument can have typed it.

    `slowest_s` is the longest time between two of its characters [s].
    """
    return slowest_s <= SURELY_S and len(text) >= _FEWEST_SURE


def _is_one_digit(text: str) -> bool:
    return text[0].isdecimal() and text == text[0] * len(text)


def _kind(text: str, ended: bool) -> Literal["number", "by hand", "held", "unended"]:
    if len(text) < _FEWEST_UNENDED and not (ended and is_number(text)):
        return "by hand"
    if _is_one_digit(text):
        return "held"
    return "number" if ended and len(text) <= _LONGEST and is_number(text) else "unended"


def has_unit(text: str) -> bool:
    """Return True if a number from an instrument ends with a unit."""
    return text[-1:].isalpha() or text.endswith('"')


def plain_number(text: str) -> str:
    """Return a number from an instrument, rewritten with a decimal point and without "+" and leading zeros.

    In such a number a comma is a decimal comma and never separates thousands.

    >>> plain_number("+00028,710"), plain_number("-.5mm"), plain_number("0.00")
    ('28.710', '-0.5mm', '0.00')
    """
    parts = re.fullmatch(r"([+-]?)0*(\d*)([.,]?)(.*)", text)
    assert parts is not None
    sign, whole, mark, others = parts.groups()
    point = "." if mark and others[:1].isdecimal() else ""
    return f"{sign.replace('+', '')}{whole or '0'}{point}{others}"


class FieldTyping:
    """The characters that were typed quickly into the focused field so far."""

    def __init__(self) -> None:
        self._field: object = None
        self._before = self._typed = ""
        self._last_s = self._slowest_s = 0.0

    def note(self, event: Key, field: object, text: str, quick_s: float) -> None:
        """Record a character that `field` is about to receive.

        `text` is the present content of the field. Characters that are at most `quick_s` apart [s] count as typed
        quickly.
        """
        gap_s = event.time - self._last_s
        typed = event.character or ""
        if not self._typed or field is not self._field or gap_s > quick_s or not _START.fullmatch(self._typed + typed):
            self._field, self._before, self._typed, self._slowest_s = field, text, "", 0.0
            if not _START.fullmatch(typed):
                self._field = None
                return
        else:
            self._slowest_s = max(self._slowest_s, gap_s)
        self._typed, self._last_s = self._typed + typed, event.time

    def ended(self, event: Key, field: object, quick_s: float) -> tuple[str, str, bool] | None:
        """Return (earlier text, number, is_sure) if Enter ends a quickly typed number; otherwise None.

        The earlier text is what the field contained before the number. `is_sure` is True if only an instrument can have
        typed the number. Characters that are at most `quick_s` apart [s] count as typed quickly.
        """
        typed, gap_s = self._typed, event.time - self._last_s
        self._typed = ""
        if field is not self._field or gap_s > quick_s or not is_number(typed):
            return None
        return self._before, typed, surely_typed(typed, max(self._slowest_s, gap_s))
