"""When the work of a run was taken off the table and put back: which steps lie before, and which after."""

from fractions import Fraction
from typing import NamedTuple

from core.events.state import State
from core.inputs import PutBack
from core.plan import Step


class LoggedPutBack(NamedTuple):
    """Work put back, as a run has it."""

    entered: PutBack
    last_id: int
    """The highest id of the steps planned before; those planned after it have higher ones."""


def put_backs(state: State) -> tuple[LoggedPutBack, ...]:
    """Return every time the work was put back that was not undone, oldest first."""
    entered = {one.seq: one.entered for one in state.revisions if isinstance(one.entered, PutBack)}
    if not entered:
        return ()
    return tuple(
        LoggedPutBack(entered[entry.seq], entry.snapshot.steps[-1].id)
        for entry in state.undo_stack
        if entry.seq in entered
    )


class SlideLeft(NamedTuple):
    """Where the slide was left when the work was found again, counted from its zero."""

    position: Fraction
    last_id: int
    """The highest id of the steps planned before."""


def slide_left_at(state: State, dial_name: str) -> SlideLeft | None:
    """Return where a slide was left when the work was found again; None for other dials, and if it never was."""
    logged = put_backs(state)
    if not logged or (slide := logged[-1].entered.slide) is None:
        return None
    from core.operations.patterns.layers import USUAL_OFFSET_DIAL

    used = state.plan_input.parameters.get("offset_dial", USUAL_OFFSET_DIAL)
    return SlideLeft(slide, logged[-1].last_id) if dial_name == used else None


def steps_to_repeat(state: State) -> list[Step]:
    """Return the steps done or skipped that can be repeated, in order.

    Those done before the work was put back cannot: they set slide and table for where the work lay then.
    """
    logged = put_backs(state)
    after = logged[-1].last_id if logged else 0
    return [step for step in state.steps if step.id > after and state.status_of(step.id) != "open"]
