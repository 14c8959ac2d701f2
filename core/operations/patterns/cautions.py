"""What to warn of in a ring pattern, with numbers. Common practice, no source, unless a figure says otherwise."""

from itertools import pairwise

from core import safety
from core.lathe.lathe import Lathe
from core.operations.dividing.cautions import TABLE_ROUND, coarse_mark, dividing_cautions, play_caution
from core.operations.dividing.pattern import Pattern
from core.operations.patterns.effects import height_effect, position_effect, rings_turned_mm
from core.operations.patterns.geometry import RingShape
from core.operations.patterns.head_dial import HEAD
from core.operations.patterns.job import Ring, RingsJob
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


def ring_cautions(job: RingsJob, patterns: list[Pattern], lathe: Lathe) -> tuple[str, ...]:
    """Return what is to be said of this very pattern, grave things first."""
    found = [*bare_patches(job, lathe), *_off_the_blank(job, lathe), *_grooves(job), *_height(job, lathe)]
    told: set[str] = set()
    for ring, pattern in zip(job.rings, patterns, strict=True):
        of_ring = [*dividing_cautions(pattern.dividing, True, ring.offset_mm, lathe), *_seen(job, ring, pattern, lathe)]
        if pattern.passes is not None and job.cut_mm is not None:
            of_ring += coarse_mark(pattern.passes.infeed, job.cut_mm, lathe)
        found += [f"Ring {ring.number}: {_lower(words)}" for words in of_ring if words not in told]
        told |= set(of_ring)
    found += _touching(job, lathe)
    return (*found, play_caution(patterns[0].dividing), *_tip_advice(job))


def head_general(lathe: Lathe, material: str | None) -> tuple[str, ...]:
    """Return the cautions of any work with a head in the spindle and the work on the rotary table."""
    head = lathe.dials.get(HEAD)
    speed = _speed(None if head is None else head.most_rpm)
    # Such patterns are cut in wood more than in anything else, whatever the job calls it.
    return safety.general(material, TABLE_ROUND, HEAD_BY_HAND, HEAD_PLANE, speed, safety.DUST)


def swing_caution(job: RingsJob, ring: Ring, lathe: Lathe) -> str:
    """Say that the cutter swings past the edge of the blank, "" where it does not or the blank is not known."""
    blank, shape = job.blank_diameter_mm, job.shape(ring)
    swing = 2 * shape.cutter_radius_mm + (shape.groove_width_mm or 0.0)
    if blank is None or swing <= blank:
        return ""
    return (
        f"Ring {ring.number}: the cutter swings {lathe.say(swing)}, wider than the blank of {lathe.say(blank)}: "
        "keep clamps clear."
    )


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]


def _speed(most_rpm: float | None) -> str:
    if most_rpm is None:
        return SPEED_UNKNOWN
    return f"Head: never above {number_text(most_rpm, 0)} rpm; its balance is not known. Start at the lowest."


def _off_the_blank(job: RingsJob, lathe: Lathe) -> list[str]:
    blank = job.blank_diameter_mm
    if blank is None:
        return []
    found = []
    for ring, shape in zip(job.rings, job.shapes, strict=True):
        reach = _outermost(shape)
        if reach > blank / 2:
            over = lathe.say(reach - blank / 2)
            found.append(f"Ring {ring.number} runs off the blank by {over}: it reaches a radius of {lathe.say(reach)}.")
        if swings := swing_caution(job, ring, lathe):
            found.append(swings)
    return found


def _outermost(shape: RingShape) -> float:
    return shape.outer_mm if shape.outer_edge_mm is None else shape.outer_edge_mm


def _grooves(job: RingsJob) -> list[str]:
    return [
        f"Ring {ring.number}: the groove is wider than the circle, nothing is left standing in its middle."
        for ring, shape in zip(job.rings, job.shapes, strict=True)
        if (shape.groove_width_mm or 0.0) >= 2 * shape.cutter_radius_mm
    ]


def _height(job: RingsJob, lathe: Lathe) -> list[str]:
    """Say what the axis height error does: one ring only turns and grows a little, several turn against each other."""
    height = job.axis_height_error_mm
    if height == 0:
        return []
    found = []
    if len(job.rings) == 1 and job.rings[0].offset_mm:
        effect = height_effect(job.rings[0].offset_mm, job.rings[0].count, height)
        found.append(
            f"The axis height error turns the whole ring by {number_text(effect.turned_by_deg, 3)} deg and sets it "
            f"{lathe.say(effect.offset_change_mm)} further from the table's axis; a ring alone shows neither."
        )
    for one, other in pairwise(job.rings):
        angle, length = rings_turned_mm(one.offset_mm, other.offset_mm, height)
        if length >= SEEN_MM:
            found.append(
                f"The axis height error turns rings {one.number} and {other.number} against each other by "
                f"{number_text(angle, 3)} deg, {lathe.say(length)} at the smaller: "
                "pack the table level with the spindle."
            )
    if any(ring.offset_mm == 0 for ring in job.rings):
        found.append(f"A circle at no offset is off the centre by the whole height error, {lathe.say(abs(height))}.")
    return found


def _seen(job: RingsJob, ring: Ring, pattern: Pattern, lathe: Lathe) -> list[str]:
    """Say what the rounding of the positions does to what is seen."""
    dividing, shape = pattern.dividing, job.shape(ring)
    shift = position_effect(shape, float(dividing.worst_error_deg)).shift_mm
    gap = position_effect(shape, float(dividing.worst_neighbour_error_deg)).spacing_change_mm
    if max(shift, gap) < SEEN_MM:
        return []
    return [
        f"By the settings a circle lies up to {lathe.say(shift)} ({arcsec_text(dividing.worst_error_deg)}) from its "
        f"place, and a gap is up to {lathe.say(gap)} wrong."
    ]


def _touching(job: RingsJob, lathe: Lathe) -> list[str]:
    head = lathe.dials.get(HEAD)
    if head is None or not any(ring.meeting for ring in job.rings):
        return []
    return [
        f"Circles that should touch do so only within a mark of the cutter head: half of one is "
        f"{lathe.say(head.mark_mm / 2)} of radius, {lathe.say(head.mark_mm)} where two circles meet."
    ]


def _tip_advice(job: RingsJob) -> list[str]:
    if job.tip is None:
        return []
    if job.tip.angle_deg >= WIDE_TIP_DEG:
        return ["A wide tip angle clears much and gives little detail; its groove's width shows every error of depth."]
    if job.tip.angle_deg <= ACUTE_TIP_DEG:
        return ["An acute tip gives fine lines; for circles within circles shorten the radius."]
    return []
