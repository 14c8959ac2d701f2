"""Cautions about choices for a thread that are possible but unwise. Each caution states the number in question."""

import math
from collections.abc import Iterator
from itertools import pairwise

from core.cutting import Infeed, rounding_note
from core.lathe.lathe import Lathe, how_to_add
from core.operations.threads.carriage_travel import direction_cautions, relief_wanted_mm, stopping
from core.operations.threads.compound import nearest_mark_words, sideways_words
from core.operations.threads.job import ThreadJob, cos_deg
from core.operations.threads.schedule import Schedule, loads_both_flanks_badly
from core.operations.threads.thread import LengthText
from core.operations.threads.tool import bore_cautions
from core.operations.threads.wires import wire_caution
from core.values.angles import angle_text
from core.values.quantities import number_text

_SAME_MM = 0.0005
"""Sizes that differ by less than half a micrometre count as the same."""
_TIP_MM = 0.003
"""Tips that differ by less than this count as the same.

Nobody grinds more exactly. A standard tip entered as the screen rounds it is within this limit too.
"""


def thread_cautions(
    job: ThreadJob, lathe: Lathe, infeed: Infeed, planned: Schedule, material: str | None
) -> Iterator[str]:
    """Yield all cautions for a thread on a lathe, the most serious first."""
    yield from _blank(job, lathe.length_text)
    yield from _tool(job, lathe.length_text)
    yield from _marks(job, infeed, lathe)
    yield from _relief(job, lathe)
    if (
        job.wire_mm is not None
        and not job.thread.internal
        and (words := wire_caution(job.thread, job.wire_mm, lathe.length_text))
    ):
        yield words
    yield from direction_cautions(job, lathe)
    yield from bore_cautions(job, lathe)
    yield from _speed(job, lathe)
    yield from _compound_angle(job, lathe, _largest_pass_mm(infeed, planned))
    if planned.note:
        yield planned.note
    if job.straight and loads_both_flanks_badly(material):
        yield (
            "With straight infeed, both flanks of the tool cut together. Take light passes in steel. In plastics, "
            "brass and aluminium, this is less important."
        )
    yield from job.thread.notes
    yield from _slender(job, lathe.length_text)


def _blank(job: ThreadJob, length_text: LengthText) -> Iterator[str]:
    """Yield a caution if the blank is outside the limits of the thread's crest.

    The crest is the major diameter of an external thread, or the minor diameter of an internal thread.
    """
    limits = job.thread.limits
    if job.thread.internal:
        what, name, largest, least = "bore", "minor", limits.minor_max_mm, limits.minor_min_mm
    else:
        what, name, largest, least = "blank", "major", limits.major_max_mm, limits.major_min_mm
    if largest is not None and job.blank_mm > largest + _SAME_MM:
        yield (
            f"The {what} of {length_text(job.blank_mm)} is {length_text(job.blank_mm - largest)} larger than the "
            f"largest {name} diameter, {length_text(largest)}."
        )
    elif least is not None and job.blank_mm < least - _SAME_MM:
        yield (
            f"The {what} of {length_text(job.blank_mm)} is {length_text(least - job.blank_mm)} smaller than the "
            f"smallest {name} diameter, {length_text(least)}."
        )


def _tool(job: ThreadJob, length_text: LengthText) -> Iterator[str]:
    """Yield a caution if the tip is too blunt or too sharp for the standard's root or for the crest of the mating
    thread.
    """
    thread = job.thread
    below_mm = job.tip.below_pitch_line_mm(thread.pitch_mm)
    deeper_mm = below_mm - thread.root_depth_mm
    clearance_mm = below_mm - thread.mating_crest_mm
    if clearance_mm < -_SAME_MM:
        yield (
            f"The tool is too blunt. The root ends {length_text(-clearance_mm)} short of the mating thread's "
            "crest, so the mating thread will bind. Grind the tip narrower."
        )
    elif deeper_mm < -_TIP_MM:
        yield (
            f"The tool is blunter than the standard's root and ends {length_text(-deeper_mm)} above that root. At "
            f"basic sizes, the mating crest still has {length_text(clearance_mm)} of clearance on the radius."
        )
    elif deeper_mm > _TIP_MM:
        weakens = "thins the wall" if job.thread.internal else "weakens the core"
        yield (
            f"The tool is sharper than the standard's root. It cuts {length_text(deeper_mm)} deeper on the radius, "
            f"to a root diameter of {length_text(job.groove.root_diameter_mm)}, and {weakens}. "
            f"{_standard_tip(job, length_text)}"
        )


def _standard_tip(job: ThreadJob, length_text: LengthText) -> str:
    if job.thread.root_radius_mm:
        return f"A tip radius of {length_text(job.thread.root_radius_mm)} avoids this."
    return f"A tip flat of {length_text(job.thread.root_flat_mm)} avoids this."


def _marks(job: ThreadJob, infeed: Infeed, lathe: Lathe) -> Iterator[str]:
    """Yield a caution if no dial mark is inside the thread's limits, or a note if the last mark is not exactly at the
    wanted depth.
    """
    length_text = lathe.length_text
    groove = job.groove
    last = max(1, infeed.marks(groove.depth_mm))
    depth_mm = infeed.depth_mm(last)
    if job.thread.has_limits and not groove.least_depth_mm <= depth_mm <= groove.most_depth_mm:
        tolerance_mm = 2 * (groove.most_depth_mm - groove.least_depth_mm)
        yield (
            f"No mark of this dial cuts within the limits. One mark is {length_text(2 * infeed.mark_mm)} on the pitch "
            f"diameter, but the tolerance is {length_text(tolerance_mm)}. The plan ends on the nearest mark. Measure "
            "before the last pass."
        )
    elif note := rounding_note(infeed, last, groove.depth_mm, True, length_text):
        yield note


def _relief(job: ThreadJob, lathe: Lathe) -> Iterator[str]:
    """Yield cautions if the relief is too shallow or too narrow."""
    length_text = lathe.length_text
    root_mm, diameter_mm = job.groove.root_diameter_mm, job.relief_diameter_mm
    if diameter_mm is not None:
        short_mm = root_mm - diameter_mm if job.thread.internal else diameter_mm - root_mm
        if short_mm > -_SAME_MM:
            yield (
                f"The relief at {length_text(diameter_mm)} is not deeper than the thread, which ends at "
                f"{length_text(root_mm)}. Cut the relief at least {length_text(max(short_mm, 0) / 2 + 0.1)} deeper."
            )
    if job.relief_mm is None:
        yield from _no_relief(job, lathe)
        return
    width_mm = job.tip.width_mm(job.groove.depth_mm)
    if job.relief_mm <= width_mm + _SAME_MM:
        yield (
            f"The relief of {length_text(job.relief_mm)} is not wider than the tool at the blank, "
            f"{length_text(width_mm)}. The tool has no room to stop."
        )


def _no_relief(job: ThreadJob, lathe: Lathe) -> Iterator[str]:
    """Yield cautions if a thread has no relief where it needs one: at a shoulder, in a blind bore, or at the start of
    the cut.
    """
    if job.length_mm is None and not job.from_chuck:
        return
    place = "the bottom of a blind bore" if job.thread.internal else "a shoulder"
    if job.from_chuck:
        yield (
            f"No relief is entered. At {place} the tool must start in a relief, or you must feed it in during the cut."
        )
        return
    wanted_mm, rpm = relief_wanted_mm(job, lathe), job.speed_rpm or lathe.spindle.slowest_rpm
    wide = f", {lathe.length_text(wanted_mm)} wide to leave time at {rpm:g} rpm" if wanted_mm is not None else ""
    instead = " Or cut the thread from the bottom outwards." if job.thread.internal else ""
    yield f"No relief is entered. At {place} the tool needs a relief as deep as the thread{wide}.{instead}"


def _speed(job: ThreadJob, lathe: Lathe) -> Iterator[str]:
    """Yield cautions if the speed is too high for the lathe, for the chuck, or for stopping in time."""
    spindle, rpm = lathe.spindle, job.speed_rpm
    if rpm is not None and not spindle.has(rpm):
        if spindle.range_rpm:
            speeds = f"{spindle.range_rpm[0]:g} to {spindle.range_rpm[1]:g}"
        else:
            speeds = ", ".join(f"{speed:g}" for speed in spindle.speeds_rpm)
        yield f"This lathe has no speed of {rpm:g} rpm. It has {speeds} rpm."
    if rpm is not None and spindle.most_rpm is not None and rpm > spindle.most_rpm:
        yield f"{rpm:g} rpm is above the {spindle.most_rpm:g} rpm that the chuck's maker allows."
    stop = stopping(job, lathe)
    if stop is None or stop.time_s is None or stop.rpm is None:
        return
    wanted_s = spindle.reaction_time_s
    if stop.time_s < wanted_s:
        remedy = (
            f"{stop.rpm_most:g} rpm is the fastest speed that gives you this time."
            if stop.rpm_most is not None
            else "No speed of this lathe gives you this time. Turn the spindle by hand, or cut away from the shoulder."
        )
        yield (
            f"At {stop.rpm:g} rpm the relief leaves {max(stop.time_s, 0):.2f} s to stop, less than the wanted "
            f"{wanted_s:g} s. {remedy}"
        )


def _compound_angle(job: ThreadJob, lathe: Lathe, largest_mm: float) -> Iterator[str]:
    """Yield cautions if the compound angle is wrong for the flanks, the compound's scale or the tolerance.

    `largest_mm`: the depth of the deepest pass [mm].
    """
    if job.compound_angle_deg is None:
        return
    length_text = lathe.length_text
    half_deg, over_deg = job.thread.half_angle_deg, job.compound_angle_deg
    depth_mm = job.groove.depth_mm
    if over_deg > half_deg + 1e-9:
        per_mm = math.tan(math.radians(over_deg)) - job.tip.tan
        yield (
            f"The compound angle of {angle_text(over_deg)} is beyond the half angle of {angle_text(half_deg)}. The "
            f"trailing flank then has steps of {length_text(largest_mm * per_mm)} along the axis at the largest pass, "
            f"and the groove is {length_text(depth_mm * per_mm)} wider."
        )
    elif abs(over_deg - half_deg) <= 1e-9:
        yield (
            f"The compound angle is exactly the half angle, {angle_text(half_deg)}, so the trailing flank rubs. Half "
            "a degree less gives a clean flank."
        )
    yield from _scale(job, lathe)
    slip_mm = compound_angle_error_mm(depth_mm, over_deg, 0.5)
    tolerance_mm = 2 * (job.groove.most_depth_mm - job.groove.least_depth_mm)
    if slip_mm > (tolerance_mm / 8 or 0.01):
        yield (
            f"An error of half a degree on the compound changes the pitch diameter by {length_text(slip_mm)}. Go by "
            "the measurement, not by the dial."
        )


def _largest_pass_mm(infeed: Infeed, planned: Schedule) -> float:
    marks = (0, *planned.marks)
    return infeed.depth_mm(max(after - before for before, after in pairwise(marks)))


def _scale(job: ThreadJob, lathe: Lathe) -> Iterator[str]:
    """Yield an instruction for swinging the compound if its scale has no mark for the wanted angle."""
    over_deg = job.compound_angle_deg or 0.0
    scale = lathe.compound
    if scale is None:
        yield f"The compound's scale is not known. Set the angle with a protractor, or {how_to_add('[compound]')}."
        return
    if scale.shows(over_deg):
        return
    reading = number_text(scale.reading_deg(over_deg), 2)
    remedy = (
        f"{nearest_mark_words(job.thread.half_angle_deg, scale)}set it with a protractor against the chuck face "
        f"({sideways_words(over_deg, lathe.unit)} along the slide), or use straight infeed."
    )
    remedy = f"{remedy[:1].upper()}{remedy[1:]}"
    yield (
        f"The compound's scale ends at {number_text(scale.end_deg or 0, 2)}°, before the wanted {reading}°. {remedy}"
    )


def _slender(job: ThreadJob, length_text: LengthText) -> Iterator[str]:
    """Yield a caution if the work is so slender that it springs away from the tool.

    The limits of 3, 4 and 10 diameters are common practice, without a source.
    """
    if job.length_mm is None or job.thread.internal or job.length_mm <= 3 * job.blank_mm:
        return
    if job.length_mm <= 4 * job.blank_mm:
        support = "Keep the passes light if nothing supports its end"
    else:
        by = "a tailstock centre" if job.length_mm <= 10 * job.blank_mm else "a centre and a follow rest"
        support = f"Support the work by {by}, take light passes"
    yield (
        f"Work of {length_text(job.blank_mm)} diameter and {length_text(job.length_mm)} length springs away from the "
        f"tool. {support}, and take spring passes until the tool cuts no more. Measure at both ends."
    )


def compound_angle_error_mm(depth_mm: float, compound_angle_deg: float, error_deg: float) -> float:
    """Return the error of the pitch diameter [mm] that results if the compound's angle is wrong but its travel is not.

    depth_mm: the depth of the groove on the radius [mm]. error_deg: the error of the angle [deg].

    >>> round(compound_angle_error_mm(2.0, 29, 0.5), 4)
    0.0192
    """
    travel_mm = depth_mm / cos_deg(compound_angle_deg)
    return 2 * travel_mm * (cos_deg(compound_angle_deg - error_deg) - cos_deg(compound_angle_deg))
