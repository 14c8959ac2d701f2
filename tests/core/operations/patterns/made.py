"""Builds layers and jobs of patterns directly from their types."""

from fractions import Fraction
from typing import Any

from core.lathe.lathe import Cutter
from core.operations.patterns.elements import Element, elements, exact_cuts
from core.operations.patterns.layers import Layer, PatternJob

SHARP = Cutter("sharp", 90.0)
WIDE = Cutter("wide", 120.0, tip_flat_mm=0.2)


def layer(count: int = 6, offset_mm: float = 20.0, circle_radius_mm: float = 8.0, **keys: Any) -> Layer:
    """Return a layer, of circles unless a shape is given. "start", "spread" and "through" are numbers in degrees."""
    for key in ("start", "spread", "through", "repeat_start"):
        if key in keys:
            keys[f"{key}_deg"] = Fraction(str(keys.pop(key)))
    if keys.get("shape", "circles") != "circles":
        circle_radius_mm = 0.0
    wanted: dict[str, Any] = {
        "number": 1,
        "count": count,
        "offset_mm": offset_mm,
        "circle_radius_mm": circle_radius_mm,
        "cutter": SHARP,
        "depths_mm": (0.5,),
    }
    return Layer(**(wanted | keys))


def places(*at_mm: tuple[float, float], **keys: Any) -> Layer:
    """Return a layer with a list of places."""
    return layer(count=len(at_mm), offset_mm=0.0, at_mm=at_mm, **keys)


def job(*layers: Layer, **keys: Any) -> PatternJob:
    """Return a job of layers, numbered in their order."""
    numbered = tuple(one.__class__(**{**_fields(one), "number": number}) for number, one in enumerate(layers, start=1))
    return PatternJob(layers=numbered, **keys)


def grooves(*layers: Layer, **keys: Any) -> tuple[Element, ...]:
    """Return the grooves of a job with exact dial settings."""
    wanted = job(*layers, **keys)
    return elements(wanted, exact_cuts(wanted))


def _fields(one: Layer) -> dict[str, Any]:
    return {name: getattr(one, name) for name in one.__dataclass_fields__}
