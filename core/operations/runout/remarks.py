"""Remarks on a turn of readings: likely mistakes, forms that look alike, corrections, and repeatability of seating."""

from collections.abc import Collection, Iterator, Sequence
from itertools import combinations
from math import hypot

from core.operations.runout.analysis import FOR_OVAL, FOR_THREE_LOBES, Analysis, Lobes
from core.operations.runout.harmonics import alias_share
from core.operations.runout.job import RunoutJob, mark_words
from core.operations.runout.readings import SMALL_DRIFT_GRADUATIONS, LengthText
from core.values.quantities import number_text

_PARTS = {
    2: "an oval part",
    3: "a three-lobed part (from a three-jaw chuck or centreless grinding)",
    4: "a four-lobed part (a thin ring in a four-jaw chuck)",
    5: "a five-lobed part",
}
VAGUE_DEG = 20.0
"""A high spot gets a remark if its angle is less certain than this [deg]. Common practice, no source."""
_LEAST_SHARE = 0.3
"""A form gets a remark if at least this part of its height looks like another form."""


def questions(analysis: Analysis, job: RunoutJob, length_text: LengthText) -> tuple[str, ...]:
    """Return a question about each reading that looks like a mistake. The program still uses these readings."""
    slips = [
        f"The reading {length_text(analysis.readings_mm[i])} at {mark_words(analysis.angles_deg[i])} is far from the "
        "others. Is this a typing error, or is a keyway or hole under the indicator?"
        for i in analysis.suspects
    ]
    if analysis.larger_than_work and job.diameter_mm is not None:
        slips.append(
            f"An eccentricity of {length_text(analysis.eccentricity_mm)} is impossible on a diameter of "
            f"{length_text(job.diameter_mm)}. Check the readings, their unit and the diameter. No move is given."
        )
    return tuple(slips)


def remarks(analysis: Analysis, job: RunoutJob, length_text: LengthText) -> tuple[str, ...]:
    """Return remarks on what the readings of a turn cannot show, and on how they were corrected."""
    return (*_limits(analysis, length_text), *alias_remarks(analysis), *_corrections(analysis, job, length_text))


def alias_words(angles_deg: Sequence[float], absent: Collection[int] = ()) -> str:
    """Return in words which forms look like eccentricity in readings at these marks [deg]; "" if none does.

    `absent`: the numbers of lobes that the work cannot have.
    """
    mistaken = []
    for lobes, name in _PARTS.items():
        share = alias_share(angles_deg, lobes)
        if share > _LEAST_SHARE and lobes not in absent:
            how_much = "all of it" if share > 0.995 else f"{100 * share:.0f} % of it"
            mistaken.append(f"{name}, {how_much}")
    if not mistaken:
        return ""
    forms = "; ".join(mistaken)
    return (
        f"With {len(angles_deg)} readings, the eccentricity found may instead be caused by {forms}. Take more "
        "readings to tell these apart."
    )


def lobes_words(analysis: Analysis, length_text: LengthText) -> str:
    """Return in words how oval and three-lobed the work is; "" if the readings scatter too much to tell."""
    shapes = []
    names = (
        ("waved twice a turn", "waved three times a turn") if analysis.surface == "face" else ("oval", "three-lobed")
    )
    for lobes, name in zip((analysis.oval, analysis.three_lobes), names, strict=True):
        if lobes is not None and is_significant(lobes):
            shapes.append(f"{name} by {length_text(lobes.height_mm)}, high at {mark_words(lobes.high_deg)}")
    return "; ".join(shapes)


def is_significant(lobes: Lobes) -> bool:
    """Return whether the height of lobes is larger than the scatter of the readings can explain."""
    return lobes.height_mm > 2 * lobes.error_mm


def _limits(analysis: Analysis, length_text: LengthText) -> Iterator[str]:
    count = len(analysis.readings_mm)
    if analysis.below_indicator:
        yield (
            f"The eccentricity of {length_text(analysis.eccentricity_mm)} is below what the indicator can show "
            f"({length_text(2 * analysis.error_mm)}). Its direction is not known."
        )
    elif (within_deg := analysis.high_spot_within_deg) is not None and within_deg > VAGUE_DEG:
        yield f"The eccentricity is small: the high spot is known only to ± {number_text(within_deg, 0)}°."
    if count < FOR_OVAL:
        yield (
            f"{count} readings show the offset but almost nothing of the form. "
            "8 readings also show whether the work is oval; 12 show the direction of three lobes."
        )
    elif analysis.oval is None or (count >= FOR_THREE_LOBES and analysis.three_lobes is None):
        yield "These marks are too uneven to separate lobes from an offset."


def alias_remarks(analysis: Analysis) -> Iterator[str]:
    """Yield sentences about forms that, at the marks of this turn, look like eccentricity or like the lobes found."""
    angles, count = analysis.angles_deg, len(analysis.angles_deg)
    fitted = {2: analysis.oval, 3: analysis.three_lobes}
    # Lobes that these marks would show but do not show are absent. No other form looks like them.
    absent = {order for order, lobes in fitted.items() if lobes is not None and not is_significant(lobes)}
    if not analysis.below_indicator and (words := alias_words(angles, absent)):
        yield words
    seen = [(analysis.oval, (1, 2), "oval"), (analysis.three_lobes, (1, 2, 3), "three-lobed")]
    for shape, orders, word in seen:
        if shape is None or not is_significant(shape):
            continue
        for lobes, name in _PARTS.items():
            if lobes > orders[-1] and alias_share(angles, lobes, orders) > _LEAST_SHARE:
                yield f"With {count} readings, {name} cannot be told apart from {word}."


def _corrections(analysis: Analysis, job: RunoutJob, length_text: LengthText) -> Iterator[str]:
    if abs(analysis.drift_mm) > SMALL_DRIFT_GRADUATIONS * analysis.graduation_mm * (1 + 1e-9):
        yield (
            f"The closing reading is {length_text(analysis.drift_mm)} off. This drift is spread over the turn. "
            "If the indicator slipped, tighten its holder and read the turn again."
        )
    if analysis.limacon_mm:
        most = max(analysis.limacon_mm) - min(analysis.limacon_mm)
        yield (
            f"So large an offset makes round work look oval, here by {length_text(most)}. This amount is subtracted. "
            "Centre the work first, then judge its roundness."
        )
    if job.surface == "face" and job.diameter_mm is None:
        yield "Enter the diameter of the circle that the indicator follows. Without it, wobble and shims stay unknown."
    if job.stylus_deg:
        angle = number_text(job.stylus_deg, 1)
        yield f"A lever indicator reads high. Readings are multiplied by the cosine of its stylus angle, {angle}°."


SEATED_AGAIN = ("screwed on", "between centres")
"""Workholdings with nothing to move. The turner takes the work out and seats it again between two sets of readings."""


def seating_words(turns: Sequence[Analysis], length_text: LengthText) -> str:
    """Return in words whether the runout repeats each time the work is seated, with the figures of every set.

    turns: the analyses of the sets, oldest first; at least two. The limits are common practice, without a source.
    """
    seatings = f"Seated {len(turns)} times: {'; '.join(_figures(analysis, length_text) for analysis in turns)}."
    apart = max(
        hypot(one.work_centre_mm[0] - other.work_centre_mm[0], one.work_centre_mm[1] - other.work_centre_mm[1])
        for one, other in combinations(turns, 2)
    )
    least_mm = max(2 * 2**0.5 * analysis.error_mm for analysis in turns)
    if all(analysis.below_indicator for analysis in turns):
        return f"{seatings} The work runs true every time, as far as this indicator can show."
    if apart <= least_mm:
        return f"{seatings} The runout repeats, so it belongs to the work. True the work in place."
    more = "" if len(turns) > 2 else " Seat the work once more to be sure."
    return (
        f"{seatings} The runout differs by {length_text(apart)}, so the seat matters. "
        f"Look for dirt and burrs on thread and faces.{more}"
    )


def _figures(analysis: Analysis, length_text: LengthText) -> str:
    high = "" if analysis.below_indicator else f" at {mark_words(analysis.high_spot_deg)}"
    return f"{length_text(analysis.eccentricity_mm)}{high}"
