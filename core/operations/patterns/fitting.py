"""Checks whether a pattern fits another blank, another lathe or another rotary table."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any, Literal, NamedTuple

from core.lathe.keys.cutters import cutter_table
from core.lathe.lathe import Lathe, RotaryTable
from core.operations.dividing.division import MeansOffered, means_offered
from core.operations.patterns.boring_head import HEAD
from core.operations.patterns.cautions import off_the_blank
from core.operations.patterns.job import read_pattern
from core.operations.patterns.layers import USUAL_DEPTH_DIAL, USUAL_OFFSET_DIAL, Layer, PatternJob
from core.operations.patterns.pattern_picture import pattern_picture
from core.operations.patterns.picture import PatternPicture
from core.operations.patterns.steps import cuts_on
from core.values.angles import amount_text
from core.values.dials import Dial
from core.values.errors import PlanError
from core.values.fields import Problem, Table

_FINE = Fraction(1, 10_000)
_ANY_TABLE = RotaryTable(ratio=Fraction(60), dial_graduation_deg=Fraction(1, 60))
_WITHOUT = frozenset({"blank_diameter", "with"})
"""Keys for the blank, the machine and the method. They do not change the look of a pattern."""
_KEY_WORDS = {"with": "set by", "layer": "the rotary table"}
"""Clearer words for some keys of a job file."""
_BY = {"dial": "the dial", "plate": "a plate", "direct": "notches"}


class Finding(NamedTuple):
    """One sentence on how a pattern fits a blank and a lathe, and how serious the sentence is."""

    gravity: Literal["refused", "caution", "good"]
    """"refused": the pattern cannot be started on this lathe and blank."""
    message: str


def drawn_pattern(job: PatternJob, lathe: Lathe) -> PatternPicture | None:
    """Return the picture of a pattern without the limits of a lathe; None if the pattern cannot be set at all.

    `job`: the result of `drawn_job`. `lathe`: a lathe that supplies the cutters and the unit of length.
    """
    try:
        return pattern_picture(job, cuts_on(job, _boundless(job.depth_dial, job.offset_dial, lathe)))
    except PlanError:
        return None


def drawn_job(table: Mapping[str, Any], lathe: Lathe) -> PatternJob | None:
    """Return a pattern as designed, without the limits of blank, slides, head and rotary table; None if it has errors.

    `table`: the operation's table from a job file. `lathe`: a lathe that supplies the cutters and the unit of length.
    """
    wanted = {key: value for key, value in table.items() if key not in _WITHOUT}
    wanted["cutter"] = [_without_reach(cutter) for cutter in _tables(table, "cutter")]
    dials = (str(table.get("depth_dial", USUAL_DEPTH_DIAL)), str(table.get("offset_dial", USUAL_OFFSET_DIAL)))
    boundless = _boundless(*dials, lathe)
    job = read_pattern(Table(wanted if wanted["cutter"] else _but(wanted, "cutter"), "", []), boundless)
    blank = Table({key: table[key] for key in ("blank_diameter",) if key in table}, "", [])
    return None if job is None else replace(job, blank_diameter_mm=blank.length("blank_diameter", above=0))


def _boundless(depth_dial: str, offset_dial: str, lathe: Lathe) -> Lathe:
    """Return a lathe with fine dials and unlimited travel, and with the cutters and the unit of a real lathe.

    `depth_dial` and `offset_dial`: the names of the dials of the returned lathe. `lathe`: the real lathe.
    """
    return Lathe(
        name=lathe.name,
        dials={
            name: Dial(name=name, unit=lathe.unit, graduation=_FINE) for name in sorted({HEAD, depth_dial, offset_dial})
        },
        rotary_table=_ANY_TABLE,
        cutters=tuple(cutter._replace(reach_mm=None) for cutter in lathe.cutters),
    )


def fit_findings(table: Mapping[str, Any], lathe: Lathe) -> Iterator[Finding]:
    """Yield refusals, cautions and confirmations on whether a pattern fits its blank and a lathe.

    `table`: the operation's table from a job file, with the diameter of the blank.
    """
    problems: list[Problem] = []
    read_pattern(Table(table, "", problems), lathe)
    yield from (Finding("refused", _words(problem)) for problem in problems)
    job = drawn_job(table, lathe)
    if job is None:
        return
    if job.blank_diameter_mm is None:
        yield Finding("caution", "No blank is entered. Enter its diameter to check whether the pattern fits.")
    off = off_the_blank(job, lathe)
    yield from (Finding("caution", words) for words in off)
    if job.blank_diameter_mm is not None and not off and not problems:
        yield Finding("good", f"The whole pattern is on the blank of {lathe.length_text(job.blank_diameter_mm)}.")
    yield from _of_the_table(job, table.get("with"), lathe)


def _of_the_table(job: PatternJob, named: object, lathe: Lathe) -> Iterator[Finding]:
    """Yield the error of a rotary table for each method of setting the table, the best method first.

    `named`: the method that the pattern names; None if it names none.
    """
    rotary = lathe.rotary_table
    if rotary is None:
        return
    offered = means_offered(rotary, job.targets_by_layer_deg)
    best = next((one for one in offered if one.worst_deg is not None), None)
    for means in offered:
        if means.worst_deg is None:
            gravity: Literal["caution", "good"] = "caution" if means.means == named else "good"
            yield Finding(gravity, f"By {_BY[means.means]}: not possible on this table.")
            continue
        better = f" Better by {_BY[best.means]}." if best and means.means == named and means is not best else ""
        exact = "every position is exact." if not means.worst_deg else f"up to {_worst(job, means, lathe)} off."
        yield Finding("good" if not means.worst_deg else "caution", f"By {_BY[means.means]}: {exact}{better}")


def _worst(job: PatternJob, means: MeansOffered, lathe: Lathe) -> str:
    """Return words for the worst error of a position, as a length at the work and an angle of the table."""
    at_the_work_mm = max(
        float(abs(position.error_deg)) * math.pi / 180 * math.hypot(place.x_mm, place.y_mm)
        for layer, dividing in zip(job.layers, means.dividing, strict=True)
        for place, position in zip(layer.positions, dividing.positions, strict=True)
    )
    return f"{lathe.length_text(at_the_work_mm)} ({amount_text(means.worst_deg or 0)})"


def with_own_cutters(table: Mapping[str, Any], lathe: Lathe) -> dict[str, Any]:
    """Return a pattern's table with a copy of each lathe cutter that it uses, so that any lathe can cut the pattern."""
    job = drawn_job(table, lathe)
    own = _tables(table, "cutter")
    known = {str(cutter.get("name")) for cutter in own}
    used = {layer.cutter.name for layer in job.layers if layer.cutter} if job else set()
    added = [cutter_table(cutter) for cutter in lathe.cutters if cutter.name in used - known]
    if job is None or not added:
        return dict(table)
    layers = [_naming(one, layer) for one, layer in zip(_tables(table, "layer"), job.layers, strict=True)]
    return {**table, "cutter": [*own, *added], "layer": layers}


def _naming(table: Mapping[str, Any], layer: Layer) -> Mapping[str, Any]:
    return {**table, "cutter": layer.cutter.name} if layer.cutter is not None else table


def _tables(table: Mapping[str, Any], key: str) -> list[dict[str, Any]]:
    held = table.get(key)
    return [dict(one) for one in held if isinstance(one, Mapping)] if isinstance(held, Sequence) else []


def _without_reach(cutter: Mapping[str, Any]) -> dict[str, Any]:
    return _but(cutter, "reach")


def _but(table: Mapping[str, Any], key: str) -> dict[str, Any]:
    return {name: value for name, value in table.items() if name != key}


def _words(problem: Problem) -> str:
    _, _, place = problem.where.rpartition(", ")
    key = _KEY_WORDS.get(problem.key, problem.key.replace("_", " "))
    return (
        f"{place[:1].upper()}{place[1:]}, {key}: {problem.message}"
        if place
        else f"{key.capitalize()}: {problem.message}"
    )
