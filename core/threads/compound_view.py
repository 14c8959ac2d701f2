"""The compound seen from above, its own scale as it will read: places for a picture.

No lengths of a lathe: the slide is about 1 long. x to the right, towards the
tailstock; y away from the turner, who stands below; the spindle axis is y = 0.
"""

import math
from typing import Literal, NamedTuple

from core.dials import Unit
from core.lathe import CompoundScale, Lathe
from core.quantities import number_text
from core.threads.job import ThreadJob, angle_text

Point = tuple[float, float]

_SLIDE_FROM, _SLIDE_TO, _HALF_SLIDE = 0.3, 1.3, 0.2
_PIVOT = 0.6
_ARC_RADIUS = 0.5
_ARC_STEP_DEG = 5.0
_SQUARE_DEG = -90.0
"""Direction from the work straight at the turner, counted from the tailstock anticlockwise."""


class CompoundView(NamedTuple):
    """What lies where; polygons are closed by joining the last point to the first."""

    chuck: tuple[Point, ...]
    work: tuple[tuple[Point, ...], ...]
    """One polygon; two for the walls of a bore."""
    tool: tuple[Point, ...]
    slide: tuple[Point, ...]
    handle: tuple[Point, ...]
    handle_at: Point
    """Where the handle's name begins, beyond it; it goes on to the side to which the slide leans."""
    leans: Literal["left", "right"]
    zero: tuple[Point, ...] = ()
    """The line along which the slide points when its scale reads 0; () where no scale is read."""
    arc: tuple[Point, ...] = ()
    """From that line to the slide."""
    zero_at: Point = (0.0, 0.0)
    reading_at: Point = (0.0, 0.0)
    reading: str = ""
    """What the scale reads."""


def compound_view(job: ThreadJob, lathe: Lathe) -> CompoundView:
    """Return how the compound stands for a thread on this lathe.

    Its handle lies towards the tailstock for a right-hand cut towards the chuck,
    to the other side where the tool runs away from the chuck or cuts a bore (see
    core.threads.planning.swing_words).
    """
    to_the_left = job.from_chuck != job.thread.internal
    slide_deg = _slide_deg(job, to_the_left)
    root = (0.9, -0.15) if job.thread.internal else (0.0, -0.35)
    tip = (-0.25, -0.2) if job.thread.internal else root
    start, end = _out(root, slide_deg, _SLIDE_FROM), _out(root, slide_deg, _SLIDE_TO)
    across = slide_deg + 90
    corners = [_out(start, across, -_HALF_SLIDE), _out(end, across, -_HALF_SLIDE)]
    corners += [_out(end, across, _HALF_SLIDE), _out(start, across, _HALF_SLIDE)]
    crank = _out(end, slide_deg, 0.15)
    tool = (tip, (0.9, -0.2), start) if job.thread.internal else (tip, start)
    view = CompoundView(
        chuck=((-1.5, 0.6), (-1.1, 0.6), (-1.1, -0.6), (-1.5, -0.6)),
        work=_work(job.thread.internal),
        tool=tool,
        slide=tuple(corners),
        handle=(end, crank, _out(crank, across, -0.15), _out(crank, across, 0.15)),
        handle_at=_out(crank, slide_deg, 0.15),
        leans="left" if to_the_left else "right",
    )
    return view if lathe.compound is None else _with_scale(view, job, lathe, _out(root, slide_deg, _PIVOT), slide_deg)


def _with_scale(view: CompoundView, job: ThreadJob, lathe: Lathe, pivot: Point, slide_deg: float) -> CompoundView:
    """Return the view with the scale's zero line, the arc to the slide, and what it reads."""
    scale = lathe.compound
    off_square_deg = abs(slide_deg - _SQUARE_DEG)
    if scale is None or (job.straight and job.thread.starts == 1):
        return view
    reading_deg = scale.reading_deg(off_square_deg)
    sense = 1.0 if slide_deg >= _SQUARE_DEG else -1.0
    zero_deg = slide_deg + sense * reading_deg if scale.zero == "parallel" else _SQUARE_DEG
    middle_deg = (zero_deg + slide_deg) / 2
    steps = max(1, math.ceil(abs(slide_deg - zero_deg) / _ARC_STEP_DEG))
    arc = tuple(_out(pivot, zero_deg + (slide_deg - zero_deg) * step / steps, _ARC_RADIUS) for step in range(steps + 1))
    return view._replace(
        zero=(pivot, _out(pivot, zero_deg, 1.1)),
        arc=arc,
        zero_at=_out(pivot, zero_deg, 1.2),
        reading_at=_out(pivot, middle_deg, _ARC_RADIUS + 0.3),
        reading=f"{number_text(reading_deg, 2)}°",
    )


def _slide_deg(job: ThreadJob, to_the_left: bool) -> float:
    """Return which way the handle lies [deg]; a compound that only indexes starts lies along the axis."""
    if job.set_over_deg is not None:
        return _SQUARE_DEG - job.set_over_deg if to_the_left else _SQUARE_DEG + job.set_over_deg
    return 0.0 if job.thread.starts > 1 else _SQUARE_DEG


def _work(internal: bool) -> tuple[tuple[Point, ...], ...]:
    if internal:
        return tuple(((-1.1, y), (0.3, y), (0.3, y + 0.3), (-1.1, y + 0.3)) for y in (0.2, -0.5))
    return (((-1.1, 0.35), (0.7, 0.35), (0.7, -0.35), (-1.1, -0.35)),)


def _out(place: Point, direction_deg: float, distance: float) -> Point:
    angle = math.radians(direction_deg)
    return place[0] + distance * math.cos(angle), place[1] + distance * math.sin(angle)


def scale_words(job: ThreadJob, lathe: Lathe) -> str:
    """Say in few words what the compound's own scale reads, "" for straight infeed.

    >>> from core.lathe_file import stand_in_lathe
    >>> from core.threads.job import read_thread_job
    >>> from core.fields import Table
    >>> job = read_thread_job(Table({"thread": "M10", "set_over": "29 deg"}, "", []), stand_in_lathe())
    >>> scale_words(job, stand_in_lathe())
    '29 deg (29 deg off square)'
    """
    if job.set_over_deg is None:
        return ""
    square = f"{angle_text(job.set_over_deg)} off square"
    if lathe.compound is None:
        return f"{square}, by protractor"
    reading = angle_text(lathe.compound.reading_deg(job.set_over_deg))
    return f"{reading} ({square})" if lathe.compound.shows(job.set_over_deg) else f"{square}: {reading} is not on it"


def mark_instead_words(half_angle_deg: float, scale: CompoundScale) -> str:
    """Say which mark of a scale that ends too soon serves instead, before what else there is to do.

    >>> mark_instead_words(30, CompoundScale(zero="perpendicular", end_deg=25))
    'set it to its mark 25, 25 deg off square, the nearest below the half angle; or '
    """
    mark_deg = scale.largest_mark_below_deg(half_angle_deg)
    if mark_deg is None:
        return "no mark that it has lies below the half angle; "
    reading = number_text(scale.reading_deg(mark_deg), 2)
    return f"set it to its mark {reading}, {angle_text(mark_deg)} off square, the nearest below the half angle; or "


def sideways_words(off_square_deg: float, unit: Unit) -> str:
    """Say how far a slide that stands off square goes sideways over a length, as the lathe's dials count.

    >>> sideways_words(29, "mm"), sideways_words(29, "in")
    ('485 mm sideways in 1000 mm', '4.848 in sideways in 10 in')
    """
    slope = math.sin(math.radians(off_square_deg))
    return f"{10 * slope:.3f} in sideways in 10 in" if unit == "in" else f"{1000 * slope:.0f} mm sideways in 1000 mm"
