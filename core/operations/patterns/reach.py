"""Finds cuts that miss the blank or are beyond the reach of cutter, slide or boring head. Such jobs are refused."""

import math
from collections.abc import Callable, Iterator
from typing import Literal, NamedTuple

from core.lathe.lathe import Lathe, dial_words
from core.operations.patterns.boring_head import HEAD
from core.operations.patterns.layers import Layer, LayerPosition, PatternJob

_ROUNDING_MM = 1e-6


class OutOfReach(NamedTuple):
    """A size in a layer that the lathe or the cutter cannot reach, with the sentence that refuses it."""

    of: Literal["depth", "place", "to", "circle_radius"]
    """The size out of reach. A place comes from `at`, `offset` or `from`. A condition can give a radius."""
    message: str


def out_of_reach(job: PatternJob, layer: Layer, lathe: Lathe) -> Iterator[OutOfReach]:
    """Yield each size of a layer beyond the cutter's reach, the slide's travel, the head's radii or the blank."""
    yield from _too_deep(layer, lathe)
    yield from _past_the_travel(job, layer, lathe)
    yield from _past_the_head(layer, lathe)
    yield from _off_the_blank(job, layer, lathe)


def _too_deep(layer: Layer, lathe: Lathe) -> Iterator[OutOfReach]:
    cutter, depth_mm = layer.cutter, layer.depth_mm
    if cutter is not None and cutter.reach_mm is not None and (depth_mm or 0.0) > cutter.reach_mm + _ROUNDING_MM:
        yield OutOfReach(
            "depth",
            f"{lathe.length_text(depth_mm or 0.0)} is too deep for this cutter: past {_reach(layer, lathe)} its shank "
            f"rubs. Enter at most {_reach(layer, lathe)}, or another cutter.",
        )


def _reach(layer: Layer, lathe: Lathe) -> str:
    reach_mm = None if layer.cutter is None else layer.cutter.reach_mm
    return lathe.length_text(reach_mm or 0.0)


def _past_the_travel(job: PatternJob, layer: Layer, lathe: Lathe) -> Iterator[OutOfReach]:
    dial = lathe.dials.get(job.offset_dial)
    if dial is None or dial.slide_travel_mm is None:
        return
    for position in layer.cut_positions:
        needed_mm = _slide_mm(job, layer, position)
        if needed_mm > dial.slide_travel_mm + _ROUNDING_MM:
            from_mm = job.polar_setting(layer, position).slide_mm
            is_end = position.to_offset_mm is not None and from_mm <= dial.slide_travel_mm + _ROUNDING_MM
            yield OutOfReach(
                "to" if is_end else "place",
                f"Position {position.number} needs {lathe.length_text(needed_mm)} of travel, but the "
                f"{dial_words(job.offset_dial)} has {lathe.length_text(dial.slide_travel_mm)}. Enter a smaller length.",
            )
            return


def _slide_mm(job: PatternJob, layer: Layer, position: LayerPosition) -> float:
    """Return the slide travel for one position, counted from the place where the axes meet [mm]."""
    from_mm, to_mm = job.polar_setting(layer, position).slide_mm, position.to_offset_mm
    return from_mm if to_mm is None else max(0.0, from_mm, to_mm) - min(0.0, from_mm, to_mm)


def _past_the_head(layer: Layer, lathe: Lathe) -> Iterator[OutOfReach]:
    head = lathe.dials.get(HEAD)
    if head is None or not layer.with_head:
        return
    for position in layer.cut_positions:
        radius_mm = position.circle_radius_mm or 0.0
        least_mm, most_mm = head.least_radius_mm, head.most_radius_mm
        if least_mm is not None and radius_mm < least_mm - _ROUNDING_MM:
            limit, bound_mm = "at least", least_mm
        elif most_mm is not None and radius_mm > most_mm + _ROUNDING_MM:
            limit, bound_mm = "at most", most_mm
        else:
            continue
        yield OutOfReach(
            "circle_radius",
            f"Position {position.number} has a circle radius of {lathe.length_text(radius_mm)}. The boring head can be "
            f"set to {limit} {lathe.length_text(bound_mm)}. Enter a radius in that range.",
        )
        return


def _off_the_blank(job: PatternJob, layer: Layer, lathe: Lathe) -> Iterator[OutOfReach]:
    if job.blank_diameter_mm is None:
        return
    rim_mm, half_mm = job.blank_diameter_mm / 2, (layer.groove_width_mm or 0.0) / 2
    nearest_mm = _NEAREST[layer.shape]
    off = [
        position.number for position in layer.cut_positions if nearest_mm(position) - half_mm > rim_mm + _ROUNDING_MM
    ]
    if off:
        which = f"Position {off[0]} is" if len(off) == 1 else f"{len(off)} positions, such as {off[0]}, are"
        if 1 < len(off) == len(layer.cut_positions):
            which = f"All {len(off)} positions are"
        yield OutOfReach(
            "place",
            f"{which} off the {lathe.length_text(job.blank_diameter_mm)} blank. Enter positions nearer to its "
            "centre, or skip these positions.",
        )


def _centre_mm(position: LayerPosition) -> float:
    return math.hypot(position.x_mm, position.y_mm)


def _nearest_of_slot_mm(position: LayerPosition) -> float:
    from_mm, to_mm = _centre_mm(position), position.to_offset_mm or 0.0
    return 0.0 if to_mm < 0 else min(from_mm, to_mm)


_NEAREST: dict[str, Callable[[LayerPosition], float]] = {
    "circles": lambda position: abs(_centre_mm(position) - (position.circle_radius_mm or 0.0)),
    "dots": _centre_mm,
    "arcs": _centre_mm,
    "slots": _nearest_of_slot_mm,
}
"""The smallest distance of a cut's tip line from the work's centre, by shape [mm]."""
