"""Readings of an indicator that a run has logged: the round just completed, and the one that still holds."""

from collections.abc import Iterable

from core.events.state import State
from core.inputs import ReadingsTaken, ReadingsThatHold
from core.operations.registry import PlanInput, parameters_of
from core.operations.runout.job import RunoutJob, logged_mark_mm
from core.operations.runout.sets_of_readings import Turn, are_of, rounds_of, taken_as
from core.plan import Expects, Step


def takes_reading(step: Step) -> bool:
    """Tell whether the indicator is read at a step."""
    return step.expects == Expects.READING and not step.zeroed_dials


def readings_taken(plan_input: PlanInput, state: State) -> ReadingsTaken | None:
    """Return the round of readings that has just been completed.

    None while marks are still to be read, and where nothing was read last. Raises
    QuantityError for a logged value that is no reading.
    """
    last = state.last_done
    if last is None or not takes_reading(last):
        return None
    if any(step.expects == Expects.READING for step in state.open_steps()):
        return None
    return taken_as(rounds_logged(plan_input, state)[-1])


def readings_that_hold(plan_input: PlanInput, state: State) -> ReadingsThatHold:
    """Return what of the round read last still holds, now that a job says other things.

    The whole round of readings; "under way" for one that goes on; "none yet" where there
    is none; None where the marks are others now, and where something was moved since.
    Raises QuantityError for a logged value that is no reading.
    """
    done, job = state.done_steps, parameters_of(plan_input)
    read = [at for at, step in enumerate(done) if takes_reading(step) and step.id in state.values]
    moved = any("move" in step.extra for step in done[read[-1] if read else 0 :])
    if not read:
        return None if moved else "none yet"
    coming = [step for step in state.open_steps() if takes_reading(step)]
    if coming:
        return "under way" if _goes_on(job, state.steps, coming[0]) else None
    if moved:
        return None
    turns = rounds_logged(plan_input, state)[-1]
    return taken_as(turns) if are_of(job, turns) else None


def _goes_on(job: RunoutJob, steps: Iterable[Step], coming: Step) -> bool:
    """Tell whether the round of a reading to come, done and skipped ones among it, is of the marks of a job."""
    this = None if coming.reading_at is None else coming.reading_at.time
    planned = [
        (at.plane or 1, at.angle_deg)
        for at in (step.reading_at for step in steps)
        if at is not None and at.angle_deg is not None and at.time == this
    ]
    return planned == [(plane, angle) for plane in range(1, job.planes + 1) for angle in job.angles_deg]


def rounds_logged(plan_input: PlanInput, state: State) -> tuple[tuple[Turn, ...], ...]:
    """Return every round that a run has logged, oldest first; raises QuantityError as `rounds_of` does."""
    logged = [(step, state.results[step.id].value, state.results[step.id].unit) for step in state.done_steps]
    return rounds_of(logged, logged_mark_mm(plan_input.lathe))
