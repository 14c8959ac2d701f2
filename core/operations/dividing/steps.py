"""The steps of a pattern: every position with its passes, in the order the user wants, and how long they take.

Every step carries its number in the pattern, and by how many marks its dial has been
shifted since it was planned. Planning again finds the open steps by these numbers, and
keeps a correction that a measurement once carried over.
"""

import math
from collections.abc import Container, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

from core.lathe.lathe import RotaryTable
from core.operations.dividing.depth import DepthPasses, Order, named
from core.operations.dividing.division import Dividing, Position, setting_of
from core.operations.dividing.find_position import table_angle_deg
from core.operations.dividing.movement import position_words
from core.plan import Expects, Step
from core.safety import STOP_FIRST
from core.step_place import PatternPosition
from core.values.angles import ARCSEC_PER_DEG
from core.values.dials import Setting
from core.values.quantities import length_text

MOUNTING = 0
"""The number of putting the dividing plate on the table; runs begun before there was such a step count from 1 too."""

OpenSteps = Mapping[int, int]
"""The steps still open: by number in the pattern, the marks each is shifted by."""


def open_numbers(steps: Iterable[Step]) -> dict[int, int]:
    """Return the number and shift of every open step that has a number."""
    return {step.at.step: step.at.shift_marks for step in steps if step.at.step is not None}


def open_steps(steps: list[Step], is_open: Container[int]) -> list[Step]:
    """Return those of some steps whose numbers are still open."""
    return [step for step in steps if step.at.step in is_open]


def unshifted(numbers: Iterable[int]) -> dict[int, int]:
    """Return steps as they were planned."""
    return dict.fromkeys(numbers, 0)


_Move = tuple[int | None, int]
"""From one position to another, by their numbers; None where it is counted from zero."""

SET_UP_STEPS = 10
"""Room kept for what comes before a pattern, and after."""


class _Place(NamedTuple):
    """One visit: a position at one depth."""

    level: int
    position: Position
    before: Position | None
    number: int
    moves: bool
    """The table is turned to get here."""


@dataclass(frozen=True, kw_only=True)
class Pattern:
    """Positions, depth and order of one layer of cuts."""

    dividing: Dividing
    order: Order = "round"
    passes: DepthPasses | None = None
    skip: frozenset[int] = frozenset()
    first_number: int = 1
    layer: int | None = None
    held: tuple[Setting, ...] = ()
    """What other dials are left at while this pattern is cut."""
    radius_mm: float | None = None
    """Where the work is cut; turns errors into lengths."""
    held_shift: int = 0
    """By how many marks the last of them has been shifted since it was planned."""

    @property
    def head(self) -> str:
        """What stands before the words of every step."""
        return "" if self.layer is None else f"Layer {self.layer}, "

    @cached_property
    def positions(self) -> list[Position]:
        """The positions that are cut."""
        return [position for position in self.dividing.positions if position.number not in self.skip]

    @property
    def divided_cuts(self) -> Dividing:
        """The dividing with the positions that are cut alone."""
        return replace(self.dividing, positions=tuple(self.positions))

    @property
    def levels(self) -> int:
        """Passes at every position; 1 where no depth is given."""
        return 1 if self.passes is None else len(self.passes.marks)

    @property
    def next_number(self) -> int:
        """The number after the last of this pattern."""
        return self.first_number + 2 * self.levels * len(self.positions)


def pattern_count(positions: int, passes: int | None, order: Order) -> int:
    """Return how many steps a pattern takes: turning to each position, its passes where it has any, a measurement.

    >>> pattern_count(6, 3, "round"), pattern_count(6, 3, "position"), pattern_count(6, None, "round")
    (37, 25, 6)
    """
    if passes is None:
        return positions
    turns = positions if order == "position" or positions == 1 else positions * passes
    return turns + positions * passes + (positions > 1)


def pattern_steps(pattern: Pattern, keep: OpenSteps | None = None, restart: bool = False) -> list[Step]:
    """Return the steps of a pattern; with `keep`, those still open, each shifted as it says.

    `restart`: the table's zero was found again, so the first position is counted
    from it, and is gone to even where only its depth is still open.
    """
    steps: list[Step] = []
    begins, known, stops = restart, dict[int, list[list[Step]]](), dict[_Move, Step]()
    for place in _places(pattern):
        cuts = _cut_steps(pattern, place, keep, known)
        moves = place.moves and (keep is None or place.number in keep)
        if pattern.passes is not None and not cuts and (keep is None or place.number + 1 in keep):
            # Nothing is left to cut here, so there is nothing to turn to either.
            continue
        if moves or (begins and cuts):
            stop = _stop_at(pattern, place.position, None if begins else place.before, stops)
            steps.append(replace(stop, place=stop.at._replace(step=place.number, shift_marks=pattern.held_shift)))
            begins = False
        steps += cuts
        if cuts and _is_measured(pattern, place):
            steps.append(_measure_step(cuts[-1].depth_mm, pattern.passes))
    return steps


def _cut_steps(
    pattern: Pattern, place: _Place, keep: OpenSteps | None, known: dict[int, list[list[Step]]]
) -> list[Step]:
    """Return the passes of a visit; [] where there are none, they are not open, or would take nothing off.

    `known` holds the passes of one position by their shift, so that they are worked out once.
    """
    number = place.number + 1
    if pattern.passes is None or (keep is not None and number not in keep):
        return []
    shift = 0 if keep is None else keep[number]
    passes = pattern.passes.shifted(shift)
    if shift not in known:
        known[shift] = passes.cuts()
    name = f"{pattern.head}{place.position.number} of {pattern.dividing.count}"
    at = PatternPosition(number, passes.shift(place.level), place.position.number, layer=pattern.layer)
    return [named(cut, name, at) for cut in known[shift][place.level] if (cut.removed_mm or 0.0) > 0]


def _places(pattern: Pattern) -> Iterator[_Place]:
    positions, levels = pattern.positions, range(pattern.levels)
    if pattern.order == "position":
        order = [(level, index) for index in range(len(positions)) for level in levels]
    else:
        order = [(level, index) for level in levels for index in range(len(positions))]
    before: Position | None = None
    for visit, (level, index) in enumerate(order):
        position = positions[index]
        yield _Place(level, position, before, pattern.first_number + 2 * visit, moves=before is not position)
        before = position


def _stop_at(pattern: Pattern, position: Position, before: Position | None, known: dict[_Move, Step]) -> Step:
    """Return the step that goes to a position, without its number; `known` are those worked out for other rounds."""
    move = None if before is None else before.number, position.number
    if move not in known:
        known[move] = Step(
            action="index",
            title=f"{pattern.head}{position.number} of {pattern.dividing.count}",
            text=pattern.head + position_words(pattern.dividing, position, before),
            settings=(setting_of(pattern.dividing, position, before), *pattern.held),
            place=PatternPosition(position=position.number, of=pattern.dividing.count, layer=pattern.layer),
            extra={
                "way": pattern.dividing.means,
                "angle_deg": float(position.wanted_deg),
                "error_arcsec": float(position.error_deg * ARCSEC_PER_DEG),
                **_error_mm(pattern, position),
            },
        )
    return known[move]


def _error_mm(pattern: Pattern, position: Position) -> dict[str, float]:
    if pattern.radius_mm is None:
        return {}
    return {"error_mm": math.radians(position.error_deg) * pattern.radius_mm}


def _is_measured(pattern: Pattern, place: _Place) -> bool:
    """Tell whether the depth is measured after this visit: once, while it can still be mended.

    After the first round where there are more; else after the first position.
    """
    if pattern.passes is None or pattern.layer not in {None, 1} or len(pattern.positions) == 1:
        return False
    if pattern.order == "round" and pattern.levels > 1:
        return place.level == 0 and place.position is pattern.positions[-1]
    return place.position is pattern.positions[0] and place.level == pattern.levels - 1


def _measure_step(depth_mm: float | None, passes: DepthPasses | None) -> Step:
    predicted = ""
    if depth_mm is not None and passes is not None:
        predicted = f". The dial predicts {length_text(depth_mm, passes.infeed.dial.unit)}"
    return Step(
        action="measure",
        title="Measure the depth",
        text=f"{STOP_FIRST} Measure how deep it is and enter it: "
        f"the difference is carried over to what is still to be cut{predicted}",
        expects=Expects.DEPTH,
    )


SECONDS_PER_TURN = 1.5
"""One turn of the table's handle, unhurried."""
SECONDS_PER_POSITION = 15.0
"""Unlocking, the last of the turn to the reading, locking."""
SECONDS_PER_CUT = 15.0
"""Feeding in to a depth and back out."""
SECONDS_PER_OTHER_STEP = 60.0
"""Setting up, touching off, measuring."""


def estimated_time_s(steps: Iterable[Step], table: RotaryTable) -> float:
    """Return the time that the steps of a pattern take, roughly [s]."""
    seconds, stands = 0.0, None
    for step in steps:
        if step.action == "index":
            angle = table_angle_deg(step, table)
            if angle is not None and stands is not None:
                # The shorter way round: nobody turns nearly a whole circle back.
                turned = min((angle - stands) % 360, (stands - angle) % 360)
                seconds += float(turned * table.ratio / 360) * SECONDS_PER_TURN
            stands = angle
            seconds += SECONDS_PER_POSITION
        else:
            seconds += SECONDS_PER_CUT if step.action == "cut" else SECONDS_PER_OTHER_STEP
    return seconds
