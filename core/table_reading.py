"""What the rotary table was read to show: which position that is, or where it was set."""

from fractions import Fraction

from core.errors import QuantityError
from core.indexing.angle_text import dms_text
from core.indexing.by_dial import handle_turns, smallest_deg
from core.indexing.whereabouts import nearest_deg, read_at, table_angle_deg, where_am_i
from core.indexing.words import holes_text
from core.lathe import Lathe, RotaryTable
from core.plan import PlateSetting, Step
from core.state import State
from core.table_view import is_falling, way_words


def step_at_table(state: State, table: RotaryTable) -> Step | None:
    """Return the step that tells how the table is read now: the one at hand, else the last one, else the next one."""
    done = (state.step(trace.marks[0][0]) for trace in reversed(state.trail) if trace.kind == "done")
    cursor = state.cursor
    at_hand = [cursor] if cursor is not None else []
    for step in (*at_hand, *done, *state.open_steps()):
        if step is not None and step.action == "index" and table_angle_deg(step, table) is not None:
            return step
    return None


def where_is_it(lathe: Lathe, state: State, text: str) -> str:
    """Say which position the table stands at, from what it was read to show, and the way to the one asked for.

    Raises QuantityError.
    """
    table = _table_of(lathe)
    step = step_at_table(state, table)
    if step is None:
        raise QuantityError("this plan has no positions on the table")
    ring, near = step.extra.get("ring"), step.extra.get("position")
    place = read_at(text, step, table)
    found = where_am_i(place, state.steps, table, ring=ring, near=near, falling=is_falling(state))
    if len(found.numbers) > 1 or (near in found.numbers and found.off_deg == 0):
        return found.words
    way = way_words(table, state, step, place) or found.remedy.rstrip(".")
    return f"{found.words}. {way}." if way else found.words


def set_place(lathe: Lathe, step: Step, text: str) -> tuple[Fraction, str]:
    """Return where the table was set, from what it shows, near to what a step plans [deg]; and that in words.

    Raises QuantityError for what is no reading of this table, or where the step sets none.
    """
    table = _table_of(lathe)
    planned = table_angle_deg(step, table)
    if planned is None:
        raise QuantityError("this step does not turn the table")
    found = nearest_deg(read_at(text, step, table), planned)
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
        "are known: 12 turns 9 holes or 12+9."
    )


def _plate(step: Step) -> PlateSetting | None:
    return next((found for found in step.settings if isinstance(found, PlateSetting)), None)


def _table_of(lathe: Lathe) -> RotaryTable:
    if lathe.rotary_table is None:
        raise QuantityError("this lathe has no rotary table")
    return lathe.rotary_table
