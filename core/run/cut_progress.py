"""Finds how far a run has cut each position of its pattern."""

from collections.abc import Mapping
from typing import Literal, NamedTuple

from core.events.state import State
from core.operations.patterns.picture import PatternPlace
from core.plan import Expects, Step

CutState = Literal["coming", "started", "cut"]
"""The state of a position. "started" means that it is cut, but not yet to its full depth."""


class PatternProgress(NamedTuple):
    """The state of every position of a pattern: not cut, partly cut or cut."""

    states: Mapping[PatternPlace, CutState]
    """The state by position. A position is missing if the user skipped all its steps."""
    present: PatternPlace | None = None
    """The position that is being cut; None between positions."""


class ProgressTracker:
    """Finds the progress of a run after each key press. It assigns the steps to positions only once."""

    def __init__(self) -> None:
        self._steps: tuple[Step, ...] | None = None
        self._deciding: dict[PatternPlace, list[int]] = {}

    def progress(self, state: State) -> PatternProgress:
        """Return the present state of every position."""
        if state.steps is not self._steps:
            self._steps, self._deciding = state.steps, _deciding_steps(state.steps)
        states: dict[PatternPlace, CutState] = {}
        for place, step_ids in self._deciding.items():
            results = (state.results.get(step_id) for step_id in step_ids)
            statuses = {result.status if result else "open" for result in results}
            if statuses != {"skipped"}:
                states[place] = "coming" if "done" not in statuses else "started" if "open" in statuses else "cut"
        return PatternProgress(states=states, present=_present(state))


def _deciding_steps(steps: tuple[Step, ...]) -> dict[PatternPlace, list[int]]:
    """Return, for each position, the ids of the steps that must be done before the position is cut.

    These are the cuts at the position, or the steps that turn the table to the position if no cut is planned there.
    """
    turns: dict[PatternPlace, list[int]] = {}
    cuts: dict[PatternPlace, list[int]] = {}
    for step in steps:
        place = _place(step)
        if place is not None:
            (cuts if step.action == "cut" else turns).setdefault(place, []).append(step.id)
    return turns | cuts


def _present(state: State) -> PatternPlace | None:
    cursor = state.cursor
    if cursor is not None and cursor.expects == Expects.DEPTH:
        # A depth is measured at the position that was cut last.
        cursor = state.last_done
    return None if cursor is None else _place(cursor)


def _place(step: Step) -> PatternPlace | None:
    position = step.at.position
    return None if position is None else PatternPlace(step.at.layer or 1, position)
