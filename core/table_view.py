"""The rotary table as the counter shows it: the move from where it really stands, whatever was skipped or repeated."""

from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from core.dial_shown import DialShown
from core.dials import Setting
from core.indexing.by_dial import TABLE
from core.indexing.dividing import Dividing, Position, move_deg
from core.indexing.reach import reach
from core.indexing.rest import AS_SET
from core.indexing.whereabouts import Place, table_angle_deg
from core.indexing.words import FALLING, RISING, play_text, side_of
from core.lathe import Lathe, RotaryTable, dial_words
from core.plan import PlateSetting, Step
from core.state import State

_FINEST = 10**6
"""Denominators of wanted angles [deg] up to this are found back from the floats that steps carry."""

_ROUND_DEG = 360
"""A place that comes again only after so much is known for certain."""


class TableView(NamedTuple):
    """What to do at the table for one position: as a sentence, and as its dial."""

    text: str
    dial: DialShown


def table_view(lathe: Lathe, state: State, step: Step) -> TableView | None:
    """Return how the table comes to a position; None where the step sets no table."""
    table = lathe.rotary_table
    if table is None or step.action != "index":
        return None
    position = _position(step, table)
    if position is None:
        return None
    last = stands_at(state, step)
    before = None if last is None else _position(last, table)
    found = reach(_dividing(table, state, step, position, last), position, before)
    as_set = step.extra.get(AS_SET, False)
    head = step.text.partition(":")[0]
    dial = DialShown(
        name=dial_words(TABLE),
        number=found.number,
        unit=found.unit,
        turns=found.lead,
        direction=found.behind,
        absolute=found.absolute,
    )
    return TableView(step.text if as_set else f"{head}: {found.words}", dial)


def way_words(table: RotaryTable, state: State, step: Step, place: Place) -> str:
    """Say how the table comes from a place to the position of a step, its play taken up; "" where it cannot be told.

    Which turn a reading alone belongs to is not known, nor how many are wanted from there.
    """
    position = _position(step, table)
    if position is None:
        return ""
    target = f"position {position.number}"
    if place.every_deg != _ROUND_DEG:
        return f"How many turns it is from there to {target}, only the whole turns tell: type them too"
    dividing = replace(_dividing(table, state, step, position, None), both_circles=None)
    here = Position(position.number, place.angle_deg, place.angle_deg)
    found, side = reach(dividing, position, here, "from there"), side_of(dividing)
    if not _too_short(dividing, move_deg(dividing, here, position)):
        return f"To {target}: {found.words}"
    to = f"{found.number} ({found.absolute})" if dividing.way == "dial" else found.absolute
    back = "up" if dividing.falling else "back"
    return f"To {target}: {back} by more than the play{play_text(table)}, then {side.up} to {to}"


def _too_short(dividing: Dividing, moved_deg: Fraction) -> bool:
    """Tell whether a movement on is too short to take up the play for certain: not told, it is less than a turn."""
    table = dividing.table
    goes_on = moved_deg != 0 and (moved_deg < 0) == dividing.falling
    play_deg = table.backlash_deg or 360 / table.ratio
    return dividing.way != "direct" and goes_on and abs(moved_deg) <= play_deg


def zero_shown(state: State, step: Step) -> DialShown | None:
    """Return the table's dial, hole or notch where it is set to its zero; None for other steps."""
    if TABLE not in step.zeroes or not step.settings:
        return None
    setting = step.settings[0]
    name = dial_words(TABLE)
    if isinstance(setting, Setting):
        side = (FALLING if is_falling(state) else RISING).side
        return DialShown(name=name, number="0°00'", unit="", turns="", direction=side)
    return DialShown(name=name, number="0", unit="of the plate", turns="", direction="")


def stands_at(state: State, step: Step) -> Step | None:
    """Return the position that the table was turned to last, None where it stands at its zero or another ring's.

    In the order in which things were done: a position that is repeated is where it stands afterwards.
    """
    for trace in reversed(state.trail):
        last = state.step(trace.marks[0][0]) if trace.kind == "done" else None
        if last is None:
            continue
        if TABLE in last.zeroes:
            return None
        if last.action == "index":
            return last if last.extra.get("ring") == step.extra.get("ring") else None
    return None


def left_out_with(state: State, step: Step) -> tuple[Step, ...]:
    """Return what is left out with a step: with a position all that is open there, for its cuts belong nowhere else."""
    if step.action != "index" or "position" not in step.extra:
        return (step,)
    return tuple(other for other in state.open_steps() if _place(other) == _place(step))


def _place(step: Step) -> tuple[object, object]:
    return step.extra.get("ring"), step.extra.get("position")


def _position(step: Step, table: RotaryTable) -> Position | None:
    set_deg = table_angle_deg(step, table)
    if set_deg is None or "position" not in step.extra:
        return None
    wanted = Fraction(step.extra.get("angle_deg", float(set_deg))).limit_denominator(_FINEST)
    return Position(step.extra["position"], wanted, set_deg)


def _dividing(table: RotaryTable, state: State, step: Step, position: Position, last: Step | None) -> Dividing:
    """Return as much of the pattern as the words for one of its positions need."""
    setting = next(found for found in step.settings if found.dial == TABLE)
    plate = setting if isinstance(setting, PlateSetting) else None
    compound = plate.compound if plate is not None else None
    both = None
    # Where a hole was taken otherwise than asked no movement from there is exact.
    if compound is not None and not (last is not None and last.extra.get(AS_SET, False)):
        first, second = compound["circles"]
        both = (int(first), int(second))
    return Dividing(
        table=table,
        way=step.extra.get("way", "dial" if plate is None else "plate"),
        positions=(position,),
        falling=is_falling(state),
        circle=None if plate is None else plate.circle,
        both_circles=both,
    )


def is_falling(state: State) -> bool:
    """Tell whether a run goes round with the numbers of the table's scale falling."""
    return bool(state.basis.parameters.get("sense") == "falling")
