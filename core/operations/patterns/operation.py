"""The `pattern` operation: makes its plan and figures, and plans its remaining steps again."""

from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from core.lathe.lathe import Lathe, dial_words
from core.operations.dividing.depth import depth_question, pass_count
from core.operations.dividing.division import FULL_CIRCLE, usual_means
from core.operations.dividing.operation import rotary_of
from core.operations.dividing.steps import SET_UP_STEPS, pattern_count
from core.operations.operation import TOOL, WORKHOLDING, Figures, Needs, Operation, PatternGroove
from core.operations.patterns.boring_head import HEAD, direction
from core.operations.patterns.cautions import general_cautions, pattern_cautions
from core.operations.patterns.feeding import TURN_MOVEMENTS, groove_movements, pass_movements, refuse_without_worm
from core.operations.patterns.figures import pattern_figures
from core.operations.patterns.job import read_pattern
from core.operations.patterns.layer_plan import LayerPlan, is_plain, layer_plans, naming_layer
from core.operations.patterns.layers import Layer, PatternJob
from core.operations.patterns.steps import cuts_as_set, cuts_on, last_check, layer_steps, set_up_steps
from core.operations.patterns.trial_circle import circle_question, width_per_depth, width_question
from core.plan import Expects, Plan, Step, StepCount, numbered
from core.values.errors import PlanError
from core.values.quantities import number_text

if TYPE_CHECKING:
    from core.cutting import Progress
    from core.events.state import State
    from core.inputs import RunInput
    from core.operations.patterns.errors_drawn import PatternErrors
    from core.operations.patterns.picture import PatternPicture
    from core.operations.settings_table import SettingsTable
    from core.questions import Asked
    from core.values.dials import ZeroedDials


def count_pattern(job: PatternJob, lathe: Lathe, material: str | None) -> StepCount:
    """Return the largest possible number of steps of a pattern. Raises PlanError for a pattern that cannot be cut.

    `material`: the material of the work; None if the job names none.
    """
    _refuse_depth_dial(job)
    steps = SET_UP_STEPS
    for layer in job.layers:
        with naming_layer(layer):
            steps += _layer_count(job, layer, lathe) + SET_UP_STEPS
    return StepCount(steps, "cut", "a deeper cut, or fewer positions")


def _refuse_depth_dial(job: PatternJob) -> None:
    """Raise PlanError if the depth is on the dial that sets the offset, or on the boring head.

    Only new plans are refused. A run that was started with such a dial can still be planned again.
    """
    if not any(layer.depth_mm is not None for layer in job.layers):
        return
    if job.depth_dial == HEAD:
        message = (
            "The boring head sets the circle radius, not the depth. Enter the dial that feeds the cutter in, such as "
            "carriage."
        )
        raise PlanError(message, field="depth_dial")
    if job.depth_dial == job.offset_dial:
        raise PlanError(
            f"The {dial_words(job.offset_dial)} already sets the offset, and one slide cannot set both. Enter another "
            "dial, such as carriage.",
            field="depth_dial",
        )


def _layer_count(job: PatternJob, layer: Layer, lathe: Lathe) -> int:
    if layer.shape == "arcs":
        refuse_without_worm(layer, rotary_of(lathe), job.means)
    is_groove, deepest = layer.shape in {"slots", "arcs"}, layer.depth_mm
    if deepest is None and is_groove:
        words = f"{layer.shape.capitalize()} are fed in to a depth. Enter a depth, such as 0.4 mm."
        raise PlanError(words, field="depth")
    depths = {position.depth_mm for position in layer.cut_positions if position.depth_mm is not None}
    passes = [pass_count(lathe, job.depth_dial, depth_mm, layer.cut_mm or depth_mm) for depth_mm in sorted(depths)]
    positions = len(layer.positions) - len(layer.skip)
    return pattern_count(positions, max(passes, default=None), job.order, 2 if is_groove else 1)


def plan_pattern(job: PatternJob, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan of a pattern on a lathe. Raises PlanError if the lathe cannot cut the pattern.

    `material`: the material of the work; None if the job names none.
    """
    plans = layer_plans(job, lathe)
    steps, by_layer = set_up_steps(job, plans[0], lathe), dict[int, list[Step]]()
    for layer_plan in plans:
        by_layer[layer_plan.layer.number] = layer_steps(job, layer_plan, lathe)
        steps += by_layer[layer_plan.layer.number]
    steps.append(last_check(job))
    in_job = sorted(plans, key=lambda layer_plan: layer_plan.layer.number)
    patterns = [layer_plan.pattern for layer_plan in in_job]
    return Plan(
        figures=pattern_figures(job, cuts_as_set(in_job), patterns, steps, by_layer, change_figures(plans)),
        cautions=(*_border_cautions(job, lathe), *pattern_cautions(job, patterns, lathe)),
        general=general_cautions(job, lathe, material),
        movements=pass_movements(job) if passes_planned(plans) else (),
        steps=numbered(steps),
    )


def _replan(
    job: PatternJob, lathe: Lathe, material: str | None, progress: "Progress", entered: "RunInput"
) -> tuple[Step, ...]:
    # Imported here, because cards and the list of jobs appear sooner without this module.
    from core.operations.patterns.replanning import replan_pattern

    return replan_pattern(job, lathe, material, progress, entered)


def change_figures(plans: Sequence[LayerPlan]) -> dict[str, int]:
    """Return how often the cutter or its holder, the head's radius and the dividing plate change, by the figure's name.

    The first mounting does not count as a change, nor does a radius that changes between positions of one layer.
    """
    pairs = list(pairwise(plans))
    return {
        "cutter_changes": sum(bool(after.mounts) for _, after in pairs),
        "head_changes": sum(after.moves_head for _, after in pairs),
        "plate_changes": sum(before.pattern.dividing.plate != after.pattern.dividing.plate for before, after in pairs),
    }


def _border_cautions(job: PatternJob, lathe: Lathe) -> list[str]:
    """Return the advice to cut a whole border as a circle about the table's axis; [] if it does not apply."""
    head = lathe.dials.get(HEAD)
    most_mm = None if head is None else head.most_radius_mm
    cautions = []
    for layer in job.layers:
        if layer.shape != "arcs" or layer.through_deg < FULL_CIRCLE or layer.at_mm or layer.about_mm != (0.0, 0.0):
            continue
        if most_mm is None or layer.offset_mm <= most_mm:
            reach = "" if most_mm is not None else " The boring head must reach that radius."
            cautions.append(
                f"Layer {layer.number}: a border is better cut as a circle at offset 0, with a circle radius of "
                f"{lathe.length_text(layer.offset_mm)}. The spindle then turns while the table is locked.{reach}"
            )
    return cautions


def passes_planned(plans: Sequence[LayerPlan]) -> bool:
    return any(layer_plan.pattern.passes for layer_plan in plans)


def _questions(job: PatternJob, lathe: Lathe, state: "State") -> "tuple[Asked, ...]":

    step = state.cursor
    is_circle = step is not None and step.expects == Expects.CIRCLE
    if is_circle:
        return (circle_question(job, lathe, state),)
    depth, last = depth_question(job, lathe, state), state.last_done
    cutter = None if last is None or not last.at.layer else job.layers[last.at.layer - 1].cutter
    if cutter is None:
        return (depth,)
    width = width_question(job, lathe, state, cutter)
    # With a wide point, the width enlarges an error of depth. With an acute point, it hides the error.
    return (width, depth) if width_per_depth(cutter) > 1 else (depth, width)


def _movements_of(job: PatternJob, lathe: Lathe) -> "Callable[[Step, ZeroedDials, tuple[int, int]], tuple[str, ...]]":
    """Return a function that gives the movements of a step."""

    def of_step(step: Step, dials: "ZeroedDials", starts: tuple[int, int]) -> tuple[str, ...]:
        if step.action == "index":
            return TURN_MOVEMENTS
        return groove_movements(job, step) if step.action in {"cut", "spring"} else ()

    return of_step


def _needs(job: PatternJob, lathe: Lathe, figures: Figures) -> Needs:
    head = "in the boring head or fly cutter"
    if not is_plain(job):
        return Needs(place="rotary table", tool=", ".join(dict.fromkeys(map(_tool_words, job.layers))))
    cutter = job.layers[0].cutter
    if cutter is None:
        return Needs(place="rotary table", tool=f"cutter {head}")
    flat = f"a flat of {lathe.length_text(cutter.tip_flat_mm)}" if cutter.tip_flat_mm else "sharp"
    tool = f"cutter with a point of {number_text(cutter.tip_angle_deg, 2)} deg, {flat}, {head}"
    return Needs(place="rotary table", tool=tool)


def _direction(parameters: Mapping[str, Any], dial_name: str, inwards: bool) -> str:
    return direction(dial_name, inwards, parameters.get("offset_side") == "far")


def _tool_words(layer: Layer) -> str:
    """Return words for a layer's cutter and its holder, such as 'cutter "wide" (120 deg) in the boring head'."""
    held = "in the boring head or fly cutter" if layer.with_head else "in a collet"
    if layer.cutter is None:
        return f"cutter {held}"
    return f'cutter "{layer.cutter.name}" ({number_text(layer.cutter.tip_angle_deg, 2)} deg) {held}'


def _picture(job: PatternJob, lathe: Lathe) -> "PatternPicture":
    from core.operations.patterns.pattern_picture import pattern_picture

    return pattern_picture(job, cuts_on(job, lathe))


def _errors(job: PatternJob, lathe: Lathe) -> "PatternErrors":
    from core.operations.patterns.errors_drawn import PatternErrors

    return PatternErrors(job, lathe)


def _settings(job: PatternJob, lathe: Lathe, plan: Plan) -> "tuple[SettingsTable, ...]":
    from core.operations.patterns.setting_rows import settings_by_layer

    return settings_by_layer(job, lathe, plan)


def _groove(job: PatternJob) -> PatternGroove | None:
    """Return the deepest groove of the pattern; None if the cutter's point or the depths are unknown."""
    grooves = [
        PatternGroove(layer.cutter.tip_angle_deg, layer.cutter.tip_flat_mm, layer.depth_mm)
        for layer in job.layers
        if layer.cutter is not None and layer.depth_mm
    ]
    return max(grooves, key=lambda groove: groove.depth_mm, default=None)


def _logged_by_first_version(parameters: Mapping[str, Any], lathe: Lathe) -> Mapping[str, Any]:
    # The first version set a table by its dial whenever the table had one, exact or not. Runs of that version still do.
    return parameters if lathe.rotary_table is None else {"with": usual_means(lathe.rotary_table), **parameters}


PATTERN = Operation(
    read=read_pattern,
    steps=count_pattern,
    plan=plan_pattern,
    replan=_replan,
    questions=_questions,
    depth_dial=lambda job: job.depth_dial,
    needs=_needs,
    set_up_keys=(WORKHOLDING, TOOL),
    pattern=_picture,
    errors=_errors,
    settings=_settings,
    groove=_groove,
    cut_direction=_direction,
    movements=_movements_of,
    logged_by_first_version=_logged_by_first_version,
)
