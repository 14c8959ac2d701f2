"""What must be said about a turn of readings: questions, what could be mistaken for what, what cannot be told."""

from collections.abc import Callable, Collection, Iterator, Sequence
from itertools import combinations
from math import hypot

from core.operations.runout.analysis import FOR_OVAL, FOR_THREE_LOBES, Analysis, Lobes
from core.operations.runout.harmonics import alias_share
from core.operations.runout.job import RunoutJob, angle_words
from core.operations.runout.readings import SMALL_DRIFT_GRADUATIONS
from core.values.quantities import number_text

Say = Callable[[float], str]

_PARTS = {
    2: "an oval part",
    3: "a three-lobed part (a three-jaw chuck or centreless grinding makes such)",
    4: "a four-lobed part (a thin ring in a four-jaw chuck becomes one)",
    5: "a five-lobed part",
}
VAGUE_DEG = 20.0
"""A high spot that may lie further off than that is remarked on; common practice, no source."""
_HEARD_FROM = 0.3
"""Share of a form that must come through as something else before it is mentioned."""


def questions(analysis: Analysis, job: RunoutJob, say: Say) -> tuple[str, ...]:
    """Return what looks like a slip, each as a question; nothing is refused or left out for it."""
    found = [
        f"The reading {say(analysis.readings_mm[i])} at {angle_words(analysis.angles_deg[i])} lies far from the "
        "others: a typing slip, or a keyway or hole under the indicator?"
        for i in analysis.suspects
    ]
    if analysis.larger_than_work and job.diameter_mm is not None:
        found.append(
            f"An eccentricity of {say(analysis.eccentricity_mm)} cannot be on a diameter of {say(job.diameter_mm)}: "
            "is a reading, its unit or the diameter wrong? No move is given."
        )
    return tuple(found)


def remarks(analysis: Analysis, job: RunoutJob, say: Say) -> tuple[str, ...]:
    """Return what these readings cannot tell, and what was done to them, one sentence each."""
    return (*_doubts(analysis, say), *alias_remarks(analysis), *_corrections(analysis, job, say))


def alias_words(angles_deg: Sequence[float], absent: Collection[int] = ()) -> str:
    """Say which forms readings at these marks [deg] take for eccentricity, "" where none; not those of `absent`."""
    mistaken = []
    for lobes, name in _PARTS.items():
        share = alias_share(angles_deg, lobes)
        if share > _HEARD_FROM and lobes not in absent:
            how_much = "all of it" if share > 0.995 else f"{100 * share:.0f} % of it"
            mistaken.append(f"{name}, {how_much}")
    if not mistaken:
        return ""
    return f"With these {len(angles_deg)} readings this reads as eccentricity: {'; '.join(mistaken)}. More marks tell."


def lobes_words(analysis: Analysis, say: Say) -> str:
    """Say how oval and how three-lobed the work is, where that can be told from the scatter; "" where not."""
    found = []
    names = (
        ("waved twice a turn", "waved three times a turn") if analysis.surface == "face" else ("oval", "three-lobed")
    )
    for lobes, name in zip((analysis.oval, analysis.three_lobes), names, strict=True):
        if lobes is not None and is_significant(lobes):
            found.append(f"{name} by {say(lobes.height_mm)}, high at {angle_words(lobes.high_deg)}")
    return "; ".join(found)


def is_significant(lobes: Lobes) -> bool:
    """Tell whether lobes stand out from the scatter of the readings."""
    return lobes.height_mm > 2 * lobes.error_mm


def _doubts(analysis: Analysis, say: Say) -> Iterator[str]:
    count = len(analysis.readings_mm)
    if analysis.below_indicator:
        yield (
            f"The eccentricity of {say(analysis.eccentricity_mm)} is already below what the indicator can tell "
            f"({say(2 * analysis.error_mm)}): its direction means nothing."
        )
    elif (within_deg := analysis.high_spot_within_deg) is not None and within_deg > VAGUE_DEG:
        yield f"The eccentricity is so small that the high spot is known to ± {number_text(within_deg, 0)}° only."
    if count < FOR_OVAL:
        yield (
            f"{count} readings find the offset but tell next to nothing of form: "
            "8 tell oval from offset, 12 show which way three lobes lie."
        )
    elif analysis.oval is None or (count >= FOR_THREE_LOBES and analysis.three_lobes is None):
        yield "These marks lie too unevenly to tell lobes from offset."


def alias_remarks(analysis: Analysis) -> Iterator[str]:
    """Yield what could be taken for eccentricity; and for lobes, where lobes were found."""
    angles, count = analysis.angles_deg, len(analysis.angles_deg)
    told = {2: analysis.oval, 3: analysis.three_lobes}
    # Lobes that could be told and are not there cannot be mistaken for anything.
    absent = {order for order, lobes in told.items() if lobes is not None and not is_significant(lobes)}
    if not analysis.below_indicator and (words := alias_words(angles, absent)):
        yield words
    seen = [(analysis.oval, (1, 2), "oval"), (analysis.three_lobes, (1, 2, 3), "three-lobed")]
    for shape, orders, word in seen:
        if shape is None or not is_significant(shape):
            continue
        for lobes, name in _PARTS.items():
            if lobes > orders[-1] and alias_share(angles, lobes, orders) > _HEARD_FROM:
                yield f"With these {count} readings {name} reads as {word} too."


def _corrections(analysis: Analysis, job: RunoutJob, say: Say) -> Iterator[str]:
    if abs(analysis.drift_mm) > SMALL_DRIFT_GRADUATIONS * analysis.graduation_mm * (1 + 1e-9):
        yield (
            f"The closing reading is {say(analysis.drift_mm)} off, which was spread over the turn; "
            "it may be a slip of the indicator: tighten its holder and read again if it matters."
        )
    if analysis.limacon_mm:
        most = max(analysis.limacon_mm) - min(analysis.limacon_mm)
        yield (
            f"So large an offset makes round work look oval, here by {say(most)}: that is taken out. "
            "Centre it first, then judge roundness."
        )
    if job.surface == "face" and job.diameter_mm is None:
        yield "Without diameter, where the indicator circles, neither wobble nor shims can be told."
    if job.stylus_deg:
        angle = number_text(job.stylus_deg, 1)
        yield f"Readings are taken times the cosine of the stylus angle of {angle}°: a lever reads too much."


SEATED_AGAIN = ("screwed on", "between centres")
"""Holdings that have nothing to move: another round is read after seating the work anew."""


def seating_words(rounds: Sequence[Analysis], say: Callable[[float], str]) -> str:
    """Say whether the runout of work that was seated anew each time repeats, with the figures of every round.

    rounds: one turn each, oldest first, two at least [-]. Common practice, no source.
    """
    found = "; ".join(_figures(analysis, say) for analysis in rounds)
    apart = max(
        hypot(one.work_off_mm[0] - other.work_off_mm[0], one.work_off_mm[1] - other.work_off_mm[1])
        for one, other in combinations(rounds, 2)
    )
    told = max(2 * 2**0.5 * analysis.error_mm for analysis in rounds)
    if all(analysis.below_indicator for analysis in rounds):
        return f"Seated {len(rounds)} times: {found}. It runs true every time, as far as this indicator can tell."
    if apart <= told:
        return f"Seated {len(rounds)} times: {found}. It repeats, so it belongs to the work: true it in place."
    more = "" if len(rounds) > 2 else " Seat it once more to be sure."
    return (
        f"Seated {len(rounds)} times: {found}. It differs by {say(apart)}, so the seat has its part in it: look for "
        f"dirt and burrs on thread and faces.{more}"
    )


def _figures(analysis: Analysis, say: Callable[[float], str]) -> str:
    high = "" if analysis.below_indicator else f" at {angle_words(analysis.high_spot_deg)}"
    return f"{say(analysis.eccentricity_mm)}{high}"
