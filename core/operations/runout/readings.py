"""Readings as they come from the hand: typed, checked, with drift and the lever's cosine taken out."""

from collections.abc import Callable, Sequence
from fractions import Fraction
from math import ceil, cos, fsum, isfinite, radians, sqrt
from statistics import median

from core.operations.runout.job import check_angles
from core.values.errors import PlanError, QuantityError
from core.values.plain_text import quoted
from core.values.quantities import MM_PER_INCH, number_text, read_number, read_quantity

UNITS = ("marks", "mm", "in", "thou")
"""What a bare number may mean: graduations of the indicator, or a length."""

SMALL_DRIFT = 2.0
"""Closing readings off by up to so many graduations are spread over the turn without a word."""
SLIPPED = 5.0
"""Further off than so many graduations, the indicator has slipped and the readings are refused."""
SUSPECT = 8.0
"""A reading so many times further out than most of the others lie apart is asked about."""
FAR_OFF = 300
"""One of the first readings of a turn that lies so many graduations off is asked about; common practice, no source."""


def reading_mm(text: str, unit: str, graduation_mm: float) -> float:
    """Return a reading that was typed [mm]: a bare number counts in `unit`, else its own unit holds.

    unit: one of UNITS [-]; graduation_mm: between two marks of the indicator [mm].
    Raises QuantityError.

    >>> reading_mm("-3", "marks", 0.01), reading_mm("-3", "mm", 0.01), reading_mm("2 thou", "mm", 0.01)
    (-0.03, -3.0, 0.0508)
    """
    if unit not in UNITS:
        raise QuantityError(f"found the unit {quoted(unit)}; accepted are {', '.join(UNITS)}")
    try:
        number = read_number(text)
    except QuantityError:
        return float(read_quantity(text, "length").value)
    if unit == "marks":
        return float(number * Fraction(str(graduation_mm)))
    return float(read_quantity(f"{text} {unit}", "length").value)


def in_words(reading_mm: float, unit: str, graduation_mm: float, say: Callable[[float], str]) -> str:
    """Return a reading as the other way of reading the indicator has it: marks for a length, a length for marks.

    >>> in_words(-0.03, "mm", 0.01, str), in_words(-0.03, "marks", 0.01, str)
    ('-3 graduations', '-0.03')
    """
    if unit == "marks":
        return say(reading_mm)
    marks = number_text(reading_mm / graduation_mm, 2)
    return f"{marks} graduation{'' if marks in {'1', '-1'} else 's'}"


def nudged(reading_mm: float, steps: int, unit: str, graduation_mm: float) -> str:
    """Return a reading moved by some graduations, as it would be typed in a unit of UNITS.

    >>> nudged(-0.03, 1, "mm", 0.01), nudged(0.0, -1, "marks", 0.01), nudged(0.0254, 1, "thou", 0.0254)
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
    """Raise PlanError where these readings [mm] at these marks [deg] cannot be worked out."""
    if len(readings_mm) != len(angles_deg):
        raise PlanError(
            f"found {len(readings_mm)} readings for {len(angles_deg)} marks; accepted is one for each",
            field="readings",
        )
    for number, reading in enumerate(readings_mm, start=1):
        if not isfinite(reading):
            raise PlanError(f"found {quoted(reading)} as reading {number}; accepted is a length", field="readings")
    check_angles(angles_deg)


def corrected(readings_mm: Sequence[float], drift_mm: float, stylus_deg: float) -> tuple[float, ...]:
    """Return readings with drift and the lever's cosine taken out [mm].

    Reading i of N loses i/N of the drift: it is taken to have come evenly over the
    turn. A lever at an angle to the surface reads too much: true = reading x cosine.
    drift_mm: closing reading at the first mark less the first [mm]; stylus_deg: between
    stylus and surface [deg].

    >>> [round(reading, 3) for reading in corrected((0, 0.05, 0.10, 0.05), 0.02, 0)]
    [0.0, 0.045, 0.09, 0.035]
    """
    count, cosine = len(readings_mm), cos(radians(stylus_deg))
    return tuple(cosine * (reading - drift_mm * i / count) for i, reading in enumerate(readings_mm))


def check_drift(drift_mm: float, graduation_mm: float) -> None:
    """Raise PlanError where the closing reading is so far off that the indicator has slipped."""
    if not isfinite(drift_mm) or abs(drift_mm) > SLIPPED * graduation_mm * (1 + 1e-9):
        raise PlanError(
            f"found a closing reading {number_text(drift_mm / graduation_mm, 1)} graduations off the first; accepted "
            f"are up to {SLIPPED:.0f}: the indicator or the work has slipped, so tighten what holds it and read the "
            "turn again",
            field="drift",
        )


def suspects(readings_mm: Sequence[float], graduation_mm: float) -> tuple[int, ...]:
    """Return which readings (from 0) lie so far out that a slip of the keys is likely.

    Each is asked about, never thrown away: it may be a keyway.

    >>> suspects((0.00, 0.02, 12, 0.01), 0.01)
    (2,)
    """
    if len(readings_mm) < 4:
        return ()
    middle = median(readings_mm)
    most = sorted(readings_mm, key=lambda reading: abs(reading - middle))[: ceil(0.75 * len(readings_mm))]
    apart = max(max(most) - min(most), graduation_mm)
    return tuple(i for i, reading in enumerate(readings_mm) if abs(reading - middle) > SUSPECT * apart)


def is_suspect(before_mm: Sequence[float], reading_mm: float, graduation_mm: float) -> bool:
    """Tell whether a reading [mm] that follows those of its turn so far is to be asked about before it is taken.

    With three before it as `suspects` judges; with fewer, where it lies further off
    than any that an indicator is set for.

    >>> is_suspect((0.0, 0.02), 5, 0.01), is_suspect((0.0, 0.02), 1.5, 0.01)
    (True, False)
    """
    if len(before_mm) >= 3:
        return len(before_mm) in suspects((*before_mm, reading_mm), graduation_mm)
    return any(abs(reading_mm - before) > FAR_OFF * graduation_mm for before in (0.0, *before_mm))


def repeatability_mm(times_mm: Sequence[Sequence[float]]) -> float:
    """Return the standard deviation of one reading [mm], from a turn read twice or more.

    A change of the indicator's zero between the times does not count.
    times_mm: the readings of each time, mark by mark [mm].
    Source: residual of marks by times (two-way analysis of variance without
    repetition), of two times sum (d - mean d)² / (2 (n - 1)).

    >>> round(repeatability_mm([(0, 0.02, 0.04), (0.01, 0.02, 0.05)]), 4)
    0.0041
    """
    levels = [fsum(time) / len(time) for time in times_mm]
    rests = [[reading - level for reading in time] for time, level in zip(times_mm, levels, strict=True)]
    marks = [fsum(rest) / len(rest) for rest in zip(*rests, strict=True)]
    squares = fsum((rest - mark) ** 2 for time in rests for rest, mark in zip(time, marks, strict=True))
    return sqrt(squares / ((len(marks) - 1) * (len(times_mm) - 1)))
