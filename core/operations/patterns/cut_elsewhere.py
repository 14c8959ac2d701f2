"""Positions cut in the wrong place, and grooves that come out wrong because the work was put back on the table."""

import cmath
import math
from collections.abc import Iterable, Sequence

from core.inputs import PositionCutWrong, PutBack
from core.lathe.lathe import Lathe
from core.operations.dividing.steps import dials_after
from core.operations.patterns.layer_plan import LayerPlan
from core.operations.patterns.layers import CutAsSet, PatternJob
from core.operations.patterns.place_settings import is_falling
from core.operations.patterns.steps import cuts_as_set
from core.plan import Step
from core.values.dials import Setting
from core.values.errors import PlanError
from core.values.quantities import number_text

_VISIBLE_MM = 0.01


def cut_where_it_is(plan: LayerPlan, wrong: PositionCutWrong) -> CutAsSet:
    """Return the cut at a wrongly cut position with the settings that were really used, for figures and pictures.

    `wrong`: the entered settings of that position. Raises PlanError for a position that the layer does not cut.
    """
    planned, dial = _planned(plan, wrong), plan.slide
    travel_mm = dial.travel_mm(1) * float(dial.marks_at(wrong.slide))
    slide_mm = -travel_mm if plan.job.is_far else travel_mm
    sense = -1 if plan.pattern.dividing.falling else 1
    to_mm = None if planned.to_slide_mm is None else planned.to_slide_mm - planned.slide_mm + slide_mm
    return planned._replace(slide_mm=slide_mm, angle_deg=float(sense * wrong.table_deg), to_slide_mm=to_mm)


def _planned(plan: LayerPlan, wrong: PositionCutWrong) -> CutAsSet:
    for cut in cuts_as_set([plan]):
        if cut.position.number == wrong.position:
            return cut
    raise PlanError(
        f"Layer {wrong.layer} does not cut position {wrong.position}. Enter a position that is cut.", field="position"
    )


def cut_wrong_finding(plan: LayerPlan, wrong: PositionCutWrong, lathe: Lathe) -> str:
    """Return a sentence on how far a wrongly cut position lies from its planned place.

    `wrong`: the entered settings of that position.
    """
    cuts = _planned(plan, wrong), cut_where_it_is(plan, wrong)
    own, real = (complex(*plan.job.comes_out_mm(cut.slide_mm, cut.angle_deg)) for cut in cuts)
    again = "The position is cut again at its planned place." if wrong.cut_again else "The wrong cut stays as it is."
    return (
        f"Position {wrong.position} of layer {wrong.layer} lies {lathe.length_text(abs(real - own))} from its "
        f"planned place. {again} The other positions are right."
    )


def stands_after(plan: LayerPlan, done: Sequence[Step], wrong: PositionCutWrong) -> dict[str, Setting] | None:
    """Return the dial settings of slide and boring head, by dial name, after the last finished step of a layer.

    If the last position was cut in the wrong place, the slide is where that cut ended. Return None if the planned
    settings apply. `done`: the finished steps of the run. `wrong`: the entered settings of the wrongly cut position.
    """
    last = next((step for step in reversed(done) if step.at.position is not None), None)
    if last is None or last.at.layer != plan.layer.number or last.at.position is None:
        return None
    if not wrong.cut_again and last.at.position != wrong.position:
        return None
    at = plan.pattern.at(last.at.position)
    stands = dials_after(at if last.action == "cut" else at._replace(groove=None))
    if last.at.position == wrong.position:
        dial, planned = plan.slide, at.held[0]
        moved = stands[dial.name].position - planned.position
        stands[dial.name] = dial.at_marks(round(dial.marks_at(wrong.slide + moved)))
    return stands


def put_back_finding(job: PatternJob, plans: Iterable[LayerPlan], put_back: PutBack, lathe: Lathe) -> str:
    """Return sentences that say how the settings and the picture take account of work that was put back on the table.

    If the ends of slots or arcs will be visibly out of place, the sentences also say by how much.
    """
    falls = lathe.rotary_table is not None and is_falling(lathe.rotary_table)
    zero_deg = put_back.turn_deg * (-1 if falls else 1) % 360
    lies = (
        f"All settings now fit the new position of the work, with its 0° at {number_text(zero_deg, 2)}° of the table. "
        "The picture shows the work itself, not its position on the table."
    )
    shift = complex(*put_back.shift_mm)
    centre = cmath.rect(job.eccentricity_mm, math.radians(job.eccentric_at_deg + put_back.turn_deg))
    off_mm = abs(shift - centre)
    has_grooves = any(plan.layer.shape in {"slots", "arcs"} for plan in plans)
    if not has_grooves or off_mm < _VISIBLE_MM:
        return lies
    return (
        f"{lies} The table turns slots and arcs about its own axis, so their ends will be up to "
        f"{lathe.length_text(2 * off_mm)} off. Move the work back if this error would be visible."
    )
