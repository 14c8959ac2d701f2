"""Sets a rotary table by the dial on its handle."""

from fractions import Fraction

from core.lathe.lathe import RotaryTable, how_to_add
from core.values.dials import Dial, Setting
from core.values.errors import PlanError

TABLE = "rotary_table"
"""The name that settings give to the rotary table, whether its dial, plate or notches set it."""


def smallest_deg(table: RotaryTable) -> Fraction:
    """Return the smallest table angle [deg] that the dial, or its vernier if it has one, can show.

    Raises PlanError if the table has no dial.
    """
    graduation = table.dial_graduation_deg
    if graduation is None:
        raise PlanError(
            f"This lathe's rotary table has no dial. Use its plates, or {how_to_add('dial_graduation')}.",
            field="with",
        )
    return graduation if table.vernier_deg is None else table.vernier_deg


def table_dial(table: RotaryTable) -> Dial:
    """Return the dial on the table's handle, in degrees of table angle. Raises PlanError if the table has no dial."""
    return Dial(
        name=TABLE,
        unit="deg",
        graduation=smallest_deg(table),
        per_turn=Fraction(360) / table.ratio,
        backlash=table.backlash_deg,
    )


def nearest_mark_deg(target_deg: Fraction, smallest: Fraction) -> Fraction:
    """Return the angle of the mark nearest to a target angle [deg]. Half-way between two marks, return the lower one.

    Both angles count from zero. `smallest` is the distance between two marks [deg].

    >>> nearest_mark_deg(Fraction(360, 7), Fraction(1, 60)) * 60
    Fraction(3086, 1)
    """
    # Whole numbers are fast. A screen waits while a thousand positions are rounded.
    target, mark = target_deg.numerator * smallest.denominator, target_deg.denominator * smallest.numerator
    return -((mark - 2 * target) // (2 * mark)) * smallest


def dial_setting(dial: Dial, set_deg: Fraction, wanted_deg: Fraction) -> Setting:
    """Return the dial setting at a mark [deg]. Its rounding is the difference from the angle that was wanted [deg]."""
    setting = dial.at_marks(int(set_deg / dial.graduation))
    return setting._replace(rounding=float(set_deg - wanted_deg))


def handle_turns(table: RotaryTable, angle_deg: Fraction) -> Fraction:
    """Return the exact number of handle turns that turn the table by an angle [deg].

    >>> handle_turns(RotaryTable(ratio=Fraction(72)), Fraction(12))
    Fraction(12, 5)
    """
    return angle_deg * table.ratio / 360
