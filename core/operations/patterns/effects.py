"""What errors of the set-up do to what is seen: width and spacing of the grooves. Derived; mm and degrees."""

import math
from typing import NamedTuple

from core.operations.patterns.geometry import RingShape, effective_offset_mm, turned_by_deg


class HeightEffect(NamedTuple):
    """What a table axis above or below the spindle axis does to a ring."""

    offset_change_mm: float
    """The ring grows by this; second order: 1 mm at 20 mm gives 0.025 mm."""
    turned_by_deg: float
    """The whole ring turns by this; one ring alone only rotates, two of different offset turn against each other."""
    spacing_change_mm: float
    """Neighbouring centres move apart by this."""


def height_effect(offset_mm: float, count: int, height_error_mm: float) -> HeightEffect:
    """Return what an axis height error does to a ring of a nominal offset."""
    grows = effective_offset_mm(offset_mm, height_error_mm) - offset_mm
    return HeightEffect(
        offset_change_mm=grows,
        turned_by_deg=turned_by_deg(offset_mm, height_error_mm),
        spacing_change_mm=2 * grows * math.sin(math.pi / count) if count > 1 else 0.0,
    )


def layers_turned_mm(offset_1_mm: float, offset_2_mm: float, height_error_mm: float) -> tuple[float, float]:
    """Return by how much an axis height error turns two rings against each other: degrees, and mm at the smaller.

    >>> angle, length = layers_turned_mm(20, 10, 0.1)
    >>> round(angle, 3), round(length, 3)
    (0.286, 0.05)
    """
    angle = abs(turned_by_deg(offset_1_mm, height_error_mm) - turned_by_deg(offset_2_mm, height_error_mm))
    return angle, math.radians(angle) * min(offset_1_mm, offset_2_mm)


class FaceRunout(NamedTuple):
    """What runout of the work's face does to grooves that are touched off where the face stands highest under them."""

    depth_min_mm: float
    """Least depth, where the face stands lowest; 0 where the cutter does not reach it. The greatest is the one set."""
    width_change_mm: float
    """Widest groove minus narrowest, while the cutter touches everywhere."""
    leaves_face: bool
    """The face runs out by more than the depth: a patch stays bare."""


def face_runout(tir_mm: float, tip_angle_deg: float, depth_mm: float, reach: float = 1.0) -> FaceRunout:
    """Return what a total indicator reading of the face does to a groove of a depth.

    `reach`: largest radius that the grooves reach, by the radius at which the face was
    read [-]. The width changes by 2 TIR reach tan(included angle / 2).

    >>> effect = face_runout(0.05, 120, 0.3)
    >>> round(effect.width_change_mm, 3), round(effect.depth_min_mm, 3)
    (0.173, 0.25)
    """
    lower_mm = tir_mm * reach
    return FaceRunout(
        depth_min_mm=max(0.0, depth_mm - lower_mm),
        width_change_mm=2 * lower_mm * math.tan(math.radians(tip_angle_deg / 2)),
        leaves_face=depth_mm < lower_mm,
    )


def off_centre_mm(table_tir_mm: float) -> float:
    """Return how far the whole pattern lies off the work's centre where its rim runs out on the table: TIR / 2 [mm].

    The border outside the pattern is then wider on one side by the whole TIR.
    """
    return table_tir_mm / 2


class PositionEffect(NamedTuple):
    """What one position set wrong does to what is seen."""

    shift_mm: float
    """The circle lies this far along the ring from its place."""
    spacing_change_mm: float
    """One neighbour comes nearer by this, the other goes further off: the gap is wrong once on each side."""


def position_effect(ring: RingShape, error_deg: float) -> PositionEffect:
    """Return what an error of one position does [deg]; the chord changes by R delta cos(180/N).

    >>> ring = RingShape(count=12, offset_mm=50, circle_radius_mm=5)
    >>> effect = position_effect(ring, 60 / 3600)
    >>> round(effect.shift_mm, 4), round(effect.spacing_change_mm, 4)
    (0.0145, 0.014)
    """
    shift = ring.offset_mm * math.radians(abs(error_deg))
    nearer = shift * math.cos(math.pi / ring.count) if ring.count > 1 else 0.0
    return PositionEffect(shift_mm=shift, spacing_change_mm=nearer)


def tilt_depth_change_mm(circle_radius_mm: float, tilt_deg: float) -> float:
    """Return how much deeper one side of every circle is where spindle and table axes are not parallel: 2 r sin t [mm].

    >>> round(tilt_depth_change_mm(12, 0.1), 4)
    0.0419
    """
    return 2 * circle_radius_mm * math.sin(math.radians(abs(tilt_deg)))
