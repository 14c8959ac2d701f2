"""A drawing as plain geometry, which a screen paints with the characters of its terminal.

A drawing shows the machine from above, as the turner sees it: x goes to the right, towards the tailstock, and y goes
up, away from the turner. Coordinates may be in any unit, as long as the scale is the same in both directions.
"""

from typing import Literal, NamedTuple

Point = tuple[float, float]
Look = Literal["edge", "faint", "wanted", "tool"]
"""What a polyline or an area of a drawing represents.

`edge`: metal and slides. `faint`: a reference line. `wanted`: the wanted outline. `tool`: the tool.
"""
Fill = Literal["metal", "this pass"]


class Stroke(NamedTuple):
    """A chain of straight lines, each from one point to the next."""

    points: tuple[Point, ...]
    look: Look = "edge"
    closed: bool = False
    fine: bool = False
    """True to draw the polyline only on screens whose dots are smaller than a character."""


class Area(NamedTuple):
    """A filled area, given by the corners of its outline."""

    points: tuple[Point, ...]
    fill: Fill


class Name(NamedTuple):
    """A word or number written at a point of the drawing."""

    text: str
    at: Point
    anchor: Literal["left", "middle", "right"] = "middle"


class Bounds(NamedTuple):
    """The part of a drawing that a screen must show: a rectangle, in the unit of the drawing."""

    x_least: float
    x_most: float
    y_least: float
    y_most: float


class Grid(NamedTuple):
    """The positions of points in evenly spaced rows and columns, in the unit of the drawing.

    The points are numbered row by row from the top, and from left to right in each row.
    """

    left: float
    """x of the first point of each row."""
    top: float
    """y of the first row."""
    across: float
    """The distance between neighbouring points of a row."""
    down: float
    """The distance between neighbouring rows."""
    columns: int
    rows: int


class Drawing(NamedTuple):
    """Lines, filled areas, labels and sentences. A screen paints the areas first and the labels last."""

    bounds: Bounds
    strokes: tuple[Stroke, ...]
    areas: tuple[Area, ...] = ()
    names: tuple[Name, ...] = ()
    sentences: tuple[str, ...] = ()
    """Sentences to show below the drawing. Sentences with the drawing's numbers come first."""
    viewpoint: str = ""
    """The direction from which the work is seen, and which parts are drawn to scale."""
    shown_unasked: bool = False
    """True if the screen shows the drawing next to the step's text without a key press, because it adds information."""
