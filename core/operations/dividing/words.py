"""Readings, amounts and cautions for the rotary table, in words.

The cautions are common practice, without a source, except where a source stands beside a number.
"""

import math
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from core.cutting import Infeed
from core.lathe.lathe import Lathe, RotaryTable, dial_words
from core.operations.dividing.division import Dividing, compound_move, move_deg, repeated_step_cost_deg, whole_and_holes
from core.operations.dividing.handle_dial import smallest_deg
from core.operations.dividing.plates import compound_words
from core.plan import Step
from core.values.angles import amount_text, dms_text


class TurningSense(NamedTuple):
    """The words that describe one direction of turning the handle."""

    on: str
    """The words for turning to the next position."""
    up: str
    """The words for turning exactly to the reading."""
    side: str
    """The side from which every reading is approached, so that backlash is taken up."""


RISING = TurningSense("on", "up", "from below")
FALLING = TurningSense("down", "down", "from above")


def turning_sense(dividing: Dividing) -> TurningSense:
    """Return the words for the direction in which the table turns from each position to the next."""
    return FALLING if dividing.falling else RISING


def backlash_text(table: RotaryTable) -> str:
    """Return the backlash of the table's worm, in brackets; "" if the backlash is not known."""
    return f" ({dms_text(table.backlash_deg)})" if table.backlash_deg else ""


def reading_words(table: RotaryTable, set_deg: Fraction) -> str:
    """Return in words the reading of the handle's dial at a table angle [deg].

    If the dial has a vernier, the text gives both the mark and the vernier reading.
    """
    smallest, per_turn = smallest_deg(table), Fraction(360) / table.ratio
    reading = set_deg % per_turn
    text = dms_text(reading, smallest)
    graduation = table.dial_graduation_deg
    if graduation is None or reading % graduation == 0:
        return text
    over = reading % graduation
    return f"{text} [mark {dms_text(reading - over, graduation)}, vernier {dms_text(over, smallest)}]"


def turns_text(turns: Fraction | int) -> str:
    """Return a number of whole turns in words.

    >>> turns_text(1), turns_text(12)
    ('1 turn', '12 turns')
    """
    return f"{int(turns)} turn{'' if turns == 1 else 's'}"


def holes_text(place: Fraction, circle: int) -> str:
    """Return a number of handle turns from zero in words, as whole turns and holes of a hole circle.

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
    """Return in words how to set the sector arms of the dividing plate, or why they do not help.

    The arms are set to a number of spaces, not holes.
    """
    circle = dividing.circle or 1
    moves = {
        whole_and_holes(abs(dividing.place_turns(move_deg(dividing, before, after))), circle)[1]
        for before, after in zip(dividing.positions, dividing.positions[1:], strict=False)
    }
    if moves <= {0}:
        return "whole turns only, so the arms are not needed"
    if len(moves) > 1:
        return "the spaces differ from move to move, so set the arms for each move, or count the holes"
    (spaces,) = moves
    return f"{spaces} space{'' if spaces == 1 else 's'} apart ({spaces + 1} holes, both ends counted)"


def notches_text(notches: int) -> str:
    """Return a number of notches in words.

    >>> notches_text(1), notches_text(3)
    ('1 notch', '3 notches')
    """
    return f"{notches} notch{'' if notches == 1 else 'es'}"


def off_text(table: RotaryTable, means: str, circle: int | None, off_deg: Fraction) -> str:
    """Return the size of an error in the units that set the table: notches, holes, or an angle.

    `means`: "dial", "plate", or "direct" for notches. `circle`: the number of holes or notches; None for a dial.
    `off_deg`: the error [deg].

    >>> table = RotaryTable(ratio=Fraction(40))
    >>> off_text(table, "direct", 12, Fraction(-30)), off_text(table, "plate", 18, Fraction(1))
    ("1 notch (30°00')", "2 holes (1°00')")
    """
    angle = amount_text(off_deg)
    turns = abs(off_deg) / 360 * (1 if means == "direct" else table.ratio)
    if circle is None or means == "dial" or (turns * circle).denominator != 1:
        return angle
    count = notches_text(int(turns * circle)) if means == "direct" else holes_text(turns, circle)
    return f"{count} ({angle})"


def overshoot_words(table: RotaryTable, falling: bool = False) -> str:
    """Return a sentence that says what to do after turning past a reading.

    `falling`: True if the readings fall from one position to the next.
    """
    back, on = ("up", "down") if falling else ("back", "up")
    backlash = backlash_text(table)
    return (
        f"If you turn too far, turn {back} by more than the backlash{backlash}, then {on} to the reading. "
        f"Never stop on the way {back}."
    )


TABLE_ROUND = "Turn the table once round by hand first. Clamps, jaws and crank must clear."
SPINDLE_STOPPED = "Take the tool clear and stop the spindle before you turn the table."
LOCK_ALL = "Lock the table, and each slide that does not feed. Unlocked, the table turns under the cut."


def worst_error_text(dividing: Dividing, radius_mm: float | None, lathe: Lathe) -> str:
    """Return in words the largest error of any position, as an angle and, if the radius is known, as a length.

    `radius_mm`: the radius of the work [mm]; None if it is unknown.
    """
    worst = dividing.worst_error_deg
    angle = amount_text(worst)
    return angle if radius_mm is None else f"{lathe.length_text(arc_mm(worst, radius_mm))} at the work ({angle})"


def arc_mm(angle_deg: float | Fraction, radius_mm: float) -> float:
    """Return the length of an arc [mm] from its angle [deg] and radius [mm].

    >>> round(arc_mm(1.0, 57.29577951), 6)
    1.0
    """
    return math.radians(angle_deg) * radius_mm


def dividing_cautions(dividing: Dividing, even: bool, radius_mm: float | None, lathe: Lathe) -> list[str]:
    """Return the cautions about rounding errors of the positions, the most serious first.

    `even`: True if the positions are evenly spaced. `radius_mm`: the radius of the work [mm]; None if it is unknown.
    """
    cautions = []
    if dividing.worst_error_deg and dividing.means == "plate":
        cautions.append(
            f"No single hole circle reaches every position exactly. On the {dividing.circle} circle the worst "
            f"position is {worst_error_text(dividing, radius_mm, lathe)} off."
        )
        cautions += _exact_movement(dividing, even)
    cost = repeated_step_cost_deg(dividing) if even and dividing.count > 1 else Fraction(0)
    if cost:
        cautions.append(
            f"Never repeat one rounded step: after {dividing.count} steps you would be {amount_text(cost)} "
            f"{'past' if cost > 0 else 'short of'} the start. In this plan every position is counted from zero."
        )
    return cautions


def _exact_movement(dividing: Dividing, even: bool) -> list[str]:
    if dividing.both_circles is None:
        return ["Two circles of one plate, used together, are not exact either."]
    first, second = dividing.both_circles
    move = compound_move(dividing, dividing.positions[-1], dividing.positions[-2]) if dividing.count > 1 else None
    if move is None or not even:
        return [f"The circles {first} and {second}, used together, are exact. Each position shows how to use both."]
    return [
        f"Two circles of one plate, used together, are exact. Each move to the next position is {compound_words(move)}."
    ]


def coarse_mark(infeed: Infeed, cut_mm: float, lathe: Lathe) -> list[str]:
    """Return a caution if one mark of the depth dial is more than the wanted depth of a cut [mm]; [] if it is not."""
    if infeed.mark_mm <= cut_mm * (1 + 1e-9):
        return []
    name = dial_words(infeed.dial.name)
    return [
        f"One mark of the {name} cuts {lathe.length_text(infeed.mark_mm)} deep. This is more than the cut of "
        f"{lathe.length_text(cut_mm)}."
    ]


def backlash_caution(dividing: Dividing) -> str:
    """Return the caution on how to approach every position: from which side, and what to do after turning too far.

    For notches, it says how to seat the index pin instead.
    """
    if dividing.means == "direct":
        return "Seat the index pin fully in its notch before you lock the table."
    return (
        f"Approach every position {turning_sense(dividing).side}. {overshoot_words(dividing.table, dividing.falling)}"
    )


def with_cautions(steps: Iterable[Step], of_cuts: str = LOCK_ALL) -> list[Step]:
    """Return the steps, with cautions added at the first turn of the table and at the first cut.

    `of_cuts`: the caution for the first cut; "" for none.
    """
    listed = list(steps)
    for action, caution in (("index", SPINDLE_STOPPED), ("cut", of_cuts)):
        index = next((index for index, step in enumerate(listed) if step.action == action), None)
        if index is not None and caution:
            listed[index] = replace(listed[index], cautions=(*listed[index].cautions, caution))
    return listed
