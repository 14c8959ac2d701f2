"""A pattern as a picture: the cut at every position, in mm on the face, with x to the right and y up.

Operations of the kinds pattern, divide and holes have such pictures. Screens and cards draw them.
"""

import math
from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Literal, NamedTuple

if TYPE_CHECKING:
    from core.lathe.lathe import Cutter

Point = tuple[float, float]
CutShape = Literal["circle", "dot", "line", "arc"]
"""The shapes of a cut. A "line" is a slot, or a cut from the rim towards the middle."""


class PatternPlace(NamedTuple):
    """One position of one layer. Both numbers count from 1."""

    layer: int
    position: int


class FaceFall(NamedTuple):
    """A plane that gives how far the face falls below the place where the cutter was touched off."""

    at_centre_mm: float
    """Fall at the work's centre."""
    across: float
    """Further fall for each mm to the right."""
    up: float
    """Further fall for each mm up."""

    def at_mm(self, place: Point) -> float:
        """Return how far the face at a point lies below the place where the cutter was touched off [mm]."""
        return max(0.0, self.at_centre_mm + self.across * place[0] + self.up * place[1])


class CutPicture(NamedTuple):
    """The groove cut at one position: the path of the cutter's point, with `half_width_mm` on either side."""

    place: PatternPlace
    shape: CutShape
    at_mm: Point
    """Centre of a circle or a dot, or start of a line or an arc."""
    half_width_mm: float = 0.0
    """Half the width at the face; 0 if the cutter's point or the depth is unknown."""
    radius_mm: float = 0.0
    """Radius of a circle, to the point of the cutter."""
    to_mm: Point = (0.0, 0.0)
    """End of a line."""
    centre_mm: Point = (0.0, 0.0)
    """Centre of an arc."""
    sweep_deg: float = 0.0
    """Angle of an arc, anticlockwise."""
    was_moved: bool = False
    """Whether the cut is not in its planned place."""
    cutter: "Cutter | None" = None
    depth_mm: float = 0.0
    """Depth of the groove; 0 if it is unknown. On a face that runs out: the depth at the touch-off place."""
    fall: FaceFall | None = None
    """Runout of the face; None for a true face."""

    def depth_at(self, place: Point) -> float:
        """Return the depth of the groove where its tip line passes a point [mm]; 0 if the cutter misses the face."""
        return self.depth_mm if self.fall is None else max(0.0, self.depth_mm - self.fall.at_mm(place))

    def half_width_at(self, place: Point) -> float:
        """Return half the groove's width at the face where its tip line passes a point [mm]."""
        if self.fall is None or self.cutter is None:
            return self.half_width_mm
        return self.cutter.groove_width_mm(self.depth_at(place)) / 2

    def moved_to(self, at_mm: Point) -> "CutPicture":
        """Return the same cut with its start at another point [mm].

        An arc keeps its centre, which is the table's axis.
        """
        across, up = (new - old for new, old in zip(at_mm, self.at_mm, strict=True))
        to_mm = self.to_mm[0] + across, self.to_mm[1] + up
        return self._replace(at_mm=at_mm, to_mm=to_mm, was_moved=True)

    @property
    def tip_line(self) -> "CutPicture":
        """The path of the cutter's point: the same cut without width, as on a face that runs true."""
        return self._replace(half_width_mm=0.0, fall=None)

    @property
    def outermost_mm(self) -> float:
        """The largest distance of the groove from the middle of the picture [mm]."""
        along = math.hypot(*self.at_mm)
        if self.shape == "line":
            along = max(along, math.hypot(*self.to_mm))
        elif self.shape == "arc":
            along = math.hypot(*self.centre_mm) + math.dist(self.at_mm, self.centre_mm)
        return along + self.radius_mm + self.half_width_mm


class PatternPicture(NamedTuple):
    """A pattern seen on the work's face. 0 deg is at the right, and angles count anticlockwise."""

    extent_mm: float
    """Radius about the middle that the picture must show."""
    cuts: tuple[CutPicture, ...] = ()
    """The cuts, without the skipped positions. Numbers count skipped positions too."""
    rim_mm: float | None = None
    """Radius of the blank, or of the circle that the positions lie on."""
    to_scale: bool = True
    """False if no size is known. The lengths then have only the right proportions."""

    def with_moved(
        self, moved: Mapping[PatternPlace, Point], cut_again: Collection[PatternPlace] = ()
    ) -> "PatternPicture":
        """Return the picture with some positions drawn where they were really cut.

        `moved`: the real points [mm], by place. `cut_again`: the places in `moved` that were cut a second time, at the
        planned point.
        """
        if not moved:
            return self
        kept = [cut for cut in self.cuts if cut.place not in moved or cut.place in cut_again]
        cuts = (*kept, *(cut.moved_to(moved[cut.place]) for cut in self.cuts if cut.place in moved))
        return self._replace(cuts=cuts, extent_mm=max(self.extent_mm, *(cut.outermost_mm for cut in cuts)))


class ErrorsView(NamedTuple):
    """The user's choice of how the picture shows the set-up errors."""

    factor: int = 1
    """The enlargement of the errors."""
    corrected: bool | None = None
    """Whether the settings correct the errors; None if the job decides."""


_LEAST_SHARE = 0.78
"""Start of a line at the rim, as a share of the radius."""


def rim_cuts(angles_deg: Iterable[float], radius_mm: float) -> Iterator[CutPicture]:
    """Yield, for each angle, a cut that runs from a circle of a given radius towards the middle."""
    for number, angle_deg in enumerate(angles_deg, start=1):
        x_mm, y_mm = (radius_mm * turn(math.radians(angle_deg)) for turn in (math.cos, math.sin))
        inner_mm = _LEAST_SHARE * x_mm, _LEAST_SHARE * y_mm
        yield CutPicture(PatternPlace(1, number), "line", inner_mm, to_mm=(x_mm, y_mm))
