"""Limits of size of ISO metric threads, from the tables of ISO 965-1.

The printed tables are normative and cannot be worked out: the formulas stand
in only where there is no cell, and the reader is told.
"""

import math
import re
from collections.abc import Iterable
from fractions import Fraction
from functools import cache
from typing import NamedTuple

from core.data import read_table
from core.operations.threads.form import Diameters, limits_mm
from core.operations.threads.grades import CREST_GRADES, PITCH_GRADES, Figure, by_formula, pitch_tolerance
from core.operations.threads.preferred import stepped_um
from core.operations.threads.spelling import MEMORY_NOTE, Ending, accepted, refusal
from core.operations.threads.thread import Limits
from core.values.quantities import number_text

STANDARD = "ISO 965-1"
_POSITIONS = {False: "efgh", True: "GH"}
_CLASS = re.compile(r"([0-9])([A-Za-z])(?:([0-9])([A-Za-z]))?")
_MICROMETRE = Fraction(1, 1000)


class MetricClass(NamedTuple):
    """Grade and position of the pitch diameter, then of the crest (external major, internal minor)."""

    text: str
    internal: bool
    pitch_grade: int
    pitch_position: str
    crest_grade: int
    crest_position: str


def read_metric_class(ending: Ending, text: str) -> MetricClass:
    """Return the class that "6g", "4g6g" or "5H" states; raises ThreadError for one that does not exist."""
    match = _CLASS.fullmatch(ending.class_text)
    if not match:
        raise refusal(text, f"{ending.found} is no tolerance class; accepted are such as 6g, 4g6g, 6H or 5H6H")
    grades = int(match[1]), int(match[3] or match[1])
    positions = match[2], match[4] or match[2]
    internal = match[2].isupper()
    if positions[1].isupper() != internal:
        raise refusal(text, f"{ending.found} mixes an inside and an outside class; accepted is one of the two")
    for position in positions:
        if position not in _POSITIONS[internal]:
            positions_known = "e, f, g or h outside, G or H inside"
            raise refusal(text, f'there is no position "{position}"; accepted are {positions_known}')
    tolerance_class = MetricClass(
        text=ending.class_text,
        internal=internal,
        pitch_grade=grades[0],
        pitch_position=positions[0],
        crest_grade=grades[1],
        crest_position=positions[1],
    )
    _check_grades(tolerance_class, text)
    return tolerance_class


def _check_grades(tolerance_class: MetricClass, text: str) -> None:
    internal = tolerance_class.internal
    crest = "minor diameter" if internal else "major diameter"
    for grade, grades, what in (
        (tolerance_class.pitch_grade, list(PITCH_GRADES[internal]), "pitch diameter"),
        (tolerance_class.crest_grade, list(CREST_GRADES[internal]), crest),
    ):
        if grade not in grades:
            where = "inside" if internal else "outside"
            known = accepted([str(one) for one in grades])
            raise refusal(text, f"there is no grade {grade} for the {what} {where}; {known}")


def metric_limits(basic: Diameters, pitch_mm: Fraction, tolerance_class: MetricClass) -> tuple[Limits, tuple[str, ...]]:
    """Return the limits of size and the notes that go with them.

    basic: rounded to 0.001 mm as ISO 724 prints them [mm], major 0.99 to 355.
    Source: ISO 965-1, clauses on fundamental deviations and tolerances.
    """
    of_pitch = _deviation(tolerance_class.pitch_position, pitch_mm)
    of_crest = _deviation(tolerance_class.crest_position, pitch_mm)
    grade, internal = tolerance_class.pitch_grade, tolerance_class.internal
    pitch = pitch_tolerance(basic.major, pitch_mm, grade, internal=internal, cells=_pitch_cells())
    crest = _crest_tolerance(pitch_mm, tolerance_class)
    notes = _notes((of_pitch, of_crest, pitch, crest), basic.major, pitch_mm)
    if unprinted := _unprinted_grade(tolerance_class, pitch_mm):
        notes = (*notes, f"{STANDARD} prints no grade {unprinted} at this pitch: stepped on from grade 6.")
    if internal:
        d2_min = basic.pitch + of_pitch.um * _MICROMETRE
        d1_min = basic.minor + of_crest.um * _MICROMETRE
        return limits_mm(
            major=(None, basic.major + of_pitch.um * _MICROMETRE),
            pitch=(d2_min + pitch.um * _MICROMETRE, d2_min),
            minor=(d1_min + crest.um * _MICROMETRE, d1_min),
        ), notes
    d2_max = basic.pitch - of_pitch.um * _MICROMETRE
    d_max = basic.major - of_crest.um * _MICROMETRE
    return limits_mm(
        major=(d_max, d_max - crest.um * _MICROMETRE), pitch=(d2_max, d2_max - pitch.um * _MICROMETRE)
    ), notes


def _unprinted_grade(tolerance_class: MetricClass, pitch_mm: Fraction) -> int | None:
    """Return a coarse grade that the standard leaves out at fine pitches, None where it is printed."""
    grade = max(tolerance_class.pitch_grade, tolerance_class.crest_grade)
    least_mm = {7: 0.5 if tolerance_class.internal else 0.0, 8: 0.8, 9: 0.8}.get(grade, 0.0)
    return grade if pitch_mm < least_mm else None


def _deviation(position: str, pitch_mm: Fraction) -> Figure:
    """Return how far the profile is moved off the basic one [um]: inwards outside, outwards inside."""
    if position in "hH":
        return Figure(um=0)
    least = {"e": 50, "f": 30, "g": 15}[position.lower()]
    return _cells().get((position.lower(), pitch_mm)) or by_formula(least + 11 * float(pitch_mm))


def _crest_tolerance(pitch_mm: Fraction, tolerance_class: MetricClass) -> Figure:
    """Td of the external major, TD1 of the internal minor diameter."""
    pitch, grade = float(pitch_mm), tolerance_class.crest_grade
    quantity, formula = "Td", 180 * pitch ** (2 / 3) - 3.15 / math.sqrt(pitch)
    if tolerance_class.internal:
        quantity, formula = "TD1", 433 * pitch - 190 * pitch**1.22 if pitch <= 0.8 else 230 * pitch**0.7
    cell = _cells().get((quantity, pitch_mm))
    if cell is None:
        return by_formula(formula * CREST_GRADES[tolerance_class.internal][grade])
    return Figure(um=stepped_um(cell.um, 4 * (grade - 6)), origin=cell.origin)


@cache
def _cells() -> dict[tuple[str, Fraction], Figure]:
    """Return deviations and crest tolerances, by quantity and pitch [mm]."""
    rows = [row for row in read_table("metric_tolerances") if row["quantity"] != "Td2"]
    return {(row["quantity"], Fraction(row["pitch_mm"])): _figure(row) for row in rows}


@cache
def _pitch_cells() -> dict[tuple[Fraction, Fraction], Figure]:
    """Return Td2 of grade 6, by lower end of the diameter range and pitch [mm]."""
    rows = [row for row in read_table("metric_tolerances") if row["quantity"] == "Td2"]
    return {(Fraction(row["over_mm"]), Fraction(row["pitch_mm"])): _figure(row) for row in rows}


def _figure(row: dict[str, str]) -> Figure:
    return Figure(um=int(row["um"]), origin="memory" if "from memory" in row["source"] else "")


def _notes(figures: Iterable[Figure], major_mm: Fraction, pitch_mm: Fraction) -> tuple[str, ...]:
    origins = {figure.origin for figure in figures}
    notes = []
    if "formula" in origins:
        size = f"a pitch of {number_text(pitch_mm, 4)} mm at {number_text(major_mm, 4)} mm"
        notes.append(f"Limits worked out by formula: the tables of {STANDARD} have no cell for {size}.")
    if "memory" in origins:
        notes.append(MEMORY_NOTE.format(standard=STANDARD))
    return tuple(notes)
