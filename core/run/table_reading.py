"""What the rotary table was read to show: which position that is, or where it was set."""

from fractions import Fraction
from typing import NamedTuple

from core.events.state import State
from core.lathe.lathe import Lathe, RotaryTable
from core.operations.dividing.find_position import (
    ROUND_DEG,
    PositionMatch,
    TableAngle,
    find_position,
    nearest_angle_deg,
    positions_deg,
    read_at_step,
    table_angle_deg,
)
from core.operations.dividing.handle_dial import handle_turns, smallest_deg
from core.operations.dividing.words import holes_text, turns_text
from core.plan import PlateSetting, Step
from core.run.table_position import Stand, stands_at
from core.run.table_view import is_falling, way_words
from core.values.angles import dms_text
from core.values.errors import QuantityError
from core.values.plain_text import sentence

_MOST_NAMED = 8


def step_at_table(state: State, table: RotaryTable) -> Step | None:
    """Return the step that tells how the table is read now: the one at hand, else the last one, else the next one."""
    done = (act.step for act in state.machine_events_latest_first())
    cursor = state.cursor
    at_hand = [cursor] if cursor is not None else []
    for step in (*at_hand, *done, *state.open_steps()):
        if step is not None and step.action == "index" and table_angle_deg(step, table) is not None:
            return step
    return None


class TableFound(NamedTuple):
    """Where the table is, as far as what it shows tells."""

    words: str
    """The answer in one sentence or two."""
    more: tuple[str, ...] = ()
    """Where the reading alone cannot tell: what else fits it, and how to make sure."""


def where_is_it(lathe: Lathe, state: State, text: str) -> TableFound:
    """Say which position the table is at, from what it was read to show, and the way to the one asked for.

    Raises QuantityError.
    """
    table = _table_of(lathe)
    step = step_at_table(state, table)
    if step is None:
        raise QuantityError("this plan has no positions on the table")
    place = read_at_step(text, step, table)
    stand = stands_at(state, table)
    layer, near = step.at.layer, step.at.position
    found = find_position(place, state.steps, table, layer=layer, near=near, falling=is_falling(state))
    if place.every_deg == ROUND_DEG:
        return TableFound(_of_known_place(table, state, step, place, found))
    return _of_reading(table, state, step, place, found, stand)


def _of_known_place(table: RotaryTable, state: State, step: Step, place: TableAngle, found: PositionMatch) -> str:
    words = found.words[0].upper() + found.words[1:]
    if len(found.numbers) > 1 or (step.at.position in found.numbers and found.off_deg == 0):
        return f"{words}."
    if place.by_scale:
        return f"{words}. The scale alone tells no hole: enter that too, such as 9 holes at 154 deg."
    way = way_words(table, state, step, place) or found.remedy
    return f"{words}. {sentence(way)}" if way else f"{words}."


def _of_reading(
    table: RotaryTable, state: State, step: Step, place: TableAngle, found: PositionMatch, stand: Stand | None
) -> TableFound:
    """Return all that fits a reading: it comes again with every turn of the handle."""
    shown = _shown_words(step, place, table)
    if stand is None:
        head = f"{shown} comes once in every turn of the handle: the reading alone does not tell where the table is."
        return TableFound(head, (_fitting(table, state, step, place, found), _make_sure(table, step, None)))
    likely_deg = nearest_angle_deg(place, stand.set_deg)
    likely = TableAngle(likely_deg, Fraction(ROUND_DEG))
    here = find_position(likely, state.steps, table, layer=step.at.layer, falling=is_falling(state))
    at = here.words.removeprefix("that is ")
    is_there = stand.layer == step.at.layer and stand.number in here.numbers and here.off_deg == 0
    nearest = "" if is_there else f": nearest to {stand.words}"
    undone = " before the undo" if stand.undone else ""
    head = (
        f"{shown} comes once in every turn of the handle. Likeliest is {dms_text(likely_deg % 360)}, {at}{nearest}, "
        f"where the table was set last{undone}."
    )
    more = [_a_turn_out(table, state, step, likely_deg), _fitting(table, state, step, place, found)]
    way = way_words(table, state, step, likely)
    if way and not (step.at.position in here.numbers and here.off_deg == 0):
        more.append(sentence(f"From {dms_text(likely_deg % 360)}, if it is there: {way[0].lower()}{way[1:]}"))
    return TableFound(head, (*more, _make_sure(table, step, likely_deg)))


def _shown_words(step: Step, place: TableAngle, table: RotaryTable) -> str:
    plate = _plate(step)
    if plate is None or plate.circle is None:
        return dms_text(place.angle_deg, smallest_deg(table))
    return f"Hole {handle_turns(table, place.angle_deg) * plate.circle} of {plate.circle}"


def _a_turn_out(table: RotaryTable, state: State, step: Step, likely_deg: Fraction) -> str:
    """Say what the table's scale shows a turn of the handle before and after the likeliest place."""
    parts = []
    for turn, words in ((-1, "One turn too few shows the same, at"), (1, "one too many, at")):
        place_deg = likely_deg + turn * Fraction(360) / table.ratio
        at = find_position(TableAngle(place_deg, Fraction(ROUND_DEG)), state.steps, table, layer=step.at.layer)
        what = f", position {at.numbers[0]}" if at.off_deg == 0 else ""
        parts.append(f"{words} {dms_text(place_deg % 360)} of the table{what}")
    return f"{'; '.join(parts)}."


def _fitting(table: RotaryTable, state: State, step: Step, place: TableAngle, found: PositionMatch) -> str:
    """Say which positions fit a reading, each with its whole turns from zero."""
    angles = positions_deg(state.steps, table, step.at.layer)
    named = [
        f"{number} ({turns_text(abs(handle_turns(table, angles[number])) // 1)})"
        for number in sorted(found.numbers[:_MOST_NAMED])
    ]
    others = f" and {len(found.numbers) - _MOST_NAMED} more" if len(found.numbers) > _MOST_NAMED else ""
    if found.off_deg:
        amount = dms_text(abs(found.off_deg), Fraction(1, 3600))
        return f"No position fits it exactly; {amount} off, with the whole turns from zero: {', '.join(named)}{others}."
    fit = "One position fits it" if len(found.numbers) == 1 else "Positions that fit it"
    return f"{fit}, with the whole turns from zero: {', '.join(named)}{others}."


def _make_sure(table: RotaryTable, step: Step, likely_deg: Fraction | None) -> str:
    plate = _plate(step)
    scale = "" if likely_deg is None else f" ({dms_text(likely_deg % 360)})"
    typed = "" if plate is None or likely_deg is None else f", as {_hole_at(table, plate, likely_deg)}"
    return (
        f"To make sure: read the table's own degree scale{scale} and enter it here{typed}. Or go back to zero and "
        "count the turns. Or, spindle stopped, bring the tool's point into a mark already cut."
    )


def _hole_at(table: RotaryTable, plate: PlateSetting, angle_deg: Fraction) -> str:
    """Return how a hole is typed with what the table's scale shows."""
    circle = plate.circle or 1
    hole = round(handle_turns(table, angle_deg) * circle) % circle
    return f"{hole} holes at {round(angle_deg % 360)} deg"


def set_place(lathe: Lathe, step: Step, text: str) -> tuple[Fraction, str]:
    """Return where the table was set, from what it shows, near to what a step plans [deg]; and that in words.

    Raises QuantityError for what is no reading of this table, or where the step sets none.
    """
    table = _table_of(lathe)
    planned = table_angle_deg(step, table)
    if planned is None:
        raise QuantityError("this step does not turn the table")
    place = read_at_step(text, step, table)
    if place.by_scale:
        raise QuantityError(
            "the degree scale alone tells no hole; enter the hole, with it or alone: 9 holes at 154 deg"
        )
    found = nearest_angle_deg(place, planned)
    plate = _plate(step)
    if plate is None or plate.circle is None:
        return found, dms_text(found % (Fraction(360) / table.ratio), smallest_deg(table))
    if step.extra.get("way") == "direct":
        return found, f"notch {round(found * plate.circle / 360) % plate.circle}"
    return found, f"{holes_text(handle_turns(table, found), plate.circle)} from zero"


def sets_table(lathe: Lathe, step: Step) -> bool:
    """Tell whether a step turns the rotary table to a position."""
    return (
        step.action == "index"
        and lathe.rotary_table is not None
        and table_angle_deg(step, lathe.rotary_table) is not None
    )


def reading_example(step: Step, table: RotaryTable) -> str:
    """Return how what the table shows may be typed at a step."""
    plate = _plate(step)
    if plate is None:
        turn = dms_text(360 / table.ratio)
        return (
            "What the handle's dial shows: 3°26' or 3-26; with the whole turns from zero, where they are known: "
            f"12 turns 3°26' or 12+3-26; or the table's own scale, if it is {turn} or more: 160°0' or 160-0."
        )
    if step.extra.get("way") == "direct":
        return f"The notch the latch is in, from 0 to {(plate.circle or 1) - 1}."
    return (
        f"The hole the pin is in, from 0 to {(plate.circle or 1) - 1}; with the whole turns from zero, where they "
        "are known: 12 turns 9 holes or 12+9. The table's own degrees tell the turn too: 9 holes at 154 deg."
    )


def _plate(step: Step) -> PlateSetting | None:
    return next((found for found in step.settings if isinstance(found, PlateSetting)), None)


def _table_of(lathe: Lathe) -> RotaryTable:
    if lathe.rotary_table is None:
        raise QuantityError("this lathe has no rotary table")
    return lathe.rotary_table
