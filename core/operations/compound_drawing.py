"""Draws the compound (top slide) from above, with the reading that its scale shows at the fixed index mark.

Lengths are not to scale: the slide is about 1 drawing unit long. x points right, towards the tailstock. y points away
from the turner, who is at the bottom of the drawing. The spindle axis is y = 0. If a scale's zero is parallel to the
axis, the scale reads 90° minus the angle off square (common practice, no source).
"""

import math
from typing import Literal, NamedTuple

from core.drawing import Bounds, Drawing, Name, Point, Stroke
from core.lathe.lathe import CompoundScale, Lathe
from core.values.quantities import number_text

SQUARE_DEG = -90.0
"""Direction from the work straight to the turner [deg], counted anticlockwise from the tailstock."""
_SLIDE_FROM, _SLIDE_TO, _HALF_SLIDE = 0.3, 1.3, 0.2
_PIVOT = 0.6
_ARC_RADIUS = 0.5
_ARC_STEP_DEG = 5.0
_BOUNDS = Bounds(-1.3, 1.5, -1.75, 0.4)
_ARROW_X, _ARROW_FROM, _ARROW_TO, _HEAD = 0.95, -0.75, -1.5, 0.12
Side = Literal["left", "right"]


class Swing(NamedTuple):
    """The direction in which a compound is swung, and the kind of surface that its tool cuts."""

    slide_deg: float
    """Direction from the work to the handle [deg], counted anticlockwise from the tailstock."""
    leans: Side = "right"
    """The side of the work on which the handle is. "right" is towards the tailstock."""
    at: Literal["outside", "bore", "face"] = "outside"
    read: bool = True
    """True if the turner sets the scale at this step. False if the compound stays as it is."""

    @property
    def off_square_deg(self) -> float:
        """The angle between the travel of the compound and the travel of the cross-slide [deg], at most 90."""
        apart_deg = abs(self.slide_deg - SQUARE_DEG)
        return min(apart_deg, 180 - apart_deg)


class CompoundView(NamedTuple):
    """The coordinates of every line and label of the drawing. Each polygon is closed from its last point to its
    first.
    """

    chuck: tuple[Point, ...]
    work: tuple[tuple[Point, ...], ...]
    """The outline of the work: one polygon, or two polygons for the walls of a bore."""
    tool: tuple[Point, ...]
    slide: tuple[Point, ...]
    handle: tuple[Point, ...]
    handle_at: Point
    """The start of the word "handle": next to the handle, on the side to which the slide leans."""
    leans: Side
    square: tuple[Point, ...] = ()
    """The line from the swivel in the direction of the cross-slide."""
    zero: tuple[Point, ...] = ()
    """The line from the swivel in the slide's direction at a reading of 0; () if the scale is not drawn."""
    arc: tuple[Point, ...] = ()
    """The arc of the angle, from the scale's zero line to the slide; () if the scale is not drawn."""
    zero_at: Point = (0.0, 0.0)
    reading_at: Point = (0.0, 0.0)
    reading: str = ""
    """The scale's reading at the witness mark, such as "29.5°"; "" if the scale is not drawn."""


def swing_view(swing: Swing, scale: CompoundScale | None) -> CompoundView:
    """Return the coordinates of every line and label in the drawing of a swung compound.

    `scale`: the compound's own scale, whose reading is drawn too; None if the scale is not known.
    """
    root = {"outside": (0.0, -0.35), "bore": (0.9, -0.15), "face": (-0.1, -0.2)}[swing.at]
    tip = (-0.25, -0.2) if swing.at == "bore" else root
    start, end = out(root, swing.slide_deg, _SLIDE_FROM), out(root, swing.slide_deg, _SLIDE_TO)
    across = swing.slide_deg + 90
    corners = [out(start, across, -_HALF_SLIDE), out(end, across, -_HALF_SLIDE)]
    corners += [out(end, across, _HALF_SLIDE), out(start, across, _HALF_SLIDE)]
    crank = out(end, swing.slide_deg, 0.15)
    pivot = out(root, swing.slide_deg, _PIVOT)
    view = CompoundView(
        chuck=((-1.5, 0.6), (-1.1, 0.6), (-1.1, -0.6), (-1.5, -0.6)),
        work=_work(swing.at),
        tool=(tip, (0.9, -0.2), start) if swing.at == "bore" else (tip, start),
        slide=tuple(corners),
        handle=(end, crank, out(crank, across, -0.15), out(crank, across, 0.15)),
        # A slide along the axis leaves no space for a name next to its handle.
        handle_at=out(crank, swing.slide_deg, 0.15) if swing.slide_deg else out(crank, SQUARE_DEG, 0.35),
        leans=swing.leans,
        square=(pivot, out(pivot, SQUARE_DEG, _SLIDE_TO - _PIVOT)),
    )
    return view if scale is None or not swing.read else _with_scale(view, swing, scale, pivot)


def _with_scale(view: CompoundView, swing: Swing, scale: CompoundScale, pivot: Point) -> CompoundView:
    """Return the coordinates with three additions: the scale's zero line, the arc from that line to the slide, and the
    reading.
    """
    slide_deg = swing.slide_deg
    reading_deg = scale.reading_deg(swing.off_square_deg)
    sense = 1.0 if SQUARE_DEG <= slide_deg <= 0 else -1.0
    zero_deg = slide_deg + sense * reading_deg if scale.zero == "parallel" else SQUARE_DEG
    middle_deg = (zero_deg + slide_deg) / 2
    steps = max(1, math.ceil(abs(slide_deg - zero_deg) / _ARC_STEP_DEG))
    arc = tuple(out(pivot, zero_deg + (slide_deg - zero_deg) * step / steps, _ARC_RADIUS) for step in range(steps + 1))
    return view._replace(
        zero=(pivot, out(pivot, zero_deg, 1.0)),
        arc=arc,
        zero_at=out(pivot, zero_deg, 1.1),
        reading_at=out(pivot, middle_deg, _ARC_RADIUS + 0.3) if reading_deg else out(pivot, SQUARE_DEG, 0.4),
        reading=f"{number_text(reading_deg, 2)}°",
    )


def _work(at: str) -> tuple[tuple[Point, ...], ...]:
    if at == "bore":
        return tuple(((-1.1, y), (0.3, y), (0.3, y + 0.3), (-1.1, y + 0.3)) for y in (0.2, -0.5))
    end = -0.2 if at == "face" else 0.7
    return (((-1.1, 0.35), (end, 0.35), (end, -0.35), (-1.1, -0.35)),)


def out(place: Point, direction_deg: float, distance: float) -> Point:
    """Return the point at a distance from `place` in a direction [deg] counted anticlockwise from the tailstock."""
    angle = math.radians(direction_deg)
    return place[0] + distance * math.cos(angle), place[1] + distance * math.sin(angle)


def swing_drawing(swing: Swing, lathe: Lathe) -> Drawing:
    """Return the drawing of a swung compound, with the reading that the compound scale of this lathe must show."""
    view = swing_view(swing, lathe.compound)
    along = ((-1.3, 0.0), (1.5, 0.0))
    strokes = [Stroke(along, "faint"), Stroke(view.square, "faint"), *_arrow(view.leans)]
    strokes += [Stroke(view.zero, "faint"), Stroke(view.arc, "faint")] if view.reading else []
    strokes += [Stroke(view.chuck, closed=True), *(Stroke(wall, closed=True) for wall in view.work)]
    strokes += [Stroke(view.slide, closed=True), Stroke(view.handle), Stroke(view.tool, "tool")]
    side: Side = "left" if view.leans == "right" else "right"
    x = _BOUNDS.x_least if side == "left" else _BOUNDS.x_most
    names = [
        Name("chuck", (-1.3, 0.2), "left"),
        Name("tailstock", (1.5, 0.25), "right"),
        Name("handle", view.handle_at, _beyond(swing)),
        Name("cross-slide", (x + (0.45 if side == "left" else -0.45), -1.1), side),
        Name("you", (x, -1.7), side),
    ]
    if view.reading:
        names.append(Name(f"scale {view.reading}", view.reading_at, "left" if view.leans == "right" else "right"))
        names += [Name("0", view.zero_at)] if len(set(view.arc)) > 1 else []
    return Drawing(
        bounds=_BOUNDS,
        strokes=tuple(strokes),
        names=tuple(names),
        sentences=tuple(_sentences(swing, lathe.compound)),
        viewpoint="Seen from above, you at the bottom.",
        shown_unasked=True,
    )


def _beyond(swing: Swing) -> Literal["left", "middle", "right"]:
    """Return the part of the word "handle" that is anchored, so that the word extends away from the drawing."""
    if not swing.slide_deg:
        return "middle"
    return "left" if swing.leans == "right" else "right"


def _arrow(leans: Side) -> list[Stroke]:
    """Return the lines of a two-headed arrow along the cross-slide, on the side of the work away from the compound.

    `leans`: the side towards which the compound is swung.
    """
    x = -_ARROW_X if leans == "right" else _ARROW_X
    ends = [(_ARROW_FROM, -_HEAD), (_ARROW_TO, _HEAD)]
    heads = [Stroke(((x - _HEAD, y + back), (x, y), (x + _HEAD, y + back))) for y, back in ends]
    return [Stroke(((x, _ARROW_FROM), (x, _ARROW_TO))), *heads]


def _sentences(swing: Swing, scale: CompoundScale | None) -> list[str]:
    off = f"{number_text(swing.off_square_deg, 2)}°"
    lies = "Square to the axis"
    if swing.off_square_deg:
        how = "Along the axis" if swing.off_square_deg == 90 else f"{off} off square to the axis"
        lies = f"{how}, handle towards the {'tailstock' if swing.leans == 'right' else 'chuck'}"
    says = [f"{lies}."]
    if scale is None:
        return [f"Set {off} off square with a protractor.", *says]
    reading = f"{number_text(scale.reading_deg(swing.off_square_deg), 2)}°"
    zero = "along the axis" if scale.zero == "parallel" else "square to the axis"
    if not scale.shows(swing.off_square_deg):
        return [f"The scale ends before {reading}. Set {off} off square with a protractor.", *says]
    return [f"Scale at its witness mark: {reading}{_between(scale, swing)}. The scale reads 0 {zero}.", *says]


def _between(scale: CompoundScale, swing: Swing) -> str:
    """Return the two marks nearest to the reading in words, such as ", between 29 and 30"; "" if the reading is on a
    mark.
    """
    marks = scale.reading_deg(swing.off_square_deg) / scale.graduation_deg
    if abs(marks - round(marks)) < 1e-6:
        return ""
    below, above = (number_text(count * scale.graduation_deg, 2) for count in (math.floor(marks), math.ceil(marks)))
    return f", between {below} and {above}"
