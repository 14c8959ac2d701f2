"""A pattern as SVG at true size: one unit is one millimetre, and grooves and lands have their true width.

In SVG, x points right and y points down. The position (x, y) on the work is therefore drawn at (x, -y). Lengths are in
mm. The geometry is derived here, not taken from a source.
"""

import math
from collections.abc import Iterator
from itertools import groupby
from typing import NamedTuple

from core.jobs.job import Job, JobOperation
from core.operations.patterns.groove_path import path
from core.operations.patterns.picture import CutPicture, PatternPicture
from core.pages.svg import PathData, coordinate, path_of, svg_root, tag, words
from core.values.errors import FileError
from core.values.files import name_of
from core.values.plain_text import clean, counted, wrapped
from core.values.quantities import number_text

SCALE_BAR_MM = 50.0
_MARGIN_MM = 6.0
_LETTER_MM = 3.0
_LINE_GAP_MM = 4.5
_FINE_MM = 0.1
"""The width of fine lines [mm], and of a groove whose width is not known."""
_CROSS_MM = 2.0
_LAND, _GROOVE, _INK = "#f2efe6", "#5b4a36", "#000"
_SEEN = "View of the work's face. 0 deg is on the right, and angles increase anticlockwise."
_TRUE_SIZE = "One unit is one millimetre. Print at 100 %, then measure the scale bar."
_GROOVES_OPACITY = 0.6
"""The opacity of grooves. Where two grooves cross, the lower one shows through."""
_PARTS = 180
"""The number of parts into which a groove of varying width is divided."""
_LETTER_WIDTH = 0.6
"""The greatest width of a letter in most typefaces, as a share of its height."""


class JobDrawing(NamedTuple):
    """The drawing of one operation of a job."""

    svg: str
    others: str
    """A sentence on the other operations that can be drawn; "" if there are none, or if the user chose the operation.
    """


def job_drawing(job: Job, number: int | None) -> JobDrawing:
    """Return the drawing of operation `number`, or of the first operation with a pattern if `number` is None.

    Raises FileError if there is nothing to draw.
    """
    drawn = {operation.number: operation for operation in job.operations if has_drawing(operation)}
    name = name_of(job.path)
    if not drawn:
        raise FileError([f"{name}: No operation has a pattern to draw. Choose a job with a pattern."])
    named = [f"{other.number} ({other.name})" for other in drawn.values()]
    if number is not None and number not in drawn:
        count = len(job.operations)
        reason = "has no pattern" if number <= count else f"is not in this job of {counted(count, 'operation')}"
        raise FileError([f"{name}: Operation {number} {reason}. Draw operation {' or '.join(named)}."])
    operation = drawn[number or next(iter(drawn))]
    others = [words for other, words in zip(drawn, named, strict=True) if other != operation.number]
    note = (
        f"Operation {operation.number} ({operation.name}) is drawn. Use --operation to draw another: "
        f"{', '.join(others)}."
    )
    return JobDrawing(operation_svg(operation), note if others and number is None else "")


def has_drawing(operation: JobOperation) -> bool:
    """Return True if the operation has a pattern, and all sizes of the pattern are known."""
    picture = operation.picture
    return picture is not None and picture.to_scale


def operation_svg(operation: JobOperation) -> str:
    """Return the pattern of an operation as a complete SVG file. Raises FileError if the operation has no pattern."""
    picture = operation.picture
    if picture is None:
        raise FileError([f"{operation.name} has no pattern to draw."])
    return pattern_svg(picture, operation.name)


def pattern_svg(picture: PatternPicture, title: str) -> str:
    """Return a pattern as a complete SVG file at true size, with a scale bar of 50 mm."""
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{pattern_drawing(picture, title)}\n'


def pattern_drawing(picture: PatternPicture, title: str, most_mm: float | None = None) -> str:
    """Return a pattern as an SVG element at true size.

    `most_mm`: the greatest width on paper [mm]; a wider pattern is drawn smaller to fit. None for true size at any
    width.
    """
    reach_mm = max(picture.extent_mm, 1.0)
    half_mm = max(reach_mm, _letters_mm(_SEEN) / 2) + _MARGIN_MM
    width_mm = 2 * half_mm if most_mm is None else min(2 * half_mm, most_mm)
    letters = int(2 * half_mm / _letters_mm("m"))
    notes = [*wrapped(clean(title), letters), _SEEN, *_size_note(picture, width_mm / (2 * half_mm))]
    bar_mm = reach_mm + _MARGIN_MM + _LINE_GAP_MM
    high_mm = reach_mm + _MARGIN_MM + bar_mm + _LINE_GAP_MM * (len(notes) + 0.5)
    box = -half_mm, -reach_mm - _MARGIN_MM, 2 * half_mm, high_mm
    parts = [
        tag("rect", x=box[0], y=box[1], width=box[2], height=box[3], fill="#fff"),
        *_blank(picture),
        tag("g", *map(_groove, picture.cuts), class_="grooves", **_GROOVES),
        tag("g", *_centre(reach_mm), class_="centre", stroke=_INK, stroke_width=_FINE_MM, fill="none"),
        tag("g", *_first_positions(picture), class_="first", **_TEXT),
        *(_scale_bar(bar_mm) if picture.to_scale else ()),
    ]
    for number, note in enumerate(notes, start=1):
        parts.append(_text(0.0, bar_mm + _LINE_GAP_MM * number, note, "note", "middle"))
    return svg_root(*parts, box=box, width_mm=width_mm, title=title)


def _letters_mm(text: str) -> float:
    return len(text) * _LETTER_MM * _LETTER_WIDTH


def _size_note(picture: PatternPicture, scale: float) -> tuple[str, ...]:
    if not picture.to_scale:
        return ("Not to scale, because no radius has been entered.",)
    return (_TRUE_SIZE,) if scale == 1 else (f"Drawn at {number_text(100 * scale, 0)} % of its size.",)


_GROOVES: dict[str, str | float] = {
    "stroke": _GROOVE,
    "stroke_opacity": _GROOVES_OPACITY,
    "stroke_linecap": "round",
    "fill": "none",
}
_TEXT: dict[str, str | float] = {"font_family": "sans-serif", "font_size": _LETTER_MM, "fill": _INK}


def _blank(picture: PatternPicture) -> Iterator[str]:
    if picture.rim_mm is not None:
        yield tag(
            "circle",
            class_="blank",
            cx=0.0,
            cy=0.0,
            r=picture.rim_mm,
            fill=_LAND,
            stroke=_INK,
            stroke_width=_FINE_MM,
        )


def _groove(cut: CutPicture) -> str:
    """Return the SVG of one groove: the path of the cutter's point, drawn as wide as the groove is on the face."""
    (x_mm, y_mm), width_mm = cut.at_mm, max(2 * cut.half_width_at(cut.at_mm), _FINE_MM)
    name = tag("title", words(f"layer {cut.place.layer}, position {cut.place.position}"))
    if cut.fall is not None and cut.shape != "dot":
        return _uneven_groove(cut, name)
    match cut.shape:
        case "circle":
            return tag("circle", name, cx=x_mm, cy=-y_mm, r=cut.radius_mm, stroke_width=width_mm)
        case "dot":
            dot: dict[str, str | float] = {"fill": _GROOVE, "fill_opacity": _GROOVES_OPACITY, "stroke": "none"}
            return tag("circle", name, class_="dot", cx=x_mm, cy=-y_mm, r=width_mm / 2, **dot)
        case "line":
            to_x, to_y = cut.to_mm
            return tag("line", name, x1=x_mm, y1=-y_mm, x2=to_x, y2=-to_y, stroke_width=width_mm)
        case "arc":
            return _arc(cut, name, width_mm)


def _uneven_groove(cut: CutPicture, name: str) -> str:
    """Return the SVG of a groove whose width varies, because the face of the work runs out.

    Parts where the cutter does not reach the face are left out.
    """
    parts: list[str] = []
    for is_cut, run in groupby(path(cut, _PARTS), lambda place: cut.depth_at(place.at_mm) > 0):
        if not is_cut:
            continue
        places = list(run)
        edges = [
            [
                (at[0] + side * cut.half_width_at(at) * across[0], at[1] + side * cut.half_width_at(at) * across[1])
                for at, across in places
            ]
            for side in (1, -1)
        ]
        if cut.shape != "line" and len(places) == _PARTS + 1 and abs(cut.sweep_deg or 360) >= 360:
            parts += [path_of(edge, closed=True) for edge in edges]
        else:
            parts.append(path_of([*edges[0], *reversed(edges[1])], closed=True))
    style: dict[str, str | float] = {"fill": _GROOVE, "fill_opacity": _GROOVES_OPACITY, "stroke": "none"}
    return tag("path", name, class_="uneven", d=PathData(" ".join(parts)), fill_rule="evenodd", **style)


def _arc(cut: CutPicture, name: str, width_mm: float) -> str:
    centre_x, centre_y = cut.centre_mm
    radius_mm = math.dist(cut.at_mm, cut.centre_mm)
    if abs(cut.sweep_deg) >= 360:
        return tag("circle", name, class_="arc", cx=centre_x, cy=-centre_y, r=radius_mm, stroke_width=width_mm)
    (x_mm, y_mm), turned = cut.at_mm, math.radians(cut.sweep_deg)
    from_x, from_y = x_mm - centre_x, y_mm - centre_y
    to_x = centre_x + from_x * math.cos(turned) - from_y * math.sin(turned)
    to_y = centre_y + from_x * math.sin(turned) + from_y * math.cos(turned)
    radius, large = coordinate(radius_mm), int(abs(cut.sweep_deg) > 180)
    # Anticlockwise on the work is anticlockwise on the page. SVG calls this a sweep of 0.
    sweep = 0 if cut.sweep_deg >= 0 else 1
    start, end = (f"{coordinate(x)} {coordinate(-y)}" for x, y in ((x_mm, y_mm), (to_x, to_y)))
    return tag("path", name, d=f"M {start} A {radius} {radius} 0 {large} {sweep} {end}", stroke_width=width_mm)


def _centre(reach_mm: float) -> Iterator[str]:
    """Yield the SVG of a cross at the work's centre, and of a tick at 0 degrees, outside the pattern.

    `reach_mm`: the distance from the centre to the edge of the pattern [mm].
    """
    yield tag("line", x1=-_CROSS_MM, y1=0.0, x2=_CROSS_MM, y2=0.0)
    yield tag("line", x1=0.0, y1=-_CROSS_MM, x2=0.0, y2=_CROSS_MM)
    yield tag("line", x1=reach_mm, y1=0.0, x2=reach_mm + _MARGIN_MM / 2, y2=0.0)


def _first_positions(picture: PatternPicture) -> Iterator[str]:
    """Yield the SVG of a dot and the number 1 at the first position of every layer."""
    for cut in picture.cuts:
        if cut.place.position == 1:
            x_mm, y_mm = cut.at_mm
            yield tag("circle", cx=x_mm, cy=-y_mm, r=0.4)
            yield tag("text", "1", x=x_mm + 1.0, y=-y_mm - 1.0)


def _scale_bar(y_mm: float) -> Iterator[str]:
    half_mm, tick_mm = SCALE_BAR_MM / 2, 1.0
    bar = [tag("line", class_="bar", x1=-half_mm, y1=y_mm, x2=half_mm, y2=y_mm)]
    bar += [tag("line", x1=x, y1=y_mm - tick_mm, x2=x, y2=y_mm + tick_mm) for x in (-half_mm, half_mm)]
    yield tag("g", *bar, class_="scale", stroke=_INK, stroke_width=2 * _FINE_MM)
    yield _text(half_mm + 1.5, y_mm + 1.0, f"{coordinate(SCALE_BAR_MM)} mm", "scale", "start")


def _text(x_mm: float, y_mm: float, text: str, kind: str, anchor: str) -> str:
    return tag("text", words(text), class_=kind, x=x_mm, y=y_mm, text_anchor=anchor, **_TEXT)
