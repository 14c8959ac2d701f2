"""The steps that set a boring head with a rule, cut a trial circle, measure it, and move the head.

The head's dial shows changes only. So the turner sets the head with a rule, cuts a trial circle, measures
across it, and moves the head by the difference.
"""

from core.events.state import State
from core.lathe.lathe import Lathe, how_to_add
from core.operations.dividing.depth import length_asked
from core.operations.patterns.boring_head import HEAD, LARGER, SMALLER, VISIBLE_MM, Head, direction, head_shown
from core.operations.patterns.layers import Layer, PatternJob
from core.plan import Expects, Step
from core.questions import Asked
from core.safety import STOP_FIRST
from core.step_place import PatternPosition
from core.values.dials import Dial
from core.values.errors import PlanError

HEAD_READY = "Before power: head's key out, screws and drawbar tight, tool kept short."
TRIAL_SPEED = "First power-on: lowest speed, out of the plane of the head, hand on switch."
LEAST_CIRCLE = 0.6
"""A trial circle is at least this share of the circle wanted. A radius entered by mistake is only half."""


def head_after_trial(head: Head, layer: Layer, measured_mm: float, is_first: bool) -> Head:
    """Return the head's position, as shown by a trial circle of a measured diameter [mm] cut for `layer`.

    `is_first`: it is the first layer cut with this cutter in the head. The dial is then set to 0 after the head is
    moved. Later it keeps its zero, and all settings that follow shift by the same amount.
    """
    radius = measured_mm / 2
    if head.dial is None:
        return head._replace(zero_radius_mm=radius)
    if is_first:
        moved = head.dial.travel_mm(head.dial.marks(layer.circle_radius_mm - radius))
        return head._replace(zero_radius_mm=radius + moved)
    shown_mm = head.dial.travel_mm(head.dial.marks(layer.circle_radius_mm - head.zero_radius_mm))
    return head._replace(zero_radius_mm=radius - shown_mm)


def is_near(head: Head, layer: Layer, measured_mm: float) -> bool:
    """Return whether a trial circle [mm across] is as near as the head can be set: within half a mark."""
    change = layer.circle_radius_mm - measured_mm / 2
    return abs(change) < VISIBLE_MM if head.dial is None else head.dial.marks(change) == 0


def by_rule_step(layer: Layer, lathe: Lathe, place: PatternPosition) -> Step:
    """Return the step that sets the head roughly, with a rule."""
    radius = layer.circle_radius_mm
    return Step(
        action="set",
        title="Set the head with a rule",
        text=f"Layer {layer.number}: set the boring head with a rule to a radius of {lathe.length_text(radius)} "
        f"({lathe.length_text(2 * radius)} across). End the move {LARGER}, which takes up its backlash",
        cautions=(HEAD_READY,),
        place=place,
    )


def trial_step(layer: Layer, place: PatternPosition) -> Step:
    """Return the step that cuts a trial circle."""
    text = (
        f"Layer {layer.number}: isolate the drive and turn the head once by hand. "
        "Then cut a shallow trial circle on scrap"
    )
    return Step(action="check", title="Cut a trial circle", text=text, cautions=(TRIAL_SPEED,), place=place)


def measure_step(layer: Layer, lathe: Lathe, place: PatternPosition) -> Step:
    """Return the step at which the trial circle's diameter is entered."""
    return Step(
        action="measure",
        title="Measure the trial circle",
        text=f"{STOP_FIRST} Measure the trial circle across, from groove centre to groove centre, and enter it. "
        f"Wanted: {lathe.length_text(2 * layer.circle_radius_mm)}. The next step moves the head by the difference",
        expects=Expects.CIRCLE,
        place=place,
    )


def refuse_impossible_circle(layer: Layer, lathe: Lathe, measured_mm: float) -> None:
    """Refuse a trial circle [mm across] too far off for a setting with a rule. Its radius was probably entered.

    Raises PlanError.
    """
    wanted_mm = 2 * layer.circle_radius_mm
    least_mm, most_mm = LEAST_CIRCLE * wanted_mm, wanted_mm / LEAST_CIRCLE
    if not least_mm < measured_mm < most_mm:
        raise PlanError(
            f"{lathe.length_text(measured_mm)} cannot be this trial circle: is it a radius, or another circle? "
            f"Enter {lathe.length_text(least_mm)} to {lathe.length_text(most_mm)} across, from groove centre to "
            "groove centre.",
            field="circle_mm",
        )


def change_steps(layer: Layer, head: Head, lathe: Lathe, measured_mm: float, is_first: bool) -> list[Step]:
    """Return the steps that move the head after a trial circle of a measured diameter [mm]."""
    change = layer.circle_radius_mm - measured_mm / 2
    words = f"Layer {layer.number}: move the boring head by {lathe.length_text(abs(change))} of radius"
    if head.dial is None:
        text = (
            f"{words} {LARGER if change > 0 else SMALLER}, by trial. This lathe has no dial for the head "
            f"({how_to_add(f'[dial.{HEAD}]')})"
        )
        return [Step(action="set", title="Move the head", text=text, cautions=(moved_again(layer),))]
    by_dial = head.dial.at_travel(change)
    words += f" ({head.dial.reading_text(abs(by_dial.position))} on its dial), {direction(HEAD, change > 0)}"
    if is_first:
        setting, first = by_dial, [head_zero_step(head.dial, "the move counts from here")]
    else:
        setting, first = head.dial.at_travel(layer.circle_radius_mm - head.zero_radius_mm), []
    text = f"{words}: to {head_shown(head.dial, setting)}"
    return [
        *first,
        Step(action="set", title="Move the head", text=text, settings=(setting,), cautions=(moved_again(layer),)),
    ]


def moved_again(layer: Layer) -> str:
    """Return the caution after the head was moved for a layer, before the power comes on again."""
    return f"Layer {layer.number}: head's screws tight, key out; turn it by hand before power."


def head_zero_step(dial: Dial, why: str, place: PatternPosition | None = None) -> Step:
    """Return the step that sets the head's dial to 0 without moving the head; `why` is the reason."""
    return Step(
        action="set",
        title="Set the head's dial to 0",
        text=f"Boring head: leave it, since {why}. Set its dial to 0",
        settings=(dial.at_marks(0),),
        zeroed_dials=(HEAD,),
        expects=Expects.READING,
        place=place,
        required=not dial.can_zero,
    )


def layer_words(head: Head, layer: Layer, before_mm: float | None) -> str:
    """Return how to set the head for a layer, in words; `before_mm`: its radius before, None just after a trial."""
    if before_mm is None or layer.circle_radius_mm == before_mm:
        return "leave the boring head"
    setting = head.setting(layer.circle_radius_mm)
    if head.dial is None or setting is None:
        return "set the boring head by a trial circle"
    change = layer.circle_radius_mm - before_mm
    return f"set the boring head to {head_shown(head.dial, setting)}, {direction(HEAD, change > 0)}"


def circle_question(job: PatternJob, lathe: Lathe, state: State) -> Asked:
    """Return the question for the diameter of a trial circle."""
    return length_asked(
        "circle",
        "Enter the circle across its groove centres",
        "How large is the trial circle, from groove centre to groove centre?",
        lambda circle_mm: check_circle(job, lathe, state, circle_mm),
        lambda circle_mm: f"trial circle {lathe.length_text(circle_mm)}",
        lathe,
    )


def check_circle(job: PatternJob, lathe: Lathe, state: State, measured_mm: float) -> None:
    """Refuse a trial circle [mm across] that cannot be of the current layer; raises PlanError."""
    number = next((step.at.layer for step in state.open_steps() if step.at.layer), None)
    if number is not None:
        refuse_impossible_circle(job.layers[number - 1], lathe, measured_mm)
