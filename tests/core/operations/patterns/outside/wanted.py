"""Calculates the demands of a pattern from the file format alone. Lengths in mm, angles in degrees. Derived."""

import math
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np

from tests.core.operations.patterns.outside.job_files import Tables, deg, mm

Vector = np.ndarray[Any, np.dtype[np.float64]]
NONE = "0 mm"


class Wanted(NamedTuple):
    """One position to cut."""

    layer: int
    position: int
    shape: str
    place: Vector
    """x and y on the work, from its own centre."""
    depth_mm: float
    cut_mm: float
    radius_mm: float
    """Of a circle."""
    to_offset_mm: float
    """Where a slot ends, from the table's axis."""
    through_deg: float
    """Of an arc."""


class Settings(NamedTuple):
    """The exact settings of slide and table, before rounding."""

    slide_mm: float
    """From where the axes meet, towards the side on which the spindle is to lie."""
    angle_deg: float
    is_corrected: bool


def turned(vector: Any, angle_deg: float) -> Vector:
    """Return a vector turned anticlockwise by an angle."""
    angle = math.radians(angle_deg)
    cosine, sine = math.cos(angle), math.sin(angle)
    found: Vector = np.array([[cosine, -sine], [sine, cosine]]) @ np.asarray(vector, dtype=float)
    return found


def all_wanted(operation: Tables) -> list[Wanted]:
    """Return every position to cut in a pattern, layer by layer in the written order."""
    return [
        one
        for number, layer in enumerate(operation["layer"], start=1)
        for one in wanted_of_layer(layer, number)
        if one.position not in layer.get("skip", ())
    ]


def wanted_of_layer(layer: Tables, number: int = 1) -> Iterator[Wanted]:
    """Yield every position of a layer, including skipped positions."""
    depths = layer["depth"] if isinstance(layer["depth"], list) else [layer["depth"]]
    for position, (k, place) in enumerate(_places(layer), start=1):
        depth_mm = mm(depths[k % len(depths)]) + k * _mm(layer, "depth_step")
        yield Wanted(
            layer=number,
            position=position,
            shape=layer["shape"],
            place=place,
            depth_mm=depth_mm,
            cut_mm=mm(layer["cut"]) if "cut" in layer else math.inf,
            radius_mm=_mm(layer, "circle_radius") + k * _mm(layer, "circle_radius_step"),
            to_offset_mm=_mm(layer, "to") + k * _mm(layer, "offset_step"),
            through_deg=float(deg(layer.get("through", "0 deg"))),
        )


def _places(layer: Tables) -> Iterator[tuple[int, Vector]]:
    """Yield each place with its number in its ring, from 0."""
    if "at" in layer:
        yield from ((k, np.array([mm(x), mm(y)])) for k, (x, y) in enumerate(layer["at"]))
        return
    about = np.array([mm(place) for place in layer.get("about", (NONE, NONE))])
    repeat, count = layer.get("repeat", 1), layer["count"]
    offset_mm = mm(layer["from" if layer["shape"] == "slots" else "offset"])
    start, spread = deg(layer.get("start", "0 deg")), deg(layer.get("spread", "360 deg"))
    for ring in range(repeat):
        centre = about
        if repeat > 1:
            ring_deg = deg(layer.get("repeat_start", "0 deg")) + 360 * ring / repeat
            centre = about + turned((_mm(layer, "repeat_offset"), 0), float(ring_deg))
        for k in range(count):
            angle_deg = float(start + spread * k / count)
            yield k, centre + turned((offset_mm + k * _mm(layer, "offset_step"), 0), angle_deg)


def _mm(table: Tables, key: str) -> float:
    return mm(table.get(key, NONE))


def eccentric_mm(operation: Tables) -> Vector:
    """Return the work's centre, counted from the table's axis."""
    return turned((_mm(operation, "eccentricity"), 0), float(deg(operation.get("eccentric_at", "0 deg"))))


def comes_out_mm(operation: Tables, slide_mm: float, angle_deg: float) -> Vector:
    """Return the point of the work under the spindle's axis.

    `slide_mm`: the distance by which the spindle's axis is nearer to the operator than the table's axis. In space the
    spindle lies at (slide, -height error) from the table's axis. A clockwise turn of the table by the angle brings to
    that place the point that lay there turned anticlockwise.
    """
    return turned((slide_mm, -_mm(operation, "height_error")), angle_deg) - eccentric_mm(operation)


def settings(operation: Tables, wanted: Wanted) -> Settings:
    """Return the settings for a position, before rounding to marks or holes."""
    far = operation.get("offset_side", "near") == "far"
    height_mm = _mm(operation, "height_error")
    from_axis = wanted.place + eccentric_mm(operation)
    distance_mm = float(np.hypot(*from_axis))
    corrected = operation.get("correct", False) and wanted.shape != "slots" and distance_mm >= abs(height_mm)
    if not corrected or distance_mm == 0:
        x_mm, y_mm = wanted.place
        angle_deg = math.degrees(math.atan2(y_mm, x_mm)) + (180 if far else 0)
        return Settings(float(np.hypot(x_mm, y_mm)), angle_deg, False)
    # The place is (+-slide, -height) turned by the table's angle: their directions differ by that angle.
    slide_mm = math.sqrt(distance_mm**2 - height_mm**2)
    in_space = math.atan2(-height_mm, -slide_mm if far else slide_mm)
    angle_deg = math.degrees(math.atan2(from_axis[1], from_axis[0]) - in_space)
    return Settings(slide_mm, angle_deg, True)


def cutter_of(operation: Tables, layer: Tables, lathe: Tables) -> Mapping[str, Any]:
    """Return the mapping of a layer's cutter."""
    own = operation.get("cutter", [])
    if "cutter" not in layer:
        only: Mapping[str, Any] = own[0]
        return only
    cutters = [*own, *lathe.get("cutter", [])]
    return next(cutter for cutter in cutters if cutter["name"] == layer["cutter"])
