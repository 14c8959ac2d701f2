"""The `pattern` operation: its plan, and planning the rest of it again."""

from dataclasses import replace
from typing import TYPE_CHECKING

from core.cutting import Progress
from core.events.state import State
from core.inputs import Edited, Measured, Moved, PickedUp, RunInput, SetTo, nothing_planned_from
from core.lathe.lathe import Lathe, dial_words
from core.operations.dividing.depth import carried_over, pass_count
from core.operations.dividing.numbering import MOUNTING, OpenSteps, open_numbers, unshifted
from core.operations.dividing.operation import from_first_open
from core.operations.dividing.pattern import SET_UP_STEPS, pattern_count
from core.operations.dividing.planning_again import (
    as_deep_as_it_is,
    as_planned_last,
    circle_of,
    measured_depth,
    open_steps,
    set_differently,
)
from core.operations.operation import Figures, Needs, Operation, PatternGroove
from core.operations.patterns.cautions import head_general, pattern_cautions
from core.operations.patterns.directions import direction
from core.operations.patterns.figures import layer_figures
from core.operations.patterns.head import (
    change_steps,
    head_after_trial,
    is_near,
    measure_step,
    refuse_impossible_circle,
    trial_step,
)
from core.operations.patterns.job import PatternJob, read_pattern
from core.operations.patterns.steps import (
    BY_RULE,
    CIRCLE_SET,
    LAYER_SET,
    MEASURED,
    TRIAL,
    Block,
    block_steps,
    blocks,
    naming,
    set_up_steps,
)
from core.plan import Plan, Step, StepCount, numbered
from core.safety import STOP_FIRST
from core.values.quantities import number_text

if TYPE_CHECKING:
    from core.operations.pattern_pictures import PatternPicture
    from core.questions import Asked


def count_pattern(job: PatternJob, lathe: Lathe, material: str | None) -> StepCount:
    """Return how many steps a pattern takes, at most; raises PlanError for a depth it cannot cut."""
    steps = SET_UP_STEPS
    for layer in job.layers:
        passes = None
        if layer.depth_mm is not None:
            with naming(layer):
                passes = pass_count(lathe, job.depth_dial, layer.depth_mm, layer.cut_mm or layer.depth_mm)
        steps += pattern_count(layer.count - len(layer.skip), passes, job.order) + SET_UP_STEPS
    return StepCount(steps, "cut", "a deeper cut, or fewer circles")


def plan_pattern(job: PatternJob, lathe: Lathe, material: str | None) -> Plan:
    """Return the plan of a pattern; raises PlanError."""
    found = blocks(job, lathe)
    steps = set_up_steps(found[0], lathe)
    for block in found:
        steps += block_steps(block, lathe)
    steps.append(_last_check(job))
    patterns = [block.pattern for block in found]
    return Plan(
        figures=layer_figures(job, patterns, steps),
        cautions=pattern_cautions(job, patterns, lathe),
        general=head_general(lathe, material),
        movements=_hands(job, found),
        steps=numbered(steps),
    )


def replan_pattern(
    job: PatternJob, lathe: Lathe, material: str | None, progress: Progress, entered: RunInput
) -> tuple[Step, ...]:
    """Return the steps that replace the open ones; raises PlanError.

    A trial circle is measured across groove centres. Once something was moved zeros are found again, then what is
    open; once job or lathe were edited all is planned from the first open step on.
    """
    is_open = open_numbers(progress.open_steps)
    found = blocks(job, lathe, is_open, planned_steps=progress.open_steps)
    current = _current(found, is_open)
    match entered:
        case Measured(what="circle"):
            steps = _circle_measured(job, lathe, current, entered.size_mm, progress)
        case Measured(what="depth"):
            steps = _depth_measured(lathe, found, current, progress, entered.size_mm, is_open)
        case SetTo():
            planned = as_planned_last(progress)
            steps = set_differently(current.pattern, lathe, planned, entered.position, current.layer.offset_mm)
        case Moved() | PickedUp():
            steps = [*_zeros_again(current, lathe, is_open), _if_touched(current, lathe)]
            # Touched off again, so what a measurement said of the old zero of depth no longer holds.
            steps += block_steps(current, lathe, unshifted(is_open), restart=True)
            for block in found[current.layer.number :]:
                steps += block_steps(block, lathe, unshifted(is_open))
        case Edited():
            steps = _edited(lathe, found, current, progress)
        case _:
            raise nothing_planned_from(entered)
    if not isinstance(entered, Measured | SetTo):
        steps = as_deep_as_it_is(current.pattern, progress.open_steps, steps)
    return numbered([*steps, _last_check(job)], progress.next_id)


def _current(found: list[Block], is_open: OpenSteps) -> Block:
    """Return the layer of the first open step; the last one where none is open."""
    first = min(is_open, default=found[-1].first)
    return next((block for block in found if first < block.pattern.next_number), found[-1])


def _open(lathe: Lathe, found: list[Block], is_open: OpenSteps) -> list[Step]:
    steps = open_steps(set_up_steps(found[0], lathe), is_open)
    for block in found:
        steps += block_steps(block, lathe, is_open)
    return steps


def _zeros_again(block: Block, lathe: Lathe, is_open: OpenSteps) -> list[Step]:
    """Return the steps that find the zeros again, the dividing plate only where it is still to be put on."""
    steps = set_up_steps(block, lathe, again=True)
    mounts = MOUNTING in is_open or (block.changes_circle and block.first + CIRCLE_SET in is_open)
    return steps if mounts else [step for step in steps if step.at.step != MOUNTING]


def _edited(lathe: Lathe, found: list[Block], current: Block, progress: Progress) -> list[Step]:
    """Return all from the first open step on; the table's zero again where the layer at hand has got another circle."""
    from_here = from_first_open(progress.open_steps, found[-1].pattern.next_number)
    dividing = current.pattern.dividing
    if circle_of(progress.open_steps, current.layer.number) in {None, (dividing.way, dividing.circle)}:
        return _open(lathe, found, from_here)
    steps = [*set_up_steps(current, lathe, again=True), *block_steps(current, lathe, from_here, restart=True)]
    for block in found[current.layer.number :]:
        steps += block_steps(block, lathe, from_here)
    return steps


def _depth_measured(
    lathe: Lathe, found: list[Block], current: Block, progress: Progress, measured_mm: float, is_open: OpenSteps
) -> list[Step]:
    """Return what is open with the difference of a measured depth carried over, to later layers too."""
    before = _before_pattern_open(current, lathe, is_open)
    steps = [*before, *measured_depth(current.pattern, progress, measured_mm, is_open)]
    for block in found[current.layer.number :]:
        passes = block.pattern.passes
        if passes is None:
            steps += block_steps(block, lathe, is_open)
            continue
        carried = carried_over(passes, progress.marks(passes.infeed), measured_mm, None)
        shifted = block._replace(pattern=replace(block.pattern, passes=carried))
        steps += block_steps(shifted, lathe, unshifted(is_open))
    return steps


def _before_pattern_open(block: Block, lathe: Lathe, is_open: OpenSteps) -> list[Step]:
    first = block.pattern.first_number
    return block_steps(block, lathe, {number: shift for number, shift in is_open.items() if number < first})


def _if_touched(block: Block, lathe: Lathe) -> Step:
    step = measure_step(block.layer, lathe, block.place(MEASURED))
    return replace(step, text=f"Only if the boring head was touched, else go on: cut a trial circle. {step.text}")


def _circle_measured(
    job: PatternJob, lathe: Lathe, current: Block, measured_mm: float, progress: Progress
) -> list[Step]:
    """Return the head's move by the difference where it can be set, another trial to make sure, and what is open."""
    refuse_impossible_circle(current.layer, lathe, measured_mm)
    head = head_after_trial(current.head, current.layer, measured_mm)
    tried = {current.first + what for what in (BY_RULE, TRIAL, MEASURED)}
    is_open = open_numbers(progress.open_steps)
    rest = {number: shift for number, shift in is_open.items() if number not in tried}
    steps = open_steps(set_up_steps(current, lathe), rest)
    moved = not is_near(current.head, current.layer, measured_mm)
    if moved:
        steps += change_steps(current.layer, head, lathe, measured_mm)
    if moved and (current.first + LAYER_SET in rest or head.dial is None):
        # Under the same numbers, so that measuring it again moves the head again.
        again = trial_step(current.layer, current.place(TRIAL))
        steps.append(replace(again, text=f"{again.text} once more, to make sure"))
        steps.append(measure_step(current.layer, lathe, current.place(MEASURED)))
    for block in blocks(job, lathe, rest, head, progress.open_steps):
        steps += block_steps(block, lathe, rest)
    return steps


def _hands(job: PatternJob, found: list[Block]) -> tuple[str, ...]:
    hands = ["Cutter clear", "Table unlocked, turned to its reading from below, locked"]
    if any(block.pattern.passes for block in found):
        hands.append(f"Spindle on, {dial_words(job.depth_dial)} in to its reading")
    return (*hands, "Cutter clear again, spindle stopped", "Then the key")


def _last_check(job: PatternJob) -> Step:
    counts = [f"layer {layer.number}: {layer.count - len(layer.skip)}" for layer in job.layers]
    return Step(
        action="check",
        title="Look the pattern over",
        text=f"{STOP_FIRST} Look the pattern over before the work leaves the table: circles, {', '.join(counts)}",
    )


def _questions(job: PatternJob, lathe: Lathe, state: State) -> "tuple[Asked, ...]":
    # A counter that is asked nothing need not load it.
    from core.operations.dividing.depth_questions import table_questions

    return table_questions(job, lathe, state)


def _needs(job: PatternJob, lathe: Lathe, figures: Figures) -> Needs:
    head = "in the boring head or fly cutter"
    if job.tip is None:
        return Needs(place="rotary table", tool=f"cutter {head}")
    flat = f"a flat of {lathe.length_text(job.tip.flat_mm)}" if job.tip.flat_mm else "sharp"
    tool = f"cutter with a point of {number_text(job.tip.angle_deg, 2)} deg, {flat}, {head}"
    return Needs(place="rotary table", tool=tool)


def _picture(job: PatternJob) -> "PatternPicture":
    from core.operations.pattern_pictures import PatternPicture
    from core.operations.patterns.picture import layer_pictures, reach_mm

    blank = job.blank_diameter_mm
    return PatternPicture(
        reach_mm=reach_mm(job.shapes, blank),
        layers=layer_pictures(job.shapes),
        rim_mm=None if blank is None else blank / 2,
    )


def _groove(job: PatternJob) -> PatternGroove | None:
    """Return the deepest groove; None where tip or depths are not given."""
    depths_mm = [layer.depth_mm for layer in job.layers if layer.depth_mm]
    return PatternGroove(job.tip.angle_deg, job.tip.flat_mm, max(depths_mm)) if job.tip and depths_mm else None


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
