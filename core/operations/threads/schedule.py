"""The division of a thread's depth into passes of about equal chip area, in whole marks of the infeed dial.

The turner can set whole marks only. Equal areas keep the load on the tool's edge even while the groove grows wider.
"""

import math
from collections.abc import Sequence
from itertools import accumulate, pairwise
from typing import NamedTuple

from core.operations.threads.groove import ToolTip
from core.operations.threads.thread import LengthText
from core.values.quantities import mm_text

_TRIALS, _CLOSE_MARKS, _CLOSE_SHARE = 40, 1e-6, 1e-7


class PassLimits(NamedTuple):
    """The depths of the deepest and of the lightest allowed pass, on the radius [mm]."""

    deepest_mm: float
    lightest_mm: float


class Schedule(NamedTuple):
    """The passes of a thread. Each pass is given as the dial mark that it reaches, counted from the start of the
    schedule.
    """

    marks: tuple[int, ...]
    note: str = ""
    """A sentence about a wish that the schedule could not follow; "" if the schedule follows all."""


def schedule(
    *,
    total_marks: int,
    mark_mm: float,
    passes: int | None,
    usual_passes: int,
    limits: PassLimits,
    tip: ToolTip,
    start_mm: float = 0.0,
    length_text: LengthText = mm_text,
) -> Schedule:
    """Return the passes that deepen the groove by `total_marks` marks, from a depth of `start_mm`.

    mark_mm: the depth of one mark on the radius [mm]. passes: the number of passes that the user wants; if None, it is
    `usual_passes`, changed if the limits require this. Passes stay within the limits, and no pass is more than one mark
    deeper than the pass before it. The only exception is a total too small for one such pass. `length_text`: a function
    that returns a length [mm] as text, for the schedule's note.
    """
    if total_marks <= 0:
        return Schedule(marks=())
    most, least = _mark_bounds(mark_mm, limits)
    count = pass_count(total_marks, mark_mm, passes or usual_passes, limits)
    steps = _even_area_steps(total_marks, mark_mm, count, (least, most), tip, start_mm)
    return Schedule(
        marks=_whole_marks(steps, total_marks, count),
        note=_note(passes, count, math.ceil(total_marks / most), limits, mark_mm, length_text),
    )


def pass_count(total_marks: int, mark_mm: float, wanted: int, limits: PassLimits) -> int:
    """Return the number of passes for a depth of `total_marks`: the wanted number, changed if the limits require this.

    mark_mm: the depth of one mark on the radius [mm].

    >>> pass_count(100, 0.01, 3, PassLimits(deepest_mm=0.25, lightest_mm=0.03))
    4
    """
    most, least = _mark_bounds(mark_mm, limits)
    fewest = math.ceil(total_marks / most)
    largest = max(1, total_marks // least, fewest if total_marks < 2 * least else 1)
    return min(max(wanted, fewest), max(largest, fewest))


def usual_passes(pitch_mm: float, material: str | None) -> int:
    """Return the usual number of cutting passes for a pitch [mm] in a material.

    Mild steel needs about four passes, and four more for each millimetre of pitch. Free-cutting materials need fewer
    passes, and tough materials more. These numbers are common practice, without a source.

    >>> usual_passes(3.5, "mild steel"), usual_passes(1.5, "aluminium"), usual_passes(2, "stainless steel")
    (18, 8, 16)
    """
    factor = 1.0
    words = (material or "").casefold()
    if any(name in words for name in _EASY):
        factor = 0.75
    elif any(name in words for name in _TOUGH):
        factor = 1.3
    return max(3, round(factor * (4 + 4 * pitch_mm)))


_EASY = ("alumin", "brass", "plastic", "acetal", "nylon", "ptfe", "polyeth", "wood")
_TOUGH = ("stainless", "tool steel", "titan", "nickel", "silver steel", "hard", "chrome")


def loads_both_flanks_badly(material: str | None) -> bool:
    """Return True if a tool that cuts on both flanks at once causes trouble in a material.

    Plastics, aluminium and brass cause no trouble.
    """
    return not any(name in (material or "").casefold() for name in _EASY)


def passes_left(planned: Sequence[int], left: int, mark_mm: float, limits: PassLimits) -> tuple[int, ...]:
    """Return the passes for the last `left` marks of a schedule, counted from the first of these marks.

    `planned`: the schedule, as the mark reached after each pass. `mark_mm`: the depth of one mark on the radius [mm].
    The result follows the schedule backwards from its end. So no pass is deeper than the scheduled pass at the same
    depth, and the last passes stay light. If the first pass would be too light, it shares its marks with the next pass.
    If more marks remain than were planned, extra passes like the first one precede the others.

    >>> passes_left((10, 18, 24, 28), 14, 0.02, PassLimits(deepest_mm=0.25, lightest_mm=0.03))
    (4, 10, 14)
    """
    sizes = [after - before for before, after in pairwise((0, *planned))]
    passes: list[int] = []
    for size in reversed(sizes):
        if left > 0:
            passes.insert(0, min(size, left))
            left -= size
    if left > 0:
        passes = [*_even_split(left, sizes[0]), *passes]
    _, least = _mark_bounds(mark_mm, limits)
    if len(passes) > 1 and passes[0] < min(least, passes[1]):
        passes[:2] = _even_split(passes[0] + passes[1], passes[1])
    return tuple(accumulate(passes))


def _even_split(marks: int, most: int) -> list[int]:
    """Return `marks` divided into as few parts as possible, the larger parts first. No part has more than `most` marks.

    The parts differ by one mark or less.
    """
    count = math.ceil(marks / most)
    return [marks // count + (number < marks % count) for number in range(count)]


def _mark_bounds(mark_mm: float, limits: PassLimits) -> tuple[int, int]:
    """Return the most and the fewest marks that a pass may cut. Both are at least 1."""
    most = max(1, math.floor(limits.deepest_mm / mark_mm + 1e-9))
    least = max(1, math.ceil(limits.lightest_mm / mark_mm - 1e-9))
    # With a coarse dial, there may be no whole number of marks between the limits. Then the deepest pass decides.
    return most, min(least, most)


def _even_area_steps(
    total: int, mark_mm: float, count: int, bounds: tuple[int, int], tip: ToolTip, start_mm: float
) -> list[float]:
    """Return the number of marks for each pass, not yet rounded, so that all passes cut equal areas within the bounds.

    The final depth grows with the area of a pass, so the right area lies between an area that is too small and one that
    is too large. If no pass meets a bound, each area is an equal share. Otherwise the function searches by
    straight-line interpolation between the two areas. `total`: all marks to cut. `count`: the number of passes.
    `bounds`: the most and the fewest marks of a pass.
    """
    whole_mm2 = tip.area_mm2(start_mm + total * mark_mm)
    low, high = (0.0, float(count * bounds[0] - total)), (whole_mm2, float(count * bounds[1] - total))
    area = (whole_mm2 - tip.area_mm2(start_mm)) / count
    steps: list[float] = []
    off = 0.0
    for _ in range(_TRIALS):
        before = off
        steps = _steps_of_area(area, mark_mm, count, bounds, tip, start_mm)
        off = sum(steps) - total
        if abs(off) < _CLOSE_MARKS or high[0] - low[0] < whole_mm2 * _CLOSE_SHARE:
            break
        # An end of the interval that is kept twice counts half; otherwise the search would stay at that end.
        kept = 0.5 if off * before > 0 else 1.0
        low, high = ((area, off), (high[0], high[1] * kept)) if off < 0 else ((low[0], low[1] * kept), (area, off))
        area = (low[0] * high[1] - high[0] * low[1]) / (high[1] - low[1]) if high[1] > low[1] else low[0]
    return steps


def _steps_of_area(
    area_mm2: float, mark_mm: float, count: int, bounds: tuple[int, int], tip: ToolTip, start_mm: float
) -> list[float]:
    least, most = bounds
    steps, depth_mm = [], start_mm
    for _ in range(count):
        wanted_mm = tip.height_mm(tip.area_mm2(depth_mm) + area_mm2) - depth_mm
        step = min(max(wanted_mm / mark_mm, least), most)
        steps.append(step)
        depth_mm += step * mark_mm
    return steps


def _whole_marks(steps: list[float], total: int, count: int) -> tuple[int, ...]:
    """Return the depth after each pass in whole marks. The last depth is exactly the wanted depth.

    The function rounds the depths instead of the steps from one depth to the next, so rounding errors cannot add up. If
    the steps never grow, the rounded steps never grow by more than one mark. `steps`: the marks of each pass. `total`:
    all marks.
    """
    reached, marks = 0.0, []
    for step in steps:
        reached += step
        marks.append(round(reached))
    marks[-1] = total
    return tuple(marks) if count > 1 else (total,)


def _note(
    wanted: int | None, count: int, fewest: int, limits: PassLimits, mark_mm: float, length_text: LengthText
) -> str:
    if limits.deepest_mm < mark_mm * (1 - 1e-9):
        return (
            f"One mark of this dial cuts {length_text(mark_mm)} deep, more than the deepest pass of "
            f"{length_text(limits.deepest_mm)}. Every pass is one mark deep."
        )
    if wanted is None or wanted == count:
        return ""
    if wanted < fewest:
        return (
            f"{wanted} passes are too few for a deepest pass of {length_text(limits.deepest_mm)}. The plan has "
            f"{fewest} passes, the fewest that are possible."
        )
    return (
        f"{wanted} passes would be lighter than {length_text(limits.lightest_mm)}. The plan has {count} passes, the "
        "most that are possible."
    )
