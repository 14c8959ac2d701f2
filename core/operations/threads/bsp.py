"""Parallel pipe threads G after ISO 228-1 (BSP); the taper thread R is another standard."""

import re
from fractions import Fraction

from core.data import read_table
from core.operations.threads.form import Diameters, limits_mm, thread_of, whitworth_form
from core.operations.threads.inch_spelling import inch_text
from core.operations.threads.spelling import (
    MEMORY_NOTE,
    accepted,
    is_internal,
    nearest,
    number_in,
    read_ending,
    refusal,
)
from core.operations.threads.thread import Limits, Thread
from core.values.quantities import MM_PER_INCH

_PIPE_THREAD = re.compile(r"G ?(?P<size>[0-9]+[ -][0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]+)(?P<ending>.*)", re.IGNORECASE)
_TOLERANCES = {"A": 1, "B": 2}
"""Pitch-diameter tolerance of the external classes over that of class A."""


def read_bsp(text: str, side: str | None) -> Thread | None:
    """Return the pipe thread that a prepared text states, None where it is no G designation.

    Raises ThreadError for a size or class that does not exist.
    """
    match = _PIPE_THREAD.fullmatch(text)
    if match is None:
        return None
    row = _row_of(number_in(match["size"], text), text)
    ending = read_ending(match["ending"], text)
    written = ending.class_text.upper()
    if written and written not in _TOLERANCES:
        raise refusal(text, f"{ending.found} is no class of ISO 228-1; accepted are A and B outside, none inside")
    internal = is_internal(text, side, False if written else None, "no class at all")
    tolerance_class = "" if internal else written or "A"
    class_text = f" {tolerance_class}" if tolerance_class else ""
    return thread_of(
        whitworth_form(float(MM_PER_INCH / Fraction(row["tpi"]))),
        _basic(row),
        pitch=MM_PER_INCH / Fraction(row["tpi"]),
        designation=f"G{row['size']}" + class_text + " LH" * ending.left_hand,
        system="bsp",
        internal=internal,
        left_hand=ending.left_hand,
        tolerance_class=tolerance_class,
        limits=_limits(row, tolerance_class),
        notes=(MEMORY_NOTE.format(standard="ISO 228-1"),),
    )


def bsp_series() -> list[tuple[str, Fraction]]:
    """Return designation and pitch [mm] of each size of ISO 228-1."""
    return [(f"G{row['size']}", MM_PER_INCH / Fraction(row["tpi"])) for row in read_table("bsp_series")]


def _row_of(size: Fraction, text: str) -> dict[str, str]:
    rows = {number_in(row["size"], text): row for row in read_table("bsp_series")}
    if size not in rows:
        around = nearest({f"G{inch_text(one)}": one for one in rows}, size)
        raise refusal(text, f"ISO 228-1 has no size {inch_text(size)}; nearest {accepted(around)}")
    return rows[size]


def _basic(row: dict[str, str]) -> Diameters:
    """Return the diameters as printed: depth to 0.001 mm first [mm]."""
    return Diameters(Fraction(row["major_mm"]), Fraction(row["pitch_diameter_mm"]), Fraction(row["minor_mm"]))


def _limits(row: dict[str, str], external_class: str) -> Limits:
    """Outside: below the basic sizes, the minor diameter free. Inside: above them, the major one free."""
    basic = _basic(row)
    tolerance = Fraction(row["pitch_diameter_tolerance_mm"])
    if external_class:
        return limits_mm(
            major=(basic.major, basic.major - Fraction(row["major_tolerance_mm"])),
            pitch=(basic.pitch, basic.pitch - _TOLERANCES[external_class] * tolerance),
        )
    return limits_mm(
        major=(None, basic.major),
        pitch=(basic.pitch + tolerance, basic.pitch),
        minor=(basic.minor + Fraction(row["minor_tolerance_mm"]), basic.minor),
    )
