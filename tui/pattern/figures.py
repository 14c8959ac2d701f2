"""The figures of a pattern, in words for its form."""

from collections.abc import Iterator, Mapping
from typing import Any

from core.lathe.lathe import Lathe, dial_words
from core.operations.form import Figure
from core.operations.patterns.boring_head import HEAD, head_shown
from core.operations.patterns.layers import Layer, PatternJob, Shape
from core.plan import Plan
from core.run.counter_view import hours_and_minutes
from core.values.dials import Setting
from core.values.quantities import number_text


def cuts_text(job: PatternJob) -> str:
    """Return how many circles, dots, slots and arcs are cut, layer by layer."""
    numbers = [len(layer.cut_positions) for layer in job.layers]
    shapes = [layer.shape for layer in job.layers]
    if len(set(shapes)) == 1:
        return f"{' + '.join(map(str, numbers))} {shape_words(shapes[0], sum(numbers))}"
    return " + ".join(f"{number} {shape_words(shape, number)}" for number, shape in zip(numbers, shapes, strict=True))


def shape_words(shape: Shape, number: int) -> str:
    """Return the name of a shape for so many of them."""
    return shape.removesuffix("s") if number == 1 else shape


def time_text(plan: Plan) -> str:
    """Return the time it takes, roughly."""
    return f"about {hours_and_minutes(round(plan.figures['estimated_time_s'] * 1000))}"


def layer_figures(job: PatternJob, plan: Plan, lathe: Lathe) -> Iterator[Figure]:
    """Yield the figures of each layer, of neighbouring layers, and of the whole."""
    for layer, figures in zip(job.layers, plan.figures["layers"], strict=True):
        yield from _of_layer(layer, figures, plan, lathe)
    for between in plan.figures.get("between_layers", ()):
        yield _between(between, lathe)
    if "passes" in plan.figures:
        yield Figure("Cuts", str(plan.figures["passes"]))
    yield Figure("Time", time_text(plan), "hands differ")


def _of_layer(layer: Layer, figures: Mapping[str, Any], plan: Plan, lathe: Lathe) -> Iterator[Figure]:
    say = lathe.length_text
    cut = layer.count - len(layer.skip)
    skip = f"{len(layer.skip)} of {layer.count} skipped" if layer.skip else ""
    yield Figure(f"Layer {layer.number}", f"{cut} circles", skip)
    yield Figure("  circle radius", say(layer.circle_radius_mm), "worked out" if layer.condition else "")
    yield from _settings(layer, plan, lathe)
    if "spacing_mm" in figures:
        lie = _meeting(figures["overlap_mm"], "tips", lathe)
        yield Figure("  neighbours", f"{say(figures['spacing_mm'])} apart", lie)
    if "groove_width_mm" in figures:
        edges = _meeting(figures["groove_overlap_mm"], "edges", lathe) if "groove_overlap_mm" in figures else ""
        yield Figure("  groove", f"{say(figures['groove_width_mm'])} wide", edges)
    edges = ""
    if "inner_edge_mm" in figures:
        edges = f"with edges {say(figures['inner_edge_mm'])} to {say(figures['outer_edge_mm'])}"
    yield Figure("  extends from", f"{say(figures['inner_mm'])} to {say(figures['outer_mm'])}", edges)
    yield Figure("  crossings", str(figures["crossings"]))
    off = figures["worst_error_arcsec"]
    yield Figure("  worst position", f'{off:.3g}" off' if off else "exact", _off_words(figures, lathe) if off else "")


def _settings(layer: Layer, plan: Plan, lathe: Lathe) -> Iterator[Figure]:
    """Yield the settings of slide and boring head for a layer."""
    step = next((step for step in plan.steps if step.action == "index" and step.at.layer == layer.number), None)
    for setting in () if step is None else step.settings:
        dial = lathe.dials.get(setting.dial)
        if dial is None or not isinstance(setting, Setting):
            continue
        if dial.name == HEAD:
            yield Figure("  boring head", head_shown(dial, setting), "counted from layer 1" if layer.number > 1 else "")
        else:
            yield Figure(f"  {dial_words(dial.name)}", dial.setting_text(setting), "from where the axes meet")


def _meeting(overlap_mm: float, what: str, lathe: Lathe) -> str:
    """Return how far the lines of neighbours overlap, or how far they are apart."""
    if abs(overlap_mm) < 0.0005:
        return f"{what} touch"
    return f"{what} {lathe.length_text(abs(overlap_mm))} {'overlapping' if overlap_mm > 0 else 'apart'}"


def _off_words(figures: Mapping[str, Any], lathe: Lathe) -> str:
    return (
        f"{lathe.length_text(figures['worst_error_mm'])} at the circles; a gap "
        f"{lathe.length_text(figures['gap_error_mm'])}"
    )


def _between(figures: Mapping[str, Any], lathe: Lathe) -> Figure:
    one, other = figures["layers"]
    words = {
        "apart": f"{lathe.length_text(figures['gap_mm'])} apart",
        "inside": f"one inside the other, {lathe.length_text(figures['gap_mm'])} apart",
        "touch": "touch",
        "cross": f"cross, {figures['crossing_pairs']} pairs of circles",
    }
    touch_at = figures.get("touch_at_deg")
    note = "" if touch_at is None else f"touch where centres are {number_text(touch_at, 3)} deg apart"
    return Figure(f"Layers {one}, {other}", words[figures["lie"]], note)
