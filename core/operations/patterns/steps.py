"""The steps of a pattern, layer by layer, with as few dial settings as possible.

Every step has a number in the pattern, except the steps that measure a depth. After a measurement or an edit, these
numbers show which steps remain.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from core.cutting import backlash_words
from core.lathe.lathe import Lathe, dial_words
from core.operations.dividing.set_up import change_steps, depth_touch_off, mounting_steps, table_zero_step
from core.operations.dividing.steps import MOUNTING, OpenSteps, last_visited, pattern_steps
from core.operations.dividing.words import with_cautions
from core.operations.patterns.boring_head import AWAY, HEAD, Head, direction
from core.operations.patterns.budget import eccentricity_allowed_mm, rounded_down
from core.operations.patterns.cautions import NEW_DEPTH
from core.operations.patterns.feeding import locked_words
from core.operations.patterns.layer_plan import (
    AXES_MEET,
    BY_RULE,
    CENTRED,
    CIRCLE_SET,
    DRY_RUN,
    HEAD_ZERO,
    HEAD_ZERO_AGAIN,
    LAYER_SET,
    MEASURED,
    MOUNTED,
    ON_SCRAP,
    TABLE_ZERO,
    TOUCH_OFF,
    TRIAL,
    LayerPlan,
    layer_plans,
)
from core.operations.patterns.layers import CutAsSet, Layer, PatternJob
from core.operations.patterns.place_settings import slide_as_set_mm
from core.operations.patterns.trial_circle import (
    HEAD_READY,
    OVER_THE_FACE,
    by_rule_step,
    head_zero_step,
    layer_words,
    measure_step,
    moved_again,
    trial_step,
)
from core.plan import Expects, PatternPosition, Step
from core.safety import COLLET_READY, INDICATOR_OFF, STOP_FIRST
from core.values.dials import Dial, Setting
from core.values.plain_text import sentence
from core.values.quantities import number_text


def set_up_steps(job: PatternJob, layer_plan: LayerPlan, lathe: Lathe, again: bool = False) -> list[Step]:
    """Return the steps that mount the dividing plate and find the zeros of slide and table.

    The zero of the slide is the place where the axes meet. The zero of the table is its 0 reading. `again`: the zeros
    are found again during a run.
    """
    dividing = layer_plan.pattern.dividing
    zero = table_zero_step(dividing, PatternPosition(TABLE_ZERO), again)
    if again and not layer_plan.is_plain:
        slide = dial_words(job.offset_dial)
        first = table_zero_step(dividing, PatternPosition(TABLE_ZERO))
        zero = replace(
            zero,
            text="Isolate the drive. Choose a cut position (Where?, key 8, lists the readings). Set the "
            f"{slide} to its reading, the head as it was. Turn the table until the point, turned by hand, falls into "
            f"that cut. Set the table to its reading. Confirm at a second cut. Nothing cut yet? {first.text}",
        )
    elif layer_plan.is_plain and not again:
        # Partly cut work is never centred again.
        zero = replace(zero, text=f"{_centred_words(job, lathe)}. {zero.text}")
    return [
        *mounting_steps(layer_plan.pattern.divided_cuts, PatternPosition(MOUNTING)),
        _axes_meet(lathe.dial(job.offset_dial), job.is_far),
        *([] if layer_plan.is_plain else [_centred(job, lathe)]),
        zero,
    ]


def _centred(job: PatternJob, lathe: Lathe) -> Step:
    return Step(
        action="check",
        title="Centre the blank on the table",
        text=f"Isolate the drive. {_centred_words(job, lathe)}",
        cautions=(INDICATOR_OFF,),
        place=PatternPosition(CENTRED),
    )


def _centred_words(job: PatternJob, lathe: Lathe) -> str:
    """Return words for centring the blank, with the eccentricity that the tolerance budget allows."""
    allowed_mm = eccentricity_allowed_mm(job)
    if job.eccentricity_mm:
        within = "" if allowed_mm is None else f", within {rounded_down(allowed_mm, lathe)}"
        return (
            "Set the blank to the entered eccentricity: indicate its rim while the table turns. It must be off by "
            f"{lathe.length_text(job.eccentricity_mm)} towards {number_text(job.eccentric_at_deg, 2)} deg{within}"
        )
    within = "" if allowed_mm is None else f". The rim's total runout may be {rounded_down(2 * allowed_mm, lathe)}"
    return f"Centre the blank on the table: indicate its rim while the table turns{within}"


def _axes_meet(dial: Dial, is_far: bool) -> Step:
    zero = "set the dial to 0" if dial.can_zero else "enter the dial's reading"
    return Step(
        action="set",
        title="Find where the axes meet",
        text="Isolate the drive. Swing an indicator in the spindle by hand round the table's bore or a turned boss. "
        f"Move the {dial_words(dial.name)} until the indicator reads the same on both sides. There the axes meet. "
        f"End the move going {'out' if is_far else 'in'}, {AWAY}, with the backlash taken up{backlash_words(dial)}, "
        f"and {zero}. "
        "Half the difference between top and bottom is the axis height error",
        settings=(dial.at_marks(0),),
        zeroed_dials=(dial.name,),
        expects=Expects.READING,
        cautions=(INDICATOR_OFF,),
        place=PatternPosition(AXES_MEET),
        required=not dial.can_zero,
    )


def layer_steps(
    job: PatternJob,
    layer_plan: LayerPlan,
    lathe: Lathe,
    keep: OpenSteps | None = None,
    restart: bool = False,
    *,
    touches: bool = False,
    stands: Mapping[str, Setting] | None = None,
) -> list[Step]:
    """Return the steps of one layer.

    `keep`: the numbers of the remaining steps; None for all steps. `restart`: whether the zeros were found again, with
    the table's zero on the hole circle of this layer; the steps then set the layer and touch off once more. `touches`:
    whether to touch off once more in any case. `stands`: the present settings of slide and boring head after a cut in
    the wrong place; None otherwise.
    """
    steps, touches = [], touches or restart
    for what, step in _before_pattern(job, layer_plan, lathe, restart, touches):
        is_wanted = keep is None or layer_plan.first + what in keep
        # Runs of older versions change the hole circle in the step that sets the layer.
        is_wanted |= (
            what == CIRCLE_SET and layer_plan.before is not None and layer_plan.first + LAYER_SET in (keep or ())
        )
        if is_wanted or (restart and what == LAYER_SET) or (touches and what == TOUCH_OFF):
            steps.append(step)
    cut = pattern_steps(layer_plan.pattern, keep, restart, stands)
    return [*steps, *_warned_of_depth(_with_cautions(job, layer_plan.layer, cut), layer_plan.layer.with_head)]


def _with_cautions(job: PatternJob, layer: Layer, steps: list[Step]) -> list[Step]:
    """Return the steps of a layer with cautions about turning the table and about cutting."""
    # The table turns during an arc, and the slide moves during a slot.
    locks = layer.shape in {"circles", "dots"}
    return with_cautions(steps, locked_words(job) if locks else "")


def _warned_of_depth(steps: list[Step], with_head: bool) -> Iterator[Step]:
    """Yield the steps of a layer, with a caution at each step that cuts to a new depth with the boring head.

    `with_head`: whether the boring head cuts the layer.
    """
    deepest = 0.0
    for step in steps:
        depth_mm = step.depth_mm or 0.0
        if with_head and 0 < deepest < depth_mm:
            step = replace(step, cautions=(*step.cautions, NEW_DEPTH))
        deepest = max(deepest, depth_mm)
        yield step


def _before_pattern(
    job: PatternJob, layer_plan: LayerPlan, lathe: Lathe, restart: bool, touches: bool
) -> Iterator[tuple[int, Step]]:
    """Yield each step that a layer needs before its first position, with its number within the layer.

    `restart`: whether the zeros were found again. `touches`: whether the steps touch off once more in any case.
    """
    layer, head = layer_plan.layer, layer_plan.head
    if layer_plan.mounts:
        yield MOUNTED, _mount(layer_plan)
    if layer_plan.is_tried:
        is_first = layer_plan.before is None
        yield BY_RULE, by_rule_step(layer, lathe, layer_plan.place(BY_RULE), is_first=is_first)
        yield TRIAL, trial_step(layer, layer_plan.place(TRIAL), is_first=is_first)
        by_edges = not layer_plan.is_plain
        yield MEASURED, measure_step(layer, lathe, layer_plan.place(MEASURED), by_edges=by_edges)
    if layer.with_head and layer_plan.head_before_mm is None and head.dial is not None:
        what = HEAD_ZERO if layer_plan.is_plain else HEAD_ZERO_AGAIN
        yield what, head_zero_step(head.dial, f"it is at the radius of layer {layer.number}", layer_plan.place(what))
    yield LAYER_SET, _layer_set(job, layer_plan, lathe)
    if layer_plan.changes_circle and layer_plan.pattern_before is not None and not restart:
        before, name = layer_plan.pattern_before, f"Layer {layer.number}"
        for step in change_steps(
            before.dividing, last_visited(before), layer_plan.pattern.divided_cuts, name, layer_plan.place(CIRCLE_SET)
        ):
            yield CIRCLE_SET, step
    if layer_plan.before is None and not layer_plan.is_plain:
        yield ON_SCRAP, _on_scrap(layer_plan)
    passes = layer_plan.pattern.passes
    if passes is not None and (layer_plan.touches or touches):
        where = layer_plan.touches or "the face where it is highest"
        turned = "head" if layer.with_head else "spindle"
        yield TOUCH_OFF, depth_touch_off(passes.infeed, where, layer_plan.place(TOUCH_OFF), turned)
    yield DRY_RUN, _dry_run(layer_plan)


def _mount(layer_plan: LayerPlan) -> Step:
    layer, cutter = layer_plan.layer, layer_plan.layer.cutter
    head_ready, collet_ready = HEAD_READY, COLLET_READY
    if layer_plan.before is not None:
        # The caution is repeated, because another cutter brings the hazard back.
        head_ready = moved_again(layer)
        collet_ready = f"Layer {layer.number}: set the cutter short, tighten the drawbar, turn it by hand first."
    name = "the cutter" if cutter is None else f'cutter "{cutter.name}" ({_point_words(layer)})'
    if layer_plan.mounts == "head":
        keeps = layer_plan.head_before_mm is not None
        action = "put the boring head back with its cutter" if keeps else f"put {name} in the boring head"
        text = f"{action}, and the head in the spindle"
        title, caution = "Mount the boring head", head_ready
    elif layer_plan.mounts == "collet":
        text = f"put {name} in a collet, on the spindle's own axis, never in the boring head"
        title, caution = "Mount the cutter in a collet", collet_ready
    else:
        held = "boring head" if layer.with_head else "collet"
        text = f"change to {name} in the {held}"
        title, caution = "Change the cutter", head_ready if layer.with_head else collet_ready
    later = ". Touch off with this cutter before its first cut" if layer_plan.touches else ""
    return Step(
        action="check",
        title=title,
        text=f"Layer {layer.number}: isolate the drive, {text}{later}",
        cautions=(caution,),
        place=layer_plan.place(MOUNTED),
    )


def _point_words(layer: Layer) -> str:
    cutter = layer.cutter
    return "" if cutter is None else f"point {number_text(cutter.tip_angle_deg, 2)}°"


def _on_scrap(layer_plan: LayerPlan) -> Step:
    first, *more = layer_plan.pattern.positions
    which = f"positions {first.number} and {more[0].number}" if more else f"position {first.number}"
    check = "check their spacing" if more else "check its place"
    return Step(
        action="check",
        title="Trial positions on scrap",
        text=f"Layer {layer_plan.layer.number}: cut {which} on scrap, and {check} before you cut the work. "
        f"{OVER_THE_FACE}. Skip this if you are sure of the set-up",
        place=layer_plan.place(ON_SCRAP),
    )


def _dry_run(layer_plan: LayerPlan) -> Step:
    layer, place = layer_plan.layer, layer_plan.place(DRY_RUN)
    by_hand = {
        "circles": "turn the head by hand at each. Nothing may touch, and every circle must be in place",
        "dots": "look at each. Nothing may touch, and every dot must be in place",
        "slots": "move the slide through each slot. Nothing may touch",
        "arcs": "turn the table through each arc. Nothing may touch, and no clamp may come loose",
    }
    leaves_slide = layer.shape != "slots" and not _slide_varies(layer_plan)
    slide = "" if leaves_slide else ", and the slide to the first position"
    return Step(
        action="check",
        title="Dry run",
        text=f"Layer {layer.number}, dry run: isolate the drive. With the cutter just clear of the face, go once "
        f"through all positions and {by_hand[layer.shape]}. Then turn the table back to 0{slide}",
        cautions=(layer_plan.swings,) if layer_plan.swings else (),
        place=place,
    )


def _slide_varies(layer_plan: LayerPlan) -> bool:
    pattern = layer_plan.pattern
    return any(at.held[0].position != pattern.held[0].position for at in pattern.own.values())


def _layer_set(job: PatternJob, layer_plan: LayerPlan, lathe: Lathe) -> Step:
    layer, pattern, dial = layer_plan.layer, layer_plan.pattern, lathe.dial(job.offset_dial)
    offset, *_ = pattern.held
    change = dial.marks_at(offset.position) - dial.marks_at(_slide_before(layer_plan, dial).position)
    way = f", {direction(dial.name, change > 0, job.is_far)}" if change else ""
    verb = "set" if change else "leave"
    varies = _slide_varies(layer_plan)
    slide_mm = layer_plan.settings.wanted[pattern.positions[0].number - 1].slide_mm
    what = f"position {pattern.positions[0].number}" if varies else f"offset {lathe.length_text(slide_mm)}"
    lock = "Lock it for every cut. Its setting changes from position to position" if varies else "Lock it"
    if layer.shape == "slots":
        lock = "Do not lock it, since it feeds along the slots"
    text = (
        f"Layer {layer.number}: {verb} the {dial_words(dial.name)} {'to' if change else 'at'} "
        f"{dial.setting_text(offset)} ({what}){way}. {lock}"
    )
    if layer.with_head:
        words = layer_words(layer_plan.head, layer, layer_plan.head_before_mm)
        text += f". {sentence(words).rstrip('.')}"
    return Step(
        action="set",
        title=f"Go to layer {layer.number}",
        text=text,
        settings=pattern.held,
        cautions=(moved_again(layer),) if layer_plan.moves_head else (),
        place=layer_plan.place(LAYER_SET),
    )


def _slide_before(layer_plan: LayerPlan, dial: Dial) -> Setting:
    """Return the slide's setting before a layer: its zero, or the last setting of the previous layer."""
    before = layer_plan.pattern_before
    if before is None:
        return dial.at_marks(0)
    at = before.at(last_visited(before).number)
    ends = None if at.groove is None or at.groove.table_end is not None else at.groove.end
    return ends if isinstance(ends, Setting) else at.held[0]


def last_check(job: PatternJob) -> Step:
    """Return the last step, at which the turner inspects the finished pattern."""
    counts = [f"layer {layer.number}: {len(layer.cut_positions)}" for layer in job.layers]
    what = "Circles" if all(layer.with_head for layer in job.layers) else "Positions"
    return Step(
        action="check",
        title="Inspect the pattern",
        text=f"{STOP_FIRST} Inspect the pattern before you take the work off the table. {what}: {', '.join(counts)}",
    )


def cuts_on(job: PatternJob, lathe: Lathe) -> tuple[CutAsSet, ...]:
    """Return every cut of a pattern with its real settings on a lathe, in the job's order.

    Raises PlanError if the lathe cannot cut a layer.
    """
    return cuts_as_set(sorted(layer_plans(job, lathe), key=lambda layer_plan: layer_plan.layer.number))


def cuts_as_set(plans: Iterable[LayerPlan]) -> tuple[CutAsSet, ...]:
    """Return every cut of some layers with its real marks, holes and notches."""
    return tuple(cut for layer_plan in plans for cut in _cuts_of_layer(layer_plan))


def _cuts_of_layer(layer_plan: LayerPlan) -> Iterator[CutAsSet]:
    job, slide = layer_plan.job, layer_plan.slide
    layer, pattern = layer_plan.layer, layer_plan.pattern
    sense = -1 if pattern.dividing.falling else 1
    for on_table in pattern.positions:
        at, groove = pattern.at(on_table.number), pattern.at(on_table.number).groove
        passes = at.passes
        ends = None if groove is None else groove.table_end
        to = groove.end if groove is not None and ends is None else None
        yield CutAsSet(
            layer=layer,
            position=layer.positions[on_table.number - 1],
            slide_mm=slide_as_set_mm(job, slide, at.held[0]),
            angle_deg=float(sense * on_table.set_deg),
            circle_radius_mm=_radius_as_set(layer_plan.head, layer, on_table.number, at.held),
            to_slide_mm=slide_as_set_mm(job, slide, to) if isinstance(to, Setting) else None,
            through_deg=None if ends is None else float(sense * (ends.set_deg - on_table.set_deg)),
            depth_mm=None if passes is None else passes.infeed.depth_mm(passes.marks[-1] - passes.surface),
        )


def _radius_as_set(head: Head, layer: Layer, number: int, held: tuple[Setting, ...]) -> float | None:
    """Return the circle radius at the head's real setting [mm]; None if the head does not cut the layer.

    `number`: the position's number. `held`: the dial settings that stay the same throughout the position, among them
    the head's.
    """
    setting = next((setting for setting in held if setting.dial == HEAD), None)
    if head.dial is None or setting is None:
        return layer.positions[number - 1].circle_radius_mm
    return head.zero_radius_mm + head.dial.travel_mm(round(head.dial.marks_at(setting.position)))
