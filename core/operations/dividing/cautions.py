"""What to warn of when the circle is divided. Common practice, no source, unless a figure says otherwise."""

import math
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from core.cutting import Infeed
from core.lathe.lathe import Lathe, dial_words
from core.operations.dividing.compound import compound_words
from core.operations.dividing.division import Dividing, compound_move, repeated_step_cost_deg
from core.operations.dividing.words import overshoot_words, side_of
from core.plan import Step
from core.values.angles import amount_text, arcsec_text

TABLE_ROUND = "Turn the table once round by hand first: clamps, jaws and crank must clear."
SPINDLE_STOPPED = "Take the tool clear and stop the spindle before you turn the table."
LOCK_ALL = "Lock table, carriage, slide for the cut. Unlocked, the table turns under it."


def off_words(dividing: Dividing, radius_mm: float | None, lathe: Lathe) -> str:
    """Return the worst error of a pattern in words, at the radius of the work where it is known [mm]."""
    worst = dividing.worst_error_deg
    words = arcsec_text(worst)
    return words if radius_mm is None else f"{words} ({lathe.length_text(arc_mm(worst, radius_mm))} at the work)"


def arc_mm(angle_deg: float | Fraction, radius_mm: float) -> float:
    """Return the length of a small angle at a radius [mm].

    >>> round(arc_mm(1.0, 57.29577951), 6)
    1.0
    """
    return math.radians(angle_deg) * radius_mm


def dividing_cautions(dividing: Dividing, even: bool, radius_mm: float | None, lathe: Lathe) -> list[str]:
    """Return what is to be said of the errors of a pattern, grave ones first."""
    found = []
    if dividing.worst_error_deg and dividing.way == "plate":
        found.append(
            f"No single circle divides this exactly; on the {dividing.circle} circle the worst position is "
            f"{off_words(dividing, radius_mm, lathe)} off."
        )
        found += _exact_movement(dividing, even)
    cost = repeated_step_cost_deg(dividing) if even and dividing.count > 1 else Fraction(0)
    if cost:
        found.append(
            f"Never repeat one rounded step: after {dividing.count} of them you would be {amount_text(cost)} "
            f"{'past' if cost > 0 else 'short of'} the start. Here each position is counted from zero."
        )
    return found


def _exact_movement(dividing: Dividing, even: bool) -> list[str]:
    if dividing.both_circles is None:
        return ["No two circles of one plate are exact together either."]
    first, second = dividing.both_circles
    move = compound_move(dividing, dividing.positions[-1], dividing.positions[-2]) if dividing.count > 1 else None
    if move is None or not even:
        return [f"Exact with the circles {first} and {second} together, as each position says."]
    return [f"Exact with both circles of one plate, each time from the last: {compound_words(move)}."]


def coarse_mark(infeed: Infeed, cut_mm: float, lathe: Lathe) -> list[str]:
    """Say so where one mark of the depth dial is more than the cut wanted [mm]."""
    if infeed.mark_mm <= cut_mm * (1 + 1e-9):
        return []
    name = dial_words(infeed.dial.name)
    return [
        f"One mark of the {name} is {lathe.length_text(infeed.mark_mm)} deep, more than the cut of "
        f"{lathe.length_text(cut_mm)}."
    ]


def play_caution(dividing: Dividing) -> str:
    """Say from which side every position is reached, and how an overshoot is mended."""
    if dividing.way == "direct":
        return "The latch must be right home in its notch before the table is locked."
    return f"Reach every position {side_of(dividing).side}. {overshoot_words(dividing.table, dividing.falling)}"


def warned(steps: Iterable[Step]) -> list[Step]:
    """Return the steps of a pattern, the first turn of the table and the first cut with what to beware of there."""
    found = list(steps)
    for action, caution in (("index", SPINDLE_STOPPED), ("cut", LOCK_ALL)):
        index = next((index for index, step in enumerate(found) if step.action == action), None)
        if index is not None:
            found[index] = replace(found[index], cautions=(*found[index].cautions, caution))
    return found
