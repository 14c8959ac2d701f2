"""British Association threads 0 to 16 BA: their sizes and limits according to BS 93."""

import re
from fractions import Fraction

from core.data import read_table
from core.operations.threads.profiles import BA_DEPTH, Diameters, ba_form, limits_mm, thread_of
from core.operations.threads.spelling import MEMORY_NOTE, is_internal, read_ending, refusal
from core.operations.threads.thread import Limits, Thread

_BA_THREAD = re.compile(r"(?:(?:#|no\.?)? ?(?P<first>[0-9]+) ?-?BA|BA ?(?P<last>[0-9]+))(?P<ending>.*)", re.IGNORECASE)
_LARGEST_NUMBER = 16
_LARGEST_CLOSE = 10
"""10 BA is the largest number that has a close class, and an allowance in the normal class."""
_DEPTH_STEP_MM = Fraction(5, 1000)


def read_ba(text: str, side: str | None) -> Thread | None:
    """Return the British Association thread that a normalized designation names; None for any other designation.

    If no class is written, `side` ("outside", "inside" or None) decides; None means outside. Raise ThreadError for a
    number or a class that does not exist.
    """
    match = _BA_THREAD.fullmatch(text)
    if match is None:
        return None
    number = int(match["first"] or match["last"])
    if number > _LARGEST_NUMBER:
        raise refusal(text, "has a number that does not exist in BA", f"Enter 0 to {_LARGEST_NUMBER} BA")
    row = read_table("ba_series")[number]
    major_mm, pitch_mm = Fraction(row["major_mm"]), Fraction(row["pitch_mm"])
    ending = read_ending(match["ending"], text)
    written = ending.class_text.lower()
    classes = ("normal", "close") if number <= _LARGEST_CLOSE else ("normal",)
    if written and written not in classes:
        problem = f"has the class {ending.quoted_class}, which does not exist for {number} BA"
        raise refusal(text, problem, f"Enter {' or '.join(classes)}")
    internal = is_internal(text, side, False if written else None, "no class at all")
    tolerance_class = "" if internal else written or "normal"
    basic = ba_basic(major_mm, pitch_mm)
    return thread_of(
        ba_form(float(pitch_mm)),
        basic,
        pitch=pitch_mm,
        designation=f"BA {number}{f' {tolerance_class}' * bool(tolerance_class)}{' LH' * ending.left_hand}",
        system="ba",
        internal=internal,
        left_hand=ending.left_hand,
        tolerance_class=tolerance_class,
        limits=_limits(basic, pitch_mm, number, tolerance_class),
        notes=(MEMORY_NOTE.format(standard="BS 93"),),
    )


def ba_basic(major_mm: Fraction, pitch_mm: Fraction) -> Diameters:
    """Return the basic major, effective and minor diameters of a BA thread [mm].

    The depth of the thread is first rounded to 0.005 mm, as in BS 93.

    >>> [float(size) for size in ba_basic(Fraction("4.7"), Fraction("0.81"))]
    [4.7, 4.215, 3.73]
    """
    depth = round(BA_DEPTH * pitch_mm / _DEPTH_STEP_MM) * _DEPTH_STEP_MM
    return Diameters(major_mm, major_mm - depth, major_mm - 2 * depth)


def ba_series() -> list[tuple[str, Fraction]]:
    """Return the designation and the exact pitch [mm] of each BA thread."""
    return [(f"BA {row['number']}", Fraction(row["pitch_mm"])) for row in read_table("ba_series")]


def _limits(basic: Diameters, pitch_mm: Fraction, number: int, external_class: str) -> Limits:
    """Return the limits of size of a BA thread according to BS 93 [mm].

    Tolerances for a pitch p in mm:
    Close bolts: major 0.15 p, effective 0.08 p + 0.02, minor 0.16 p + 0.04.
    Normal bolts: major 0.20 p (0.25 p beyond 10 BA), effective 0.10 p + 0.025, minor 0.20 p + 0.05.
    Nuts: effective 0.12 p + 0.03, minor 0.375 p.
    For normal bolts up to 10 BA, the upper limits are 0.025 mm below the basic sizes. For all other bolts, they are the
    basic sizes.
    """
    p = pitch_mm
    if not external_class:
        effective, minor = Fraction("0.12") * p + Fraction("0.03"), Fraction("0.375") * p
        return limits_mm(
            major=(None, basic.major),
            pitch=(round(basic.pitch + effective, 3), basic.pitch),
            minor=(round(basic.minor + minor, 3), basic.minor),
        )
    close, small = external_class == "close", number > _LARGEST_CLOSE
    of_major = Fraction("0.15") if close else Fraction("0.25") if small else Fraction("0.20")
    effective = Fraction("0.08") * p + Fraction("0.02") if close else p / 10 + Fraction("0.025")
    allowance = Fraction(0) if close or small else Fraction("0.025")
    ranges = [
        (size - allowance, round(size - allowance - tolerance, 3))
        for size, tolerance in zip(basic, (of_major * p, effective, 2 * effective), strict=True)
    ]
    return limits_mm(major=ranges[0], pitch=ranges[1], minor=ranges[2])
