"""What was measured of a thread and what it means: limits, what is still to cut, taper, other classes it keeps.

Lengths in mm; texts are in the unit of the lathe's user. A micrometer is taken to be read to the last place that
was typed, wires to be known to 0.002 mm: common practice, no source.
"""

import re
from collections.abc import Mapping
from math import hypot, radians, sin, sqrt
from typing import TYPE_CHECKING, Any, NamedTuple

from core.cutting import Infeed
from core.inputs import Measured, nothing_planned_from
from core.lathe.lathe import Lathe, dial_words
from core.operations.threads.designation import read_thread
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
from core.values.errors import PlanError, ThreadError
from core.values.quantities import MM_PER_INCH, read_quantity

if TYPE_CHECKING:
    from core.questions import Reading

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


def read_measured(text: str, unit: str) -> "Reading":
    """Return a size as it was read off: "29.85", "1.1745 in", "29.852 +-0.005".

    unit: counts for bare numbers. Without "+-" the error is one step of the last
    place written (half a step of a fraction), 0.002 mm at the least. Raises
    QuantityError for what is no length above zero.

    >>> read_measured("29.85", "mm")
    Reading(size_mm=29.85, error_mm=0.01)
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
            pitch_diameter_from_one_wire_mm(over_mm, wire_mm, measured.major_mm, thread, lathe.say)
            for over_mm in measured.sizes_mm
        )
        # Twice the reading over the wire less the reading of the crest.
        reading_mm = hypot(2 * reading_mm, reading_mm)
    else:
        diameters = tuple(
            pitch_diameter_from_wires_mm(over_mm, wire_mm, thread, lathe.say) for over_mm in measured.sizes_mm
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
    words = f"± {lathe.say(usual_error_mm(thread, reading_mm))}"
    largest, least = thread.limits.pitch_diameter_max_mm, thread.limits.pitch_diameter_min_mm
    if largest is not None and least is not None:
        words += f", tolerance {lathe.say(largest - least)}"
    return words, f"reading to {lathe.say(reading_mm)}, wires to {lathe.say(WIRE_ERROR_MM)}"


def predicted_words(job: ThreadJob, lathe: Lathe, depth_mm: float) -> str:
    """Say, behind what is to be measured, which size the dial predicts at a depth on the radius [mm]; "" in a bore.

    "" too where a dial was set so deep that no diameter would be left. Over wires as well, where the planned wire
    measures this thread.
    """
    thread = job.thread
    pitch_diameter_mm = thread.wanted_pitch_diameter_mm + 2 * (job.groove.depth_mm - depth_mm)
    if thread.internal or pitch_diameter_mm <= 0:
        return ""
    words = f". The dial predicts a pitch diameter of {lathe.say(pitch_diameter_mm)}"
    wire_mm = wire_for(job, lathe)
    if wire_caution(thread, wire_mm):
        return words
    over_mm = over_wires_mm(pitch_diameter_mm, wire_mm, thread)
    return f"{words}, {lathe.say(over_mm)} over wires of {lathe.say(wire_mm)}"


def limits_words(lathe: Lathe, figures: Mapping[str, Any], what: str, major_mm: float | None = None) -> str:
    """Say which size is wanted, "" where that is not known.

    figures: those of the plan; what: as core.inputs.Measured names it; major_mm: over the crests, for one wire.
    """
    name = what.replace(" ", "_")
    shift_mm = 0.0 if major_mm is None else (major_mm - figures["blank_mm"]) / 2
    ends = [figures.get(f"{name}_{end}_mm") for end in ("min", "max")]
    if ends[0] is not None and ends[1] is not None:
        return f"Wanted: {lathe.say(ends[0] + shift_mm)} to {lathe.say(ends[1] + shift_mm)}."
    basic = figures.get(f"{name}_basic_mm")
    return "" if basic is None else f"Basic: {lathe.say(basic + shift_mm)}; the standard gives no limits."


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
"""Classes worth naming, by system and side, the finer first."""


def other_classes(thread: Thread) -> tuple[Thread, ...]:
    """Return the same thread in the other classes that its standard has, the finer first.

    >>> [other.tolerance_class for other in other_classes(read_thread("1/4-20 UNC-2A"))]
    ['3A', '1A']
    """
    if not thread.tolerance_class:
        return ()
    before, own, after = thread.designation.rpartition(thread.tolerance_class)
    found = []
    for name in _CLASSES.get((thread.system, thread.internal), ()):
        if name != own:
            try:
                found.append(read_thread(before + name + after, side="inside" if thread.internal else "outside"))
            except ThreadError:
                # Not every size has every class.
                continue
    return tuple(found)


def classes_kept(thread: Thread, pitch_diameter_mm: float, crest_mm: float) -> tuple[str, ...]:
    """Return the other classes whose limits hold this pitch diameter and this crest.

    crest_mm: the blank, inside the bore, as measured [mm].

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


def what_is_saved(job: ThreadJob, lathe: Lathe, pitch_diameter_mm: float, over_mm: float) -> str:
    """Say what a thread cut `over_mm` past its limits can still be. Common practice, no source, but for the classes."""
    kept = classes_kept(job.thread, pitch_diameter_mm, job.blank_mm)
    size = "larger" if job.thread.internal else "smaller"
    suited = f"a mating part made to suit, its pitch diameter {lathe.say(over_mm)} {size} than usual"
    again = "bore it out for the next larger thread" if job.thread.internal else "turn it off for a smaller thread"
    if kept:
        return f"it is still inside class {', '.join(kept)}; else {suited}, or {again}"
    return f"no other class of its standard takes it; what is left is {suited}, or {again}"


TAPER_MM = 0.02
"""Two ends that differ by more get spring passes before anything else, and are called tapered where nobody knows how
sure the readings are; a quarter of a usual tolerance."""
_NOTHING_MM = 0.0005


def remaining_mm(job: ThreadJob, diameters_mm: tuple[float, ...]) -> float:
    """Return what is left on the radius to the middle of the limits at the fat end; below 0 where it is passed."""
    sense = -1 if job.thread.internal else 1
    return sense * (fat_end_mm(job, diameters_mm) - job.thread.wanted_pitch_diameter_mm) / 2


def verdict(job: ThreadJob, lathe: Lathe, measured: PitchDiameters, infeed: Infeed, marks_left: int) -> tuple[str, ...]:
    """Return in sentences how a measurement stands; `marks_left` are those still planned on the dial of the infeed."""
    ends = measured.diameters_mm
    words = [f"pitch diameter {_size_words(job, lathe, measured)}: {_limits_words(job, lathe, measured)}"]
    if not is_overshot(job, ends):
        words.append(_left_words(job, lathe, measured, infeed, marks_left))
    thin_over_mm = _past_mm(job, thin_end_mm(job, ends))
    if thin_over_mm > _NOTHING_MM:
        saved = what_is_saved(job, lathe, thin_end_mm(job, ends), thin_over_mm)
        words.append(f"what is cut too far cannot be put back: {saved}")
    if is_tapered(measured):
        words.append(taper_words(job, lathe, measured))
    return tuple(words)


def refuse_impossible(job: ThreadJob, lathe: Lathe, measured: PitchDiameters) -> None:
    """Refuse a size that this thread cannot have: a slip of the hand must not plan a hundred passes.

    Uncut it would be the whole depth away from the wanted one on either side; as far
    past it nothing is left that a gauge would know. Raises PlanError.
    """
    wanted_mm, reach_mm = job.thread.wanted_pitch_diameter_mm, 2 * job.groove.depth_mm
    for diameter_mm in measured.diameters_mm:
        if abs(diameter_mm - wanted_mm) > reach_mm:
            raise PlanError(
                f"found a pitch diameter of {lathe.say(diameter_mm)}, which this thread cannot have; accepted is "
                f"{lathe.say(max(wanted_mm - reach_mm, 0.0))} to {lathe.say(wanted_mm + reach_mm)}",
                field="measured",
            )


def is_overshot(job: ThreadJob, diameters_mm: tuple[float, ...]) -> bool:
    """Tell whether even the fat end is cut past the limits."""
    return _past_mm(job, fat_end_mm(job, diameters_mm)) > _NOTHING_MM


def fat_end_mm(job: ThreadJob, diameters_mm: tuple[float, ...]) -> float:
    """Return the end that rules: the one with more metal left [mm]."""
    return min(diameters_mm) if job.thread.internal else max(diameters_mm)


def thin_end_mm(job: ThreadJob, diameters_mm: tuple[float, ...]) -> float:
    """Return the end with less metal left [mm]."""
    return max(diameters_mm) if job.thread.internal else min(diameters_mm)


def is_tapered(measured: PitchDiameters) -> bool:
    """Tell whether the two ends differ by more than their two readings may; errors of the wires are alike at both.

    Source: independent errors are added in squares (GUM, 5.1.2).
    """
    ends = measured.diameters_mm
    unsure_mm = sqrt(2) * measured.reading_error_mm or TAPER_MM
    return len(ends) > 1 and abs(ends[0] - ends[1]) > unsure_mm + 1e-9


def wants_springs(measured: PitchDiameters) -> bool:
    """Tell whether the ends differ so much that the fat one first gets its chance to spring back."""
    ends = measured.diameters_mm
    return is_tapered(measured) and abs(ends[0] - ends[1]) > TAPER_MM + 1e-9


def taper_words(job: ThreadJob, lathe: Lathe, measured: PitchDiameters) -> str:
    """Say which end is fat, what cures it, and whether the thin end still serves. Common practice, no source."""
    ends = measured.diameters_mm
    free_is_fat = (ends[1] > ends[0]) != job.thread.internal
    end = "free" if free_is_fat else "shoulder"
    cure = (
        "a spring pass or a support, not more infeed" if free_is_fat else "see whether tailstock and work are in line"
    )
    by_mm = abs(ends[0] - ends[1])
    words = f"the {end} end is fat by {lathe.say(by_mm)}, which is spring or taper: {cure}"
    limits = job.thread.limits
    largest, least = limits.pitch_diameter_max_mm, limits.pitch_diameter_min_mm
    if largest is None or least is None:
        return words
    over_mm = _past_mm(job, thin_end_mm(job, ends))
    if over_mm > _NOTHING_MM:
        return f"{words}; the thin end is {lathe.say(over_mm)} past the limits already"
    if by_mm > largest - least:
        return f"{words}; both ends cannot come inside the tolerance of {lathe.say(largest - least)} by infeed alone"
    return words


def _size_words(job: ThreadJob, lathe: Lathe, measured: PitchDiameters) -> str:
    size = lathe.say(fat_end_mm(job, measured.diameters_mm))
    return f"{size} ± {lathe.say(measured.error_mm)}" if measured.error_mm else size


def _limits_words(job: ThreadJob, lathe: Lathe, measured: PitchDiameters) -> str:
    """Say where the fat end lies against the limits, and whether the measurement is sure enough to tell."""
    say, limits = lathe.say, job.thread.limits
    fat_mm = fat_end_mm(job, measured.diameters_mm)
    largest, least = limits.pitch_diameter_max_mm, limits.pitch_diameter_min_mm
    if largest is None or least is None:
        return f"the standard gives no limits here; basic is {say(job.thread.pitch_diameter_basic_mm)}"
    over_mm = _past_mm(job, fat_mm)
    if least <= fat_mm <= largest:
        words = f"inside the limits {say(least)} to {say(largest)}"
    elif over_mm > _NOTHING_MM:
        words = f"{say(over_mm)} past the limits {say(least)} to {say(largest)}"
    else:
        short_mm = least - fat_mm if job.thread.internal else fat_mm - largest
        words = f"{say(short_mm)} short of the limits {say(least)} to {say(largest)}"
    words += f", tolerance {say(largest - least)}"
    if min(abs(fat_mm - least), abs(fat_mm - largest)) < measured.error_mm:
        words += "; nearer to a limit than the measurement is sure: measure again, or let the gauge decide"
    return words


def _left_words(job: ThreadJob, lathe: Lathe, measured: PitchDiameters, infeed: Infeed, marks_left: int) -> str:
    """Say what is left in mm and in graduations: "0.04 mm to go, ± 0.012 mm; 2 more graduations of the compound"."""
    to_go_mm = 2 * remaining_mm(job, measured.diameters_mm)
    middle = "the middle of the limits" if job.thread.has_limits else "the basic size"
    if to_go_mm <= 0:
        return f"{middle} is reached: nothing more to cut"
    sure = f", ± {lathe.say(measured.error_mm)}" if measured.error_mm else ""
    to_go = f"{lathe.say(to_go_mm)} to go on the diameter to {middle}{sure}"
    dial = dial_words(infeed.dial.name)
    if marks_left <= 0:
        return f"{to_go}; less than half a graduation of the {dial}: nothing more to cut"
    many = "s" if marks_left > 1 else ""
    return f"{to_go}; {marks_left} more graduation{many} of the {dial}"


def _past_mm(job: ThreadJob, diameter_mm: float) -> float:
    """Return how far a pitch diameter is cut past its limits, 0 where it is not or there are none [mm]."""
    limits = job.thread.limits
    largest, least = limits.pitch_diameter_max_mm, limits.pitch_diameter_min_mm
    if largest is None or least is None:
        return 0.0
    return max(0.0, diameter_mm - largest if job.thread.internal else least - diameter_mm)
