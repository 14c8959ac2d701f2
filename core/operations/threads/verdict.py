"""What a measured pitch diameter means: in or out of limits, what is left on the dial, taper, what can be saved.

Lengths in mm; what is said is in the unit of the lathe's user.
"""

from math import sqrt

from core.cutting import Infeed
from core.lathe.lathe import Lathe, dial_words
from core.operations.threads.classes import what_is_saved
from core.operations.threads.job import ThreadJob
from core.operations.threads.readings import PitchDiameters
from core.values.errors import PlanError

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
                f"found a pitch diameter of {lathe.length_text(diameter_mm)}, which this thread cannot have; "
                "accepted is "
                f"{lathe.length_text(max(wanted_mm - reach_mm, 0.0))} to {lathe.length_text(wanted_mm + reach_mm)}",
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
    words = f"the {end} end is fat by {lathe.length_text(by_mm)}, which is spring or taper: {cure}"
    limits = job.thread.limits
    largest, least = limits.pitch_diameter_max_mm, limits.pitch_diameter_min_mm
    if largest is None or least is None:
        return words
    over_mm = _past_mm(job, thin_end_mm(job, ends))
    if over_mm > _NOTHING_MM:
        return f"{words}; the thin end is {lathe.length_text(over_mm)} past the limits already"
    if by_mm > largest - least:
        return (
            f"{words}; both ends cannot come inside the tolerance of {lathe.length_text(largest - least)} by "
            "infeed alone"
        )
    return words


def _size_words(job: ThreadJob, lathe: Lathe, measured: PitchDiameters) -> str:
    size = lathe.length_text(fat_end_mm(job, measured.diameters_mm))
    return f"{size} ± {lathe.length_text(measured.error_mm)}" if measured.error_mm else size


def _limits_words(job: ThreadJob, lathe: Lathe, measured: PitchDiameters) -> str:
    """Say where the fat end lies against the limits, and whether the measurement is sure enough to tell."""
    say, limits = lathe.length_text, job.thread.limits
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
    sure = f", ± {lathe.length_text(measured.error_mm)}" if measured.error_mm else ""
    to_go = f"{lathe.length_text(to_go_mm)} to go on the diameter to {middle}{sure}"
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
