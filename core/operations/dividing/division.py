"""Divides a full turn into exact positions, and finds the rotary table's setting at each position and the best means of
setting: dial, plate or notches.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from math import lcm
from typing import Literal, NamedTuple

from core.lathe.lathe import RotaryTable
from core.operations.dividing.handle_dial import (
    TABLE,
    dial_setting,
    handle_turns,
    nearest_mark_deg,
    smallest_deg,
    table_dial,
)
from core.operations.dividing.plates import (
    Circle,
    Compound,
    best_circles,
    compound_on,
    compound_pairs,
    direct_index_plates,
    nearest_hole,
)
from core.plan import AnySetting, PlateSetting
from core.values.angles import amount_text
from core.values.errors import PlanError

FULL_CIRCLE = Fraction(360)
MOST_DIVISIONS = 2_000


def even_targets_deg(
    divisions: int, start_deg: Fraction = Fraction(0), *, falling: bool = False
) -> tuple[Fraction, ...]:
    """Return the exact angles [deg] of `divisions` evenly spaced positions, counted from a start angle.

    `falling`: True if the numbers on the table's scale go down from one position to the next.

    >>> [str(angle) for angle in even_targets_deg(7)][:3]
    ['0', '360/7', '720/7']
    """
    step = FULL_CIRCLE / divisions * (-1 if falling else 1)
    return tuple(start_deg + step * number for number in range(divisions))


def listed_targets_deg(
    angles_deg: Sequence[Fraction], start_deg: Fraction = Fraction(0), *, falling: bool = False
) -> tuple[Fraction, ...]:
    """Return the table angles [deg] of listed positions in the order of the list, with a start angle added to each.

    `falling`: True if the numbers on the table's scale go down from one position to the next.
    """
    return tuple(start_deg - angle if falling else start_deg + angle for angle in angles_deg)


def repeated_deg(angles_deg: Sequence[Fraction]) -> Fraction | None:
    """Return the first angle [deg] in a list that repeats an earlier position; None if all positions differ.

    >>> repeated_deg([Fraction(0), Fraction(90), Fraction(360)])
    Fraction(360, 1)
    """
    seen: set[Fraction] = set()
    for angle in angles_deg:
        if angle % FULL_CIRCLE in seen:
            return angle
        seen.add(angle % FULL_CIRCLE)
    return None


def whole_degree_divisions() -> tuple[int, ...]:
    """Return every number of divisions whose step is a whole number of degrees. These are the 24 divisors of 360."""
    return tuple(number for number in range(1, 361) if 360 % number == 0)


HALF_CIRCLE = 180
Means = Literal["dial", "plate", "direct"]
MEANS: tuple[Means, ...] = ("dial", "plate", "direct")


class Position(NamedTuple):
    """One position of the rotary table: its number, from 1, and its exact wanted and set angles from the table's zero
    [deg].
    """

    number: int
    wanted_deg: Fraction
    set_deg: Fraction

    @property
    def error_deg(self) -> Fraction:
        """The set angle minus the wanted angle [deg], exact."""
        return self.set_deg - self.wanted_deg


@dataclass(frozen=True, kw_only=True)
class Dividing:
    """The positions of one layer on one rotary table, all set by the same means: dial, plate or notches."""

    table: RotaryTable
    means: Means
    positions: tuple[Position, ...]
    falling: bool = False
    circle: int | None = None
    """The number of holes in the hole circle, or of notches in the plate, used for every position."""
    plate: int | None = None
    """The number of the plate, counted from 1 in the order of the lathe file."""
    both_circles: tuple[int, int] | None = None
    """Two hole circles of one plate that are exact in combination; None if one circle is exact, or if no pair is."""
    goes_shorter_way: bool = False
    """True if the table turns in the shorter direction to each position, because the positions are in no order."""

    @property
    def count(self) -> int:
        """The number of positions."""
        return len(self.positions)

    @property
    def worst_error_deg(self) -> Fraction:
        """The largest error of any position [deg], without its sign."""
        return max(abs(position.error_deg) for position in self.positions)

    @property
    def worst_neighbour_error_deg(self) -> Fraction:
        """The largest error of the step from one position to the next [deg], including the step from last to first."""
        layer = [*self.positions, self.positions[0]]
        return max(abs(after.error_deg - before.error_deg) for before, after in pairwise(layer))

    def place_turns(self, angle_deg: Fraction) -> Fraction:
        """Return an angle [deg] in turns of the handle, or in turns of the table if the table is set by notches."""
        return angle_deg / 360 if self.means == "direct" else handle_turns(self.table, angle_deg)


def usual_means(table: RotaryTable) -> Means:
    """Return how a rotary table is usually set: by its dial, or by its plates if it has no dial, or otherwise by its
    notches.
    """
    if table.dial_graduation_deg is not None:
        return "dial"
    return "direct" if table.direct and not table.plates else "plate"


def circle_choices(table: RotaryTable, means: Means, targets_deg: Sequence[Fraction], wanted: str = "") -> list[Circle]:
    """Return the hole circles or direct-index plates that fit all target angles equally well, the usual choice first.

    Return [] for a dial, which has no circles. Raises PlanError if the table cannot be set by `means`, or if no
    direct-index plate has a notch at every target. `wanted`: how that error names the request.
    """
    if means == "dial":
        return []
    if means == "direct":
        return direct_index_plates(targets_deg, table.direct, wanted or f"{len(targets_deg)} divisions")
    return best_circles([handle_turns(table, target) for target in targets_deg], table.plates)


def divide(
    table: RotaryTable,
    means: Means,
    targets_deg: Sequence[Fraction],
    *,
    falling: bool = False,
    wanted: str = "",
    circle: Circle | None = None,
    goes_shorter_way: bool = False,
) -> Dividing:
    """Return a position for every target angle, each at the nearest mark, hole or notch.

    Every target is counted from the table's zero, so that errors do not add up. `circle`: one of `circle_choices`; None
    takes the first choice. `falling`: True if the numbers on the table's scale go down from one position to the next.
    `goes_shorter_way`: True if the table always turns in the shorter direction. Raises PlanError if the table cannot be
    set by `means`, or if no direct-index plate has a notch at every target. `wanted`: how that error names the request.
    """
    both: tuple[int, int] | None = None
    if means == "dial":
        smallest = smallest_deg(table)
        set_deg = [nearest_mark_deg(target, smallest) for target in targets_deg]
    else:
        circle = circle or circle_choices(table, means, targets_deg, wanted)[0]
    if means == "direct":
        set_deg = list(targets_deg)
    elif circle is not None:
        places, hole_deg = [handle_turns(table, target) for target in targets_deg], 360 / (table.ratio * circle.holes)
        set_deg = [nearest_hole(place, circle.holes) * hole_deg for place in places]
        both = _both_circles(table, places) if set_deg != list(targets_deg) else None
    pairs = zip(targets_deg, set_deg, strict=True)
    return Dividing(
        table=table,
        means=means,
        positions=tuple(Position(number, *pair) for number, pair in enumerate(pairs, start=1)),
        falling=falling,
        circle=None if circle is None else circle.holes,
        plate=None if circle is None else circle.plate,
        both_circles=both,
        goes_shorter_way=goes_shorter_way,
    )


def _both_circles(table: RotaryTable, places: Sequence[Fraction]) -> tuple[int, int] | None:
    """Return the pair of hole circles that reaches every position exactly with the fewest holes to count; None if no
    pair does.

    `places`: the handle turns from zero to each position.
    """
    moves = [place for place in _moves(places) if place]
    pairs = compound_pairs(lcm(*(move.denominator for move in moves)), table.plates)
    return min(pairs, key=lambda pair: _holes(moves[-1], pair), default=None)


def _moves(places: Sequence[Fraction]) -> Iterator[Fraction]:
    """Yield the move from zero to the first position, then each move to the next [turns of the handle].

    `places`: the handle turns from zero to each position.
    """
    for before, after in pairwise([Fraction(0), *places]):
        yield after - before


def _holes(move: Fraction, pair: tuple[int, int]) -> int:
    movement = compound_on(move, pair)
    return 0 if movement is None else sum(abs(holes) for holes in movement.holes)


def move_deg(dividing: Dividing, before: Position, after: Position) -> Fraction:
    """Return how far the table turns from position `before` to position `after` [deg]; below 0 if the table goes back.

    To a position with a higher number, the table turns in the direction of the positions. To the same or a lower
    number, it takes the shorter direction, which from the last position to the first is usually forward. With
    `goes_shorter_way`, it always takes the shorter direction.
    """
    same_round = before.number < after.number and not dividing.goes_shorter_way
    return _moved_deg(dividing, same_round, after.set_deg - before.set_deg)


def _moved_deg(dividing: Dividing, same_round: bool, difference_deg: Fraction) -> Fraction:
    if same_round:
        return difference_deg
    on = -difference_deg % 360 if dividing.falling else difference_deg % 360
    shorter = on if on <= HALF_CIRCLE else on - 360
    return -shorter if dividing.falling else shorter


def setting_of(dividing: Dividing, position: Position, before: Position | None) -> AnySetting:
    """Return the setting of the table at a position. `before`: the position that the table leaves; None for the table's
    zero.
    """
    if dividing.means == "dial":
        return dial_setting(table_dial(dividing.table), position.set_deg, position.wanted_deg)
    circle = dividing.circle or 1
    turns, holes = whole_and_holes(dividing.place_turns(position.set_deg), circle)
    move = None
    if before is not None:
        move = whole_and_holes(dividing.place_turns(move_deg(dividing, before, position)), circle)
    compound = compound_move(dividing, position, before)
    return PlateSetting(
        dial=TABLE,
        turns=turns,
        holes=holes,
        circle=circle,
        move=move,
        compound=None if compound is None else compound.as_data(),
    )


def whole_and_holes(place: Fraction, circle: int) -> tuple[int, int]:
    """Return a number of turns as whole turns and holes of a hole circle. `circle`: the number of holes in the circle.

    >>> whole_and_holes(Fraction(20, 9), 27)
    (2, 6)
    """
    turns = math.floor(place)
    return turns, round((place - turns) * circle)


def compound_move(dividing: Dividing, position: Position, before: Position | None) -> Compound | None:
    """Return the exact movement on two hole circles to a position; None if there is none.

    The movement starts from position `before`, or from the table's zero if `before` is None.
    """
    if dividing.both_circles is None:
        return None
    wanted = position.wanted_deg
    if before is not None:
        same_round = before.number < position.number and not dividing.goes_shorter_way
        wanted = _moved_deg(dividing, same_round, wanted - before.wanted_deg)
    return compound_on(dividing.place_turns(wanted), dividing.both_circles) if wanted else None


def repeated_step_cost_deg(dividing: Dividing) -> Fraction:
    """Return the error [deg] that would add up over a full turn if the rounded first step were repeated for every
    position.

    This is the cost of setting "12 turns and 3°26'" again and again instead of counting from zero. If the error is
    above 0, the table ends past the start. The function is for evenly spaced positions only.
    """
    step = dividing.positions[1].wanted_deg - dividing.positions[0].wanted_deg
    if not step:
        return Fraction(0)
    if dividing.means == "dial":
        rounded = nearest_mark_deg(step, smallest_deg(dividing.table))
    else:
        circle = dividing.circle or 1
        rounded = step * nearest_hole(dividing.place_turns(step), circle) / (dividing.place_turns(step) * circle)
    return (rounded - step) * dividing.count * (-1 if dividing.falling else 1)


class MeansOffered(NamedTuple):
    """One means of setting that a rotary table has (dial, plate or notches), and its largest error at the positions."""

    means: Means
    worst_deg: Fraction | None
    """Largest error of any position [deg]. None if this means cannot set the positions."""
    dividing: tuple[Dividing, ...] = ()
    """The settings for each layer of positions."""

    @property
    def words(self) -> str:
        """The means and its largest error in words, such as "dial 0°00'25.7" off", "plate exact" or "direct no
        notch".
        """
        if self.worst_deg is None:
            return f"{self.means} no notch" if self.means == "direct" else f"{self.means} not possible"
        return f"{self.means} {amount_text(self.worst_deg)} off" if self.worst_deg else f"{self.means} exact"


def means_of(table: RotaryTable) -> tuple[Means, ...]:
    """Return the means of setting that a rotary table has, the usual one first."""
    has = {"dial": table.dial_graduation_deg is not None, "plate": bool(table.plates), "direct": bool(table.direct)}
    return tuple(means for means in MEANS if has[means])


@lru_cache(maxsize=4)
def means_offered(table: RotaryTable, patterns: tuple[tuple[Fraction, ...], ...]) -> tuple[MeansOffered, ...]:
    """Return the means of setting a table: exact ones first, then by largest error, and last those that cannot set the
    positions.

    `patterns`: for each layer, the angles of its positions from the table's zero [deg].

    >>> table = RotaryTable(ratio=Fraction(40), dial_graduation_deg=Fraction(1, 60), plates=((21, 23),))
    >>> [offered.words for offered in means_offered(table, ((Fraction(360, 7),),))]
    ['plate exact', 'dial 0°00\\'17.1" off']
    """
    offered = [_offered(table, means, patterns) for means in means_of(table)]
    return tuple(sorted(offered, key=lambda one: (one.worst_deg is None, one.worst_deg or 0)))


def _offered(table: RotaryTable, means: Means, patterns: tuple[tuple[Fraction, ...], ...]) -> MeansOffered:
    try:
        layers = tuple(divide(table, means, targets) for targets in patterns)
    except PlanError:
        return MeansOffered(means, None)
    return MeansOffered(means, max(dividing.worst_error_deg for dividing in layers), layers)
