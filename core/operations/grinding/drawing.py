"""Draws how the block and the rest hold a cutter at the wheel, and the finished point.

Angles are true. One drawing unit is half the shank's diameter.
"""

from collections.abc import Callable
from math import cos, radians, sin, tan
from typing import TYPE_CHECKING

from core.drawing import Area, Bounds, Drawing, Name, Point, Stroke
from core.lathe.lathe import Lathe
from core.operations.grinding.job import GrindJob
from core.operations.grinding.point import FlankSetting
from core.operations.grinding.steps import (
    CHECK,
    FINISH,
    GRIND_FIRST,
    GRIND_SECOND,
    NEW_FLAT,
    ROUGH,
    SET_FIRST,
    SET_SECOND,
)
from core.plan import Step
from core.values.angles import angle_text

if TYPE_CHECKING:
    from core.events.state import State

_ARC_STEP_DEG = 10
_LONGEST = 2.0
"""The longest flank drawn [half shanks]. A slimmer point is cut off at this length."""
_VIEWS_APART = 1.4
"""From the right edge of the left view to the centre of the right one."""
_BESIDE = 0.12
"""Distance of a label from the lines [half shanks]."""


def grind_drawings(job: GrindJob, lathe: Lathe) -> Callable[["State", Step], Drawing | None]:
    """Return a function that draws a step of a `grind` operation; it returns None for a step without a drawing."""

    def drawn(state: "State", step: Step) -> Drawing | None:
        title = step.title.partition(",")[0]
        if title in {ROUGH, FINISH, NEW_FLAT, "Measure the flat"}:
            return flat_drawing(job, lathe)
        if title in {SET_FIRST, GRIND_FIRST}:
            return flank_drawing(job, job.first, over=False)
        if title in {SET_SECOND, GRIND_SECOND}:
            return flank_drawing(job, job.second, over=True)
        return point_drawing(job, lathe) if title == CHECK else None

    return drawn


def overview(job: GrindJob, lathe: Lathe) -> tuple[tuple[str, Drawing], ...]:
    """Return the drawings of the cutter, each with its title for a printed page."""
    return (
        ("Cutting face, end view", flat_drawing(job, lathe)),
        ("First flank at the wheel", flank_drawing(job, job.first, over=False)),
        ("Second flank at the wheel", flank_drawing(job, job.second, over=True)),
        ("Point and groove", point_drawing(job, lathe)),
    )


def flat_drawing(job: GrindJob, lathe: Lathe) -> Drawing:
    """Return the drawing of the blank seen from its end, with the flat and the wanted micrometer reading."""
    bottom = _half_blank(job)
    return Drawing(
        bounds=Bounds(-2.4, 2.6, -1.25, 1.35),
        strokes=(
            Stroke(tuple((x, -y) for x, y in bottom), "faint"),
            Stroke(bottom, "edge", closed=True),
            Stroke(((1.2, 0.0), (1.6, 0.0)), "tool"),
            Stroke(((1.2, -1.0), (1.6, -1.0)), "tool"),
            Stroke(((1.4, 0.0), (1.4, -1.0)), "tool"),
        ),
        areas=(Area(bottom, "metal"),),
        names=(
            Name("flat", (-1.0 - _BESIDE, 0.0), "right"),
            Name("ground off", (0.0, 0.5)),
            Name(lathe.length_text(job.half_shank_mm), (1.6 + _BESIDE, -0.5), "left"),
        ),
        sentences=(f"Across flat and back: {lathe.length_text(job.half_shank_mm)}.",),
        viewpoint="Seen from the end of the shank.",
        shown_unasked=True,
    )


def _half_blank(job: GrindJob) -> tuple[Point, ...]:
    """Return the outline of the part of the blank that stays, below the flat."""
    if job.blank == "square":
        return ((-1.0, 0.0), (-1.0, -1.0), (1.0, -1.0), (1.0, 0.0))
    angles = [radians(180 + angle) for angle in range(0, 181, _ARC_STEP_DEG)]
    return tuple((cos(angle), sin(angle)) for angle in angles)


def flank_drawing(job: GrindJob, flank: FlankSetting, *, over: bool) -> Drawing:
    """Return the drawing of a flank at the wheel, in two views. `over`: whether the flat faces down."""
    rest, roll = angle_text(flank.rest_deg), angle_text(flank.roll_deg)
    above = _plan_view(flank)
    centre = max(1.8, *(x for x, _ in above)) + _VIEWS_APART
    end = tuple((x + centre, y) for x, y in (_turned(place, flank.roll_deg) for place in _half_blank(job)))
    if over:
        end = tuple((x, -y) for x, y in end)
    wheel_x = centre + 0.75
    strokes = (
        Stroke(above, "edge"),
        Stroke((above[0], _along(flank.rest_deg, 2.4)), "faint"),
        Stroke(((-1.2, 0.0), (1.8, 0.0)), "tool"),
        Stroke(((-1.2, 0.25), (1.8, 0.25)), "tool", fine=True),
        Stroke(end, "edge", closed=True),
        Stroke(((wheel_x, -1.2), (wheel_x, 1.2)), "tool"),
        Stroke(((centre - 1.2, 0.0), (centre + 1.2, 0.0)), "faint"),
    )
    places = [place for stroke in strokes for place in stroke.points]
    lowest, highest = (choose(y for _, y in places) for choose in (min, max))
    return Drawing(
        bounds=Bounds(min(x for x, _ in places) - 0.1, centre + 2.6, min(lowest, -2) - 0.1, highest + 0.1),
        strokes=strokes,
        areas=(Area(end, "metal"),),
        names=(
            Name("wheel", (-1.2, 0.6), "left"),
            Name(f"rest {rest}", (1.8, 0.6), "right"),
            Name("wheel", (wheel_x + _BESIDE, 0.9), "left"),
            Name(f"roll {roll}", (wheel_x + _BESIDE, -0.75), "left"),
            Name("flat below" if over else "flat above", (centre, -1.7)),
        ),
        sentences=(
            f"Roll {roll}, rest {rest} between shank and wheel face.",
            f"The flat faces {'down' if over else 'up'}, and away from the wheel.",
        ),
        viewpoint="Left: seen from above. Right: seen along the shank.",
        shown_unasked=True,
    )


def _turned(place: Point, angle_deg: float) -> Point:
    angle = radians(angle_deg)
    return place[0] * cos(angle) - place[1] * sin(angle), place[0] * sin(angle) + place[1] * cos(angle)


def _along(rest_deg: float, distance: float) -> Point:
    """Return the point on the shank's axis at a distance from the tip, seen from above.

    `rest_deg`: the angle between the shank and the wheel's face [deg]. The wheel's face is at y = 0.
    """
    return distance * cos(radians(rest_deg)), -distance * sin(radians(rest_deg))


def _plan_view(flank: FlankSetting) -> tuple[Point, ...]:
    """Return the outline of the shank around its point, seen from above.

    One flank lies on the wheel's face, at y = 0.
    """
    slope = tan(radians(flank.rest_deg))
    length = min(1 / slope, _LONGEST)
    half = length * slope
    sides = ((0.0, 0.0), (half, -length), (half, -length - 0.8), (-half, -length - 0.8), (-half, -length), (0.0, 0.0))
    return tuple(_turned(place, 90 - flank.rest_deg) for place in sides)


def point_drawing(job: GrindJob, lathe: Lathe) -> Drawing:
    """Return the drawing of the point in its groove, at the face of the work. The unit is half the groove's width."""
    cutter, half_mm = job.ground, job.groove_width_mm / 2
    # Depth 0 is left out: a groove that begins has no width, but a flat tip has corners.
    depths = [job.depth_mm * (1 - number / 12) for number in range(12)]
    right = [(cutter.groove_width_mm(depth) / 2 / half_mm, (depth - job.depth_mm) / half_mm) for depth in depths]
    deep = job.depth_mm / half_mm
    right.append((cutter.tip_flat_mm / 2 / half_mm, -deep))
    profile = (*right, *((-x, y) for x, y in reversed(right)))
    say = lathe.length_text
    return Drawing(
        bounds=Bounds(-2.2, 2.2, -deep - 0.3, 0.8),
        strokes=(
            Stroke(((-2.0, 0.0), (2.0, 0.0)), "faint"),
            Stroke(profile, "wanted"),
        ),
        areas=(Area(profile, "this pass"),),
        names=(
            Name(f"{say(job.groove_width_mm)} wide", (0.0, 0.35)),
            Name(f"{say(job.depth_mm)} deep", (1.1, -deep / 2), "left"),
            Name(angle_text(cutter.tip_angle_deg, 1), (-1.1, -deep / 2), "right"),
        ),
        sentences=(f"A groove {say(job.depth_mm)} deep is {say(job.groove_width_mm)} wide.",),
        viewpoint="Seen square to the cutting face, to scale.",
        shown_unasked=True,
    )
