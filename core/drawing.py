"""A drawing as plain geometry, for a screen to paint in whatever signs its terminal has.

x to the right, towards the tailstock; y up, away from the turner: what lies at the
machine is seen from above, as it is from where the lathe is worked. Places are in any
one unit; both directions have the same scale.
"""

from typing import Literal, NamedTuple

Point = tuple[float, float]
Look = Literal["edge", "faint", "wanted", "tool"]
"""edge: metal and slides; faint: what is only referred to; wanted: where the work is to come to; tool: the tool."""
Fill = Literal["metal", "this pass"]


class Stroke(NamedTuple):
    """Straight lines from point to point."""

    points: tuple[Point, ...]
    look: Look = "edge"
    closed: bool = False
    fine: bool = False
    """Only of use where dots are smaller than a character."""


class Area(NamedTuple):
    """What lies within a closed line."""

    points: tuple[Point, ...]
    fill: Fill


class Name(NamedTuple):
    """A word or number at a place."""

    text: str
    at: Point
    anchor: Literal["left", "middle", "right"] = "middle"


class Bounds(NamedTuple):
    """What must be in sight."""

    x_least: float
    x_most: float
    y_least: float
    y_most: float


class Drawing(NamedTuple):
    """Areas are painted first, names last."""

    bounds: Bounds
    strokes: tuple[Stroke, ...]
    areas: tuple[Area, ...] = ()
    names: tuple[Name, ...] = ()
    sentences: tuple[str, ...] = ()
    """Sentences that belong below it, its numbers first."""
    viewpoint: str = ""
    """From where it is seen, and what of it is to scale."""
    shown_unasked: bool = False
    """It says more than the words of its step, and is shown beside them unasked."""
