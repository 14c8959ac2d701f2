"""A pattern as the job defines it: cutters, layers, and the place of each position on the work.

Coordinates are on the work's face, seen from the spindle. The origin is the work's centre, x is to the right (towards
the operator), y is up, and angles count anticlockwise from x. Lengths in mm, angles in degrees. The formulas are
derived here, not taken from a source.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Literal, NamedTuple

from core.lathe.lathe import Cutter
from core.operations.dividing.depth import Order
from core.operations.dividing.division import FULL_CIRCLE, Means
from core.operations.patterns.geometry import RingShape, effective_offset_mm, turned_by_deg

Shape = Literal["circles", "dots", "slots", "arcs"]
SHAPES: tuple[Shape, ...] = ("circles", "dots", "slots", "arcs")
LayerOrder = Literal["wide first", "fewest changes", "written"]
LAYER_ORDERS: tuple[LayerOrder, ...] = ("wide first", "fewest changes", "written")
USUAL_DEPTH_DIAL, USUAL_OFFSET_DIAL = "carriage", "cross_slide"
Point = tuple[float, float]
"""x and y on the work [mm]."""
_PARTS_OF_A_DEGREE = 10**7
"""An angle that is not a simple fraction is rounded to this part of a degree, far finer than any mark."""


class LayerPosition(NamedTuple):
    """One position of a layer, at its wanted place on the work."""

    number: int
    """Number of the position, counted from 1 through the whole layer, ring after ring."""
    x_mm: float
    y_mm: float
    angle_deg: Fraction | None = None
    """The exact angle about the work's centre; None if only x and y are given."""
    depth_mm: float | None = None
    circle_radius_mm: float | None = None
    """Circle radius to the point of the cutter; None if the shape is not a circle."""
    to_offset_mm: float | None = None
    """End of a slot, counted from the table's axis; None for other shapes."""


@dataclass(frozen=True, kw_only=True)
class Layer:
    """One layer as the job defines it. Lengths in mm, exact angles in degrees."""

    number: int
    """Number of the layer in the job, from 1. The order of cutting can differ."""
    shape: Shape = "circles"
    cutter: Cutter | None = None
    """The cutter; None if the job names no cutter, so that widths are unknown."""
    count: int
    """Number of positions in one ring, or in the list of places."""
    start_deg: Fraction = Fraction(0)
    spread_deg: Fraction = FULL_CIRCLE
    """Angle over which the positions of a ring are spread."""
    offset_mm: float = 0.0
    """Distance of the first position from the ring's centre. For a slot: of its start from the table's axis."""
    offset_step_mm: float = 0.0
    """Added to the offset from each position to the next. The other steps work alike."""
    about_mm: Point = (0.0, 0.0)
    """The ring's centre."""
    repeat: int = 1
    """Number of equal rings. Their centres lie on a circle about `about_mm`."""
    repeat_offset_mm: float = 0.0
    repeat_start_deg: Fraction = Fraction(0)
    at_mm: tuple[Point, ...] = ()
    """Places from a list; () for a ring."""
    circle_radius_mm: float = 0.0
    """Circle radius at the first position, to the point of the cutter; 0 if the shape is not a circle."""
    circle_radius_step_mm: float = 0.0
    to_offset_mm: float = 0.0
    """Distance of a slot's end from the table's axis."""
    through_deg: Fraction = Fraction(0)
    """The angle of an arc, anticlockwise on the work."""
    depths_mm: tuple[float, ...] = ()
    """Depths, repeated round the ring; () if no depth is entered."""
    depth_step_mm: float = 0.0
    cut_mm: float | None = None
    """Greatest depth of a pass; None if one pass cuts the whole depth."""
    skip: frozenset[int] = frozenset()
    """Positions not cut, counted from 1 through the layer."""
    condition: str = ""
    """The keys of the conditions that gave count, offset or radius ("meet", "inner and outer"); "" without any."""
    condition_note: str = ""
    """A sentence about another ring that satisfies the conditions; "" if there is none."""

    @cached_property
    def positions(self) -> tuple[LayerPosition, ...]:
        """Every position in order, including the skipped positions."""
        return tuple(self._at_places() if self.at_mm else self._in_rings())

    @property
    def cut_positions(self) -> tuple[LayerPosition, ...]:
        """Every position in order, without the skipped positions."""
        return tuple(position for position in self.positions if position.number not in self.skip)

    @property
    def depth_mm(self) -> float | None:
        """The greatest wanted depth of the layer [mm]; None if no depth is entered."""
        depths = [position.depth_mm for position in self.cut_positions if position.depth_mm is not None]
        return max(depths, default=None)

    @property
    def groove_width_mm(self) -> float | None:
        """The width of the deepest groove at the face [mm]; None if the cutter or the depth is unknown."""
        if self.cutter is None or self.depth_mm is None:
            return None
        return self.cutter.groove_width_mm(self.depth_mm)

    @property
    def with_head(self) -> bool:
        """True if the boring head cuts the layer.

        All shapes except circles are cut by a cutter on the spindle's own axis.
        """
        return self.shape == "circles"

    @property
    def is_even_ring(self) -> bool:
        """True if the layer is a single full ring of equal, evenly spaced circles about the work's centre."""
        return (
            self.shape == "circles"
            and not self.at_mm
            and self.repeat == 1
            and self.about_mm == (0.0, 0.0)
            and self.spread_deg == FULL_CIRCLE
            and not self.offset_step_mm
            and not self.circle_radius_step_mm
        )

    @property
    def is_central(self) -> bool:
        """True if the positions lie in rings about the work's centre."""
        return not self.at_mm and self.about_mm == (0.0, 0.0) and (self.repeat == 1 or not self.repeat_offset_mm)

    def _in_rings(self) -> Iterator[LayerPosition]:
        for ring in range(self.repeat):
            turned_deg = self.repeat_start_deg + FULL_CIRCLE * ring / self.repeat
            centre_x, centre_y = _polar(self.repeat_offset_mm, turned_deg) if self.repeat > 1 else (0.0, 0.0)
            for k in range(self.count):
                angle_deg = self.start_deg + self.spread_deg * k / self.count
                offset_mm = self.offset_mm + self.offset_step_mm * k
                x_mm, y_mm = _polar(offset_mm, angle_deg)
                if self.is_central:
                    exact = angle_deg if offset_mm >= 0 else angle_deg + FULL_CIRCLE / 2
                    yield self._position(ring * self.count + k + 1, k, (x_mm, y_mm), exact)
                else:
                    place = (self.about_mm[0] + centre_x + x_mm, self.about_mm[1] + centre_y + y_mm)
                    yield self._position(ring * self.count + k + 1, k, place)

    def _at_places(self) -> Iterator[LayerPosition]:
        for k, place in enumerate(self.at_mm):
            yield self._position(k + 1, k, place)

    def _position(self, number: int, k: int, place: Point, angle_deg: Fraction | None = None) -> LayerPosition:
        """Return one position of the layer.

        `number`: its number in the layer. `k`: its number in its ring, counted from 0. `place`: its point on the work
        [mm]. `angle_deg`: its exact angle about the work's centre; None if only x and y are given.
        """
        return LayerPosition(
            number,
            *place,
            angle_deg=angle_deg,
            depth_mm=self.depths_mm[k % len(self.depths_mm)] + self.depth_step_mm * k if self.depths_mm else None,
            circle_radius_mm=self.circle_radius_mm + self.circle_radius_step_mm * k if self.with_head else None,
            to_offset_mm=self.to_offset_mm + self.offset_step_mm * k if self.shape == "slots" else None,
        )


def _polar(offset_mm: float, angle_deg: Fraction) -> Point:
    angle = math.radians(angle_deg % FULL_CIRCLE)
    return offset_mm * math.cos(angle), offset_mm * math.sin(angle)


class PolarSetting(NamedTuple):
    """The settings of slide and table that bring one point of the work under the spindle's axis."""

    slide_mm: float
    """Distance of the slide from the place where the axes meet; never below 0."""
    angle_deg: Fraction
    """Angle of the table, positive if it moves positions anticlockwise on the work."""
    is_corrected: bool = False
    """Whether the settings correct height error and eccentricity."""


class CutAsSet(NamedTuple):
    """The real settings of one position, on marks, holes or notches of slide, table, boring head and depth dial."""

    layer: Layer
    position: LayerPosition
    slide_mm: float
    """Distance of the slide from the place where the axes meet, on the job's side."""
    angle_deg: float
    """Angle of the table, positive if it moves positions anticlockwise on the work."""
    circle_radius_mm: float | None = None
    """Radius of a circle; None for other shapes."""
    to_slide_mm: float | None = None
    """Slide position at the end of a slot."""
    through_deg: float | None = None
    """The angle of an arc, anticlockwise on the work."""
    depth_mm: float | None = None
    """Depth at the last pass; None if no depth is entered."""


@dataclass(frozen=True, kw_only=True)
class PatternJob:
    """A pattern to cut on one face, with its layers in the order of the job. Lengths in mm, angles in degrees."""

    layers: tuple[Layer, ...]
    blank_diameter_mm: float | None = None
    height_error_mm: float = 0.0
    """Height of the table's axis above (+) or below (-) the spindle's axis."""
    eccentricity_mm: float = 0.0
    """Distance from the table's axis to the work's centre."""
    eccentric_at_deg: float = 0.0
    """Direction of the eccentricity, as an angle on the work."""
    face_runout_mm: float | None = None
    """Total indicator reading of the face; None if it was not read."""
    face_radius_mm: float | None = None
    """Radius at which the face was read; None: the outer radius of each layer."""
    face_high_at_deg: float | None = None
    correct: bool = False
    """Whether the settings correct height error and eccentricity, where this is possible."""
    depth_dial: str = USUAL_DEPTH_DIAL
    offset_dial: str = USUAL_OFFSET_DIAL
    is_far: bool = False
    """Whether the operator sees the spindle on the far side of the table's axis."""
    order: Order = "round"
    layer_order: LayerOrder = "wide first"
    means: Means = "dial"

    def wanted_depth_mm(self, layer: int | None, position: int | None = None) -> float | None:
        """Return the final wanted depth at a position [mm]; None if no depth is entered.

        `layer` and `position` count from 1. Without a position, the result is the greatest depth of the layer.
        """
        wanted = self.layers[(layer or 1) - 1]
        return wanted.depth_mm if position is None else wanted.positions[position - 1].depth_mm

    @property
    def eccentric_mm(self) -> Point:
        """The work's centre [mm], counted from the table's axis."""
        angle = math.radians(self.eccentric_at_deg)
        return self.eccentricity_mm * math.cos(angle), self.eccentricity_mm * math.sin(angle)

    def polar_setting(self, layer: Layer, position: LayerPosition) -> PolarSetting:
        """Return the setting of slide and table that brings a position under the spindle's axis.

        The setting is exact if the position's angle is exact. P is the place counted from the work's centre, P' the
        same place counted from the table's axis.

        - Not corrected: slide |P|, table angle(P).
        - Corrected: slide sqrt(|P'|^2 - height_error^2), table angle(P') + asin(height_error / |P'|).

        Slots cannot be corrected. Neither can points with |P'| below |height_error|, because the square root is not
        real.
        """
        x_mm, y_mm = position.x_mm, position.y_mm
        if self.takes_errors_out(layer, position):
            x_to_axis, y_to_axis = self._from_axis_mm(position)
            distance_mm = math.hypot(x_to_axis, y_to_axis)
            # On the far side the spindle lies on the other side of the table's axis, but at the same height.
            sense = -1 if self.is_far else 1
            angle = math.atan2(y_to_axis, x_to_axis)
            if self.height_error_mm:
                angle += sense * math.asin(self.height_error_mm / distance_mm)
            slide_mm = math.sqrt(distance_mm**2 - self.height_error_mm**2)
            return PolarSetting(slide_mm, self._turned_to_side(_rounded_deg(angle)), is_corrected=True)
        angle_deg = _rounded_deg(math.atan2(y_mm, x_mm)) if position.angle_deg is None else position.angle_deg
        return PolarSetting(math.hypot(x_mm, y_mm), self._turned_to_side(angle_deg))

    def _turned_to_side(self, angle_deg: Fraction) -> Fraction:
        """Return the table's angle for the side of the axis on which the spindle cuts.

        The far side adds half a turn.
        """
        return angle_deg + FULL_CIRCLE / 2 if self.is_far else angle_deg

    def takes_errors_out(self, layer: Layer, position: LayerPosition) -> bool:
        """Return whether the settings of a position correct the height error and the eccentricity."""
        has_error = bool(self.height_error_mm or self.eccentricity_mm)
        if not self.correct or not has_error or layer.shape == "slots":
            return False
        return math.hypot(*self._from_axis_mm(position)) >= abs(self.height_error_mm)

    def _from_axis_mm(self, position: LayerPosition) -> Point:
        return position.x_mm + self.eccentric_mm[0], position.y_mm + self.eccentric_mm[1]

    def comes_out_mm(self, slide_mm: float, angle_deg: float) -> Point:
        """Return the point of the work that is under the spindle's axis at a setting of slide and table [mm].

        The point is (slide, -height_error) turned by the angle, less the eccentricity. A slide below 0 is past the
        axis.
        """
        slide_mm = -slide_mm if self.is_far else slide_mm
        angle = math.radians(angle_deg)
        x_mm = slide_mm * math.cos(angle) + self.height_error_mm * math.sin(angle)
        y_mm = slide_mm * math.sin(angle) - self.height_error_mm * math.cos(angle)
        return x_mm - self.eccentric_mm[0], y_mm - self.eccentric_mm[1]

    def shape(self, layer: Layer) -> RingShape:
        """Return the ring that an even layer forms on the work.

        The ring includes the effect of a height error that the settings do not correct.
        """
        is_right = all(self.takes_errors_out(layer, position) for position in layer.positions)
        height_mm = 0.0 if is_right else self.height_error_mm
        turned = turned_by_deg(layer.offset_mm, height_mm) * (1 if self.is_far else -1)
        return RingShape(
            count=layer.count,
            offset_mm=effective_offset_mm(layer.offset_mm, height_mm),
            circle_radius_mm=layer.circle_radius_mm,
            groove_width_mm=layer.groove_width_mm,
            start_deg=float(layer.start_deg) + (turned if height_mm else 0.0),
            skip=layer.skip,
        )

    @property
    def targets_by_layer_deg(self) -> tuple[tuple[Fraction, ...], ...]:
        """The table's angle at every position of every layer [deg], including skipped positions.

        Angles are exact where possible.
        """
        return tuple(
            tuple(self.polar_setting(layer, position).angle_deg for position in layer.positions)
            for layer in self.layers
        )


def _rounded_deg(angle: float) -> Fraction:
    """Return an angle [rad] in degrees, as a fraction with a limited denominator."""
    return Fraction(round(math.degrees(angle) * _PARTS_OF_A_DEGREE), _PARTS_OF_A_DEGREE)
