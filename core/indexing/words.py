"""What to do at the table's handle, in words."""

import math
from fractions import Fraction
from typing import NamedTuple

from core.indexing.angle_text import dms_text, ordinal
from core.indexing.by_dial import smallest_deg
from core.indexing.compound import compound_words
from core.indexing.dividing import Dividing, Position, compound_move, move_deg, whole_and_holes
from core.lathe import RotaryTable


class Side(NamedTuple):
    """The words that go with the sense of turning."""

    on: str
    up: str
    side: str


RISING = Side("on", "up", "from below")
FALLING = Side("down", "down", "from above")


def side_of(dividing: Dividing) -> Side:
    """Return the words for the sense a pattern is divided in."""
    return FALLING if dividing.falling else RISING


def position_words(dividing: Dividing, position: Position, before: Position | None) -> str:
    """Return what to do to reach a position.

    Such as "17 of 36: 2 turns on from the last, stop at 0°00' (the 32nd turn,
    160°00'), from below".
    """
    head = f"{position.number} of {dividing.count}: "
    if dividing.way == "dial":
        return head + _dial_words(dividing, position, before)
    if dividing.way == "direct":
        return head + _notch_words(dividing, position, before)
    return head + _plate_words(dividing, position, before)


def _dial_words(dividing: Dividing, position: Position, before: Position | None) -> str:
    side = side_of(dividing)
    where = f"{reading_words(dividing.table, position.set_deg)} ({_turn_and_scale(dividing, position.set_deg)})"
    if before is None:
        return f"{side.up} to {where}, {side.side}"
    move = dividing.place_turns(move_deg(dividing, before, position))
    if (move < 0) != dividing.falling:
        return f"{_back_first(dividing)}, then {side.up} to {where}, {side.side}"
    whole, rest = divmod(abs(move), 1)
    if whole == 0:
        return f"{side.on} from the last to {where}, {side.side}"
    join = "stop at" if rest == 0 else f"then {side.on} to"
    return f"{turns_text(whole)} {side.on} from the last, {join} {where}, {side.side}"


def _back_first(dividing: Dividing) -> str:
    way = "up" if dividing.falling else "back"
    return f"{way} past it by more than the play{play_text(dividing.table)}"


def play_text(table: RotaryTable) -> str:
    """Return the play of the worm in brackets, "" where the lathe file does not say it."""
    return f" ({dms_text(table.backlash_deg)})" if table.backlash_deg else ""


def reading_words(table: RotaryTable, set_deg: Fraction) -> str:
    """Return what the handle's dial shows at a table angle, with the vernier's part where there is one."""
    smallest, per_turn = smallest_deg(table), Fraction(360) / table.ratio
    reading = set_deg % per_turn
    text = dms_text(reading, smallest)
    graduation = table.dial_graduation_deg
    if graduation is None or reading % graduation == 0:
        return text
    over = reading % graduation
    return f"{text} [mark {dms_text(reading - over, graduation)}, vernier {dms_text(over, smallest)}]"


def _turn_and_scale(dividing: Dividing, set_deg: Fraction) -> str:
    scale = dms_text(set_deg % 360, smallest_deg(dividing.table))
    turn = math.ceil(abs(dividing.place_turns(set_deg)))
    if turn == 0:
        return scale
    backwards = " down" if set_deg < 0 else ""
    return f"the {ordinal(turn)} turn{backwards}, {scale}"


def _plate_words(dividing: Dividing, position: Position, before: Position | None) -> str:
    circle = dividing.circle or 1
    total = holes_text(dividing.place_turns(position.set_deg), circle)
    if before is None:
        return f"pin {total} from zero in the {circle} circle{_exactly(dividing, before, position)}"
    move = dividing.place_turns(move_deg(dividing, before, position))
    side = side_of(dividing)
    if (move < 0) != dividing.falling:
        amount = f"back {holes_text(abs(move), circle)}, by more than the play past it and {side.up} again"
    else:
        amount = f"{holes_text(abs(move), circle)} {side.on} from the last"
    return f"{amount}, in the {circle} circle ({total} from zero){_exactly(dividing, before, position)}"


def _exactly(dividing: Dividing, before: Position | None, position: Position) -> str:
    """Return the movement on two circles, where it would be exact and one circle is not."""
    found = compound_move(dividing, position, before)
    return "" if found is None else f"; exact with both circles: {compound_words(found)}"


def _notch_words(dividing: Dividing, position: Position, before: Position | None) -> str:
    notches = dividing.circle or 1
    _, notch = whole_and_holes(dividing.place_turns(position.set_deg), notches)
    words = f"notch {notch} of {notches} ({dms_text(position.set_deg % 360)})"
    if before is None:
        return words
    move = abs(move_deg(dividing, before, position)) * notches / 360
    return f"{words}, {int(move)} from the last"


def turns_text(turns: Fraction | int) -> str:
    """Return whole turns in words.

    >>> turns_text(1), turns_text(12)
    ('1 turn', '12 turns')
    """
    return f"{int(turns)} turn{'' if turns == 1 else 's'}"


def holes_text(place: Fraction, circle: int) -> str:
    """Return a place as turns and holes in words.

    >>> holes_text(Fraction(20, 9), 27)
    '2 turns and 6 holes'
    """
    turns, holes = whole_and_holes(abs(place), circle)
    back = "back " if place < 0 else ""
    words = f"{holes} hole{'' if holes == 1 else 's'}"
    if turns == 0:
        return back + words
    return back + (f"{turns_text(turns)} and {words}" if holes else turns_text(turns))


def sector_words(dividing: Dividing) -> str:
    """Return how the sector arms are set; they count spaces, not holes.

    Only a movement that is the same every time can be left to the arms.
    """
    circle = dividing.circle or 1
    moves = {
        whole_and_holes(abs(dividing.place_turns(move_deg(dividing, before, after))), circle)[1]
        for before, after in zip(dividing.positions, dividing.positions[1:], strict=False)
    }
    if moves <= {0}:
        return "whole turns only: the arms are not needed"
    if len(moves) > 1:
        return "the spaces differ from move to move: set the arms anew, or count, each time"
    (spaces,) = moves
    return f"sector arms {spaces} space{'' if spaces == 1 else 's'} apart ({spaces + 1} holes, both ends counted)"


def overshoot_words(table: RotaryTable) -> str:
    """Say what to do when the handle has gone past its reading."""
    return (
        f"Gone past: go back by more than the play{play_text(table)}, then come up to the reading again; "
        "never stop on the way back."
    )
