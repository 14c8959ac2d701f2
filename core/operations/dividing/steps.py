"""The steps of a pattern: every position with its passes, in the order the user chose, and the time they take.

Every step carries its number in the pattern, and by how many marks its dial has been
shifted since it was planned. Planning again finds the remaining steps by these numbers, and
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
"""The number of putting the dividing plate on the table; runs of older versions have no such step and count from 1."""

OpenSteps = Mapping[int, int]
"""The remaining steps: for each number in the pattern, the marks by which its dial is shifted."""


def open_numbers(steps: Iterable[Step]) -> dict[int, int]:
    """Return the number and shift of every remaining step that has a number."""
    return {step.at.step: step.at.shift_marks for step in steps if step.at.step is not None}


def open_steps(steps: list[Step], is_open: Container[int]) -> list[Step]:
    """Return the steps whose numbers remain to be done."""
    return [step for step in steps if step.at.step in is_open]


def unshifted(numbers: Iterable[int]) -> dict[int, int]:
    """Return steps as they were planned."""
    return dict.fromkeys(numbers, 0)


_Move = tuple[int | None, int]
"""A move from one position to another, by their numbers; None: counted from zero."""

SET_UP_STEPS = 10
"""Steps to allow for before and after a pattern."""


class _Visit(NamedTuple):
    """One visit to a position, at one depth."""

    level: int
    position: Position
    before: Position | None
    number: int
    moves: bool
    """True: the table turns to reach the position."""


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
    """Settings of other dials that stay while this pattern is cut."""
    radius_mm: float | None = None
    """Radius at which the work is cut; it converts angle errors to lengths."""
    held_shift: int = 0
    """Marks by which the last of the held settings was shifted since it was planned."""

    @property
    def head(self) -> str:
        """The start of every step's text: its layer."""
        return "" if self.layer is None else f"Layer {self.layer}, "

    @cached_property
    def positions(self) -> list[Position]:
        """The positions that are cut."""
        return [position for position in self.dividing.positions if position.number not in self.skip]

    @property
    def divided_cuts(self) -> Dividing:
        """The dividing, with only the positions that are cut."""
        return replace(self.dividing, positions=tuple(self.positions))

    @property
    def levels(self) -> int:
        """Number of passes at every position; 1 if the pattern has no depth."""
        return 1 if self.passes is None else len(self.passes.marks)

    @property
    def next_number(self) -> int:
        """The number after the last of this pattern."""
        return self.first_number + 2 * self.levels * len(self.positions)


def pattern_count(positions: int, passes: int | None, order: Order) -> int:
    """Return how many steps a pattern takes: turning to each position, its passes if it has any, a measurement.

    >>> pattern_count(6, 3, "round"), pattern_count(6, 3, "position"), pattern_count(6, None, "round")
    (37, 25, 6)
    """
    if passes is None:
        return positions
    turns = positions if order == "position" or positions == 1 else positions * passes
    return turns + positions * passes + (positions > 1)


def pattern_steps(pattern: Pattern, keep: OpenSteps | None = None, restart: bool = False) -> list[Step]:
    """Return the steps of a pattern; with `keep`, only the steps it lists, each with its shift.

    `restart`: the table's zero was found again. The first position is then counted from
    it, and has its own step even if only its depth remains.
    """
    steps: list[Step] = []
    from_zero, known, turns = restart, dict[int, list[list[Step]]](), dict[_Move, Step]()
    for visit in _visits(pattern):
        cuts = _cut_steps(pattern, visit, keep, known)
        moves = visit.moves and (keep is None or visit.number in keep)
        if pattern.passes is not None and not cuts and (keep is None or visit.number + 1 in keep):
            # Nothing is left to cut here, so the table need not come here.
            continue
        if moves or (from_zero and cuts):
            turn = _turn_to(pattern, visit.position, None if from_zero else visit.before, turns)
            steps.append(replace(turn, place=turn.at._replace(step=visit.number, shift_marks=pattern.held_shift)))
            from_zero = False
        steps += cuts
        if cuts and _is_measured(pattern, visit):
            steps.append(_measure_step(cuts[-1].depth_mm, pattern.passes))
    return steps


def _cut_steps(
    pattern: Pattern, visit: _Visit, keep: OpenSteps | None, known: dict[int, list[list[Step]]]
) -> list[Step]:
    """Return the remaining passes of a visit that take something off; [] if there are none.

    `known` holds the passes of one position by their shift, so that they are calculated only once.
    """
    number = visit.number + 1
    if pattern.passes is None or (keep is not None and number not in keep):
        return []
    shift = 0 if keep is None else keep[number]
    passes = pattern.passes.shifted(shift)
    if shift not in known:
        known[shift] = passes.cuts()
    name = f"{pattern.head}{visit.position.number} of {pattern.dividing.count}"
    at = PatternPosition(number, passes.shift(visit.level), visit.position.number, layer=pattern.layer)
    return [named(cut, name, at) for cut in known[shift][visit.level] if (cut.removed_mm or 0.0) > 0]


def _visits(pattern: Pattern) -> Iterator[_Visit]:
    positions, levels = pattern.positions, range(pattern.levels)
    if pattern.order == "position":
        order = [(level, index) for index in range(len(positions)) for level in levels]
    else:
        order = [(level, index) for level in levels for index in range(len(positions))]
    before: Position | None = None
    for index_of_visit, (level, index) in enumerate(order):
        position = positions[index]
        yield _Visit(level, position, before, pattern.first_number + 2 * index_of_visit, moves=before is not position)
        before = position


def _turn_to(pattern: Pattern, position: Position, before: Position | None, known: dict[_Move, Step]) -> Step:
    """Return the step that turns the table to a position, without a number; `known`: such steps of earlier rounds."""
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


def _is_measured(pattern: Pattern, visit: _Visit) -> bool:
    """Return whether the depth is measured after this visit: once, while later passes can still correct it.

    That is after the first round if there are several rounds, else after the first position.
    """
    if pattern.passes is None or pattern.layer not in {None, 1} or len(pattern.positions) == 1:
        return False
    if pattern.order == "round" and pattern.levels > 1:
        return visit.level == 0 and visit.position is pattern.positions[-1]
    return visit.position is pattern.positions[0] and visit.level == pattern.levels - 1


def _measure_step(depth_mm: float | None, passes: DepthPasses | None) -> Step:
    predicted = ""
    if depth_mm is not None and passes is not None:
        predicted = f" The dial predicts {length_text(depth_mm, passes.infeed.dial.unit)}."
    return Step(
        action="measure",
        title="Measure the depth",
        text=f"{STOP_FIRST} Measure the depth and enter it.{predicted} The passes to come allow for the difference",
        expects=Expects.DEPTH,
    )


SECONDS_PER_TURN = 1.5
"""Time for one turn of the table's handle, unhurried."""
SECONDS_PER_POSITION = 15.0
"""Time for unlocking, turning up to the reading and locking."""
SECONDS_PER_CUT = 15.0
"""Time for feeding in to a depth and back out."""
SECONDS_PER_OTHER_STEP = 60.0
"""Time for setting up, touching off or measuring."""


def estimated_time_s(steps: Iterable[Step], table: RotaryTable) -> float:
    """Return the time that the steps of a pattern take, roughly [s]."""
    seconds, angle_now = 0.0, None
    for step in steps:
        if step.action == "index":
            angle = table_angle_deg(step, table)
            if angle is not None and angle_now is not None:
                # The shorter way round: nobody turns nearly a whole circle back.
                turned = min((angle - angle_now) % 360, (angle_now - angle) % 360)
                seconds += float(turned * table.ratio / 360) * SECONDS_PER_TURN
            angle_now = angle
            seconds += SECONDS_PER_POSITION
        else:
            seconds += SECONDS_PER_CUT if step.action == "cut" else SECONDS_PER_OTHER_STEP
    return seconds
