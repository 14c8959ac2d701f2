"""Draws the compound (top slide) from above, swung for a taper, with the reading of its scale.

x points right, towards the tailstock. y points away from the turner, who is at the bottom of the drawing. The spindle
axis is y = 0. Angles are true. Lengths are not to scale: the slide is about 1 drawing unit long.
"""

import math
from collections.abc import Iterator
from typing import Literal

from core.drawing import Bounds, Drawing, Name, Point, Stroke
from core.lathe.lathe import CompoundScale, Lathe
from core.operations.compound_drawing import out
from core.operations.swung_compound import angle_words
from core.operations.taper_angles import taper_scale_words
from core.values.quantities import number_text

_BOUNDS = Bounds(-1.4, 1.6, -2.2, 0.6)
_RADIUS, _LEAST_RADIUS, _LONGEST = 0.45, 0.06, 1.2
_LARGE_END = -0.6
_CHUCK: tuple[Point, ...] = ((-1.4, 0.6), (-1.0, 0.6), (-1.0, -0.6), (-1.4, -0.6))
_PIVOT_Y = -1.2
_HALF_SLIDE, _SLIDE_FROM, _SLIDE_TO, _HANDLE = 0.16, -0.5, 0.6, 0.75
_ARC_RADIUS, _ZERO_LENGTH = 0.75, 0.95
_STEEP_DEG = 45.0
"""Largest half angle with the handle on the far side [deg]. On steeper tapers that side is over the work."""


def taper_drawing(half_deg: float, lathe: Lathe) -> Drawing:
    """Return the drawing of a compound swung to a half angle [deg], for an outside taper with its small end free."""
    slope = math.tan(math.radians(half_deg))
    length = min(_LONGEST, (_RADIUS - _LEAST_RADIUS) / slope)
    free_x, small = _LARGE_END + length, _RADIUS - length * slope
    upper = [(-1.0, _RADIUS), (_LARGE_END, _RADIUS), (free_x, small)]
    work = (*upper, *((x, -y) for x, y in reversed(upper)))
    tip, pivot = (free_x, -small), (free_x, _PIVOT_Y)
    handle_deg = half_deg if half_deg <= _STEEP_DEG else half_deg - 180
    strokes = [
        Stroke(((-1.4, 0.0), (1.6, 0.0)), "faint"),
        Stroke(_CHUCK, closed=True),
        Stroke(work, closed=True),
        *_slide(pivot, handle_deg),
        Stroke((tip, pivot), "tool"),
    ]
    handle_at = out(pivot, handle_deg, _HANDLE + 0.3)
    names = [
        Name("chuck", (-1.2, 0.2)),
        Name("tailstock", (1.6, 0.2), "right"),
        Name("handle", (handle_at[0], handle_at[1] - 0.1), "left" if handle_deg == half_deg else "right"),
        Name("you", (-1.35, -2.1), "left"),
    ]
    scale = lathe.compound
    if scale is not None:
        more_strokes, more_names = _scale(scale, pivot, half_deg, handle_deg)
        strokes, names = [*strokes, *more_strokes], [*names, *more_names]
    return Drawing(
        bounds=_BOUNDS,
        strokes=tuple(strokes),
        names=tuple(names),
        sentences=tuple(_sentences(scale, half_deg)),
        viewpoint="Seen from above, you at the bottom. Angles are true.",
    )


def _slide(pivot: Point, handle_deg: float) -> Iterator[Stroke]:
    start, end = out(pivot, handle_deg, _SLIDE_FROM), out(pivot, handle_deg, _SLIDE_TO)
    across = handle_deg + 90
    corners = [out(start, across, -_HALF_SLIDE), out(end, across, -_HALF_SLIDE)]
    yield Stroke((*corners, out(end, across, _HALF_SLIDE), out(start, across, _HALF_SLIDE)), closed=True)
    crank = out(pivot, handle_deg, _HANDLE)
    yield Stroke((end, crank, out(crank, across, -0.15), out(crank, across, 0.15)))


def _scale(
    scale: CompoundScale, pivot: Point, half_deg: float, handle_deg: float
) -> tuple[tuple[Stroke, ...], tuple[Name, ...]]:
    """Return the scale's zero line and the arc from there to the slide, and the label that states the reading."""
    reading_deg = scale.reading_deg(90 - half_deg)
    # The slide is turned by the reading, towards the handle, from the direction in which the scale reads 0.
    zero_deg = handle_deg - reading_deg if scale.zero == "parallel" else handle_deg + reading_deg
    steps = max(1, math.ceil(abs(reading_deg) / 5))
    turns = [zero_deg + (handle_deg - zero_deg) * step / steps for step in range(steps + 1)]
    strokes = (
        Stroke((pivot, out(pivot, zero_deg, _ZERO_LENGTH)), "faint"),
        Stroke(tuple(out(pivot, turn, _ARC_RADIUS) for turn in turns), "faint"),
    )
    reading_at = out(pivot, zero_deg - 12 if scale.zero == "parallel" else zero_deg + 12, _ZERO_LENGTH + 0.05)
    anchor: Literal["left", "right"] = "left" if math.cos(math.radians(zero_deg)) > -0.1 else "right"
    return strokes, (Name(f"scale {number_text(reading_deg, 2)}°", reading_at, anchor),)


def _sentences(scale: CompoundScale | None, half_deg: float) -> Iterator[str]:
    yield f"Swung {angle_words(half_deg)} off the axis. Fed towards the chuck, the tool moves away from the axis."
    if scale is not None:
        yield f"Scale at its witness mark: {taper_scale_words(scale, half_deg)}."
