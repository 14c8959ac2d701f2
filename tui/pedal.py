"""Which keys a pedal or a clicker may send: none that is needed for something else at the machine."""

from collections.abc import Mapping

TAKES_PLACE = frozenset({"pageup", "pagedown"})
"""Keys whose place on the counter a pedal takes: there they only scroll, and a step fits on the screen."""
_SAME: Mapping[str, str] = {
    **dict.fromkeys(("space", "enter", "ctrl+m", "ctrl+j"), "This key counts already. Your pedal works without this."),
    **dict.fromkeys(("minus", "subtract", "backspace"), "This key undoes already. Your pedal works without this."),
}
_OTHER = "asterisk multiply slash divide escape tab shift+tab up down left right home end delete insert question_mark"
_WITH_CTRL = ("ctrl+q", "ctrl+c", "ctrl+o", "ctrl+d", "ctrl+w", "ctrl+p")
_EVERYWHERE = frozenset((*_OTHER.split(), *(f"f{number}" for number in (1, 2, 3, 6, 9, 10, 12)), *_WITH_CTRL))
_IN_NUMBERS = frozenset((*"0123456789", "full_stop", "comma", "plus", "add", "quotation_mark", "decimal"))
_LETTERS = frozenset("acghiklmnoprstuvwy")
"""Letters that are keys on a counter or answer its questions, or belong to a unit."""
_ANOTHER = "Set the pedal to another key, such as F8, PgDn or B."


def pedal_refusal(key: str, other: str = "") -> str:
    """Return why a pedal cannot send a key, "" if it can; `other`: the key that the other pedal sends."""
    if key in _SAME:
        return _SAME[key]
    if other and key == other:
        return f"The other pedal sends this key. {_ANOTHER}"
    if key in _IN_NUMBERS:
        return f"Numbers are typed with this key. {_ANOTHER}"
    if key in _EVERYWHERE:
        return f"This key is needed on every screen. {_ANOTHER}"
    if key in _LETTERS:
        return f"The counter or one of its questions needs the key {key.upper()}. {_ANOTHER}"
    return ""


def own_name(key: str) -> str:
    """Return a key as it is compared: a letter means the same in upper and lower case.

    >>> own_name("B"), own_name("pagedown")
    ('b', 'pagedown')
    """
    return key.lower() if len(key) == 1 else key
