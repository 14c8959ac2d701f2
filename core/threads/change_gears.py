"""Change gears: the trains of two and four wheels that come nearest to a lead.

lead = leadscrew pitch x fixed ratio x drivers / driven. Wheels are written in the
order in which they mesh: the first driver with the first driven, that one on one
arbor with the second driver, the last driven on the leadscrew. An idler between two
wheels fills the room and changes the direction, never the lead.
"""

import heapq
from bisect import bisect_left
from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import combinations, permutations
from math import prod
from typing import NamedTuple

from core.errors import PlanError

ROOM_TEETH = 15
"""Teeth by which two meshing wheels must outreach the one beside them, to clear its arbor."""

Wheels = tuple[int, ...]


class Train(NamedTuple):
    """Wheels by tooth count, in the order in which they mesh, and what they cut."""

    drivers: Wheels
    driven: Wheels
    lead_mm: float
    error_ppm: float
    """(cut - wanted) / wanted x 10^6; exactly 0 for an exact train and no other."""


def best_trains(
    wanted_lead: Fraction,
    screw_pitch: Fraction,
    wheels: Wheels,
    fixed_ratio: Fraction = Fraction(1),
    most: int = 10,
    sizes: tuple[int, ...] = (2, 4),
    starts: int = 1,
) -> tuple[Train, ...]:
    """Return the trains with the least error, best first, of all that there are.

    Every wheel is used once (a count that stands twice in `wheels` is two wheels), and
    four wheels must have room to mesh. The same wheels as drivers and the same as driven
    are one train, in the order with most room. Of equal errors a train that can index the
    starts comes first: the teeth of its first driver divide by them. Then the one with
    fewer wheels, then the one with fewer teeth.
    wanted_lead, screw_pitch: [mm], exact, above 0; wheels: owned [teeth], above 0;
    fixed_ratio: turns of the first driver for one of the spindle [-], above 0;
    most: trains wanted [-], 1 or more; sizes: wheels of a train [-]; starts: of the thread [-], 1 or more.
    Fewer than two wheels give ().
    Raises PlanError for a value out of range.
    Source: ratios from first principles; room to mesh is common practice, no source.

    >>> [train.driven for train in best_trains(Fraction(3), Fraction(254, 80), (127, 60, 120), most=1)]
    [(127,)]
    """
    _refuse_not_above_0("lead", wanted_lead)
    _refuse_not_above_0("leadscrew", screw_pitch)
    _refuse_not_above_0("fixed_ratio", fixed_ratio)
    _refuse_not_above_0("most", most)
    _refuse_not_above_0("change_gears", *wheels)
    wanted = wanted_lead / (screw_pitch * fixed_ratio)
    trains = list(_two_wheel_trains(wanted, wheels)) if 2 in sizes else []
    trains += _four_wheel_trains(wanted, wheels, most, starts) if 4 in sizes else []
    trains.sort(key=lambda found: (found[0], found[1][0] % starts != 0, len(found[1]), sum(found[1] + found[2]), found))
    return tuple(_train(drivers, driven, wanted, wanted_lead) for _, drivers, driven in trains[:most])


def length_error_mm(train: Train, wanted_lead: Fraction, length_mm: float) -> float:
    """Return how much too long (+) or short (-) the thread comes out over a length [mm].

    wanted_lead: [mm], exact, above 0; length_mm: of thread [mm].
    Source: length / wanted turns, each (cut - wanted) out.

    >>> train = Train(drivers=(40,), driven=(39,), lead_mm=2.002, error_ppm=1000.0)
    >>> round(length_error_mm(train, Fraction(2), 50), 6)
    0.05
    """
    wanted_mm = float(wanted_lead)
    return length_mm * (train.lead_mm - wanted_mm) / wanted_mm


def train_words(train: Train) -> str:
    """Return how a train is set up: "40 drives 60, 50 drives 75".

    >>> train_words(Train(drivers=(40,), driven=(60,), lead_mm=2.0, error_ppm=0.0))
    '40 drives 60'
    """
    pairs = zip(train.drivers, train.driven, strict=True)
    return ", ".join(f"{driver} drives {driven}" for driver, driven in pairs)


def error_words(train: Train) -> str:
    """Return the error in parts per million, "exact" where there is none.

    >>> error_words(Train(drivers=(40,), driven=(39,), lead_mm=2.002, error_ppm=1000.0))
    '+1000 ppm'
    """
    return "exact" if train.error_ppm == 0 else f"{train.error_ppm:+.{0 if abs(train.error_ppm) >= 100 else 1}f} ppm"


def idler_words(train: Train, *, left_hand: bool) -> str:
    """Return what turns the leadscrew the right way, as a sentence; idlers never change the lead.

    Source: wheels in mesh turn opposite ways; common practice, no source, for the tumbler.

    >>> idler_words(Train(drivers=(40,), driven=(60,), lead_mm=2.0, error_ppm=0.0), left_hand=False)
    'Fill the gap between the two wheels with one idler of any size.'
    """
    if len(train.drivers) == 1:
        words = "Fill the gap between the two wheels with one idler of any size"
        reversing = "two idlers in its place"
    else:
        words = "Four wheels turn the leadscrew as two with one idler do"
        reversing = "one idler in either mesh"
    if not left_hand:
        return f"{words}."
    return f"{words}; for the left-hand thread reverse the leadscrew by the tumbler, or by {reversing}."


def _two_wheel_trains(wanted: Fraction, wheels: Wheels) -> Iterator[tuple[float, Wheels, Wheels]]:
    """All trains of two wheels, with their errors."""
    for driver, driven in set(permutations(wheels, 2)):
        yield _error(driver, driven, wanted.numerator, wanted.denominator), (driver,), (driven,)


def _four_wheel_trains(
    wanted: Fraction, wheels: Wheels, most: int, starts: int
) -> Iterator[tuple[float, Wheels, Wheels]]:
    """The `most` best trains of four wheels and all that equal the last of them, with their errors."""
    pairs = sorted(set(combinations(sorted(wheels), 2)), key=prod)
    found, last_error = 0, 0.0
    for error, drivers, driven in _by_error(wanted, pairs):
        if found >= most and error > last_error:
            return
        in_order = _in_best_order(drivers, driven, starts)
        if _are_owned((*drivers, *driven), wheels) and _room_teeth(*in_order) >= ROOM_TEETH:
            found, last_error = found + 1, error
            yield error, *in_order


def _by_error(
    wanted: Fraction, pairs: list[tuple[int, int]]
) -> Iterable[tuple[float, tuple[int, int], tuple[int, int]]]:
    """Combine every pair of drivers with every pair of driven wheels, the least error first.

    `pairs` is sorted by product, so that from the ideal product of the driven wheels
    outwards, up or down, the error only grows: two sorted rows for each pair of
    drivers, of which only as much is worked out as is asked for.
    """
    products = [first * second for first, second in pairs]
    above, below = wanted.numerator, wanted.denominator

    def row(at: int, places: range) -> Iterator[tuple[float, tuple[int, int], tuple[int, int]]]:
        for place in places:
            yield _error(products[at], products[place], above, below), pairs[at], pairs[place]

    rows = []
    for at, product in enumerate(products):
        ideal = bisect_left(products, -(-product * below // above))
        rows += [row(at, range(ideal, len(pairs))), row(at, range(ideal - 1, -1, -1))]
    return heapq.merge(*rows)


def _error(drivers: int, driven: int, above: int, below: int) -> float:
    """Relative error, without sign, of a ratio drivers / driven against above / below.

    Whole numbers up to the one division: equal errors are equal, an exact train has 0.
    """
    return abs(drivers * below - driven * above) / (driven * above)


def _in_best_order(drivers: tuple[int, int], driven: tuple[int, int], starts: int) -> tuple[Wheels, Wheels]:
    """Return which driver and which driven wheel come first; the ratio is the same.

    One that can index the starts and has room comes before all; then the one with most room.
    """
    orders = [(first, second) for first in (drivers, drivers[::-1]) for second in (driven, driven[::-1])]

    def rank(order: tuple[Wheels, Wheels]) -> tuple[bool, int]:
        room = _room_teeth(*order)
        return starts > 1 and room >= ROOM_TEETH and order[0][0] % starts == 0, room

    return max(orders, key=rank)


def _room_teeth(drivers: Wheels, driven: Wheels) -> int:
    """The lesser of the two distances, in teeth, of a wheel's rim from the arbor beside its mesh."""
    return min(drivers[0] + driven[0] - drivers[1], drivers[1] + driven[1] - driven[0])


def _are_owned(train: Wheels, wheels: Wheels) -> bool:
    return all(train.count(teeth) <= wheels.count(teeth) for teeth in train)


def _train(drivers: Wheels, driven: Wheels, wanted: Fraction, wanted_lead: Fraction) -> Train:
    cut_to_wanted = Fraction(prod(drivers), prod(driven)) / wanted
    return Train(
        drivers=drivers,
        driven=driven,
        lead_mm=float(wanted_lead * cut_to_wanted),
        error_ppm=float((cut_to_wanted - 1) * 10**6),
    )


def _refuse_not_above_0(field: str, *numbers: Fraction | int) -> None:
    for number in numbers:
        if not number > 0:
            name = field.replace("_", " ")
            raise PlanError(f"{name}: found {number}; accepted is a number above 0", field=field)
