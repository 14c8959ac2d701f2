"""ISO metric threads: designation, basic sizes (ISO 68-1, ISO 724), series (ISO 261), limits (ISO 965-1)."""

import re
from fractions import Fraction
from functools import cache

from core.data import read_table
from core.operations.threads.form import Diameters, metric_form, thread_of
from core.operations.threads.metric_limits import MetricClass, metric_limits, read_metric_class
from core.operations.threads.metric_spelling import MetricWords, read_metric_words
from core.operations.threads.spelling import Ending, accepted, is_internal, nearest, refusal
from core.operations.threads.thread import LEAST_PITCH_MM, MOST_PITCH_MM, Thread
from core.values.quantities import number_text

SMALLEST_MM, LARGEST_MM = Fraction(1), Fraction(355)
"""Sizes for which ISO 965-1 has tolerances."""
PITCH_LINE = Fraction(64951905, 10**8)
"""d - d2 over P, 3H/4 (ISO 68-1)."""
MINOR = Fraction(108253175, 10**8)
"""d - D1 over P, 5H/4 (ISO 68-1)."""
ROOT = Fraction(122686909, 10**8)
"""d - d3 over P, 17H/12 (ISO 965-1)."""


def read_metric(text: str, side: str | None) -> Thread | None:
    """Return the metric thread that a prepared text states, None where it is no metric designation.

    Raises ThreadError for sizes, pitches and classes that do not exist.
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
    """Return major, pitch and internal minor diameter, to 0.001 mm as ISO 724 prints them.

    >>> [float(size) for size in metric_basic(Fraction(30), Fraction(7, 2))]
    [30.0, 27.727, 26.211]
    """
    return Diameters(
        major=major_mm,
        pitch=round(major_mm - PITCH_LINE * pitch_mm, 3),
        minor=round(major_mm - MINOR * pitch_mm, 3),
    )


def metric_series() -> list[tuple[str, Fraction]]:
    """Return designation and pitch [mm] of each thread of ISO 261, "M10" for coarse, "M10x1" for fine."""
    threads = []
    for row in read_table("metric_series"):
        if row["coarse_mm"]:
            threads.append((f"M{row['size_mm']}", Fraction(row["coarse_mm"])))
        threads += [(f"M{row['size_mm']}x{pitch}", Fraction(pitch)) for pitch in row["fine_mm"].split()]
    return threads


def _tolerance_class(words: MetricWords, side: str | None) -> MetricClass:
    """Return the class as written, else 6g outside and 6H inside."""
    if re.fullmatch(r"[0-9.,]+", words.ending.class_text):
        raise refusal(words.text, f'{words.ending.found} is no tolerance class; accepted is a pitch as in "M10x1.5"')
    given = read_metric_class(words.ending, words.text) if words.ending.words else None
    classes = "a class with G or H, such as 6H" if side == "inside" else "a class with e, f, g or h, such as 6g"
    internal = is_internal(words.text, side, given.internal if given else None, classes)
    default = Ending(words=("6H" if internal else "6g",), left_hand=False)
    return given or read_metric_class(default, words.text)


def _checked_pitch(words: MetricWords) -> Fraction:
    """Return the pitch as written, else the coarse one; refuse sizes and pitches that make no thread."""
    size = words.size_mm
    if not SMALLEST_MM <= size <= LARGEST_MM:
        raise refusal(words.text, "its diameter is out of range; accepted are 1 to 355 mm")
    pitch = _coarse_pitches().get(size) if words.pitch_mm is None else words.pitch_mm
    if pitch is None:
        raise _no_coarse_pitch(words)
    most = min(size / ROOT, MOST_PITCH_MM)
    if not LEAST_PITCH_MM <= pitch < most:
        found = f"a pitch of {number_text(pitch, 4)} mm on {number_text(size, 4)} mm"
        bounds = f"from {number_text(LEAST_PITCH_MM, 2)} mm and below {number_text(most, 3)} mm"
        raise refusal(words.text, f"it has {found}; accepted: {bounds}")
    return pitch


def _no_coarse_pitch(words: MetricWords) -> Exception:
    sizes = {f"M{number_text(size, 2)}": size for size in _coarse_pitches()}
    around = accepted(nearest(sizes, words.size_mm))
    written = f"M{number_text(words.size_mm, 4)}"
    return refusal(
        words.text,
        f'{written} is not in the coarse series; nearest {around}, or a pitch as in "{written}x1"',
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
