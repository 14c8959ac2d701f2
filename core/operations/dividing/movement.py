"""Moving the table from one position to the next: what the hands do, in parts and as one sentence."""

import math
from fractions import Fraction
from typing import NamedTuple

from core.operations.dividing.division import Dividing, Position, compound_move, move_deg, whole_and_holes
from core.operations.dividing.handle_dial import smallest_deg
from core.operations.dividing.plates import compound_words
from core.operations.dividing.words import (
    backlash_text,
    holes_text,
    notches_text,
    reading_words,
    turning_sense,
    turns_text,
)
from core.values.angles import dms_text, ordinal

FROM_LAST = "from the last"
AS_IT_STANDS = "as it stands"


class TableMove(NamedTuple):
    """One move of the table, as a hand makes it."""

    lead: str
    """What is done before the number counts: "2 turns on from the last, stop at"."""
    number: str
    """What is looked at last: a reading, holes or notches."""
    unit: str
    """What the number counts, "" for a reading."""
    behind: str
    """What is done after the number: "from below"."""
    absolute: str
    """The same place counted from zero."""
    words: str
    """All of it as one sentence."""
    turns: int = 0
    """Whole turns of the handle to be counted before the number; 0 where the number tells all."""

    @property
    def large(self) -> str:
        """What is read from afar: turns and reading or holes, as they are typed too, or the notches; "5+3°51'"."""
        return f"{self.turns}+{self.number}" if self.turns else self.number


def position_words(dividing: Dividing, position: Position, before: Position | None) -> str:
    """Return what to do to reach a position.

    Such as "17 of 36: 2 turns on from the last, stop at 0°00' (the 32nd turn,
    160°00'), from below".
    """
    return f"{position.number} of {dividing.count}: {table_move(dividing, position, before).words}"


def table_move(
    dividing: Dividing,
    position: Position,
    before: Position | None,
    whence: str = FROM_LAST,
    stays: str = AS_IT_STANDS,
) -> TableMove:
    """Return how a position is reached from where the table stands; None for `before`: counted from zero.

    `whence` says what `before` is, `stays` what to do where it is the position itself.
    """
    if dividing.means == "dial":
        return _by_dial(dividing, position, before, whence, stays)
    if dividing.means == "direct":
        return _by_notches(dividing, position, before, whence, stays)
    return _by_holes(dividing, position, before, whence, stays)


def _by_dial(dividing: Dividing, position: Position, before: Position | None, whence: str, stays: str) -> TableMove:
    lead, side = _dial_lead(dividing, position, before, whence, stays), turning_sense(dividing).side
    absolute = _turn_and_scale(dividing, position.set_deg)
    reading = reading_words(dividing.table, position.set_deg)
    return TableMove(
        turns=_whole_turns(dividing, position, before),
        lead=lead,
        number=_reading_text(dividing, position.set_deg),
        unit=reading.partition(" ")[2],
        behind=side,
        absolute=absolute,
        words=f"{lead} {reading} ({absolute}), {side}",
    )


def _dial_lead(dividing: Dividing, position: Position, before: Position | None, whence: str, stays: str) -> str:
    side = turning_sense(dividing)
    if before is None:
        whole, rest = divmod(abs(dividing.place_turns(position.set_deg)), 1)
        if whole == 0:
            return f"{side.up} to"
        return f"{turns_text(whole)} {side.on} from zero, {'stop at' if rest == 0 else f'then {side.on} to'}"
    move = dividing.place_turns(move_deg(dividing, before, position))
    if move == 0:
        return f"{stays}, at"
    if _goes_back(dividing, before, position):
        return f"{_back(dividing, abs(move))} and past it by more than the play{_play(dividing)}, then {side.up} to"
    whole, rest = divmod(abs(move), 1)
    if whole == 0:
        return f"{side.on} {whence} to"
    join = "stop at" if rest == 0 else f"then {side.on} to"
    return f"{turns_text(whole)} {side.on} {whence}, {join}"


def _whole_turns(dividing: Dividing, position: Position, before: Position | None) -> int:
    """Return the whole turns of the handle on to a position; 0 where it goes back to it, past it and on again."""
    if before is None:
        return int(abs(dividing.place_turns(position.set_deg)))
    if _goes_back(dividing, before, position):
        return 0
    return int(abs(dividing.place_turns(move_deg(dividing, before, position))))


def _goes_back(dividing: Dividing, before: Position, position: Position) -> bool:
    move = move_deg(dividing, before, position)
    return move != 0 and (move < 0) != dividing.falling


def _back(dividing: Dividing, turns: Fraction) -> str:
    way = "up" if dividing.falling else "back"
    return f"{way} {turns_text(math.floor(turns))}" if turns >= 1 else way


def _play(dividing: Dividing) -> str:
    return backlash_text(dividing.table)


def _reading_text(dividing: Dividing, set_deg: Fraction) -> str:
    return dms_text(set_deg % (Fraction(360) / dividing.table.ratio), smallest_deg(dividing.table))


def _turn_and_scale(dividing: Dividing, set_deg: Fraction) -> str:
    scale = dms_text(set_deg % 360, smallest_deg(dividing.table))
    turn = math.ceil(abs(dividing.place_turns(set_deg)))
    if turn == 0:
        return scale
    backwards = " down" if set_deg < 0 else ""
    return f"the {ordinal(turn)} turn{backwards}, {scale}"


def _by_holes(dividing: Dividing, position: Position, before: Position | None, whence: str, stays: str) -> TableMove:
    circle = dividing.circle or 1
    total = f"{holes_text(dividing.place_turns(position.set_deg), circle)} from zero"
    # No eye tells the turns from zero; the table's own degrees show whether one is missing.
    absolute = f"{total}, {dms_text(position.set_deg % 360)}"
    exactly = _exactly(dividing, before, position)
    if before is None:
        turns, holes = whole_and_holes(abs(dividing.place_turns(position.set_deg)), circle)
        lead = f"{turns_text(turns)} from zero, then" if turns else "from zero"
        words = f"pin {total} in the {circle} circle{exactly}"
        return TableMove(lead, str(holes), f"{_holes(holes)} in the {circle} circle", "", absolute, words, turns)
    move = dividing.place_turns(move_deg(dividing, before, position))
    if move == 0:
        words = f"{stays}, in the {circle} circle ({total})"
        _, holes = whole_and_holes(dividing.place_turns(position.set_deg), circle)
        return TableMove(f"{stays}, in hole", str(holes), f"of the {circle} circle", "", absolute, words)
    turns, holes = whole_and_holes(abs(move), circle)
    side = turning_sense(dividing)
    goes_back = (move < 0) != dividing.falling
    on, behind = side.on, side.side
    if goes_back:
        on, behind = ("up" if dividing.falling else "back"), f"by more than the play past it and {side.up} again"
    amount = f"{holes_text(abs(move), circle)} {on} {whence}"
    lead, number, unit = f"{turns_text(turns)} {on} {whence}, then", str(holes), f"{_holes(holes)} {on}"
    if not turns:
        lead = f"{on} {whence}"
    elif not holes:
        lead, number, unit = f"{on} {whence}", str(turns), f"whole turn{'' if turns == 1 else 's'} {on}"
    words = f"{amount}{f', {behind}' if goes_back else ''}, in the {circle} circle ({total}){exactly}"
    counted = turns if holes else 0
    return TableMove(lead, number, f"{unit} in the {circle} circle", behind, absolute, words, counted)


def _holes(count: int) -> str:
    return "hole" if count == 1 else "holes"


def _exactly(dividing: Dividing, before: Position | None, position: Position) -> str:
    """Return the movement on two circles, where it would be exact and one circle is not."""
    found = compound_move(dividing, position, before)
    return "" if found is None else f"; exact with both circles: {compound_words(found)}"


def _by_notches(dividing: Dividing, position: Position, before: Position | None, whence: str, stays: str) -> TableMove:
    notches = dividing.circle or 1
    _, notch = whole_and_holes(dividing.place_turns(position.set_deg), notches)
    angle = dms_text(position.set_deg % 360)
    words = f"notch {notch} of {notches} ({angle})"
    if before is None:
        return TableMove("", str(notch), f"is the notch, of {notches}", "", angle, words)
    move = int(move_deg(dividing, before, position) * notches / 360)
    if move == 0:
        return TableMove("", str(notch), f"is the notch, of {notches}; {stays}", "", angle, f"{words}, {stays}")
    way = "back" if (move < 0) != dividing.falling else "on"
    count = notches_text(abs(move))
    unit = f"{count.partition(' ')[2]} {way} {whence}"
    absolute = f"notch {notch} of {notches}, {angle}"
    return TableMove("", str(abs(move)), unit, "", absolute, f"{words}: count {count} {way} {whence}")
