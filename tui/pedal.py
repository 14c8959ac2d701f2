"""Rules for the keys that a pedal or clicker may send. A key that the counter needs is refused."""

from collections.abc import Mapping

TAKES_PLACE = frozenset({"pageup", "pagedown"})
"""Keys that only scroll on a counter, so that a pedal may send them. Every step of a counter fits on the screen."""
_SAME: Mapping[str, str] = {
    **dict.fromkeys(
        ("space", "enter", "ctrl+m", "ctrl+j"), "This key already counts a pass, so the pedal needs no setting."
    ),
    **dict.fromkeys(
        ("minus", "subtract", "backspace"), "This key already undoes the last count, so the pedal needs no setting."
    ),
}
_OTHER = "asterisk multiply slash divide escape tab shift+tab up down left right home end delete insert question_mark"
_WITH_CTRL = ("ctrl+q", "ctrl+c", "ctrl+o", "ctrl+d", "ctrl+w", "ctrl+p")
_EVERYWHERE = frozenset((*_OTHER.split(), *(f"f{number}" for number in (1, 2, 3, 6, 9, 10, 12)), *_WITH_CTRL))
_IN_NUMBERS = frozenset((*"0123456789", "full_stop", "comma", "plus", "add", "quotation_mark", "decimal"))
_LETTERS = frozenset("acghiklmnoprstuvwy")
"""Letters that a pedal must not send: keys of a counter, answers to questions, and letters of units."""
_ANOTHER = "Set the pedal to another key, such as F8, PgDn or B."


def pedal_refusal(key: str, other: str = "") -> str:
    """Return why a pedal cannot send `key`; "" if it can. `other` is the key of the other pedal, or ""."""
    if key in _SAME:
        return _SAME[key]
    if other and key == other:
        return f"The other pedal already sends this key. {_ANOTHER}"
    if key in _IN_NUMBERS:
        return f"This key types numbers. {_ANOTHER}"
    if key in _EVERYWHERE:
        return f"Every screen needs this key. {_ANOTHER}"
    if key in _LETTERS:
        return f"The counter or one of its questions needs the key {key.upper()}. {_ANOTHER}"
    return ""


def own_name(key: str) -> str:
    """Return the name of a key for comparisons. A letter has the same name in upper and lower case.

    >>> own_name("B"), own_name("pagedown")
    ('b', 'pagedown')
    """
    return key.lower() if len(key) == 1 else key
