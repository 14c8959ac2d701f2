"""Drawings of a thread to scale: the outline at full depth, and the groove at each step.

Lengths are in mm, and the flanks have the angle of the tool. The x axis runs along the work, from the middle of the
finished groove. The y axis points away from the turner. So a groove in a shaft deepens in the direction of y, and a
groove in a bore in the opposite direction.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from core.cutting import depth_now_mm
from core.drawing import Area, Bounds, Drawing, Name, Point, Stroke
from core.events.state import State
from core.lathe.lathe import Lathe
from core.operations.compound_drawing import swing_drawing
from core.operations.threads.carriage_travel import leading_side
from core.operations.threads.compound import swing_of
from core.operations.threads.groove import ToolTip
from core.operations.threads.job import ThreadJob
from core.plan import Step
from core.values.quantities import number_text

_OUTLINE_NOSE_POINTS, _STEP_NOSE_POINTS = 8, 6
"""Points on each side of a rounded nose, in the outline at full depth and in the groove at a step."""
_GROOVES = (-1, 0, 1)
_WINDOW_PITCHES = 1.15
_TOOL_ABOVE_PITCHES = 0.4
"""How far the drawn tool reaches beyond the surface, in pitches."""


class Level(NamedTuple):
    """A labelled height in the outline of a thread: a limit of size or a basic size."""

    name: str
    y_mm: float


class ThreadOutline(NamedTuple):
    """Three adjacent grooves of a thread, the tool in the middle groove, and the heights of the limits of size."""

    profile: tuple[Point, ...]
    tool: tuple[Point, ...]
    levels: tuple[Level, ...]
    x_mm: float
    """How much of the axis the drawing shows, to each side of 0."""
    y_least_mm: float
    y_most_mm: float


def thread_outline(job: ThreadJob) -> ThreadOutline:
    """Return the outline of a thread at full depth. The flanks have the angle of the tool.

    Raise PlanError if the tool or the blank cannot make the thread.
    """
    pitch_mm, groove = job.thread.pitch_mm, job.groove
    into = 1.0 if job.thread.internal else -1.0
    root_mm = into * groove.depth_mm
    highest_mm = min(groove.depth_mm, crest_height_mm(job.tip, pitch_mm))
    side = _flank(job.tip, highest_mm)
    profile = [
        (number * pitch_mm + sense * x, root_mm - into * height)
        for number in _GROOVES
        for sense, points in ((-1, side[::-1]), (1, side))
        for x, height in points
    ]
    above_mm = groove.depth_mm + _TOOL_ABOVE_PITCHES * pitch_mm
    whole = _flank(job.tip, above_mm)
    tool = [(sense * x, root_mm - into * y) for sense, points in ((-1, whole[::-1]), (1, whole)) for x, y in points]
    levels = tuple(_levels(job))
    heights = [y for _, y in (*profile, *tool)] + [level.y_mm for level in levels]
    return ThreadOutline(
        profile=_without_repeats(profile),
        tool=_without_repeats(tool),
        levels=levels,
        x_mm=_WINDOW_PITCHES * pitch_mm,
        y_least_mm=min(heights),
        y_most_mm=max(heights),
    )


def overview(job: ThreadJob, lathe: Lathe) -> tuple[tuple[str, Drawing], ...]:
    """Return pairs of a title and a drawing: the thread at full depth and, if the compound is swung, the compound from
    above.
    """
    outline, swung = thread_outline(job), swing_of(job)
    left_mm, right_mm = -outline.x_mm, outline.x_mm
    drawing = Drawing(
        bounds=Bounds(left_mm, right_mm, outline.y_least_mm, outline.y_most_mm),
        strokes=(
            *(Stroke(((left_mm, level.y_mm), (right_mm, level.y_mm)), "faint") for level in outline.levels),
            Stroke(outline.profile),
            Stroke(outline.tool, "tool", closed=True),
        ),
        # Two limits are so close together in the drawing that one name is enough.
        names=tuple(
            Name(name, (right_mm, y_mm), "right")
            for name, y_mm in {one.name: one.y_mm for one in outline.levels}.items()
        ),
    )
    named = [("The thread and the tool at full depth, to scale", drawing)]
    if swung.read:
        named.append(("The compound from above; the chuck is on the left", swing_drawing(swung, lathe)))
    return tuple(named)


def _flank(tip: ToolTip, highest_mm: float, nose_points: int = _OUTLINE_NOSE_POINTS) -> list[Point]:
    """Return one side of the tool, from the tip upwards. Each point is half the width and the height above the tip
    [mm].
    """
    nose_mm = min(tip.round_height_mm, highest_mm)
    heights = [nose_mm * number / nose_points for number in range(1, nose_points + 1)] if nose_mm else []
    points = [(tip.flat_mm / 2, 0.0), *((tip.width_mm(height) / 2, height) for height in heights)]
    return [*points, (tip.width_mm(highest_mm) / 2, highest_mm)]


def crest_height_mm(tip: ToolTip, pitch_mm: float) -> float:
    """Return the height above the tip [mm] at which neighbouring grooves would meet in a sharp crest."""
    return pitch_mm / (2 * tip.tan) - tip.shortfall_mm


def _levels(job: ThreadJob) -> list[Level]:
    """Return the heights of the limits of pitch diameter and crest diameter. A diameter without limits has its basic
    size.
    """
    thread = job.thread
    limits = thread.limits
    if thread.internal:
        name, basic = "minor", thread.minor_basic_mm
        crest = (limits.minor_max_mm, limits.minor_min_mm)
    else:
        name, basic = "major", thread.major_basic_mm
        crest = (limits.major_max_mm, limits.major_min_mm)
    pitch = (limits.pitch_diameter_max_mm, limits.pitch_diameter_min_mm)
    return [
        *_pair(name, crest, basic, job.blank_mm),
        *_pair("pitch dia", pitch, thread.pitch_diameter_basic_mm, job.blank_mm),
    ]


def _pair(name: str, sizes: tuple[float | None, float | None], basic_mm: float, blank_mm: float) -> list[Level]:
    shown = [size for size in sizes if size is not None] or [basic_mm]
    return [Level(name=name, y_mm=(size - blank_mm) / 2) for size in shown]


def _without_repeats(points: Sequence[Point]) -> tuple[Point, ...]:
    return (points[0], *(after for before, after in pairwise(points) if after != before))


_SAME_MM = 1e-6
"""Depths that differ by less count as the same."""
_HALF_WINDOW_PITCHES = 0.75
_TOOL_ABOVE, _BELOW = 0.3, 0.2
"""Room above the surface and below the root, in pitches."""


class GrooveState(NamedTuple):
    """The depths of a groove before a step, measured on the radius from the surface of the blank [mm]."""

    done_mm: Sequence[float]
    """The depth after each completed pass, in order."""
    now_mm: float
    """The present depth, from the last pass or from a later measurement."""
    next_mm: float | None = None
    """The depth after the current pass; None if this step cuts nothing."""
    touches: bool = False
    """True if the tool touches off on the work at this step."""


def groove_drawing(job: ThreadJob, lathe: Lathe, groove: GrooveState) -> Drawing:
    """Return the drawing of a thread before one step. Raise PlanError if the tool or blank cannot make the thread."""
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
        strokes=tuple(stroke._replace(points=_drawn_points(stroke.points, sense)) for stroke in strokes),
        areas=tuple(area._replace(points=_drawn_points(area.points, sense)) for area in areas),
        names=tuple(names),
        sentences=tuple(_sentences(job, lathe, groove)),
        viewpoint="Seen from above, you at the bottom; to scale.",
    )


def middle_mm(job: ThreadJob, depth_mm: float) -> float:
    """Return the axial position of the tool's point at a depth [mm], from the middle of the finished groove.

    A compound swung off square moves the point towards the leading side of the tool, by the depth times the tangent of
    the angle.
    """
    if job.compound_angle_deg is None:
        return 0.0
    to_the_left = leading_side(job) == "left"
    beside_mm = (job.groove.depth_mm - depth_mm) * math.tan(math.radians(job.compound_angle_deg))
    return beside_mm if to_the_left else -beside_mm


def _drawn_points(points: tuple[Point, ...], sense: float) -> tuple[Point, ...]:
    return tuple((x, sense * deep) for x, deep in points)


def _cut_line(job: ThreadJob, depth_mm: float) -> tuple[Point, ...]:
    """Return the outline of a groove of this depth, from its left edge to its right edge at the surface of the
    blank.
    """
    if depth_mm <= 0:
        return ()
    return _side(job, depth_mm, min(depth_mm, crest_height_mm(job.tip, job.thread.pitch_mm)))


def _tool_line(job: ThreadJob, depth_mm: float) -> tuple[Point, ...]:
    """Return the outline of the tool with its point at this depth. The outline ends at the edge of the drawing."""
    return _side(job, depth_mm, depth_mm + _TOOL_ABOVE * job.thread.pitch_mm)


def _side(job: ThreadJob, depth_mm: float, height_mm: float) -> tuple[Point, ...]:
    """Return the points of both flanks of the tool, up to a height above its point.

    `depth_mm`: the depth of the point.
    """
    middle, half = middle_mm(job, depth_mm), _flank(job.tip, height_mm, _STEP_NOSE_POINTS)
    left = [(middle - x, depth_mm - up) for x, up in reversed(half)]
    return (*left, *((middle + x, depth_mm - up) for x, up in half))


def _open_line(job: ThreadJob, depth_mm: float, half_mm: float) -> tuple[Point, ...]:
    """Return the outline of the surface with a groove of this depth; for a single-start thread, with the two
    neighbouring grooves as well.

    `half_mm`: half the width of the drawing [mm].
    """
    one, pitch_mm = _cut_line(job, depth_mm), job.thread.pitch_mm
    if not one:
        return (-half_mm, 0.0), (half_mm, 0.0)
    beside = (-1, 0, 1) if job.thread.starts == 1 else (0,)
    grooves = [(x + number * pitch_mm, deep) for number in beside for x, deep in one]
    points = [(x, deep) for x, deep in grooves if -half_mm <= x <= half_mm]
    return (_edge(grooves, -half_mm), *points, _edge(grooves, half_mm))


def _edge(line: Sequence[Point], x_mm: float) -> Point:
    """Return the point of an outline at an axial position.

    Beyond the ends of the outline, the point is on the surface.
    """
    for (x1, deep1), (x2, deep2) in pairwise(line):
        if x1 <= x_mm <= x2 and x2 > x1:
            return x_mm, deep1 + (deep2 - deep1) * (x_mm - x1) / (x2 - x1)
    return x_mm, 0.0


def _between(job: ThreadJob, from_mm: float, to_mm: float) -> tuple[Point, ...]:
    """Return the outline of the metal that a pass removes, between the groove before the pass and the groove after
    it.
    """
    before = _cut_line(job, from_mm)
    return (*_cut_line(job, to_mm), *reversed(before)) if before else _cut_line(job, to_mm)


def _sentences(job: ThreadJob, lathe: Lathe, groove: GrooveState) -> list[str]:
    """Return the sentences shown below the drawing, about the depths, the tool and the infeed."""
    form = f"{number_text(2 * job.thread.half_angle_deg, 2)}° form"
    if job.compound_angle_deg is None:
        feed = "fed straight in: both flanks cut"
    else:
        feed = f"fed along {number_text(job.compound_angle_deg, 2)}°: the {leading_side(job)} flank cuts"
    next_words = "" if groove.next_mm is None else f", after this pass {lathe.length_text(groove.next_mm)}"
    depths = f"Depth {lathe.length_text(groove.now_mm)}{next_words}, wanted {lathe.length_text(job.groove.depth_mm)}."
    return [depths, f"{form}, {feed}."]


def thread_drawings(job: ThreadJob, lathe: Lathe) -> Callable[[State, Step], Drawing | None]:
    """Return a function that draws the thread as it is before a step. For a step without a drawing, the function
    returns None.
    """

    def drawn(state: State, step: Step) -> Drawing | None:
        if step.action == "set" and not step.settings:
            swung = swing_of(job)
            return swing_drawing(swung, lathe) if swung.read and not step.thread_start else None
        if (step.action == "check" and not step.settings) or (
            step.zeroed_dials and "cross_slide" not in step.zeroed_dials
        ):
            return None
        done = tuple(_depths_of_start(state))[::-1]
        next_mm = step.depth_mm if step.action in {"cut", "spring"} else _scratch_mm(job, lathe, step)
        now_mm = depth_now_mm(state.open_steps(), state.depth_mm if done else None)
        return groove_drawing(job, lathe, GrooveState(done, now_mm, next_mm, touches=bool(step.zeroed_dials)))

    return drawn


def _depths_of_start(state: State) -> Iterator[float]:
    """Yield the depth after each completed pass of the current thread start [mm], the latest pass first."""
    for step in state.done_latest_first():
        if step.thread_start:
            return
        if step.depth_mm is not None:
            yield step.depth_mm


def _scratch_mm(job: ThreadJob, lathe: Lathe, step: Step) -> float | None:
    """Return the depth of a scratch pass [mm]; None for any other step."""
    infeed = job.infeed(lathe)
    setting = step.setting(infeed.dial.name)
    if step.action != "check" or setting is None:
        return None
    return infeed.depth_mm(infeed.marks_at(setting.position))
