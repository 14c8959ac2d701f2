"""The movements of the pass at hand, in order, as the counter lists them; the last is always the key.

A reading that they name is what its dial really shows, never the plan's own count.
"""

from collections.abc import Callable
from functools import cached_property

from core.events.state import State
from core.lathe.lathe import CARRIAGE
from core.operations.registry import PlanInput, operation_of, parameters_of
from core.plan import Step
from core.values.dials import DialsShown
from core.values.errors import CoreError


class Movements:
    """Tells the movements at the cursor of a run; what they are made from is read once for a basis."""

    def __init__(self, plan_input: PlanInput) -> None:
        self._plan_input = plan_input

    def __call__(self, state: State) -> tuple[str, ...]:
        """Return the movements at the cursor, () for a step that is no pass.

        Kinds whose movements name no reading have them in the plan, as have runs that this
        version can no longer read.
        """
        step = state.cursor
        if step is None:
            return ()
        if self._of_step is None:
            return state.plan.movements if step.action in {"cut", "spring"} else ()
        starts = _start(state, step.id), _start(state, _zeroed_last(state, CARRIAGE))
        return self._of_step(step, DialsShown(self._plan_input.lathe.dials, state.zeros), starts)

    @cached_property
    def _of_step(self) -> Callable[[Step, DialsShown, tuple[int, int]], tuple[str, ...]] | None:
        try:
            told = operation_of(self._plan_input.kind).movements
            return told and told(parameters_of(self._plan_input), self._plan_input.lathe)
        except CoreError:
            return None


def _start(state: State, step_id: int) -> int:
    """Return which start of a thread is cut at a step, from 1."""
    for step in state.done_latest_first():
        if step.thread_start and step.id < step_id:
            return step.thread_start
    return 1


def _zeroed_last(state: State, dial: str) -> int:
    """Return the id of the step that set a dial to zero last, 0 for none."""
    return next((step.id for step in state.done_latest_first() if dial in step.zeroed_dials), 0)
