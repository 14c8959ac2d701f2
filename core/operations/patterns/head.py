"""The boring head: its dial shows changes only, so a trial circle says what radius it stands at.

The head is set by rule, a trial circle is cut and measured across, and the head
moved by the difference. Its dial is set to 0 at the first layer; every later layer
is counted from there, so that roundings do not add up. On a head "in" is towards
a larger circle: deeper into a bore.
"""

from typing import NamedTuple

from core.lathe.lathe import Lathe, how_to_add
from core.operations.patterns.cautions import HEAD_READY, SEEN_MM, TRIAL_SPEED
from core.operations.patterns.directions import LARGER, SMALLER, direction
from core.operations.patterns.head_dial import HEAD
from core.operations.patterns.job import Layer, PatternJob
from core.plan import Expects, Step
from core.safety import STOP_FIRST
from core.step_place import PatternPosition
from core.values.dials import Dial, Setting
from core.values.errors import PlanError

LEAST_CIRCLE = 0.6
"""A trial circle is at least this share of the one wanted; its radius, typed for it, is half."""


class Head(NamedTuple):
    """A boring head, and the radius at which its dial reads 0, as well as that is known. Lengths in mm."""

    dial: Dial | None
    """None where the lathe file has no [dial.boring_head]."""
    zero_radius_mm: float
    planned_zero_mm: float
    """As planned: the radius of the first layer."""

    def setting(self, radius_mm: float) -> Setting | None:
        """Return what the dial shows at a radius, counted from its zero; None without a dial."""
        return None if self.dial is None else self.dial.at_travel(radius_mm - self.zero_radius_mm)

    def shift(self, radius_mm: float) -> int:
        """Return by how many marks the setting for a radius differs from the one planned."""
        if self.dial is None:
            return 0
        planned = self.dial.marks(radius_mm - self.planned_zero_mm)
        return self.dial.marks(radius_mm - self.zero_radius_mm) - planned

    def shifted(self, marks: int) -> "Head":
        """Return the head with every setting so many marks from the one planned."""
        if self.dial is None or marks == 0:
            return self
        return self._replace(zero_radius_mm=self.planned_zero_mm - self.dial.travel_mm(marks))


def planned_head(job: PatternJob, lathe: Lathe) -> Head:
    """Return the head as planned: its dial reads 0 at the radius of the first layer."""
    radius = job.layers[0].circle_radius_mm
    return Head(dial=lathe.dials.get(HEAD), zero_radius_mm=radius, planned_zero_mm=radius)


def head_after_trial(head: Head, layer: Layer, measured_mm: float) -> Head:
    """Return the head as a circle of that diameter [mm], cut with it set for `layer`, shows it to be.

    Before the first layer the dial is set to 0 once the head has been moved; later
    it keeps its zero, and everything that follows changes alike.
    """
    radius = measured_mm / 2
    if head.dial is None:
        return head._replace(zero_radius_mm=radius)
    if layer.number == 1:
        moved = head.dial.travel_mm(head.dial.marks(layer.circle_radius_mm - radius))
        return head._replace(zero_radius_mm=radius + moved)
    stands = head.dial.travel_mm(head.dial.marks(layer.circle_radius_mm - head.zero_radius_mm))
    return head._replace(zero_radius_mm=radius - stands)


def by_rule_step(layer: Layer, lathe: Lathe, place: PatternPosition) -> Step:
    """Return the step that sets the head roughly, by rule."""
    radius = layer.circle_radius_mm
    return Step(
        action="set",
        title="Set the head by rule",
        text=f"Layer {layer.number}: boring head by rule to a radius of {lathe.length_text(radius)} "
        f"({lathe.length_text(2 * radius)} across), going {LARGER}, so that its backlash is taken up",
        cautions=(HEAD_READY,),
        place=place,
    )


def trial_step(layer: Layer, place: PatternPosition) -> Step:
    """Return the step that cuts a trial circle."""
    text = (
        f"Layer {layer.number}: isolate the drive, turn the head once by hand. Then cut a shallow trial circle on scrap"
    )
    return Step(action="check", title="Cut a trial circle", text=text, cautions=(TRIAL_SPEED,), place=place)


def measure_step(layer: Layer, lathe: Lathe, place: PatternPosition) -> Step:
    """Return the step at which a trial circle's diameter is typed."""
    return Step(
        action="measure",
        title="Measure the trial circle",
        text=f"{STOP_FIRST} Measure the trial circle across, from groove centre to groove centre, and enter it: "
        f"{lathe.length_text(2 * layer.circle_radius_mm)} is wanted, the head is moved by the difference",
        expects=Expects.CIRCLE,
        place=place,
    )


def refuse_impossible_circle(layer: Layer, lathe: Lathe, measured_mm: float) -> None:
    """Refuse a trial circle [mm] that no setting by rule leaves so far off: most likely its radius was typed.

    Raises PlanError.
    """
    wanted_mm = 2 * layer.circle_radius_mm
    least_mm, most_mm = LEAST_CIRCLE * wanted_mm, wanted_mm / LEAST_CIRCLE
    if not least_mm < measured_mm < most_mm:
        raise PlanError(
            f"found a trial circle of {lathe.length_text(measured_mm)} across; accepted is "
            f"{lathe.length_text(least_mm)} to "
            f"{lathe.length_text(most_mm)} across, from groove centre to groove centre: is that its radius, or "
            "another circle?",
            field="circle_mm",
        )


def is_near(head: Head, layer: Layer, measured_mm: float) -> bool:
    """Tell whether a trial circle of that diameter [mm] is as near as the head can be set: by half a mark."""
    change = layer.circle_radius_mm - measured_mm / 2
    return abs(change) < SEEN_MM if head.dial is None else head.dial.marks(change) == 0


def change_steps(layer: Layer, head: Head, lathe: Lathe, measured_mm: float) -> list[Step]:
    """Return the move that a trial circle of that diameter [mm] asks for."""
    change = layer.circle_radius_mm - measured_mm / 2
    words = f"Layer {layer.number}: boring head by {lathe.length_text(abs(change))} of radius"
    if head.dial is None:
        text = (
            f"{words} {LARGER if change > 0 else SMALLER}, by trial: this lathe has no dial for the head "
            f"({how_to_add(f'[dial.{HEAD}]')})"
        )
        return [Step(action="set", title="Move the head", text=text, cautions=(moved_again(layer),))]
    by_dial = head.dial.at_travel(change)
    words += f" ({head.dial.reading_text(abs(by_dial.position))} on its dial), {direction(HEAD, change > 0)}"
    if layer.number == 1:
        setting, first = by_dial, [head_zero_step(head.dial, "the move is counted from here")]
    else:
        setting, first = head.dial.at_travel(layer.circle_radius_mm - head.zero_radius_mm), []
    text = f"{words}: to {head_shown(head.dial, setting)}"
    return [
        *first,
        Step(action="set", title="Move the head", text=text, settings=(setting,), cautions=(moved_again(layer),)),
    ]


def moved_again(layer: Layer) -> str:
    """Return what to see to once the head was opened for a layer, before the power is on again."""
    return f"Layer {layer.number}: head's screws tight, key out; turn it by hand before power."


def head_zero_step(dial: Dial, why: str, place: PatternPosition | None = None) -> Step:
    """Return the step that sets the head's dial to 0 without moving the head, with the reason."""
    return Step(
        action="set",
        title="Set the head's dial to 0",
        text=f"Boring head: leave it, {why}, and set its dial to 0",
        settings=(dial.at_marks(0),),
        zeroed_dials=(HEAD,),
        expects=Expects.READING,
        place=place,
        required=not dial.can_zero,
    )


def head_shown(dial: Dial, setting: Setting) -> str:
    """Return a change on the head's dial in words, with its sense: "3 turns and 0.012 in above 0"."""
    if setting.position == 0:
        return "0"
    position = abs(setting.position)
    amount = dial.turns_text(position) + dial.reading_text(position % (dial.per_turn or position + 1))
    reading = "" if setting.reading is None else f", where it reads {dial.number_text(setting.reading)}"
    return f"{amount} {'above' if setting.position > 0 else 'below'} 0{reading}"


def layer_words(head: Head, layer: Layer, before: Layer | None) -> str:
    """Return what is set on the head for a layer, in words."""
    if before is None:
        return "boring head as it stands"
    setting = head.setting(layer.circle_radius_mm)
    if layer.circle_radius_mm == before.circle_radius_mm:
        return "boring head as it stands"
    if head.dial is None or setting is None:
        return "boring head by a trial circle"
    change = layer.circle_radius_mm - before.circle_radius_mm
    return f"boring head to {head_shown(head.dial, setting)}, {direction(HEAD, change > 0)}"
