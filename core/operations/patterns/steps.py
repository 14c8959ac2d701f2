"""The steps of a pattern of circles, layer by layer, with each dial set once a layer.

Every step except measuring a depth has a number in the pattern. Planning again finds the remaining steps by it.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from core.cutting import backlash_words
from core.lathe.lathe import Lathe, dial_words
from core.operations.dividing.depth import depth_passes
from core.operations.dividing.division import circle_choices, divide, even_targets_deg
from core.operations.dividing.operation import rotary_of
from core.operations.dividing.plates import Circle, fewest_changes
from core.operations.dividing.replanning import circle_in_use
from core.operations.dividing.set_up import (
    change_steps,
    depth_touch_off,
    is_same_circle,
    mounting_steps,
    table_zero_step,
)
from core.operations.dividing.steps import MOUNTING, OpenSteps, Pattern, pattern_steps
from core.operations.dividing.words import with_cautions
from core.operations.patterns.boring_head import AWAY, Head, direction
from core.operations.patterns.cautions import NEW_DEPTH, swing_caution
from core.operations.patterns.layers import Layer, PatternJob
from core.operations.patterns.trial_circle import (
    by_rule_step,
    head_zero_step,
    layer_words,
    measure_step,
    moved_again,
    planned_head,
    trial_step,
)
from core.plan import Expects, Step
from core.safety import INDICATOR_OFF
from core.step_place import PatternPosition
from core.values.dials import Dial, Setting
from core.values.errors import PlanError
from core.values.plain_text import sentence

CROSS_SLIDE = "cross_slide"
AXES_MEET, TABLE_ZERO, FIRST_LAYER = 1, 2, 3
BY_RULE, TRIAL, MEASURED, HEAD_ZERO, LAYER_SET, TOUCH_OFF, DRY_RUN, BEFORE_PATTERN = range(8)
"""The steps before the positions of a layer, in order, numbered from the layer's first step."""
CIRCLE_SET = HEAD_ZERO
"""The step that changes to the hole circle of a later layer. The first layer uses this number for the head's zero."""


class LayerPlan(NamedTuple):
    """One layer with its pattern, what is known of the head in that layer, and the numbers of its steps."""

    layer: Layer
    before: Layer | None
    first: int
    pattern: Pattern
    head: Head
    pattern_before: Pattern | None
    touches: bool
    """True: the depth dial is touched off in this layer. On a flat face all later layers use the same zero."""
    swings: str
    """The caution that the cutter swings past the edge of the blank, else ""."""

    @property
    def changes_circle(self) -> bool:
        """True if the layer before uses another hole circle or another plate."""
        before = self.pattern_before
        return before is not None and not is_same_circle(before.dividing, self.pattern.dividing)

    def place(self, what: int) -> PatternPosition:
        """Return the place of one of the layer's steps before the positions."""
        return PatternPosition(self.first + what, self.pattern.held_shift if what == LAYER_SET else 0)


def layer_plans(
    job: PatternJob,
    lathe: Lathe,
    is_open: OpenSteps | None = None,
    head: Head | None = None,
    planned_steps: Iterable[Step] = (),
) -> list[LayerPlan]:
    """Return every layer with its pattern on this lathe; raises PlanError.

    `head`: the head as a trial circle has just shown it. Without it, the remaining steps keep the shift of an
    earlier trial. `planned_steps`: the remaining steps, whose hole circles stay.
    """
    layers: list[LayerPlan] = []
    first, planned = FIRST_LAYER, planned_head(job, lathe)
    circles = _circles(job, lathe, list(planned_steps))
    for index, layer in enumerate(job.layers):
        pattern = _pattern(job, layer, lathe, first + BEFORE_PATTERN, circles[index] if circles else None)
        here = head or planned.shifted(_head_shift(first, pattern, is_open or {}))
        pattern = replace(pattern, held=_held(lathe, layer, here), held_shift=here.shift(layer.circle_radius_mm))
        before = layers[-1] if layers else None
        layer_plan = LayerPlan(
            layer=layer,
            before=before and before.layer,
            first=first,
            pattern=pattern,
            head=here,
            pattern_before=before and before.pattern,
            touches=pattern.passes is not None and not any(layer_plan.touches for layer_plan in layers),
            swings=swing_caution(job, layer, lathe),
        )
        layers.append(layer_plan)
        first = pattern.next_number
    return layers


def _circles(job: PatternJob, lathe: Lathe, planned_steps: list[Step]) -> tuple[Circle, ...]:
    """Return the hole circle of every layer, with as few changes of plate as possible; () by dial."""
    choices = []
    for layer in job.layers:
        with naming_layer(layer):
            possible = circle_choices(rotary_of(lathe), job.means, _targets(layer), f"{layer.count} circles")
        kept = circle_in_use(planned_steps, layer.number)
        choices.append([circle for circle in possible if kept == (job.means, circle.holes)] or possible)
    return fewest_changes(choices) if all(choices) else ()


def _targets(layer: Layer) -> tuple[Fraction, ...]:
    return even_targets_deg(layer.count, layer.start_deg)


@contextmanager
def naming_layer(layer: Layer) -> Iterator[None]:
    """Add to an error the layer that it is about."""
    try:
        yield
    except PlanError as error:
        raise PlanError(f"layer {layer.number}: {error.message}", field=error.field) from None


def _head_shift(first: int, pattern: Pattern, is_open: OpenSteps) -> int:
    """Return the head's shift in the remaining steps of a layer. The depth has its own shift."""
    with_head = [first + LAYER_SET, *range(pattern.first_number, pattern.next_number, 2)]
    return next((is_open[number] for number in with_head if number in is_open), 0)


def _pattern(job: PatternJob, layer: Layer, lathe: Lathe, first_number: int, circle: Circle | None) -> Pattern:
    with naming_layer(layer):
        passes = None
        if layer.depth_mm is not None:
            passes = depth_passes(lathe, job.depth_dial, layer.depth_mm, layer.cut_mm or layer.depth_mm)
        dividing = divide(rotary_of(lathe), job.means, _targets(layer), circle=circle)
    return Pattern(
        dividing=dividing,
        order=job.order,
        passes=passes,
        skip=layer.skip,
        first_number=first_number,
        layer=layer.number,
        radius_mm=job.shape(layer).offset_mm,
    )


def _held(lathe: Lathe, layer: Layer, head: Head) -> tuple[Setting, ...]:
    """Return the settings of cross-slide and head, which stay while a layer is cut."""
    offset = lathe.dial(CROSS_SLIDE).at_travel(layer.offset_mm)
    setting = head.setting(layer.circle_radius_mm)
    return (offset,) if setting is None else (offset, setting)


def set_up_steps(layer_plan: LayerPlan, lathe: Lathe, again: bool = False) -> list[Step]:
    """Return the steps that mount the plate and find the zeros.

    The zero of the cross-slide is where the axes meet; the table's is its 0.
    """
    return [
        *mounting_steps(layer_plan.pattern.divided_cuts, PatternPosition(MOUNTING)),
        _axes_meet(lathe.dial(CROSS_SLIDE)),
        table_zero_step(layer_plan.pattern.dividing, PatternPosition(TABLE_ZERO), again),
    ]


def _axes_meet(dial: Dial) -> Step:
    zero = "set it to 0 there" if dial.can_zero else "enter what it shows there"
    return Step(
        action="set",
        title="Find where the axes meet",
        text="Isolate the drive. Move the cross-slide to where table and spindle axes meet. Swing an indicator in the "
        "spindle by hand round the table's bore or a turned boss: there it reads alike on both sides. End the move "
        f"going in, {AWAY}, with the backlash taken up{backlash_words(dial)}, and {zero}. "
        "Half the difference between top and bottom is the axis height error",
        settings=(dial.at_marks(0),),
        zeroed_dials=(dial.name,),
        expects=Expects.READING,
        cautions=(INDICATOR_OFF,),
        place=PatternPosition(AXES_MEET),
        required=not dial.can_zero,
    )


def layer_steps(
    layer_plan: LayerPlan, lathe: Lathe, keep: OpenSteps | None = None, restart: bool = False
) -> list[Step]:
    """Return the steps of one layer; with `keep`, only the remaining ones.

    `restart`: the zeros were found again, the table's zero on this layer's hole circle. The layer is then set
    and touched off once more.
    """
    steps = []
    for what, step in _before_pattern(layer_plan, lathe, restart):
        is_wanted = keep is None or layer_plan.first + what in keep
        # Runs of older versions have no step that changes the circle: it goes with setting the layer.
        is_wanted |= (
            what == CIRCLE_SET and layer_plan.before is not None and layer_plan.first + LAYER_SET in (keep or ())
        )
        if is_wanted or (restart and what in {LAYER_SET, TOUCH_OFF}):
            steps.append(step)
    return [*steps, *_warned_of_depth(with_cautions(pattern_steps(layer_plan.pattern, keep, restart)))]


def _warned_of_depth(steps: list[Step]) -> Iterator[Step]:
    """Yield the steps of a pattern, with a caution on each that cuts to a new depth."""
    deepest = 0.0
    for step in steps:
        depth_mm = step.depth_mm or 0.0
        if 0 < deepest < depth_mm:
            step = replace(step, cautions=(*step.cautions, NEW_DEPTH))
        deepest = max(deepest, depth_mm)
        yield step


def _before_pattern(layer_plan: LayerPlan, lathe: Lathe, restart: bool) -> Iterator[tuple[int, Step]]:
    """Yield every step of a layer before its first position, each with its number."""
    layer = layer_plan.layer
    if _needs_trial(layer_plan):
        yield BY_RULE, by_rule_step(layer, lathe, layer_plan.place(BY_RULE))
        yield TRIAL, trial_step(layer, layer_plan.place(TRIAL))
        yield MEASURED, measure_step(layer, lathe, layer_plan.place(MEASURED))
    if layer_plan.before is None and layer_plan.head.dial is not None:
        yield (
            HEAD_ZERO,
            head_zero_step(layer_plan.head.dial, "it is at the radius of layer 1", layer_plan.place(HEAD_ZERO)),
        )
    yield LAYER_SET, _layer_set(layer_plan, lathe)
    if layer_plan.changes_circle and layer_plan.pattern_before is not None and not restart:
        before, name = layer_plan.pattern_before, f"Layer {layer.number}"
        for step in change_steps(
            before.dividing, before.positions[-1], layer_plan.pattern.divided_cuts, name, layer_plan.place(CIRCLE_SET)
        ):
            yield CIRCLE_SET, step
    if layer_plan.pattern.passes is not None and (layer_plan.touches or restart):
        place = layer_plan.place(TOUCH_OFF)
        yield TOUCH_OFF, depth_touch_off(layer_plan.pattern.passes.infeed, "the face where it is highest", place)
    yield (
        DRY_RUN,
        Step(
            action="check",
            title="Dry run",
            text=f"Layer {layer.number}, dry run: isolate the drive. With the cutter just clear of the face, go once "
            "round all positions and turn the head by hand at each. Nothing may foul, and every circle must be in "
            "place. Then turn the table back to 0",
            cautions=(layer_plan.swings,) if layer_plan.swings else (),
            place=layer_plan.place(DRY_RUN),
        ),
    )


def _needs_trial(layer_plan: LayerPlan) -> bool:
    """Return whether a layer needs a trial circle.

    The first layer does. If the head has no dial, so does every layer with a new radius.
    """
    if layer_plan.before is None:
        return True
    return layer_plan.head.dial is None and _moves_head(layer_plan)


def _moves_head(layer_plan: LayerPlan) -> bool:
    return layer_plan.before is not None and layer_plan.layer.circle_radius_mm != layer_plan.before.circle_radius_mm


def _layer_set(layer_plan: LayerPlan, lathe: Lathe) -> Step:
    layer, dial, head = layer_plan.layer, lathe.dial(CROSS_SLIDE), layer_plan.head
    offset = dial.at_travel(layer.offset_mm)
    change = layer.offset_mm - (0.0 if layer_plan.before is None else layer_plan.before.offset_mm)
    way = f", {direction(dial.name, change > 0)}" if change else ""
    verb = "set" if change else "leave"
    text = (
        f"Layer {layer.number}: {verb} the {dial_words(dial.name)} {'to' if change else 'at'} "
        f"{dial.setting_text(offset)} (offset {lathe.length_text(layer.offset_mm)}){way}. Lock it. "
        f"{sentence(layer_words(head, layer, layer_plan.before)).rstrip('.')}"
    )
    return Step(
        action="set",
        title=f"Go to layer {layer.number}",
        text=text,
        settings=layer_plan.pattern.held,
        cautions=(moved_again(layer),) if _moves_head(layer_plan) else (),
        place=layer_plan.place(LAYER_SET),
    )
