"""Trapezoidal threads Tr: their profile (ISO 2901), series (ISO 2902), sizes (ISO 2904) and limits (ISO 2903)."""

from fractions import Fraction
from functools import cache
from typing import NamedTuple

from core.data import read_table
from core.operations.threads.metric import TableValue, pitch_tolerance
from core.operations.threads.profiles import Diameters, flat_form, limits_mm, thread_of
from core.operations.threads.spelling import (
    MEMORY_NOTE,
    MetricWords,
    enter,
    is_internal,
    nearest,
    read_metric_words,
    refusal,
)
from core.operations.threads.thread import Limits, Thread
from core.values.quantities import number_text

HALF_ANGLE_DEG = 15.0
SMALLEST_MM, LARGEST_MM = Fraction(8), Fraction(300)
_CLASSES = ("7e", "8e", "8c", "9c", "7H", "8H", "9H")


class TrapezoidalPitch(NamedTuple):
    """A pitch of ISO 2902 [mm], with its crest clearance ac, its deviations and its tolerances [mm]."""

    pitch: Fraction
    clearance: Fraction
    deviations: dict[str, Fraction]
    major_tolerance: Fraction
    minor_tolerance: Fraction


def read_trapezoidal(text: str, side: str | None) -> Thread | None:
    """Return the trapezoidal thread that a normalized designation names; None for any other designation.

    If no class is written, `side` ("outside", "inside" or None) decides; None means outside. Raise ThreadError for a
    size, a pitch or a class that does not exist.
    """
    words = read_metric_words("Tr", text)
    if words is None:
        return None
    pitch = _pitch_meant(words)
    tolerance_class, internal = _tolerance_class(words, side)
    basic = _basic(words.size_mm, pitch)
    limits, notes = _limits(basic, pitch, tolerance_class)
    if pitch.pitch not in _series().get(words.size_mm, ()):
        notes = ("ISO 2902 does not list this pitch for this size.", *notes)
    if words.starts > 1:
        notes = (
            *notes,
            "ISO 2903 widens the pitch-diameter tolerance for several starts. The tolerance of one start is used here.",
        )
    return thread_of(
        flat_form(float(pitch.pitch), HALF_ANGLE_DEG, float(pitch.clearance)),
        basic,
        pitch=pitch.pitch,
        designation=_designation(words, pitch, tolerance_class),
        system="trapezoidal",
        internal=internal,
        starts=words.starts,
        left_hand=words.ending.left_hand,
        tolerance_class=tolerance_class,
        limits=limits,
        notes=notes,
    )


def trapezoidal_series() -> list[tuple[str, Fraction]]:
    """Return the designation and the exact pitch [mm] of each thread in ISO 2902."""
    return [
        (f"Tr{number_text(size, 0)}x{number_text(pitch, 1)}", pitch)
        for size, pitches in _series().items()
        for pitch in pitches
    ]


@cache
def _series() -> dict[Fraction, tuple[Fraction, ...]]:
    return {
        Fraction(row["size_mm"]): tuple(Fraction(pitch) for pitch in row["pitches_mm"].split())
        for row in read_table("trapezoidal_series")
    }


@cache
def _pitches() -> dict[Fraction, TrapezoidalPitch]:
    um = Fraction(1, 1000)
    return {
        Fraction(row["pitch_mm"]): TrapezoidalPitch(
            pitch=Fraction(row["pitch_mm"]),
            clearance=Fraction(row["crest_clearance_mm"]),
            deviations={"c": int(row["c_um"]) * um, "e": int(row["e_um"]) * um, "H": Fraction(0)},
            major_tolerance=int(row["major_um"]) * um,
            minor_tolerance=int(row["minor_um"]) * um,
        )
        for row in read_table("trapezoidal_pitches")
    }


def _pitch_meant(words: MetricWords) -> TrapezoidalPitch:
    """Return the standard's values for the pitch of a designation.

    Raise ThreadError for a size or pitch that the standard does not have. The message suggests threads of the series.
    """
    size = words.size_mm
    if not SMALLEST_MM <= size <= LARGEST_MM:
        raise refusal(words.text, f"has a diameter of {number_text(size, 4)} mm", "Enter a diameter of 8 to 300 mm")
    if words.pitch_mm is None:
        raise refusal(words.text, "has no pitch", _of_series(size))
    pitch = _pitches().get(words.pitch_mm)
    if pitch is None:
        problem = f"has a pitch of {number_text(words.pitch_mm, 4)} mm, which ISO 2901 does not list"
        raise refusal(words.text, problem, _of_series(size))
    if 2 * (pitch.pitch + 2 * pitch.clearance) > size:
        problem = f"leaves too thin a core with a pitch of {number_text(pitch.pitch, 1)} mm"
        raise refusal(words.text, problem, _of_series(size))
    return pitch


def _of_series(size: Fraction) -> str:
    """Return the end of an error message, which suggests threads of this size [mm] or, if there are none, of the
    nearest sizes.
    """
    sizes = {f"Tr{number_text(one, 0)}": one for one in _series()}
    names = nearest(sizes, size) if size not in _series() else [f"Tr{number_text(size, 0)}"]
    return enter([f"{name}x{number_text(pitch, 1)}" for name in names for pitch in _series()[sizes[name]]])


def _tolerance_class(words: MetricWords, side: str | None) -> tuple[str, bool]:
    """Return the tolerance class (7e or 7H if none is written), and True if the thread is internal.

    If no class is written, `side` ("outside", "inside" or None) decides; None means outside.
    """
    written = words.ending.class_text
    if written and written not in _CLASSES:
        problem = f"has the class {words.ending.quoted_class}, which ISO 2903 does not list"
        raise refusal(words.text, problem, enter(list(_CLASSES)))
    class_internal = written.endswith("H") if written else None
    classes = "7H, 8H or 9H" if side == "inside" else "7e, 8e, 8c or 9c"
    internal = is_internal(words.text, side, class_internal, classes)
    return written or ("7H" if internal else "7e"), internal


def _basic(size: Fraction, pitch: TrapezoidalPitch) -> Diameters:
    """Return the basic diameters d, d2 = d - P/2 and d3 = d - P - 2 ac [mm] (ISO 2904)."""
    return Diameters(size, size - pitch.pitch / 2, size - pitch.pitch - 2 * pitch.clearance)


def _limits(basic: Diameters, pitch: TrapezoidalPitch, tolerance_class: str) -> tuple[Limits, tuple[str, ...]]:
    """Return the limits of size according to ISO 2903 [mm], and notes about these limits.

    For an external thread, the largest major diameter is d (grade 4). The largest minor diameter is d3, with a
    tolerance of 1.25 Td2 plus the deviation, rounded to a micrometre. For an internal thread, the smallest major
    diameter is D4 = d + 2 ac, and the smallest minor diameter is D1 = d - P (grade 4).
    """
    position = tolerance_class[-1]
    tolerance, notes = _pitch_tolerance(basic.major, pitch.pitch, tolerance_class)
    deviation = pitch.deviations[position]
    if position == "H":
        least_minor = basic.major - pitch.pitch
        return limits_mm(
            major=(None, basic.major + 2 * pitch.clearance),
            pitch=(basic.pitch + tolerance, basic.pitch),
            minor=(least_minor + pitch.minor_tolerance, least_minor),
        ), notes
    largest_pitch = basic.pitch - deviation
    return limits_mm(
        major=(basic.major, basic.major - pitch.major_tolerance),
        pitch=(largest_pitch, largest_pitch - tolerance),
        minor=(basic.minor, basic.minor - round(Fraction(5, 4) * tolerance, 3) - deviation),
    ), notes


def _pitch_tolerance(size: Fraction, pitch: Fraction, tolerance_class: str) -> tuple[Fraction, tuple[str, ...]]:
    """Return the tolerance of the pitch diameter [mm], and notes about the origin of this tolerance."""
    grade, internal = int(tolerance_class[0]), tolerance_class.endswith("H")
    tolerance = pitch_tolerance(size, pitch, grade, internal=internal, cells=_cells())
    notes = [MEMORY_NOTE.format(standard="ISO 2903")]
    if tolerance.origin == "formula":
        notes.append(
            "The pitch-diameter tolerance is calculated by formula, because ISO 2903 prints no value for this size and "
            "pitch."
        )
    return Fraction(tolerance.um, 1000), tuple(notes)


@cache
def _cells() -> dict[tuple[Fraction, Fraction], TableValue]:
    """Return the printed pitch-diameter tolerances of grade 6. The keys are the lower end of the diameter range and the
    pitch [mm].
    """
    return {
        (Fraction(row["over_mm"]), Fraction(row["pitch_mm"])): TableValue(um=int(row["um"]), origin="memory")
        for row in read_table("trapezoidal_tolerances")
    }


def _designation(words: MetricWords, pitch: TrapezoidalPitch, tolerance_class: str) -> str:
    size, pitch_text = number_text(words.size_mm, 4), number_text(pitch.pitch, 1)
    if words.starts > 1:
        pitch_text = f"{number_text(pitch.pitch * words.starts, 1)}P{pitch_text}"
    return f"Tr{size}x{pitch_text}-{tolerance_class}{'-LH' * words.ending.left_hand}"
