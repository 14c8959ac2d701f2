"""Turns the figures of a plan into words for the card and the board."""

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from types import MappingProxyType
from typing import Any

from core.lathe.lathe import Lathe, dial_words
from core.operations.thread_figure_words import (
    change_gear_words,
    drill_words,
    drills_near,
    full_depth_words,
    half_nut_words,
    is_named_in_mm,
    screw_pitch_words,
)
from core.pages.layer_figure_words import layer_lines, overlap_words, relation_words, time_text
from core.values.angles import dms_text
from core.values.dials import Unit
from core.values.quantities import MM_PER_INCH, length_text, number_text

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
    "lead_mm": "lead for one turn",
    "half_angle_deg": "half the thread angle",
    "major_max_mm": "major diameter, maximum",
    "major_min_mm": "major diameter, minimum",
    "pitch_diameter_max_mm": "pitch diameter, maximum",
    "pitch_diameter_min_mm": "pitch diameter, minimum",
    "minor_max_mm": "minor diameter, maximum",
    "minor_min_mm": "minor diameter, minimum",
    "major_basic_mm": "major diameter, basic",
    "pitch_diameter_basic_mm": "pitch diameter, basic",
    "minor_basic_mm": "minor diameter, basic",
    "blank_mm": "diameter of the blank or bore",
    "depth_mm": "depth on the radius",
    "root_mm": "diameter that the tip reaches",
    "passes": "cutting passes",
    "lead_angle_deg": "lead angle at the pitch diameter",
    "lead_angle_root_deg": "lead angle at the root",
    "tool_width_mm": "width of the cut at the blank, at full depth",
    "compound_angle_deg": "compound angle from square to the axis",
    "scale_reading_deg": "reading of the compound's own scale",
    "compound_travel_mm": "travel of the compound",
    "sideways_mm": "sideways travel of the tool",
    "infeed_ratio": "fine infeed, to 1",
    "trailing_step_mm": "largest step along the trailing flank",
    "tool_included_deg": "included angle of the tool",
    "tool_flat_mm": "your tool's tip",
    "tool_radius_mm": "your tool's tip",
    "tool_flat_wanted_mm": "tip wanted by the standard",
    "tool_radius_wanted_mm": "tip wanted by the standard",
    "leading_clearance_deg": "side clearance wanted, leading flank",
    "trailing_clearance_deg": "side clearance wanted, trailing flank",
    "bar_most_mm": "thickest boring bar that can be withdrawn",
    "point_stands_out_mm": "projection of the tool point from the bar",
    "stop_time_s": "time to stop in the relief",
    "rpm_most": "fastest speed that leaves time to stop",
    "to_min_mm": "to, at least",
    "to_max_mm": "to, at most",
    "wire_mm": "wire",
    "wire_best_mm": "best wire",
    "wire_least_mm": "usable wires, from",
    "wire_most_mm": "usable wires, to",
    "wire_lead_correction_mm": "lead-angle correction over the wires",
    "over_wires_max_mm": "over three wires, maximum",
    "over_wires_min_mm": "over three wires, minimum",
    "over_wires_basic_mm": "over three wires, basic",
    "over_one_wire_max_mm": "over one wire, maximum",
    "over_one_wire_min_mm": "over one wire, minimum",
    "over_one_wire_basic_mm": "over one wire, basic",
    "in_gearbox": "this lead in the gearbox",
    "pitch_error_ppm": "pitch error",
    "length_error_mm": "error over the thread's length",
    "tapping_drill_mm": "size of the tapping drill",
    "tapping_percent": "thread depth left by this drill",
    "tapping_basis": "depth that counts as 100 %",
    "thread_dial": "thread dial",
    "tir_mm": "total indicator reading",
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
    "worst_neighbour_error_mm": "worst error between neighbours, at the work",
    "chord_mm": "chord between neighbours",
    "holes": "hole",
    "shoulders": "shoulder",
    "layers": "layer",
    "depth_min_mm": "minimum depth",
    "depth_max_mm": "maximum depth",
    "time_s": "time to cut",
    "repeat": "number of rings",
    "land_percent": "land that stays on the face",
    "cutter_changes": "changes of cutter",
    "head_changes": "changes of the boring head",
    "plate_changes": "changes of plate",
    "spacing_mm": "between neighbouring centres",
    "overlap_mm": "neighbouring circles",
    "groove_overlap_mm": "neighbouring grooves",
    "inner_mm": "inner radius of the cutter's point",
    "outer_mm": "outer radius of the cutter's point",
    "inner_edge_mm": "inner radius of the groove edges",
    "outer_edge_mm": "outer radius of the groove edges",
    "crossings": "places where circles cross",
    "effective_offset_mm": "true offset, axis to axis",
    "gap_error_mm": "worst error between neighbours",
}
_SIZES: Mapping[str, Mapping[str, str]] = {
    "diameter": {
        "from_mm": "diameter before",
        "to_mm": "diameter wanted",
        "to_min_mm": "diameter wanted, at least",
        "to_max_mm": "diameter wanted, at most",
    },
    "length": {
        "from_mm": "length before",
        "to_mm": "length wanted",
        "to_min_mm": "length wanted, at least",
        "to_max_mm": "length wanted, at most",
    },
    "left": {"from_mm": "", "to_mm": "to cut off in all"},
    "depth": {
        "from_mm": "",
        "to_mm": "depth wanted",
        "to_min_mm": "depth wanted, at least",
        "to_max_mm": "depth wanted, at most",
    },
    "place": {"from_mm": "start, as slide travel", "to_mm": "end, as slide travel"},
}
"""Labels of `from_mm` and `to_mm`, by the quantity that the cut measures; "" if a figure is not shown."""
_LIMITS = ("to_min_mm", "to_max_mm")
_PLACES: Mapping[str, int] = {
    "lead_angle_deg": 2,
    "lead_angle_root_deg": 2,
    "leading_clearance_deg": 1,
    "trailing_clearance_deg": 1,
    "compound_angle_deg": 2,
    "scale_reading_deg": 2,
    "compound_scale_reads_deg": 2,
    "compound_travel_mm": 2,
    "tailstock_offset_mm": 2,
    "indicator_per_100_carriage_mm": 3,
    "indicator_per_100_compound_mm": 3,
    "stop_time_s": 2,
    "pitch_error_ppm": 1,
    "tapping_percent": 0,
    "land_percent": 1,
}
"""The largest number of decimal places of some figures. Smaller differences cannot be set, ground or seen."""
_EXACT_ANGLES = frozenset({"included_deg", "half_angle_deg"})
"""Angles shown in degrees, minutes and seconds, as in the steps, unless two decimal places are exact."""
_MORE: Mapping[str, str] = {
    "change_gears": "more gear train(s)",
    "thread_dial": "more wheel(s) of the thread dial",
    "nearest_drills": "more drill(s) near this size",
}
"""The words after a list that say that the list has more entries. For one more entry they have no "(s)"."""
_OVERLAPS = frozenset({"overlap_mm", "groove_overlap_mm"})
TABLES = frozenset({"layers"})
"""The figures that are lists whose entries are shown side by side: see `table_rows`."""
_OF_STANDARD = re.compile(
    r"(?:major|minor|pitch_diameter)_(?:max|min|basic)_mm|pitch_mm|lead_mm|(?:fine|medium|coarse)_mm"
)
"""The figures of a thread that its published standard states. The other figures are set, turned or measured."""
_PITCHES = frozenset({"pitch_mm", "lead_mm"})
_TIPS: Mapping[str, str] = {
    "tool_flat_mm": "flat",
    "tool_radius_mm": "radius",
    "tool_flat_wanted_mm": "flat",
    "tool_radius_wanted_mm": "radius",
}
_DRILLS = {"drill", "tapping_drill"}
"""The figures that name a drill."""
_WHOLE_LISTS = {"layers", "between_layers", "holes"}
"""The lists that are always shown with every entry."""
_USUAL: Mapping[str, Any] = {
    "internal": False,
    "left_hand": False,
    "starts": 1,
    "pitch_error_ppm": 0.0,
    "length_error_mm": 0.0,
    "cutter_changes": 0,
    "head_changes": 0,
    "plate_changes": 0,
}
"""The usual values of some figures. A figure with its usual value is not shown."""
_ONLY_AS_DATA = frozenset({"measured", "elements"})
"""Figures for other programs, which no page shows because they may have hundreds of entries."""


def lines_for(
    lathe: Lathe, figures: Mapping[str, Any], *, whole: bool = False, names: Mapping[str, str] = MappingProxyType({})
) -> Iterator[tuple[str, str]]:
    """Yield the label and the value of each figure in words.

    Lengths are in the lathe's unit, indicator readings in the indicator's unit. `whole`: True to give all entries of a
    list, as on a card; False to give the first three. `names`: labels, by key, that replace the usual ones for this
    kind of operation.
    """
    unit = lathe.indicator_unit if "tir_mm" in figures else lathe.unit
    return figure_lines(figures, unit, whole=whole, names=names)


def figure_lines(
    figures: Mapping[str, Any],
    unit: Unit = "mm",
    *,
    metric: bool = False,
    whole: bool = False,
    names: Mapping[str, str] = MappingProxyType({}),
) -> Iterator[tuple[str, str]]:
    """Yield the label and the value of each figure in words. On an inch lathe, inches come before millimetres.

    For a metric thread, the figures that its standard states have millimetres first. The pitch of a thread named in
    inches is given in threads per inch. Usual values are left out: one start, right-hand, external, a lead equal to the
    pitch. `unit`: the lathe's unit. `metric`: True for the figures of a metric thread. `whole`: True to give all
    entries of a list; False to give the first three. `names`: labels, by key, that replace the usual ones.
    """
    designation = str(figures.get("designation", ""))
    metric = metric or is_named_in_mm(designation)
    sizes = _SIZES.get(str(figures.get("measured", "")), {})
    for key, value in figures.items():
        if _is_usual(key, value, figures) or sizes.get(key) == "":
            continue
        name = names.get(key) or sizes.get(key) or _name(key, figures)
        if key == "to_mm" and "to_min_mm" in figures:
            name = name.replace("wanted", "aimed at, exact")
        if isinstance(value, list) and key.endswith("_mm"):
            yield name, " + ".join(length_text(piece_mm, unit) for piece_mm in value) or "none of your pieces"
        elif isinstance(value, list):
            entries = list(drills_near(value, figures)) if key == "nearest_drills" else value
            yield from _list_lines(key, entries, unit, whole=whole)
        elif isinstance(value, dict):
            parts = figure_lines(value, unit, metric=metric)
            yield name, ", ".join(f"{name} {text}" for name, text in parts)
        elif key in _PITCHES and designation:
            yield name, screw_pitch_words(value, designation, unit)
        else:
            in_inches_mm = _rounded_inward_mm(key, figures) if unit == "in" and key in _LIMITS else None
            yield name, _amount(key, value, unit, metric=metric, in_inches_mm=in_inches_mm)


def table_rows(entries: Sequence[Mapping[str, Any]], unit: Unit) -> Iterator[tuple[str, list[str]]]:
    """Yield each figure that occurs in a list of entries as a row: its label, and its value in every entry.

    "" stands for an entry that lacks the figure. Lengths are given in one unit only, to keep the table narrow.
    """
    for name in dict.fromkeys(name for entry in entries for name in entry):
        yield _name(name), [_cell(name, entry[name], unit) if name in entry else "" for entry in entries]


def _cell(key: str, value: Any, unit: Unit) -> str:
    if key in _OVERLAPS:
        return overlap_words(value, unit)
    in_inches = unit == "in" and key.endswith("_mm")
    return length_text(value, unit) if in_inches else _amount(key, value, "mm", metric=False)


def _is_usual(key: str, value: Any, figures: Mapping[str, Any]) -> bool:
    if key == "lead_mm":
        return bool(value == figures.get("pitch_mm"))
    if key == "tapping_drill_mm":
        return bool(figures.get("tapping_drill") == f"{_plain(value)} mm")
    return key in _ONLY_AS_DATA or (key in _USUAL and bool(_USUAL[key] == value))


def _name(key: str, figures: Mapping[str, Any] | None = None) -> str:
    if key == "blank_mm" and figures and "internal" in figures:
        return "bore" if figures["internal"] else "blank"
    if key in _WORDS:
        return _WORDS[key]
    stem, _, unit = key.rpartition("_")
    return dial_words(stem if stem and unit in _UNITS else key)


def _rounded_inward_mm(key: str, figures: Mapping[str, Any]) -> float:
    """Return a limit of size [mm], rounded so that it has few decimal places in inches.

    The limit is rounded inward, so that a part at the rounded limit is within both limits. `key`: the key of this
    limit. `figures`: figures that include both limits.
    """
    from core.values.limits import LIMIT_STEP_IN, rounded_inward

    # The text of a float gives the exact limit, even for a limit entered in inches.
    least, most = (Fraction(str(figures[limit])) / MM_PER_INCH for limit in _LIMITS)
    return float(rounded_inward(least, most, LIMIT_STEP_IN)[_LIMITS.index(key)] * MM_PER_INCH)


def _amount(key: str, value: Any, unit: Unit, *, metric: bool, in_inches_mm: float | None = None) -> str:
    """Return a value in words, with the unit in which its key ends. On an inch lathe, a length has both units.

    `unit`: the lathe's unit. `in_inches_mm`: the length [mm] to give in inches instead of the value; None to give the
    value itself. `metric`: True to put millimetres first in the figures that the standard of a metric thread states.
    """
    if key == "rpm_most":
        # The speed is rounded down, because a higher speed leaves too little time.
        return f"{number_text(math.floor(value + 1e-9), 0)} rpm"
    if key == "tapping_basis":
        return full_depth_words(value)
    if key in _DRILLS:
        # Only a hole or an inside thread has drills, and only its card needs the module.
        from core.operations.threads.drills import drill_text

        return drill_text(value)
    its_unit = _UNITS.get(key.rpartition("_")[2], "") if "_" in key else ""
    if key in _EXACT_ANGLES and abs(value - round(value, 2)) > 1e-9:
        return dms_text(Fraction(value), Fraction(1, 3600))
    plain = number_text(value, _PLACES[key]) if key in _PLACES else _plain(value)
    text = time_text(value, plain) if its_unit == "s" else f"{plain} {its_unit}".rstrip()
    if unit != "mm" and its_unit == "mm":
        inches = length_text(value if in_inches_mm is None else in_inches_mm, unit)
        text = f"{text} ({inches})" if metric and _OF_STANDARD.fullmatch(key) else f"{inches} ({text})"
    if key in _TIPS:
        return f"{_TIPS[key]} {text}" if value else "sharp"
    return text


def _list_lines(key: str, values: list[Any], unit: Unit, *, whole: bool) -> Iterator[tuple[str, str]]:
    most = len(values) if whole or key in _WHOLE_LISTS else 3
    for at, value in enumerate(values[:most], start=1):
        # Shoulders have the numbers of the user's list, not those of the order of cutting.
        number = value.get("row", at) if isinstance(value, dict) else at
        if key == "layers":
            yield from layer_lines(number, value, unit, whole=whole)
        elif key == "between_layers":
            one, other = value["layers"]
            yield f"layers {one} and {other}", relation_words(value, unit)
        else:
            yield f"{_name(key)} {number}", _entry(key, value, unit)
    if len(values) > most:
        more = len(values) - most
        words = _MORE.get(key, "more").replace("(s)", "" if more == 1 else "s")
        yield _name(key), f"{more} {words}, on the card"


def _entry(key: str, value: Any, unit: Unit) -> str:
    """Return one entry of a list of figures in words. `key`: the list's key. `unit`: the lathe's unit."""
    if key in _ENTRIES:
        return _ENTRIES[key](value, unit)
    if isinstance(value, dict):
        return ", ".join(_parts(value, unit))
    return _plain(value)


def _parts(values: dict[str, Any], unit: Unit) -> Iterator[str]:
    """Yield the label and value of each figure in one entry of a list. A list inside the entry becomes one text."""
    for key, value in values.items():
        if isinstance(value, list | tuple):
            yield f"{_name(key)} {_plain(value)}"
        else:
            yield from (f"{name} {text}" for name, text in figure_lines({key: value}, unit))


def _move(value: Mapping[str, Any], unit: Unit) -> str:
    # Only a runout check has moves, and only its card needs the module.
    from core.operations.runout.findings import move_words

    return move_words(value, lambda length_mm: length_text(length_mm, unit))


def _hole(value: Mapping[str, Any], unit: Unit) -> str:
    return ", ".join(f"{axis} {length_text(value[f'{axis}_mm'], unit)}" for axis in ("x", "y"))


def _shoulder(value: Mapping[str, Any], unit: Unit) -> str:
    wanted = value.get("wanted") or length_text(value["diameter_mm"], unit)
    return f"{wanted}, ends at {length_text(value['ends_at_mm'], unit)}"


_ENTRIES: Mapping[str, Callable[[Mapping[str, Any], Unit], str]] = {
    "moves": _move,
    "tilt_moves": _move,
    "change_gears": lambda value, unit: change_gear_words(value),
    "thread_dial": lambda value, unit: half_nut_words(value),
    "nearest_drills": lambda value, unit: drill_words(value),
    "holes": _hole,
    "shoulders": _shoulder,
}


def _plain(value: Any) -> str:
    """Return a value as text without a unit."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return number_text(value, 4)
    if isinstance(value, list | tuple):
        return "(" + " ".join(_plain(item) for item in value) + ")"
    return str(value)
