"""Which way slide and head go in a pattern: one word for one direction, in steps, counter and cautions alike.

The slide's "in" and "out" mean the operator's side, "out" from the axis the
opposite; so both are named by what they lead to.
"""

from core.operations.patterns.head_dial import HEAD

AWAY, TOWARDS = "away from the table's axis", "towards the table's axis"
LARGER, SMALLER = "to a larger circle", "to a smaller circle"
_PAST = "past it by more than the backlash, then"


def direction(dial_name: str, inwards: bool) -> str:
    """Return which way a move of the offset's slide or of the head goes; one of its two ways ends against the other.

    `inwards`: as the dial counts; that is away from the table's axis, and for the
    head towards a larger circle. Both come to their reading that way, the backlash taken up.

    >>> direction("cross_slide", True), direction("cross_slide", False)
    ("away from the table's axis", "towards the table's axis, past it by more than the backlash, then away again")
    """
    if dial_name == HEAD:
        return LARGER if inwards else f"{SMALLER}, {_PAST} {LARGER}"
    return AWAY if inwards else f"{TOWARDS}, {_PAST} away again"
