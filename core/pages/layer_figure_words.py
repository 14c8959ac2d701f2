"""The figures of a pattern's layers in words, for the board and the card."""

from collections.abc import Iterator, Mapping
from typing import Any

from core.values.dials import Unit
from core.values.quantities import length_text, number_text

_JUST_MM = 0.0005
"""The largest distance between two grooves' edges that counts as touching [mm]."""
_MINUTES_FROM_S = 300


def layer_lines(number: int, layer: Mapping[str, Any], unit: Unit, *, whole: bool) -> Iterator[tuple[str, str]]:
    """Yield the labels and values of a layer's figures in words. `number`: the layer's number, for the labels.

    `unit`: the lathe's unit. `whole`: True to yield all figures; False to yield only the layer's description and
    grooves.
    """
    yield f"layer {number}", _what_words(layer, unit)
    lines = [("groove", _groove_words(layer, unit))]
    if whole:
        lines += [
            ("neighbours", _neighbour_words(layer, unit)),
            ("their grooves", overlap_words(layer["groove_overlap_mm"], unit) if "groove_overlap_mm" in layer else ""),
            ("reach", _span_words(layer, "inner_mm", "outer_mm", unit)),
            ("reach of edges", _span_words(layer, "inner_edge_mm", "outer_edge_mm", unit)),
            ("crossings", str(layer.get("crossings", ""))),
            ("axis height", _height_words(layer, unit)),
            ("worst error", _error_words(layer, unit)),
            ("time", time_text(layer["time_s"]) if "time_s" in layer else ""),
        ]
    for name, words in lines:
        if words:
            yield f"  {name}", words


def _what_words(layer: Mapping[str, Any], unit: Unit) -> str:
    """Return a short description of a layer, such as "12 circles of 5 mm radius at 20 mm, cutter wide"."""
    shape = str(layer.get("shape", "circles"))
    words = f"{layer['count']} {shape.removesuffix('s') if layer['count'] == 1 else shape}"
    if "circle_radius_mm" in layer:
        words += f" of {length_text(layer['circle_radius_mm'], unit)} radius"
    if "offset_mm" in layer:
        words += f" at {length_text(layer['offset_mm'], unit)}"
    if "repeat" in layer:
        words += f", in each of {layer['repeat']} rings"
    return words + (f", cutter {layer['cutter']}" if "cutter" in layer else "")


def _groove_words(layer: Mapping[str, Any], unit: Unit) -> str:
    parts = []
    if "groove_width_mm" in layer:
        parts.append(f"{length_text(layer['groove_width_mm'], unit)} wide")
    if "depth_max_mm" in layer:
        least, most = (length_text(layer[f"depth_{end}_mm"], unit) for end in ("min", "max"))
        parts.append(f"{most} deep" if least == most else f"{least} to {most} deep")
    return ", ".join(parts)


def _neighbour_words(layer: Mapping[str, Any], unit: Unit) -> str:
    if "spacing_mm" not in layer:
        return ""
    words = f"centres {length_text(layer['spacing_mm'], unit)} apart"
    return words + (f", circles {overlap_words(layer['overlap_mm'], unit)}" if "overlap_mm" in layer else "")


def _span_words(layer: Mapping[str, Any], least: str, most: str, unit: Unit) -> str:
    """Return the range of a layer's distances from the work's centre in words; "" if it is not known.

    `least` and `most`: the keys of the shortest and the longest distance.
    """
    if least not in layer:
        return ""
    nearest, furthest = length_text(layer[least], unit), length_text(layer[most], unit)
    return f"{nearest if nearest == furthest else f'{nearest} to {furthest}'} from the centre"


def _height_words(layer: Mapping[str, Any], unit: Unit) -> str:
    if "turned_by_deg" not in layer:
        return ""
    offset, turned = length_text(layer["effective_offset_mm"], unit), number_text(layer["turned_by_deg"], 4)
    return f"true offset {offset}, turned by {turned} deg"


def _error_words(layer: Mapping[str, Any], unit: Unit) -> str:
    if not layer.get("worst_error_arcsec"):
        return "none, every angle is exact" if "worst_error_arcsec" in layer else ""
    words = f"{number_text(layer['worst_error_arcsec'], 1)} seconds of arc"
    if "worst_error_mm" in layer:
        words += f", {length_text(layer['worst_error_mm'], unit)} at the work"
    if "gap_error_mm" in layer:
        words += f", {length_text(layer['gap_error_mm'], unit)} between neighbours"
    return words


def overlap_words(overlap_mm: float, unit: Unit) -> str:
    """Return in words by how much neighbouring grooves overlap. A negative overlap [mm] is a gap between them."""
    if abs(overlap_mm) < _JUST_MM:
        return "just touch"
    return f"overlap {length_text(overlap_mm, unit)}" if overlap_mm > 0 else f"{length_text(-overlap_mm, unit)} apart"


def relation_words(between: Mapping[str, Any], unit: Unit) -> str:
    """Return in words whether the circles of two layers cross, touch, stay apart, or lie one inside the other.

    `between`: the figures that compare the two layers.
    """
    pairs = between["crossing_pairs"]
    words = {
        "apart": f"apart, {length_text(between['gap_mm'], unit)} between their nearest circles",
        "inside": f"circles of one lie inside circles of the other, {length_text(between['gap_mm'], unit)} clear",
        "touch": "their nearest circles just touch",
        "cross": f"{pairs} pair{'' if pairs == 1 else 's'} of their circles cross",
    }[between["lie"]]
    if "touch_at_deg" in between:
        words += f"; circles would touch with their centres {number_text(between['touch_at_deg'], 2)} deg apart"
    return words


def time_text(time_s: float, seconds: str = "") -> str:
    """Return a time as text: in seconds, or in minutes if it is 5 minutes or more.

    `seconds`: the time in seconds, already written as text; "" to round `time_s` to whole seconds.
    """
    if time_s >= _MINUTES_FROM_S:
        return f"{number_text(time_s / 60, 0)} min"
    return f"{seconds or number_text(time_s, 0)} s"
