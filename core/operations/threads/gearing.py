"""The ways in which a lathe cuts a lead: by its gearbox or by change gears, with half nuts that open or stay closed.

lead = leadscrew pitch x fixed ratio x drivers / driven. Wheels are listed in the order in which they mesh. The first
driver meshes with the first driven wheel, which shares an arbor with the second driver. The last driven wheel is on the
leadscrew. An idler between two wheels fills the gap and reverses the direction, but never changes the lead.
"""

from bisect import bisect_left
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from heapq import heapify, heappop, heapreplace
from itertools import combinations, groupby, product
from math import prod
from operator import itemgetter
from typing import NamedTuple

from core.lathe.lathe import Lathe
from core.operations.threads.thread_dial import DialUse, nut_stays_closed, thread_dial_uses
from core.values.errors import PlanError

ROOM_TEETH = 15
"""How many teeth two meshing wheels must have beyond a neighbouring wheel, to clear its arbor."""

Wheels = tuple[int, ...]
_Match = tuple[float, Wheels, Wheels]
"""A train that comes near the lead: its error, then its drivers and driven wheels in the order in which they mesh."""


class Train(NamedTuple):
    """A train of change gears: its tooth counts in the order of meshing, and the lead that it cuts."""

    drivers: Wheels
    driven: Wheels
    lead_mm: float
    error_ppm: float
    """(cut - wanted) / wanted x 10^6. The value is 0 only for a train that cuts the lead exactly."""


def best_trains(
    wanted_lead: Fraction,
    screw_pitch: Fraction,
    wheels: Wheels,
    fixed_ratio: Fraction = Fraction(1),
    most: int = 10,
    sizes: tuple[int, ...] = (2, 4),
    starts: int = 1,
) -> tuple[Train, ...]:
    """Return the trains of change gears that come nearest to a lead, the smallest error first.

    Every entry of `wheels` is one wheel. A tooth count listed twice means two wheels. A train of four wheels must have
    room to mesh. Trains with the same drivers and driven wheels count as one train, in the order with the most room.
    Among trains with equal errors, those that can index the starts come first: the number of starts divides the teeth
    of the first driver. Then come trains with fewer wheels, then trains with fewer teeth.
    wanted_lead, screw_pitch: the wanted lead and the pitch of the leadscrew, exact and above 0 [mm]; wheels: tooth
    counts of the owned wheels, above 0;
    fixed_ratio: turns of the first driver for one turn of the spindle, above 0;
    most: the largest number of trains to return, 1 or more; sizes: the numbers of wheels that a train may have;
    starts: the number of starts of the thread, 1 or more.
    Return () for fewer than two wheels. Raise PlanError for a lead, pitch, tooth count, ratio or `most` that is not
    above 0.
    Source: the ratios follow from first principles. The room to mesh is common practice, without a source.

    >>> [train.driven for train in best_trains(Fraction(3), Fraction(254, 80), (127, 60, 120), most=1)]
    [(127,)]
    """
    _refuse_not_above_0("lead", wanted_lead)
    _refuse_not_above_0("leadscrew", screw_pitch)
    _refuse_not_above_0("fixed_ratio", fixed_ratio)
    _refuse_not_above_0("most", most)
    _refuse_not_above_0("change_gears", *wheels)
    wanted = wanted_lead / (screw_pitch * fixed_ratio)
    trains = [train for size in sizes for train in _trains_of(size, wanted, wheels, most, starts)]
    trains.sort(key=lambda match: (match[0], match[1][0] % starts != 0, len(match[1]), sum(match[1] + match[2]), match))
    return tuple(_train(drivers, driven, wanted, wanted_lead) for _, drivers, driven in trains[:most])


def length_error_mm(train: Train, wanted_lead: Fraction, length_mm: float) -> float:
    """Return how much too long (+) or too short (-) a thread becomes over its length because of the train's lead error
    [mm].

    wanted_lead: the exact lead [mm]; length_mm: the length of the thread [mm].
    Source: the number of turns in the length, times the error of the lead in one turn.

    >>> train = Train(drivers=(40,), driven=(39,), lead_mm=2.002, error_ppm=1000.0)
    >>> round(length_error_mm(train, Fraction(2), 50), 6)
    0.05
    """
    wanted_mm = float(wanted_lead)
    return length_mm * (train.lead_mm - wanted_mm) / wanted_mm


def error_words(train: Train) -> str:
    """Return a train's lead error as text, in parts per million; "exact" if there is no error.

    >>> error_words(Train(drivers=(40,), driven=(39,), lead_mm=2.002, error_ppm=1000.0))
    '+1000 ppm'
    """
    return "exact" if train.error_ppm == 0 else f"{train.error_ppm:+.{0 if abs(train.error_ppm) >= 100 else 1}f} ppm"


def idler_words(train: Train, *, left_hand: bool) -> str:
    """Return the instruction for fitting the idlers that make the leadscrew turn in the right direction for a thread.

    Source: two meshing wheels turn in opposite directions. The use of the tumbler is common practice, without a source.

    >>> idler_words(Train(drivers=(40,), driven=(60,), lead_mm=2.0, error_ppm=0.0), left_hand=False)
    'Fill the gap between the two wheels with one idler, which may have any number of teeth.'
    """
    if len(train.drivers) == 1:
        words = "Fill the gap between the two wheels with one idler, which may have any number of teeth"
        reversing = "two idlers instead"
    else:
        words = "Four wheels turn the leadscrew in the same direction as two wheels with one idler"
        reversing = "one idler in either mesh"
    if not left_hand:
        return f"{words}."
    return f"{words}. For the left-hand thread, reverse the leadscrew with the tumbler, or fit {reversing}."


class _Products(NamedTuple):
    """All products of tooth counts that the drivers, or the driven wheels, of a train can have."""

    sizes: tuple[int, ...]
    """The products in rising order."""
    wheels: tuple[tuple[Wheels, ...], ...]
    """For each product in `sizes`, the combinations of wheels with that product."""


@lru_cache(maxsize=8)
def _products(wheels: Wheels, count: int) -> _Products:
    """Return the products of the tooth counts of all combinations of `count` wheels. `wheels` must be sorted, the
    smallest first.
    """
    by_size: dict[int, list[Wheels]] = {}
    for chosen in sorted(set(combinations(wheels, count))):
        by_size.setdefault(prod(chosen), []).append(chosen)
    return _Products(tuple(sorted(by_size)), tuple(tuple(by_size[size]) for size in sorted(by_size)))


def _trains_of(size: int, wanted: Fraction, wheels: Wheels, most: int, starts: int) -> Iterator[_Match]:
    """Yield the `most` best trains of `size` wheels, and every further train whose error equals that of the last one.

    `wanted`: the wanted ratio of drivers to driven wheels.
    """
    products = _products(tuple(sorted(wheels)), size // 2)
    count = 0
    for error, places in groupby(_by_error(wanted, products.sizes), key=itemgetter(0)):
        pairs = [(products.wheels[at], products.wheels[place]) for _, at, place in places]
        for drivers, driven in _owned(pairs, wheels, most - count, starts):
            count += 1
            yield error, drivers, driven
        if count >= most:
            return


def _by_error(wanted: Fraction, sizes: tuple[int, ...]) -> Iterator[tuple[float, int, int]]:
    """Yield pairs of a drivers' product and a driven wheels' product, the smallest error first.

    Each result is the error, the index of the drivers' product in `sizes`, and the index of the driven wheels' product.
    For each product of the drivers, the error grows on both sides of the ideal product of the driven wheels. So each
    has two sequences of rising errors, which are calculated one entry at a time.
    """
    # Only the last step divides. Before it all numbers are whole, so equal errors are equal and an exact train has 0.
    driven = [size * wanted.numerator for size in sizes]
    rows = []
    for at, size in enumerate(sizes):
        drivers = size * wanted.denominator
        ideal = bisect_left(driven, drivers)
        if ideal < len(sizes):
            rows.append(((driven[ideal] - drivers) / driven[ideal], at, ideal, 1))
        if ideal > 0:
            rows.append(((drivers - driven[ideal - 1]) / driven[ideal - 1], at, ideal - 1, -1))
    heapify(rows)
    while rows:
        error, at, place, step = rows[0]
        yield error, at, place
        place += step
        if 0 <= place < len(sizes):
            drivers = sizes[at] * wanted.denominator
            heapreplace(rows, (abs(drivers - driven[place]) / driven[place], at, place, step))
        else:
            heappop(rows)


def _owned(
    pairs: list[tuple[tuple[Wheels, ...], tuple[Wheels, ...]]], wheels: Wheels, most: int, starts: int
) -> Iterator[tuple[Wheels, Wheels]]:
    """Yield the trains among `pairs` of equal error that need only owned wheels and have room to mesh.

    There may be thousands of such trains. Those with fewer teeth come first. The function stops soon after `most`
    trains that can index the thread's starts.
    """
    trains = [train for drivers, driven in pairs for train in product(drivers, driven)]
    trains.sort(key=_teeth)
    indexing = 0
    for _, as_many_teeth in groupby(trains, key=_teeth):
        for drivers, driven in as_many_teeth:
            if not _are_owned(drivers + driven, wheels):
                continue
            in_order = _in_best_order(drivers, driven, starts) if len(drivers) > 1 else (drivers, driven)
            if len(drivers) == 1 or _room_teeth(*in_order) >= ROOM_TEETH:
                indexing += in_order[0][0] % starts == 0
                yield in_order
        if indexing >= most:
            return


def _teeth(train: tuple[Wheels, Wheels]) -> int:
    return sum(train[0]) + sum(train[1])


def _in_best_order(drivers: Wheels, driven: Wheels, starts: int) -> tuple[Wheels, Wheels]:
    """Return drivers and driven wheels in their best order of meshing, which does not change the ratio.

    The best orders have room to mesh and can index the starts. Of these, the order with the most room is chosen.
    """
    orders = [(first, second) for first in (drivers, drivers[::-1]) for second in (driven, driven[::-1])]

    def rank(order: tuple[Wheels, Wheels]) -> tuple[bool, int]:
        room = _room_teeth(*order)
        return starts > 1 and room >= ROOM_TEETH and order[0][0] % starts == 0, room

    return max(orders, key=rank)


def _room_teeth(drivers: Wheels, driven: Wheels) -> int:
    """Return the smallest gap, in teeth, between the rim of a wheel and the arbor that it must clear in a train of four
    wheels.
    """
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
            name = field.replace("_", " ").removesuffix("s")
            raise PlanError(f"A {name} of {number} is not possible. Enter a number above 0.", field=field)


_BEST = 3
"""How many trains of two wheels and how many trains of four wheels to offer."""
_NEAR_PPM = 5000
"""A train with a larger error cuts a thread that no nut fits: 0.5 %, common practice, no source."""

STEP_UP = Fraction(3, 2)
"""From this many leadscrew turns per spindle turn, the gears are strained. Common practice, no source."""


class Gearing(NamedTuple):
    """The ways in which one lathe can cut one lead: by its gearbox or by change gears, with the usable lines of the
    thread dial.
    """

    in_gearbox: bool
    trains: tuple[Train, ...]
    """The trains, best first; () if the gearbox has the lead, or the lathe file has no change gears."""
    dial_uses: tuple[DialUse, ...]
    """The usable lines of each wheel of the thread dial, the best wheel first."""
    nut_stays_closed: bool
    """True unless the lathe file describes equipment that allows the half nuts to be opened."""

    @property
    def exact(self) -> bool:
        """True if the lathe cuts the lead without error, or if its gears are not known."""
        return not self.trains or self.trains[0].error_ppm == 0


def gearing(lead: Fraction, lathe: Lathe, starts: int = 1) -> Gearing:
    """Return how this lathe cuts a lead: by gearbox or change gears, and on which lines of the thread dial.

    lead: the exact lead [mm]; starts: the number of starts of the thread. Among equally exact trains, those that can
    index the starts come first.
    """
    screw = lathe.leadscrew_mm
    if screw is None:
        return Gearing(in_gearbox=lead in lathe.gearbox_mm, trains=(), dial_uses=(), nut_stays_closed=True)
    gears = lathe.change_gears
    in_gearbox = lead in lathe.gearbox_mm
    trains: tuple[Train, ...] = ()
    if gears is not None and not in_gearbox:
        trains = _trains(lead, screw, gears.teeth, gears.fixed_ratio, (2, 4), starts)
    exact = not trains or trains[0].error_ppm == 0
    wheels = lathe.thread_dial.wheels if lathe.thread_dial else ()
    return Gearing(
        in_gearbox=in_gearbox,
        trains=trains,
        dial_uses=thread_dial_uses(lead, screw, wheels, exact=exact),
        nut_stays_closed=nut_stays_closed(lead, screw, wheels, exact=exact),
    )


def step_up_ratio(lead: Fraction, lathe: Lathe) -> float | None:
    """Return the leadscrew turns per spindle turn if there are so many that the gears are strained; otherwise None."""
    screw, gears = lathe.leadscrew_mm, lathe.change_gears
    if screw is None or gears is None or lead in lathe.gearbox_mm or lead < STEP_UP * screw:
        return None
    return float(lead / screw)


def best_trains_of_size(size: int, lead: Fraction, lathe: Lathe, starts: int = 1) -> tuple[Train, ...]:
    """Return up to three trains of `size` wheels that come nearest to a lead, for the user to choose from.

    `starts`: the number of starts of the thread.
    """
    screw, gears = lathe.leadscrew_mm, lathe.change_gears
    if screw is None or gears is None:
        return ()
    trains = _trains(lead, screw, gears.teeth, gears.fixed_ratio, (size,), starts)
    return tuple(train for train in trains[:_BEST] if abs(train.error_ppm) <= _NEAR_PPM)


@lru_cache(maxsize=1_000)
def _trains(
    lead: Fraction, screw: Fraction, teeth: tuple[int, ...], ratio: Fraction, sizes: tuple[int, ...], starts: int = 1
) -> tuple[Train, ...]:
    """Return the trains for a lead, from a cache if they have been calculated before.

    The step count, the plan, the figures and the screen of an operation all need these trains.
    """
    # A first driver must turn with the spindle, turn for turn, to index the starts.
    return best_trains(lead, screw, teeth, ratio, sizes=sizes, starts=starts if ratio == 1 else 1)
