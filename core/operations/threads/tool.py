"""The tool for one thread: its grinding and, for an internal thread, the boring bar that fits into the bore.

Clearances are angles next to the cutting edge [deg], measured in the vertical plane parallel to the work's axis. The
working relief and the cut-back left side are common practice, without a source. The formula for the lead angle is
derived here.

The bar is round, and its centre is at the height of the work's axis. A bar of diameter B, whose point sticks out by p,
needs B + p of room. At full depth the bar must clear the crest, so p is the depth plus a gap, or more. In the withdrawn
position, the point must clear the crest and the bar the opposite wall, each by a gap. With flank infeed the cross-slide
returns to the same reading after every pass, far enough for the last pass. After the first pass the compound has hardly
moved out, so the bar is nearer to the opposite wall by the whole depth. This is derived here, except the gap, which is
common practice, without a source. Lengths are in mm.
"""

import math
from collections.abc import Iterator
from typing import NamedTuple

from core.lathe.lathe import Lathe
from core.operations.threads.carriage_travel import leading_side
from core.operations.threads.job import ThreadJob
from core.values.angles import angle_text
from core.values.dials import Dial, Setting
from core.values.quantities import number_text

WORKING_RELIEF_DEG = 3.0
"""The angle by which a flank must slope back from its edge to avoid rubbing."""
_FULL_PROFILE_MM = (0.05, 0.1)
"""Metal left on the diameter of the blank for a full-profile tool, which also cuts the crest."""
_ROUND_CRESTED = frozenset({"whitworth", "bsp", "ba"})


class Grinding(NamedTuple):
    """The angles [deg] and lengths [mm] to which to grind the tool for one thread."""

    included_deg: float
    tip_flat_mm: float
    tip_radius_mm: float
    """The radius of a tip that cuts the standard's own root; 0 if that root is flat."""
    lead_angle_root_deg: float
    """Lead angle at the root, where the angle is largest."""
    leading_clearance_deg: float
    trailing_clearance_deg: float


def grinding(job: ThreadJob) -> Grinding:
    """Return the angles and lengths to which to grind the tool for a thread.

    The leading flank needs the working relief plus the lead angle at the root. The trailing flank needs the working
    relief less the lead angle at the crest, where this angle is smallest. The lead angle at a diameter d is derived
    here: its tangent is lead / (pi d).
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


def standard_tip_words(job: ThreadJob, lathe: Lathe) -> str:
    """Return text that gives the tip that cuts the standard's root, such as "radius 0.505 mm" or "flat 0.366 mm"."""
    ground = grinding(job)
    if ground.tip_radius_mm:
        return f"radius {lathe.length_text(ground.tip_radius_mm)}"
    return f"flat {lathe.length_text(ground.tip_flat_mm)}"


def tool_words(job: ThreadJob, lathe: Lathe) -> tuple[str, str]:
    """Return two texts: the tip for which the depth is calculated, and the tip that would cut the standard's root."""
    angle = angle_text(grinding(job).included_deg)
    return f"{angle} included, {tip_words(job, lathe)}", f"the standard's root: {standard_tip_words(job, lathe)}"


def tip_words(job: ThreadJob, lathe: Lathe) -> str:
    """Return text that gives the tip for which the depth is calculated: "flat 0.3 mm", "radius 0.5 mm" or "sharp"."""
    if job.tip.radius_mm:
        return f"radius {lathe.length_text(job.tip.radius_mm)}"
    return f"flat {lathe.length_text(job.tip.flat_mm)}" if job.tip.flat_mm else "sharp"


def side_clearance_words(job: ThreadJob) -> tuple[str, str]:
    """Return two texts: the side clearances of the leading and of the trailing flank, each with its side of the
    tool.
    """
    ground, leads = grinding(job), leading_side(job)
    trails = "left" if leads == "right" else "right"
    return (
        f"{number_text(ground.leading_clearance_deg, 1)}° or more, on the {leads}",
        f"{number_text(ground.trailing_clearance_deg, 1)}° or more, on the {trails}",
    )


def clearance_note(job: ThreadJob) -> str:
    """Return a note on how the clearance of the leading flank adds up, from the largest lead angle and the working
    relief.
    """
    largest_deg = grinding(job).leading_clearance_deg - WORKING_RELIEF_DEG
    where = "crest" if job.thread.internal else "root"
    return (
        f"lead angle at the {where}, {angle_text(largest_deg)}, plus a relief of {number_text(WORKING_RELIEF_DEG, 1)}°"
    )


def lean_words(job: ThreadJob, lathe: Lathe) -> str:
    """Return an instruction for cutting back the tool's left side, so that its point gets close to a shoulder or to the
    bottom of a bore.
    """
    half_mm = job.tip.width_mm(job.groove.depth_mm) / 2
    end = "the bottom" if job.thread.internal else "a shoulder"
    return f"cut back the left side to {lathe.length_text(half_mm)} from the point, to get close to {end}"


def full_profile_words(job: ThreadJob, lathe: Lathe) -> str:
    """Return an instruction for a full-profile tool, which also cuts the crest; "" if the standard's crest is flat."""
    thread = job.thread
    if thread.system not in _ROUND_CRESTED and thread.half_angle_deg not in (27.5, 23.75):
        return ""
    depth_mm = (thread.major_basic_mm - thread.pitch_diameter_basic_mm) / 2 + thread.root_depth_mm
    least, most = (lathe.length_text(size) for size in _FULL_PROFILE_MM)
    blank = "bore" if thread.internal else "blank"
    over = "under" if thread.internal else "over"
    return f"{lathe.length_text(depth_mm)} deep from its rounded crest; leave the {blank} {least} to {most} {over}size"


GAP_MM = 0.5
"""The gap between tool or bar and the nearest wall; at most a twentieth of the bore."""
_LEAST_BAR_MM = 3.0
"""The thinnest useful bar; a thinner bar bends. Common practice, no source."""
_STIFF_DIAMETERS = 4.0
"""How far a steel bar may reach out of its clamp, in diameters of the bar."""


class BoreRoom(NamedTuple):
    """The sizes of a boring tool that fits into the bore of an internal thread [mm]."""

    gap_mm: float
    stick_out_mm: float
    """The least height of the point above the bar."""
    bar_mm: float
    """The largest diameter of a round bar; 0 or less if no bar fits."""
    withdraw_mm: float
    """How far the slide moves inwards from full depth until the point clears the crest."""


def bore_room(job: ThreadJob) -> BoreRoom:
    """Return the sizes of a boring tool that fits into the bore of an internal thread [mm].

    >>> from core.values.fields import Table
    >>> from core.lathe.reader import example_lathe
    >>> from core.operations.threads.job import read_thread_job
    >>> job = read_thread_job(Table({"thread": "M20x1.5-6H", "blank": "18.5 mm"}, "", []), example_lathe())
    >>> room = bore_room(job)  # 0.96 deep, by the flank: 18.5 - 2 x 0.96 - 3 x 0.5
    >>> round(room.bar_mm, 2), round(room.withdraw_mm, 2)
    (15.08, 1.46)
    """
    depth_mm = job.groove.depth_mm
    gap_mm = min(GAP_MM, job.blank_mm / 20)
    nearest_wall_mm = depth_mm if job.straight else 2 * depth_mm
    return BoreRoom(
        gap_mm=gap_mm,
        stick_out_mm=depth_mm + gap_mm,
        bar_mm=job.blank_mm - nearest_wall_mm - 3 * gap_mm,
        withdraw_mm=depth_mm + gap_mm,
    )


def bar_words(job: ThreadJob, lathe: Lathe) -> str:
    """Return text that gives the boring bar that fits, such as "round bar up to 15.08 mm, its point 1.46 mm out of the
    bar".
    """
    room = bore_room(job)
    return (
        f"round bar up to {lathe.length_text(room.bar_mm)}, its point {lathe.length_text(room.stick_out_mm)} "
        "out of the bar"
    )


def withdrawal_setting(job: ThreadJob, cross_slide: Dial) -> Setting:
    """Return the cross-slide setting at which the tool can leave the bore. It lies inwards of the cross-slide's 0.

    With flank infeed, the tool cuts with the cross-slide at 0, so the slide must move in by the depth plus a gap. With
    straight infeed, the slide must pass 0 only by the gap.
    """
    room = bore_room(job)
    past_mm = room.gap_mm if job.straight else room.withdraw_mm
    return cross_slide.at_marks(math.ceil(past_mm / cross_slide.mark_mm - 1e-9))


def withdrawal_words(job: ThreadJob, cross_slide: Dial) -> str:
    """Return text that gives the cross-slide's withdrawal setting, such as "inwards to 1 turn and 0.95 mm, past its
    0".
    """
    return f"inwards to {cross_slide.setting_text(withdrawal_setting(job, cross_slide))}, past its 0"


def bore_words(job: ThreadJob, lathe: Lathe) -> str:
    """Return the instruction to bore to the diameter planned for the blank, with the limits of this diameter if there
    are any.
    """
    limits, length_text = job.thread.limits, lathe.length_text
    if limits.minor_min_mm is not None and limits.minor_max_mm is not None:
        ends = f"{length_text(limits.minor_min_mm)} to {length_text(limits.minor_max_mm)}"
        return f"open it to {length_text(job.blank_mm)} (limits {ends})"
    return f"open it to {length_text(job.blank_mm)}"


def bore_cautions(job: ThreadJob, lathe: Lathe) -> Iterator[str]:
    """Yield cautions if a boring bar that fits is too weak for its work, and if the bore has not been measured."""
    if not job.thread.internal:
        return
    room, length_text = bore_room(job), lathe.length_text
    if room.bar_mm < max(_LEAST_BAR_MM, job.groove.depth_mm):
        yield (
            f"A bore of {length_text(job.blank_mm)} has no room for a bar stiff enough to cut this thread "
            f"({length_text(max(room.bar_mm, 0.0))} at most). Use a tap."
        )
    elif job.length_mm is not None and job.length_mm > _STIFF_DIAMETERS * room.bar_mm:
        yield (
            f"A bar of up to {length_text(room.bar_mm)} springs when it reaches {length_text(job.length_mm)} into the "
            "bore. Take light passes, then spring passes until the tool cuts no more."
        )
    if not job.blank_measured:
        yield (
            f"No size of the bore is entered, so {length_text(job.blank_mm)} is assumed. If this size is wrong, the "
            "depth is wrong too."
        )
