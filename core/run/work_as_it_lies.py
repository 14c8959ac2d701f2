"""Calculates the settings of slide and table at cut positions for the work as it now lies on the table.

Work that was taken off and put back does not lie in the same place, so every cut position has new settings.
"""

import cmath
import math
from dataclasses import replace
from fractions import Fraction

from core.events.state import State
from core.inputs import PutBack
from core.lathe.lathe import Lathe, RotaryTable
from core.operations.dividing.find_position import table_angle_deg
from core.operations.dividing.handle_dial import TABLE, dial_setting, handle_turns, nearest_mark_deg, table_dial
from core.operations.dividing.plates import nearest_hole
from core.operations.patterns.layers import PatternJob, Point, PolarSetting
from core.operations.patterns.place_settings import is_falling, setting_to_meet, slide_as_set_mm, slide_setting
from core.operations.registry import finds_cuts_again, parameters_of
from core.plan import AnySetting, PlateSetting, Step
from core.run.put_backs import put_backs
from core.run.revising import plan_input_of
from core.values.dials import Setting

_ROUND = Fraction(360)


def lay_at(state: State, job: PatternJob, step_id: int | None = None) -> PutBack:
    """Return how the work lay on the table when a step was done, or how it lies now if `step_id` is None."""
    lies = PutBack(job.eccentric_mm, 0.0)
    for logged in put_backs(state):
        if step_id is None or step_id > logged.last_id:
            lies = logged.entered
    return lies


def on_work_mm(job: PatternJob, lay: PutBack, slide_mm: float, angle_deg: float) -> Point:
    """Return the point of the work that is under the spindle's axis, from the slide [mm] and the table angle [deg]."""
    on_table = complex(*job.comes_out_mm(slide_mm, angle_deg)) + complex(*job.eccentric_mm)
    point = (on_table - complex(*lay.shift_mm)) * cmath.exp(-1j * math.radians(lay.turn_deg))
    return point.real, point.imag


def as_set(step: Step, job: PatternJob, lathe: Lathe) -> tuple[float, float] | None:
    """Return the settings of slide [mm] and table [deg] at a step; None if the step does not set both.

    The slide counts from where the axes of spindle and table meet. The angle rises as positions follow each other
    anticlockwise on the work.
    """
    table, setting = lathe.rotary_table, step.setting(job.offset_dial)
    angle_deg = None if table is None else table_angle_deg(step, table)
    if table is None or angle_deg is None or setting is None or job.offset_dial not in lathe.dials:
        return None
    sense = -1 if is_falling(table) else 1
    return slide_as_set_mm(job, lathe.dial(job.offset_dial), setting), float(sense * angle_deg)


def steps_as_work_lies(state: State) -> tuple[Step, ...]:
    """Return the steps of a run. Those that set a position before the work was put back get the settings for now.

    Passes from before the work was put back are left out, because the readings at their ends have changed too.
    """
    logged = put_backs(state)
    if not logged or not finds_cuts_again(state.plan_input.kind):
        return state.steps
    plan_input = plan_input_of(state.plan_input)
    job, lathe = parameters_of(plan_input), plan_input.lathe
    before = logged[-1].last_id
    return tuple(
        as_it_lies(step, state, job, lathe) if step.id <= before and step.action == "index" else step
        for step in state.steps
        if step.id > before or step.action != "cut"
    )


def as_it_lies(step: Step, state: State, job: PatternJob, lathe: Lathe) -> Step:
    """Return a step that sets a position, with the settings that reach this position on the work as it now lies."""
    places, table = as_set(step, job, lathe), lathe.rotary_table
    lay, lies = lay_at(state, job, step.id), lay_at(state, job)
    if places is None or table is None or lay == lies:
        return step
    wanted = setting_to_meet(job, on_work_mm(job, lay, *places), lies, PolarSetting(0.0, Fraction(places[1])))
    target_deg = wanted.angle_deg * (-1 if is_falling(table) else 1) % _ROUND
    slide = slide_setting(job, lathe, wanted.slide_mm)
    settings: list[AnySetting] = [
        slide if one.dial == job.offset_dial else _table_setting(one, table, target_deg, step) if one.dial == TABLE
        else one
        for one in step.settings
    ]  # fmt: skip
    return replace(step, settings=tuple(settings), extra={**step.extra, "angle_deg": float(target_deg)})


def _table_setting(setting: AnySetting, table: RotaryTable, target_deg: Fraction, step: Step) -> AnySetting:
    """Return the possible setting of the table that is nearest to an angle [deg].

    It is a mark of the dial, a hole of the same hole circle, or a notch.
    """
    if isinstance(setting, Setting):
        dial = table_dial(table)
        return dial_setting(dial, nearest_mark_deg(target_deg, dial.graduation), target_deg)
    holes = setting.circle or 1
    turns = target_deg / _ROUND if step.extra.get("way") == "direct" else handle_turns(table, target_deg)
    whole, rest = divmod(nearest_hole(turns, holes), holes)
    return PlateSetting(setting.dial, whole, rest, setting.circle)
