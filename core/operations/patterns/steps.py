"""The steps of a pattern, layer by layer, each dial set once.

Every step but measuring a depth has a number in the pattern, by which planning
again finds those still open.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from core.cutting import backlash_words
from core.lathe.lathe import Lathe, dial_words
from core.operations.dividing.by_plate import Circle, staying_circles
from core.operations.dividing.cautions import warned
from core.operations.dividing.depth import depth_passes
from core.operations.dividing.division import circle_choices, divide
from core.operations.dividing.numbering import MOUNTING, OpenSteps
from core.operations.dividing.operation import rotary_of
from core.operations.dividing.pattern import Pattern, pattern_steps
from core.operations.dividing.planning_again import circle_of
from core.operations.dividing.set_up import (
    change_steps,
    depth_touch_off,
    is_same_circle,
    mounting_steps,
    table_zero_step,
)
from core.operations.dividing.targets import even_targets_deg
from core.operations.patterns.cautions import NEW_DEPTH, swing_caution
from core.operations.patterns.directions import AWAY, direction
from core.operations.patterns.head import (
    Head,
    by_rule_step,
    head_zero_step,
    layer_words,
    measure_step,
    moved_again,
    planned_head,
    trial_step,
)
from core.operations.patterns.job import Layer, PatternJob
from core.plan import Expects, Step
from core.safety import INDICATOR_OFF
from core.step_place import PatternPosition
from core.values.dials import Dial, Setting
from core.values.errors import PlanError

CROSS_SLIDE = "cross_slide"
AXES_MEET, TABLE_ZERO, FIRST_BLOCK = 1, 2, 3
BY_RULE, TRIAL, MEASURED, HEAD_ZERO, LAYER_SET, TOUCH_OFF, DRY_RUN, BEFORE_PATTERN = range(8)
"""What each block of a layer begins with, in order."""
CIRCLE_SET = HEAD_ZERO
"""Changing to the circle of a later layer, after it is set; the head's zero is only the first layer's."""


class Block(NamedTuple):
    """One layer with its pattern, the head as known there, and the numbers of its steps."""

    layer: Layer
    before: Layer | None
    first: int
    pattern: Pattern
    head: Head
    pattern_before: Pattern | None
    touches: bool
    """The depth dial is touched off here; its zero serves every later layer of a flat face."""
    swings: str
    """That the cutter swings past the edge of the blank, "" where it does not."""

    @property
    def changes_circle(self) -> bool:
        """The layer before was divided by another circle, or on another plate."""
        before = self.pattern_before
        return before is not None and not is_same_circle(before.dividing, self.pattern.dividing)

    def place(self, what: int) -> PatternPosition:
        """Return the place of one of the steps before the pattern."""
        return PatternPosition(self.first + what, self.pattern.held_shift if what == LAYER_SET else 0)


def blocks(
    job: PatternJob,
    lathe: Lathe,
    is_open: OpenSteps | None = None,
    head: Head | None = None,
    planned_steps: Iterable[Step] = (),
) -> list[Block]:
    """Return every layer with its pattern on this lathe; raises PlanError.

    `head` is what a trial circle has just said of it; without one, open steps
    still know by how many marks an earlier trial shifted them. `planned_steps`: those
    still open, whose circles stay.
    """
    found: list[Block] = []
    first, planned = FIRST_BLOCK, planned_head(job, lathe)
    circles = _circles(job, lathe, list(planned_steps))
    for index, layer in enumerate(job.layers):
        pattern = _pattern(job, layer, lathe, first + BEFORE_PATTERN, circles[index] if circles else None)
        here = head or planned.shifted(_head_shift(first, pattern, is_open or {}))
        pattern = replace(pattern, held=_held(lathe, layer, here), held_shift=here.shift(layer.circle_radius_mm))
        before = found[-1] if found else None
        block = Block(
            layer=layer,
            before=before and before.layer,
            first=first,
            pattern=pattern,
            head=here,
            pattern_before=before and before.pattern,
            touches=pattern.passes is not None and not any(block.touches for block in found),
            swings=swing_caution(job, layer, lathe),
        )
        found.append(block)
        first = pattern.next_number
    return found


def _circles(job: PatternJob, lathe: Lathe, planned_steps: list[Step]) -> tuple[Circle, ...]:
    """Return the circle of every layer, plates changed as seldom as can be; () by dial."""
    choices = []
    for layer in job.layers:
        with naming(layer):
            found = circle_choices(rotary_of(lathe), job.way, _targets(layer), f"{layer.count} circles")
        kept = circle_of(planned_steps, layer.number)
        choices.append([circle for circle in found if kept == (job.way, circle.holes)] or found)
    return staying_circles(choices) if all(choices) else ()


def _targets(layer: Layer) -> tuple[Fraction, ...]:
    return even_targets_deg(layer.count, layer.start_deg)


@contextmanager
def naming(layer: Layer) -> Iterator[None]:
    """Say which layer an error is about."""
    try:
        yield
    except PlanError as error:
        raise PlanError(f"layer {layer.number}: {error.message}", field=error.field) from None


def _head_shift(first: int, pattern: Pattern, is_open: OpenSteps) -> int:
    """Return the shift of the head that the open steps of a layer tell; depth has a shift of its own."""
    with_head = [first + LAYER_SET, *range(pattern.first_number, pattern.next_number, 2)]
    return next((is_open[number] for number in with_head if number in is_open), 0)


def _pattern(job: PatternJob, layer: Layer, lathe: Lathe, first_number: int, circle: Circle | None) -> Pattern:
    with naming(layer):
        passes = None
        if layer.depth_mm is not None:
            passes = depth_passes(lathe, job.depth_dial, layer.depth_mm, layer.cut_mm or layer.depth_mm)
        dividing = divide(rotary_of(lathe), job.way, _targets(layer), circle=circle)
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
    """Return what cross-slide and head are left at while a layer is cut."""
    offset = lathe.dial(CROSS_SLIDE).at_travel(layer.offset_mm)
    setting = head.setting(layer.circle_radius_mm)
    return (offset,) if setting is None else (offset, setting)


def set_up_steps(block: Block, lathe: Lathe, again: bool = False) -> list[Step]:
    """Return the dividing plate, and the zeros that everything is counted from: where the axes meet, the table's 0."""
    return [
        *mounting_steps(block.pattern.divided_cuts, PatternPosition(MOUNTING)),
        _axes_meet(lathe.dial(CROSS_SLIDE)),
        table_zero_step(block.pattern.dividing, PatternPosition(TABLE_ZERO), again),
    ]


def _axes_meet(dial: Dial) -> Step:
    place = "set it to 0 there" if dial.can_zero else "type what it shows there"
    return Step(
        action="set",
        title="Find where the axes meet",
        text="Isolate the drive. Cross-slide to where table and spindle axes meet: an indicator in the spindle, swung "
        "by hand round the table's bore or a turned boss, reads alike on both sides; end the move going in, which from "
        f"there on is {AWAY}, play taken up{backlash_words(dial)}, and {place}. Half the difference between top "
        "and bottom "
        "is the axis height error",
        settings=(dial.at_marks(0),),
        zeroed_dials=(dial.name,),
        expects=Expects.READING,
        cautions=(INDICATOR_OFF,),
        place=PatternPosition(AXES_MEET),
        required=not dial.can_zero,
    )


def block_steps(block: Block, lathe: Lathe, keep: OpenSteps | None = None, restart: bool = False) -> list[Step]:
    """Return the steps of one layer; with `keep`, those still open.

    `restart`: zeros were found again, the table's on this layer's circle, so the layer
    is set and touched off once more.
    """
    steps = []
    for what, step in _before_pattern(block, lathe, restart):
        is_wanted = keep is None or block.first + what in keep
        # Runs begun before circles were changed by a step have none open: it belongs to setting the layer.
        is_wanted |= what == CIRCLE_SET and block.before is not None and block.first + LAYER_SET in (keep or ())
        if is_wanted or (restart and what in {LAYER_SET, TOUCH_OFF}):
            steps.append(step)
    return [*steps, *_warned_of_depth(warned(pattern_steps(block.pattern, keep, restart)))]


def _warned_of_depth(steps: list[Step]) -> Iterator[Step]:
    """Yield the steps of a pattern, those that first cut to a new depth with what to do before it."""
    deepest = 0.0
    for step in steps:
        depth_mm = step.depth_mm or 0.0
        if 0 < deepest < depth_mm:
            step = replace(step, cautions=(*step.cautions, NEW_DEPTH))
        deepest = max(deepest, depth_mm)
        yield step


def _before_pattern(block: Block, lathe: Lathe, restart: bool) -> Iterator[tuple[int, Step]]:
    """Yield every step of a layer before its first position, with what it is."""
    layer = block.layer
    if _needs_trial(block):
        yield BY_RULE, by_rule_step(layer, lathe, block.place(BY_RULE))
        yield TRIAL, trial_step(layer, block.place(TRIAL))
        yield MEASURED, measure_step(layer, lathe, block.place(MEASURED))
    if block.before is None and block.head.dial is not None:
        yield HEAD_ZERO, head_zero_step(block.head.dial, "it stands at the radius of layer 1", block.place(HEAD_ZERO))
    yield LAYER_SET, _layer_set(block, lathe)
    if block.changes_circle and block.pattern_before is not None and not restart:
        before, name = block.pattern_before, f"Layer {layer.number}"
        for step in change_steps(
            before.dividing, before.positions[-1], block.pattern.divided_cuts, name, block.place(CIRCLE_SET)
        ):
            yield CIRCLE_SET, step
    if block.pattern.passes is not None and (block.touches or restart):
        place = block.place(TOUCH_OFF)
        yield TOUCH_OFF, depth_touch_off(block.pattern.passes.infeed, "the face where it stands highest", place)
    yield (
        DRY_RUN,
        Step(
            action="check",
            title="Dry run",
            text=f"Layer {layer.number}, dry run: isolate the drive. Cutter just clear of the face, once round all "
            "positions, the head turned over by hand: nothing must foul, and the circles must lie where they should. "
            "Then turn the table back to 0",
            cautions=(block.swings,) if block.swings else (),
            place=block.place(DRY_RUN),
        ),
    )


def _needs_trial(block: Block) -> bool:
    """A first layer is always tried; a later one where the radius changes and no dial tells by how much."""
    if block.before is None:
        return True
    return block.head.dial is None and _moves_head(block)


def _moves_head(block: Block) -> bool:
    return block.before is not None and block.layer.circle_radius_mm != block.before.circle_radius_mm


def _layer_set(block: Block, lathe: Lathe) -> Step:
    layer, dial, head = block.layer, lathe.dial(CROSS_SLIDE), block.head
    offset = dial.at_travel(layer.offset_mm)
    change = layer.offset_mm - (0.0 if block.before is None else block.before.offset_mm)
    way = f", {direction(dial.name, change > 0)}" if change else ", as it stands"
    text = (
        f"Layer {layer.number}: {dial_words(dial.name)} to {dial.setting_text(offset)} "
        f"(offset {lathe.length_text(layer.offset_mm)}){way}, lock it; {layer_words(head, layer, block.before)}"
    )
    return Step(
        action="set",
        title=f"Go to layer {layer.number}",
        text=text,
        settings=block.pattern.held,
        cautions=(moved_again(layer),) if _moves_head(block) else (),
        place=block.place(LAYER_SET),
    )
