"""The cautions of a pattern, each with its numbers.

The limits are common practice, without a source, except where a source stands beside the limit.
"""

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from core import safety
from core.lathe.lathe import Lathe
from core.operations.dividing.steps import DividedCut
from core.operations.dividing.words import TABLE_ROUND, backlash_caution, coarse_mark, dividing_cautions
from core.operations.patterns.boring_head import HEAD, VISIBLE_MM
from core.operations.patterns.effects import (
    bare_patches,
    height_effect,
    largest_circle_mm,
    layers_turned_mm,
    outer_mm,
    position_effect,
)
from core.operations.patterns.figures import layers_relation, neighbours_mm, worst_shift_mm
from core.operations.patterns.hidden_layers import UnsearchedLayer, searched_layers
from core.operations.patterns.layers import Layer, LayerPosition, PatternJob
from core.values.angles import amount_text
from core.values.quantities import number_text

HEAD_BY_HAND = "At each new radius, offset and depth, turn the head by hand, then switch on."
NEW_DEPTH = "Here and at every other new depth, turn the head by hand, then switch on."
HEAD_PLANE = "Stay out of the plane in which the head turns."
COLLET_SPEED = "Cutter in a collet: start slowly. Never run faster than its maker allows."
SPEED_UNKNOWN = "Head's highest speed unknown, so none suggested. Start at the lowest speed."
WIDE_TIP_DEG, ACUTE_TIP_DEG = 100.0, 50.0
LEAST_LAND_MM = 0.5
_NEAR_THE_BED, _NEAR_ITS_REACH = 0.75, 0.8
"""Above these parts of the centre height and of a cutter's reach, the user gets a caution."""


def pattern_cautions(job: PatternJob, patterns: Sequence[DividedCut], lathe: Lathe) -> tuple[str, ...]:
    """Return the cautions of one pattern, the most serious first. `patterns`: the settings of each layer."""
    cautions = [
        *_without_depth(job),
        *bare_patches(job, lathe),
        *_bed(job, lathe),
        *off_the_blank(job, lathe),
        *_reach(job, lathe),
        *_hidden(job, lathe),
        *_grooves(job, lathe),
        *_narrow_land(job, lathe),
        *_height(job, lathe),
        *_not_taken_out(job, lathe),
        *_of_conditions(job),
    ]
    said: set[str] = set()
    for layer, pattern in zip(job.layers, patterns, strict=True):
        radius_mm = layer.offset_mm if layer.is_even_ring else _outermost_mm(layer)
        of_layer = [
            *dividing_cautions(pattern.dividing, layer.is_even_ring, radius_mm, lathe),
            *_rounding_effect(job, layer, pattern, lathe),
        ]
        if pattern.passes is not None and layer.cut_mm is not None:
            of_layer += coarse_mark(pattern.passes.infeed, layer.cut_mm, lathe)
        cautions += [f"Layer {layer.number}: {_lower(words)}" for words in of_layer if words not in said]
        said |= set(of_layer)
    cautions += _touching(job, lathe)
    return (*cautions, backlash_caution(patterns[0].dividing), *_tip_advice(job))


def _without_depth(job: PatternJob) -> Iterator[str]:
    without = [str(layer.number) for layer in job.layers if layer.depth_mm is None]
    if len(without) == len(job.layers):
        yield "No depth is entered, so the counter leads from position to position and sets no depth."
    elif without:
        which = f"Layer {without[0]} has" if len(without) == 1 else f"Layers {', '.join(without)} have"
        yield f"{which} no depth. There the counter only leads from position to position."


def general_cautions(job: PatternJob, lathe: Lathe, material: str | None) -> tuple[str, ...]:
    """Return the cautions that every run of a pattern shows: for the rotary table, the boring head and the collet.

    `material`: the material of the work; None if the job names none.
    """
    cautions = _of_the_head(lathe) if any(layer.with_head for layer in job.layers) else ()
    if not all(layer.with_head for layer in job.layers):
        cautions = (*cautions, COLLET_SPEED)
    # Most such patterns are cut in wood, even if the job names another material.
    return safety.general(material, TABLE_ROUND, *cautions, safety.DUST)


def head_general(lathe: Lathe, material: str | None) -> tuple[str, ...]:
    """Return the cautions for every run that uses the rotary table with a boring head in the spindle.

    `material`: the material of the work; None if the job names none.
    """
    return safety.general(material, TABLE_ROUND, *_of_the_head(lathe), safety.DUST)


def _of_the_head(lathe: Lathe) -> tuple[str, ...]:
    head = lathe.dials.get(HEAD)
    return HEAD_BY_HAND, HEAD_PLANE, _speed(None if head is None else head.most_rpm)


def swing_caution(job: PatternJob, layer: Layer, lathe: Lathe) -> str:
    """Return the caution that a layer's cutter swings past the edge of the blank; "" if it stays within the edge."""
    blank = job.blank_diameter_mm
    swing = 2 * largest_circle_mm(layer) + (layer.groove_width_mm or 0.0)
    if blank is None or not layer.with_head or swing <= blank:
        return ""
    return (
        f"Layer {layer.number}: the cutter swings {lathe.length_text(swing)} across, beyond the blank of "
        f"{lathe.length_text(blank)}. Keep clamps clear."
    )


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]


def _outermost_mm(layer: Layer) -> float:
    return max(math.hypot(position.x_mm, position.y_mm) for position in layer.positions)


def _speed(most_rpm: float | None) -> str:
    if most_rpm is None:
        return SPEED_UNKNOWN
    return f"Never run the head above {number_text(most_rpm, 0)} rpm. Balance unknown: start slowly."


def _bed(job: PatternJob, lathe: Lathe) -> list[str]:
    blank, height = job.blank_diameter_mm, lathe.centre_height_mm
    if blank is None or height is None or blank / 2 < _NEAR_THE_BED * height:
        return []
    say = lathe.length_text
    if blank / 2 >= height:
        return [
            f"The blank reaches {say(blank / 2)} below its centre, but the bed is only {say(height)} below. "
            "This blank does not fit."
        ]
    return [
        f"The blank clears the bed by only {say(height - blank / 2)}, and the cross-slide by less. Before you switch "
        "on, turn the table by hand through one full turn."
    ]


def off_the_blank(job: PatternJob, lathe: Lathe) -> list[str]:
    """Return cautions for each layer that runs partly off the blank, or whose cutter swings past the blank's edge."""
    blank = job.blank_diameter_mm
    if blank is None:
        return []
    cautions = []
    for layer in job.layers:
        outermost_mm = outer_mm(job, layer) + (layer.groove_width_mm or 0.0) / 2
        if outermost_mm > blank / 2:
            over = lathe.length_text(outermost_mm - blank / 2)
            cautions.append(
                f"Layer {layer.number} runs off the blank by {over}: its outer radius is "
                f"{lathe.length_text(outermost_mm)}."
            )
        if swings := swing_caution(job, layer, lathe):
            cautions.append(swings)
    return cautions


def _reach(job: PatternJob, lathe: Lathe) -> Iterator[str]:
    for layer in job.layers:
        reach_mm = None if layer.cutter is None else layer.cutter.reach_mm
        if reach_mm is not None and layer.depth_mm is not None and layer.depth_mm > _NEAR_ITS_REACH * reach_mm:
            yield (
                f"Layer {layer.number} is {lathe.length_text(layer.depth_mm)} deep. At "
                f"{lathe.length_text(reach_mm)} the cutter's shank rubs."
            )


def _hidden(job: PatternJob, lathe: Lathe) -> Iterator[str]:
    """Yield a caution for each layer that other grooves hide, and for each layer whose search was stopped."""
    for hidden in searched_layers(job):
        if isinstance(hidden, UnsearchedLayer):
            yield (
                f"Layer {hidden.number} has too many grooves to compare. Other grooves may hide this layer. "
                "Check the picture."
            )
            continue
        words = f"Layer {hidden.number} is hidden, because other grooves are at least as deep everywhere"
        if math.isfinite(hidden.shows_from_mm):
            # Rounded up, because a groove of exactly the same depth is still hidden.
            shows_mm = math.ceil(hidden.shows_from_mm * 100 + 0.5) / 100
            words += f". The layer becomes visible at a depth of {lathe.length_text(shows_mm)}"
        yield f"{words}."


def _grooves(job: PatternJob, lathe: Lathe) -> Iterator[str]:
    """Yield a caution for each layer whose grooves are as wide as their circles, so that no land stays inside."""
    for layer in job.layers:
        if not layer.with_head:
            continue
        if layer.is_even_ring and (layer.groove_width_mm or 0.0) >= 2 * layer.circle_radius_mm:
            yield f"Layer {layer.number}: the groove is wider than the circle, so no metal remains inside the circle."
        elif not layer.is_even_ring and layer.cutter is not None:
            width = layer.cutter.groove_width_mm
            wide = [
                (width(position.depth_mm), position)
                for position in layer.cut_positions
                if position.depth_mm is not None and width(position.depth_mm) >= 2 * (position.circle_radius_mm or 0.0)
            ]
            if wide:
                width_mm, position = wide[0]
                yield (
                    f"Layer {layer.number}, position {position.number}: the groove is {lathe.length_text(width_mm)} "
                    f"wide, its circle {lathe.length_text(2 * (position.circle_radius_mm or 0.0))} across. So no "
                    "metal remains inside this circle."
                )


def _narrow_land(job: PatternJob, lathe: Lathe) -> Iterator[str]:
    for layer in job.layers:
        meets_mm = neighbours_mm(job, layer)["groove_overlap_mm"]
        if meets_mm is not None and VISIBLE_MM < -meets_mm < LEAST_LAND_MM:
            yield (
                f"Layer {layer.number} leaves only {lathe.length_text(-meets_mm)} of land between neighbouring "
                "grooves. This land may break out."
            )
    for one, other in pairwise(job.layers):
        lie, width_mm, other_width_mm = layers_relation(job, one, other), one.groove_width_mm, other.groove_width_mm
        if lie is None or width_mm is None or other_width_mm is None:
            continue
        land_mm = lie.gap_mm - (width_mm + other_width_mm) / 2
        if VISIBLE_MM < land_mm < LEAST_LAND_MM:
            yield (
                f"Layers {one.number} and {other.number} leave only {lathe.length_text(land_mm)} of land between "
                "them. This land may break out."
            )


def _height(job: PatternJob, lathe: Lathe) -> list[str]:
    """Return cautions for a height error that the settings do not correct.

    Such an error turns each layer a little and makes it slightly larger. Layers with different offsets turn by
    different angles, so they also turn relative to each other.
    """
    height = job.height_error_mm
    if height == 0 or job.correct:
        return []
    cautions = []
    if len(job.layers) == 1 and job.layers[0].is_even_ring and job.layers[0].offset_mm:
        effect = height_effect(job.layers[0].offset_mm, job.layers[0].count, height)
        cautions.append(
            f"The axis height error turns the whole layer by {number_text(effect.turned_by_deg, 3)} deg and moves it "
            f"{lathe.length_text(effect.offset_change_mm)} further from the table's axis. In a single layer, "
            "neither change is visible."
        )
    turned = [layer for layer in job.layers if layer.is_central and not layer.offset_step_mm]
    for one, other in pairwise(turned):
        angle, length = layers_turned_mm(one.offset_mm, other.offset_mm, height)
        if length >= VISIBLE_MM:
            cautions.append(
                f"The axis height error turns layers {one.number} and {other.number} against each other by "
                f"{number_text(angle, 3)} deg. That is {lathe.length_text(length)} at the smaller ring. "
                "Set the table's axis to the height of the spindle's."
            )
    if any(layer.with_head and layer.is_central and layer.offset_mm == 0 for layer in job.layers):
        cautions.append(
            f"A circle at offset 0 is eccentric by the whole height error, {lathe.length_text(abs(height))}."
        )
    cautions += [
        f"Layer {layer.number}: the axis height error moves every position {lathe.length_text(abs(height))}, square "
        "to its own offset. Let the settings correct this error, or shim the table."
        for layer in job.layers
        if layer not in turned
    ]
    return cautions


def _not_taken_out(job: PatternJob, lathe: Lathe) -> Iterator[str]:
    """Yield a caution for each error that the settings cannot correct, with its length on the work."""
    height, eccentric, say = abs(job.height_error_mm), job.eccentricity_mm, lathe.length_text
    if eccentric and not job.correct:
        yield (
            f"The whole pattern will be {say(eccentric)} off the work's centre. "
            "Let the settings correct this error, or set the work true."
        )
    if not job.correct:
        return
    for layer in job.layers:
        if layer.shape == "slots" and (height or eccentric):
            off_mm = _worst_off_mm(job, layer)
            yield f"Layer {layer.number}: the settings cannot correct slots. These slots will be {say(off_mm)} off."
        elif left := [place for place in layer.cut_positions if not job.takes_errors_out(layer, place)]:
            if height or eccentric:
                yield _too_near(job, layer, left, lathe)
        elif layer.shape == "arcs" and eccentric:
            yield (
                f"Layer {layer.number}: the arcs run about the table's axis, which is {say(eccentric)} off the work's "
                "centre."
            )
    if job.face_runout_mm:
        yield f"The settings cannot correct the runout of the face ({say(job.face_runout_mm)})."


def _too_near(job: PatternJob, layer: Layer, left: Sequence[LayerPosition], lathe: Lathe) -> str:
    """Return the caution that the height error cannot be corrected at some positions near the table's axis.

    `left`: these positions. Their distance from the axis is less than the height error.
    """
    say = lathe.length_text
    which = f"position {left[0].number} is" if len(left) == 1 else f"{len(left)} positions are"
    return (
        f"Layer {layer.number}: {which} nearer to the table's axis than the height error of "
        f"{say(abs(job.height_error_mm))}. The settings cannot correct that: up to {say(_worst_off_mm(job, layer))} "
        "remains."
    )


def _worst_off_mm(job: PatternJob, layer: Layer) -> float:
    return max(
        math.dist(
            job.comes_out_mm(setting.slide_mm, float(setting.angle_deg)),
            (position.x_mm, position.y_mm),
        )
        for position in layer.cut_positions
        for setting in (job.polar_setting(layer, position),)
    )


def _of_conditions(job: PatternJob) -> list[str]:
    """Return a note for each layer whose conditions are also met by a second ring."""
    notes = ((layer.number, layer.condition_note) for layer in job.layers)
    return [f"Layer {number}: {_lower(note)}" for number, note in notes if note]


def _rounding_effect(job: PatternJob, layer: Layer, pattern: DividedCut, lathe: Lathe) -> list[str]:
    """Return a caution about the rounding of the table's settings; [] if its effect on the grooves is not visible.

    `pattern`: the settings of the layer.
    """
    dividing = pattern.dividing
    if not layer.is_even_ring:
        shift = worst_shift_mm(layer, pattern)
        if shift < VISIBLE_MM:
            return []
        return [
            f"Rounding the table's setting moves a position by up to {lathe.length_text(shift)} "
            f"({amount_text(dividing.worst_error_deg)})."
        ]
    shape = job.shape(layer)
    shift = position_effect(shape, float(dividing.worst_error_deg)).shift_mm
    gap = position_effect(shape, float(dividing.worst_neighbour_error_deg)).spacing_change_mm
    if max(shift, gap) < VISIBLE_MM:
        return []
    return [
        f"Rounding the table's setting moves a circle by up to {lathe.length_text(shift)} "
        f"({amount_text(dividing.worst_error_deg)}) and changes a gap by up to {lathe.length_text(gap)}."
    ]


def _touching(job: PatternJob, lathe: Lathe) -> list[str]:
    head = lathe.dials.get(HEAD)
    if head is None or not any(layer.condition for layer in job.layers):
        return []
    return [
        "Circles that should touch can miss, because the head is set to whole marks. Half a mark is "
        f"{lathe.length_text(head.mark_mm / 2)} of radius, or {lathe.length_text(head.mark_mm)} where two circles meet."
    ]


def _tip_advice(job: PatternJob) -> list[str]:
    angles_deg = [layer.cutter.tip_angle_deg for layer in job.layers if layer.cutter is not None]
    if not angles_deg:
        return []
    if max(angles_deg) >= WIDE_TIP_DEG:
        return [
            "A wide point removes much metal and shows little detail. The groove's width shows every error of depth."
        ]
    if min(angles_deg) <= ACUTE_TIP_DEG:
        return ["An acute point gives fine lines. For circles inside circles, choose smaller radii."]
    return []
