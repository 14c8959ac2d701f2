"""The settings that stay the same while a layer of a pattern is cut: circle radius, boring head and cross-slide."""

from collections.abc import Collection, Mapping
from fractions import Fraction

from core.events.state import State
from core.lathe.lathe import Lathe, dial_words
from core.operations.patterns.boring_head import HEAD, head_shown
from core.operations.patterns.layers import PatternJob
from core.operations.registry import PlanInput, parameters_of
from core.plan import Expects, Step
from core.run.revising import shown_settings
from core.values.dials import Setting, place_words


def unchanged_words(lathe: Lathe, state: State, radius_mm: float, changing: Collection[str] = ()) -> str:
    """Return in words the settings that the current step does not change.

    `radius_mm`: the circle radius of the step's layer [mm], or 0 if the layer has no circles, or circles of several
    radii.
    `changing`: the names of the dials that the layer changes.
    """
    step = _position_step(state)
    if step is None:
        return ""
    settings = [
        _unchanged(lathe, state, setting)
        for setting in shown_settings(lathe, state, step)
        if setting.unit != "deg" and setting.dial not in changing
    ]
    radius = [f"circle radius {lathe.length_text(radius_mm)}"] if radius_mm else []
    unchanged = [*radius, *(words for words in settings if words)]
    return f"Unchanged: {', '.join(unchanged)}" if unchanged else ""


def radii_asked_mm(plan_input: PlanInput) -> Mapping[int, frozenset[float]]:
    """Return the circle radii in each layer of a pattern [mm], with the layer's number as key.

    Return {} if the operation is not a pattern.
    """
    job = parameters_of(plan_input)
    if not isinstance(job, PatternJob):
        return {}
    return {
        layer.number: frozenset(position.circle_radius_mm or 0.0 for position in layer.cut_positions)
        for layer in job.layers
    }


def layer_at_hand(state: State) -> int | None:
    """Return the number of the layer that is being cut; None before the first layer and between two layers."""
    cursor = state.cursor
    if cursor is None:
        return None
    if cursor.at.layer:
        return cursor.at.layer
    last = state.last_done
    # A depth is measured in the middle of a layer.
    return last.at.layer if cursor.expects == Expects.DEPTH and last is not None else None


def _position_step(state: State) -> Step | None:
    """Return the last step done in the current layer; the next step there if none is done; None without any."""
    layer, at = layer_at_hand(state), state.snapshot.cursor_at
    if layer is None:
        return None
    near = (*reversed(state.steps[: at + 1]), *state.steps[at + 1 :])
    return next((step for step in near if step.action == "index" and step.at.layer == layer), None)


def _unchanged(lathe: Lathe, state: State, setting: Setting) -> str:
    dial = lathe.dials.get(setting.dial)
    if dial is None:
        return ""
    if dial.name != HEAD:
        return f"{dial_words(dial.name)} at {place_words(dial, setting, state.zeros.get(dial.name, Fraction(0)))}"
    if state.zeros.get(HEAD) and setting.reading is not None:
        return f"head at {dial.number_text(setting.reading)} {dial.unit}"
    return f"head at {head_shown(dial, setting)}"
