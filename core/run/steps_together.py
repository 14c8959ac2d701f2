"""Finds the steps that must be skipped or repeated with a step.

If they were not, the step that brings the cutter to the work could be missing before a cut.
"""

from collections.abc import Iterator

from core.events.state import State
from core.plan import Step
from core.run.put_backs import put_backs


def skipped_with(state: State, step: Step) -> tuple[Step, ...]:
    """Return the steps to skip if the user skips a step: that step, and the steps that make no sense without it.

    A step that goes to a position is skipped with all open steps at this position. A feed in to a groove is skipped
    with the feed along the groove, because the feed in starts the spindle and brings the cutter to depth.
    """
    if step.action == "index" and step.at.position is not None:
        return tuple(other for other in state.open_steps() if other.at.where == step.at.where)
    following = state.upcoming(1)
    return (step, *following) if following and feeds_in_for(step, following[0]) else (step,)


def repeated_with(state: State, step: Step) -> tuple[Step, ...]:
    """Return the steps to repeat, in order, if the user repeats a step.

    A feed in to a groove and the feed along the groove are repeated together. If the table or the slide has left the
    position since, the step that goes to the position is repeated too, and a last step goes back to the current
    position.
    """
    before = fed_in_before(state, step)
    after = next((other for other in state.steps if other.id > step.id), None)
    follows = after is not None and after.id in state.results and feeds_in_for(step, after)
    cuts = (*([] if before is None else [before]), step, *([after] if after is not None and follows else []))
    if step.action != "cut" or step.at.position is None:
        return cuts
    turns = _turns_since_put_back(state)
    there = _turn_to(step, turns)
    if there is None:
        return cuts
    skipped = state.status_of(there.id) == "skipped"
    left = skipped or turns[-1] is not there or any(_has_left(other, there) for other in state.done_steps)
    if not left:
        return cuts
    cursor = state.cursor
    at_hand = None if cursor is None or cursor.action != "cut" else _turn_to(cursor, turns)
    return (there, *cuts, *([] if at_hand is None or at_hand is there else [at_hand]))


def interrupted_with(state: State) -> tuple[Step, ...]:
    """Return the steps to repeat after an interruption of a feed along a groove; () at any other step.

    These are the turn to the groove and the feed in, because the user has withdrawn the tool, and the table or the
    slide may be part of the way along the groove.
    """
    cursor = state.cursor
    before = None if cursor is None else fed_in_before(state, cursor)
    if cursor is None or before is None:
        return ()
    there = _turn_to(cursor, _turns_since_put_back(state))
    return (before,) if there is None else (there, before)


def fed_in_before(state: State, along: Step) -> Step | None:
    """Return the done or skipped step that feeds in before a feed along a groove; None if there is none."""
    if not along.feeds_along:
        return None
    earlier: Iterator[Step] = (other for other in reversed(state.steps) if other.id < along.id)
    before = next(earlier, None)
    is_settled = before is not None and before.id in state.results
    return before if before is not None and is_settled and feeds_in_for(before, along) else None


def feeds_in_for(step: Step, along: Step) -> bool:
    """Return whether a step is the feed in to the groove and depth at which the step `along` feeds along."""
    is_in = step.action == "cut" and not step.feeds_along
    return is_in and along.feeds_along and step.at.where == along.at.where and step.depth_mm == along.depth_mm


def _has_left(step: Step, there: Step) -> bool:
    """Return whether a step after `there` feeds the table or the slide away from the position to which `there` goes."""
    return step.id > there.id and step.feeds_along


def _turns_since_put_back(state: State) -> list[Step]:
    """Return the done and skipped steps that go to a position and were planned after the work was last put back."""
    logged = put_backs(state)
    after = logged[-1].last_id if logged else 0
    return [step for step in state.steps if step.id > after and step.action == "index" and step.id in state.results]


def _turn_to(step: Step, turns: list[Step]) -> Step | None:
    """Return the last of `turns` before `step` that goes to the same position; None if there is none."""
    before = (turn for turn in reversed(turns) if turn.id < step.id and turn.at.where == step.at.where)
    return next(before, None)
