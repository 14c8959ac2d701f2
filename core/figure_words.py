"""The figures of a plan in words, as card and board show them."""

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from core.dials import Unit
from core.lathe import Lathe, dial_words
from core.quantities import length_text, number_text

_UNITS = {
    "mm": "mm",
    "deg": "deg",
    "s": "s",
    "ppm": "parts in a million",
    "rpm": "rpm",
    "arcsec": "seconds of arc",
    "percent": "%",
}
_WORDS = {
    "internal": "inside",
    "lead_mm": "lead, in one turn",
    "half_angle_deg": "half the angle of the thread",
    "major_max_mm": "major diameter, most",
    "major_min_mm": "major diameter, least",
    "pitch_diameter_max_mm": "pitch diameter, most",
    "pitch_diameter_min_mm": "pitch diameter, least",
    "minor_max_mm": "minor diameter, most",
    "minor_min_mm": "minor diameter, least",
    "major_basic_mm": "major diameter, basic",
    "pitch_diameter_basic_mm": "pitch diameter, basic",
    "minor_basic_mm": "minor diameter, basic",
    "blank_mm": "blank or bore",
    "depth_mm": "depth on the radius",
    "root_mm": "diameter the tip reaches",
    "passes": "cutting passes",
    "lead_angle_deg": "lead angle at the pitch diameter",
    "lead_angle_root_deg": "lead angle at the root",
    "tool_width_mm": "width the tool cuts at the blank, at full depth",
    "set_over_deg": "set-over, off square to the axis",
    "scale_reading_deg": "compound's own scale reads",
    "compound_travel_mm": "travel of the compound",
    "trailing_step_mm": "step along the trailing flank, at most",
    "tool_included_deg": "included angle of the tool",
    "tool_flat_wanted_mm": "flat that the standard's root wants",
    "tool_radius_wanted_mm": "tip radius that the standard's root wants",
    "leading_clearance_deg": "side clearance wanted, leading flank",
    "trailing_clearance_deg": "side clearance wanted, trailing flank",
    "bar_most_mm": "thickest boring bar that comes out again",
    "point_stands_out_mm": "the tool's point stands out of the bar by",
    "stop_time_s": "time to stop in the groove",
    "rpm_most": "fastest speed that leaves time to stop",
    "to_min_mm": "to, at least",
    "to_max_mm": "to, at most",
    "wire_mm": "wire",
    "wire_best_mm": "best wire",
    "wire_least_mm": "usable wires, from",
    "wire_most_mm": "usable wires, to",
    "wire_lead_correction_mm": "lead-angle correction over wires",
    "over_wires_max_mm": "over three wires, most",
    "over_wires_min_mm": "over three wires, least",
    "over_wires_basic_mm": "over three wires, basic",
    "over_one_wire_max_mm": "over one wire, most",
    "over_one_wire_min_mm": "over one wire, least",
    "over_one_wire_basic_mm": "over one wire, basic",
    "pitch_error_ppm": "error of the pitch",
    "length_error_mm": "error over the thread's length",
    "tapping_drill_mm": "tapping drill's size",
    "tapping_percent": "thread that it leaves",
    "tapping_basis": "of which 100 % is",
    "chasing_dial": "chasing dial",
    "fim_mm": "full indicator movement",
    "high_spot_deg": "high spot at the mark",
    "eccentricity_error_mm": "standard error of the eccentricity",
    "out_of_roundness_mm": "out of roundness, about the least-squares circle",
    "ovality_mm": "oval, highest to lowest",
    "three_lobe_mm": "three-lobed, highest to lowest",
    "wobble_deg": "wobble of the face",
    "tilt_deg": "tilt of the work's axis",
    "taper_mm": "taper on the diameter between the planes",
    "moves": "move",
    "tilt_moves": "move against the tilt",
    "worst_error_arcsec": "worst error of a position",
    "worst_error_mm": "worst error at the work",
    "worst_neighbour_error_arcsec": "worst error between neighbours",
    "worst_neighbour_error_mm": "between neighbours at the work",
    "chord_mm": "chord between neighbours",
    "holes": "hole",
    "rings": "ring",
    "depth_min_mm": "depth where the face lies lowest",
    "inner_mm": "tip lines from",
    "outer_mm": "tip lines to",
    "inner_edge_mm": "grooves from",
    "outer_edge_mm": "grooves to",
}
_NAMED_IN_MM = re.compile(r"M\d|Tr\d|BA \d", re.ASCII)
"""Begins the designation of a thread whose standard counts in millimetres."""
_OF_STANDARD = re.compile(
    r"(?:major|minor|pitch_diameter)_(?:max|min|basic)_mm|pitch_mm|lead_mm|(?:fine|medium|coarse)_mm"
)
"""Figures that the thread's standard prints; the others are set, turned or measured."""
_MINUTES_FROM_S = 300
_WHOLE_LISTS = {"rings", "between_rings", "holes"}
"""Lists of which a card leaves nothing out."""
_USUAL: Mapping[str, Any] = {"internal": False, "left_hand": False, "starts": 1, "pitch_error_ppm": 0.0}
"""What goes without saying."""


def lines_for(lathe: Lathe, figures: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Yield the figures in words for a lathe: those read off an indicator in its own unit, others as sizes are told."""
    return figure_lines(figures, lathe.indicator_unit if "fim_mm" in figures else lathe.unit)


def figure_lines(figures: Mapping[str, Any], unit: Unit = "mm", *, metric: bool = False) -> Iterator[tuple[str, str]]:
    """Yield each figure as a name in words and a value with its unit; on an "in" lathe inches come first.

    Of a thread named in millimetres what its standard prints is in millimetres
    first all the same. What goes without saying (one start, right-hand, outside)
    is not shown; the JSON card has it.
    """
    metric = metric or bool(_NAMED_IN_MM.match(str(figures.get("designation", ""))))
    for key, value in figures.items():
        if key in _USUAL and _USUAL[key] == value:
            continue
        if isinstance(value, list):
            yield from _list_lines(key, value, unit)
        elif isinstance(value, dict):
            parts = figure_lines(value, unit, metric=metric)
            yield _name(key), ", ".join(f"{name} {text}" for name, text in parts)
        else:
            yield _name(key), _amount(key, value, unit, metric=metric)


def _name(key: str) -> str:
    if key in _WORDS:
        return _WORDS[key]
    stem, _, unit = key.rpartition("_")
    return dial_words(stem if stem and unit in _UNITS else key)


def _amount(key: str, value: Any, unit: Unit, *, metric: bool) -> str:
    """Return a value with the unit that ends its key; on an inch lathe a length in both units."""
    its_unit = "rpm" if key == "rpm_most" else _UNITS.get(key.rpartition("_")[2], "") if "_" in key else ""
    text = _time_text(value) if its_unit == "s" else f"{_plain(value)} {its_unit}".rstrip()
    if unit == "mm" or its_unit != "mm":
        return text
    inches = length_text(value, unit)
    return f"{text} ({inches})" if metric and _OF_STANDARD.fullmatch(key) else f"{inches} ({text})"


def _time_text(time_s: float) -> str:
    """Return seconds as they are stopped by, longer times in minutes."""
    return f"{number_text(time_s / 60, 0)} min" if time_s >= _MINUTES_FROM_S else f"{_plain(time_s)} s"


def _list_lines(key: str, values: list[Any], unit: Unit) -> Iterator[tuple[str, str]]:
    most = len(values) if key in _WHOLE_LISTS else 3
    for number, value in enumerate(values[:most], start=1):
        yield f"{_name(key)} {number}", _entry(key, value, unit)
    if len(values) > most:
        yield f"{_name(key)}, more", f"{len(values) - most} in the JSON card"


def _entry(key: str, value: Any, unit: Unit) -> str:
    """Return one entry of a list in words."""
    if key in _ENTRIES:
        return _ENTRIES[key](value, unit)
    if isinstance(value, dict):
        return ", ".join(_parts(value, unit))
    return _plain(value)


def _parts(values: dict[str, Any], unit: Unit) -> Iterator[str]:
    """Yield the figures of one entry of a list, lists in it as they are."""
    for key, value in values.items():
        if isinstance(value, list | tuple):
            yield f"{_name(key)} {_plain(value)}"
        else:
            yield from (f"{name} {text}" for name, text in figure_lines({key: value}, unit))


def _move(value: Mapping[str, Any], unit: Unit) -> str:
    # Only a runout has moves, and only its card needs the module.
    from core.runout.figures import move_words

    return move_words(value, lambda length_mm: length_text(length_mm, unit))


def _gears(value: Mapping[str, Any], unit: Unit) -> str:
    pairs = zip(value["drivers"], value["driven"], strict=True)
    train = ", ".join(f"{driver} drives {driven}" for driver, driven in pairs)
    error_ppm = value["error_ppm"]
    off = f"{error_ppm:+.0f} parts in a million off" if abs(error_ppm) >= 1 else "exact" if error_ppm == 0 else "near"
    return f"{train}: {off}"


def _half_nuts(value: Mapping[str, Any], unit: Unit) -> str:
    # Only a thread has half nuts, and only its card needs the module.
    from core.threads.chasing_dial import DialUse, words

    use = DialUse(teeth=value["teeth"], lines=value["lines"], use=tuple(value["use"]), anywhere=value["anywhere"])
    return f"wheel of {use.teeth}, {use.lines} lines: {words(use)}"


def _drill(value: Mapping[str, Any], unit: Unit) -> str:
    size = f"{_plain(value['mm'])} mm"
    return value["name"] if value["name"] == size else f"{value['name']} ({size})"


def _hole(value: Mapping[str, Any], unit: Unit) -> str:
    return ", ".join(f"{axis} {length_text(value[f'{axis}_mm'], unit)}" for axis in ("x", "y"))


_ENTRIES: Mapping[str, Callable[[Mapping[str, Any], Unit], str]] = {
    "moves": _move,
    "tilt_moves": _move,
    "change_gears": _gears,
    "chasing_dial": _half_nuts,
    "nearest_drills": _drill,
    "holes": _hole,
}


def _plain(value: Any) -> str:
    """Return one value without a unit."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return number_text(value, 4)
    if isinstance(value, list | tuple):
        return "(" + " ".join(_plain(item) for item in value) + ")"
    return str(value)
