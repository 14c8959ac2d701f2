"""Indicator readings: the meaning of their signs, and how the program parses, checks and corrects them."""

import re
from collections.abc import Callable, Sequence
from fractions import Fraction
from math import ceil, cos, fsum, isfinite, radians, sqrt
from statistics import median

from core.operations.runout.job import check_angles
from core.values.errors import PlanError, QuantityError
from core.values.plain_text import counted, quoted
from core.values.quantities import MM_PER_INCH, number_text, read_number, read_quantity

CONVENTIONS = (
    "A reading is + when the plunger is pushed in, wherever the indicator is.",
    "Angles are marks on the work, in the order in which they pass the indicator as you turn the spindle by hand. "
    "0° is the first reading, at jaw 1. The marks travel with the work: turn it either way.",
    "Jaw n of N is at mark 360° (n - 1) / N, counted in the same order.",
    "The high spot is the mark at which the fitted circle pushes the plunger in most. On the outside, the work "
    "is eccentric towards the high spot; in a bore, away from the high spot. A face leans back on the opposite side.",
    "Pictures are seen from the side from which the work turns anticlockwise. The marks follow each other clockwise, "
    "the first at the top.",
    "The first of two planes is the one nearer to the chuck.",
)

DRAWING = r"""
      outside               bore                face

     indicator            _________                |
         |               /    ^    \               |
     ____v____          |     |     |              |<--- indicator
    /         \         | indicator |     chuck    |
   |     +     |        |     +     |              |
   |           |        |           |              |
    \_________/          \_________/               |

  in: the surface      in: the surface      in: the face is nearer
  is further from      is nearer to         to the indicator (+)
  the axis (+)         the axis (+)

     indicator
         v             The work turns this way: <-
       __0__           Mark 0 is read first; 90 comes to
      /     \          the indicator next, then 180, 270.
  270 |  +  | 90       Seen from the other side all is
      \_____/          mirrored, and the order is the same.
        180
"""
"""How to set the indicator on each of the three kinds of surface, and the order of the marks, in plain characters."""


LengthText = Callable[[float], str]
"""Returns a length [mm] as text in the user's unit."""
UNITS = ("marks", "mm", "in", "thou")
"""The units that a bare number may have: graduations of the indicator ("marks"), or a length."""

SMALL_DRIFT_GRADUATIONS = 2.0
"""A closing reading that is off by at most this is corrected over the whole turn, without a remark [graduations]."""
SLIPPED_GRADUATIONS = 5.0
"""If a closing reading is off by more than this, the indicator has slipped and the turn is refused [graduations]."""
SUSPECT_SPREADS = 8.0
"""A reading is questioned if it is this many times further out than the spread of most others."""
FAR_OFF_GRADUATIONS = 300
"""An early reading of a turn is questioned if it is off by this many graduations. Common practice, no source."""


def reading_mm(text: str, unit: str, graduation_mm: float) -> float:
    """Return an indicator reading that the user typed [mm]. A number without a unit is in `unit`.

    unit: one of UNITS.
    graduation_mm: graduation of the indicator [mm].
    Raises QuantityError for text that is not a reading.

    >>> reading_mm("-3", "marks", 0.01), reading_mm("-3", "mm", 0.01), reading_mm("2 thou", "mm", 0.01)
    (-0.03, -3.0, 0.0508)
    """
    if unit not in UNITS:
        raise QuantityError(f"{quoted(unit)} is not a unit of readings. Enter {', '.join(UNITS[:-1])} or {UNITS[-1]}.")
    try:
        number = read_number(text)
    except QuantityError:
        return float(read_quantity(text, "length").value)
    if unit == "marks":
        return float(number * Fraction(str(graduation_mm)))
    return float(read_quantity(f"{text} {unit}", "length").value)


def other_unit_text(reading_mm: float, unit: str, graduation_mm: float, length_text: LengthText) -> str:
    """Return a reading in the other kind of unit: in graduations if `unit` is a length, as a length if it is "marks".

    length_text: returns a length [mm] as text.

    >>> other_unit_text(-0.03, "mm", 0.01, str), other_unit_text(-0.03, "marks", 0.01, str)
    ('-3 graduations', '-0.03')
    """
    if unit == "marks":
        return length_text(reading_mm)
    marks = number_text(reading_mm / graduation_mm, 2)
    return f"{marks} graduation{'' if marks in {'1', '-1'} else 's'}"


def nudged_text(reading_mm: float, steps: int, unit: str, graduation_mm: float) -> str:
    """Return a reading, changed by `steps` graduations, as text: a number in `unit`.

    >>> nudged_text(-0.03, 1, "mm", 0.01), nudged_text(0.0, -1, "marks", 0.01), nudged_text(0.0254, 1, "thou", 0.0254)
    ('-0.02', '-1', '2')
    """
    value_mm = reading_mm + steps * graduation_mm
    if unit == "marks":
        return number_text(value_mm / graduation_mm, 2)
    if unit == "mm":
        return number_text(value_mm, 4)
    inches = value_mm / float(MM_PER_INCH)
    return number_text(1000 * inches, 3) if unit == "thou" else number_text(inches, 6)


def check_readings(readings_mm: Sequence[float], angles_deg: Sequence[float]) -> None:
    """Raise PlanError if readings [mm] at marks [deg] cannot be analysed.

    This is so if there is not one number for each mark, or if the marks cannot show an offset.
    """
    if len(readings_mm) != len(angles_deg):
        raise PlanError(
            f"The turn has {counted(len(readings_mm), 'reading')} for {len(angles_deg)} marks. Enter one for each.",
            field="readings",
        )
    for number, reading in enumerate(readings_mm, start=1):
        if not isfinite(reading):
            raise PlanError(f"Reading {number} is {quoted(reading)}. Enter a length.", field="readings")
    check_angles(angles_deg)


def corrected(readings_mm: Sequence[float], drift_mm: float, stylus_deg: float) -> tuple[float, ...]:
    """Return readings [mm], corrected for drift and for the angle of a lever.

    Reading i of N loses i/N of the drift, as if the indicator drifted evenly over the turn. A lever at an angle to the
    surface reads high: the true value is the reading times the cosine of this angle.
    drift_mm: closing reading at the first mark minus the first reading [mm].
    stylus_deg: angle between the stylus and the surface [deg].

    >>> [round(reading, 3) for reading in corrected((0, 0.05, 0.10, 0.05), 0.02, 0)]
    [0.0, 0.045, 0.09, 0.035]
    """
    count, cosine = len(readings_mm), cos(radians(stylus_deg))
    return tuple(cosine * (reading - drift_mm * i / count) for i, reading in enumerate(readings_mm))


def check_drift(drift_mm: float, graduation_mm: float) -> None:
    """Raise PlanError if the drift is more than SLIPPED_GRADUATIONS, so that the indicator or the work has slipped.

    drift_mm: closing reading minus the first reading [mm].
    graduation_mm: graduation of the indicator [mm].
    """
    if not isfinite(drift_mm) or abs(drift_mm) > SLIPPED_GRADUATIONS * graduation_mm * (1 + 1e-9):
        raise PlanError(
            f"The closing reading is {number_text(drift_mm / graduation_mm, 1)} graduations off the first, more than "
            f"{SLIPPED_GRADUATIONS:.0f}: the indicator or the work slipped. Tighten both and read the turn again.",
            field="drift",
        )


def suspects(readings_mm: Sequence[float], graduation_mm: float) -> tuple[int, ...]:
    """Return the indices of readings [mm] that differ so much from the others that a typing mistake is likely.

    The program asks about such a reading but never deletes it, because a keyway can cause it too.

    >>> suspects((0.00, 0.02, 12, 0.01), 0.01)
    (2,)
    """
    if len(readings_mm) < 4:
        return ()
    middle = median(readings_mm)
    most = sorted(readings_mm, key=lambda reading: abs(reading - middle))[: ceil(0.75 * len(readings_mm))]
    apart = max(max(most) - min(most), graduation_mm)
    return tuple(i for i, reading in enumerate(readings_mm) if abs(reading - middle) > SUSPECT_SPREADS * apart)


def is_suspect(before_mm: Sequence[float], reading_mm: float, graduation_mm: float) -> bool:
    """Return whether a reading [mm] is likely to be a typing mistake, given the earlier readings of its turn [mm].

    After three or more readings, `suspects` decides. After fewer, a reading is suspect if it is more than
    FAR_OFF_GRADUATIONS graduations from 0 or from an earlier reading.

    >>> is_suspect((0.0, 0.02), 5, 0.01), is_suspect((0.0, 0.02), 1.5, 0.01)
    (True, False)
    """
    if len(before_mm) >= 3:
        return len(before_mm) in suspects((*before_mm, reading_mm), graduation_mm)
    return any(abs(reading_mm - before) > FAR_OFF_GRADUATIONS * graduation_mm for before in (0.0, *before_mm))


def repeatability_mm(times_mm: Sequence[Sequence[float]]) -> float:
    """Return the standard deviation of one reading [mm], from a turn that was read twice or more.

    A change of the indicator's zero between two times has no effect.
    times_mm: for each time that the turn was read, its readings in the order of the marks [mm].
    Source: the residual of marks and times in a two-way analysis of variance without repetition. For two times, the
    variance is the sum of (d - mean d)² / (2 (n - 1)), where d is the difference at each of n marks.

    >>> round(repeatability_mm([(0, 0.02, 0.04), (0.01, 0.02, 0.05)]), 4)
    0.0041
    """
    levels = [fsum(time) / len(time) for time in times_mm]
    centred = [[reading - level for reading in time] for time, level in zip(times_mm, levels, strict=True)]
    marks = [fsum(at_mark) / len(at_mark) for at_mark in zip(*centred, strict=True)]
    squares = fsum((reading - mark) ** 2 for time in centred for reading, mark in zip(time, marks, strict=True))
    return sqrt(squares / ((len(marks) - 1) * (len(times_mm) - 1)))


_QUOTED = re.compile(r'"([^"]*)"|\'([^\']*)\'')
_UNIT = re.compile(r"[A-Za-zµ°\"']+")


def split_list(text: str, unit: str) -> list[str]:
    """Return the items of a list that the user typed, each with its unit. A number without a unit gets `unit`.

    Blanks, semicolons, and commas followed by a blank separate the items. A comma without a blank is a decimal comma.
    Items may be in quotes, as in a job file.

    >>> split_list("0 0.02 -0,01mm; 3 thou", "mm")
    ['0 mm', '0.02 mm', '-0,01mm', '3 thou']
    >>> split_list('["0.00 mm", "0.02 mm"]', "mm")
    ['0.00 mm', '0.02 mm']
    """
    quoted = [one or other for one, other in _QUOTED.findall(text)] if '"' in text and "[" in text else []
    if quoted:
        return [_with_unit(item.strip(), unit) for item in quoted]
    items: list[str] = []
    for part in re.sub(r"[\[\];]|,(?=\s|$)", " ", text).split():
        if items and _UNIT.fullmatch(part) and _is_number(items[-1]):
            items[-1] += f" {part}"
        else:
            items.append(part)
    return [_with_unit(item, unit) for item in items]


def list_text(items: object) -> str:
    """Return a list from a job file as the text of a form's field. A value that is not a list is returned unchanged."""
    return "; ".join(str(item) for item in items) if isinstance(items, list | tuple) else str(items)


def plane_lists(items: object) -> tuple[object, object]:
    """Return the readings of the first and the second plane, as lists; [] for a second plane that is not read."""
    if isinstance(items, Sequence) and not isinstance(items, str) and items and isinstance(items[0], list | tuple):
        return items[0], items[1] if len(items) > 1 else []
    return items, []


def _with_unit(item: str, unit: str) -> str:
    return f"{item} {unit}" if _is_number(item) else item


def _is_number(text: str) -> bool:
    try:
        read_number(text)
    except QuantityError:
        return False
    return True
