"""How a threading tool is ground: angle, tip, side clearances, where its point lies, full-profile tools.

Clearances are counted beside the cutting edge, in the plane of the slide that
moves along the axis [deg]. Working relief and lean are common practice, no source;
the lead angle is derived.
"""

import math
from typing import NamedTuple

from core.lathe.lathe import Lathe
from core.operations.threads.cut_direction import leading_side
from core.operations.threads.job import ThreadJob, angle_text
from core.values.quantities import number_text

WORKING_RELIEF_DEG = 3.0
"""What a flank must fall back behind its edge so as not to rub."""
_FULL_PROFILE_MM = (0.05, 0.1)
"""What is left on the diameter of the blank for a tool that forms the crest as well."""
_ROUND_CRESTED = frozenset({"whitworth", "bsp", "ba"})


class Grinding(NamedTuple):
    """A tool for one thread: angles [deg], lengths [mm]."""

    included_deg: float
    tip_flat_mm: float
    tip_radius_mm: float
    """The tip that cuts the standard's own root: one of the two, the other is 0."""
    lead_angle_root_deg: float
    """At the root, where it is largest."""
    leading_clearance_deg: float
    trailing_clearance_deg: float


def grinding(job: ThreadJob) -> Grinding:
    """Return how to grind the tool for a thread.

    The flank that leads needs the lead angle at the root besides its relief; the
    one that trails is helped by the lead angle at the crest, where that is least.
    Source: derived, tan = lead / (pi d).
    """
    thread = job.thread
    root_mm, crest_mm = job.groove.root_diameter_mm, job.blank_mm
    at_root, at_crest = (math.degrees(math.atan(thread.lead_mm / (math.pi * size))) for size in (root_mm, crest_mm))
    largest, least = max(at_root, at_crest), min(at_root, at_crest)
    return Grinding(
        included_deg=2 * thread.half_angle_deg,
        tip_flat_mm=thread.root_flat_mm,
        tip_radius_mm=thread.root_radius_mm,
        lead_angle_root_deg=at_root,
        leading_clearance_deg=largest + WORKING_RELIEF_DEG,
        trailing_clearance_deg=max(0.0, WORKING_RELIEF_DEG - least),
    )


def tip_words(job: ThreadJob, lathe: Lathe) -> str:
    """Say which tip cuts the standard's root: "radius 0.505 mm", "flat 0.366 mm"."""
    found = grinding(job)
    if found.tip_radius_mm:
        return f"radius {lathe.length_text(found.tip_radius_mm)}"
    return f"flat {lathe.length_text(found.tip_flat_mm)}"


def ground_words(job: ThreadJob, lathe: Lathe) -> tuple[str, str]:
    """Return the tool that the depth is worked out for, and the tip that would cut the standard's own root."""
    angle = angle_text(grinding(job).included_deg)
    return f"{angle} included, {own_tip_words(job, lathe)}", f"the standard's root: {tip_words(job, lathe)}"


def own_tip_words(job: ThreadJob, lathe: Lathe) -> str:
    """Say which tip the depth is worked out for: "flat 0.3 mm", "radius 0.5 mm", "sharp"."""
    if job.tip.radius_mm:
        return f"radius {lathe.length_text(job.tip.radius_mm)}"
    return f"flat {lathe.length_text(job.tip.flat_mm)}" if job.tip.flat_mm else "sharp"


def clearance_words(job: ThreadJob) -> tuple[str, str]:
    """Return the clearances of the leading and of the trailing flank, each with its side."""
    found, leads = grinding(job), leading_side(job)
    trails = "left" if leads == "right" else "right"
    return (
        f"{number_text(found.leading_clearance_deg, 1)} deg or more, on the {leads}",
        f"{number_text(found.trailing_clearance_deg, 1)} deg or more, on the {trails}",
    )


def clearance_note(job: ThreadJob) -> str:
    """Say where the leading clearance comes from: inside the lead angle is largest at the crest."""
    largest_deg = grinding(job).leading_clearance_deg - WORKING_RELIEF_DEG
    where = "crest" if job.thread.internal else "root"
    return f"lead angle at the {where} {angle_text(largest_deg)} and {number_text(WORKING_RELIEF_DEG, 1)} deg to work"


def lean_words(job: ThreadJob, lathe: Lathe) -> str:
    """Say which side is cut back, so that the point comes close to a shoulder: that towards the chuck."""
    half_mm = job.tip.width_mm(job.groove.depth_mm) / 2
    end = "the bottom" if job.thread.internal else "a shoulder"
    return f"to the left: that side cut back to {lathe.length_text(half_mm)} from the point, to come close to {end}"


def full_profile_words(job: ThreadJob, lathe: Lathe) -> str:
    """Say how a tool that forms the crest as well is used, "" where the standard's crest is flat.

    Source: depth of BS 84, ISO 228-1, BS 93; what is left for the crest is common practice.
    """
    thread = job.thread
    if thread.system not in _ROUND_CRESTED and thread.half_angle_deg not in (27.5, 23.75):
        return ""
    depth_mm = (thread.major_basic_mm - thread.pitch_diameter_basic_mm) / 2 + thread.root_depth_mm
    least, most = (lathe.length_text(size) for size in _FULL_PROFILE_MM)
    blank = "bore" if thread.internal else "blank"
    over = "under" if thread.internal else "over"
    return (
        f"{lathe.length_text(depth_mm)} deep from its rounded crest; leave the {blank} {least} to {most} "
        f"{over} size for it"
    )
