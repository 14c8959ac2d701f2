"""Work taken off and seated again, several times: does its runout repeat, or does the seat decide?"""

from collections.abc import Callable, Sequence
from itertools import combinations
from math import hypot

from core.operations.runout.analysis import Analysis
from core.operations.runout.job import angle_words

REFITTED = ("screwed on", "between centres")
"""Holdings that have nothing to move: another round is read after seating the work anew."""


def refit_words(rounds: Sequence[Analysis], say: Callable[[float], str]) -> str:
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
