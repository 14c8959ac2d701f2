"""The rotary table as the counter shows it: the move from where it really stands, whatever was skipped or repeated."""

from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from core.events.state import State
from core.lathe.lathe import Lathe, RotaryTable, dial_words
from core.operations.dividing.by_dial import TABLE
from core.operations.dividing.division import Dividing, Position, move_deg
from core.operations.dividing.movement_words import AS_IT_STANDS, FROM_LAST, reach
from core.operations.dividing.planning_again import AS_SET
from core.operations.dividing.whereabouts import Place, table_angle_deg
from core.operations.dividing.words import FALLING, RISING, holes_text, play_text, side_of, turns_text
from core.plan import PlateSetting, Step
from core.run.table_position import Stand, stands_at, wanted_deg
from core.values.angles import dms_text
from core.values.dials import DialShown, Setting


class TableView(NamedTuple):
    """What to do at the table for one position: as a sentence, and as its dial."""

    text: str
    dial: DialShown
    caution: str = ""
    """What is not certain of where the table stands, "" where nothing is."""


def table_view(lathe: Lathe, state: State, step: Step) -> TableView | None:
    """Return how the table comes to a position, or back to its zero; None where the step turns no table."""
    table = lathe.rotary_table
    if table is None or TABLE in step.zeroed_dials:
        return None
    position = _position(step, table)
    if position is None:
        return None
    stand = stands_at(state, table)
    dividing = _dividing(table, state, step, position, stand)
    caution = _caution(stand, dividing, position)
    before = None if stand is None else _counted_from(stand, step, dividing, position)
    found = reach(dividing, position, before, _whence(stand, step), _stays(stand))
    as_set = step.extra.get(AS_SET, False)
    dial = DialShown(
        name=dial_words(TABLE),
        number=found.number,
        unit=found.unit,
        turns=found.lead,
        direction=found.behind,
        absolute=found.absolute,
        large=found.large,
    )
    return TableView(step.text if as_set else f"{step.name}: {found.words}", dial, caution)


def _counted_from(stand: Stand, step: Step, dividing: Dividing, position: Position) -> Position | None:
    """Return where the table stands, for the movement from there; None where all is counted from zero."""
    if (stand.is_zero and not stand.undone) or not _in_holes(stand, dividing, position):
        return None
    if position.number and stand.number and stand.layer != step.at.layer:
        # Between layers a dry run turns the table all round, and back to its zero.
        return None
    # Where the count was undone it is reached the shorter way, whichever round that is.
    return Position(stand.number or position.number, stand.wanted_deg, stand.set_deg)


def _in_holes(stand: Stand, dividing: Dividing, position: Position) -> bool:
    """Tell whether the way from where the table stands is a whole number of holes of the circle it is set by."""
    if dividing.way == "dial":
        return True
    turns = dividing.place_turns(position.set_deg - stand.set_deg)
    return stand.circle in {None, dividing.circle} and (turns * (dividing.circle or 1)).denominator == 1


def _whence(stand: Stand | None, step: Step) -> str:
    if stand is None:
        return FROM_LAST
    is_last = stand.number > 0 and stand.layer == step.at.layer and not stand.undone
    return FROM_LAST if is_last else f"from {stand.words}"


def _stays(stand: Stand | None) -> str:
    return AS_IT_STANDS if stand is None or not stand.undone else "set there before the undo: check"


def _caution(stand: Stand | None, dividing: Dividing, position: Position) -> str:
    """Say what is not certain of where the table stands, which no undo turns, or that the pin is in another circle."""
    if stand is None:
        to = dms_text(position.set_deg % 360)
        return f"Where the table is now is not certain. Its own degree scale must show {to} here; Where? tells the way."
    if dividing.circle is not None and stand.circle not in {None, dividing.circle}:
        return _other_circle(stand.circle or 0, dividing)
    if not stand.undone:
        return ""
    return (
        f"Undo does not turn the table. This counts from {stand.words} ({dms_text(stand.set_deg % 360)}), where it "
        "was set last. Is it elsewhere? Where? tells the way."
    )


def _other_circle(circle: int, dividing: Dividing) -> str:
    if dividing.way == "direct":
        return (
            f"The plate with {circle} notches was used last, this is on the one with {dividing.circle}: first turn the "
            "table to 0, lock it, and change the plate without turning the table."
        )
    return (
        f"The pin was last in the {circle} circle, this is on the {dividing.circle} circle: first turn the table to 0, "
        f"lock it, and set the pin to hole 0 of the {dividing.circle} circle without turning the worm."
    )


def way_words(table: RotaryTable, state: State, step: Step, place: Place) -> str:
    """Say how the table comes from a known place to the position of a step, its play taken up; "" where it has none."""
    position = _position(step, table)
    if position is None:
        return ""
    target = f"position {position.number}"
    dividing = replace(_dividing(table, state, step, position, None), both_circles=None)
    here = Position(position.number, place.angle_deg, place.angle_deg)
    found, side = reach(dividing, position, here, "from there"), side_of(dividing)
    if not _too_short(dividing, move_deg(dividing, here, position)):
        return f"To {target}: {found.words}"
    back = "up" if dividing.falling else "back"
    if dividing.way == "plate":
        # The turns from zero are seen nowhere, so those from here are counted: some back, and as many more on.
        turns = dividing.place_turns(table.backlash_deg) // 1 + 1
        moved = abs(dividing.place_turns(move_deg(dividing, here, position))) + turns
        return (
            f"To {target}: {back} {turns_text(turns)}, more than the play{play_text(table)}, then "
            f"{holes_text(moved, dividing.circle or 1)} {side.on}, in the {dividing.circle} circle ({found.absolute})"
        )
    to = f"{found.number} ({found.absolute})"
    return f"To {target}: {back} by more than the play{play_text(table)}, then {side.up} to {to}"


def _too_short(dividing: Dividing, moved_deg: Fraction) -> bool:
    """Tell whether a movement on may not take up the play: where that is not known, one of less than a turn."""
    table = dividing.table
    goes_on = moved_deg != 0 and (moved_deg < 0) == dividing.falling
    if dividing.way == "direct" or not goes_on:
        return False
    return abs(moved_deg) <= table.backlash_deg if table.backlash_deg else abs(moved_deg) < 360 / table.ratio


def zero_shown(state: State, step: Step) -> DialShown | None:
    """Return the table's dial, hole or notch where it is set to its zero; None for other steps."""
    if TABLE not in step.zeroed_dials or not step.settings:
        return None
    setting = step.settings[0]
    name = dial_words(TABLE)
    if isinstance(setting, Setting):
        side = (FALLING if is_falling(state) else RISING).side
        return DialShown(name=name, number="0°00'", unit="", turns="", direction=side)
    return DialShown(name=name, number="0", unit="of the plate", turns="", direction="")


def left_out_with(state: State, step: Step) -> tuple[Step, ...]:
    """Return what is left out with a step: with a position all that is open there, for its cuts belong nowhere else."""
    if step.action != "index" or step.at.position is None:
        return (step,)
    return tuple(other for other in state.open_steps() if other.at.where == step.at.where)


def _position(step: Step, table: RotaryTable) -> Position | None:
    set_deg = table_angle_deg(step, table)
    if set_deg is None:
        return None
    return Position(step.at.position or 0, wanted_deg(step, set_deg), set_deg)


def _dividing(table: RotaryTable, state: State, step: Step, position: Position, stand: Stand | None) -> Dividing:
    """Return as much of the pattern as the words for one of its positions need."""
    setting = next(found for found in step.settings if found.dial == TABLE)
    plate = setting if isinstance(setting, PlateSetting) else None
    compound = plate.compound if plate is not None else None
    both = None
    # Where a hole was taken otherwise than asked no movement from there is exact.
    if compound is not None and not (stand is not None and stand.as_set):
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
    return bool(state.plan_input.parameters.get("sense") == "falling")
