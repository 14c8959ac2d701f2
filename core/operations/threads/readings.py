"""What was measured of a thread: pitch diameters, and how far each may be out.

Lengths in mm. A micrometer is taken to be read to the last place that was typed,
wires to be known to 0.002 mm: common practice, no source.
"""

import re
from collections.abc import Mapping
from math import hypot, radians, sin
from typing import TYPE_CHECKING, Any, NamedTuple

from core.inputs import Measured, nothing_planned_from
from core.lathe.lathe import Lathe
from core.operations.threads.figures import wire_for
from core.operations.threads.job import ThreadJob
from core.operations.threads.thread import Thread
from core.operations.threads.wires import (
    over_wires_mm,
    pitch_diameter_error_mm,
    pitch_diameter_from_one_wire_mm,
    pitch_diameter_from_wires_mm,
    wire_caution,
)
from core.values.quantities import MM_PER_INCH, read_quantity

if TYPE_CHECKING:
    from core.questions import EnteredSize

WIRE_ERROR_MM = 0.002
"""How well the diameter of measuring wires is known where nothing else is said."""
LEAST_READING_ERROR_MM = 0.002
"""No hand micrometer is surer than this, however many places it shows."""
_PLUS_MINUS = re.compile(r"±|\+ ?/? ?-")
_LAST_PLACE = re.compile(r"\d+/(?P<parts>\d+)|\d*[.,](?P<places>\d+)|\d+")


class PitchDiameters(NamedTuple):
    """What was measured as pitch diameters, at the shoulder first where two ends were measured."""

    diameters_mm: tuple[float, ...]
    error_mm: float
    """How far one of them may be out, wires and reading together."""
    reading_error_mm: float
    """What the reading alone makes of it: errors of the wires are alike at both ends."""


def read_measured(text: str, unit: str) -> "EnteredSize":
    """Return a size as it was read off: "29.85", "1.1745 in", "29.852 +-0.005".

    unit: counts for bare numbers. Without "+-" the error is one step of the last
    place written (half a step of a fraction), 0.002 mm at the least. Raises
    QuantityError for what is no length above zero.

    >>> read_measured("29.85", "mm")
    EnteredSize(size_mm=29.85, error_mm=0.01)
    >>> read_measured("29.85 +-0.005", "mm").error_mm
    0.005
    """
    # A plan is made without it: only a counter asks.
    from core.questions import read_length

    size_text, *error_text = _PLUS_MINUS.split(text, maxsplit=1)
    size = read_length(size_text, unit)
    if error_text:
        return size._replace(error_mm=read_length(error_text[0], unit).size_mm)
    return size._replace(error_mm=max(_last_place_mm(size_text, unit), LEAST_READING_ERROR_MM))


def _last_place_mm(text: str, unit: str) -> float:
    """Return one step of the last place that a size was written with."""
    found = list(_LAST_PLACE.finditer(text))[-1]
    own_unit = text[found.end() :].strip() or unit
    parts, places = found["parts"], found["places"]
    step = f"1/{2 * int(parts)}" if parts else f"0.{'0' * (len(places) - 1)}1" if places else "1"
    return float(read_quantity(f"{step} {own_unit}", "length").value)


def measured_pitch_diameters(job: ThreadJob, lathe: Lathe, measured: Measured) -> PitchDiameters:
    """Return the pitch diameters that a measurement tells, and how far they may be out.

    A size over wires is one over three, or over two between square faces. Raises
    ThreadError for readings that cannot be, PlanError for what is no size of a thread.
    """
    reading_mm = measured.reading_error_mm or 0.0
    if measured.what == "pitch diameter":
        return PitchDiameters(diameters_mm=measured.sizes_mm, error_mm=reading_mm, reading_error_mm=reading_mm)
    if measured.what not in {"over wires", "over one wire"}:
        raise nothing_planned_from(measured)
    thread, wire_mm = job.thread, measured.wire_mm or wire_for(job, lathe)
    if measured.major_mm is not None:
        diameters = tuple(
            pitch_diameter_from_one_wire_mm(over_mm, wire_mm, measured.major_mm, thread, lathe.length_text)
            for over_mm in measured.sizes_mm
        )
        # Twice the reading over the wire less the reading of the crest.
        reading_mm = hypot(2 * reading_mm, reading_mm)
    else:
        diameters = tuple(
            pitch_diameter_from_wires_mm(over_mm, wire_mm, thread, lathe.length_text) for over_mm in measured.sizes_mm
        )
    error_mm = pitch_diameter_error_mm(WIRE_ERROR_MM, reading_mm, thread)
    return PitchDiameters(diameters_mm=diameters, error_mm=error_mm, reading_error_mm=reading_mm)


def usual_error_mm(thread: Thread, reading_error_mm: float) -> float:
    """Return how far a pitch diameter over three wires may be out for a reading that is known so far [mm].

    >>> from core.operations.threads.designation import read_thread
    >>> round(usual_error_mm(read_thread("M10"), 0.01), 4)  # 3 x 0.002 and 0.01, in squares
    0.0117
    """
    return hypot(reading_error_mm, WIRE_ERROR_MM * (1 + 1 / sin(radians(thread.half_angle_deg))))


def usual_error_words(thread: Thread, lathe: Lathe) -> tuple[str, str]:
    """Say how sure a pitch diameter over three wires is beside the tolerance, and what that follows from."""
    reading_mm = 0.01 if lathe.unit == "mm" else 0.0005 * float(MM_PER_INCH)
    words = f"± {lathe.length_text(usual_error_mm(thread, reading_mm))}"
    largest, least = thread.limits.pitch_diameter_max_mm, thread.limits.pitch_diameter_min_mm
    if largest is not None and least is not None:
        words += f", tolerance {lathe.length_text(largest - least)}"
    return words, f"reading to {lathe.length_text(reading_mm)}, wires to {lathe.length_text(WIRE_ERROR_MM)}"


def predicted_words(job: ThreadJob, lathe: Lathe, depth_mm: float) -> str:
    """Say, behind what is to be measured, which size the dial predicts at a depth on the radius [mm]; "" in a bore.

    "" too where a dial was set so deep that no diameter would be left. Over wires as well, where the planned wire
    measures this thread.
    """
    thread = job.thread
    pitch_diameter_mm = thread.wanted_pitch_diameter_mm + 2 * (job.groove.depth_mm - depth_mm)
    if thread.internal or pitch_diameter_mm <= 0:
        return ""
    words = f". The dial predicts a pitch diameter of {lathe.length_text(pitch_diameter_mm)}"
    wire_mm = wire_for(job, lathe)
    if wire_caution(thread, wire_mm):
        return words
    over_mm = over_wires_mm(pitch_diameter_mm, wire_mm, thread)
    return f"{words}, {lathe.length_text(over_mm)} over wires of {lathe.length_text(wire_mm)}"


def limits_words(lathe: Lathe, figures: Mapping[str, Any], what: str, major_mm: float | None = None) -> str:
    """Say which size is wanted, "" where that is not known.

    figures: those of the plan; what: as core.inputs.Measured names it; major_mm: over the crests, for one wire.
    """
    name = what.replace(" ", "_")
    shift_mm = 0.0 if major_mm is None else (major_mm - figures["blank_mm"]) / 2
    ends = [figures.get(f"{name}_{end}_mm") for end in ("min", "max")]
    if ends[0] is not None and ends[1] is not None:
        return f"Wanted: {lathe.length_text(ends[0] + shift_mm)} to {lathe.length_text(ends[1] + shift_mm)}."
    basic = figures.get(f"{name}_basic_mm")
    return "" if basic is None else f"Basic: {lathe.length_text(basic + shift_mm)}; the standard gives no limits."
