"""Calculates the land: the part of a blank's face that no groove covers.

Parallel lines cross the face. On each line every groove covers exact intervals, and the union of all intervals is the
cut part. The method is derived here, not taken from a source. Lengths in mm.
"""

import math
from collections.abc import Iterator, Sequence

from core.operations.patterns.elements import Element

_LINES = 400
_LEAST_LINES = 32
_MOST_INTERVALS = 200_000
"""The most intervals on all lines. A larger pattern gets fewer lines, and the land is still right to 0.5 %."""

Interval = tuple[float, float]


def land_percent(grooves: Sequence[Element], blank_diameter_mm: float) -> float | None:
    """Return the part of a blank's face that no groove covers [%], accurate to 0.5 %.

    Return None if the width of any groove is unknown.
    """
    if any(groove.width_mm is None for groove in grooves):
        return None
    radius_mm, lines = blank_diameter_mm / 2, _line_count(grooves, blank_diameter_mm)
    step_mm = blank_diameter_mm / lines
    covered: list[list[Interval]] = [[] for _ in range(lines)]
    for groove in grooves:
        _cover(groove, covered, radius_mm, step_mm)
    face_mm = land_mm = 0.0
    for index, intervals in enumerate(covered):
        half_mm = _half_chord(radius_mm, (index + 0.5) * step_mm - radius_mm)
        face_mm += 2 * half_mm
        land_mm += 2 * half_mm - _union_mm(intervals, half_mm)
    return 100 * land_mm / face_mm


def _line_count(grooves: Sequence[Element], blank_diameter_mm: float) -> int:
    heights_mm = sum(_height_mm(groove) for groove in grooves)
    intervals_a_line = 2 * heights_mm / blank_diameter_mm
    return max(_LEAST_LINES, min(_LINES, int(_MOST_INTERVALS / max(intervals_a_line, 1.0))))


def _height_mm(groove: Element) -> float:
    width_mm = groove.width_mm or 0.0
    if groove.to_y_mm is not None:
        return abs(groove.to_y_mm - groove.y_mm) + width_mm
    return 2 * groove.line_radius_mm + width_mm


def _union_mm(intervals: list[Interval], half_mm: float) -> float:
    """Return the total length of a line from -half_mm to half_mm that the intervals cover [mm]."""
    intervals.sort()
    covered_mm, reached_mm = 0.0, -half_mm
    for first_mm, last_mm in intervals:
        if last_mm > reached_mm:
            covered_mm += min(last_mm, half_mm) - min(max(first_mm, reached_mm), half_mm)
            reached_mm = last_mm
            if reached_mm >= half_mm:
                break
    return covered_mm


def _half_chord(radius_mm: float, away_mm: float) -> float:
    return math.sqrt(max(0.0, radius_mm**2 - away_mm**2))


def _cover(groove: Element, covered: list[list[Interval]], face_mm: float, step_mm: float) -> None:
    """Add the intervals that one groove covers on each line.

    `covered`: one list of intervals for each line. `face_mm`: the radius of the face. `step_mm`: the distance between
    two lines.
    """
    half_mm = (groove.width_mm or 0.0) / 2
    if groove.shape == "circle":
        _cover_ring(covered, groove.x_mm, groove.y_mm, groove.radius_mm or 0.0, half_mm, face_mm, step_mm)
    elif groove.shape == "arc":
        _cover_arc(covered, groove, half_mm, face_mm, step_mm)
    else:
        if groove.to_x_mm is not None and groove.to_y_mm is not None:
            _cover_slot(covered, groove, half_mm, face_mm, step_mm)
            _cover_ring(covered, groove.to_x_mm, groove.to_y_mm, 0.0, half_mm, face_mm, step_mm)
        _cover_ring(covered, groove.x_mm, groove.y_mm, 0.0, half_mm, face_mm, step_mm)


def _lines_between(
    lines: int, low_mm: float, high_mm: float, face_mm: float, step_mm: float
) -> Iterator[tuple[int, float]]:
    first = max(0, math.ceil((low_mm + face_mm) / step_mm - 0.5))
    last = min(lines - 1, math.floor((high_mm + face_mm) / step_mm - 0.5))
    for index in range(first, last + 1):
        yield index, (index + 0.5) * step_mm - face_mm


def _cover_ring(
    covered: list[list[Interval]],
    x_mm: float,
    y_mm: float,
    radius_mm: float,
    half_mm: float,
    face_mm: float,
    step_mm: float,
) -> None:
    outer_mm, inner_mm = radius_mm + half_mm, max(0.0, radius_mm - half_mm)
    outer_2, inner_2, sqrt = outer_mm**2, inner_mm**2, math.sqrt
    # For speed, this innermost loop repeats the code of `_lines_between`.
    first = max(0, math.ceil((y_mm - outer_mm + face_mm) / step_mm - 0.5))
    last = min(len(covered) - 1, math.floor((y_mm + outer_mm + face_mm) / step_mm - 0.5))
    for index, line in enumerate(covered[first : last + 1], start=first):
        away_2 = ((index + 0.5) * step_mm - face_mm - y_mm) ** 2
        far_mm = sqrt(outer_2 - away_2) if away_2 < outer_2 else 0.0
        if away_2 < inner_2:
            near_mm = sqrt(inner_2 - away_2)
            line.append((x_mm - far_mm, x_mm - near_mm))
            line.append((x_mm + near_mm, x_mm + far_mm))
        else:
            line.append((x_mm - far_mm, x_mm + far_mm))


def _cover_slot(covered: list[list[Interval]], slot: Element, half_mm: float, face_mm: float, step_mm: float) -> None:
    """Add the straight part of a slot, which is a rectangle. The round ends are added as dots by `_cover`.

    `covered`: one list of intervals for each line. `half_mm`: half the groove's width. `face_mm`: the radius of the
    face. `step_mm`: the distance between two lines.
    """
    along_x, along_y = (slot.to_x_mm or 0.0) - slot.x_mm, (slot.to_y_mm or 0.0) - slot.y_mm
    length_mm = math.hypot(along_x, along_y)
    if not length_mm or not half_mm:
        return
    beside_x, beside_y = -along_y * half_mm / length_mm, along_x * half_mm / length_mm
    corners = [
        (slot.x_mm + beside_x, slot.y_mm + beside_y),
        (slot.x_mm - beside_x, slot.y_mm - beside_y),
        (slot.x_mm + along_x - beside_x, slot.y_mm + along_y - beside_y),
        (slot.x_mm + along_x + beside_x, slot.y_mm + along_y + beside_y),
    ]
    heights = [y_mm for _, y_mm in corners]
    for index, line_mm in _lines_between(len(covered), min(heights), max(heights), face_mm, step_mm):
        meets = [
            one_x + (other_x - one_x) * (line_mm - one_y) / (other_y - one_y)
            for (one_x, one_y), (other_x, other_y) in zip(corners, corners[1:] + corners[:1], strict=True)
            if one_y != other_y and min(one_y, other_y) <= line_mm <= max(one_y, other_y)
        ]
        if meets:
            covered[index].append((min(meets), max(meets)))


def _cover_arc(covered: list[list[Interval]], arc: Element, half_mm: float, face_mm: float, step_mm: float) -> None:
    centre_x, centre_y = arc.centre_x_mm or 0.0, arc.centre_y_mm or 0.0
    radius_mm, sweep = arc.line_radius_mm, math.radians(arc.sweep_deg or 0.0)
    if sweep >= math.tau:
        _cover_ring(covered, centre_x, centre_y, radius_mm, half_mm, face_mm, step_mm)
        return
    start = math.atan2(arc.y_mm - centre_y, arc.x_mm - centre_x)
    for angle in (start, start + sweep):
        end_x, end_y = centre_x + radius_mm * math.cos(angle), centre_y + radius_mm * math.sin(angle)
        _cover_ring(covered, end_x, end_y, 0.0, half_mm, face_mm, step_mm)
    outer_mm, inner_mm = radius_mm + half_mm, max(0.0, radius_mm - half_mm)
    for index, line_mm in _lines_between(len(covered), centre_y - outer_mm, centre_y + outer_mm, face_mm, step_mm):
        above_mm = line_mm - centre_y
        far_mm, near_mm = _half_chord(outer_mm, above_mm), _half_chord(inner_mm, above_mm)
        for low, high in _within_sector(above_mm, start, sweep):
            for left, right in ((-far_mm, -near_mm), (near_mm, far_mm)):
                if max(low, left) < min(high, right):
                    covered[index].append((centre_x + max(low, left), centre_x + min(high, right)))


def _within_sector(above_mm: float, start: float, sweep: float) -> Iterator[Interval]:
    """Yield the parts of a line within the angle of an arc.

    `above_mm`: the line's height above the arc's centre. `start` and `sweep`: the arc's first angle and its whole angle
    [rad].
    """
    # Over the centre the line runs through the angles 0 to pi, below it through pi to 2 pi.
    half_turn = 0.0 if above_mm > 0 else math.pi
    for turn in (-math.tau, 0.0, math.tau):
        first, last = max(start + turn, half_turn), min(start + turn + sweep, half_turn + math.pi)
        if first < last:
            one, other = _place_at(above_mm, first, half_turn), _place_at(above_mm, last, half_turn)
            yield min(one, other), max(one, other)


def _place_at(above_mm: float, angle: float, half_turn: float) -> float:
    """Return where a ray from the arc's centre at an angle [rad] meets a line [mm along the line].

    `above_mm`: the line's height above the arc's centre. `half_turn`: 0 for a line above the centre, otherwise pi. The
    result is infinite if the ray does not meet the line.
    """
    if angle <= half_turn:
        return math.inf if half_turn == 0.0 else -math.inf
    if angle >= half_turn + math.pi:
        return -math.inf if half_turn == 0.0 else math.inf
    return above_mm / math.tan(angle)
