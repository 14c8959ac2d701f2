"""ISO metric threads: designations, basic sizes (ISO 68-1, ISO 724), series (ISO 261) and limits of size (ISO 965-1).

The tolerances printed in the standard are binding, and no formula gives them all. A tolerance that is not printed here
comes from a formula, and a note of the thread says so. Printed tolerances are preferred numbers of the series R40 (ISO
3). Each grade is four numbers further up that series than the next finer grade. The tolerance of an internal pitch
diameter is five numbers further up than that of an external one. ISO 2903 (trapezoidal threads) shares these grades.
"""

import itertools
import math
import re
from collections.abc import Iterable, Mapping
from fractions import Fraction
from functools import cache
from typing import NamedTuple

from core.data import read_table
from core.operations.threads.profiles import MINOR, PITCH_LINE, ROOT, Diameters, limits_mm, metric_form, thread_of
from core.operations.threads.spelling import (
    MEMORY_NOTE,
    Ending,
    MetricWords,
    enter,
    is_internal,
    nearest,
    read_metric_words,
    refusal,
)
from core.operations.threads.thread import LEAST_PITCH_MM, MOST_PITCH_MM, Limits, Thread
from core.values.quantities import number_text

_R40 = (
    100, 106, 112, 118, 125, 132, 140, 150, 160, 170, 180, 190, 200, 212, 224, 236, 250, 265, 280, 300,
    315, 335, 355, 375, 400, 425, 450, 475, 500, 530, 560, 600, 630, 670, 710, 750, 800, 850, 900, 950,
)  # fmt: skip


def preferred_number(place: int) -> Fraction:
    """Return the preferred number at index `place` of the series R40. There are forty numbers in each decade; index 0
    is the number 1.

    >>> float(preferred_number(25)), float(preferred_number(80))
    (4.25, 100.0)
    """
    decade, index = divmod(place, 40)
    return Fraction(_R40[index], 100) * Fraction(10) ** decade


def preferred_place(value: float) -> int:
    """Return the index of the preferred number that is nearest in ratio to a value above 0."""
    guess = round(40 * math.log10(value))
    return min((guess - 1, guess, guess + 1), key=lambda place: abs(math.log(value / preferred_number(place))))


def stepped_um(value_um: float, steps: int) -> int:
    """Return the preferred number [um] that is `steps` numbers after (if negative: before) the one nearest to
    `value_um`.

    The result is rounded as in the printed standard, halves to the even figure: 42.5 becomes 42, 47.5 becomes 48.

    >>> stepped_um(112, -8), stepped_um(67, -8)
    (71, 42)
    """
    return round(preferred_number(preferred_place(value_um) + steps))


PITCH_GRADES = {
    False: {3: 0.5, 4: 0.63, 5: 0.8, 6: 1.0, 7: 1.25, 8: 1.6, 9: 2.0},
    True: {4: 0.85, 5: 1.06, 6: 1.32, 7: 1.7, 8: 2.12},
}
"""Tolerance of each grade as a multiple of the external grade 6, for external and internal threads."""
CREST_GRADES = {
    False: {4: 0.63, 6: 1.0, 8: 1.6},
    True: {4: 0.63, 5: 0.8, 6: 1.0, 7: 1.25, 8: 1.6},
}
_RANGES = tuple(map(Fraction, ["0.99", "1.4", "2.8", "5.6", "11.2", "22.4", "45", "90", "180", "355"]))
"""Ranges of the basic major diameter [mm]: above the first number, up to and including the second."""


class TableValue(NamedTuple):
    """A value [um] and its origin: "" for the printed standard, otherwise "formula" or "memory"."""

    um: int
    origin: str = ""


def pitch_tolerance(
    major_mm: Fraction,
    pitch_mm: Fraction,
    grade: int,
    *,
    internal: bool,
    cells: Mapping[tuple[Fraction, Fraction], TableValue],
) -> TableValue:
    """Return the tolerance of the pitch diameter: Td2 for an external thread, TD2 for an internal thread.

    major_mm: the major diameter, above 0.99 and up to 355 [mm]; pitch_mm: the pitch [mm].
    cells: the printed tolerances for external threads of grade 6, by the lower end of a diameter range and by pitch
    [mm]. A value that is not printed is calculated as 90 P^0.4 d^0.1, where d is the geometric mean of the range (ISO
    965-1).
    """
    over, to = next((low, high) for low, high in itertools.pairwise(_RANGES) if major_mm <= high)
    cell = cells.get((over, pitch_mm))
    if cell is None:
        of_grade_6 = 90 * float(pitch_mm) ** 0.4 * math.sqrt(over * to) ** 0.1
        return by_formula(of_grade_6 * PITCH_GRADES[internal][grade])
    return TableValue(um=stepped_um(cell.um, 4 * (grade - 6) + 5 * internal), origin=cell.origin)


def by_formula(value_um: float) -> TableValue:
    """Return the preferred number nearest to a calculated value [um], marked as coming from a formula."""
    return TableValue(um=stepped_um(value_um, 0), origin="formula")


STANDARD = "ISO 965-1"
_POSITIONS = {False: "efgh", True: "GH"}
_CLASS = re.compile(r"([0-9])([A-Za-z])(?:([0-9])([A-Za-z]))?")
_MICROMETRE = Fraction(1, 1000)


class MetricClass(NamedTuple):
    """The tolerance grade and position of the pitch diameter, and those of the crest.

    The crest is the major diameter of an external thread, or the minor diameter of an internal thread.
    """

    text: str
    internal: bool
    pitch_grade: int
    pitch_position: str
    crest_grade: int
    crest_position: str


def read_metric_class(ending: Ending, text: str) -> MetricClass:
    """Return the tolerance class at the end of a designation, such as "6g", "4g6g" or "5H".

    `text`: the whole designation, for the error message. Raise ThreadError for a class that does not exist.
    """
    match = _CLASS.fullmatch(ending.class_text)
    if not match:
        raise refusal(
            text,
            f"has the class {ending.quoted_class}, which does not exist",
            "Enter a class such as 6g, 4g6g, 6H or 5H6H",
        )
    grades = int(match[1]), int(match[3] or match[1])
    positions = match[2], match[4] or match[2]
    internal = match[2].isupper()
    if positions[1].isupper() != internal:
        raise refusal(
            text, f"mixes an inside and an outside class in {ending.quoted_class}", "Enter a class such as 6g or 6H"
        )
    for position in positions:
        if position not in _POSITIONS[internal]:
            problem = f'has the position "{position}", which does not exist'
            raise refusal(text, problem, "Enter e, f, g or h for an outside thread, G or H for an inside thread")
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
            problem = f"has grade {grade}, which does not exist for the {what} {where}"
            raise refusal(text, problem, enter([str(one) for one in grades]))


def metric_limits(basic: Diameters, pitch_mm: Fraction, tolerance_class: MetricClass) -> tuple[Limits, tuple[str, ...]]:
    """Return the limits of size of a metric thread, and notes about the origin of these limits.

    basic: the basic sizes [mm], rounded to 0.001 mm as in ISO 724, with a major diameter of 0.99 mm to 355 mm.
    Source: the clauses of ISO 965-1 on fundamental deviations and tolerances.
    """
    of_pitch = _deviation(tolerance_class.pitch_position, pitch_mm)
    of_crest = _deviation(tolerance_class.crest_position, pitch_mm)
    grade, internal = tolerance_class.pitch_grade, tolerance_class.internal
    pitch = pitch_tolerance(basic.major, pitch_mm, grade, internal=internal, cells=_pitch_cells())
    crest = _crest_tolerance(pitch_mm, tolerance_class)
    notes = _notes((of_pitch, of_crest, pitch, crest), basic.major, pitch_mm)
    if unprinted := _unprinted_grade(tolerance_class, pitch_mm):
        notes = (
            *notes,
            f"{STANDARD} prints no grade {unprinted} at this pitch. The limits are calculated from grade 6.",
        )
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
    """Return a grade of the class for which the standard prints no tolerance at so fine a pitch; None if there is
    none.
    """
    grade = max(tolerance_class.pitch_grade, tolerance_class.crest_grade)
    least_mm = {7: 0.5 if tolerance_class.internal else 0.0, 8: 0.8, 9: 0.8}.get(grade, 0.0)
    return grade if pitch_mm < least_mm else None


def _deviation(position: str, pitch_mm: Fraction) -> TableValue:
    """Return the distance of the profile from the basic profile [um], inwards for an external thread and outwards for
    an internal thread.

    `position`: the letter of the tolerance position, such as "g".
    """
    if position in "hH":
        return TableValue(um=0)
    least = {"e": 50, "f": 30, "g": 15}[position.lower()]
    return _cells().get((position.lower(), pitch_mm)) or by_formula(least + 11 * float(pitch_mm))


def _crest_tolerance(pitch_mm: Fraction, tolerance_class: MetricClass) -> TableValue:
    """Return the tolerance of the crest: Td of an external thread's major diameter, or TD1 of an internal thread's
    minor diameter.
    """
    pitch, grade = float(pitch_mm), tolerance_class.crest_grade
    quantity, formula = "Td", 180 * pitch ** (2 / 3) - 3.15 / math.sqrt(pitch)
    if tolerance_class.internal:
        quantity, formula = "TD1", 433 * pitch - 190 * pitch**1.22 if pitch <= 0.8 else 230 * pitch**0.7
    cell = _cells().get((quantity, pitch_mm))
    if cell is None:
        return by_formula(formula * CREST_GRADES[tolerance_class.internal][grade])
    return TableValue(um=stepped_um(cell.um, 4 * (grade - 6)), origin=cell.origin)


@cache
def _cells() -> dict[tuple[str, Fraction], TableValue]:
    """Return the printed deviations and crest tolerances. The keys are the name of the quantity and the pitch [mm]."""
    rows = [row for row in read_table("metric_tolerances") if row["quantity"] != "Td2"]
    return {(row["quantity"], Fraction(row["pitch_mm"])): _table_value(row) for row in rows}


@cache
def _pitch_cells() -> dict[tuple[Fraction, Fraction], TableValue]:
    """Return the printed pitch-diameter tolerances of grade 6. The keys are the lower end of the diameter range and the
    pitch [mm].
    """
    rows = [row for row in read_table("metric_tolerances") if row["quantity"] == "Td2"]
    return {(Fraction(row["over_mm"]), Fraction(row["pitch_mm"])): _table_value(row) for row in rows}


def _table_value(row: dict[str, str]) -> TableValue:
    return TableValue(um=int(row["um"]), origin="memory" if "from memory" in row["source"] else "")


def _notes(figures: Iterable[TableValue], major_mm: Fraction, pitch_mm: Fraction) -> tuple[str, ...]:
    origins = {figure.origin for figure in figures}
    notes = []
    if "formula" in origins:
        size = f"a pitch of {number_text(pitch_mm, 4)} mm at {number_text(major_mm, 4)} mm"
        notes.append(f"The limits are calculated by formula, because {STANDARD} prints no value for {size}.")
    if "memory" in origins:
        notes.append(MEMORY_NOTE.format(standard=STANDARD))
    return tuple(notes)


SMALLEST_MM, LARGEST_MM = Fraction(1), Fraction(355)
"""The smallest and the largest size for which ISO 965-1 has tolerances [mm]."""


def read_metric(text: str, side: str | None) -> Thread | None:
    """Return the metric thread that a normalized designation names; None for any other designation.

    If no class is written, `side` ("outside", "inside" or None) decides; None means outside. Raise ThreadError for a
    size, a pitch or a class that does not exist.
    """
    words = read_metric_words("M", text)
    if words is None:
        return None
    pitch_mm = _checked_pitch(words)
    tolerance_class = _tolerance_class(words, side)
    basic = metric_basic(words.size_mm, pitch_mm)
    limits, notes = metric_limits(basic, pitch_mm, tolerance_class)
    if words.size_mm < Fraction(14, 10) and not words.ending.words:
        usual = "5H" if tolerance_class.internal else "6h"
        notes = (*notes, f"Below 1.4 mm the usual class is {usual}.")
    return thread_of(
        metric_form(float(pitch_mm), tolerance_class.internal),
        basic,
        pitch=pitch_mm,
        designation=_designation(words, pitch_mm, tolerance_class),
        system="metric",
        internal=tolerance_class.internal,
        starts=words.starts,
        left_hand=words.ending.left_hand,
        tolerance_class=tolerance_class.text,
        limits=limits,
        notes=notes,
    )


def metric_basic(major_mm: Fraction, pitch_mm: Fraction) -> Diameters:
    """Return a thread's basic major and pitch diameters and the minor diameter of its nut [mm], rounded to 0.001 mm as
    in ISO 724.

    >>> [float(size) for size in metric_basic(Fraction(30), Fraction(7, 2))]
    [30.0, 27.727, 26.211]
    """
    return Diameters(
        major=major_mm,
        pitch=round(major_mm - PITCH_LINE * pitch_mm, 3),
        minor=round(major_mm - MINOR * pitch_mm, 3),
    )


def metric_series() -> list[tuple[str, Fraction]]:
    """Return the designation and the exact pitch [mm] of each thread in ISO 261, such as "M10" and "M10x1"."""
    threads = []
    for row in read_table("metric_series"):
        if row["coarse_mm"]:
            threads.append((f"M{row['size_mm']}", Fraction(row["coarse_mm"])))
        threads += [(f"M{row['size_mm']}x{pitch}", Fraction(pitch)) for pitch in row["fine_mm"].split()]
    return threads


def _tolerance_class(words: MetricWords, side: str | None) -> MetricClass:
    """Return the class of a designation. If none is written, it is 6H for the side "inside" and otherwise 6g."""
    if re.fullmatch(r"[0-9.,]+", words.ending.class_text):
        problem = f"has the class {words.ending.quoted_class}, which does not exist"
        raise refusal(words.text, problem, 'Enter a pitch as in "M10x1.5"')
    written = read_metric_class(words.ending, words.text) if words.ending.words else None
    classes = "a class with G or H, such as 6H" if side == "inside" else "a class with e, f, g or h, such as 6g"
    internal = is_internal(words.text, side, written.internal if written else None, classes)
    default = Ending(words=("6H" if internal else "6g",), left_hand=False)
    return written or read_metric_class(default, words.text)


def _checked_pitch(words: MetricWords) -> Fraction:
    """Return the pitch of a designation [mm], or the coarse pitch if no pitch is written.

    Raise ThreadError for a size or pitch that ISO metric threads do not have.
    """
    size = words.size_mm
    if not SMALLEST_MM <= size <= LARGEST_MM:
        raise refusal(words.text, f"has a diameter of {number_text(size, 4)} mm", "Enter a diameter of 1 to 355 mm")
    pitch = _coarse_pitches().get(size) if words.pitch_mm is None else words.pitch_mm
    if pitch is None:
        raise _no_coarse_pitch(words)
    most = min(size / ROOT, MOST_PITCH_MM)
    if not LEAST_PITCH_MM <= pitch < most:
        problem = f"has a pitch of {number_text(pitch, 4)} mm on {number_text(size, 4)} mm"
        bounds = f"from {number_text(LEAST_PITCH_MM, 2)} mm to below {number_text(most, 3)} mm"
        raise refusal(words.text, problem, f"Enter a pitch {bounds}")
    return pitch


def _no_coarse_pitch(words: MetricWords) -> Exception:
    sizes = {f"M{number_text(size, 2)}": size for size in _coarse_pitches()}
    nearest_sizes = enter(nearest(sizes, words.size_mm))
    written = f"M{number_text(words.size_mm, 4)}"
    return refusal(
        words.text,
        "is not in the coarse series",
        f'{nearest_sizes}, or a pitch as in "{written}x1"',
    )


@cache
def _coarse_pitches() -> dict[Fraction, Fraction]:
    rows = read_table("metric_series")
    return {Fraction(row["size_mm"]): Fraction(row["coarse_mm"]) for row in rows if row["coarse_mm"]}


def _designation(words: MetricWords, pitch_mm: Fraction, tolerance_class: MetricClass) -> str:
    size, pitch = number_text(words.size_mm, 4), number_text(pitch_mm, 4)
    if words.starts > 1:
        pitch = f"Ph{number_text(pitch_mm * words.starts, 4)}P{pitch}"
    return f"M{size}x{pitch}-{tolerance_class.text}{'-LH' * words.ending.left_hand}"
