"""The figures of a thread for the printed card and the screens. Lengths are in mm and angles in degrees."""

import math
from collections.abc import Sequence
from typing import Any

from core.lathe.lathe import Lathe
from core.operations.threads.carriage_travel import stopping
from core.operations.threads.drills import clearance_hole, nearest_drills, tapping_drill
from core.operations.threads.gearing import gearing, length_error_mm
from core.operations.threads.job import ThreadJob, cos_deg
from core.operations.threads.tool import bore_room, grinding
from core.operations.threads.wires import (
    best_wire_mm,
    choose_wire_mm,
    lead_correction_mm,
    over_one_wire_mm,
    over_wires_mm,
    usable_wires_mm,
)
from core.plan import Step

Figures = dict[str, Any]


def thread_figures(job: ThreadJob, lathe: Lathe, cuts: Sequence[Step]) -> Figures:
    """Return all figures of a thread on a lathe. `cuts`: the cutting passes of the thread's plan."""
    thread = job.thread
    figures: Figures = {
        "designation": thread.designation,
        "internal": thread.internal,
        "starts": thread.starts,
        "left_hand": thread.left_hand,
        "pitch_mm": thread.pitch_mm,
        "lead_mm": thread.lead_mm,
        "half_angle_deg": thread.half_angle_deg,
        **thread.limits._asdict(),
        "major_basic_mm": thread.major_basic_mm,
        "pitch_diameter_basic_mm": thread.pitch_diameter_basic_mm,
        "minor_basic_mm": thread.minor_basic_mm,
        **_cutting(job, lathe, cuts),
        **_tool(job),
        **_stop(job, lathe),
        **_measuring(job, lathe),
        **_tapping(job),
        **_clearance_holes(job),
        **_gearing(job, lathe),
    }
    return {key: value for key, value in figures.items() if value is not None}


def lead_angle_deg(job: ThreadJob) -> float:
    """Return a thread's lead angle at the pitch diameter aimed at [deg]."""
    thread = job.thread
    return math.degrees(math.atan(thread.lead_mm / (math.pi * thread.wanted_pitch_diameter_mm)))


def _cutting(job: ThreadJob, lathe: Lathe, cuts: Sequence[Step]) -> Figures:
    groove = job.groove
    largest_mm = max((cut.removed_mm or 0.0) for cut in cuts)
    figures: Figures = {
        "blank_mm": job.blank_mm,
        "depth_mm": groove.depth_mm,
        "root_mm": groove.root_diameter_mm,
        "passes": len(cuts),
        "lead_angle_deg": lead_angle_deg(job),
        "tool_width_mm": job.tip.width_mm(groove.depth_mm),
    }
    over_deg = job.compound_angle_deg
    if over_deg is not None:
        figures["compound_angle_deg"] = over_deg
        figures["compound_travel_mm"] = groove.depth_mm / cos_deg(over_deg)
        if lathe.compound is not None:
            figures["scale_reading_deg"] = lathe.compound.reading_deg(over_deg)
        if over_deg > job.thread.half_angle_deg + 1e-9:
            figures["trailing_step_mm"] = largest_mm * (math.tan(math.radians(over_deg)) - job.tip.tan)
    return figures


def _tool(job: ThreadJob) -> Figures:
    """Return the figures for grinding the tool and, for an internal thread, of the boring bar that fits."""
    ground = grinding(job)
    figures: Figures = {
        "tool_included_deg": ground.included_deg,
        **({"tool_radius_mm": job.tip.radius_mm} if job.tip.radius_mm else {"tool_flat_mm": job.tip.flat_mm}),
        "tool_flat_wanted_mm": ground.tip_flat_mm or None,
        "tool_radius_wanted_mm": ground.tip_radius_mm or None,
        "lead_angle_root_deg": ground.lead_angle_root_deg,
        "leading_clearance_deg": ground.leading_clearance_deg,
        "trailing_clearance_deg": ground.trailing_clearance_deg,
    }
    if job.thread.internal:
        room = bore_room(job)
        figures |= {"bar_most_mm": max(room.bar_mm, 0.0), "point_stands_out_mm": room.stick_out_mm}
    return figures


def _stop(job: ThreadJob, lathe: Lathe) -> Figures:
    stop = stopping(job, lathe)
    if stop is None:
        return {}
    return {"speed_rpm": stop.rpm, "stop_time_s": stop.time_s, "rpm_most": stop.rpm_most}


def _measuring(job: ThreadJob, lathe: Lathe) -> Figures:
    """Return the figures of the measuring wire and of the limits over wires; no figures for an internal thread."""
    thread = job.thread
    if thread.internal:
        return {}
    wire_mm = measuring_wire_mm(job, lathe)
    least_mm, most_mm = usable_wires_mm(thread)
    figures: Figures = {
        "wire_mm": wire_mm,
        "wire_best_mm": best_wire_mm(thread.pitch_mm, thread.half_angle_deg),
        "wire_least_mm": least_mm,
        "wire_most_mm": most_mm,
    }
    figures |= _over_wires(job, wire_mm)
    correction_mm = lead_correction_mm(thread.wanted_pitch_diameter_mm, wire_mm, thread)
    return figures | ({"wire_lead_correction_mm": correction_mm} if correction_mm else {})


def _over_wires(job: ThreadJob, wire_mm: float) -> Figures:
    """Return the limits of size over three wires, and over one wire and the opposite crest [mm].

    A thread without limits has its basic size in place of both limits.
    """
    thread = job.thread
    largest, least = thread.limits.pitch_diameter_max_mm, thread.limits.pitch_diameter_min_mm
    sizes = {"basic": thread.pitch_diameter_basic_mm}
    if largest is not None and least is not None:
        sizes = {"max": largest, "min": least}
    three = {f"over_wires_{end}_mm": over_wires_mm(size, wire_mm, thread) for end, size in sizes.items()}
    one = {
        f"over_one_wire_{end}_mm": over_one_wire_mm(size, wire_mm, job.blank_mm, thread) for end, size in sizes.items()
    }
    return {**three, **one}


def measuring_wire_mm(job: ThreadJob, lathe: Lathe) -> float:
    """Return the diameter of the measuring wire to use [mm].

    A wire that the user entered takes precedence over the best usable wire in stock. Without either, return the ideal
    diameter.
    """
    return job.wire_mm if job.wire_mm is not None else choose_wire_mm(job.thread, lathe.wires_mm)


def _tapping(job: ThreadJob) -> Figures:
    """Return the tapping drill of an internal thread, the percentage of thread that it leaves, and drills of similar
    size.

    Return no figures for an external thread.
    """
    tapping = tapping_drill(job.thread) if job.thread.internal else None
    if tapping is None:
        return {}
    return {
        "tapping_drill": tapping.drill.name,
        "tapping_drill_mm": tapping.drill.mm,
        "tapping_percent": tapping.percent,
        "tapping_basis": tapping.full_depth,
        "nearest_drills": [{"name": drill.name, "mm": drill.mm} for drill in nearest_drills(tapping.drill.mm)],
    }


def _clearance_holes(job: ThreadJob) -> Figures:
    """Return the clearance holes for a metric screw; no figures if ISO 273 does not list the screw."""
    hole = clearance_hole(job.thread)
    return {} if hole is None else {"clearance_holes": hole._asdict()}


def _gearing(job: ThreadJob, lathe: Lathe) -> Figures:
    """Return the figures of the change gears and the thread dial, as far as the lathe file describes them."""
    gears = gearing(job.thread.exact_lead, lathe, job.thread.starts)
    figures: Figures = {"in_gearbox": True} if gears.in_gearbox else {}
    if gears.trains:
        figures["change_gears"] = [_as_lists(train._asdict()) for train in gears.trains]
        figures["pitch_error_ppm"] = gears.trains[0].error_ppm
        if job.length_mm is not None:
            error_mm = length_error_mm(gears.trains[0], job.thread.exact_lead, job.length_mm)
            figures["length_error_mm"] = error_mm
    if gears.dial_uses:
        figures["thread_dial"] = [_as_lists(use._asdict()) for use in gears.dial_uses]
    return figures


def _as_lists(data: Figures) -> Figures:
    return {key: list(value) if isinstance(value, tuple) else value for key, value in data.items()}
