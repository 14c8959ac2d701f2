"""Threads cut in a simulation, pass by pass from the plan, and then measured like real threads."""

import math
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from core.operations.threads.job import ThreadJob
from core.operations.threads.wires import best_wire_mm, over_wires_mm
from tests.core.thread_jobs import cuts, job_of, lathe, plan_of

Grid = npt.NDArray[np.float64]
POINTS = 24001


def cut_profile(job: ThreadJob, depths_and_shifts: list[tuple[float, float]]) -> tuple[Grid, Grid]:
    """Return the positions along the axis and the radius of the work after all passes, over two pitches [mm].

    A pass removes everything outside the tool, whose point is `depth` below the blank and moved along the axis by
    `shift`. The simulation does not use the program's own outline.
    """
    pitch, half = job.thread.pitch_mm, math.radians(job.thread.half_angle_deg)
    x = np.linspace(-pitch, pitch, POINTS)
    radius = np.full_like(x, job.blank_mm / 2)
    for depth, shift in depths_and_shifts:
        for groove in (-2, -1, 0, 1, 2):
            off = np.abs(x - shift - groove * pitch)
            flank = job.blank_mm / 2 - depth + np.maximum(off - job.tip.flat_mm / 2, 0) / math.tan(half)
            if job.tip.radius_mm:
                r = job.tip.radius_mm
                nose = np.where(off < r * math.cos(half), r - np.sqrt(np.maximum(r**2 - off**2, 0)), np.inf)
                straight = r - r / math.sin(half) + off / math.tan(half)
                flank = job.blank_mm / 2 - depth + np.where(off < r * math.cos(half), nose, straight)
            radius = np.minimum(radius, flank)
    return x, radius


def passes(job: ThreadJob, **table: Any) -> list[tuple[float, float]]:
    """Return depth and sideways shift of the tool's point at every cut [mm], from the readings in the plan."""
    found = []
    for cut in cuts(plan_of(**table)):
        name = "cross_slide" if job.straight else "compound"
        setting = cut.setting(name)
        assert setting is not None
        dial = lathe().dial(name)
        travel_mm = abs(setting.position) * float(dial.mm_per_unit)
        angle = math.radians(job.compound_angle_deg or 0.0)
        found.append((travel_mm * math.cos(angle), travel_mm * math.sin(angle)))
    return found


def pitch_diameter_of(radius: Grid) -> float:
    """Return the diameter on which groove and ridge are equally wide [mm], by counting points at each height."""
    low, high = float(radius.min()), float(radius.max())
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if np.mean(radius[:-1] > middle) > 0.5 else (low, middle)
    return low + high


def over_wires_of(x: Grid, radius: Grid, wire_mm: float, groove_at: float) -> float:
    """Return the measurement over wires that sink into the groove until they touch its flanks [mm]."""
    best = np.inf
    for centre in np.linspace(groove_at - 0.02, groove_at + 0.02, 81):
        near = np.abs(x - centre) < wire_mm / 2
        rests = float(np.max(radius[near] + np.sqrt((wire_mm / 2) ** 2 - (x[near] - centre) ** 2)))
        best = min(best, rests)
    return 2 * best + wire_mm


TABLES: list[dict[str, Any]] = [
    {"thread": "M30x3.5-6g", "blank": "29.85 mm", "tool_flat": "0.30 mm"},
    {"thread": "M30x3.5-6g", "blank": "29.60 mm", "tool_radius": "0.45 mm"},
    {"thread": "M30x3.5-6g", "blank": "29.85 mm", "tool_flat": "0.30 mm", "infeed": "straight"},
    {"thread": "M27x3-6g", "compound_angle": "20 deg"},
    {"thread": "1-8 UNC-2A", "tool_flat": "0.3 mm"},
    {"thread": "1/2 BSW", "tool_radius": "0.29 mm"},
    {"thread": "G1/2 A", "tool_radius": "0.24 mm"},
    {"thread": "0 BA", "tool_radius": "0.17 mm"},
    {"thread": "Tr20x4-7e", "tool_flat": "1.3 mm"},
    {"thread": "3/4-6 Acme-2G", "tool_flat": "1.4 mm"},
    {"form": "55 deg", "major": "30 mm", "pitch": "3 mm"},
]


@pytest.mark.parametrize("table", TABLES, ids=str)
def test_a_thread_simulated_from_the_plan_has_the_planned_pitch_diameter(table: dict[str, Any]) -> None:
    """Cut with all settings of the plan, the thread has the wanted pitch diameter to the nearest mark."""
    job, plan = job_of(**table), plan_of(**table)
    _, radius = cut_profile(job, passes(job, **table))
    found = pitch_diameter_of(radius)
    left_mm = plan.figures["depth_mm"] - (cuts(plan)[-1].depth_mm or 0.0)
    assert found == pytest.approx(job.thread.wanted_pitch_diameter_mm + 2 * left_mm, abs=0.002)
    root_mm = plan.figures["root_mm"] + 2 * left_mm
    assert 2 * float(radius.min()) == pytest.approx(root_mm, abs=0.002)


@pytest.mark.parametrize("table", TABLES, ids=str)
def test_the_size_over_wires_in_the_simulated_thread_matches_the_prediction(table: dict[str, Any]) -> None:
    """Best wires sink into the groove until they touch. The size is that of the formula without the lead."""
    job = job_of(**table)
    done = passes(job, **table)
    x, radius = cut_profile(job, done)
    found = pitch_diameter_of(radius)
    wire_mm = best_wire_mm(job.thread.pitch_mm, job.thread.half_angle_deg)
    groove_at = (done[-1][1] + job.thread.pitch_mm / 2) % job.thread.pitch_mm - job.thread.pitch_mm / 2
    laid = over_wires_of(x, radius, wire_mm, groove_at)
    # Without lead: the formula for a thread so large that its lead angle does not count.
    flat_mm = over_wires_mm(500.0, wire_mm, job.thread) - 500.0
    assert laid - found == pytest.approx(flat_mm, abs=0.004)


def test_a_compound_angle_above_the_half_angle_makes_the_simulated_groove_too_wide() -> None:
    """At 35 degrees the simulated trailing flank is stepped, and the pitch diameter is too small."""
    table = {"thread": "M30x3.5-6g", "blank": "29.85 mm", "tool_flat": "0.30 mm", "compound_angle": "35 deg"}
    job = job_of(**table)
    _, radius = cut_profile(job, passes(job, **table))
    assert pitch_diameter_of(radius) < job.thread.wanted_pitch_diameter_mm - 0.1
