"""Words for the depth that a pass takes off and the depth that remains, in the unit of the dial that sets the pass."""

from core.lathe.lathe import Lathe
from core.operations.registry import kind_of
from core.plan import Step
from core.values.dials import Setting, Unit
from core.values.quantities import length_text

ON_THE_RADIUS = "Depths of passes are on the radius. The diameter changes by twice as much."


def on_the_radius(kind: str, step: Step) -> bool:
    """Return whether a step's depths are on the radius, as for a diameter, a thread or a groove round the work.

    `kind`: the kind of operation to which the step belongs.
    """
    operation = kind_of(kind)
    return bool(operation and operation.on_radius) or str(step.extra.get("direction", "")).endswith("the axis")


def is_drilled(step: Step) -> bool:
    """Return whether a step drills or reams. Only such a step has a tool in its `extra`."""
    return "tool" in step.extra


def unit_of_pass(step: Step, lathe: Lathe) -> Unit:
    """Return the unit of the dial that sets a pass. If the pass sets no length on a dial, return the unit of
    the lathe.
    """
    first = next((setting for setting in step.settings if isinstance(setting, Setting)), None)
    return first.unit if first is not None and first.unit != "deg" else lathe.unit


def pass_length_text(length_mm: float, step: Step, lathe: Lathe) -> str:
    """Return a pass's depth [mm] as text, in the unit of the dial that sets the pass."""
    return length_text(length_mm, unit_of_pass(step, lathe))


def amount_words(step: Step, lathe: Lathe) -> str:
    """Return in words the depth that a step takes off and the depth still to go; "" for a step that cuts nothing.

    >>> from core.lathe.reader import example_lathe
    >>> amount_words(Step(action="cut", text="Cut", removed_mm=0.2, remaining_mm=0.5), example_lathe())
    'takes 0.2 mm off; 0.5 mm to go'
    """
    if step.removed_mm is None or step.remaining_mm is None:
        return ""
    to_go = f"{pass_length_text(step.remaining_mm, step, lathe)} to go"
    if step.action == "spring":
        return f"cuts only metal that sprang away; {to_go}"
    amount = pass_length_text(step.removed_mm, step, lathe)
    return f"{amount} deeper; {to_go}" if is_drilled(step) else f"takes {amount} off; {to_go}"
