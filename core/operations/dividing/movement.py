"""Describes the move of the rotary table from one position to the next: its parts, and the whole move as a sentence."""

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

FROM_LAST = ""
"""Text for a move from the last position. This position needs no name."""
AS_IT_STANDS = "leave the table"


class TableMove(NamedTuple):
    """One move of the table in words: the parts of the move, and the whole move as a sentence."""

    lead: str
    """What to do before reading the number, such as "turn on by 2 turns, then up to"."""
    number: str
    """The number to stop at: a reading, holes or notches."""
    unit: str
    """The unit of the number; "" for a reading."""
    after: str
    """The words after the number, such as "from below"."""
    absolute: str
    """The same position, counted from zero."""
    words: str
    """The whole move as one sentence."""
    turns: int = 0
    """Whole turns of the handle to count before the number; 0 if there are none."""

    @property
    def large(self) -> str:
        """The text for large digits, such as "5 turns 3°51'": the whole turns still to make, then the reading or the
        holes.

        It is not written "5+3°51'", because entries and the log use that form for turns counted from zero.
        """
        return f"{turns_text(self.turns)} {self.number}" if self.turns else self.number


def position_words(dividing: Dividing, position: Position, before: Position | None) -> str:
    """Return a sentence that says how to turn the table to a position.

    An example is "17 of 36: turn on by 2 turns, stop at 0°00' (the 32nd turn, 160°00'), from below". `before`: the
    position that the table leaves; None for the table's zero.
    """
    return f"{position.number} of {dividing.count}: {table_move(dividing, position, before).words}"


def table_move(
    dividing: Dividing,
    position: Position,
    before: Position | None,
    start: str = FROM_LAST,
    stays: str = AS_IT_STANDS,
) -> TableMove:
    """Return the move from position `before` to a position. If `before` is None, the move counts from the table's zero.

    `start`: words that name `before`, such as "from position 5". `stays`: what to do if the table is already at the
    position.
    """
    match dividing.means:
        case "dial":
            return _by_dial(dividing, position, before, start, stays)
        case "plate":
            return _by_holes(dividing, position, before, start, stays)
        case "direct":
            return _by_notches(dividing, position, before, start, stays)


def _by_dial(dividing: Dividing, position: Position, before: Position | None, start: str, stays: str) -> TableMove:
    lead, side = _dial_lead(dividing, position, before, start, stays), turning_sense(dividing).side
    absolute = _turn_and_scale(dividing, position.set_deg)
    reading = reading_words(dividing.table, position.set_deg)
    return TableMove(
        turns=_whole_turns(dividing, position, before),
        lead=lead,
        number=_reading_text(dividing, position.set_deg),
        unit=reading.partition(" ")[2],
        after=side,
        absolute=absolute,
        words=f"{lead} {reading} ({absolute}), {side}",
    )


def _dial_lead(dividing: Dividing, position: Position, before: Position | None, start: str, stays: str) -> str:
    side = turning_sense(dividing)
    if before is None and _is_short_of_zero(dividing, position):
        return _dial_lead(dividing, position, _ZERO, "from zero", stays)
    if before is None:
        whole, rest = divmod(abs(dividing.place_turns(position.set_deg)), 1)
        if whole == 0:
            return f"{side.up} to"
        return f"from zero turn {side.on} by {turns_text(whole)}, {'stop at' if rest == 0 else f'then {side.up} to'}"
    move = dividing.place_turns(move_deg(dividing, before, position))
    if move == 0:
        return f"{stays}, at"
    if _goes_back(dividing, before, position):
        turns = f" by {turns_text(math.floor(abs(move)))} and" if abs(move) >= 1 else ""
        backlash = backlash_text(dividing.table)
        past = f"past it by more than the backlash{backlash}"
        return f"{_from(start)}turn {_back(dividing)}{turns} {past}, then {side.up} to"
    whole, rest = divmod(abs(move), 1)
    if whole == 0:
        return f"{_from(start)}turn {side.on} to"
    join = "stop at" if rest == 0 else f"then {side.up} to"
    return f"{_from(start)}turn {side.on} by {turns_text(whole)}, {join}"


_ZERO = Position(0, Fraction(0), Fraction(0))


def _is_short_of_zero(dividing: Dividing, position: Position) -> bool:
    """Return whether a position lies before the table's zero in the direction in which the table turns."""
    return position.set_deg != 0 and (position.set_deg < 0) != dividing.falling


def _whole_turns(dividing: Dividing, position: Position, before: Position | None) -> int:
    """Return the whole turns of the handle on the way to a position; 0 if the handle first goes back past the position.

    `before`: the position that the table leaves; None for the table's zero.
    """
    if before is None:
        ahead = not _is_short_of_zero(dividing, position)
        return int(abs(dividing.place_turns(position.set_deg))) if ahead else _whole_turns(dividing, position, _ZERO)
    if _goes_back(dividing, before, position):
        return 0
    return int(abs(dividing.place_turns(move_deg(dividing, before, position))))


def _goes_back(dividing: Dividing, before: Position, position: Position) -> bool:
    move = move_deg(dividing, before, position)
    return move != 0 and (move < 0) != dividing.falling


def _back(dividing: Dividing) -> str:
    return "up" if dividing.falling else "back"


def _from(start: str) -> str:
    return f"{start}, " if start else ""


def _reading_text(dividing: Dividing, set_deg: Fraction) -> str:
    return dms_text(set_deg % (Fraction(360) / dividing.table.ratio), smallest_deg(dividing.table))


def _turn_and_scale(dividing: Dividing, set_deg: Fraction) -> str:
    scale = dms_text(set_deg % 360, smallest_deg(dividing.table))
    turn = math.ceil(abs(dividing.place_turns(set_deg)))
    if turn == 0:
        return scale
    backwards = " down" if set_deg < 0 else ""
    return f"the {ordinal(turn)} turn{backwards}, {scale}"


def _by_holes(dividing: Dividing, position: Position, before: Position | None, start: str, stays: str) -> TableMove:
    circle = dividing.circle or 1
    total = f"{holes_text(dividing.place_turns(position.set_deg), circle)} from zero"
    # Nobody can see the turns counted from zero. The table's own degrees show whether one is missing.
    absolute = f"{total}, {dms_text(position.set_deg % 360)}"
    exactly = _exactly(dividing, before, position)
    if before is None:
        turns, holes = whole_and_holes(abs(dividing.place_turns(position.set_deg)), circle)
        back = "back " if dividing.place_turns(position.set_deg) < 0 else ""
        lead = f"{back}{turns_text(turns)} from zero, then" if turns else f"{back}from zero".lstrip()
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
    on, after = side.on, side.side
    if goes_back:
        on, after = _back(dividing), f"past it by more than the backlash, then {side.up} again"
    turn = f"{_from(start)}turn {on} by"
    lead, number, unit = f"{turn} {turns_text(turns)} and", str(holes), _holes(holes)
    if not turns:
        lead = turn
    elif not holes:
        lead, number, unit = turn, str(turns), f"whole turn{'' if turns == 1 else 's'}"
    past = f", {after}" if goes_back else ""
    words = f"{turn} {holes_text(abs(move), circle)}{past}, in the {circle} circle ({total}){exactly}"
    counted = turns if holes else 0
    return TableMove(lead, number, f"{unit} in the {circle} circle", after, absolute, words, counted)


def _holes(count: int) -> str:
    return "hole" if count == 1 else "holes"


def _exactly(dividing: Dividing, before: Position | None, position: Position) -> str:
    """Return in words the exact movement on two hole circles; "" if a single circle is exact, or if no pair of circles
    is.

    `before`: the position that the table leaves; None for the table's zero.
    """
    move = compound_move(dividing, position, before)
    return "" if move is None else f"; exact with both circles: {compound_words(move)}"


def _by_notches(dividing: Dividing, position: Position, before: Position | None, start: str, stays: str) -> TableMove:
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
    way = f"{way} {start}".rstrip()
    count = notches_text(abs(move))
    unit = f"{count.partition(' ')[2]} {way}"
    absolute = f"notch {notch} of {notches}, {angle}"
    return TableMove("", str(abs(move)), unit, "", absolute, f"{words}: count {count} {way}")
