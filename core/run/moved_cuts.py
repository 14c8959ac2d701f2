"""Works out where positions of a pattern were really cut, if the user entered that they were cut in the wrong place."""

from collections.abc import Mapping
from contextlib import suppress
from typing import NamedTuple

from core.events.state import Revision, State
from core.inputs import PositionCutWrong
from core.operations.patterns.cut_elsewhere import cut_where_it_is
from core.operations.patterns.layer_plan import layer_plans
from core.operations.patterns.picture import PatternPlace, Point
from core.operations.registry import PlanInput, parameters_of
from core.run.work_as_it_lies import lay_at, on_work_mm
from core.values.errors import PlanError


class MovedCuts(NamedTuple):
    """The positions of a pattern that were cut in the wrong place."""

    at_mm: Mapping[PatternPlace, Point]
    """The real place of each wrong cut on the work [mm]."""
    cut_again: frozenset[PatternPlace]
    """The wrongly cut positions that are also cut again at their right place."""


def moved_cuts(plan_input: PlanInput, state: State) -> MovedCuts:
    """Return the positions that were cut in the wrong place, and the real places of the cuts.

    Positions that an edited job no longer has are left out. Raises PlanError for a job that this lathe cannot cut.
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
    """Return the id of the step that cut a position in the wrong place: the last cut there before the user's entry."""
    before = next(entry.snapshot.steps for entry in state.undo_stack if entry.seq == revision.seq)
    return max((step.id for step in before if step.at.where == where and state.status_of(step.id) == "done"), default=0)
