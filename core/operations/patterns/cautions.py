"""The cautions of a pattern, with numbers. Common practice, no source, unless a figure says otherwise."""

from itertools import pairwise

from core import safety
from core.lathe.lathe import Lathe
from core.operations.dividing.steps import Pattern
from core.operations.dividing.words import TABLE_ROUND, backlash_caution, coarse_mark, dividing_cautions
from core.operations.patterns.boring_head import HEAD, VISIBLE_MM
from core.operations.patterns.effects import bare_patches, height_effect, layers_turned_mm, position_effect
from core.operations.patterns.layers import Layer, PatternJob
from core.values.angles import arcsec_text
from core.values.quantities import number_text

HEAD_BY_HAND = "At every new radius, offset and depth turn the head by hand before power."
NEW_DEPTH = "A new depth: turn the head by hand before power, here and at every other."
HEAD_PLANE = "Stay out of the plane in which the head turns."
SPEED_UNKNOWN = "Highest speed of the head unknown: none suggested. Start at the lowest."
WIDE_TIP_DEG, ACUTE_TIP_DEG = 100.0, 50.0


def pattern_cautions(job: PatternJob, patterns: list[Pattern], lathe: Lathe) -> tuple[str, ...]:
    """Return the cautions of one pattern, the most serious first."""
    cautions = [*bare_patches(job, lathe), *_off_the_blank(job, lathe), *_grooves(job), *_height(job, lathe)]
    said: set[str] = set()
    for layer, pattern in zip(job.layers, patterns, strict=True):
        of_layer = [
            *dividing_cautions(pattern.dividing, True, layer.offset_mm, lathe),
            *_rounding_effect(job, layer, pattern, lathe),
        ]
        if pattern.passes is not None and layer.cut_mm is not None:
            of_layer += coarse_mark(pattern.passes.infeed, layer.cut_mm, lathe)
        cautions += [f"Layer {layer.number}: {_lower(words)}" for words in of_layer if words not in said]
        said |= set(of_layer)
    cautions += _touching(job, lathe)
    return (*cautions, backlash_caution(patterns[0].dividing), *_tip_advice(job))


def head_general(lathe: Lathe, material: str | None) -> tuple[str, ...]:
    """Return the cautions that apply whenever a head is in the spindle and the work is on the rotary table."""
    head = lathe.dials.get(HEAD)
    speed = _speed(None if head is None else head.most_rpm)
    # Such patterns are mostly cut in wood, whatever the job says.
    return safety.general(material, TABLE_ROUND, HEAD_BY_HAND, HEAD_PLANE, speed, safety.DUST)


def swing_caution(job: PatternJob, layer: Layer, lathe: Lathe) -> str:
    """Return a caution if the cutter swings past the edge of the blank, else ""."""
    blank, shape = job.blank_diameter_mm, job.shape(layer)
    swing = 2 * shape.circle_radius_mm + (shape.groove_width_mm or 0.0)
    if blank is None or swing <= blank:
        return ""
    return (
        f"Layer {layer.number}: the cutter swings {lathe.length_text(swing)}, wider than the blank of "
        f"{lathe.length_text(blank)}: "
        "keep clamps clear."
    )


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]


def _speed(most_rpm: float | None) -> str:
    if most_rpm is None:
        return SPEED_UNKNOWN
    return f"Head: never above {number_text(most_rpm, 0)} rpm, balance unknown. Start at the lowest speed."


def _off_the_blank(job: PatternJob, lathe: Lathe) -> list[str]:
    blank = job.blank_diameter_mm
    if blank is None:
        return []
    cautions = []
    for layer, shape in ((layer, job.shape(layer)) for layer in job.layers):
        outermost_mm = shape.outer_mm if shape.outer_edge_mm is None else shape.outer_edge_mm
        if outermost_mm > blank / 2:
            over = lathe.length_text(outermost_mm - blank / 2)
            cautions.append(
                f"Layer {layer.number} runs off the blank by {over}: its outer radius is "
                f"{lathe.length_text(outermost_mm)}."
            )
        if swings := swing_caution(job, layer, lathe):
            cautions.append(swings)
    return cautions


def _grooves(job: PatternJob) -> list[str]:
    return [
        f"Layer {layer.number}: the groove is wider than the circle, so nothing remains in its middle."
        for layer, shape in ((layer, job.shape(layer)) for layer in job.layers)
        if (shape.groove_width_mm or 0.0) >= 2 * shape.circle_radius_mm
    ]


def _height(job: PatternJob, lathe: Lathe) -> list[str]:
    """Return cautions about the axis height error.

    It turns and enlarges a single layer a little; several layers turn against each other.
    """
    height = job.height_error_mm
    if height == 0:
        return []
    cautions = []
    if len(job.layers) == 1 and job.layers[0].offset_mm:
        effect = height_effect(job.layers[0].offset_mm, job.layers[0].count, height)
        cautions.append(
            f"The axis height error turns the whole layer by {number_text(effect.turned_by_deg, 3)} deg and sets it "
            f"{lathe.length_text(effect.offset_change_mm)} further from the table's axis. A layer alone shows neither."
        )
    for one, other in pairwise(job.layers):
        angle, length = layers_turned_mm(one.offset_mm, other.offset_mm, height)
        if length >= VISIBLE_MM:
            cautions.append(
                f"The axis height error turns layers {one.number} and {other.number} against each other by "
                f"{number_text(angle, 3)} deg, {lathe.length_text(length)} at the smaller. "
                "Shim the table level with the spindle."
            )
    if any(layer.offset_mm == 0 for layer in job.layers):
        cautions.append(
            f"A circle at offset 0 is eccentric by the whole height error, {lathe.length_text(abs(height))}."
        )
    return cautions


def _rounding_effect(job: PatternJob, layer: Layer, pattern: Pattern, lathe: Lathe) -> list[str]:
    """Return what the rounding of the positions does to the circles, if the effect is large enough to see."""
    dividing, shape = pattern.dividing, job.shape(layer)
    shift = position_effect(shape, float(dividing.worst_error_deg)).shift_mm
    gap = position_effect(shape, float(dividing.worst_neighbour_error_deg)).spacing_change_mm
    if max(shift, gap) < VISIBLE_MM:
        return []
    return [
        f"By the settings a circle is up to {lathe.length_text(shift)} ({arcsec_text(dividing.worst_error_deg)}) "
        "out of place, "
        f"and a gap up to {lathe.length_text(gap)} wrong."
    ]


def _touching(job: PatternJob, lathe: Lathe) -> list[str]:
    head = lathe.dials.get(HEAD)
    if head is None or not any(layer.condition for layer in job.layers):
        return []
    return [
        f"Circles that should touch do so only within a mark of the boring head: half a mark is "
        f"{lathe.length_text(head.mark_mm / 2)} of radius, {lathe.length_text(head.mark_mm)} where two circles meet."
    ]


def _tip_advice(job: PatternJob) -> list[str]:
    angles_deg = [layer.cutter.tip_angle_deg for layer in job.layers if layer.cutter is not None]
    if not angles_deg:
        return []
    if max(angles_deg) >= WIDE_TIP_DEG:
        return ["A wide point clears much and gives little detail. Its groove's width shows every error of depth."]
    if min(angles_deg) <= ACUTE_TIP_DEG:
        return ["An acute point gives fine lines. For circles within circles choose a shorter radius."]
    return []
