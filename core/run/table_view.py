"""The words that the counter screen shows for the rotary table: its position, and how to turn to the next position."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import NamedTuple

from core.events.state import MachineEvent, State
from core.inputs import Moved, PickedUp, PositionCutWrong, PutBack, SetTo
from core.lathe.lathe import Lathe, RotaryTable, dial_words
from core.operations.dividing.division import Dividing, Position, move_deg
from core.operations.dividing.find_position import TableAngle, table_angle_deg
from core.operations.dividing.handle_dial import TABLE, handle_turns, smallest_deg
from core.operations.dividing.movement import AS_IT_STANDS, FROM_LAST, table_move
from core.operations.dividing.replanning import AS_SET
from core.operations.dividing.set_up import TO_ZERO
from core.operations.dividing.steps import GOES_SHORTER_WAY
from core.operations.dividing.words import FALLING, RISING, backlash_text, holes_text, turning_sense, turns_text
from core.operations.patterns.feeding import THROUGH
from core.operations.registry import kind_of
from core.plan import PlateSetting, Step
from core.values.angles import dms_text
from core.values.dials import DialView, Setting

_FINEST = 10**6
"""The largest denominator of a wanted angle [deg]. Steps hold the angle as a float."""


@dataclass(frozen=True, kw_only=True)
class TablePosition:
    """The position at which the table was last set, with exact angles counted from the table's zero [deg]."""

    set_deg: Fraction
    wanted_deg: Fraction
    step: Step | None
    """The step that set the table; None if the user has entered the table's reading since."""
    undone: bool
    """True if that step was undone. Undo does not turn the table back."""

    @property
    def number(self) -> int:
        """Return the number of the position at which the table is; 0 if it is at no position."""
        return 0 if self.step is None else self.step.at.position or 0

    @property
    def layer(self) -> int | None:
        """Return the layer of the position at which the table is; None if the pattern has no layers."""
        return None if self.step is None else self.step.at.layer

    @property
    def circle(self) -> int | None:
        """Return the number of holes or notches of the circle with which the table was set.

        Return None if the table was set by its dial, or if the hole circle is not known.
        """
        return None if self.step is None else circle_of(self.step)

    @property
    def is_zero(self) -> bool:
        """Return whether the table is at its zero, from which all its positions are counted."""
        return self.step is not None and (TABLE in self.step.zeroed_dials or TO_ZERO in self.step.extra)

    @property
    def as_set(self) -> bool:
        """Return whether the user set the table differently from the plan."""
        return self.step is None or bool(self.step.extra.get(AS_SET, False))

    @property
    def words(self) -> str:
        """Return the position in words, such as "position 6", "position 7 of layer 1" or "zero"."""
        if self.is_zero:
            return "zero"
        if self.step is None or not self.number:
            return "where you set it"
        layer = f" of layer {self.layer}" if self.layer is not None else ""
        return f"position {self.number}{layer}"


def table_position(state: State, table: RotaryTable) -> TablePosition | None:
    """Return the position at which the table was last set; None before its zero is set, or after something was moved.

    An undo does not turn the handle back, so a step that was undone still gives the position.
    """
    wrong: dict[tuple[int | None, int | None], Fraction] = {}
    for event in state.machine_events_latest_first():
        if event.revision is not None and isinstance(event.revision.entered, Moved | PickedUp) and not event.undone:
            return None
        if event.revision is not None and isinstance(event.revision.entered, PositionCutWrong) and not event.undone:
            cut = event.revision.entered
            wrong.setdefault((cut.layer, cut.position), cut.table_deg)
        position = _set_by(event, table)
        if position is None and event.revision is not None and isinstance(event.revision.entered, PutBack):
            # The user turned the table to find the cuts, and the log does not hold the angle at the end.
            return None
        if position is not None:
            real_deg = None if event.step is None else wrong.get(event.step.at.where)
            if real_deg is None:
                return position
            return TablePosition(set_deg=real_deg, wanted_deg=real_deg, step=None, undone=event.undone)
    return None


def _set_by(event: MachineEvent, table: RotaryTable) -> TablePosition | None:
    """Return the position at which an event set the table; None if the event did not turn the table."""
    if event.revision is not None:
        match event.revision.entered:
            case SetTo(dial="rotary_table", position=place):
                return TablePosition(set_deg=place, wanted_deg=place, step=None, undone=event.undone)
            case PutBack(table_deg=place) if place is not None:
                return TablePosition(set_deg=place, wanted_deg=place, step=None, undone=event.undone)
        return None
    set_deg = None if event.step is None else table_angle_deg(event.step, table)
    if event.step is None or set_deg is None:
        return None
    wanted = wanted_deg(event.step, set_deg)
    return TablePosition(set_deg=set_deg, wanted_deg=wanted, step=event.step, undone=event.undone)


def circle_of(step: Step) -> int | None:
    """Return the number of holes or notches of the circle with which a step sets the table; None for a dial."""
    return next((setting.circle for setting in step.settings if isinstance(setting, PlateSetting)), None)


def wanted_deg(step: Step, set_deg: Fraction) -> Fraction:
    """Return the exact angle to which a step should turn the table [deg]; `set_deg` if the step does not state one."""
    return Fraction(step.extra.get("angle_deg", float(set_deg))).limit_denominator(_FINEST)


class TableView(NamedTuple):
    """How to set the table to one position: as a sentence, and as a dial reading."""

    text: str
    dial: DialView
    caution: str = ""
    """A caution if the table's position is not certain; "" otherwise."""
    from_zero: str = ""
    """The position counted from zero: "32+0°00' from zero"."""


def table_view(lathe: Lathe, state: State, step: Step) -> TableView | None:
    """Return how to turn the table to a step's position or to its zero; None if the step does not turn the table."""
    table = lathe.rotary_table
    if table is None or TABLE in step.zeroed_dials:
        return None
    position = _position(step, table)
    if position is None:
        return None
    current = table_position(state, table)
    dividing = _dividing(table, state, step, position, current)
    caution = _caution(current, dividing, position)
    before = None if current is None else _counted_from(current, step, dividing, position)
    if (along := _start_of_arc(step, position)) is not None:
        before, caution = along, ""
    move = table_move(dividing, position, before, _from_words(current, step), _unchanged_words(current))
    as_set = step.extra.get(AS_SET, False) or along is not None
    dial = DialView(
        name=dial_words(TABLE),
        number=move.number,
        unit=move.unit,
        turns=move.lead,
        direction=move.after,
        absolute=move.absolute,
        large=move.large,
    )
    text = step.text if as_set else f"{step.name}: {move.words}"
    return TableView(text, dial, caution, f"{place_from_zero(table, step)} from zero")


def _start_of_arc(step: Step, position: Position) -> Position | None:
    """Return the table's position at the start of the arc along which a step feeds; None if there is no arc."""
    through = step.extra.get(THROUGH)
    if not step.feeds_along or through is None:
        return None
    start_deg = position.set_deg - Fraction(through).limit_denominator(_FINEST)
    return Position(0, start_deg, start_deg)


def _counted_from(current: TablePosition, step: Step, dividing: Dividing, position: Position) -> Position | None:
    """Return the position from which the next move of the table is counted; None if the move is counted from zero."""
    if (current.is_zero and not current.undone) or not _in_holes(current, dividing, position):
        return None
    if position.number and current.number and current.layer != step.at.layer:
        # Between layers a dry run turns the table one full turn and back to its zero.
        return None
    # After an undo the table turns the shorter way, even if that is another turn of the handle.
    return Position(current.number or position.number, current.wanted_deg, current.set_deg)


def _in_holes(current: TablePosition, dividing: Dividing, position: Position) -> bool:
    """Return whether the next move of the table is a whole number of holes in the hole circle in use.

    This is always so if the table is set by its dial.
    """
    if dividing.means == "dial":
        return True
    turns = dividing.place_turns(position.set_deg - current.set_deg)
    return current.circle in {None, dividing.circle} and (turns * (dividing.circle or 1)).denominator == 1


def _from_words(current: TablePosition | None, step: Step) -> str:
    if current is None:
        return FROM_LAST
    is_last = current.number > 0 and current.layer == step.at.layer and not current.undone
    return FROM_LAST if is_last else f"from {current.words}"


def _unchanged_words(current: TablePosition | None) -> str:
    return AS_IT_STANDS if current is None or not current.undone else "already set before the undo"


def _caution(current: TablePosition | None, dividing: Dividing, position: Position) -> str:
    """Return a caution if the table's position is not certain, or if the index pin must change to another hole circle.

    `current`: the position at which the table was last set; None if this is not known.
    """
    if current is None:
        to = dms_text(position.set_deg % 360)
        return (
            f"The table's position is not certain. Its own degree scale must show {to} here. "
            "Choose Where? to find the position."
        )
    if dividing.circle is not None and current.circle not in {None, dividing.circle}:
        return _other_circle(current.circle or 0, dividing)
    if not current.undone:
        return ""
    return (
        f"Undo does not turn the table. This move counts from {current.words} ({dms_text(current.set_deg % 360)}), "
        "where you set the table last. If the table is elsewhere, choose Where?"
    )


def _other_circle(circle: int, dividing: Dividing) -> str:
    if dividing.means == "direct":
        return (
            f"You last used the plate with {circle} notches; this position needs the plate with "
            f"{dividing.circle}. Turn the table to "
            "0, lock it, and change the plate without turning the table."
        )
    return (
        f"The index pin was last in the {circle} circle; this position needs the {dividing.circle} circle. Turn the "
        f"table to 0, lock it, and set the pin to hole 0 of that circle without turning the worm."
    )


def route_words(table: RotaryTable, state: State, step: Step, place: TableAngle) -> str:
    """Return how to turn the table from a known angle to a step's position so that the backlash is taken up.

    Return "" if the step has no position.
    """
    position = _position(step, table)
    if position is None:
        return ""
    target = f"position {position.number}"
    dividing = replace(_dividing(table, state, step, position, None), both_circles=None)
    here = Position(position.number, place.angle_deg, place.angle_deg)
    move, side = table_move(dividing, position, here, "from there"), turning_sense(dividing)
    if not _too_short(dividing, move_deg(dividing, here, position)):
        return f"To {target}: {move.words}"
    back = "up" if dividing.falling else "back"
    if dividing.means == "plate":
        # No dial shows the turns from zero. So the words count from the present position: some turns back, then more
        # forward.
        turns = dividing.place_turns(table.backlash_deg) // 1 + 1
        moved = abs(dividing.place_turns(move_deg(dividing, here, position))) + turns
        return (
            f"To {target}: {back} {turns_text(turns)}, more than the backlash{backlash_text(table)}, then "
            f"{holes_text(moved, dividing.circle or 1)} {side.on}, in the {dividing.circle} circle ({move.absolute})"
        )
    to = f"{move.number} ({move.absolute})"
    return f"To {target}: {back} by more than the backlash{backlash_text(table)}, then {side.up} to {to}"


def _too_short(dividing: Dividing, moved_deg: Fraction) -> bool:
    """Return whether a move [deg] may be too short to take up the backlash. Unknown backlash is taken as one turn."""
    table = dividing.table
    forward = moved_deg != 0 and (moved_deg < 0) == dividing.falling
    if dividing.means == "direct" or not forward:
        return False
    return abs(moved_deg) <= table.backlash_deg if table.backlash_deg else abs(moved_deg) < 360 / table.ratio


def zero_shown(state: State, step: Step) -> DialView | None:
    """Return what to show when a step sets the table's zero: its reading, hole or notch; None for other steps."""
    if TABLE not in step.zeroed_dials or not step.settings:
        return None
    setting = step.settings[0]
    name = dial_words(TABLE)
    if isinstance(setting, Setting):
        side = (FALLING if is_falling(state) else RISING).side
        return DialView(name=name, number="0°00'", unit="", turns="", direction=side)
    return DialView(name=name, number="0", unit="of the plate", turns="", direction="")


def place_from_zero(table: RotaryTable, step: Step) -> str:
    """Return the table's setting at a step, counted from zero, such as "32+0°00'", "7+12 of 43" or "notch 3".

    The number before the + is the full turns of the handle. Return "" if the step does not set the table.
    """
    angle_deg = table_angle_deg(step, table)
    if angle_deg is None:
        return ""
    plate = next((setting for setting in step.settings if isinstance(setting, PlateSetting)), None)
    if plate is None:
        turns, reading = divmod(angle_deg % 360, Fraction(360) / table.ratio)
        return f"{turns}+{dms_text(reading, smallest_deg(table))}"
    if step.extra.get("way") == "direct":
        return f"notch {plate.holes}"
    turns, holes = divmod(handle_turns(table, angle_deg % 360) * (plate.circle or 1), plate.circle or 1)
    return f"{turns}+{holes} of {plate.circle}"


def _position(step: Step, table: RotaryTable) -> Position | None:
    set_deg = table_angle_deg(step, table)
    if set_deg is None:
        return None
    return Position(step.at.position or 0, wanted_deg(step, set_deg), set_deg)


def _dividing(
    table: RotaryTable, state: State, step: Step, position: Position, current: TablePosition | None
) -> Dividing:
    """Return a division of the table that has only one position. Nothing more is needed for the words of that position.

    `current`: the position at which the table was last set; None if it is not known.
    """
    setting = next(setting for setting in step.settings if setting.dial == TABLE)
    plate = setting if isinstance(setting, PlateSetting) else None
    compound = plate.compound if plate is not None else None
    both = None
    # From a hole that was set differently from the plan, no compound move is exact.
    if compound is not None and not (current is not None and current.as_set):
        first, second = compound["circles"]
        both = (int(first), int(second))
    return Dividing(
        table=table,
        means=step.extra.get("way", "dial" if plate is None else "plate"),
        positions=(position,),
        falling=is_falling(state),
        circle=None if plate is None else plate.circle,
        both_circles=both,
        goes_shorter_way=bool(step.extra.get(GOES_SHORTER_WAY, False)),
    )


def is_falling(state: State) -> bool:
    """Return whether the numbers on the table's scale fall from one position of a run to the next."""
    table = state.plan_input.lathe.get("rotary_table")
    numbers_rise = table.get("numbers_rise") if isinstance(table, Mapping) else None
    kind = kind_of(state.plan_input.kind)
    is_turned_back = kind is not None and kind.angles_on_work and numbers_rise == "anticlockwise"
    return is_turned_back or bool(state.plan_input.parameters.get("sense") == "falling")
