"""The steps that set a boring head with a rule, cut and measure a trial circle, and correct the head.

The head's dial shows only changes of the radius, so a trial circle must show the radius itself.
"""

import math
from typing import TYPE_CHECKING

from core.inputs import Measured
from core.lathe.lathe import Cutter, Lathe, how_to_add
from core.operations.dividing.depth import check_depth, measured_depth_text
from core.operations.patterns.boring_head import HEAD, LARGER, SMALLER, VISIBLE_MM, Head, direction, head_shown
from core.operations.patterns.layers import Layer, PatternJob
from core.plan import Expects, PatternPosition, Step
from core.questions import Asked, EnteredSize, SizeAsked, read_length
from core.safety import STOP_FIRST
from core.values.dials import Dial
from core.values.errors import PlanError, QuantityError
from core.values.quantities import number_text

if TYPE_CHECKING:
    from core.events.state import State

HEAD_READY = "Before you start: head's key out, screws and drawbar tight, tool kept short."
TRIAL_SPEED = "First power-on: lowest speed, out of the plane of the head, hand on switch."
LEAST_CIRCLE = 0.6
"""The smallest trial circle accepted, as a part of the wanted one. A radius entered by mistake is only half of it."""


def head_after_trial(head: Head, layer: Layer, measured_mm: float, is_first: bool) -> Head:
    """Return the boring head after a trial circle for `layer`. `measured_mm`: the circle's measured diameter [mm].

    `is_first`: whether this is the first layer cut with this cutter in the head. The head is then moved and its dial
    set to 0. In later layers the dial keeps its zero, and all later settings shift by the same amount.
    """
    radius = measured_mm / 2
    if head.dial is None:
        return head._replace(zero_radius_mm=radius)
    if is_first:
        moved = head.dial.travel_mm(head.dial.marks(layer.circle_radius_mm - radius))
        return head._replace(zero_radius_mm=radius + moved)
    shown_mm = head.dial.travel_mm(head.dial.marks(layer.circle_radius_mm - head.zero_radius_mm))
    return head._replace(zero_radius_mm=radius - shown_mm)


CALIPER_MM = 0.02
"""The resolution of a caliper on a diameter [mm]; common practice, no source."""
_ROUNDING_MM = 1e-6


def is_near(head: Head, layer: Layer, measured_mm: float) -> bool:
    """Return whether a trial circle with a measured diameter [mm] is near enough to the wanted diameter.

    Near enough means within one mark of the head's dial, or within the resolution of a caliper.
    """
    off_mm = abs(2 * layer.circle_radius_mm - measured_mm)
    return off_mm < _near_mm(head) + _ROUNDING_MM


def is_within_half_a_mark(head: Head, layer: Layer, measured_mm: float) -> bool:
    """Return whether a trial circle is so near to the wanted size that the head's dial cannot correct it."""
    return head.dial is None or head.dial.marks(layer.circle_radius_mm - measured_mm / 2) == 0


def _near_mm(head: Head) -> float:
    return CALIPER_MM if head.dial is None else max(2 * head.dial.travel_mm(1), CALIPER_MM)


def near_finding(head: Head, layer: Layer, measured_mm: float, lathe: Lathe) -> str:
    """Return a sentence that says why a trial circle of a measured diameter [mm] is near enough."""
    off_mm, say = abs(2 * layer.circle_radius_mm - measured_mm), lathe.length_text
    if off_mm < VISIBLE_MM:
        return "The trial circle has the wanted diameter. Continue."
    why = "the resolution of a caliper"
    if head.dial is not None and 2 * head.dial.travel_mm(1) > CALIPER_MM:
        why = "one mark of the head"
    return f"Good enough: the diameter is {say(off_mm)} off, and {why} is {say(_near_mm(head))}. Continue."


def by_rule_step(layer: Layer, lathe: Lathe, place: PatternPosition, *, is_first: bool) -> Step:
    """Return the step that sets the boring head roughly with a rule. `is_first`: whether no layer has been cut yet."""
    radius = layer.circle_radius_mm
    return Step(
        action="set",
        title="Set the head with a rule",
        text=f"Layer {layer.number}: set the boring head with a rule to a radius of {lathe.length_text(radius)} "
        f"({lathe.length_text(2 * radius)} across). End the move {LARGER}, which takes up its backlash",
        cautions=(HEAD_READY if is_first else moved_again(layer),),
        place=place,
    )


OVER_THE_FACE = "Do not move the centred work: thin sheet taped over its face will do as scrap"


def trial_step(layer: Layer, place: PatternPosition, *, is_first: bool, again: bool = False) -> Step:
    """Return the step that cuts a trial circle.

    `is_first`: whether no layer has been cut yet. `again`: whether the boring head has just been moved.
    """
    text = (
        f"Layer {layer.number}: isolate the drive and turn the head once by hand. "
        f"Then cut a shallow trial circle on scrap. {OVER_THE_FACE}"
    )
    if again:
        text += ". This circle checks the head after its move"
    caution = TRIAL_SPEED
    if not is_first:
        caution = f"Layer {layer.number}: lowest speed first, out of the plane of the head, hand on switch."
    return Step(action="check", title="Cut a trial circle", text=text, cautions=(caution,), place=place)


def measure_step(layer: Layer, lathe: Lathe, place: PatternPosition, *, by_edges: bool = False) -> Step:
    """Return the step at which the user measures the trial circle.

    `by_edges`: whether the text suggests measuring over both edges first.
    """
    how = "across, from groove centre to groove centre, and enter it"
    if by_edges:
        how = "over its outer and inner edge with a caliper and enter both, or once from groove centre to centre"
    return Step(
        action="measure",
        title="Measure the trial circle",
        text=f"{STOP_FIRST} Measure the trial circle {how}. "
        f"Wanted: {lathe.length_text(2 * layer.circle_radius_mm)}. The next step moves the head by the difference",
        expects=Expects.CIRCLE,
        place=place,
    )


def refuse_impossible_circle(layer: Layer, lathe: Lathe, measured_mm: float) -> None:
    """Raise PlanError for a trial circle whose measured diameter [mm] is far from the wanted diameter.

    The user has probably entered a radius instead of a diameter.
    """
    wanted_mm = 2 * layer.circle_radius_mm
    least_mm, most_mm = LEAST_CIRCLE * wanted_mm, wanted_mm / LEAST_CIRCLE
    if not least_mm < measured_mm < most_mm:
        raise PlanError(
            f"{lathe.length_text(measured_mm)} is not the diameter of this trial circle. "
            f"Enter {lathe.length_text(least_mm)} to {lathe.length_text(most_mm)} across, from groove centre to "
            "groove centre.",
            field="circle_mm",
        )


def change_steps(layer: Layer, head: Head, lathe: Lathe, measured_mm: float, is_first: bool) -> list[Step]:
    """Return the steps that move the boring head after a trial circle with a measured diameter [mm].

    `head`: the head after the move. `is_first`: whether its dial is set to 0 before the move.
    """
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
    """Return the caution to check a moved head before the power is switched on."""
    return f"Layer {layer.number}: tighten the head's screws, key out, turn it by hand first."


def head_zero_step(dial: Dial, why: str, place: PatternPosition | None = None) -> Step:
    """Return the step that sets the head's dial to 0 without moving the head.

    `why`: the reason in words. `place`: the step's place in the pattern; None outside a pattern.
    """
    return Step(
        action="set",
        title="Set the head's dial to 0",
        text=f"Boring head: do not move it, since {why}. Set its dial to 0",
        settings=(dial.at_marks(0),),
        zeroed_dials=(HEAD,),
        expects=Expects.READING,
        place=place,
        required=not dial.can_zero,
    )


def layer_words(head: Head, layer: Layer, before_mm: float | None) -> str:
    """Return words for setting the boring head for a layer.

    `before_mm`: the circle radius before [mm]; None just after a trial circle.
    """
    if before_mm is None or layer.circle_radius_mm == before_mm:
        return "leave the boring head as it is"
    setting = head.setting(layer.circle_radius_mm)
    if head.dial is None or setting is None:
        return "set the boring head by a trial circle"
    change = layer.circle_radius_mm - before_mm
    return f"set the boring head to {head_shown(head.dial, setting)}, {direction(HEAD, change > 0)}"


def depth_of_width_mm(cutter: Cutter, width_mm: float) -> float:
    """Return the depth of a groove from its width at the face [mm]; 0 if the cutter's flat is as wide as the groove.

    >>> round(depth_of_width_mm(Cutter("wide", 90), 1.2), 6), round(depth_of_width_mm(Cutter("round", 90, 0, 1), 1), 6)
    (0.6, 0.133975)
    """
    half, radius = math.radians(cutter.tip_angle_deg / 2), cutter.tip_radius_mm
    if width_mm <= 2 * radius * math.cos(half):
        return radius - math.sqrt(radius**2 - width_mm**2 / 4)
    arc_mm = radius * (1 - math.sin(half))
    flank_mm = width_mm - cutter.tip_flat_mm - 2 * radius * math.cos(half)
    return max(0.0, arc_mm + flank_mm / (2 * math.tan(half)))


def width_per_depth(cutter: Cutter) -> float:
    """Return how much wider a groove becomes for each mm of depth: 2 tan(half the included angle) [mm/mm]."""
    return 2 * math.tan(math.radians(cutter.tip_angle_deg / 2))


def edges_finding(layer: Layer, measured: Measured, lathe: Lathe) -> str:
    """Return a sentence on a trial circle that was measured over both edges; "" for any other measurement."""
    if measured.edges_mm is None:
        return ""
    outer, inner = measured.edges_mm
    width_mm = (outer - inner) / 2
    words = (
        f"Over both edges: circle radius {lathe.length_text((outer + inner) / 4)}, groove "
        f"{lathe.length_text(width_mm)} wide"
    )
    if layer.cutter is None:
        return f"{words}."
    return f"{words}, so {lathe.length_text(depth_of_width_mm(layer.cutter, width_mm))} deep."


def read_circle(text: str, lathe: Lathe) -> EnteredSize:
    """Return the diameter of a trial circle across groove centres, from one or two entered sizes.

    Two sizes are those of the outer and the inner edge. Raises QuantityError for a text that cannot be read.
    """
    parts = text.replace("/", " ").split()
    numbers = [place for place, part in enumerate(parts) if any(character.isdigit() for character in part)]
    if len(numbers) != 2:
        return read_length(text, lathe.unit)
    at = numbers[1]
    edges = [read_length(" ".join(half), lathe.unit).size_mm for half in (parts[:at], parts[at:])]
    outer, inner = max(edges), min(edges)
    if outer == inner:
        raise QuantityError(
            f"Both edges are {lathe.length_text(outer)} across, which leaves no groove between them. Enter the outer "
            "and the inner edge, such as 24.8 22.4, or once from groove centre to groove centre."
        )
    return EnteredSize((outer + inner) / 2, edges_mm=(outer, inner))


def width_question(job: PatternJob, lathe: Lathe, state: "State", cutter: Cutter) -> Asked:
    """Return the question for a groove's width at the face, from which the depth of the groove follows."""

    def read(text: str) -> EnteredSize:
        width_mm = read_length(text, lathe.unit).size_mm
        if width_mm <= cutter.tip_flat_mm:
            raise QuantityError(
                f"A groove of {lathe.length_text(width_mm)} is no wider than the point's flat "
                f"({lathe.length_text(cutter.tip_flat_mm)}). Enter its width at the face."
            )
        depth_mm = depth_of_width_mm(cutter, width_mm)
        check_depth(job, lathe, state, depth_mm)
        return EnteredSize(depth_mm)

    times = number_text(width_per_depth(cutter), 2)
    return SizeAsked(
        "depth",
        "Enter the width of the groove",
        "How wide is the groove at the face?",
        read,
        lambda depth_mm: f"by its width, {measured_depth_text(job, lathe, state, depth_mm)}",
        (
            f"With this point the width grows {times} times as much as the depth. An error in depth is {times} "
            "times as large in the width.",
        ),
    )


def circle_question(job: PatternJob, lathe: Lathe, state: "State") -> Asked:
    """Return the question for the diameter of a trial circle."""

    def read(text: str) -> EnteredSize:
        reading = read_circle(text, lathe)
        check_circle(job, lathe, state, reading.size_mm)
        return reading

    return SizeAsked(
        "circle",
        "Enter the trial circle",
        "How large is the trial circle, from groove centre to groove centre?",
        read,
        lambda circle_mm: f"trial circle {lathe.length_text(circle_mm)}",
        ("Or measure over the outer and the inner edge with a caliper and enter both, such as 24.8 22.4.",),
    )


def check_circle(job: PatternJob, lathe: Lathe, state: "State", measured_mm: float) -> None:
    """Raise PlanError for a trial circle whose measured diameter [mm] cannot belong to the current layer."""
    number = next((step.at.layer for step in state.open_steps() if step.at.layer), None)
    if number is not None:
        refuse_impossible_circle(job.layers[number - 1], lathe, measured_mm)
