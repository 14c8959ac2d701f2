"""What to warn of in a pattern, with numbers. Common practice, no source, unless a figure says otherwise."""

from itertools import pairwise

from core import safety
from core.lathe.lathe import Lathe
from core.operations.dividing.cautions import TABLE_ROUND, coarse_mark, dividing_cautions, play_caution
from core.operations.dividing.pattern import Pattern
from core.operations.patterns.effects import height_effect, layers_turned_mm, position_effect
from core.operations.patterns.geometry import RingShape
from core.operations.patterns.head_dial import HEAD
from core.operations.patterns.job import Layer, PatternJob
from core.operations.patterns.visible import bare_patches
from core.values.angles import arcsec_text
from core.values.quantities import number_text

HEAD_BY_HAND = "At every new radius, offset and depth turn the head by hand before power."
NEW_DEPTH = "A new depth: turn the head by hand before power, here and at every other."
HEAD_PLANE = "Stay out of the plane in which the head turns."
HEAD_READY = "Before power: head's key out, screws and drawbar tight, tool kept short."
TRIAL_SPEED = "First power-on: lowest speed, out of the plane of the head, hand at the switch."
SPEED_UNKNOWN = "Head: highest speed not known here, none suggested. Start at the lowest."
WIDE_TIP_DEG, ACUTE_TIP_DEG = 100.0, 50.0
SEEN_MM = 0.001
"""Smaller errors are not told: nobody sees them."""


def pattern_cautions(job: PatternJob, patterns: list[Pattern], lathe: Lathe) -> tuple[str, ...]:
    """Return what is to be said of this very pattern, grave things first."""
    found = [*bare_patches(job, lathe), *_off_the_blank(job, lathe), *_grooves(job), *_height(job, lathe)]
    told: set[str] = set()
    for layer, pattern in zip(job.layers, patterns, strict=True):
        of_layer = [
            *dividing_cautions(pattern.dividing, True, layer.offset_mm, lathe),
            *_seen(job, layer, pattern, lathe),
        ]
        if pattern.passes is not None and layer.cut_mm is not None:
            of_layer += coarse_mark(pattern.passes.infeed, layer.cut_mm, lathe)
        found += [f"Layer {layer.number}: {_lower(words)}" for words in of_layer if words not in told]
        told |= set(of_layer)
    found += _touching(job, lathe)
    return (*found, play_caution(patterns[0].dividing), *_tip_advice(job))


def head_general(lathe: Lathe, material: str | None) -> tuple[str, ...]:
    """Return the cautions of any work with a head in the spindle and the work on the rotary table."""
    head = lathe.dials.get(HEAD)
    speed = _speed(None if head is None else head.most_rpm)
    # Such patterns are cut in wood more than in anything else, whatever the job calls it.
    return safety.general(material, TABLE_ROUND, HEAD_BY_HAND, HEAD_PLANE, speed, safety.DUST)


def swing_caution(job: PatternJob, layer: Layer, lathe: Lathe) -> str:
    """Say that the cutter swings past the edge of the blank, "" where it does not or the blank is not known."""
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
    return f"Head: never above {number_text(most_rpm, 0)} rpm; its balance is not known. Start at the lowest."


def _off_the_blank(job: PatternJob, lathe: Lathe) -> list[str]:
    blank = job.blank_diameter_mm
    if blank is None:
        return []
    found = []
    for layer, shape in zip(job.layers, job.shapes, strict=True):
        reach = _outermost(shape)
        if reach > blank / 2:
            over = lathe.length_text(reach - blank / 2)
            found.append(
                f"Layer {layer.number} runs off the blank by {over}: it reaches a radius of {lathe.length_text(reach)}."
            )
        if swings := swing_caution(job, layer, lathe):
            found.append(swings)
    return found


def _outermost(shape: RingShape) -> float:
    return shape.outer_mm if shape.outer_edge_mm is None else shape.outer_edge_mm


def _grooves(job: PatternJob) -> list[str]:
    return [
        f"Layer {layer.number}: the groove is wider than the circle, nothing is left standing in its middle."
        for layer, shape in zip(job.layers, job.shapes, strict=True)
        if (shape.groove_width_mm or 0.0) >= 2 * shape.circle_radius_mm
    ]


def _height(job: PatternJob, lathe: Lathe) -> list[str]:
    """Say what the axis height error does: one layer only turns and grows a little, several turn against each other."""
    height = job.height_error_mm
    if height == 0:
        return []
    found = []
    if len(job.layers) == 1 and job.layers[0].offset_mm:
        effect = height_effect(job.layers[0].offset_mm, job.layers[0].count, height)
        found.append(
            f"The axis height error turns the whole layer by {number_text(effect.turned_by_deg, 3)} deg and sets it "
            f"{lathe.length_text(effect.offset_change_mm)} further from the table's axis; a layer alone shows neither."
        )
    for one, other in pairwise(job.layers):
        angle, length = layers_turned_mm(one.offset_mm, other.offset_mm, height)
        if length >= SEEN_MM:
            found.append(
                f"The axis height error turns layers {one.number} and {other.number} against each other by "
                f"{number_text(angle, 3)} deg, {lathe.length_text(length)} at the smaller: "
                "shim the table level with the spindle."
            )
    if any(layer.offset_mm == 0 for layer in job.layers):
        found.append(
            f"A circle at no offset is off the centre by the whole height error, {lathe.length_text(abs(height))}."
        )
    return found


def _seen(job: PatternJob, layer: Layer, pattern: Pattern, lathe: Lathe) -> list[str]:
    """Say what the rounding of the positions does to what is seen."""
    dividing, shape = pattern.dividing, job.shape(layer)
    shift = position_effect(shape, float(dividing.worst_error_deg)).shift_mm
    gap = position_effect(shape, float(dividing.worst_neighbour_error_deg)).spacing_change_mm
    if max(shift, gap) < SEEN_MM:
        return []
    return [
        f"By the settings a circle lies up to {lathe.length_text(shift)} "
        f"({arcsec_text(dividing.worst_error_deg)}) from its "
        f"place, and a gap is up to {lathe.length_text(gap)} wrong."
    ]


def _touching(job: PatternJob, lathe: Lathe) -> list[str]:
    head = lathe.dials.get(HEAD)
    if head is None or not any(layer.meeting for layer in job.layers):
        return []
    return [
        f"Circles that should touch do so only within a mark of the boring head: half of one is "
        f"{lathe.length_text(head.mark_mm / 2)} of radius, {lathe.length_text(head.mark_mm)} where two circles meet."
    ]


def _tip_advice(job: PatternJob) -> list[str]:
    if job.tip is None:
        return []
    if job.tip.angle_deg >= WIDE_TIP_DEG:
        return ["A wide tip angle clears much and gives little detail; its groove's width shows every error of depth."]
    if job.tip.angle_deg <= ACUTE_TIP_DEG:
        return ["An acute tip gives fine lines; for circles within circles shorten the radius."]
    return []
