"""Finds the open positions of a pattern after an edit, and the depth already cut at each."""

from collections.abc import Iterable
from typing import NamedTuple

from core.cutting import Progress
from core.operations.dividing.steps import DividedCut, OpenSteps, VisitNumbers, visit_numbers
from core.operations.patterns.layer_plan import BEFORE_PATTERN, FIRST_LAYER, ON_SCRAP, LayerPlan
from core.plan import Step

_SAME_MM = 1e-6
_Place = tuple[int | None, int | None]


class _PlaceSoFar(NamedTuple):
    """The state of one position before an edit."""

    reached_mm: float
    numbers: frozenset[int]
    """The numbers of the open steps of the position."""
    shift_marks: int
    """The shift of its open passes [marks]."""


def open_after_edit(plans: Iterable[LayerPlan], progress: Progress) -> OpenSteps:
    """Return the numbers of the remaining steps of an edited pattern, each with the shift of its dial [marks].

    A finished position is not cut again. A position that is new in the job is open.
    """
    settled = (*progress.done_steps, *progress.skipped_steps)
    so_far, seen = _places(progress), {step.at.where for step in settled if step.at.position}
    firsts = _first_numbers((*settled, *progress.open_steps))
    is_open: dict[int, int] = {
        step.at.step: step.at.shift_marks
        for step in progress.open_steps
        if step.at.step is not None and step.at.step < FIRST_LAYER
    }
    for plan in plans:
        is_open |= _before_positions(plan, progress, firsts, any(layer == plan.layer.number for layer, _ in seen))
        is_open |= _at_positions(plan, progress, so_far, seen)
    return is_open


def _places(progress: Progress) -> dict[_Place, _PlaceSoFar]:
    """Return the state of every position that has open steps."""
    reached: dict[_Place, float] = {}
    for step in progress.done_steps:
        if step.action == "cut" and step.at.position and step.depth_mm is not None:
            reached[step.at.where] = max(step.depth_mm, reached.get(step.at.where, 0.0))
    places: dict[_Place, _PlaceSoFar] = {}
    # An open pass holds its starting depth, because the user can have a position cut a second time.
    for step in reversed(progress.open_steps):
        if step.action == "cut" and step.at.position and step.depth_mm is not None:
            reached[step.at.where] = step.depth_mm - (step.removed_mm or 0.0)
    for step in progress.open_steps:
        where, number = step.at.where, step.at.step
        if step.at.position is None or number is None:
            continue
        before = places.get(where)
        if before is None:
            shift = step.at.shift_marks if step.action == "cut" else 0
            places[where] = _PlaceSoFar(reached.get(where, 0.0), frozenset({number}), shift)
            continue
        shift = before.shift_marks or (step.at.shift_marks if step.action == "cut" else 0)
        places[where] = before._replace(numbers=before.numbers | {number}, shift_marks=shift)
    return places


def _first_numbers(steps: Iterable[Step]) -> dict[int, int]:
    """Return, for every layer, the number of its first step at a position."""
    firsts: dict[int, int] = {}
    for step in steps:
        if step.at.position and step.at.layer and step.at.step is not None:
            number = step.at.step - (0 if step.action == "index" else 2 if step.feeds_along else 1)
            firsts[step.at.layer] = min(number, firsts.get(step.at.layer, number))
    return firsts


def _before_positions(plan: LayerPlan, progress: Progress, firsts: dict[int, int], is_started: bool) -> dict[int, int]:
    """Return the open steps before the positions of a layer, each with its shift [marks], by step number.

    `is_started`: the layer was started before the edit.
    """
    first_before = firsts.get(plan.layer.number)
    whats = range(ON_SCRAP, BEFORE_PATTERN)
    if first_before is None:
        return {} if is_started else {plan.first + what: 0 for what in whats}
    numbers = {what: first_before - BEFORE_PATTERN + what for what in whats}
    of_open = {step.at.step: step.at.shift_marks for step in progress.open_steps if not step.at.position}
    settled = {step.at.step for step in (*progress.done_steps, *progress.skipped_steps)}
    return {
        plan.first + what: of_open.get(number, 0)
        for what, number in numbers.items()
        if number in of_open or (not is_started and number not in settled)
    }


def _at_positions(
    plan: LayerPlan, progress: Progress, so_far: dict[_Place, _PlaceSoFar], seen: set[_Place]
) -> dict[int, int]:
    """Return the open steps at the positions of a layer, each with its shift [marks], by step number.

    `so_far`: the state of each position with open steps. `seen`: the positions with a finished or skipped step.
    """
    pattern, is_open = plan.pattern, dict[int, int]()
    at_hand = next(iter(progress.open_steps), None)
    for visit in visit_numbers(pattern):
        where = (plan.layer.number, visit.position)
        place = so_far.get(where)
        if place is None and where in seen:
            continue
        # After a move, the turn to the last set position is open too.
        first, stop = visit.numbers[0], visit.numbers.stop
        all_numbers = range(stop - pattern.numbers_a_visit, stop)
        again = [] if place is None else [number for number in all_numbers if number in place.numbers]
        if place is not None and not again and _depth_mm(pattern, visit) <= place.reached_mm + _SAME_MM:
            continue
        open_here = again or list(visit.numbers)
        is_there = at_hand is not None and at_hand.action == "cut" and at_hand.at.where == where
        if is_there and not again and first in pattern.numbers_with_held:
            # The table is at this position already.
            open_here = open_here[1:]
        shift = 0 if place is None else place.shift_marks
        turns = pattern.numbers_with_held
        is_open |= {one: pattern.held_shift if one in turns else shift for one in open_here}
    return is_open


def _depth_mm(pattern: DividedCut, visit: VisitNumbers) -> float:
    passes = pattern.passes_at(visit.position)
    return float("inf") if passes is None else passes.infeed.depth_mm(passes.marks[visit.level] - passes.surface)
