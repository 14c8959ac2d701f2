"""Amounts and readings of the table in words."""

from fractions import Fraction
from typing import NamedTuple

from core.lathe.lathe import RotaryTable
from core.operations.dividing.by_dial import smallest_deg
from core.operations.dividing.division import Dividing, move_deg, whole_and_holes
from core.values.angles import amount_text, dms_text


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
        return "the spaces differ from move to move: set the arms for each, or count"
    (spaces,) = moves
    return f"{spaces} space{'' if spaces == 1 else 's'} apart ({spaces + 1} holes, both ends counted)"


def notches_text(notches: int) -> str:
    """Return a number of notches in words.

    >>> notches_text(1), notches_text(3)
    ('1 notch', '3 notches')
    """
    return f"{notches} notch{'' if notches == 1 else 'es'}"


def off_text(table: RotaryTable, way: str, circle: int | None, off_deg: Fraction) -> str:
    """Return how far off a place is as it is counted there: in notches, in holes, or as an angle; without its sign.

    way: "dial", "plate" or "direct" [-]; circle: holes, or notches [-]; off_deg: [deg].

    >>> table = RotaryTable(ratio=Fraction(40))
    >>> off_text(table, "direct", 12, Fraction(-30)), off_text(table, "plate", 18, Fraction(1))
    ("1 notch (30°00')", "2 holes (1°00')")
    """
    angle = amount_text(off_deg)
    turns = abs(off_deg) / 360 * (1 if way == "direct" else table.ratio)
    if circle is None or way == "dial" or (turns * circle).denominator != 1:
        return angle
    count = notches_text(int(turns * circle)) if way == "direct" else holes_text(turns, circle)
    return f"{count} ({angle})"


def overshoot_words(table: RotaryTable, falling: bool = False) -> str:
    """Say what to do when the handle has gone past its reading."""
    if falling:
        return f"Gone past: up by more than the play{play_text(table)}, then down again; never stop on the way up."
    return (
        f"Gone past: go back by more than the play{play_text(table)}, then come up to the reading again; "
        "never stop on the way back."
    )
