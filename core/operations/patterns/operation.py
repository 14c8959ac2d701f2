"""The `pattern` operation: makes its plan and figures, and plans its remaining steps again."""

from collections.abc import Iterable
from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING, Any

from core.cutting import Progress
from core.events.state import State
from core.inputs import Edited, Measured, Moved, PickedUp, RunInput, SetTo, nothing_planned_from
from core.lathe.lathe import Lathe, dial_words
from core.operations.dividing.depth import carried_over, depth_question, pass_count
from core.operations.dividing.operation import from_first_open
from core.operations.dividing.replanning import (
    circle_in_use,
    from_depth_cut,
    measured_depth,
    open_pattern_steps,
    set_differently,
)
from core.operations.dividing.steps import (
    MOUNTING,
    SET_UP_STEPS,
    OpenSteps,
    Pattern,
    estimated_time_s,
    open_numbers,
    open_steps,
    pattern_count,
    unshifted,
)
from core.operations.operation import Figures, Needs, Operation, PatternGroove
from core.operations.patterns.boring_head import direction
from core.operations.patterns.cautions import head_general, pattern_cautions
from core.operations.patterns.effects import least_depth_mm, position_effect
from core.operations.patterns.geometry import RingShape, angle_to_touch_deg, crossing_count, relation, turned_by_deg
from core.operations.patterns.job import read_pattern
from core.operations.patterns.layers import Layer, PatternJob
from core.operations.patterns.steps import (
    BY_RULE,
    CIRCLE_SET,
    LAYER_SET,
    MEASURED,
    TRIAL,
    LayerPlan,
    layer_plans,
    layer_steps,
    naming_layer,
    set_up_steps,
)
from core.operations.patterns.trial_circle import (
    change_steps,
    circle_question,
    head_after_trial,
    is_near,
    measure_step,
    refuse_impossible_circle,
    trial_step,
)
from core.plan import Expects, Plan, Step, StepCount, numbered
from core.safety import STOP_FIRST
from core.values.angles import ARCSEC_PER_DEG
from core.values.errors import PlanError
from core.values.quantities import number_text

if TYPE_CHECKING:
    from core.operations.patterns.picture import PatternPicture
    from core.questions import Asked


def layer_figures(job: PatternJob, patterns: list[Pattern], steps: list[Step]) -> dict[str, Any]:
    """Return the figures of every layer, whether layers meet or overlap, and the estimated time."""
    figures: dict[str, Any] = {
        "layers": [_of_layer(job, layer, pattern) for layer, pattern in zip(job.layers, patterns, strict=True)]
    }
    if len(job.layers) > 1:
        figures["between_layers"] = _between(job)
    passes = sum(step.action == "cut" for step in steps)
    if passes:
        figures["passes"] = passes
    return figures | {"estimated_time_s": estimated_time_s(steps, patterns[0].dividing.table)}


def _of_layer(job: PatternJob, layer: Layer, pattern: Pattern) -> dict[str, Any]:
    shape, dividing, height = job.shape(layer), pattern.dividing, job.height_error_mm
    figures: dict[str, Any] = {
        "count": layer.count,
        "offset_mm": layer.offset_mm,
        "circle_radius_mm": layer.circle_radius_mm,
        "spacing_mm": shape.spacing_mm,
        "overlap_mm": shape.overlap_mm,
        "groove_overlap_mm": shape.groove_overlap_mm,
        "inner_mm": shape.inner_mm,
        "outer_mm": shape.outer_mm,
        "inner_edge_mm": shape.inner_edge_mm,
        "outer_edge_mm": shape.outer_edge_mm,
        "groove_width_mm": shape.groove_width_mm,
        "crossings": crossing_count(shape),
        "depth_min_mm": least_depth_mm(job, layer),
        "effective_offset_mm": shape.offset_mm,
        "turned_by_deg": turned_by_deg(layer.offset_mm, height) if height else None,
        "worst_error_arcsec": float(dividing.worst_error_deg * ARCSEC_PER_DEG),
        "worst_error_mm": position_effect(shape, float(dividing.worst_error_deg)).shift_mm,
        "gap_error_mm": position_effect(shape, float(dividing.worst_neighbour_error_deg)).spacing_change_mm,
    }
    return {key: value for key, value in figures.items() if value is not None}


def _between(job: PatternJob) -> list[dict[str, Any]]:
    """Return how neighbouring layers meet, and which other layers overlap."""
    relations = []
    for (one, one_shape), (other, other_shape) in combinations(((layer, job.shape(layer)) for layer in job.layers), 2):
        apart = max(one_shape.inner_mm, other_shape.inner_mm) > min(one_shape.outer_mm, other_shape.outer_mm)
        if apart and other.number > one.number + 1:
            continue
        lie = relation(one_shape, other_shape)
        relations.append(
            {
                "layers": [one.number, other.number],
                "lie": lie.lie,
                "gap_mm": lie.gap_mm,
                "crossing_pairs": lie.crossing_pairs,
                **_touch_at(one_shape, other_shape),
            }
        )
    return relations


def _touch_at(one: RingShape, other: RingShape) -> dict[str, float]:
    """Return the angle between their centres at which circles of two layers touch; {} if there is no such angle."""
    try:
        angle = angle_to_touch_deg(one.offset_mm, one.circle_radius_mm, other.offset_mm, other.circle_radius_mm)
    except PlanError:
        return {}
    return {"touch_at_deg": angle}


def count_pattern(job: PatternJob, lathe: Lathe, material: str | None) -> StepCount:
    """Return how many steps a pattern has at most; raises PlanError for a depth it cannot cut."""
    steps = SET_UP_STEPS
    for layer in job.layers:
        passes = None
        if layer.depth_mm is not None:
            with naming_layer(layer):
                passes = pass_count(lathe, job.depth_dial, layer.depth_mm, layer.cut_mm or layer.depth_mm)
        steps += pattern_count(layer.count - len(layer.skip), passes, job.order) + SET_UP_STEPS
    return StepCount(steps, "cut", "a deeper cut, or fewer circles")


def plan_pattern(job: PatternJob, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan of a pattern; raises PlanError."""
    plans = layer_plans(job, lathe)
    steps = set_up_steps(plans[0], lathe)
    for layer_plan in plans:
        steps += layer_steps(layer_plan, lathe)
    steps.append(_last_check(job))
    patterns = [layer_plan.pattern for layer_plan in plans]
    return Plan(
        figures=layer_figures(job, patterns, steps),
        cautions=pattern_cautions(job, patterns, lathe),
        general=head_general(lathe, material),
        movements=_movements(job, plans),
        steps=numbered(steps),
    )


def replan_pattern(
    job: PatternJob, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    """Return new steps that replace the remaining ones; raises PlanError.

    A trial circle is measured across groove centres. After something moved: the zeros again, then the remaining
    steps. After an edit of job or lathe: everything from the first remaining step on.
    """
    is_open = open_numbers(progress.open_steps)
    plans = layer_plans(job, lathe, is_open, planned_steps=progress.open_steps)
    current = _current(plans, is_open)
    match entered:
        case Measured(what="circle"):
            steps = _circle_measured(job, lathe, current, entered.size_mm, progress)
        case Measured(what="depth"):
            steps = _depth_measured(lathe, plans, current, progress, entered.size_mm, is_open)
        case SetTo():
            planned = open_pattern_steps(progress)
            steps = set_differently(current.pattern, lathe, planned, entered.position, current.layer.offset_mm)
        case Moved() | PickedUp():
            steps = [*_zeros_again(current, lathe, is_open), _if_touched(current, lathe)]
            # Touched off again, so a correction by measured depth no longer applies.
            steps += layer_steps(current, lathe, unshifted(is_open), restart=True)
            steps += _steps_of(plans[current.layer.number :], lathe, unshifted(is_open))
        case Edited():
            steps = _edited(lathe, plans, current, progress)
        case _:
            raise nothing_planned_from(entered)
    if not isinstance(entered, Measured | SetTo):
        steps = from_depth_cut(current.pattern, progress.open_steps, steps)
    return numbered([*steps, _last_check(job)], progress.next_id)


def _current(plans: list[LayerPlan], is_open: OpenSteps) -> LayerPlan:
    """Return the layer of the first remaining step; the last layer if no step remains."""
    first = min(is_open, default=plans[-1].first)
    return next((layer_plan for layer_plan in plans if first < layer_plan.pattern.next_number), plans[-1])


def _open(lathe: Lathe, plans: list[LayerPlan], is_open: OpenSteps) -> list[Step]:
    return [*open_steps(set_up_steps(plans[0], lathe), is_open), *_steps_of(plans, lathe, is_open)]


def _steps_of(plans: Iterable[LayerPlan], lathe: Lathe, is_open: OpenSteps) -> list[Step]:
    return [step for layer_plan in plans for step in layer_steps(layer_plan, lathe, is_open)]


def _zeros_again(layer_plan: LayerPlan, lathe: Lathe, is_open: OpenSteps) -> list[Step]:
    """Return the steps that find the zeros again, with the dividing plate only if it is not mounted yet."""
    steps = set_up_steps(layer_plan, lathe, again=True)
    mounts = MOUNTING in is_open or (layer_plan.changes_circle and layer_plan.first + CIRCLE_SET in is_open)
    return steps if mounts else [step for step in steps if step.at.step != MOUNTING]


def _edited(lathe: Lathe, plans: list[LayerPlan], current: LayerPlan, progress: Progress) -> list[Step]:
    """Return everything from the first remaining step on.

    If this layer now has another hole circle, the steps first set the table to 0 again.
    """
    from_here = from_first_open(progress.open_steps, plans[-1].pattern.next_number)
    dividing = current.pattern.dividing
    if circle_in_use(progress.open_steps, current.layer.number) in {None, (dividing.means, dividing.circle)}:
        return _open(lathe, plans, from_here)
    steps = [*set_up_steps(current, lathe, again=True), *layer_steps(current, lathe, from_here, restart=True)]
    return [*steps, *_steps_of(plans[current.layer.number :], lathe, from_here)]


def _depth_measured(
    lathe: Lathe,
    plans: list[LayerPlan],
    current: LayerPlan,
    progress: Progress,
    measured_mm: float,
    is_open: OpenSteps,
) -> list[Step]:
    """Return the remaining steps corrected by a measured depth [mm], in later layers too."""
    before = _before_pattern_open(current, lathe, is_open)
    steps = [*before, *measured_depth(current.pattern, progress, measured_mm, is_open)]
    for layer_plan in plans[current.layer.number :]:
        passes = layer_plan.pattern.passes
        if passes is None:
            steps += layer_steps(layer_plan, lathe, is_open)
            continue
        carried = carried_over(passes, progress.marks(passes.infeed), measured_mm, None)
        shifted = layer_plan._replace(pattern=replace(layer_plan.pattern, passes=carried))
        steps += layer_steps(shifted, lathe, unshifted(is_open))
    return steps


def _before_pattern_open(layer_plan: LayerPlan, lathe: Lathe, is_open: OpenSteps) -> list[Step]:
    first = layer_plan.pattern.first_number
    return layer_steps(layer_plan, lathe, {number: shift for number, shift in is_open.items() if number < first})


def _if_touched(layer_plan: LayerPlan, lathe: Lathe) -> Step:
    step = measure_step(layer_plan.layer, lathe, layer_plan.place(MEASURED))
    return replace(step, text=f"Only if the boring head was touched: cut a trial circle. {step.text}")


def _circle_measured(
    job: PatternJob, lathe: Lathe, current: LayerPlan, measured_mm: float, progress: Progress
) -> list[Step]:
    """Return the step that moves the head by the difference, another trial circle to check, and the remaining steps."""
    refuse_impossible_circle(current.layer, lathe, measured_mm)
    head = head_after_trial(current.head, current.layer, measured_mm)
    tried = {current.first + what for what in (BY_RULE, TRIAL, MEASURED)}
    is_open = open_numbers(progress.open_steps)
    still_open = {number: shift for number, shift in is_open.items() if number not in tried}
    steps = open_steps(set_up_steps(current, lathe), still_open)
    moved = not is_near(current.head, current.layer, measured_mm)
    if moved:
        steps += change_steps(current.layer, head, lathe, measured_mm)
    if moved and (current.first + LAYER_SET in still_open or head.dial is None):
        # Under the same numbers, so that a second measurement moves the head again.
        again = trial_step(current.layer, current.place(TRIAL))
        steps.append(replace(again, text=f"{again.text} once more, to make sure"))
        steps.append(measure_step(current.layer, lathe, current.place(MEASURED)))
    plans = layer_plans(job, lathe, still_open, head, progress.open_steps)
    return [*steps, *_steps_of(plans, lathe, still_open)]


def _movements(job: PatternJob, plans: list[LayerPlan]) -> tuple[str, ...]:
    movements = ["Take the cutter clear", "Unlock the table, turn it up to its reading, lock it"]
    if any(layer_plan.pattern.passes for layer_plan in plans):
        movements.append(f"Start the spindle, feed the {dial_words(job.depth_dial)} in to its reading")
    return (*movements, "Take the cutter clear again, stop the spindle", "Then the key")


def _last_check(job: PatternJob) -> Step:
    counts = [f"layer {layer.number}: {layer.count - len(layer.skip)}" for layer in job.layers]
    return Step(
        action="check",
        title="Look the pattern over",
        text=f"{STOP_FIRST} Look the pattern over before you take the work off the table. Circles: {', '.join(counts)}",
    )


def _questions(job: PatternJob, lathe: Lathe, state: State) -> "tuple[Asked, ...]":

    step = state.cursor
    is_circle = step is not None and step.expects == Expects.CIRCLE
    return ((circle_question if is_circle else depth_question)(job, lathe, state),)


def _needs(job: PatternJob, lathe: Lathe, figures: Figures) -> Needs:
    head = "in the boring head or fly cutter"
    cutter = job.layers[0].cutter
    if cutter is None:
        return Needs(place="rotary table", tool=f"cutter {head}")
    flat = f"a flat of {lathe.length_text(cutter.tip_flat_mm)}" if cutter.tip_flat_mm else "sharp"
    tool = f"cutter with a point of {number_text(cutter.tip_angle_deg, 2)} deg, {flat}, {head}"
    return Needs(place="rotary table", tool=tool)


def _picture(job: PatternJob) -> "PatternPicture":
    from core.operations.patterns.picture import pattern_picture

    return pattern_picture(job)


def _groove(job: PatternJob) -> PatternGroove | None:
    """Return the deepest groove; None if the cutter's point or the depths are not known."""
    grooves = [
        PatternGroove(layer.cutter.tip_angle_deg, layer.cutter.tip_flat_mm, layer.depth_mm)
        for layer in job.layers
        if layer.cutter is not None and layer.depth_mm
    ]
    return max(grooves, key=lambda groove: groove.depth_mm, default=None)


PATTERN = Operation(
    read=read_pattern,
    steps=count_pattern,
    plan=plan_pattern,
    replan=replan_pattern,
    questions=_questions,
    needs=_needs,
    pattern=_picture,
    groove=_groove,
    cut_direction=direction,
)
