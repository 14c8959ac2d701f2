"""Setting a rotary table by the dial on its handle."""

from fractions import Fraction

from core.lathe.lathe import RotaryTable, how_to_add
from core.values.dials import Dial, Setting
from core.values.errors import PlanError

TABLE = "rotary_table"
"""The name in settings for the table's dial, plate or notches."""


def smallest_deg(table: RotaryTable) -> Fraction:
    """Return the smallest table angle that the dial can show [deg], with its vernier if it has one.

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
    """Return the handle's dial as a dial in degrees of table angle; raises PlanError if there is none."""
    return Dial(
        name=TABLE,
        unit="deg",
        graduation=smallest_deg(table),
        per_turn=Fraction(360) / table.ratio,
        backlash=table.backlash_deg,
    )


def nearest_mark_deg(target_deg: Fraction, smallest: Fraction) -> Fraction:
    """Return the mark nearest to a target, counted from zero [deg]; half-way between two, the lower mark.

    >>> nearest_mark_deg(Fraction(360, 7), Fraction(1, 60)) * 60
    Fraction(3086, 1)
    """
    # In whole numbers: a thousand positions are rounded while a screen waits.
    target, mark = target_deg.numerator * smallest.denominator, target_deg.denominator * smallest.numerator
    return -((mark - 2 * target) // (2 * mark)) * smallest


def dial_setting(dial: Dial, set_deg: Fraction, wanted_deg: Fraction) -> Setting:
    """Return the setting of the table's dial for a mark and the angle that was wanted [deg]."""
    setting = dial.at_marks(int(set_deg / dial.graduation))
    return setting._replace(rounding=float(set_deg - wanted_deg))


def handle_turns(table: RotaryTable, angle_deg: Fraction) -> Fraction:
    """Return the turns of the handle for a table angle, exact.

    >>> handle_turns(RotaryTable(ratio=Fraction(72)), Fraction(12))
    Fraction(12, 5)
    """
    return angle_deg * table.ratio / 360
