"""The table of settings for a division: every position, its setting, and the move from the position before."""

from collections.abc import Callable
from fractions import Fraction
from typing import NamedTuple

from core.lathe.lathe import Lathe, RotaryTable
from core.operations.dividing.division import Dividing, compound_move, move_deg, whole_and_holes
from core.operations.dividing.handle_dial import smallest_deg
from core.operations.dividing.plates import Compound
from core.operations.dividing.words import arc_mm, notches_text, turns_text
from core.operations.settings_table import SettingsTable, settings_table
from core.values.angles import amount_text, dms_text

_WANTED_TO = Fraction(1, 36_000)
"""Wanted angles are rounded to a tenth of a second of arc [deg]."""


class DividedRow(NamedTuple):
    """One row of the table of settings, in words: a position, its setting, its move and its error."""

    number: str
    wanted: str
    """The exact angle from the table's zero."""
    place: str
    """The setting, counted from zero: turns and reading, turns and holes, or the notch."""
    move: str
    """The move from the position before; "" for the first position."""
    error: str
    """The setting minus the wanted angle, in seconds of arc."""
    error_length: str
    """The error as a length at the radius of the work; "" if the radius is not known."""


def setting_row(dividing: Dividing, index: int, radius_mm: float | None, to_text: Callable[[float], str]) -> DividedRow:
    """Return the row of one position. `index`: the index of the position, from 0.

    `radius_mm`: the radius at which the work is cut [mm]; None if it is unknown. `to_text`: returns a length [mm] as
    text in the user's unit.
    """
    position = dividing.positions[index]
    error = position.error_deg
    length = "" if radius_mm is None else signed(error, to_text(arc_mm(abs(error), radius_mm)))
    return DividedRow(
        number=str(position.number),
        wanted=dms_text(position.wanted_deg, _WANTED_TO),
        place=place_text(dividing, position.set_deg),
        move=_move_text(dividing, index),
        error=signed(error, amount_text(abs(error))),
        error_length=length,
    )


_COLUMNS = ("no.", "angle", "set to, from zero", "turn on by", "error", "at the work")


def settings_of(dividing: Dividing, radius_mm: float | None, lathe: Lathe) -> SettingsTable:
    """Return the table of settings for all positions.

    `radius_mm`: the radius at which the work is cut [mm]; None if it is unknown.
    """
    rows = [setting_row(dividing, index, radius_mm, lathe.length_text) for index in range(dividing.count)]
    return settings_table("", _COLUMNS, rows)


def signed(error: Fraction, amount: str) -> str:
    """Return the size of an error with the sign of the error before it; "exact" for an error of 0.

    `amount`: the size of the error in words.

    >>> signed(Fraction(-1, 9), "400"), signed(Fraction(0), "0")
    ('-400', 'exact')
    """
    if error == 0:
        return "exact"
    return f"{'+' if error > 0 else '-'}{amount}"


def place_text(dividing: Dividing, angle_deg: Fraction) -> str:
    """Return an angle from zero [deg] as the user sets it on the table, such as "12 turns 3°26'" or "2 turns 6
    holes".
    """
    if dividing.means == "dial":
        return dial_place_text(dividing.table, angle_deg)
    turns, holes = whole_and_holes(dividing.place_turns(angle_deg), dividing.circle or 1)
    return f"notch {holes}" if dividing.means == "direct" else plate_place_text(turns, holes)


def dial_place_text(table: RotaryTable, angle_deg: Fraction) -> str:
    """Return a table angle from zero [deg] as turns of the handle and a reading of the handle's dial.

    >>> dial_place_text(RotaryTable(ratio=Fraction(72), dial_graduation_deg=Fraction(1, 30)), Fraction(51))
    "10 turns 1°00'"
    """
    turns, reading = divmod(angle_deg, Fraction(360) / table.ratio)
    shown = dms_text(reading, smallest_deg(table))
    return f"{turns_text(int(turns))} {shown}" if turns else shown


def plate_place_text(turns: int, holes: int) -> str:
    """Return whole turns and holes as text, without a part that is 0.

    >>> plate_place_text(2, 6), plate_place_text(5, 0), plate_place_text(0, 1)
    ('2 turns 6 holes', '5 turns', '1 hole')
    """
    parts = [turns_text(turns)] if turns else []
    if holes or not turns:
        parts.append(f"{holes} hole{'' if holes == 1 else 's'}")
    return " ".join(parts)


def _move_text(dividing: Dividing, index: int) -> str:
    """Return in words the move to a position from the position before, with "back" if the table turns back."""
    if index == 0:
        return ""
    before, position = dividing.positions[index - 1 : index + 1]
    move = move_deg(dividing, before, position)
    goes_back = (move < 0) != dividing.falling
    text = place_text(dividing, abs(move))
    if dividing.means == "direct":
        notches = int(abs(move) * (dividing.circle or 1) / 360)
        text = notches_text(notches)
    return f"back {text}" if goes_back and move else text


def step_text(dividing: Dividing) -> str:
    """Return in words the move from position 1 to position 2; "" if there is only one position."""
    return _move_text(dividing, 1) if dividing.count > 1 else ""


def plate_words(dividing: Dividing) -> str:
    """Return the dividing plate in words, with its number and its hole circles; "" if no plate is used."""
    if dividing.means != "plate" or dividing.plate is None:
        return ""
    circles = ", ".join(str(circle) for circle in dividing.table.plates[dividing.plate - 1])
    return f"plate {dividing.plate}, with {circles}"


def formula(move: Compound) -> str:
    """Return a movement on two hole circles as handbooks print it.

    >>> formula(Compound((15, 17), (10, 2), 0)), formula(Compound((23, 33), (21, -11), 1))
    ('10/15 + 2/17', '1 + 21/23 - 11/33')
    """
    parts = [str(move.turns)] if move.turns else []
    for held, circle in zip(move.holes, move.circles, strict=True):
        if held:
            sign = ("- " if held < 0 else "+ ") if parts else ("-" if held < 0 else "")
            parts.append(f"{sign}{abs(held)}/{circle}")
    return " ".join(parts) or "0"


def compound_of_step(dividing: Dividing) -> Compound | None:
    """Return the exact movement on two hole circles from position 1 to 2; None if none exists or a single circle is
    exact.
    """
    if dividing.count < 2:
        return None
    return compound_move(dividing, dividing.positions[1], dividing.positions[0])
