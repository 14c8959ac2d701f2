"""Finds the position to which a reading belongs: a reading of the handle's dial, of holes or notches, or of the table's
degree scale.
"""

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from core.lathe.lathe import RotaryTable
from core.operations.dividing.handle_dial import TABLE, smallest_deg
from core.operations.dividing.words import off_text, overshoot_words
from core.plan import PlateSetting, Step
from core.values.angles import dms_text
from core.values.dials import Setting
from core.values.errors import QuantityError
from core.values.plain_text import quoted
from core.values.quantities import read_quantity

_TURNS = r"(?:(?P<turns>\d{1,4})\s*(?:(?:turns?|t)\s*(?:and|\+|,)?|\+)\s*)?"
_HOLES = re.compile(rf"{_TURNS}(?:notch\s*)?(?P<holes>\d{{1,4}})\s*(?:holes?|notch(?:es)?|h)?", re.IGNORECASE)
_HOLE_AT = re.compile(r"(?P<holes>\d{1,4})\s*(?:holes?|h)\s*(?:at|,|\+)?\s*(?P<angle>\d.*)", re.IGNORECASE | re.DOTALL)
_ANGLE = re.compile(rf"{_TURNS}(?P<angle>.+)", re.IGNORECASE | re.DOTALL)
_DASHED = re.compile(r"(\d{1,3})-(\d{1,2})(?:-(\d{1,2}))?", re.ASCII)
"""Matches degrees, minutes and seconds as entered on a number pad."""
_MOST_NAMED = 6
ROUND_DEG = 360
"""A reading that repeats only after a full turn of the table [deg] leaves no doubt about the table's angle."""
_SCALE_DEG = Fraction(1, 2)
"""Usual accuracy of reading a table's degree scale [deg]; common practice, no source."""


class TableAngle(NamedTuple):
    """The table angle that a reading gives. Several angles are possible if the reading does not state the whole
    turns.
    """

    angle_deg: Fraction
    every_deg: Fraction
    """The reading repeats after this many degrees: 360 if the angle is certain, else one handle turn."""
    by_scale: bool = False
    """True for a reading of the table's own degree scale, which is too coarse to show the hole or mark."""


class PositionMatch(NamedTuple):
    """The positions that fit a reading. There are several if the reading does not show to which turn of the handle it
    belongs.
    """

    numbers: tuple[int, ...]
    """The positions that fit equally well. The one nearest to the requested position comes first."""
    of: int
    off_deg: Fraction
    """Angle of the table minus angle of the position [deg]. 0 if the table is at the position."""
    words: str
    remedy: str
    """What to do if the table was turned too far; "" if it was not."""


def read_place(text: str, table: RotaryTable, circle: int | None = None) -> TableAngle:
    """Return the table angle that an entered reading means.

    `circle`: the number of holes in the hole circle; None if a dial sets the table.

    - With a dial, "3°26'" is the reading of the handle's dial, and "12 turns 3°26'" counts from zero. An angle of at
      least one turn of the handle is taken as a reading of the table's own degree scale.
    - With holes, the user enters "9 holes", "12 turns 9 holes", "9 holes at 154 deg", or "154 deg" on the degree scale.

    Raises QuantityError if the text cannot be read.
    """
    typed = text.strip()
    per_turn = Fraction(360) / table.ratio
    if circle is not None:
        return _place_of_hole(typed, per_turn, circle)
    match = _ANGLE.fullmatch(typed)
    if match is None:
        raise QuantityError(f"{quoted(text)} is not a reading of the dial. Enter a reading such as 3°26' or 3-26.")
    angle = _angle_deg(match["angle"].strip())
    if match["turns"] is None:
        return TableAngle(angle_deg=angle, every_deg=per_turn if 0 <= angle < per_turn else Fraction(360))
    if not 0 <= angle < per_turn:
        raise QuantityError(
            f"{quoted(text)} has a reading beyond the end of the dial. After the turns, enter a reading below "
            f"{dms_text(per_turn)}."
        )
    return TableAngle(angle_deg=int(match["turns"]) * per_turn + angle, every_deg=Fraction(360))


def _angle_deg(text: str) -> Fraction:
    """Return an angle [deg] that was entered with its unit, or as "3-26" for 3°26'."""
    dashed = _DASHED.fullmatch(text.removesuffix("deg").strip())
    if dashed is None:
        return read_quantity(text, "angle").value
    degrees, minutes, seconds = (int(part or 0) for part in dashed.groups())
    if minutes >= 60 or seconds >= 60:
        raise QuantityError(
            f"{quoted(text)} has too many minutes or seconds. Enter fewer than 60 of each, such as 3-26."
        )
    return degrees + Fraction(minutes, 60) + Fraction(seconds, 3600)


def read_notch(text: str, notches: int) -> TableAngle:
    """Return the table angle of a notch that was entered for a direct-index plate.

    `notches`: the number of notches of the plate. Raises QuantityError if the text is not one of these notches.
    """
    return _place_of_hole(text.strip(), Fraction(360), notches)


def read_at_step(text: str, step: Step, table: RotaryTable) -> TableAngle:
    """Return the table angle of a reading that was entered at a step.

    The step determines whether the text is read as a dial reading, as holes or as a notch. Raises QuantityError if the
    text cannot be read.
    """
    plate = next((one for one in step.settings if isinstance(one, PlateSetting)), None)
    if plate is None or plate.circle is None:
        return read_place(text, table)
    if step.extra.get("way") == "direct":
        return read_notch(text, plate.circle)
    return read_place(text, table, plate.circle)


def nearest_angle_deg(place: TableAngle, planned_deg: Fraction) -> Fraction:
    """Return, of all table angles that a reading can mean, the one nearest to a planned angle [deg].

    >>> nearest_angle_deg(TableAngle(angle_deg=Fraction(1), every_deg=Fraction(5)), Fraction(160))
    Fraction(161, 1)
    """
    return planned_deg + _off_deg(place, planned_deg)


def _place_of_hole(typed: str, per_turn: Fraction, circle: int) -> TableAngle:
    match = _HOLES.fullmatch(typed)
    if match is None and per_turn < ROUND_DEG:
        return _place_with_scale(typed, per_turn, circle)
    if match is None or int(match["holes"]) >= circle:
        raise _no_hole(typed, circle)
    holes_deg = int(match["holes"]) * per_turn / circle
    if match["turns"] is None:
        return TableAngle(angle_deg=holes_deg, every_deg=per_turn)
    return TableAngle(angle_deg=int(match["turns"]) * per_turn + holes_deg, every_deg=Fraction(ROUND_DEG))


def _place_with_scale(typed: str, per_turn: Fraction, circle: int) -> TableAngle:
    """Return the angle read on the table's degree scale, or the exact angle of the hole if holes were entered before
    the angle.

    `per_turn`: the table angle of one turn of the handle [deg]. `circle`: the number of holes in the hole circle.
    """
    match = _HOLE_AT.fullmatch(typed)
    try:
        scale_deg = _angle_deg(typed if match is None else match["angle"].strip())
    except QuantityError:
        raise _no_hole(typed, circle) from None
    if match is None:
        return TableAngle(angle_deg=scale_deg, every_deg=Fraction(ROUND_DEG), by_scale=True)
    if int(match["holes"]) >= circle:
        raise _no_hole(typed, circle)
    hole = TableAngle(angle_deg=int(match["holes"]) * per_turn / circle, every_deg=per_turn)
    return TableAngle(angle_deg=nearest_angle_deg(hole, scale_deg), every_deg=Fraction(ROUND_DEG))


def _no_hole(typed: str, circle: int) -> QuantityError:
    return QuantityError(
        f"{quoted(typed)} is not a hole of the {circle} circle. Enter a hole from 0 to {circle - 1}, such as 9 holes, "
        "12+9 or 9 holes at 154 deg."
    )


def find_position(
    place: TableAngle,
    steps: Sequence[Step],
    table: RotaryTable,
    *,
    layer: int | None = None,
    near: int | None = None,
    falling: bool = False,
) -> PositionMatch:
    """Return the positions that fit a table angle, or the nearest position and its distance.

    `layer`: search only this layer of a pattern; None searches all layers. `near`: if several positions fit, the one
    nearest to this position comes first. `falling`: True if the table's numbers go down from one position to the next.
    Raises QuantityError if the steps have no positions.
    """
    positions = positions_deg(steps, table, layer)
    if not positions:
        raise QuantityError("This plan has no positions on the table. Choose a step that turns the table.")
    off = {number: _off_deg(place, angle) for number, angle in positions.items()}
    if place.by_scale:
        off = {number: amount if abs(amount) > _SCALE_DEG else Fraction(0) for number, amount in off.items()}
    least = min(abs(amount) for amount in off.values())
    numbers = sorted(number for number, amount in off.items() if abs(amount) == least)
    if near is not None:
        numbers.sort(key=lambda number: (abs(number - near), number))
    of = _count(steps, layer) or len(positions)
    off_deg = off[numbers[0]]
    # Half-way between two positions, the table is past one and short of the other.
    numbers = [number for number in numbers if off[number] == off_deg]
    is_past = off_deg != 0 and (off_deg < 0) == falling
    return PositionMatch(
        numbers=tuple(numbers),
        of=of,
        off_deg=off_deg,
        words=_words(numbers, of, _off_words(steps, off_deg, table, layer), is_past),
        remedy=overshoot_words(table, falling) if is_past else "",
    )


def positions_deg(steps: Sequence[Step], table: RotaryTable, layer: int | None) -> dict[int, Fraction]:
    """Return the table angle [deg] of each position, by the position's number.

    `layer`: use only this layer of a pattern; None uses all layers.
    """
    angles: dict[int, Fraction] = {}
    for step in steps:
        if step.action == "index" and step.at.position is not None and step.at.layer in {None, layer}:
            angle = table_angle_deg(step, table)
            if angle is not None:
                angles.setdefault(step.at.position, angle)
    return angles


def _count(steps: Sequence[Step], layer: int | None) -> int | None:
    named = (step.at.of for step in steps if step.at.of and step.at.layer in {None, layer})
    return next(named, None)


def table_angle_deg(step: Step, table: RotaryTable) -> Fraction | None:
    """Return the table angle that a step sets, counted from zero [deg]; None if the step does not turn the table."""
    for setting in step.settings:
        if setting.dial != TABLE:
            continue
        if isinstance(setting, Setting):
            return setting.position
        per_turn = 360 if step.extra.get("way") == "direct" else Fraction(360) / table.ratio
        return per_turn * _turns(setting)
    return None


def _turns(setting: PlateSetting) -> Fraction:
    return setting.turns + Fraction(setting.holes, setting.circle or 1)


def _off_deg(place: TableAngle, angle_deg: Fraction) -> Fraction:
    """Return the reading's table angle minus a position's angle [deg], for the angle nearest to the position that the
    reading can mean.
    """
    raw = (place.angle_deg - angle_deg) % place.every_deg
    return raw - place.every_deg if 2 * raw > place.every_deg else raw


def _off_words(steps: Sequence[Step], off_deg: Fraction, table: RotaryTable, layer: int | None) -> str:
    """Return in words how far the table is from the position; "" if the table is at the position.

    The distance is in notches if notches set the table. `layer`: the layer of the position; None if there are no
    layers.
    """
    if off_deg == 0:
        return ""
    for step in steps:
        plate = next((one for one in step.settings if isinstance(one, PlateSetting)), None)
        if plate is not None and step.extra.get("way") == "direct" and step.at.layer in {None, layer}:
            return off_text(table, "direct", plate.circle, off_deg)
    smallest = smallest_deg(table) if table.dial_graduation_deg is not None else Fraction(1, 3600)
    return dms_text(abs(off_deg), smallest)


def _words(numbers: Sequence[int], of: int, off: str, is_past: bool) -> str:
    named = ", ".join(str(number) for number in numbers[:_MOST_NAMED])
    if len(numbers) > _MOST_NAMED:
        named += f" and {len(numbers) - _MOST_NAMED} more"
    which = f"position{'s' if len(numbers) > 1 else ''} {named} of {of}"
    return f"{off} {'past' if is_past else 'short of'} {which}" if off else f"that is {which}"
