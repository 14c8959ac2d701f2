"""What is merely unwise about a thread, each with its number. Nothing here refuses."""

import math
from collections.abc import Iterator
from itertools import pairwise

from core.cutting import Infeed, rounding_note
from core.lathe.lathe import Lathe, to_tell
from core.operations.threads.carriage import relief_wanted_mm, stopping, way_cautions
from core.operations.threads.compound import mark_instead_words, sideways_words
from core.operations.threads.job import ThreadJob, angle_text, cos_deg
from core.operations.threads.schedule import Schedule, loads_both_flanks_badly
from core.operations.threads.thread import Say
from core.operations.threads.tool import bore_cautions
from core.operations.threads.wires import wire_caution
from core.values.quantities import number_text

_NOTHING_MM = 0.0005
"""Half a micrometre: below it two sizes are the same here."""
_TIP_MM = 0.003
"""No tip is ground closer; the standard's own one, typed as the screen rounds it, is within this."""


def thread_cautions(
    job: ThreadJob, lathe: Lathe, infeed: Infeed, planned: Schedule, material: str | None
) -> Iterator[str]:
    """Yield every caution that this thread, on this lathe, calls for, the grave ones first."""
    yield from _blank(job, lathe.say)
    yield from _tool(job, lathe.say)
    yield from _marks(job, infeed, lathe)
    yield from _groove(job, lathe)
    if (
        job.wire_mm is not None
        and not job.thread.internal
        and (words := wire_caution(job.thread, job.wire_mm, lathe.say))
    ):
        yield words
    yield from way_cautions(job, lathe)
    yield from bore_cautions(job, lathe)
    yield from _speed(job, lathe)
    yield from _compound_angle(job, lathe, _largest_pass_mm(infeed, planned))
    if planned.note:
        yield planned.note
    if job.straight and loads_both_flanks_badly(material):
        yield (
            "straight infeed cuts on both flanks of the tool at once: take light passes in steel; "
            "in plastics, brass and aluminium it matters little"
        )
    yield from job.thread.notes
    yield from _slender(job, lathe.say)


def _blank(job: ThreadJob, say: Say) -> Iterator[str]:
    """The blank against the major limits (inside: the bore against the minor limits)."""
    limits = job.thread.limits
    if job.thread.internal:
        what, name, largest, least = "bore", "minor", limits.minor_max_mm, limits.minor_min_mm
    else:
        what, name, largest, least = "blank", "major", limits.major_max_mm, limits.major_min_mm
    if largest is not None and job.blank_mm > largest + _NOTHING_MM:
        yield (
            f"the {what} of {say(job.blank_mm)} is {say(job.blank_mm - largest)} above the largest "
            f"{name} diameter, {say(largest)}"
        )
    elif least is not None and job.blank_mm < least - _NOTHING_MM:
        yield (
            f"the {what} of {say(job.blank_mm)} is {say(least - job.blank_mm)} below the least "
            f"{name} diameter, {say(least)}"
        )


def _tool(job: ThreadJob, say: Say) -> Iterator[str]:
    """The tip against the standard's root, and against the crest of the mating thread."""
    thread = job.thread
    below_mm = job.tip.below_pitch_line_mm(thread.pitch_mm)
    deeper_mm = below_mm - thread.root_depth_mm
    clearance_mm = below_mm - thread.mating_crest_mm
    if clearance_mm < -_NOTHING_MM:
        yield (
            f"the tool is too blunt: its root stops {say(-clearance_mm)} short of the crest of the mating "
            "thread, which will bind; grind the tip narrower"
        )
    elif deeper_mm < -_TIP_MM:
        yield (
            f"the tool is blunter than the standard's root and stops {say(-deeper_mm)} above it; the mating "
            f"crest still clears by {say(clearance_mm)} on the radius at basic sizes"
        )
    elif deeper_mm > _TIP_MM:
        yield (
            f"the tool is sharper than the standard's root: it goes {say(deeper_mm)} deeper on the radius, "
            f"to {say(job.groove.root_diameter_mm)}, and leaves the core that much weaker; {_standard_tip(job, say)}"
        )


def _standard_tip(job: ThreadJob, say: Say) -> str:
    """Say which tip would cut the standard's own root."""
    if job.thread.root_radius_mm:
        return f"a tip radius of {say(job.thread.root_radius_mm)} would not"
    return f"a tip flat of {say(job.thread.root_flat_mm)} would not"


def _marks(job: ThreadJob, infeed: Infeed, lathe: Lathe) -> Iterator[str]:
    """Whether a mark of the dial lies inside the limits."""
    say = lathe.say
    groove = job.groove
    last = max(1, infeed.marks(groove.depth_mm))
    depth_mm = infeed.depth_mm(last)
    if job.thread.has_limits and not groove.least_depth_mm <= depth_mm <= groove.most_depth_mm:
        tolerance_mm = 2 * (groove.most_depth_mm - groove.least_depth_mm)
        yield (
            f"no mark of this dial lies inside the limits: one mark is {say(2 * infeed.mark_mm)} on the pitch "
            f"diameter, its tolerance {say(tolerance_mm)}; the nearest mark is planned, "
            f"so measure before the last pass"
        )
    elif note := rounding_note(infeed, last, groove.depth_mm, True, say):
        yield note


def _groove(job: ThreadJob, lathe: Lathe) -> Iterator[str]:
    """The relief groove against the root and the tool."""
    say = lathe.say
    root_mm, diameter_mm = job.groove.root_diameter_mm, job.relief_diameter_mm
    if diameter_mm is not None:
        short_mm = root_mm - diameter_mm if job.thread.internal else diameter_mm - root_mm
        if short_mm > -_NOTHING_MM:
            yield (
                f"the relief groove at {say(diameter_mm)} is no deeper than the tool, which reaches "
                f"{say(root_mm)}: turn it {say(max(short_mm, 0) / 2 + 0.1)} deeper or more"
            )
    if job.relief_mm is None:
        yield from _no_groove(job, lathe)
        return
    width_mm = job.tip.width_mm(job.groove.depth_mm)
    if job.relief_mm <= width_mm + _NOTHING_MM:
        yield (
            f"the relief groove of {say(job.relief_mm)} is no wider than the tool at the blank, "
            f"{say(width_mm)}: the tool finds no room to stop in"
        )


def _no_groove(job: ThreadJob, lathe: Lathe) -> Iterator[str]:
    """What it means that no groove is given: at a shoulder, at the bottom of a blind bore, where a cut begins."""
    if job.length_mm is None and not job.from_chuck:
        return
    place = "the bottom of a blind bore" if job.thread.internal else "a shoulder"
    if job.from_chuck:
        yield f"no relief groove is given: the tool has to begin in one at {place}, or be fed in by hand while it runs"
        return
    wanted_mm, rpm = relief_wanted_mm(job, lathe), job.speed_rpm or lathe.spindle.slowest_rpm
    wide = f", {lathe.say(wanted_mm)} wide to leave time at {rpm:g} rpm" if wanted_mm is not None else ""
    instead = "; or run from the bottom outwards" if job.thread.internal else ""
    yield f"no relief groove is given: at {place} the tool needs one as deep as the thread{wide}{instead}"


def _speed(job: ThreadJob, lathe: Lathe) -> Iterator[str]:
    """The speed against what the lathe has, its makers allow, and the groove leaves time for."""
    spindle, rpm = lathe.spindle, job.speed_rpm
    if rpm is not None and not spindle.has(rpm):
        if spindle.range_rpm:
            have = f"{spindle.range_rpm[0]:g} to {spindle.range_rpm[1]:g}"
        else:
            have = ", ".join(f"{speed:g}" for speed in spindle.speeds_rpm)
        yield f"this lathe has no speed of {rpm:g} rpm; it has {have} rpm"
    if rpm is not None and spindle.most_rpm is not None and rpm > spindle.most_rpm:
        yield f"{rpm:g} rpm is above the {spindle.most_rpm:g} rpm that the chuck's maker allows"
    stop = stopping(job, lathe)
    if stop is None or stop.time_s is None or stop.rpm is None:
        return
    wanted_s = spindle.reaction_time_s
    if stop.time_s < wanted_s:
        cure = (
            f"{stop.rpm_most:g} rpm is the fastest that leaves it"
            if stop.rpm_most is not None
            else "no speed of this lathe leaves it: turn the spindle by hand, or cut away from the shoulder"
        )
        yield (
            f"at {stop.rpm:g} rpm the groove gives {max(stop.time_s, 0):.2f} s to stop, "
            f"less than the {wanted_s:g} s wanted; {cure}"
        )


def _compound_angle(job: ThreadJob, lathe: Lathe, largest_mm: float) -> Iterator[str]:
    """The compound angle against the half angle, the compound's scale and the tolerance."""
    if job.compound_angle_deg is None:
        return
    say = lathe.say
    half_deg, over_deg = job.thread.half_angle_deg, job.compound_angle_deg
    depth_mm = job.groove.depth_mm
    if over_deg > half_deg + 1e-9:
        per_mm = math.tan(math.radians(over_deg)) - job.tip.tan
        yield (
            f"compound angle {angle_text(over_deg)}, beyond the half angle of {angle_text(half_deg)}: the trailing "
            f"flank comes out stepped, {say(largest_mm * per_mm)} along the axis at the largest pass, "
            f"and the groove {say(depth_mm * per_mm)} wider"
        )
    elif abs(over_deg - half_deg) <= 1e-9:
        yield (
            f"compound angle exactly the half angle, {angle_text(half_deg)}, the trailing flank rubs: "
            "half a degree less cuts it clean"
        )
    yield from _scale(job, lathe)
    slip_mm = compound_angle_error_mm(depth_mm, over_deg, 0.5)
    tolerance_mm = 2 * (job.groove.most_depth_mm - job.groove.least_depth_mm)
    if slip_mm > (tolerance_mm / 8 or 0.01):
        yield (
            f"half a degree wrong on the compound is {say(slip_mm)} of pitch diameter: "
            "go by the measurement, not by the dial"
        )


def _largest_pass_mm(infeed: Infeed, planned: Schedule) -> float:
    marks = (0, *planned.marks)
    return infeed.depth_mm(max(after - before for before, after in pairwise(marks)))


def _scale(job: ThreadJob, lathe: Lathe) -> Iterator[str]:
    """What to do where the compound's scale does not show the compound angle."""
    over_deg = job.compound_angle_deg or 0.0
    scale = lathe.compound
    if scale is None:
        yield (f"nothing is told of the compound's scale: set the angle by a protractor, or {to_tell('[compound]')}")
        return
    if scale.shows(over_deg):
        return
    reading = number_text(scale.reading_deg(over_deg), 2)
    yield (
        f"the compound's scale ends at {number_text(scale.end_deg or 0, 2)} deg and would have to read {reading}: "
        f"{mark_instead_words(job.thread.half_angle_deg, scale)}set it by a protractor against the chuck face "
        f"({sideways_words(over_deg, lathe.unit)} along the slide), or use straight infeed"
    )


def _slender(job: ThreadJob, say: Say) -> Iterator[str]:
    """Work that springs away from the tool. Common practice, no source: beyond 3, 4 and 10 diameters."""
    if job.length_mm is None or job.thread.internal or job.length_mm <= 3 * job.blank_mm:
        return
    if job.length_mm <= 4 * job.blank_mm:
        support = "keep the passes light if nothing supports its end"
    else:
        by = "a tailstock centre" if job.length_mm <= 10 * job.blank_mm else "a centre and a travelling steady"
        support = f"support it by {by}, take light passes"
    yield (
        f"{say(job.length_mm)} long at {say(job.blank_mm)} diameter springs away from the tool: "
        f"{support}, and spring passes until it cuts no more; measure at both ends"
    )


def compound_angle_error_mm(depth_mm: float, compound_angle_deg: float, error_deg: float) -> float:
    """Return the error on the pitch diameter [mm] of a compound angle wrong by `error_deg`, at a fixed compound travel.

    >>> round(compound_angle_error_mm(2.0, 29, 0.5), 4)
    0.0192
    """
    travel_mm = depth_mm / cos_deg(compound_angle_deg)
    return 2 * travel_mm * (cos_deg(compound_angle_deg - error_deg) - cos_deg(compound_angle_deg))
