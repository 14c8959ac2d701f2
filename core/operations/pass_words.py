"""What a pass takes off and leaves, in the unit of the dial that sets it."""

from core.lathe.lathe import Lathe
from core.operations.registry import kind_of
from core.plan import Step
from core.values.dials import Setting, Unit
from core.values.quantities import length_text

ON_THE_RADIUS = "What a pass takes, and what is to go, is on the radius: the diameter changes by twice as much."


def on_the_radius(kind: str, step: Step) -> bool:
    """Tell whether the depths of a step count on the radius: of a diameter, a thread, or a groove round the work."""
    found = kind_of(kind)
    return bool(found and found.on_radius) or str(step.extra.get("direction", "")).endswith("the axis")


def unit_of_pass(step: Step, lathe: Lathe) -> Unit:
    """Return the unit of the dial that sets the depth of a pass: the first of its settings; else that of sizes."""
    first = next((setting for setting in step.settings if isinstance(setting, Setting)), None)
    return first.unit if first is not None and first.unit != "deg" else lathe.unit


def pass_length_text(length_mm: float, step: Step, lathe: Lathe) -> str:
    """Return a depth [mm] in the unit of the dial that a pass is set on."""
    return length_text(length_mm, unit_of_pass(step, lathe))


def amount_words(step: Step, lathe: Lathe) -> str:
    """Return what a pass takes off and what is then to go, "" for a step that cuts nothing.

    >>> from core.lathe.reader import example_lathe
    >>> amount_words(Step(action="cut", text="Cut", removed_mm=0.2, remaining_mm=0.5), example_lathe())
    'takes 0.2 mm, 0.5 mm to go'
    """
    if step.removed_mm is None or step.remaining_mm is None:
        return ""
    to_go = f"{pass_length_text(step.remaining_mm, step, lathe)} to go"
    if step.action == "spring":
        return f"takes only what sprang away, {to_go}"
    return f"takes {pass_length_text(step.removed_mm, step, lathe)}, {to_go}"
