"""A drawing as plain geometry, which a screen paints in the characters of its terminal.

It shows the machine from above, as the turner sees it: x goes to the right, towards the tailstock; y goes
up, away from the turner. Coordinates are in any one unit; both directions have the same scale.
"""

from typing import Literal, NamedTuple

Point = tuple[float, float]
Look = Literal["edge", "faint", "wanted", "tool"]
"""What a stroke or an area shows.

`edge` is metal and slides, `faint` a reference line, `wanted` the outline wanted, `tool` the tool.
"""
Fill = Literal["metal", "this pass"]


class Stroke(NamedTuple):
    """Straight lines from point to point."""

    points: tuple[Point, ...]
    look: Look = "edge"
    closed: bool = False
    fine: bool = False
    """True to draw it only on screens whose dots are smaller than a character."""


class Area(NamedTuple):
    """A filled area: the inside of a closed line."""

    points: tuple[Point, ...]
    fill: Fill


class Name(NamedTuple):
    """A word or number at a point."""

    text: str
    at: Point
    anchor: Literal["left", "middle", "right"] = "middle"


class Bounds(NamedTuple):
    """The part of the plane that must be visible."""

    x_least: float
    x_most: float
    y_least: float
    y_most: float


class Grid(NamedTuple):
    """Points in rows from the top down, each row from left to right, in one unit of length."""

    left: float
    """x of the first point of a row."""
    top: float
    """y of the first row."""
    across: float
    """From point to point."""
    down: float
    """From row to row."""
    columns: int
    rows: int


class Drawing(NamedTuple):
    """A drawing. Areas are painted first, names last."""

    bounds: Bounds
    strokes: tuple[Stroke, ...]
    areas: tuple[Area, ...] = ()
    names: tuple[Name, ...] = ()
    sentences: tuple[str, ...] = ()
    """Sentences to show below the drawing, those with its numbers first."""
    viewpoint: str = ""
    """From where the work is seen, and what is drawn to scale."""
    shown_unasked: bool = False
    """True if the drawing says more than the text of its step. Then it is shown beside the text without a key."""
