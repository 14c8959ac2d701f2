"""The outline of a thread as a tool cuts it, for a picture to scale.

Lengths in mm: x along the axis from the middle of one groove, y outwards from
the surface of the blank (of the bore), so that a groove in a shaft lies below 0
and one in a bore above.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from core.operations.threads.job import ThreadJob
from core.operations.threads.tool import ToolTip

Point = tuple[float, float]

_NOSE_POINTS = 8
"""Points on each side of a rounded nose."""
_GROOVES = (-1, 0, 1)
_WINDOW_PITCHES = 1.15
_TOOL_ABOVE_PITCHES = 0.4
"""How far the tool is drawn beyond the surface."""


class Level(NamedTuple):
    """A limit of size, or a basic size, as the height of a line."""

    name: str
    y_mm: float


class ThreadOutline(NamedTuple):
    """Three grooves and the tool in the middle one, with the sizes that decide."""

    profile: tuple[Point, ...]
    tool: tuple[Point, ...]
    levels: tuple[Level, ...]
    x_mm: float
    """Half of the width worth showing, to either side of 0."""
    y_least_mm: float
    y_most_mm: float


def thread_outline(job: ThreadJob) -> ThreadOutline:
    """Return the outline of a thread at its full depth; flanks as the tool's, not stepped by too large an angle.

    Raises PlanError for a tool or a blank that cannot make the thread.
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


def _flank(tip: ToolTip, highest_mm: float) -> list[Point]:
    """Return one side of the tool from its tip up: (half width, height above the tip)."""
    nose_mm = min(tip.round_height_mm, highest_mm)
    heights = [nose_mm * number / _NOSE_POINTS for number in range(1, _NOSE_POINTS + 1)] if nose_mm else []
    points = [(tip.flat_mm / 2, 0.0), *((tip.width_mm(height) / 2, height) for height in heights)]
    return [*points, (tip.width_mm(highest_mm) / 2, highest_mm)]


def crest_height_mm(tip: ToolTip, pitch_mm: float) -> float:
    """Return the height above the tip at which neighbouring grooves meet and leave a sharp crest."""
    return pitch_mm / (2 * tip.tan) - tip.shortfall_mm


def _levels(job: ThreadJob) -> list[Level]:
    """Return the limits of pitch diameter and crest; where the standard has none, the basic sizes."""
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
    given = [size for size in sizes if size is not None] or [basic_mm]
    return [Level(name=name, y_mm=(size - blank_mm) / 2) for size in given]


def _without_repeats(points: Sequence[Point]) -> tuple[Point, ...]:
    return (points[0], *(after for before, after in pairwise(points) if after != before))
