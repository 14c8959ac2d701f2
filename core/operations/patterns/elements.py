"""The grooves of a pattern on the finished work: place, size, depth and width of every groove.

They follow from the real marks, holes and notches, the height error, the eccentricity and the side of the table's axis
on which the spindle cuts. The face is assumed to run true. The formulas are derived here, not taken from a source.
Lengths in mm, angles in degrees.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, Literal, NamedTuple

from core.lathe.lathe import Cutter
from core.operations.patterns.layers import CutAsSet, PatternJob, Shape

ElementShape = Literal["circle", "dot", "slot", "arc"]
_ONE_OF: dict[Shape, ElementShape] = {"circles": "circle", "dots": "dot", "slots": "slot", "arcs": "arc"}


class Element(NamedTuple):
    """One groove on the finished work. A field that does not apply to the groove's shape is None."""

    layer: int
    position: int
    """Number of the position in the layer, counted from 1."""
    shape: ElementShape
    angle_deg: float
    """Angle of the table, positive if it moves positions anticlockwise on the work."""
    x_mm: float
    """Centre of a circle, or start of a slot or an arc, counted from the work's centre."""
    y_mm: float
    radius_mm: float | None = None
    """Radius of a circle, to the point of the cutter."""
    to_x_mm: float | None = None
    """End of a slot, counted from the work's centre."""
    to_y_mm: float | None = None
    centre_x_mm: float | None = None
    """The centre of an arc: the table's axis."""
    centre_y_mm: float | None = None
    sweep_deg: float | None = None
    """Angle of an arc, anticlockwise on the work."""
    depth_mm: float | None = None
    width_mm: float | None = None
    """Width at the face; None if the cutter or the depth is unknown."""

    @property
    def line_radius_mm(self) -> float:
        """The radius of the tip line of a circle or an arc [mm]; 0 for a dot or a slot."""
        if self.centre_x_mm is not None and self.centre_y_mm is not None:
            return math.hypot(self.x_mm - self.centre_x_mm, self.y_mm - self.centre_y_mm)
        return self.radius_mm or 0.0

    def as_data(self) -> dict[str, Any]:
        """Return the groove as data for the card, without the fields that do not apply to the groove's shape."""
        return {key: value for key, value in self._asdict().items() if value is not None}


def elements(job: PatternJob, cuts: Sequence[CutAsSet], factor: float = 1.0) -> tuple[Element, ...]:
    """Return every groove on the finished work, in the order of the cuts.

    `cuts`: the cuts with their real settings. `factor`: the enlargement of the errors in a picture. Errors that the
    settings correct are not enlarged.
    """
    height_mm, eccentric_mm = factor * job.height_error_mm, factor * job.eccentricity_mm
    enlarged = job if factor == 1 else replace(job, height_error_mm=height_mm, eccentricity_mm=eccentric_mm)
    return tuple(_elements(job, cuts, enlarged))


def _elements(job: PatternJob, cuts: Sequence[CutAsSet], enlarged: PatternJob) -> Iterator[Element]:
    to_centre_x_mm, to_centre_y_mm = enlarged.eccentric_mm
    # Adding 0 turns -0.0 into 0.0, so that no file has "-0".
    centre_x_mm, centre_y_mm = 0.0 - to_centre_x_mm, 0.0 - to_centre_y_mm
    for cut in cuts:
        layer, shape = cut.layer, _ONE_OF[cut.layer.shape]
        machine = job if job.takes_errors_out(layer, cut.position) else enlarged
        x_mm, y_mm = machine.comes_out_mm(cut.slide_mm, cut.angle_deg)
        element = Element(
            layer=layer.number,
            position=cut.position.number,
            shape=shape,
            angle_deg=cut.angle_deg,
            x_mm=x_mm,
            y_mm=y_mm,
            depth_mm=cut.depth_mm,
            width_mm=None
            if layer.cutter is None or cut.depth_mm is None
            else layer.cutter.groove_width_mm(cut.depth_mm),
        )
        if shape == "circle":
            yield element._replace(radius_mm=cut.circle_radius_mm)
        elif shape == "slot" and cut.to_slide_mm is not None:
            to_x_mm, to_y_mm = machine.comes_out_mm(cut.to_slide_mm, cut.angle_deg)
            yield element._replace(to_x_mm=to_x_mm, to_y_mm=to_y_mm)
        elif shape == "arc":
            yield element._replace(centre_x_mm=centre_x_mm, centre_y_mm=centre_y_mm, sweep_deg=cut.through_deg)
        else:
            yield element


def exact_cuts(job: PatternJob) -> tuple[CutAsSet, ...]:
    """Return every cut of a pattern with exact settings, not rounded to marks."""
    return tuple(
        CutAsSet(
            layer=layer,
            position=position,
            slide_mm=setting.slide_mm,
            angle_deg=float(setting.angle_deg),
            circle_radius_mm=position.circle_radius_mm,
            to_slide_mm=position.to_offset_mm,
            through_deg=float(layer.through_deg) if layer.shape == "arcs" else None,
            depth_mm=position.depth_mm,
        )
        for layer in job.layers
        for position in layer.cut_positions
        for setting in (job.polar_setting(layer, position),)
    )


def depth_beside_mm(cutter: Cutter, depth_mm: float, beside_mm: float) -> float:
    """Return the depth of a groove at a distance from its tip line [mm]; 0 beyond the groove's edge.

    `depth_mm`: the depth at the tip line [mm]. `beside_mm`: the distance [mm]. The function is the inverse of
    `Cutter.groove_width_mm`. The bottom of the groove is a flat or an arc, and straight flanks follow on either side.

    >>> round(depth_beside_mm(Cutter("sharp", 90), 0.6, 0.2), 6)
    0.4
    """
    half, radius_mm = math.radians(cutter.tip_angle_deg / 2), cutter.tip_radius_mm
    if radius_mm and beside_mm <= radius_mm * math.cos(half):
        return max(0.0, depth_mm - radius_mm + math.sqrt(radius_mm**2 - beside_mm**2))
    if not radius_mm and beside_mm <= cutter.tip_flat_mm / 2:
        return max(0.0, depth_mm)
    bottom_mm = radius_mm * math.cos(half) + cutter.tip_flat_mm / 2
    return max(0.0, depth_mm - radius_mm * (1 - math.sin(half)) - (beside_mm - bottom_mm) / math.tan(half))
