"""What a screen needs to draw a pattern to scale: circles in mm about the table's axis, no drawing."""

from collections.abc import Sequence
from typing import NamedTuple

from core.operations.patterns.geometry import RingShape


class CirclePicture(NamedTuple):
    """One circle that is cut."""

    position: int
    x_mm: float
    y_mm: float


class LayerPicture(NamedTuple):
    """One layer; tip lines of `radius_mm`, grooves from `radius_mm` - to + `half_width_mm`."""

    layer: int
    radius_mm: float
    half_width_mm: float
    """0 where tip or depth is not known."""
    circles: tuple[CirclePicture, ...]
    """Without those left out; their positions stay counted."""


def layer_pictures(shapes: Sequence[RingShape]) -> tuple[LayerPicture, ...]:
    """Return every layer's circles, position 1 at its start angle from the right, counted anticlockwise."""
    return tuple(
        LayerPicture(
            layer=number,
            radius_mm=shape.circle_radius_mm,
            half_width_mm=(shape.groove_width_mm or 0.0) / 2,
            circles=tuple(
                CirclePicture(position=position, x_mm=x_mm, y_mm=y_mm) for position, x_mm, y_mm in shape.centres_mm()
            ),
        )
        for number, shape in enumerate(shapes, start=1)
    )


def reach_mm(shapes: Sequence[RingShape], blank_diameter_mm: float | None) -> float:
    """Return the radius about the table's axis that a picture must show: pattern and blank [mm]."""
    reach = max(shape.outer_edge_mm or shape.outer_mm for shape in shapes)
    return max(reach, (blank_diameter_mm or 0.0) / 2)
