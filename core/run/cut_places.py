"""The readings of slide and table at the cut positions of a pattern.

The module also reads what the user enters for a position that was cut in the wrong place.
"""

import re
from collections.abc import Iterable, Mapping
from contextlib import suppress
from fractions import Fraction
from typing import NamedTuple

from core.events.state import Revision, State
from core.inputs import PositionCutWrong
from core.lathe.lathe import Lathe, dial_words
from core.operations.dividing.find_position import table_angle_deg
from core.operations.dividing.handle_dial import TABLE
from core.operations.dividing.words import turns_text
from core.operations.patterns.boring_head import HEAD
from core.operations.patterns.cut_elsewhere import cut_where_it_is
from core.operations.patterns.layer_plan import layer_plans
from core.operations.patterns.picture import PatternPlace, Point
from core.operations.registry import PlanInput, parameters_of
from core.plan import Step
from core.run.revising import position_at_reading, read_dial
from core.run.table_reading import read_table_setting
from core.run.table_view import place_from_zero
from core.run.work_as_it_lies import lay_at, on_work_mm, steps_as_work_lies
from core.values.angles import dms_text
from core.values.dials import Setting, ZeroedDials
from core.values.errors import PlanError, QuantityError
from core.values.plain_text import quoted

_TURNS = re.compile(r"(?P<turns>\d{1,4})\s*(?:turns?(?:\s+and)?|t\b|\+)\s*(?P<reading>.+)", re.IGNORECASE | re.DOTALL)


class CutPlace(NamedTuple):
    """A position of a pattern that has already been cut, even if only to its first depth."""

    layer: int
    position: int
    step: Step
    """The last step that went to this position."""


def cut_places(state: State) -> tuple[CutPlace, ...]:
    """Return the positions already cut, the latest first, each with the last step that went to the position."""
    indexed: dict[tuple[int | None, int | None], Step] = {}
    last_cut: dict[tuple[int | None, int | None], int] = {}
    has_cuts = any(step.action == "cut" for step in state.steps)
    for step in state.done_steps:
        if step.at.position is None:
            continue
        if step.action == "index":
            indexed[step.at.where] = step
        if step.action == ("cut" if has_cuts else "index"):
            last_cut[step.at.where] = step.id
    latest_first = sorted(last_cut, key=lambda where: -last_cut[where])
    return tuple(CutPlace(where[0] or 1, where[1] or 1, indexed[where]) for where in latest_first if where in indexed)


def places_as_work_lies(state: State, places: Iterable[CutPlace]) -> list[CutPlace]:
    """Return cut positions with the settings that reach them now. The settings change when the work is put back."""
    steps = {step.id: step for step in steps_as_work_lies(state)}
    return [place._replace(step=steps.get(place.step.id, place.step)) for place in places]


def reading_words(lathe: Lathe, state: State, place: CutPlace) -> str:
    """Return the readings of table and slide at a cut position in short form, each as turns from zero + reading.

    An example is "layer 2, 17: 32+0°00' (160°00'), cross-slide 6+1.70 mm".
    """
    others = [
        f"{dial_words(setting.dial)} {_slide_words(lathe, state, setting)}"
        for setting in place.step.settings
        if isinstance(setting, Setting) and setting.dial not in {TABLE, HEAD} and setting.dial in lathe.dials
    ]
    return f"layer {place.layer}, {place.position}: {', '.join([_table_words(lathe, place.step), *others])}"


def _slide_words(lathe: Lathe, state: State, setting: Setting) -> str:
    dial, zeros = lathe.dial(setting.dial), ZeroedDials(lathe.dials, state.zeros)
    turns = dial.handle_turns(setting)
    if state.zeros.get(dial.name) or turns is None or setting.reading is None:
        return zeros.words(setting)
    return f"{turns}+{dial.reading_text(setting.reading)}"


def _table_words(lathe: Lathe, step: Step) -> str:
    """Return the table's setting at a step, followed by the angle on the table's degree scale."""
    table = lathe.rotary_table
    angle_deg = None if table is None else table_angle_deg(step, table)
    if table is None or angle_deg is None:
        return "table as it was"
    return f"{place_from_zero(table, step)} ({dms_text(angle_deg % 360)})"


def read_slide_place(lathe: Lathe, state: State, place: CutPlace, text: str) -> tuple[Fraction, str]:
    """Return the slide's position that the user typed, counted from the slide's zero, and its reading as text.

    A reading without turns is taken in the same turn as the planned setting. In "6+1.70" or "6 turns 1.70", the turns
    count from 0. Raises QuantityError for text that is not a reading of the slide.
    """
    setting = slide_setting_of(place)
    counted = read_turns_and_reading(lathe, state, setting.dial, text, is_below=setting.position < 0)
    if counted is not None:
        return counted
    shown = read_dial(lathe, setting.dial, text)
    return position_at_reading(lathe, state, setting, shown), lathe.dial(setting.dial).reading_text(shown)


def read_turns_and_reading(
    lathe: Lathe, state: State, dial_name: str, text: str, *, is_below: bool
) -> tuple[Fraction, str] | None:
    """Return a dial's position, counted from its zero, and its reading as text, from text such as "6+1.70".

    Return None if the text has no turns. `is_below`: True if the position is below zero. Raises QuantityError for text
    that is not a reading of the dial.
    """
    dial, match = lathe.dial(dial_name), _TURNS.fullmatch(text.strip())
    if match is None:
        return None
    if dial.per_turn is None or state.zeros.get(dial_name):
        raise QuantityError(
            f"{quoted(text)} has whole turns, but the turns of this dial do not count from 0. Enter only the "
            "dial's reading."
        )
    shown, turns = read_dial(lathe, dial_name, match["reading"]), int(match["turns"])
    position = turns * dial.per_turn + shown
    if is_below:
        position = shown - (turns + (shown > 0)) * dial.per_turn
    return position, f"{turns_text(turns)} {dial.reading_text(shown)}"


def slide_setting_of(place: CutPlace) -> Setting:
    """Return the setting of the slide at a cut position. Raises QuantityError if the log has no setting for it."""
    for setting in place.step.settings:
        if isinstance(setting, Setting) and setting.dial not in {TABLE, HEAD}:
            return setting
    raise QuantityError("No slide is set at this position.")


def cut_wrong(
    lathe: Lathe, place: CutPlace, table: tuple[Fraction, str], slide: tuple[Fraction, str], cut_again: bool
) -> PositionCutWrong:
    """Return the input for a position that was cut in the wrong place.

    `table` and `slide`: the position at which each really was during the cut, with its reading as text. `cut_again`:
    True if the position is to be cut again, in the right place.
    """
    shown = f"table {table[1]}, {dial_words(slide_setting_of(place).dial)} {slide[1]}"
    return PositionCutWrong(place.layer, place.position, slide[0], table[0], cut_again, shown)


def read_table_place(lathe: Lathe, place: CutPlace, text: str) -> tuple[Fraction, str]:
    """Return the angle of the table at which a position was cut [deg], and the same angle as text.

    Raises QuantityError for text that is not a reading of the table.
    """
    set_deg, _ = read_table_setting(lathe, place.step, text)
    return set_deg, dms_text(set_deg % 360)


class MovedCuts(NamedTuple):
    """The positions of a pattern that were cut in the wrong place."""

    at_mm: Mapping[PatternPlace, Point]
    """The real place of each wrong cut on the work [mm]."""
    cut_again: frozenset[PatternPlace]
    """The wrongly cut positions that are also cut again at their right place."""


def moved_cuts(plan_input: PlanInput, state: State) -> MovedCuts:
    """Return the positions that were cut in the wrong place, and the places where the cuts really are.

    Positions that the edited job no longer has are left out. Raises PlanError for a job that this lathe cannot cut.
    """
    entered = [(revision, one) for revision in state.revisions if isinstance(one := revision.entered, PositionCutWrong)]
    if not entered:
        return MovedCuts({}, frozenset())
    job, lathe = parameters_of(plan_input), plan_input.lathe
    plans = {layer_plan.layer.number: layer_plan for layer_plan in layer_plans(job, lathe)}
    at_mm = {}
    for revision, one in entered:
        if one.layer not in plans:
            continue
        with suppress(PlanError):
            cut = cut_where_it_is(plans[one.layer], one)
            lay = lay_at(state, job, _step_cut_wrong(state, revision, (one.layer, one.position)))
            at_mm[PatternPlace(one.layer, one.position)] = on_work_mm(job, lay, cut.slide_mm, cut.angle_deg)
    again = {PatternPlace(one.layer, one.position) for _, one in entered if one.cut_again}
    return MovedCuts(at_mm, frozenset(again & at_mm.keys()))


def _step_cut_wrong(state: State, revision: Revision, where: tuple[int, int]) -> int:
    """Return the id of the last step that cut a position before the user reported that the cut is in the wrong place.

    `revision`: the user's report. `where`: the layer and the position.
    """
    before = next(entry.snapshot.steps for entry in state.undo_stack if entry.seq == revision.seq)
    return max((step.id for step in before if step.at.where == where and state.status_of(step.id) == "done"), default=0)
