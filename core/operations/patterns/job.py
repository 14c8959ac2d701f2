"""Reads a `pattern` operation from its table in a job file or a form."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from core.lathe.lathe import Lathe, RotaryTable, how_to_add
from core.lathe.reader import read_cutters
from core.operations.dividing.depth import ORDERS, pass_count
from core.operations.dividing.division import Means, means_of
from core.operations.dividing.handle_dial import handle_turns, smallest_deg
from core.operations.dividing.job import read_depth_dial, read_means, rotary_table
from core.operations.patterns.boring_head import HEAD
from core.operations.patterns.layer_reading import MOST_POSITIONS, Surroundings, place_key, read_layer
from core.operations.patterns.layers import (
    LAYER_ORDERS,
    USUAL_DEPTH_DIAL,
    USUAL_OFFSET_DIAL,
    Layer,
    LayerOrder,
    PatternJob,
)
from core.operations.patterns.reach import out_of_reach
from core.values.errors import PlanError
from core.values.fields import LONGEST_NAME, Table
from core.values.plain_text import as_name, quoted

MOST_LAYERS = 12
CUTTER_HEADER = "[[operation.cutter]]"
_MOST_ERROR_MM = 100


def read_pattern(table: Table, lathe: Lathe) -> PatternJob | None:
    """Return the checked parameters of a `pattern` operation; None if any of them has a problem."""
    before = len(table.problems)
    job = PatternJob(layers=(), **_read_errors(table), **_read_dials(table, lathe), **_read_orders(table))
    rotary = rotary_table(table, lathe, "layer")
    tables = _layer_tables(table)
    cutters = read_cutters(table, CUTTER_HEADER)
    around = Surroundings(
        own_cutters=cutters,
        lathe_cutters=lathe.cutters,
        wrong_cutters=_names_of_cutters(table) - {cutter.name for cutter in cutters},
        height_error_mm=0.0 if job.correct else job.height_error_mm,
        to_text=lathe.length_text,
    )
    read = [(one, read_layer(one, number, around)) for number, one in tables]
    layers = [(one, layer) for one, layer in read if layer is not None]
    job = replace(job, layers=tuple(layer for _, layer in layers))
    is_too_much = sum(layer.count * layer.repeat for layer in job.layers) > MOST_POSITIONS
    if is_too_much:
        table.problem("layer", f"Together the layers have more than {MOST_POSITIONS} positions. Enter fewer layers.")
    for one, layer in () if is_too_much else layers:
        _refuse_out_of_reach(one, job, layer, lathe)
        _refuse_unsettable(one, job, layer, lathe)
        _refuse_arcs_without_worm(one, layer, rotary, table)
    _check_depth_dial(table, job, lathe, len(table.problems) > before)
    means = read_means(table, lathe, rotary)
    if len(table.problems) > before or means is None or rotary is None:
        return None
    return replace(job, means=means if table.has("with") else default_means(rotary, job))


def default_means(rotary: RotaryTable, job: PatternJob) -> Means:
    """Return the method of setting the rotary table, for a job that names none.

    The result is the first method that is exact at every position or, if none is, the first method that the table has.
    Arcs need the dial of the table's handle.
    """
    means = means_of(rotary)
    if "dial" in means and any(layer.shape == "arcs" for layer in job.layers):
        return "dial"
    exact = (one for one in means if all(_is_exact(rotary, one, targets) for targets in job.targets_by_layer_deg))
    return next(exact, means[0])


def _is_exact(rotary: RotaryTable, means: Means, targets_deg: Sequence[Fraction]) -> bool:
    """Return whether one dial, one hole circle or one direct-index plate is exact at every angle."""
    if means == "dial":
        smallest = smallest_deg(rotary)
        return all((target / smallest).denominator == 1 for target in targets_deg)
    circles = rotary.direct if means == "direct" else tuple(circle for plate in rotary.plates for circle in plate)
    parts = 1
    for target in targets_deg:
        place = target / 360 if means == "direct" else handle_turns(rotary, target)
        parts = math.lcm(parts, place.denominator)
        if parts > max(circles):
            return False
    return any(circle % parts == 0 for circle in circles)


# Keys of the whole operation.


def _read_errors(table: Table) -> dict[str, Any]:
    """Return the fields for the set-up errors and the blank, and whether the settings correct the errors."""
    fields: dict[str, Any] = {
        "height_error_mm": table.length("height_error", least=-_MOST_ERROR_MM, most=_MOST_ERROR_MM) or 0.0,
        "blank_diameter_mm": table.length("blank_diameter", above=0),
        "eccentricity_mm": table.length("eccentricity", least=0, most=_MOST_ERROR_MM) or 0.0,
        "eccentric_at_deg": table.angle("eccentric_at", least=-360, most=360) or 0.0,
        "face_runout_mm": table.length("face_runout", least=0, most=10),
        "face_radius_mm": table.length("face_radius", above=0),
        "face_high_at_deg": table.angle("face_high_at", least=-360, most=360),
        "correct": table.flag("correct", False),
    }
    needs = {"face_radius": "face_runout", "face_high_at": "face_runout", "eccentric_at": "eccentricity"}
    for key, needed in needs.items():
        if table.has(key) and not table.has(needed):
            table.problem(key, f"This entry needs {needed}. Enter {needed} too, or remove this entry.")
    if fields["eccentricity_mm"] and not table.has("eccentric_at"):
        table.problem(
            "eccentric_at",
            'Missing. Enter the direction of the eccentricity as an angle on the work, such as "90 deg".',
        )
    return fields


def _read_orders(table: Table) -> dict[str, Any]:
    order, layer_order = table.word("order", ORDERS), table.word("layer_order", LAYER_ORDERS)
    known: LayerOrder = next((one for one in LAYER_ORDERS if one == layer_order), LAYER_ORDERS[0])
    return {"order": "position" if order == "position" else "round", "layer_order": known}


def _read_dials(table: Table, lathe: Lathe) -> dict[str, Any]:
    depth_dial = read_depth_dial(table, lathe) or USUAL_DEPTH_DIAL
    offset_dial = table.text("offset_dial", longest=40)
    known = [name for name in lathe.dials if name != HEAD]
    if offset_dial is not None and offset_dial not in known:
        table.problem(
            "offset_dial",
            f"{quoted(offset_dial)} is not a slide of this lathe ({lathe.name}). Enter one of its dials: "
            f"{', '.join(known) or 'none'}.",
        )
    elif table.has("offset_dial") and offset_dial == depth_dial:
        table.problem("offset_dial", f"{quoted(offset_dial)} already sets the depth. Enter another dial.")
    return {
        "depth_dial": depth_dial,
        "offset_dial": offset_dial or USUAL_OFFSET_DIAL,
        "is_far": table.word("offset_side", ("near", "far")) == "far",
    }


def _check_depth_dial(table: Table, job: PatternJob, lathe: Lathe, wrong: bool) -> None:
    deep = any(layer.depth_mm is not None for layer in job.layers)
    if deep and not table.has("depth_dial") and USUAL_DEPTH_DIAL not in lathe.dials:
        known = ", ".join(lathe.dials) or "none"
        table.problem(
            "depth_dial", f'Missing, and this lathe has no "{USUAL_DEPTH_DIAL}". Enter one of its dials: {known}.'
        )
    if not deep and not wrong and table.has("depth_dial"):
        table.problem(
            "depth_dial", "This dial is entered, but no layer has a depth. Enter a depth, or remove this dial."
        )


# Keys of the layers.


def _names_of_cutters(table: Table) -> frozenset[str]:
    cutters = table.data.get("cutter")
    tables = [one for one in cutters if isinstance(one, Mapping)] if isinstance(cutters, list) else []
    return frozenset(as_name(str(one.get("name")), LONGEST_NAME) for one in tables)


def _layer_tables(table: Table) -> list[tuple[int, Table]]:
    items = table.items("layer", "tables [[operation.layer]]", least=1, most=MOST_LAYERS)
    if not table.has("layer"):
        table.problem("layer", "Missing. Enter at least one layer under [[operation.layer]].")
    tables = []
    for number, data in enumerate(items, start=1):
        if not isinstance(data, Mapping):
            table.problem(
                "layer",
                f"{quoted(data)} is not a layer. Write [[operation.layer]] on a line of its own, with the layer's "
                "entries below.",
            )
            continue
        tables.append((number, Table(data, f"{table.where}, layer {number}", table.problems, table.written)))
    return tables


def _refuse_out_of_reach(table: Table, job: PatternJob, layer: Layer, lathe: Lathe) -> None:
    for found in out_of_reach(job, layer, lathe):
        key: str = found.of
        if key == "place":
            key = place_key(layer)
        if key not in table.data and layer.condition:
            key = layer.condition
        table.problem(key, found.message)


def _refuse_unsettable(table: Table, job: PatternJob, layer: Layer, lathe: Lathe) -> None:
    """Record a problem for a depth below half a mark, and for a changing circle radius if the head has no dial."""
    if layer.circle_radius_step_mm and layer.with_head and HEAD not in lathe.dials:
        table.problem(
            "circle_radius_step",
            f"A circle radius that changes from position to position needs a dial: {how_to_add(f'[dial.{HEAD}]')}.",
        )
    least_mm = min((one.depth_mm for one in layer.cut_positions if one.depth_mm is not None), default=None)
    if least_mm is not None and job.depth_dial in lathe.dials:
        try:
            pass_count(lathe, job.depth_dial, least_mm, layer.cut_mm or least_mm)
        except PlanError as error:
            table.problem("depth", error.message)


def _refuse_arcs_without_worm(table: Table, layer: Layer, rotary: RotaryTable | None, operation: Table) -> None:
    """Record a problem for arcs on a table set by holes or notches.

    Such a table cannot turn during a cut. `rotary`: the lathe's rotary table; None without one.
    """
    if layer.shape != "arcs" or rotary is None:
        return
    border = "A border can be cut as circles at offset 0."
    if rotary.dial_graduation_deg is None:
        table.problem("shape", f"Arcs are fed by the dial of the table's handle, and this table has none. {border}")
    elif operation.data.get("with") in ("plate", "direct"):
        table.problem(
            "shape", f'Arcs are fed by the dial of the table\'s handle. Enter with = "dial", or another shape. {border}'
        )
