"""Drawings as SVG: SVG elements with escaped text, and the lines, areas and labels of a `Drawing`.

Source: Scalable Vector Graphics (SVG) 1.1, second edition, W3C; XML 1.0, W3C, for the characters of a text. No drawing
needs a script, a font file or a network.
"""

from collections.abc import Iterable
from html import escape

from core.drawing import Drawing, Fill, Look, Stroke
from core.values.plain_text import clean
from core.values.quantities import number_text

SVG_NAMESPACE = "http://www.w3.org/2000/svg"
_PLACES = 4
"""Decimal places of a coordinate: a tenth of a micrometre."""
LONGEST_TEXT = 4_000
"""The greatest length of a text [characters]: longer than any row of a job file, so that no text is cut off."""
Point = tuple[float, float]


def tag(name: str, *children: str, **attributes: str | float) -> str:
    """Return an SVG element as text. Values of attributes are escaped, and `_` in an attribute's name becomes `-`.

    `children`: the content of the element, already in SVG.

    >>> tag("circle", cx=0.5, cy=-0.0, r=12, stroke_width=0.1)
    '<circle cx="0.5" cy="0" r="12" stroke-width="0.1"/>'
    """
    written = "".join(f' {key.rstrip("_").replace("_", "-")}="{_value(value)}"' for key, value in attributes.items())
    inside = "".join(children)
    return f"<{name}{written}>{inside}</{name}>" if inside else f"<{name}{written}/>"


def words(text: str) -> str:
    """Return a text for use inside SVG: escaped, on one row, and without characters that XML forbids.

    >>> words('5" <disc> & "rim"')
    '5&quot; &lt;disc&gt; &amp; &quot;rim&quot;'
    """
    return escape(clean(text, LONGEST_TEXT))


class PathData(str):
    """The coordinates of an SVG path as text. They can be long, and they need no escaping."""


def _value(value: str | float) -> str:
    if isinstance(value, PathData):
        return value
    return words(value) if isinstance(value, str) else coordinate(value)


def coordinate(value: float) -> str:
    """Return a coordinate as text, rounded to four decimal places and never "-0".

    >>> coordinate(-0.00001), coordinate(12.0)
    ('0', '12')
    """
    return number_text(round(value, _PLACES) + 0.0, _PLACES)


def path_of(points: Iterable[Point], *, closed: bool = False) -> PathData:
    """Return the path data of straight lines through the points.

    In `points` the y axis points up, but in SVG it points down. `closed`: True to connect the last point to the first.
    """
    ends = " L ".join(f"{coordinate(x)} {coordinate(-y)}" for x, y in points)
    return PathData(f"M {ends}{' Z' if closed else ''}")


def svg_root(*children: str, box: tuple[float, float, float, float], width_mm: float, title: str) -> str:
    """Return a complete SVG drawing, `width_mm` wide. `children`: its content, already in SVG.

    `box`: the left edge, top edge, width and height of the visible part, in drawing units.
    """
    height_mm = width_mm * box[3] / box[2]
    return tag(
        "svg",
        tag("title", words(title)),
        *children,
        xmlns=SVG_NAMESPACE,
        version="1.1",
        width=f"{coordinate(width_mm)}mm",
        height=f"{coordinate(height_mm)}mm",
        viewBox=" ".join(coordinate(value) for value in box),
        role="img",
    )


# A drawing of core has a unit of its own, so every size is a share of the drawing's size.

_INKS: dict[Look, str] = {"edge": "#000", "faint": "#777", "wanted": "#05a", "tool": "#a30"}
_DASHES: dict[Look, str] = {"edge": "", "faint": "0.5 1", "wanted": "2 1", "tool": ""}
"""The lengths of dashes and gaps, in hundredths of the drawing's width."""
_FILLS: dict[Fill, str] = {"metal": "#e4e4e4", "this pass": "#f0b890"}
_LINE, _LETTER, _MARGIN = 0.004, 0.035, 0.05
_WIDEST_LETTER = 0.65
"""The mean width of a letter in a wide sans-serif font, as a share of its size; common practice, no source."""


def drawing_svg(drawing: Drawing, *, width_mm: float, title: str) -> str:
    """Return a drawing as SVG, `width_mm` wide, with its areas, lines and labels."""
    bounds = drawing.bounds
    across = bounds.x_most - bounds.x_least
    margin, letter = _MARGIN * across, _LETTER * across
    x_least, x_most = _sides(drawing, letter)
    box = (
        x_least - margin,
        -bounds.y_most - margin,
        x_most - x_least + 2 * margin,
        bounds.y_most - bounds.y_least + 2 * margin,
    )
    parts = [tag("path", d=path_of(area.points, closed=True), fill=_FILLS[area.fill]) for area in drawing.areas]
    parts += [_line(stroke, across) for stroke in drawing.strokes if len(stroke.points) > 1]
    for name in drawing.names:
        anchor = {"left": "start", "middle": "middle", "right": "end"}[name.anchor]
        # The middle of a word is at its point, so the letters start below the point by a share of their height.
        x, y = name.at[0], -name.at[1] + letter / 3
        parts.append(
            tag("text", words(name.text), x=x, y=y, font_size=letter, font_family="sans-serif", text_anchor=anchor)
        )
    return svg_root(*parts, box=box, width_mm=width_mm, title=title)


def _sides(drawing: Drawing, letter: float) -> tuple[float, float]:
    """Return the smallest and the greatest x of a drawing, including its labels. `letter`: the height of a letter.

    All are in drawing units.
    """
    x_least, x_most = drawing.bounds.x_least, drawing.bounds.x_most
    for name in drawing.names:
        width = len(name.text) * letter * _WIDEST_LETTER
        left = name.at[0] - {"left": 0.0, "middle": width / 2, "right": width}[name.anchor]
        x_least, x_most = min(x_least, left), max(x_most, left + width)
    return x_least, x_most


def _line(stroke: Stroke, across: float) -> str:
    dashes = " ".join(coordinate(float(part) * across / 100) for part in _DASHES[stroke.look].split())
    dashed = {"stroke_dasharray": dashes} if dashes else {}
    return tag(
        "path",
        d=path_of(stroke.points, closed=stroke.closed),
        fill="none",
        stroke=_INKS[stroke.look],
        stroke_width=_LINE * across,
        **dashed,
    )
