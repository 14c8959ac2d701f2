"""A thread's groove while it is cut: what the passes done have left, the pass at hand, the tool, what is wanted.

All to scale, in mm, the flanks at the angle of the tool's form: x along the axis from the middle of
the finished groove, y away from the turner. An outside groove deepens away from him, one in a bore towards him.
"""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from core.drawing import Area, Bounds, Drawing, Name, Point, Stroke
from core.lathe.lathe import Lathe
from core.operations.threads.cut_direction import leading_side
from core.operations.threads.job import ThreadJob
from core.operations.threads.outline import crest_height_mm
from core.values.quantities import number_text

_NOSE_POINTS = 6
_SAME_MM = 1e-6
"""Depths no further apart are one."""
_HALF_WINDOW_PITCHES = 0.75
_TOOL_ABOVE, _BELOW = 0.3, 0.2
"""Room beyond the surface, and beyond the root, as parts of the pitch."""


class GrooveNow(NamedTuple):
    """How far a groove has come. Depths on the radius [mm], as the plan counts them."""

    done_mm: Sequence[float]
    """After each pass done, in order."""
    now_mm: float
    """Reached, by the last pass or a measurement after it."""
    next_mm: float | None = None
    """Of the pass at hand; None where none is cut now."""
    touches: bool = False
    """The tool is at the work, to be touched off."""


def groove_drawing(job: ThreadJob, lathe: Lathe, groove: GrooveNow) -> Drawing:
    """Return a thread to be drawn at one step of it; raises PlanError for a tool or blank that cannot make it."""
    pitch_mm, whole_mm = job.thread.pitch_mm, job.groove.depth_mm
    half, surface = _HALF_WINDOW_PITCHES * pitch_mm, 0.0
    sense = -1.0 if job.thread.internal else 1.0
    now, wanted = _open_line(job, groove.now_mm, half), _open_line(job, whole_mm, half)
    deepest_mm = max(whole_mm, groove.now_mm, groove.next_mm or 0.0) + _BELOW * pitch_mm
    metal = (*now, (half, deepest_mm), (-half, deepest_mm))
    strokes = [Stroke(wanted, "wanted"), Stroke(((-half, surface), (half, surface)), "faint")]
    strokes += [
        Stroke(_cut_line(job, depth), "faint", fine=True)
        for depth in groove.done_mm
        if depth < groove.now_mm - _SAME_MM
    ]
    strokes.append(Stroke(now))
    areas = [Area(metal, "metal")]
    if groove.next_mm is not None and groove.next_mm > groove.now_mm:
        areas.append(Area(_between(job, groove.now_mm, groove.next_mm), "this pass"))
    tool_mm = groove.now_mm if groove.touches else groove.next_mm
    if tool_mm is not None:
        strokes.append(Stroke(_tool_line(job, tool_mm), "tool"))
    near = 0.08 * pitch_mm
    names = [
        Name("surface", (-half, -near * sense), "left"),
        Name("wanted", (half, sense * (whole_mm + near)), "right"),
    ]
    lower, upper = sorted((-sense * _TOOL_ABOVE * pitch_mm, sense * deepest_mm))
    return Drawing(
        bounds=Bounds(-half, half, lower, upper),
        strokes=tuple(stroke._replace(points=_lying(stroke.points, sense)) for stroke in strokes),
        areas=tuple(area._replace(points=_lying(area.points, sense)) for area in areas),
        names=tuple(names),
        sentences=tuple(_says(job, lathe, groove)),
        viewpoint="Seen from above, you below; to scale.",
    )


def middle_mm(job: ThreadJob, depth_mm: float) -> float:
    """Return where the tool's point is along the axis at a depth [mm], from the middle of the finished groove.

    A compound swung off square takes it towards the leading side as it feeds: by depth times the tangent.
    """
    if job.compound_angle_deg is None:
        return 0.0
    to_the_left = leading_side(job) == "left"
    beside_mm = (job.groove.depth_mm - depth_mm) * math.tan(math.radians(job.compound_angle_deg))
    return beside_mm if to_the_left else -beside_mm


def _lying(points: tuple[Point, ...], sense: float) -> tuple[Point, ...]:
    return tuple((x, sense * deep) for x, deep in points)


def _cut_line(job: ThreadJob, depth_mm: float) -> tuple[Point, ...]:
    """Return the groove at a depth, from the surface on the left round its root to the surface on the right."""
    if depth_mm <= 0:
        return ()
    return _side(job, depth_mm, min(depth_mm, crest_height_mm(job.tip, job.thread.pitch_mm)))


def _tool_line(job: ThreadJob, depth_mm: float) -> tuple[Point, ...]:
    """Return the tool with its point at a depth, up to where it leaves the picture."""
    return _side(job, depth_mm, depth_mm + _TOOL_ABOVE * job.thread.pitch_mm)


def _side(job: ThreadJob, depth_mm: float, height_mm: float) -> tuple[Point, ...]:
    """Return both flanks of the tool at a depth, up to a height above its point."""
    tip, middle = job.tip, middle_mm(job, depth_mm)
    nose_mm = min(tip.round_height_mm, height_mm)
    heights = [nose_mm * number / _NOSE_POINTS for number in range(1, _NOSE_POINTS + 1)] if nose_mm else []
    half = [(tip.flat_mm / 2, 0.0), *((tip.width_mm(up) / 2, up) for up in (*heights, height_mm))]
    left = [(middle - x, depth_mm - up) for x, up in reversed(half)]
    return (*left, *((middle + x, depth_mm - up) for x, up in half))


def _open_line(job: ThreadJob, depth_mm: float, half_mm: float) -> tuple[Point, ...]:
    """Return surface, groove, surface, with the grooves beside it where one start makes them all."""
    one, pitch_mm = _cut_line(job, depth_mm), job.thread.pitch_mm
    if not one:
        return (-half_mm, 0.0), (half_mm, 0.0)
    beside = (-1, 0, 1) if job.thread.starts == 1 else (0,)
    grooves = [(x + number * pitch_mm, deep) for number in beside for x, deep in one]
    points = [(x, deep) for x, deep in grooves if -half_mm <= x <= half_mm]
    return (_edge(grooves, -half_mm), *points, _edge(grooves, half_mm))


def _edge(line: Sequence[Point], x_mm: float) -> Point:
    """Return where a line from left to right passes a place along the axis; the surface beyond its ends."""
    for (x1, deep1), (x2, deep2) in pairwise(line):
        if x1 <= x_mm <= x2 and x2 > x1:
            return x_mm, deep1 + (deep2 - deep1) * (x_mm - x1) / (x2 - x1)
    return x_mm, 0.0


def _between(job: ThreadJob, from_mm: float, to_mm: float) -> tuple[Point, ...]:
    """Return what a pass takes: the deeper groove without the one before."""
    before = _cut_line(job, from_mm)
    return (*_cut_line(job, to_mm), *reversed(before)) if before else _cut_line(job, to_mm)


def _says(job: ThreadJob, lathe: Lathe, groove: GrooveNow) -> list[str]:
    """Return depths in numbers, form and way of infeed."""
    form = f"{number_text(2 * job.thread.half_angle_deg, 2)}° form"
    if job.compound_angle_deg is None:
        feed = "fed straight in: both flanks cut"
    else:
        feed = f"fed along {number_text(job.compound_angle_deg, 2)}°: the {leading_side(job)} flank cuts"
    next_words = "" if groove.next_mm is None else f", this pass to {lathe.length_text(groove.next_mm)}"
    depths = f"Depth {lathe.length_text(groove.now_mm)}{next_words}; wanted {lathe.length_text(job.groove.depth_mm)}."
    return [depths, f"{form}, {feed}."]
