"""Draws a cut to a size: the metal already cut away, the current pass, and the wanted size.

Depths are to scale: the whole cut is 1 drawing unit deep. Lengths along the cut are not to scale. In the drawing, the
tool cuts away from the turner (up), in a bore towards the turner (down), and into a face towards the chuck (left).
"""

from collections.abc import Callable
from typing import TYPE_CHECKING, Literal, NamedTuple

from core.cutting import depth_now_mm
from core.drawing import Area, Bounds, Drawing, Name, Point, Stroke
from core.lathe.lathe import Lathe
from core.operations.compound_drawing import SQUARE_DEG, Swing, swing_drawing
from core.operations.size_cut import TO_CHUCK, SizeCut
from core.plan import Step

if TYPE_CHECKING:
    from core.events.state import State

CutKind = Literal["turn", "face", "groove"]

_LONG, _DEEP, _TOOL_ROOM = 1.7, 1.3, 0.45
"""Length of the cut, depth of the metal below it, and space for the tool above it, in the drawing's units."""
_SHOULDER, _TOOL_AT, _TOOL_WIDE = 0.3, 0.95, 0.16
_GROOVE = (0.6, 1.0)


class CutNow(NamedTuple):
    """The depths of a cut before and after the current step."""

    now_mm: float
    """Depth before the step [mm], from the start of the cut."""
    next_mm: float | None = None
    """Depth after the step [mm]; None if the step is not a pass."""
    touches: bool = False
    """True if the tool touches off at this step."""


def cut_drawing(kind: CutKind, cutting: SizeCut, lathe: Lathe, cut: CutNow) -> Drawing:
    """Return the drawing of a cut at one step. `cut`: the depths before and after the step."""
    now, wanted = cut.now_mm / cutting.total_mm, 1.0
    following = now if cut.next_mm is None else max(cut.next_mm / cutting.total_mm, now)
    to_chuck = cutting.direction == TO_CHUCK
    orientation = _Orientation("left" if to_chuck else "down" if cutting.in_a_bore else "up")
    draw = _groove if kind == "groove" else _layer
    strokes, areas = draw(kind, now, following, wanted, cut)
    return Drawing(
        bounds=orientation.bounds,
        strokes=tuple(stroke._replace(points=orientation.points(stroke.points)) for stroke in strokes),
        areas=tuple(area._replace(points=orientation.points(area.points)) for area in areas),
        names=tuple(_names(orientation, kind, now, following)),
        sentences=tuple(_size_sentences(cutting, lathe, cut)),
        viewpoint="Seen from above, you at the bottom. Only the depth is to scale.",
    )


class _Orientation(NamedTuple):
    """The direction in the drawing in which the cut gets deeper."""

    deeper: Literal["up", "down", "left"]

    def points(self, along_and_deep: tuple[Point, ...]) -> tuple[Point, ...]:
        """Return the points of the drawing for pairs of distance along the cut and depth, both in drawing units."""
        return tuple(self.at(along, deep) for along, deep in along_and_deep)

    def at(self, along: float, deep: float) -> Point:
        """Return the point of the drawing at a distance along the cut and at a depth, both in drawing units."""
        if self.deeper == "left":
            return -deep, _LONG - along
        return along, deep if self.deeper == "up" else -deep

    @property
    def bounds(self) -> Bounds:
        """The rectangle that contains the whole drawing."""
        (x1, y1), (x2, y2) = self.at(0.0, -_TOOL_ROOM), self.at(_LONG, _DEEP)
        return Bounds(min(x1, x2), max(x1, x2), min(y1, y2), max(y1, y2))


def _layer(kind: CutKind, now: float, following: float, wanted: float, cut: CutNow) -> tuple[list[Stroke], list[Area]]:
    """Return the lines and areas that show a turned or faced surface.

    A turned surface ends at a shoulder near the chuck. `now` and `following`: the depths before and after the current
    pass. `wanted`: the depth of the wanted size. All three are in drawing units.
    """
    begins = _SHOULDER if kind == "turn" else 0.0
    ground = [(0.0, 0.0), (begins, 0.0)] if kind == "turn" else []
    # On the side from which the tool comes, this pass is already cut.
    surface = [*ground, (begins, now), (_TOOL_AT, now), (_TOOL_AT, following), (_LONG, following)]
    deep = [(_LONG, _DEEP), (0.0, _DEEP)]
    strokes = [
        Stroke(((begins, 0.0), (_LONG, 0.0), (_LONG, following)), "faint"),
        Stroke(tuple(surface)),
        Stroke(((_LONG, following), (_LONG, _DEEP))),
        Stroke(((begins, wanted), (_LONG, wanted)), "wanted"),
    ]
    areas = [Area((*surface, *deep), "metal")]
    if following > now:
        areas.append(Area(((begins, now), (_TOOL_AT, now), (_TOOL_AT, following), (begins, following)), "this pass"))
    if cut.next_mm is not None or cut.touches:
        strokes.append(Stroke(_tool(following), "tool"))
    return strokes, areas


def _tool(deep: float) -> tuple[Point, ...]:
    """Return the outline of a tool that cuts towards the left. `deep`: the depth of the tool's point [drawing
    units].
    """
    right = _TOOL_AT + _TOOL_WIDE
    return (_TOOL_AT, -_TOOL_ROOM), (_TOOL_AT, deep), (right, deep - _TOOL_WIDE), (right, -_TOOL_ROOM)


def _groove(kind: CutKind, now: float, following: float, wanted: float, cut: CutNow) -> tuple[list[Stroke], list[Area]]:
    """Return the lines and areas that show a groove as wide as its tool.

    `now` and `following`: the depths before and after the current pass. `wanted`: the depth of the wanted size. All
    three are in drawing units.
    """
    left, right = _GROOVE
    surface = ((0.0, 0.0), (left, 0.0), (left, now), (right, now), (right, 0.0), (_LONG, 0.0))
    strokes = [
        Stroke(((left, 0.0), (right, 0.0)), "faint"),
        Stroke(surface),
        Stroke(((left, now), (left, wanted), (right, wanted), (right, now)), "wanted"),
    ]
    areas = [Area((*surface, (_LONG, _DEEP), (0.0, _DEEP)), "metal")]
    if following > now:
        areas.append(Area(((left, now), (right, now), (right, following), (left, following)), "this pass"))
    if cut.next_mm is not None or cut.touches:
        # The tool is drawn narrower than the groove, so that it does not cover the walls. It starts at the bottom.
        sides = left + 0.05, right - 0.05
        tool = (sides[0], -_TOOL_ROOM), (sides[0], now), (sides[1], now), (sides[1], -_TOOL_ROOM)
        strokes.append(Stroke(tool, "tool"))
    return strokes, areas


def _names(orientation: _Orientation, kind: CutKind, now: float, following: float) -> list[Name]:
    """Return the labels of the lines, placed so that none covers another.

    Two lines in the same place share a label. `now` and `following`: the depths before and after the current pass, in
    drawing units.
    """
    near = 0.12
    if orientation.deeper == "left":
        names = [
            Name("before", orientation.at(0.12, -near), "left"),
            Name("wanted", orientation.at(0.3, 1.0 + near), "right"),
        ]
        return [*names, Name("axis", orientation.at(_LONG / 2, _DEEP - near), "left")] if kind == "face" else names
    names = [
        Name("before", orientation.at(0.0, -near), "left"),
        Name("wanted", orientation.at(_LONG, 1.0 + near), "right"),
    ]
    if kind == "turn":
        names.append(Name("chuck", orientation.at(0.0, _DEEP - near), "left"))
        if now > 2 * near:
            names.append(Name("now", orientation.at(_SHOULDER + 0.08, now - near), "left"))
    return names


def _size_sentences(cutting: SizeCut, lathe: Lathe, cut: CutNow) -> list[str]:

    def size(depth_mm: float) -> str:
        return lathe.length_text(cutting.entered_mm(cutting.size_mm(depth_mm)))

    if cutting.measured == "left":
        sizes = f"To come off: {size(0.0)} in all, {size(cut.now_mm)} still to go."
    elif cutting.measured == "depth":
        sizes = f"Depth now {size(cut.now_mm)}, wanted {cutting.wanted_words(lathe)}."
    else:
        sizes = f"Before {size(0.0)}, now {size(cut.now_mm)}, wanted {cutting.wanted_words(lathe)}."
    after = "leaves" if cutting.measured == "left" else "cuts to"
    this = [f"This pass {after} {size(cut.next_mm)}."] if cut.next_mm is not None else []
    return [sizes, *this]


def cut_drawings(kind: CutKind, cutting: SizeCut, lathe: Lathe) -> Callable[["State", Step], Drawing | None]:
    """Return the function that draws a step of a cut. That function returns None for a step without a drawing."""

    def drawn(state: "State", step: Step) -> Drawing | None:
        if step.action == "set" and not step.settings:
            return _swung(kind, cutting, lathe)
        if step.action == "check" and not state.steps_done:
            return None
        next_mm = step.depth_mm if step.action in {"cut", "spring"} else None
        now_mm = depth_now_mm(state.open_steps(), state.depth_mm)
        return cut_drawing(kind, cutting, lathe, CutNow(now_mm, next_mm, touches=bool(step.zeroed_dials)))

    return drawn


def _swung(kind: CutKind, cutting: SizeCut, lathe: Lathe) -> Drawing:
    """Return the drawing of a step before the first cut: the swung compound, or the uncut work if another slide
    cuts.
    """
    if cutting.dial != "compound":
        return cut_drawing(kind, cutting, lathe, CutNow(0.0))
    if cutting.fine:
        return swing_drawing(cutting.fine.swing_to_draw(), lathe)
    if kind == "face":
        return swing_drawing(Swing(slide_deg=0.0, at="face"), lathe)
    return swing_drawing(Swing(slide_deg=SQUARE_DEG, at="bore" if cutting.in_a_bore else "outside"), lathe)
