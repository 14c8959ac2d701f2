"""Data with which a screen or a card draws a pattern to scale: circles and spokes in mm about the table's axis."""

import math
from collections.abc import Iterable
from typing import NamedTuple


class CirclePicture(NamedTuple):
    """One circle of a layer that is cut."""

    position: int
    x_mm: float
    y_mm: float


class LayerPicture(NamedTuple):
    """One layer; tip lines of `radius_mm`, grooves from `radius_mm` - to + `half_width_mm`."""

    layer: int
    radius_mm: float
    half_width_mm: float
    """0 if tip or depth is not known."""
    circles: tuple[CirclePicture, ...]
    """The circles without the skipped ones. Skipped positions still count."""


class SpokePicture(NamedTuple):
    """One position at which something is cut at the rim: a line towards the table's axis."""

    position: int
    inner_mm: tuple[float, float]
    outer_mm: tuple[float, float]


class PatternPicture(NamedTuple):
    """A pattern as seen on the work's face; position 1 at its start angle from the right, counted anticlockwise."""

    extent_mm: float
    """Radius about the middle that the picture must show."""
    layers: tuple[LayerPicture, ...] = ()
    spokes: tuple[SpokePicture, ...] = ()
    rim_mm: float | None = None
    """Radius of the blank, or of the circle that the positions lie on."""


_SPOKE = 0.78
"""Start of a spoke, as a share of the radius."""


def spoke_pictures(angles_deg: Iterable[float], radius_mm: float) -> tuple[SpokePicture, ...]:
    """Return a spoke at each angle, its end on a circle of that radius."""
    spokes = []
    for number, angle_deg in enumerate(angles_deg, start=1):
        x_mm, y_mm = (radius_mm * turn(math.radians(angle_deg)) for turn in (math.cos, math.sin))
        spokes.append(SpokePicture(number, (_SPOKE * x_mm, _SPOKE * y_mm), (x_mm, y_mm)))
    return tuple(spokes)
