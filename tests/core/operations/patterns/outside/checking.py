"""Compares a card with its job: each simulated cut, and each groove in the card's list."""

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from tests.core.operations.patterns.outside.job_files import Tables, groove_width_mm, mm
from tests.core.operations.patterns.outside.machine import HEAD, Cut, Machine, half_mark_mm, half_step_deg
from tests.core.operations.patterns.outside.wanted import (
    Wanted,
    all_wanted,
    comes_out_mm,
    cutter_of,
    eccentric_mm,
    settings,
)

SAME_MM, SAME_DEG = 1e-6, 1e-6
Key = tuple[int, int]


def disagreements(operation: Tables, lathe: Tables, card: Mapping[str, Any]) -> list[str]:
    """Return every difference between the steps of a card, its list of grooves, and the job."""
    wanted = {(one.layer, one.position): one for one in all_wanted(operation)}
    cuts = Machine(operation, lathe).run(card["steps"])
    found = list(_not_once(wanted, cuts, card))
    for key in wanted.keys() & cuts.keys():
        where = f"layer {key[0]}, position {key[1]}: "
        found += [where + text for text in _off_the_job(operation, lathe, card, wanted[key], cuts[key])]
        found += [where + text for text in _wrong_passes(operation, lathe, wanted[key], cuts[key])]
    return found + list(_wrong_elements(operation, lathe, card, cuts))


def _not_once(wanted: Mapping[Key, Wanted], cuts: Mapping[Key, Cut], card: Mapping[str, Any]) -> Iterator[str]:
    """Yield positions without a cut, positions cut against the job, and positions without an index step."""
    if wanted.keys() != cuts.keys():
        yield f"cut {sorted(cuts.keys() - wanted.keys())} unasked, did not cut {sorted(wanted.keys() - cuts.keys())}"
    indexed = {(step["layer"], step["position"]) for step in card["steps"] if step["action"] == "index"}
    if indexed != wanted.keys():
        yield f"index steps at {sorted(indexed ^ wanted.keys())} are missing or not asked for"


def _off_the_job(operation: Tables, lathe: Tables, card: Mapping[str, Any], wanted: Wanted, cut: Cut) -> Iterator[str]:
    """Yield places where the tool was further from the job's place than half a mark of each dial."""
    ideal, here = settings(operation, wanted), cut.strokes[-1]
    slide_dial = lathe["dial"][operation.get("offset_dial", "cross_slide")]
    half_mm, half_deg = half_mark_mm(slide_dial), half_step_deg(card["steps"], lathe)
    far = operation.get("offset_side", "near") == "far"
    for stroke in cut.strokes:
        slide_mm = -stroke.slide_mm if far else stroke.slide_mm
        if abs(slide_mm - ideal.slide_mm) > half_mm + SAME_MM:
            yield f"step {stroke.step}: slide at {slide_mm}, wanted {ideal.slide_mm}"
        if ideal.slide_mm > SAME_MM and _between_deg(stroke.angle_deg, ideal.angle_deg) > half_deg + SAME_DEG:
            yield f"step {stroke.step}: table at {stroke.angle_deg}, wanted {ideal.angle_deg}"
        if ideal.is_corrected or not (np.any(eccentric_mm(operation)) or "height_error" in operation):
            # With a height error, slide and table errors are not square to each other. At worst they add up.
            reach_mm = half_mm + math.radians(half_deg) * (np.hypot(*stroke.start) + 1)
            if np.hypot(*(stroke.start - wanted.place)) > reach_mm + SAME_MM:
                yield f"step {stroke.step}: cut at {stroke.start}, wanted {wanted.place}"
    if wanted.shape == "slots":
        end_mm = -here.end_slide_mm if far else here.end_slide_mm
        if abs(end_mm - wanted.to_offset_mm) > half_mm + SAME_MM:
            yield f"the slot ends at {end_mm}, wanted {wanted.to_offset_mm}"
    if wanted.shape == "arcs":
        end_deg = settings(operation, wanted).angle_deg + wanted.through_deg
        if _between_deg(here.end_angle_deg, end_deg) > half_deg + SAME_DEG:
            yield f"the arc ends at {here.end_angle_deg}, wanted {end_deg}"
        if abs(here.end_angle_deg - here.angle_deg - wanted.through_deg) > 2 * half_deg + SAME_DEG:
            yield f"the arc goes through {here.end_angle_deg - here.angle_deg}, wanted {wanted.through_deg}"


def _wrong_passes(operation: Tables, lathe: Tables, wanted: Wanted, cut: Cut) -> Iterator[str]:
    """Yield passes that are too deep, a wrong last depth, and depths with too many or too few passes."""
    half_mm = half_mark_mm(lathe["dial"][operation.get("depth_dial", "carriage")])
    depths = [stroke.depth_mm for stroke in cut.strokes]
    if wanted.shape in ("slots", "arcs"):
        if depths[0::2] != depths[1::2]:
            yield f"fed in to {depths[0::2]}, fed along at {depths[1::2]}"
        depths = depths[0::2]
    passes = np.diff([0.0, *depths])
    if np.any(passes <= 0):
        yield f"depths {depths} do not grow"
    if abs(depths[-1] - wanted.depth_mm) > half_mm + SAME_MM:
        yield f"cut to {depths[-1]}, wanted {wanted.depth_mm}"
    most_mm = max(wanted.cut_mm, 2 * half_mm)
    # Rounding can put the last mark past the depth, without another pass.
    if len(depths) == 1 and wanted.cut_mm >= wanted.depth_mm - SAME_MM:
        most_mm = wanted.depth_mm + half_mm
    if np.any(passes > most_mm + SAME_MM):
        yield f"passes {passes} are deeper than {wanted.cut_mm}"
    fewest = math.ceil((depths[-1] - SAME_MM) / most_mm) if math.isfinite(most_mm) else 1
    if len(depths) > 2 * fewest:
        yield f"{len(depths)} passes, {fewest} would do"


def _wrong_elements(
    operation: Tables, lathe: Tables, card: Mapping[str, Any], cuts: Mapping[Key, Cut]
) -> Iterator[str]:
    elements = {(one["layer"], one["position"]): one for one in card["figures"]["elements"]}
    if elements.keys() != cuts.keys() or len(elements) != len(card["figures"]["elements"]):
        yield f"elements at {sorted(elements.keys() ^ cuts.keys())} are missing, cut nowhere or there twice"
    zeros_mm = _head_zeros_mm(operation, cuts)
    for key in elements.keys() & cuts.keys():
        layer, element, cut = operation["layer"][key[0] - 1], elements[key], cuts[key]
        expected = _expected(operation, lathe, layer, cut)
        if layer["shape"] == "circles":
            expected["radius_mm"] = _radius_mm(operation, lathe, cut, zeros_mm)
        if element["shape"] != layer["shape"].removesuffix("s"):
            yield f"element {key}: shape {element['shape']}"
        for name, value in expected.items():
            off = _between_deg(element[name], value) if name == "angle_deg" else abs(element[name] - value)
            if off > SAME_MM:
                yield f"element {key}: {name} is {element[name]}, the steps give {value}"
        if surplus := {name for name in element if name.endswith(("_mm", "_deg"))} - expected.keys():
            yield f"element {key}: {sorted(surplus)} do not belong to a {element['shape']}"


def _expected(operation: Tables, lathe: Tables, layer: Tables, cut: Cut) -> dict[str, float]:
    """Return the groove that the last cut steps at its position made."""
    last = cut.strokes[-1]
    found: dict[str, float] = {"angle_deg": last.angle_deg, "x_mm": last.start[0], "y_mm": last.start[1]}
    match layer["shape"]:
        case "slots":
            found |= {"to_x_mm": last.end[0], "to_y_mm": last.end[1]}
        case "arcs":
            axis = comes_out_mm(operation | {"height_error": "0 mm"}, 0, 0)
            found |= {"centre_x_mm": axis[0], "centre_y_mm": axis[1]}
            found["sweep_deg"] = last.end_angle_deg - last.angle_deg
    found["depth_mm"] = cut.depth_mm
    found["width_mm"] = groove_width_mm(cutter_of(operation, layer, lathe), cut.depth_mm)
    return found


def _head_zeros_mm(operation: Tables, cuts: Mapping[Key, Cut]) -> dict[int, float]:
    """Return the radius at which the head's dial reads 0, from the layer cut after each trial circle.

    The radius is the layer's own circle radius, even if its first position is skipped and the radius changes.
    """
    zeros: dict[int, float] = {}
    for cut in cuts.values():
        layer = operation["layer"][cut.layer - 1]
        if layer["shape"] == "circles":
            zeros.setdefault(cut.trials, mm(layer["circle_radius"]))
    return zeros


def _radius_mm(operation: Tables, lathe: Tables, cut: Cut, zeros_mm: Mapping[int, float]) -> float:
    """Return the radius of a circle. A head without a dial is set by trial to exactly the wanted radius."""
    if HEAD in lathe["dial"]:
        return zeros_mm[cut.trials] + cut.head_mm[-1]
    wanted = {(one.layer, one.position): one for one in all_wanted(operation)}
    return wanted[cut.layer, cut.position].radius_mm


def radii_off_mm(operation: Tables, lathe: Tables, card: Mapping[str, Any]) -> list[float]:
    """Return the error of each circle's radius, in half marks of the head."""
    wanted = {(one.layer, one.position): one for one in all_wanted(operation)}
    if HEAD not in lathe["dial"]:
        return []
    half_mm = half_mark_mm(lathe["dial"][HEAD])
    elements = [one for one in card["figures"]["elements"] if one["shape"] == "circle"]
    return [abs(one["radius_mm"] - wanted[one["layer"], one["position"]].radius_mm) / half_mm for one in elements]


def _between_deg(one: float, other: float) -> float:
    """Return the angle between two directions."""
    return abs((one - other + 180) % 360 - 180)


def steps_where(steps: Sequence[Mapping[str, Any]], action: str) -> list[Mapping[str, Any]]:
    """Return the steps of one action."""
    return [step for step in steps if step["action"] == action]
