"""Conclusions from a measurement of a thread: size against limits, depth still to cut, taper, and other classes it may
suit.

Lengths are in mm, and texts are in the unit of the lathe. Unless the user enters an uncertainty, a reading is assumed
correct to its last decimal place, and a wire to 0.002 mm. This is common practice, without a source.
"""

import re
from collections.abc import Mapping
from math import hypot, radians, sin, sqrt
from typing import TYPE_CHECKING, Any, NamedTuple

from core.cutting import Infeed
from core.inputs import Measured, nothing_planned_from
from core.lathe.lathe import Lathe, dial_words
from core.operations.threads.designation import read_thread
from core.operations.threads.figures import measuring_wire_mm
from core.operations.threads.job import ThreadJob
from core.operations.threads.spelling import listed
from core.operations.threads.thread import Thread
from core.operations.threads.wires import (
    over_wires_mm,
    pitch_diameter_error_mm,
    pitch_diameter_from_one_wire_mm,
    pitch_diameter_from_wires_mm,
    wire_caution,
)
from core.values.errors import PlanError, ThreadError
from core.values.quantities import MM_PER_INCH, read_quantity

if TYPE_CHECKING:
    from core.questions import EnteredSize

WIRE_ERROR_MM = 0.002
"""How far the diameter of a measuring wire may be wrong, unless the user knows its error."""
LEAST_READING_ERROR_MM = 0.002
"""A hand micrometer is never more exact than this, even with more decimals on its display."""
_PLUS_MINUS = re.compile(r"±|\+ ?/? ?-")
_LAST_PLACE = re.compile(r"\d+/(?P<parts>\d+)|\d*[.,](?P<places>\d+)|\d+")


class PitchDiameters(NamedTuple):
    """The pitch diameters that follow from a measurement: first at the shoulder, then at the free end if that was
    measured.
    """

    diameters_mm: tuple[float, ...]
    error_mm: float
    """How far one pitch diameter may be wrong, from wires and reading together."""
    reading_error_mm: float
    """The share of that error that comes from the reading. Errors of the wires are the same at both ends."""


def read_size(text: str, unit: str) -> "EnteredSize":
    """Return a size and its possible error from the user's text: "29.85", "1.1745 in", "29.852 +-0.005".

    unit: the unit that applies if the text has none.
    Without "+-", the error is one step of the last decimal place (or half a step of a fraction), and at least 0.002 mm.
    Raise QuantityError for a text that is not a length above zero.

    >>> read_size("29.85", "mm")
    EnteredSize(size_mm=29.85, error_mm=0.01, edges_mm=None)
    >>> read_size("29.85 +-0.005", "mm").error_mm
    0.005
    """
    # Only a counter needs this module; planning works without it.
    from core.questions import read_length

    size_text, *error_text = _PLUS_MINUS.split(text, maxsplit=1)
    size = read_length(size_text, unit)
    if error_text:
        return size._replace(error_mm=read_length(error_text[0], unit).size_mm)
    return size._replace(error_mm=max(_last_place_mm(size_text, unit), LEAST_READING_ERROR_MM))


def _last_place_mm(text: str, unit: str) -> float:
    """Return the length of one step in the last decimal place of the user's text, or half a step of its fraction
    [mm].
    """
    last_number = list(_LAST_PLACE.finditer(text))[-1]
    own_unit = text[last_number.end() :].strip() or unit
    parts, places = last_number["parts"], last_number["places"]
    step = f"1/{2 * int(parts)}" if parts else f"0.{'0' * (len(places) - 1)}1" if places else "1"
    return float(read_quantity(f"{step} {own_unit}", "length").value)


def measured_pitch_diameters(job: ThreadJob, lathe: Lathe, measured: Measured) -> PitchDiameters:
    """Return the pitch diameters that follow from a measurement, with their possible error.

    "over wires" means over three wires, or over two wires between square faces. Raise ThreadError for an impossible
    reading, and PlanError for a measurement of something other than the thread.
    """
    reading_mm = measured.reading_error_mm or 0.0
    if measured.what == "pitch diameter":
        return PitchDiameters(diameters_mm=measured.sizes_mm, error_mm=reading_mm, reading_error_mm=reading_mm)
    if measured.what not in {"over wires", "over one wire"}:
        raise nothing_planned_from(measured)
    thread, wire_mm = job.thread, measured.wire_mm or measuring_wire_mm(job, lathe)
    if measured.major_mm is not None:
        diameters = tuple(
            pitch_diameter_from_one_wire_mm(over_mm, wire_mm, measured.major_mm, thread, lathe.length_text)
            for over_mm in measured.sizes_mm
        )
        # Twice the reading over the wire, less the diameter over the crests.
        reading_mm = hypot(2 * reading_mm, reading_mm)
    else:
        diameters = tuple(
            pitch_diameter_from_wires_mm(over_mm, wire_mm, thread, lathe.length_text) for over_mm in measured.sizes_mm
        )
    error_mm = pitch_diameter_error_mm(WIRE_ERROR_MM, reading_mm, thread)
    return PitchDiameters(diameters_mm=diameters, error_mm=error_mm, reading_error_mm=reading_mm)


def usual_error_mm(thread: Thread, reading_error_mm: float) -> float:
    """Return the possible error of a pitch diameter measured over three wires [mm].

    reading_error_mm: the possible error of the micrometer reading [mm]. The wires may be wrong by 0.002 mm.

    >>> from core.operations.threads.designation import read_thread
    >>> round(usual_error_mm(read_thread("M10"), 0.01), 4)  # 3 x 0.002 and 0.01, in squares
    0.0117
    """
    return hypot(reading_error_mm, WIRE_ERROR_MM * (1 + 1 / sin(radians(thread.half_angle_deg))))


def usual_error_words(thread: Thread, lathe: Lathe) -> tuple[str, str]:
    """Return two texts about measuring over three wires: the error compared with the tolerance, and the causes of the
    error.
    """
    reading_mm = 0.01 if lathe.unit == "mm" else 0.0005 * float(MM_PER_INCH)
    words = f"± {lathe.length_text(usual_error_mm(thread, reading_mm))}"
    largest, least = thread.limits.pitch_diameter_max_mm, thread.limits.pitch_diameter_min_mm
    if largest is not None and least is not None:
        words += f", tolerance {lathe.length_text(largest - least)}"
    return words, f"reading to {lathe.length_text(reading_mm)}, wires to {lathe.length_text(WIRE_ERROR_MM)}"


def predicted_words(job: ThreadJob, lathe: Lathe, depth_mm: float) -> str:
    """Return a sentence with the size that the infeed dial predicts for a depth on the radius [mm].

    If the planned wire can measure this thread, the sentence adds the size over wires. Return "" for an internal
    thread, and for a depth at which no diameter would remain.
    """
    thread = job.thread
    pitch_diameter_mm = thread.wanted_pitch_diameter_mm + 2 * (job.groove.depth_mm - depth_mm)
    if thread.internal or pitch_diameter_mm <= 0:
        return ""
    words = f". The dial predicts a pitch diameter of {lathe.length_text(pitch_diameter_mm)}"
    wire_mm = measuring_wire_mm(job, lathe)
    if wire_caution(thread, wire_mm):
        return words
    over_mm = over_wires_mm(pitch_diameter_mm, wire_mm, thread)
    return f"{words}, {lathe.length_text(over_mm)} over wires of {lathe.length_text(wire_mm)}"


def limits_words(lathe: Lathe, figures: Mapping[str, Any], what: str, major_mm: float | None = None) -> str:
    """Return text that gives the size that a measurement should show; "" if this size is not known.

    figures: the figures of the plan. what: the kind of measurement, for example "over wires". major_mm: the measured
    diameter over the crests [mm], needed only for a measurement over one wire.
    """
    name = what.replace(" ", "_")
    shift_mm = 0.0 if major_mm is None else (major_mm - figures["blank_mm"]) / 2
    ends = [figures.get(f"{name}_{end}_mm") for end in ("min", "max")]
    if ends[0] is not None and ends[1] is not None:
        return f"Wanted: {lathe.length_text(ends[0] + shift_mm)} to {lathe.length_text(ends[1] + shift_mm)}."
    basic = figures.get(f"{name}_basic_mm")
    return "" if basic is None else f"Basic: {lathe.length_text(basic + shift_mm)}; the standard gives no limits."


_CLASSES: dict[tuple[str, bool], tuple[str, ...]] = {
    ("metric", False): ("4h", "6h", "6g", "6f", "6e", "8g", "8e"),
    ("metric", True): ("5H", "6H", "7H", "8H", "6G", "7G", "8G"),
    ("unified", False): ("3A", "2A", "1A"),
    ("unified", True): ("3B", "2B", "1B"),
    ("whitworth", False): ("close", "medium", "free"),
    ("whitworth", True): ("close", "medium", "normal"),
    ("bsp", False): ("A", "B"),
    ("ba", False): ("close", "normal"),
    ("trapezoidal", False): ("7e", "8e", "8c", "9c"),
    ("trapezoidal", True): ("7H", "8H", "9H"),
    ("acme", False): ("4G", "3G", "2G"),
    ("acme", True): ("4G", "3G", "2G"),
}
"""The usual classes of each system on each side, the finest first."""


def other_classes(thread: Thread) -> tuple[Thread, ...]:
    """Return the same thread in all other classes of its standard, the finest class first.

    >>> [other.tolerance_class for other in other_classes(read_thread("1/4-20 UNC-2A"))]
    ['3A', '1A']
    """
    if not thread.tolerance_class:
        return ()
    before, own, after = thread.designation.rpartition(thread.tolerance_class)
    others = []
    for name in _CLASSES.get((thread.system, thread.internal), ()):
        if name != own:
            try:
                others.append(read_thread(before + name + after, side="inside" if thread.internal else "outside"))
            except ThreadError:
                # Not every size has every class.
                continue
    return tuple(others)


def classes_kept(thread: Thread, pitch_diameter_mm: float, crest_mm: float) -> tuple[str, ...]:
    """Return the other classes of a thread whose limits include a measured pitch diameter and a measured crest.

    pitch_diameter_mm: the measured pitch diameter [mm]. crest_mm: the diameter of the blank, or of the bore for an
    internal thread [mm].

    >>> classes_kept(read_thread("M30x3.5-6g"), 27.40, 29.75)
    ('8g', '8e')
    """
    return tuple(other.tolerance_class for other in other_classes(thread) if _keeps(other, pitch_diameter_mm, crest_mm))


def _keeps(thread: Thread, pitch_diameter_mm: float, crest_mm: float) -> bool:
    limits = thread.limits
    crest = (
        (limits.minor_min_mm, limits.minor_max_mm) if thread.internal else (limits.major_min_mm, limits.major_max_mm)
    )
    pitch = (limits.pitch_diameter_min_mm, limits.pitch_diameter_max_mm)
    return _within(pitch_diameter_mm, pitch) and _within(crest_mm, crest)


def _within(size_mm: float, limits: tuple[float | None, float | None]) -> bool:
    least, largest = limits
    return (least is None or size_mm >= least) and (largest is None or size_mm <= largest)


def salvage_words(job: ThreadJob, lathe: Lathe, pitch_diameter_mm: float, over_mm: float) -> str:
    """Return advice on using a thread that is cut past its limits.

    pitch_diameter_mm: the measured pitch diameter [mm]. over_mm: how far this is past the limits [mm].
    Source: the classes are in their standards. The other advice is common practice, without a source.
    """
    kept = classes_kept(job.thread, pitch_diameter_mm, job.blank_mm)
    size = "larger" if job.thread.internal else "smaller"
    recut = (
        "bore the hole out for a larger thread" if job.thread.internal else "turn the work down for a smaller thread"
    )
    remedy = f"make the mating part to suit (pitch diameter {lathe.length_text(over_mm)} {size}), or {recut}"
    if kept:
        return f"The thread still meets class {listed(list(kept))}. Otherwise {remedy}."
    return f"The thread does not meet any other class either. {remedy[:1].upper()}{remedy[1:]}."


TAPER_MM = 0.02
"""If the ends of a thread differ by more than this, the turner takes spring passes before more infeed.

The value is a quarter of a usual tolerance. If the error of the reading is not known, this limit also decides whether
the thread counts as tapered.
"""
_SAME_MM = 0.0005


def remaining_mm(job: ThreadJob, diameters_mm: tuple[float, ...]) -> float:
    """Return the depth on the radius [mm] that brings the end with more metal to the middle of the limits.

    The depth is negative if that end is already cut past the middle. `diameters_mm`: the pitch diameter of each
    measured end.
    """
    sense = -1 if job.thread.internal else 1
    return sense * (fat_end_mm(job, diameters_mm) - job.thread.wanted_pitch_diameter_mm) / 2


def verdict_words(
    job: ThreadJob, lathe: Lathe, measured: PitchDiameters, infeed: Infeed, marks_left: int
) -> tuple[str, ...]:
    """Return the sentences that tell the turner the result of a measurement.

    marks_left: the number of infeed dial marks by which the remaining passes go deeper.
    """
    ends = measured.diameters_mm
    words = [f"Pitch diameter {_size_words(job, lathe, measured)}: {_limits_words(job, lathe, measured)}."]
    if not is_overshot(job, ends):
        words.append(_left_words(job, lathe, measured, infeed, marks_left))
    thin_over_mm = _past_mm(job, thin_end_mm(job, ends))
    if thin_over_mm > _SAME_MM:
        words.append(salvage_words(job, lathe, thin_end_mm(job, ends), thin_over_mm))
    if is_tapered(measured):
        words.append(taper_words(job, lathe, measured))
    return tuple(words)


def refuse_impossible(job: ThreadJob, lathe: Lathe, measured: PitchDiameters) -> None:
    """Raise PlanError for a measured size that this thread cannot have.

    Otherwise a typing error would lead to a plan of a hundred passes. An uncut blank differs from the wanted size by
    the whole depth of the thread. A size that differs as much in the other direction would leave no thread.
    """
    wanted_mm, most_off_mm = job.thread.wanted_pitch_diameter_mm, 2 * job.groove.depth_mm
    for diameter_mm in measured.diameters_mm:
        if abs(diameter_mm - wanted_mm) > most_off_mm:
            raise PlanError(
                f"This thread cannot have a pitch diameter of {lathe.length_text(diameter_mm)}. Enter "
                f"{lathe.length_text(max(wanted_mm - most_off_mm, 0.0))} to "
                f"{lathe.length_text(wanted_mm + most_off_mm)}.",
                field="measured",
            )


def is_overshot(job: ThreadJob, diameters_mm: tuple[float, ...]) -> bool:
    """Return True if every measured end of the thread is cut past the limits.

    `diameters_mm`: the pitch diameter of each measured end.
    """
    return _past_mm(job, fat_end_mm(job, diameters_mm)) > _SAME_MM


def fat_end_mm(job: ThreadJob, diameters_mm: tuple[float, ...]) -> float:
    """Return the pitch diameter of the end with more metal [mm].

    This end decides the remaining depth. `diameters_mm`: the pitch diameter of each measured end.
    """
    return min(diameters_mm) if job.thread.internal else max(diameters_mm)


def thin_end_mm(job: ThreadJob, diameters_mm: tuple[float, ...]) -> float:
    """Return the pitch diameter of the end with less metal [mm].

    `diameters_mm`: the pitch diameter of each measured end.
    """
    return max(diameters_mm) if job.thread.internal else min(diameters_mm)


def is_tapered(measured: PitchDiameters) -> bool:
    """Return True if the pitch diameters of the two ends differ by more than the error of two readings.

    An error of the wires changes both ends alike, so it does not count here. Source: independent errors are added in
    squares (GUM, 5.1.2).
    """
    ends = measured.diameters_mm
    unsure_mm = sqrt(2) * measured.reading_error_mm or TAPER_MM
    return len(ends) > 1 and abs(ends[0] - ends[1]) > unsure_mm + 1e-9


def wants_springs(measured: PitchDiameters) -> bool:
    """Return True if the ends differ so much that spring passes must come before a deeper pass."""
    ends = measured.diameters_mm
    return is_tapered(measured) and abs(ends[0] - ends[1]) > TAPER_MM + 1e-9


def taper_words(job: ThreadJob, lathe: Lathe, measured: PitchDiameters) -> str:
    """Return sentences about a tapered thread: which end has more metal, how to remedy this, and how to use the other
    end.

    The remedies are common practice, without a source.
    """
    ends = measured.diameters_mm
    free_is_fat = (ends[1] > ends[0]) != job.thread.internal
    end = "free" if free_is_fat else "shoulder"
    remedy = (
        "Take a spring pass, or add a support for the work. Do not feed in further."
        if free_is_fat
        else "Check that the tailstock is in line with the spindle."
    )
    by_mm = abs(ends[0] - ends[1])
    words = f"The {end} end has {lathe.length_text(by_mm)} more metal, from springing or from taper. {remedy}"
    limits = job.thread.limits
    largest, least = limits.pitch_diameter_max_mm, limits.pitch_diameter_min_mm
    if largest is None or least is None:
        return words
    over_mm = _past_mm(job, thin_end_mm(job, ends))
    if over_mm > _SAME_MM:
        return f"{words} The other end is already {lathe.length_text(over_mm)} past its limits."
    if by_mm > largest - least:
        return (
            f"{words} Cutting deeper cannot bring both ends inside the tolerance of "
            f"{lathe.length_text(largest - least)}."
        )
    return words


def _size_words(job: ThreadJob, lathe: Lathe, measured: PitchDiameters) -> str:
    size = lathe.length_text(fat_end_mm(job, measured.diameters_mm))
    return f"{size} ± {lathe.length_text(measured.error_mm)}" if measured.error_mm else size


def _limits_words(job: ThreadJob, lathe: Lathe, measured: PitchDiameters) -> str:
    """Return a sentence that says whether the end with more metal is inside the limits, or that this cannot be
    judged.
    """
    length_text, limits = lathe.length_text, job.thread.limits
    fat_mm = fat_end_mm(job, measured.diameters_mm)
    largest, least = limits.pitch_diameter_max_mm, limits.pitch_diameter_min_mm
    if largest is None or least is None:
        return f"basic size {length_text(job.thread.pitch_diameter_basic_mm)}; the standard gives no limits"
    over_mm = _past_mm(job, fat_mm)
    if least <= fat_mm <= largest:
        words = f"inside the limits {length_text(least)} to {length_text(largest)}"
    elif over_mm > _SAME_MM:
        size = "big" if job.thread.internal else "small"
        words = f"{length_text(over_mm)} too {size} for the limits {length_text(least)} to {length_text(largest)}"
    else:
        short_mm = least - fat_mm if job.thread.internal else fat_mm - largest
        size = "small" if job.thread.internal else "big"
        limits_text = f"{length_text(least)} to {length_text(largest)}"
        words = f"still {length_text(short_mm)} too {size} for the limits {limits_text}"
    words += f", tolerance {length_text(largest - least)}"
    if min(abs(fat_mm - least), abs(fat_mm - largest)) < measured.error_mm:
        words += ". This size is too near a limit to be certain. Measure again, or use the gauge"
    return words


def _left_words(job: ThreadJob, lathe: Lathe, measured: PitchDiameters, infeed: Infeed, marks_left: int) -> str:
    """Return text that gives the depth still to cut and the number of dial marks that this takes."""
    to_go_mm = 2 * remaining_mm(job, measured.diameters_mm)
    middle = "the middle of the limits" if job.thread.has_limits else "the basic size"
    if to_go_mm <= 0:
        return f"{middle[:1].upper()}{middle[1:]} is reached. There is nothing more to cut."
    error = f" ± {lathe.length_text(measured.error_mm)}" if measured.error_mm else ""
    size = "small" if job.thread.internal else "big"
    to_go = f"Still {lathe.length_text(to_go_mm)}{error} too {size} for {middle}"
    dial = dial_words(infeed.dial.name)
    if marks_left <= 0:
        return f"{to_go}: less than half a mark of the {dial}. There is nothing more to cut."
    many = "s" if marks_left > 1 else ""
    return f"{to_go}: {marks_left} more mark{many} of the {dial}."


def _past_mm(job: ThreadJob, diameter_mm: float) -> float:
    """Return how far a pitch diameter is cut past its limits [mm]; 0 inside the limits, and without limits."""
    limits = job.thread.limits
    largest, least = limits.pitch_diameter_max_mm, limits.pitch_diameter_min_mm
    if largest is None or least is None:
        return 0.0
    return max(0.0, diameter_mm - largest if job.thread.internal else least - diameter_mm)
