"""Finds when in a run the work was taken off the table and put back, and which steps came before."""

from fractions import Fraction
from typing import NamedTuple

from core.events.state import State
from core.inputs import PutBack
from core.plan import Step


class LoggedPutBack(NamedTuple):
    """An entry in the log which says that the work was put back on the table."""

    entered: PutBack
    last_id: int
    """The highest id of the steps planned before the entry. Steps planned after the entry have higher ids."""


def put_backs(state: State) -> tuple[LoggedPutBack, ...]:
    """Return every entry which says that the work was put back, oldest first. Undone entries are left out."""
    entered = {one.seq: one.entered for one in state.revisions if isinstance(one.entered, PutBack)}
    if not entered:
        return ()
    return tuple(
        LoggedPutBack(entered[entry.seq], entry.snapshot.steps[-1].id)
        for entry in state.undo_stack
        if entry.seq in entered
    )


class SlideLeft(NamedTuple):
    """The position of the slide when the work was found again, counted from the slide's zero."""

    position: Fraction
    last_id: int
    """The highest id of the steps planned before the work was found again."""


def slide_left_at(state: State, dial_name: str) -> SlideLeft | None:
    """Return the position at which a slide stood when the work was last found again.

    Return None if the work was never found again, or if the dial is not the one of that slide.
    """
    logged = put_backs(state)
    if not logged or (slide := logged[-1].entered.slide) is None:
        return None
    from core.operations.patterns.layers import USUAL_OFFSET_DIAL

    used = state.plan_input.parameters.get("offset_dial", USUAL_OFFSET_DIAL)
    return SlideLeft(slide, logged[-1].last_id) if dial_name == used else None


def steps_to_repeat(state: State) -> list[Step]:
    """Return the done and skipped steps that can be repeated, in order.

    Steps from before the work was put back cannot be repeated, because their settings belong to the earlier position of
    the work.
    """
    logged = put_backs(state)
    after = logged[-1].last_id if logged else 0
    return [step for step in state.steps if step.id > after and state.status_of(step.id) != "open"]
