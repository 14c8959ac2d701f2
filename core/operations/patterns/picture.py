"""A pattern as a picture: what is cut at every position, in mm on the face, x to the right, y up.

Patterns, dividing and holes have such pictures. Screens and cards draw them.
"""

import math
from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Literal, NamedTuple

if TYPE_CHECKING:
    from core.lathe.lathe import Cutter
    from core.operations.patterns.layers import Layer, LayerPosition, PatternJob, Shape

Point = tuple[float, float]
CutShape = Literal["circle", "dot", "line", "arc"]
"""A line is a slot, or a cut from the rim towards the middle."""


class PatternPlace(NamedTuple):
    """One position of one layer, both counted from 1."""

    layer: int
    position: int


class CutPicture(NamedTuple):
    """The groove cut at one position: along the path of the cutter's point, `half_width_mm` to either side."""

    place: PatternPlace
    shape: CutShape
    at_mm: Point
    """The centre of a circle or a dot; where a line or an arc starts."""
    half_width_mm: float = 0.0
    """Half the width at the face; 0 if the cutter's point or the depth is not known."""
    radius_mm: float = 0.0
    """Radius of a circle, to the point of the cutter."""
    to_mm: Point = (0.0, 0.0)
    """Where a line ends."""
    centre_mm: Point = (0.0, 0.0)
    """Centre of an arc."""
    sweep_deg: float = 0.0
    """Angle of an arc, anticlockwise."""
    was_moved: bool = False
    """Whether it was cut in another place than planned."""
    cutter: "Cutter | None" = None
    depth_mm: float = 0.0
    """0 if it is not known."""

    def moved_to(self, at_mm: Point) -> "CutPicture":
        """Return the same cut, started at another place. An arc keeps its centre, the table's axis."""
        across, up = (new - old for new, old in zip(at_mm, self.at_mm, strict=True))
        to_mm = self.to_mm[0] + across, self.to_mm[1] + up
        return self._replace(at_mm=at_mm, to_mm=to_mm, was_moved=True)

    @property
    def outermost_mm(self) -> float:
        """How far from the middle of the picture its groove extends."""
        along = math.hypot(*self.at_mm)
        if self.shape == "line":
            along = max(along, math.hypot(*self.to_mm))
        elif self.shape == "arc":
            along = math.hypot(*self.centre_mm) + math.dist(self.at_mm, self.centre_mm)
        return along + self.radius_mm + self.half_width_mm


class PatternPicture(NamedTuple):
    """A pattern as seen on the work's face: 0 deg at the right, angles anticlockwise."""

    extent_mm: float
    """Radius about the middle that the picture must show."""
    cuts: tuple[CutPicture, ...] = ()
    """The cuts, without the skipped positions. Numbers count skipped positions too."""
    rim_mm: float | None = None
    """Radius of the blank, or of the circle that the positions lie on."""
    to_scale: bool = True
    """False if no size is known, so that its lengths only keep their proportions."""

    def with_moved(
        self, moved: Mapping[PatternPlace, Point], cut_again: Collection[PatternPlace] = ()
    ) -> "PatternPicture":
        """Return the picture with each of these positions drawn where it was really cut.

        `cut_again`: the positions among them that are cut in their own place as well.
        """
        if not moved:
            return self
        kept = [cut for cut in self.cuts if cut.place not in moved or cut.place in cut_again]
        cuts = (*kept, *(cut.moved_to(moved[cut.place]) for cut in self.cuts if cut.place in moved))
        return self._replace(cuts=cuts, extent_mm=max(self.extent_mm, *(cut.outermost_mm for cut in cuts)))


def pattern_picture(job: "PatternJob", moved: Mapping[PatternPlace, Point] | None = None) -> PatternPicture:
    """Return the picture of a pattern, with the errors that the settings do not correct.

    `moved`: where those positions were cut that were not cut as planned [mm].
    """
    cuts = tuple(_layer_cut(job, layer, position) for layer in job.layers for position in layer.cut_positions)
    rim_mm = None if job.blank_diameter_mm is None else job.blank_diameter_mm / 2
    extent_mm = max((cut.outermost_mm for cut in cuts), default=0.0)
    return PatternPicture(max(extent_mm, rim_mm or 0.0), cuts, rim_mm).with_moved(moved or {})


_SHAPES: Mapping["Shape", CutShape] = {"circles": "circle", "dots": "dot", "slots": "line", "arcs": "arc"}


def _layer_cut(job: "PatternJob", layer: "Layer", position: "LayerPosition") -> CutPicture:
    setting = job.polar_setting(layer, position)
    angle_deg = float(setting.angle_deg)
    at_mm = job.comes_out_mm(setting.slide_mm, angle_deg)
    place = PatternPlace(layer.number, position.number)
    width_mm = 0.0
    if layer.cutter is not None and position.depth_mm is not None:
        width_mm = layer.cutter.groove_width_mm(position.depth_mm)
    cut = CutPicture(
        place, _SHAPES[layer.shape], at_mm, width_mm / 2, cutter=layer.cutter, depth_mm=position.depth_mm or 0.0
    )
    match layer.shape:
        case "circles":
            return cut._replace(radius_mm=position.circle_radius_mm or 0.0)
        case "dots":
            return cut
        case "slots":
            to_mm = job.comes_out_mm(position.to_offset_mm or 0.0, angle_deg)
            return cut._replace(to_mm=to_mm)
        case "arcs":
            axis_mm = -job.eccentric_mm[0], -job.eccentric_mm[1]
            sweep_deg = float(layer.through_deg)
            return cut._replace(centre_mm=axis_mm, sweep_deg=sweep_deg)


_LEAST_SHARE = 0.78
"""Start of a line at the rim, as a share of the radius."""


def rim_cuts(angles_deg: Iterable[float], radius_mm: float) -> Iterator[CutPicture]:
    """Yield a line towards the middle at each angle, its outer end on a circle of that radius."""
    for number, angle_deg in enumerate(angles_deg, start=1):
        x_mm, y_mm = (radius_mm * turn(math.radians(angle_deg)) for turn in (math.cos, math.sin))
        inner_mm = _LEAST_SHARE * x_mm, _LEAST_SHARE * y_mm
        yield CutPicture(PatternPlace(1, number), "line", inner_mm, to_mm=(x_mm, y_mm))
