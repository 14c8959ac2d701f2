"""Finds the position that belongs to a reading of the rotary table, and the angle at which the table was set."""

from collections.abc import Sequence
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
from core.operations.dividing.handle_dial import TABLE, handle_turns, smallest_deg
from core.operations.dividing.words import holes_text, turns_text
from core.operations.patterns.boring_head import HEAD
from core.plan import PlateSetting, Step
from core.run.counter_view import dial_position
from core.run.revising import shown_settings
from core.run.table_view import TablePosition, is_falling, route_words, table_position
from core.run.work_as_it_lies import steps_as_work_lies
from core.values.angles import dms_text
from core.values.errors import QuantityError
from core.values.plain_text import sentence

_MOST_NAMED = 8


def step_at_table(state: State, table: RotaryTable) -> Step | None:
    """Return the step whose setting shows whether the table is read by dial, holes or notches.

    This is the current step if it sets the table, otherwise the last step that set it, otherwise the next step that
    sets it; None if no step does.
    """
    done = (event.step for event in state.machine_events_latest_first())
    cursor = state.cursor
    at_hand = [cursor] if cursor is not None else []
    for step in (*at_hand, *done, *state.open_steps()):
        if step is not None and step.action == "index" and table_angle_deg(step, table) is not None:
            return step
    return None


class TableAnswer(NamedTuple):
    """What a reading shows about the position of the table, in words."""

    words: str
    """The answer, in one or two sentences."""
    more: tuple[str, ...] = ()
    """Sentences on other positions that the reading fits, and how to make sure.

    () if the reading fits only one position.
    """


def locate_table(lathe: Lathe, state: State, text: str) -> TableAnswer:
    """Return the position that belongs to a table reading that the user typed, and how to turn to the wanted position.

    Raises QuantityError for text that is not a reading of this table.
    """
    table = _table_of(lathe)
    step = step_at_table(state, table)
    if step is None:
        raise QuantityError("This plan has no positions on the table.")
    place = read_at_step(text, step, table)
    current = table_position(state, table)
    layer, near = step.at.layer, step.at.position
    steps = steps_as_work_lies(state)
    match = find_position(place, steps, table, layer=layer, near=near, falling=is_falling(state))
    if place.every_deg == ROUND_DEG:
        return TableAnswer(_known_place_words(table, state, step, place, match))
    return _reading_answer(table, state, steps, step, place, match, current)


def _known_place_words(table: RotaryTable, state: State, step: Step, place: TableAngle, match: PositionMatch) -> str:
    words = match.words[0].upper() + match.words[1:]
    if len(match.numbers) > 1 or (step.at.position in match.numbers and match.off_deg == 0):
        return f"{words}."
    if place.by_scale:
        return f"{words}. The scale alone does not show the hole. Enter the hole too, such as 9 holes at 154 deg."
    route = route_words(table, state, step, place) or match.remedy
    return f"{words}. {sentence(route)}" if route else f"{words}."


def _reading_answer(
    table: RotaryTable,
    state: State,
    steps: Sequence[Step],
    step: Step,
    place: TableAngle,
    match: PositionMatch,
    current: TablePosition | None,
) -> TableAnswer:
    """Return the answer that lists all positions that fit a reading.

    The same reading comes up in every turn of the handle. `current`: the position at which the table was last set; None
    if it is not known.
    """
    shown = _shown_words(step, place, table)
    if current is None:
        head = f"{shown} occurs once in every turn of the handle. The reading alone does not show the table's position."
        return TableAnswer(head, (_fitting(table, steps, step, place, match), _make_sure(table, step, None)))
    likely_deg = nearest_angle_deg(place, current.set_deg)
    likely = TableAngle(likely_deg, Fraction(ROUND_DEG))
    here = find_position(likely, steps, table, layer=step.at.layer, falling=is_falling(state))
    at = here.words.removeprefix("that is ")
    is_there = current.layer == step.at.layer and current.number in here.numbers and here.off_deg == 0
    nearest = "" if is_there else f": nearest to {current.words}"
    undone = " before the undo" if current.undone else ""
    head = (
        f"{shown} occurs once in every turn of the handle. "
        f"Most likely the table is at {dms_text(likely_deg % 360)}, {at}{nearest}, where you set it last{undone}."
    )
    more = [_a_turn_out(table, steps, step, likely_deg), _fitting(table, steps, step, place, match)]
    route = route_words(table, state, step, likely)
    if route and not (step.at.position in here.numbers and here.off_deg == 0):
        target, _, move = route.partition(": ")
        more.append(sentence(f"{target} from {dms_text(likely_deg % 360)}: {move.removeprefix('from there, ')}"))
    return TableAnswer(head, (*more, _make_sure(table, step, likely_deg)))


def _shown_words(step: Step, place: TableAngle, table: RotaryTable) -> str:
    plate = _plate(step)
    if plate is None or plate.circle is None:
        return dms_text(place.angle_deg, smallest_deg(table))
    return f"Hole {handle_turns(table, place.angle_deg) * plate.circle} of {plate.circle}"


def _a_turn_out(table: RotaryTable, steps: Sequence[Step], step: Step, likely_deg: Fraction) -> str:
    """Return a sentence with the table's angles one turn of the handle before and after the likely angle [deg]."""
    parts = []
    for turn, words in (
        (-1, "The same reading also occurs one turn of the handle earlier, with the table at"),
        (1, "and one turn later, at"),
    ):
        place_deg = likely_deg + turn * Fraction(360) / table.ratio
        at = find_position(TableAngle(place_deg, Fraction(ROUND_DEG)), steps, table, layer=step.at.layer)
        what = f", position {at.numbers[0]}" if at.off_deg == 0 else ""
        parts.append(f"{words} {dms_text(place_deg % 360)}{what}")
    return f"{'; '.join(parts)}."


def _fitting(table: RotaryTable, steps: Sequence[Step], step: Step, place: TableAngle, match: PositionMatch) -> str:
    """Return a sentence that lists the positions that fit a reading, each with its turns of the handle from zero."""
    angles = positions_deg(steps, table, step.at.layer)
    named = [
        f"{number} ({turns_text(abs(handle_turns(table, angles[number])) // 1)})"
        for number in sorted(match.numbers[:_MOST_NAMED])
    ]
    others = f" and {len(match.numbers) - _MOST_NAMED} more" if len(match.numbers) > _MOST_NAMED else ""
    if match.off_deg:
        amount = dms_text(abs(match.off_deg), Fraction(1, 3600))
        nearest = f"{', '.join(named)}{others}"
        return (
            f"No position fits this reading exactly. The nearest are {amount} off, "
            f"with the whole turns from zero: {nearest}."
        )
    fit = "One position fits this reading" if len(match.numbers) == 1 else "Positions that fit this reading"
    return f"{fit}, with the whole turns from zero: {', '.join(named)}{others}."


def _make_sure(table: RotaryTable, step: Step, likely_deg: Fraction | None) -> str:
    plate = _plate(step)
    scale = "" if likely_deg is None else f" ({dms_text(likely_deg % 360)})"
    typed = "" if plate is None or likely_deg is None else f", as {_hole_at(table, plate, likely_deg)}"
    return (
        f"To make sure, read the table's own degree scale{scale} and enter that angle here{typed}. Or go back to "
        "zero and count the turns. Or stop the spindle and bring the tool's point into a mark already cut."
    )


def _hole_at(table: RotaryTable, plate: PlateSetting, angle_deg: Fraction) -> str:
    """Return an example of how to enter a hole with the angle on the degree scale, such as "9 holes at 154 deg"."""
    circle = plate.circle or 1
    hole = round(handle_turns(table, angle_deg) * circle) % circle
    return f"{hole} holes at {round(angle_deg % 360)} deg"


def read_table_setting(lathe: Lathe, step: Step, text: str) -> tuple[Fraction, str]:
    """Return the angle [deg] at which the user set the table, and its reading in words.

    Of all angles that have the reading in `text`, the one nearest to the planned angle is taken. Raises QuantityError
    for text that is not a reading of this table, and for a step that does not turn the table.
    """
    table = _table_of(lathe)
    planned = table_angle_deg(step, table)
    if planned is None:
        raise QuantityError("This step does not turn the table.")
    place = read_at_step(text, step, table)
    if place.by_scale:
        raise QuantityError(
            "The degree scale alone does not show the hole. Enter the hole too, such as 9 holes at 154 deg."
        )
    set_deg = nearest_angle_deg(place, planned)
    plate = _plate(step)
    if plate is None or plate.circle is None:
        return set_deg, dms_text(set_deg % (Fraction(360) / table.ratio), smallest_deg(table))
    if step.extra.get("way") == "direct":
        return set_deg, f"notch {round(set_deg * plate.circle / 360) % plate.circle}"
    return set_deg, f"{holes_text(handle_turns(table, set_deg), plate.circle)} from zero"


def other_dials(lathe: Lathe, state: State, step: Step) -> list[str]:
    """Return the names of the dials that the user can choose from, if a dial was set differently from the plan.

    At a position these are the table and any slide whose setting changes; [] if only the table changes. Along a groove
    it is the dial that moves in the cut.
    """
    if step.feeds_along:
        return [step.settings[-1].dial]
    if not sets_table(lathe, step):
        return []
    changed = [
        setting.dial
        for setting in shown_settings(lathe, state, step)
        if setting.dial not in {TABLE, HEAD} and setting.position != dial_position(lathe, state, setting.dial)
    ]
    return [TABLE, *changed] if changed else []


def sets_table(lathe: Lathe, step: Step) -> bool:
    """Return whether a step turns the lathe's rotary table to a position."""
    return (
        step.action == "index"
        and lathe.rotary_table is not None
        and table_angle_deg(step, lathe.rotary_table) is not None
    )


def reading_example(step: Step, table: RotaryTable) -> str:
    """Return examples of table readings that the user can enter at a step."""
    plate = _plate(step)
    if plate is None:
        turn = dms_text(360 / table.ratio)
        return (
            "Enter the reading of the handle's dial, such as 3°26' or 3-26. Add the whole turns from zero, if you know "
            f"them, such as 12+3-26. Or enter the angle on the table's own scale if it is {turn} or more, such "
            "as 160-0."
        )
    if step.extra.get("way") == "direct":
        return f"Enter the number of the notch in use, from 0 to {(plate.circle or 1) - 1}."
    return (
        f"Enter the hole of the index pin, from 0 to {(plate.circle or 1) - 1}. Add the whole turns from zero, if you "
        "know them, such as 12+9. Or add the table's own degrees, such as 9 holes at 154 deg."
    )


def _plate(step: Step) -> PlateSetting | None:
    return next((setting for setting in step.settings if isinstance(setting, PlateSetting)), None)


def _table_of(lathe: Lathe) -> RotaryTable:
    if lathe.rotary_table is None:
        raise QuantityError("This lathe has no rotary table.")
    return lathe.rotary_table
