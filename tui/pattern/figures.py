"""The figures of the pattern form, in words and units. Only figures that the plan contains are shown."""

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from core.lathe.lathe import Lathe, dial_words
from core.operations.dividing.steps import Pace, estimated_time_s
from core.operations.form import Figure
from core.operations.patterns.boring_head import HEAD
from core.operations.patterns.layers import Layer, PatternJob, Shape
from core.operations.patterns.setting_rows import PlaceSteps, changing_dials, place_steps, setting_row, slide_of
from core.plan import Plan
from core.run.counter_view import hours_and_minutes
from core.values.angles import ARCSEC_PER_DEG, amount_text
from core.values.quantities import number_text
from tui.operation.divide_figures import time_figure


def cuts_text(job: PatternJob) -> str:
    """Return the numbers of circles, dots, slots and arcs in a pattern in words, such as "12 circles, 6 dots"."""
    numbers = [len(layer.cut_positions) for layer in job.layers]
    shapes = [layer.shape for layer in job.layers]
    if len(set(shapes)) == 1:
        return f"{' + '.join(map(str, numbers))} {shape_words(shapes[0], sum(numbers))}"
    return " + ".join(f"{number} {shape_words(shape, number)}" for number, shape in zip(numbers, shapes, strict=True))


def shape_words(shape: Shape, number: int) -> str:
    """Return the name of a shape: singular if `number` is 1, otherwise plural."""
    return shape.removesuffix("s") if number == 1 else shape


def layer_figures(job: PatternJob, plan: Plan, lathe: Lathe, pace: Pace | None = None) -> Iterator[Figure]:
    """Yield the figures of each layer, of neighbouring layers, and of the whole pattern.

    `pace`: the user's own pace for estimating the time; None uses typical times.
    """
    places, cutters = place_steps(plan.steps), {layer.cutter for layer in job.layers}
    for layer, figures in zip(job.layers, plan.figures["layers"], strict=True):
        if pace is not None and lathe.rotary_table is not None:
            of_layer = [step for step in plan.steps if step.at.layer == layer.number]
            figures = {**figures, "time_s": estimated_time_s(of_layer, lathe.rotary_table, pace)}
        own = [place for place in places if (place.start.at.layer or 1) == layer.number]
        yield from _of_layer(job, layer, figures, own, lathe, names_cutter=len(cutters) > 1)
    for between in plan.figures.get("between_layers", ()):
        yield _between(between, lathe)
    yield from _of_whole(plan, places)
    yield time_figure(plan, lathe, pace)


def _of_whole(plan: Plan, places: Sequence[PlaceSteps]) -> Iterator[Figure]:
    order = list(dict.fromkeys(place.start.at.layer or 1 for place in places))
    if len(order) > 1:
        yield Figure("Order of cutting", ", ".join(map(str, order)), "the numbers of the layers")
    changes = [
        f"{number} of {what}" for what in ("cutter", "head", "plate") if (number := plan.figures.get(f"{what}_changes"))
    ]
    if changes:
        yield Figure("Changes", ", ".join(changes), "after the first mounting")
    if "land_percent" in plan.figures:
        yield Figure("Land", f"{number_text(plan.figures['land_percent'], 1)} %", "of the blank's face stays uncut")
    if "passes" in plan.figures:
        yield Figure("Cuts", str(plan.figures["passes"]))


def _of_layer(
    job: PatternJob,
    layer: Layer,
    figures: Mapping[str, Any],
    places: Sequence[PlaceSteps],
    lathe: Lathe,
    *,
    names_cutter: bool,
) -> Iterator[Figure]:
    say = lathe.length_text
    cut = len(layer.cut_positions)
    notes = [f"by {layer.cutter.name}"] if layer.cutter is not None and names_cutter else []
    notes += [f"{len(layer.skip)} of {len(layer.positions)} skipped"] if layer.skip else []
    yield Figure(f"Layer {layer.number}", f"{cut} {shape_words(layer.shape, cut)}", ", ".join(notes))
    if layer.with_head:
        note = "calculated" if layer.condition else ""
        step_mm = layer.circle_radius_step_mm
        note = f"{_grows(step_mm, lathe)} at each position" if step_mm else note
        yield Figure("  circle radius", say(layer.circle_radius_mm), note)
    yield from _settings(places, layer.shape, lathe)
    yield from _rounding(job, layer, places, lathe)
    if "spacing_mm" in figures:
        lie = _meeting(figures["overlap_mm"], "points", lathe) if "overlap_mm" in figures else ""
        yield Figure("  neighbours", f"{say(figures['spacing_mm'])} apart", lie)
    yield from _groove(figures, lathe)
    if "inner_mm" in figures and "outer_mm" in figures:
        edges = ""
        if "inner_edge_mm" in figures and "outer_edge_mm" in figures:
            edges = f"with edges {say(figures['inner_edge_mm'])} to {say(figures['outer_edge_mm'])}"
        yield Figure("  extends from", f"{say(figures['inner_mm'])} to {say(figures['outer_mm'])}", edges)
    if "crossings" in figures:
        yield Figure("  crossings", str(figures["crossings"]))
    if figures.get("turned_by_deg"):
        turned = f"{number_text(figures['turned_by_deg'], 3)} deg"
        yield Figure("  turned by", turned, f"by the height error; true offset {say(figures['effective_offset_mm'])}")
    if "worst_error_arcsec" in figures:
        off = figures["worst_error_arcsec"]
        note = _off_words(figures, lathe) if off else ""
        yield Figure("  worst position", f"{amount_text(off / ARCSEC_PER_DEG)} off" if off else "exact", note)
    if "time_s" in figures:
        yield Figure("  time", f"about {hours_and_minutes(round(figures['time_s'] * 1000))}")


def _groove(figures: Mapping[str, Any], lathe: Lathe) -> Iterator[Figure]:
    say = lathe.length_text
    if "groove_width_mm" in figures:
        edges = _meeting(figures["groove_overlap_mm"], "edges", lathe) if "groove_overlap_mm" in figures else ""
        yield Figure("  groove", f"{say(figures['groove_width_mm'])} wide", edges)
    least_mm, most_mm = figures.get("depth_min_mm"), figures.get("depth_max_mm")
    if most_mm is None:
        yield Figure("  depth", "none", "not entered, so the counter only shows the positions")
    if most_mm is not None:
        least_mm = most_mm if least_mm is None else least_mm
        differ = most_mm - least_mm > _SAME_MM
        yield Figure("  depth", f"{say(least_mm)} to {say(most_mm)}" if differ else say(most_mm))


_SAME_MM = 0.0005


def _settings(places: Sequence[PlaceSteps], shape: Shape, lathe: Lathe) -> Iterator[Figure]:
    """Yield the slide and boring head settings of a layer.

    A setting that differs between positions is given for the first position.
    """
    if not places:
        return
    row, changing = setting_row(places[0], lathe), changing_dials(place.start for place in places)
    slide = slide_of(places[0].start, lathe)
    end = f"{'table to' if shape == 'arcs' else 'to'} {row.end}" if row.end else "from where the axes meet"
    for dial, reading, usual in (
        (slide, row.slide, end),
        (HEAD, row.head, "" if row.head == "0" else "counted from the head's first layer"),
    ):
        if reading:
            note = "at the first position; SETTINGS lists all positions" if dial in changing else usual
            yield Figure(f"  {dial_words(dial)}", reading, note)


def _rounding(job: PatternJob, layer: Layer, places: Sequence[PlaceSteps], lathe: Lathe) -> Iterator[Figure]:
    """Yield the effect of rounding the slide to dial marks: on the gaps of an even ring, or at the worst position."""
    outwards_mm = [_further_out_mm(job, place, lathe) for place in places]
    worst_mm = max(outwards_mm, key=abs, default=0.0)
    if abs(worst_mm) < _SAME_MM:
        return
    if not layer.is_even_ring:
        yield Figure(
            "  on dial marks",
            f"up to {lathe.length_text(abs(worst_mm))} off",
            "the error of the offset, with the slide set to its marks",
        )
        return
    wider, gaps = worst_mm > 0, ""
    if layer.count > 1:
        gap_mm = 2 * abs(worst_mm) * math.sin(math.pi / layer.count)
        gaps = f"; neighbours {lathe.length_text(gap_mm)} {'further apart' if wider else 'nearer together'}"
    far = "too far out" if wider else "too far in"
    yield Figure(
        "  on dial marks",
        f"{lathe.length_text(abs(worst_mm))} {far}",
        f"the error of the offset, with the slide set to its marks{gaps}",
    )


def _further_out_mm(job: PatternJob, place: PlaceSteps, lathe: Lathe) -> float:
    """Return how much further from the table's axis than wanted the slide is at its nearest dial mark [mm].

    A negative result means nearer to the axis.
    """
    setting = place.start.setting(slide_of(place.start, lathe))
    if setting is None:
        return 0.0
    dial = lathe.dial(setting.dial)
    inwards_mm = setting.rounding * float(dial.mm_per_unit) * (1 if dial.rising_inwards else -1)
    return -inwards_mm if job.is_far else inwards_mm


def _grows(step_mm: float, lathe: Lathe) -> str:
    return f"{'grows' if step_mm > 0 else 'shrinks'} by {lathe.length_text(abs(step_mm))}"


def _meeting(overlap_mm: float, what: str, lathe: Lathe) -> str:
    """Return words for the overlap of neighbours, or for the gap between them.

    `what`: what overlaps, such as "edges".
    """
    if abs(overlap_mm) < _SAME_MM:
        return f"{what} touch"
    return f"{what} {lathe.length_text(abs(overlap_mm))} {'overlapping' if overlap_mm > 0 else 'apart'}"


def _off_words(figures: Mapping[str, Any], lathe: Lathe) -> str:
    parts = []
    if "worst_error_mm" in figures:
        parts.append(f"{lathe.length_text(figures['worst_error_mm'])} at the work")
    if "gap_error_mm" in figures:
        parts.append(f"a gap by {lathe.length_text(figures['gap_error_mm'])}")
    return "; ".join(parts)


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
