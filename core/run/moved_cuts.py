"""Where positions of a pattern were really cut, if a run says that they were cut in the wrong place."""

from collections.abc import Mapping
from typing import NamedTuple

from core.events.state import State
from core.inputs import PositionCutWrong
from core.operations.patterns.cut_elsewhere import cut_where_it_is
from core.operations.patterns.layer_plan import layer_plans
from core.operations.patterns.picture import PatternPlace, Point
from core.operations.registry import PlanInput, parameters_of


class MovedCuts(NamedTuple):
    """The positions of a pattern that were cut in the wrong place."""

    at_mm: Mapping[PatternPlace, Point]
    """Where on the work they were cut."""
    cut_again: frozenset[PatternPlace]
    """Those that are cut at their own place as well."""


def moved_cuts(plan_input: PlanInput, state: State) -> MovedCuts:
    """Return the positions that were cut in the wrong place, and where."""
    wrong = [revision.entered for revision in state.revisions if isinstance(revision.entered, PositionCutWrong)]
    if not wrong:
        return MovedCuts({}, frozenset())
    job, lathe = parameters_of(plan_input), plan_input.lathe
    plans = {layer_plan.layer.number: layer_plan for layer_plan in layer_plans(job, lathe)}
    cuts = {PatternPlace(one.layer, one.position): cut_where_it_is(plans[one.layer], one) for one in wrong}
    return MovedCuts(
        {place: job.comes_out_mm(cut.slide_mm, cut.angle_deg) for place, cut in cuts.items()},
        frozenset(PatternPlace(one.layer, one.position) for one in wrong if one.cut_again),
    )
