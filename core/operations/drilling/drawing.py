"""Draws a section of a hole: the remaining metal, the current peck, the wanted hole and the drill.

The chuck is on the left. The depth is to scale. A slender hole is drawn wider than it is, so that the drill's point can
be seen. Lengths are in mm.
"""

from collections.abc import Callable, Iterable
from math import radians, tan
from typing import TYPE_CHECKING, NamedTuple

from core.drawing import Area, Bounds, Drawing, Name, Point, Stroke
from core.lathe.lathe import Lathe
from core.operations.drilling.hole import Hole, HoleTool
from core.operations.drilling.tool_cut import TOOL, ToolCut
from core.plan import Step

if TYPE_CHECKING:
    from core.events.state import State

_WIDEST = 3.0
"""A hole deeper than this many diameters gets an enlarged width."""
_ROOM = 0.35
"""Room in front of the face for the drill, as a share of the depth."""


class _Bored(NamedTuple):
    """The space that one tool has drilled: its radius, the depth of the tool's tip, and the slope of the tool's
    point.
    """

    radius_mm: float
    tip_mm: float
    slope: float
    """Radius divided by length of the point; 0 for a tool without a point."""

    def radius_at(self, depth_mm: float) -> float:
        """Return the radius of the drilled space at a depth [mm]."""
        if depth_mm > self.tip_mm:
            return 0.0
        return min(self.radius_mm, (self.tip_mm - depth_mm) * self.slope) if self.slope else self.radius_mm

    @property
    def corners_mm(self) -> tuple[float, ...]:
        """The depths at which the wall of the drilled space has a corner [mm]."""
        return (
            (self.tip_mm - self.radius_mm / self.slope, self.tip_mm)
            if self.slope
            else (self.tip_mm, self.tip_mm + 1e-6)
        )


def hole_drawings(hole: Hole, lathe: Lathe) -> Callable[["State", Step], Drawing | None]:
    """Return a function that draws the hole as it is at a step.

    For a step without a tool, the function returns None.
    """

    def drawn(state: "State", step: Step) -> Drawing | None:
        place = hole.place_of(str(step.extra.get(TOOL, "")))
        if place is None:
            return None
        reached: dict[str, float] = {}
        for done in state.done_steps:
            if done.depth_mm is not None:
                name = str(done.extra.get(TOOL, ""))
                reached[name] = max(done.depth_mm, reached.get(name, 0.0))
        if step.depth_mm is not None and step.removed_mm is not None:
            # Touch-off may already have drilled, and a measured depth counts more than the dial.
            reached[hole.tools[place].key] = step.depth_mm - step.removed_mm
        now = [(tool, reached[tool.key]) for tool in hole.tools if tool.key in reached]
        own = [one for one in state.steps if one.extra.get(TOOL) == hole.tools[place].key]
        return hole_drawing(hole, lathe, now, place, step.depth_mm if step.action == "cut" else None, _peck_ends(own))

    return drawn


def overview(hole: Hole, lathe: Lathe) -> tuple[tuple[str, Drawing], ...]:
    """Return one pair: the title for a printed page, and the drawing of the finished hole."""
    last = hole.tools.index(hole.last_drill)
    ends = _peck_ends(ToolCut(hole, lathe, last).steps())
    return (("Section of the hole", hole_drawing(hole, lathe, [], last, None, ends)),)


def _peck_ends(steps: Iterable[Step]) -> list[float]:
    """Return the depth of the tool's tip after each peck in `steps` [mm]."""
    return [step.depth_mm for step in steps if step.action == "cut" and step.depth_mm is not None]


def hole_drawing(
    hole: Hole,
    lathe: Lathe,
    now: list[tuple[HoleTool, float]],
    place: int,
    next_mm: float | None,
    peck_ends: list[float],
) -> Drawing:
    """Return the drawing of a hole's section at one step.

    now: the tools that have drilled, each with the depth that its tip has reached [mm].
    place: the index of the current tool in the hole.
    next_mm: the depth of the current tool's tip after the peck of this step [mm]; None if the step is not a peck.
    peck_ends: the depth of the current tool's tip after each of its pecks [mm].
    """
    tool, length_mm = hole.tools[place], hole.through_mm or 1.15 * max(tool.depth_mm for tool in hole.tools)
    stretch = max(1.0, hole.last_drill.depth_mm / (_WIDEST * hole.last_drill.size_mm))
    half_mm = 1.1 * hole.last_drill.size_mm * stretch
    room_mm = _ROOM * length_mm
    before = [_bored(one, depth, hole) for one, depth in now]
    after = before if next_mm is None else [*before, _bored(tool, next_mm, hole)]
    wanted = [_bored(one, one.depth_mm, hole) for one in hole.tools]
    wall = _wall(after, length_mm, stretch)
    areas = [Area(_block(wall, length_mm, half_mm, side), "metal") for side in (1, -1)]
    if next_mm is not None:
        was = _wall(before, length_mm, stretch)
        areas += [Area(_mirrored((*wall, *reversed(was)), side), "this pass") for side in (1, -1)]
    strokes = [
        Stroke(((0.0, half_mm), (0.0, wall[0][1]))),
        Stroke(((0.0, -half_mm), (0.0, -wall[0][1]))),
        *(Stroke(_mirrored(_wall(wanted, length_mm, stretch), side), "wanted") for side in (1, -1)),
        *(Stroke(_mirrored(wall, side)) for side in (1, -1)),
        # A short stroke at the edge of the metal for each peck.
        *(Stroke(((-end, -half_mm), (-end, -0.85 * half_mm)), "faint") for end in peck_ends if end < length_mm),
        Stroke(_outline(_bored(tool, next_mm or 0.0, hole), room_mm, stretch), "tool"),
    ]
    return Drawing(
        bounds=Bounds(-length_mm, room_mm, -half_mm, half_mm),
        strokes=tuple(strokes),
        areas=tuple(areas),
        names=(
            Name("chuck", (-length_mm, 0.75 * half_mm), "left"),
            Name(tool.name, (room_mm, 0.75 * half_mm), "right"),
        ),
        sentences=tuple(_sentences(hole, lathe, now, place, next_mm)),
        viewpoint=f"Section, depth to scale{', width not' if stretch > 1 else ''}. Short lines mark the pecks.",
    )


def _bored(tool: HoleTool, tip_mm: float, hole: Hole) -> _Bored:
    slope = tan(radians(hole.point_angle_deg / 2)) if tool.kind != "reamer" else 0.0
    # A centre drill is drawn as a cone.
    return _Bored(tool.size_mm / 2 or tip_mm * slope, tip_mm, slope)


def _wall(bored: list[_Bored], length_mm: float, stretch: float) -> tuple[Point, ...]:
    """Return the upper wall of the hole as points, from the face to the bottom of the hole or to the far face of the
    work.

    `length_mm`: the length of the drawn work [mm]. `stretch`: by what factor the width of the hole is exaggerated.
    """
    depths = {0.0, *(corner for one in bored for corner in one.corners_mm)}
    # The point where a larger drill's cone ends in the hole of a smaller drill.
    depths |= {
        one.tip_mm - other.radius_mm / one.slope
        for one in bored
        for other in bored
        if one.slope and one.radius_mm > other.radius_mm
    }
    inside = sorted(depth for depth in depths if 0 <= depth < length_mm)
    inside += [length_mm] if any(one.tip_mm > length_mm for one in bored) else []
    return tuple((-depth, stretch * max((one.radius_at(depth) for one in bored), default=0.0)) for depth in inside)


def _block(wall: tuple[Point, ...], length_mm: float, half_mm: float, side: int) -> tuple[Point, ...]:
    """Return the outline of the metal on one side of the axis: above it if `side` is 1, below it if `side` is -1.

    `wall`: the upper wall of the hole. `length_mm`: the length of the drawn work [mm]. `half_mm`: half the drawn height
    of the metal [mm].
    """
    return _mirrored(
        (*wall, (-length_mm, 0.0 if wall[-1][0] > -length_mm else wall[-1][1]), (-length_mm, half_mm), (0.0, half_mm)),
        side,
    )


def _mirrored(points: tuple[Point, ...], side: int) -> tuple[Point, ...]:
    return tuple((x, side * y) for x, y in points)


def _outline(at: _Bored, room_mm: float, stretch: float) -> tuple[Point, ...]:
    """Return the outline of a tool in the space that it has drilled.

    The outline is open at the tailstock end. `room_mm`: how far the tool is drawn in front of the face [mm]. `stretch`:
    by what factor the width of the tool is exaggerated.
    """
    radius = at.radius_mm or room_mm / 8
    full_mm = at.tip_mm - (radius / at.slope if at.slope else 0.0)
    upper = [(room_mm, stretch * radius), (-full_mm, stretch * radius)]
    tip = [(-at.tip_mm, 0.0)] if at.slope else []
    return (*upper, *tip, *((x, -y) for x, y in reversed(upper)))


def _sentences(
    hole: Hole, lathe: Lathe, now: list[tuple[HoleTool, float]], place: int, next_mm: float | None
) -> list[str]:
    tool, length_text = hole.tools[place], lathe.length_text
    reached = next((depth for one, depth in now if one.key == tool.key), 0.0)
    sentences = [f"The tip is now {length_text(reached)} deep; {length_text(tool.depth_mm)} is wanted."]
    if next_mm is not None:
        sentences.append(f"This peck goes to {length_text(next_mm)}.")
    if tool.point_mm:
        sentences.append(f"The point is {length_text(tool.point_mm)} long.")
    return sentences
