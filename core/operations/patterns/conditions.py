"""Works out one or two of count, offset and circle radius from the properties wanted in the finished work.

D is the true distance between the axes, r the circle radius to the cutter's point, and w the groove's width at the
face:

    meet, overlap, land   2 D sin(180/count) = 2 r + room; the room is 0 or w (meet), -overlap, or w + land
    touches k             2 D sin(k 180/count) = 2 r
    inner, outer          |D - r| and D + r; at the edges of the grooves, |D - r| - w/2 and D + r + w/2

The formulas are derived here, not taken from a source. Lengths in mm. Every solution is checked against its conditions.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from core.operations.patterns.geometry import LengthText
from core.values.errors import PlanError

CONDITION_KEYS = ("meet", "overlap", "land", "touches", "inner", "outer", "inner_edge", "outer_edge")
SIZE_KEYS = ("count", "offset", "circle_radius")
"""The keys of the sizes that a condition can replace."""
MOST_COUNT = 2_000
"""The largest number of positions in one ring."""
VERIFIED_MM = 1e-9
"""The largest error of a solution [mm]."""
_VISIBLE_MM = 0.0005
_SHORTEST_MM = 1e-6
"""The finest length that users enter [mm]. A count this close to a whole number counts as whole."""


class Neighbours(NamedTuple):
    """A condition on two circles of a ring that are `apart` positions apart: D sin(apart x 180/count) = r + half_room.

    D is the distance from the ring's centre to each circle's centre, and r the circle radius.
    """

    key: str
    apart: int = 1
    half_room_mm: float = 0.0
    """Half of the room between the tip lines of the two circles; below 0 if they cross."""
    entered_mm: float = 0.0
    """The land or overlap that the user entered."""

    def miss_mm(self, ring: "Ring") -> float:
        """Return how much the room between two circles of a ring exceeds the wanted room [mm]."""
        distance_mm = 2 * ring.distance_mm * math.sin(self.apart * math.pi / ring.count)
        return distance_mm - 2 * (ring.circle_radius_mm + self.half_room_mm)


class Envelope(NamedTuple):
    """A condition on the inner radius |D - r| or the outer radius D + r of a whole ring's tip lines.

    D is the distance from the ring's centre to each circle's centre, and r the circle radius.
    """

    key: str
    is_outer: bool
    tip_line_mm: float
    """The wanted inner or outer radius."""

    def miss_mm(self, ring: "Ring") -> float:
        """Return how much the inner or outer radius of a ring exceeds the wanted radius [mm]."""
        distance_mm, radius_mm = ring.distance_mm, ring.circle_radius_mm
        return (distance_mm + radius_mm if self.is_outer else abs(distance_mm - radius_mm)) - self.tip_line_mm


Condition = Neighbours | Envelope


@dataclass(frozen=True)
class Ring:
    """The count, distance and circle radius of a ring. A calculated count need not be a whole number."""

    count: float
    distance_mm: float
    """Distance from the ring's centre to the centre of each circle, including the height error."""
    circle_radius_mm: float


@dataclass(frozen=True)
class Sizes:
    """The sizes entered for a ring; None for a size that the program works out."""

    count: int | None
    distance_mm: float | None
    circle_radius_mm: float | None

    @property
    def open_keys(self) -> tuple[str, ...]:
        """The job-file keys of the sizes that the program works out."""
        values = (self.count, self.distance_mm, self.circle_radius_mm)
        return tuple(key for key, value in zip(SIZE_KEYS, values, strict=True) if value is None)


def rings_of(conditions: Sequence[Condition], sizes: Sizes, least_distance_mm: float = 0.0) -> list[Ring]:
    """Return every ring that satisfies the conditions, best first. The count need not be a whole number.

    Rings whose offset is at least their circle radius come first. `least_distance_mm`: the smallest distance between
    the axes that the slide can set [mm], which equals the height error.

    >>> rings_of([Neighbours("meet")], Sizes(6, 20, None))[0].circle_radius_mm.__round__(9)
    10.0
    """
    rings: list[Ring] = []
    # The lengths are rounded, so a calculated count can be slightly above the largest possible count.
    close_mm = _SHORTEST_MM if sizes.count is None else VERIFIED_MM
    nearest_mm = max(abs(least_distance_mm), 0.0 if sizes.count == 1 else _SHORTEST_MM)
    for ring in _candidates(conditions, sizes):
        is_possible = ring.distance_mm >= nearest_mm and ring.circle_radius_mm > _SHORTEST_MM
        is_true = all(abs(condition.miss_mm(ring)) <= close_mm for condition in conditions)
        if is_possible and is_true and ring not in rings:
            rings.append(ring)
    return sorted(rings, key=lambda ring: ring.distance_mm < ring.circle_radius_mm)


def _candidates(conditions: Sequence[Condition], sizes: Sizes) -> Iterable[Ring]:
    if len(conditions) == 1:
        return _of_one(conditions[0], sizes)
    neighbours = [one for one in conditions if isinstance(one, Neighbours)]
    envelopes = [one for one in conditions if isinstance(one, Envelope)]
    if sizes.count is not None:
        return _of_two(neighbours, envelopes, sizes.count)
    if len(neighbours) == 1:
        # Inner and outer radius do not depend on the count, so they give only the other size.
        found = _of_one(envelopes[0], replace(sizes, count=1))
        return [
            ring for one in found for ring in _of_one(neighbours[0], Sizes(None, one.distance_mm, one.circle_radius_mm))
        ]
    if not neighbours:
        return []
    next_ones, touching = sorted(neighbours, key=lambda one: one.apart)
    return _of_count(next_ones, touching, sizes)


def _of_one(condition: Condition, sizes: Sizes) -> list[Ring]:
    """Return the rings that one condition allows, if one size is missing."""
    count, distance_mm, radius_mm = sizes.count, sizes.distance_mm, sizes.circle_radius_mm
    if isinstance(condition, Envelope):
        known, wanted = distance_mm if radius_mm is None else radius_mm, condition.tip_line_mm
        if count is None or known is None:
            return []
        found = [wanted - known] if condition.is_outer else [known - wanted, known + wanted]
        return [Ring(count, known, one) if radius_mm is None else Ring(count, one, known) for one in found]
    if count is not None:
        sine = math.sin(condition.apart * math.pi / count)
        if radius_mm is None:
            distance_mm = distance_mm or 0.0
            return [Ring(count, distance_mm, distance_mm * sine - condition.half_room_mm)]
        return [Ring(count, (radius_mm + condition.half_room_mm) / sine, radius_mm)] if sine > 0 else []
    distance_mm, radius_mm = distance_mm or 0.0, radius_mm or 0.0
    half_mm = radius_mm + condition.half_room_mm
    if not 0 < half_mm <= distance_mm + _SHORTEST_MM:
        return []
    angle = math.asin(min(1.0, half_mm / distance_mm)) if distance_mm else math.pi / 2
    return [Ring(condition.apart * math.pi / angle, distance_mm, radius_mm)]


def _of_two(neighbours: list[Neighbours], envelopes: list[Envelope], count: int) -> list[Ring]:
    """Return the rings of `count` circles that two conditions allow, if offset and radius are missing."""
    if not neighbours:
        inner, outer = sorted(envelopes, key=lambda one: one.is_outer)
        return [
            Ring(count, (outer.tip_line_mm + more) / 2, (outer.tip_line_mm - more) / 2)
            for more in (inner.tip_line_mm, -inner.tip_line_mm)
        ]
    sines = [math.sin(one.apart * math.pi / count) for one in neighbours]
    room_mm = neighbours[0].half_room_mm
    if len(neighbours) == 2:
        if sines[0] == sines[1]:
            return []
        found = [(room_mm - neighbours[1].half_room_mm) / (sines[0] - sines[1])]
    elif envelopes[0].is_outer:
        found = [(envelopes[0].tip_line_mm + room_mm) / (1 + sines[0])]
    elif sines[0] == 1:
        found = []
    else:
        found = [(more - room_mm) / (1 - sines[0]) for more in (envelopes[0].tip_line_mm, -envelopes[0].tip_line_mm)]
    return [Ring(count, distance_mm, distance_mm * sines[0] - room_mm) for distance_mm in found]


def _of_count(next_ones: Neighbours, touching: Neighbours, sizes: Sizes) -> list[Ring]:
    """Return the rings in which direct neighbours overlap by a given length while circles further apart touch.

    The count has no closed form, so it is found numerically. Let x = 180/count, k = `touching.apart`, r the circle
    radius and D the distance from the ring's centre to each circle's centre. While k x is at most 90 degrees, r sin x /
    sin kx rises with x, and D (sin kx - sin x) rises to one maximum and then falls.
    """
    apart, room_mm = touching.apart, next_ones.half_room_mm
    last = math.pi / (2 * apart)
    if sizes.circle_radius_mm is not None:
        radius_mm = sizes.circle_radius_mm
        spans = [(1e-9, last)]

        def miss(x: float) -> float:
            return radius_mm * math.sin(x) / math.sin(apart * x) - radius_mm - room_mm
    else:
        distance_mm = sizes.distance_mm or 0.0
        top = _root(lambda x: apart * math.cos(apart * x) - math.cos(x), 0.0, last) or last
        spans = [(0.0, top), (top, last)]

        def miss(x: float) -> float:
            return distance_mm * (math.sin(apart * x) - math.sin(x)) + room_mm

    rings = []
    for x in (_root(miss, *span) for span in spans):
        if x:
            sine = math.sin(apart * x)
            known_mm = sizes.circle_radius_mm
            rings.append(
                Ring(math.pi / x, distance_mm, distance_mm * sine)
                if known_mm is None
                else Ring(math.pi / x, known_mm / sine, known_mm)
            )
    return rings


def _root(value: Callable[[float], float], low: float, high: float) -> float | None:
    """Return the argument between `low` and `high` at which a function is 0; None if its sign is the same at both ends.

    A value close to 0 at `high` counts as 0.
    """
    at_low, at_high = value(low), value(high)
    if at_low * at_high >= 0:
        return high if abs(at_high) <= _SHORTEST_MM else None
    for _ in range(200):
        middle = (low + high) / 2
        if (value(middle) > 0) == (at_low > 0):
            low = middle
        else:
            high = middle
    return (low + high) / 2


@dataclass(frozen=True)
class Solution:
    """A ring with a whole count that satisfies the conditions, and any other such rings."""

    ring: Ring
    others: tuple[Ring, ...] = ()
    """Other rings that also satisfy the conditions."""

    @property
    def count(self) -> int:
        """The number of circles in the ring."""
        return round(self.ring.count)


def solve_conditions(
    conditions: Sequence[Condition], sizes: Sizes, least_distance_mm: float, to_text: LengthText
) -> Solution:
    """Return the ring with a whole count that satisfies the conditions.

    If there are two such rings, prefer one whose offset is at least its circle radius. `least_distance_mm`: the height
    error [mm]. `to_text` returns a length [mm] as text. Raises PlanError if no such ring exists. The message suggests
    values to enter.
    """
    refuse_contradictions(conditions, sizes)
    rings = rings_of(conditions, sizes, least_distance_mm)
    if not rings:
        raise PlanError(no_ring_words(conditions, sizes, least_distance_mm, to_text), field=conditions[0].key)
    if sizes.count is not None:
        return Solution(rings[0], tuple(rings[1:]))
    whole = [one for ring in rings if (one := _with_whole_count(conditions, sizes, ring)) is not None]
    if not whole:
        raise PlanError(_between_words(conditions, rings[0], to_text), field=_of_the_count(conditions).key)
    return Solution(whole[0], tuple(whole[1:]))


def refuse_contradictions(conditions: Sequence[Condition], sizes: Sizes) -> None:
    """Raise PlanError if two conditions mean the same, or if the conditions cannot determine the missing size."""
    first, *rest = conditions
    for other in rest:
        alike = (
            first.is_outer == other.is_outer
            if isinstance(first, Envelope) and isinstance(other, Envelope)
            else isinstance(first, Neighbours) and isinstance(other, Neighbours) and first.apart == other.apart
        )
        if alike:
            raise PlanError(
                f"{quoted((first.key, other.key))} concern the same size. Keep one of the two.", field=other.key
            )
    if "count" in sizes.open_keys and not any(isinstance(one, Neighbours) for one in conditions):
        raise PlanError(
            f"The count cannot be calculated from {quoted(one.key for one in conditions)}. Enter a count.",
            field=conditions[0].key,
        )
    for one in conditions:
        if isinstance(one, Neighbours) and sizes.count is not None and sizes.count < 2 * one.apart:
            if one.apart == 1:
                raise PlanError(
                    f"{_circles(sizes.count)} no neighbour to touch. Enter a count of 2 or more.", field=one.key
                )
            raise PlanError(
                f"Circles {one.apart} positions apart need a count of at least {2 * one.apart}. Enter such a count, "
                f'or at most {sizes.count // 2} for "touches".',
                field=one.key,
            )


def _circles(count: int) -> str:
    return f"{count} circle has" if count == 1 else f"{count} circles have"


def _of_the_count(conditions: Sequence[Condition]) -> Neighbours:
    """Return the condition that determines the count. If there are two, it is the one on direct neighbours."""
    return min((one for one in conditions if isinstance(one, Neighbours)), key=lambda one: one.apart)


def _with_whole_count(conditions: Sequence[Condition], sizes: Sizes, ring: Ring) -> Ring | None:
    """Return the ring with the nearest whole count; None if that ring does not satisfy the conditions."""
    decisive, count = _of_the_count(conditions), round(ring.count)
    whole = Ring(count, ring.distance_mm, ring.circle_radius_mm)
    rest = [one for one in conditions if one is not decisive]
    if rest and isinstance(rest[0], Neighbours):
        whole = _of_one(rest[0], replace(sizes, count=count))[0]
    return whole if abs(decisive.miss_mm(whole)) <= _SHORTEST_MM and count <= MOST_COUNT else None


# Refusals.


def quoted(keys: Iterable[str]) -> str:
    """Return keys of a job file in quotes, as part of a sentence. A form replaces each quoted key by its field's name.

    >>> quoted(["meet"]), quoted(["count", "offset", "circle_radius"])
    ('"meet"', '"count", "offset" and "circle_radius"')
    """
    *others, last = (f'"{key}"' for key in keys)
    return f"{', '.join(others)} and {last}" if others else last


def _between_words(conditions: Sequence[Condition], ring: Ring, to_text: LengthText) -> str:
    """Return the sentence that refuses a ring whose count has a fraction.

    The sentence gives the results of the two nearest whole counts. `to_text` returns a length [mm] as text.
    """
    decisive, below = _of_the_count(conditions), math.floor(ring.count)
    if below >= MOST_COUNT:
        return (
            f"There is room for {below} circles; at most {MOST_COUNT} are allowed. Enter a larger radius or a smaller "
            "offset."
        )
    given = [f"{count} {given_words(decisive, replace(ring, count=count), to_text)}" for count in (below, below + 1)]
    return (
        f"The condition needs {ring.count:.3f} circles: {given[0]}, {given[1]}. "
        f'Enter {below} or {below + 1} as count, and remove "{decisive.key}".'
    )


def given_words(condition: Neighbours, ring: Ring, to_text: LengthText) -> str:
    """Return words for how the circles of a ring meet, to follow the count: "leave 2 mm between their grooves"."""
    more_mm = condition.miss_mm(ring)
    what = "grooves" if condition.key == "land" or condition.half_room_mm > 0 else "tip lines"
    if condition.key == "overlap":
        more_mm -= condition.entered_mm
    elif condition.key == "land":
        more_mm += condition.entered_mm
    if abs(more_mm) < _VISIBLE_MM:
        return f"let their {what} just touch"
    if more_mm < 0:
        return f"let their {what} cross by {to_text(-more_mm)}"
    return f"leave {to_text(more_mm)} between their {what}"


def no_ring_words(conditions: Sequence[Condition], sizes: Sizes, least_distance_mm: float, to_text: LengthText) -> str:
    """Return a sentence that says why no ring satisfies the conditions, and what to enter or change.

    `least_distance_mm`: the height error [mm]. `to_text` returns a length [mm] as text.
    """
    if len(conditions) == 1:
        words = _no_ring_of_one(conditions[0], sizes, to_text)
        if words:
            return words
    possible = [ring for ring in _candidates(conditions, sizes) if ring.circle_radius_mm > _SHORTEST_MM]
    if possible and least_distance_mm and possible[0].distance_mm >= 0:
        return (
            f"The axes must be {to_text(possible[0].distance_mm)} apart, but their height error alone is "
            f"{to_text(abs(least_distance_mm))}. Enter a larger radius, or shim the table level."
        )
    keys = quoted(one.key for one in conditions)
    return f"No ring satisfies {keys} with the sizes entered. Change a size or a condition."


def _no_ring_of_one(condition: Condition, sizes: Sizes, to_text: LengthText) -> str:
    """Return a sentence that says why one condition has no solution; "" if only the height error can be the reason."""
    count, distance_mm, radius_mm = sizes.count, sizes.distance_mm, sizes.circle_radius_mm
    if isinstance(condition, Envelope):
        alone_mm = distance_mm if radius_mm is None else radius_mm
        if condition.is_outer and alone_mm is not None and condition.tip_line_mm <= alone_mm:
            what, how_much = ("offset" if radius_mm is None else "circle radius"), to_text(alone_mm)
            return f'The {what} alone is {how_much}. Enter a larger "{condition.key}", or a smaller {what}.'
        if radius_mm is not None:
            return ""
        return f'At offset 0 no circle has this "{condition.key}". Enter another offset.'
    half_mm = condition.half_room_mm
    if radius_mm is not None and radius_mm + half_mm <= 0:
        return f"The circles are only {to_text(2 * radius_mm)} across. Enter a smaller overlap, or larger circles."
    if count is None:
        outer_mm = (radius_mm or 0.0) + half_mm
        return (
            f"There is no room even for two circles: each needs {to_text(outer_mm)}, but the offset is "
            f"{to_text(distance_mm or 0.0)}. Enter an offset of at least {to_text(outer_mm)}, or a smaller radius."
        )
    if radius_mm is not None:
        return ""
    sine = math.sin(condition.apart * math.pi / count)
    half_spacing_mm = (distance_mm or 0.0) * sine
    what = "half of groove and land" if condition.key == "land" else "half the groove"
    return (
        f"The circles do not fit on their ring: offset x sin(180/{count}) is {to_text(half_spacing_mm)}, {what} "
        f"{to_text(half_mm)}. Enter an offset above {to_text(half_mm / sine)}, fewer circles, or "
        f"{'less land' if condition.key == 'land' else 'a groove narrower than ' + to_text(2 * half_spacing_mm)}."
    )
