"""What to change on the lathe before an operation, because the operations before it need it set differently.

Card, counter and board show these changes before the first step of the plan.
"""

from collections.abc import Mapping
from typing import NamedTuple

from core.jobs.job import Job, JobOperation
from core.operations.operation import Needs
from core.operations.registry import operation_of
from core.values.quantities import number_text


class Change(NamedTuple):
    """One thing to change before an operation."""

    part: str
    """Which part of the set-up: "workholding", "tool", "compound", "gears", "direction" or "speed"."""
    text: str
    """The instruction, one or two sentences without a full stop at the end."""


def job_changes(job: Job) -> list[tuple[Change, ...]]:
    """Return what to change on the lathe before each operation of a job, in order; for the first, all it needs."""
    set_up, before_each = Needs(), []
    for operation in job.operations:
        plan_input = operation.plan_input
        needs_of = operation_of(plan_input.kind).needs
        needs = needs_of(operation.parameters, plan_input.lathe, operation.plan.figures)
        before_each.append(changes(set_up, needs))
        set_up = _after(set_up, needs)
    return before_each


def changes_before(operation: JobOperation, job: Job) -> tuple[Change, ...]:
    """Return what to change on the lathe before one operation; () if the operation is not in the job."""
    pairs = zip(job.operations, job_changes(job), strict=True)
    return next((changes for other, changes in pairs if other.number == operation.number), ())


def changes(set_up: Needs, needs: Needs) -> tuple[Change, ...]:
    """Return what to change on a lathe set up like `set_up` for an operation with these needs, in order.

    >>> changes(Needs(speed_rpm=60.0), Needs(speed_rpm=95.0))
    (Change(part='speed', text='Spindle speed: 95 rpm (it was 60 rpm)'),)
    """
    parts = (_workholding, _tool, _compound, _gears, _direction, _speed)
    return tuple(change for part in parts if (change := part(set_up, needs)))


def _after(set_up: Needs, needs: Needs) -> Needs:
    """Return the set-up after an operation: what it needed; for anything it did not need, the set-up before it."""
    moved = bool(needs.place) and needs.place != set_up.place
    return Needs(
        place=needs.place or set_up.place,
        workholding=needs.workholding or ("" if moved else set_up.workholding),
        tool=needs.tool or set_up.tool,
        compound=needs.compound or set_up.compound,
        # Gears of a thread are changed for a feed; which gears a feed needs is not known.
        gears="" if needs.feeds else needs.gears or set_up.gears,
        turns=needs.turns if needs.gears else "" if needs.feeds else set_up.turns,
        speed_rpm=None if needs.feeds else needs.speed_rpm or set_up.speed_rpm,
    )


_ON: Mapping[str, str] = {
    "spindle": "on the spindle (chuck, collet, faceplate or centres)",
    "rotary table": "on the rotary table",
    "mill": "on the mill's table",
}


def _workholding(set_up: Needs, needs: Needs) -> Change | None:
    moves = needs.place and needs.place != set_up.place
    if needs.workholding and (moves or needs.workholding != set_up.workholding):
        return Change("workholding", f"Workholding: {needs.workholding}")
    # Work is usually on the spindle; say so only if it comes from elsewhere.
    if moves and (set_up.place or needs.place != "spindle"):
        return Change("workholding", f"Workholding: {_ON[needs.place]}")
    return None


def _tool(set_up: Needs, needs: Needs) -> Change | None:
    if not needs.tool or needs.tool == set_up.tool:
        return None
    return Change("tool", f"Tool: {needs.tool}")


def _compound(set_up: Needs, needs: Needs) -> Change | None:
    if not needs.compound or needs.compound == set_up.compound:
        return None
    before = f" (it was {set_up.compound})" if set_up.compound else ""
    return Change("compound", f"Compound: {needs.compound}{before}. See step 1 for how to set it")


def _gears(set_up: Needs, needs: Needs) -> Change | None:
    if needs.gears and needs.gears != set_up.gears:
        before = f" (they were {set_up.gears})" if set_up.gears else ""
        return Change("gears", f"Gears: {needs.gears}{before}. Isolate the drive first")
    if needs.feeds and set_up.gears:
        return Change(
            "gears",
            f"Gears: still set for the thread ({set_up.gears}). Isolate the drive and set them for a feed, "
            "or feed by hand with the half nuts open",
        )
    return None


def _direction(set_up: Needs, needs: Needs) -> Change | None:
    # A reversed thread says so in a step of its own. Only this change says that all turns as usual again.
    if set_up.turns and (needs.feeds or needs.gears) and not needs.turns:
        return Change("direction", "Direction: spindle forward, leadscrew as usual again")
    return None


def _speed(set_up: Needs, needs: Needs) -> Change | None:
    before = set_up.speed_rpm
    if needs.speed_rpm is not None and needs.speed_rpm != before:
        was = "" if before is None else f" (it was {number_text(before, 0)} rpm)"
        return Change("speed", f"Spindle speed: {number_text(needs.speed_rpm, 0)} rpm{was}")
    if needs.feeds and before is not None:
        return Change("speed", f"Spindle speed: choose it for this cut (it was {number_text(before, 0)} rpm)")
    return None
