"""Finds what the user must change on the lathe between two operations, because their set-ups differ.

These changes are shown on the card, on the board, and in the counter (the screen that leads through a run) before the
first step of the later operation.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from core.jobs.job import Job, JobOperation
from core.operations.operation import Needs
from core.operations.registry import operation_of, stated_set_up
from core.plan import Plan, Step, numbered
from core.safety import STOP_FIRST
from core.set_up_steps import SET_UP_TITLE
from core.values.fields import Table
from core.values.quantities import number_text

_HOW_TO_SWING = ". Step 1 says how to set this angle"


class Change(NamedTuple):
    """One thing to change on the lathe before an operation, such as the spindle speed."""

    part: str
    """The part of the set-up: "workholding", "tool", "compound", "stop", "gears", "direction" or "speed"."""
    text: str
    """The instruction, one or two sentences without a full stop at the end."""


def job_changes(job: Job) -> list[tuple[Change, ...]]:
    """Return the changes to make before each operation of a job. Before the first one, it is the whole set-up."""
    set_up, before_each = Needs(), []
    for operation in job.operations:
        needs = needs_of(operation)
        before_each.append(changes(set_up, needs))
        set_up = _after(set_up, needs)
    return before_each


def needs_of(operation: JobOperation) -> Needs:
    """Return the set-up that an operation needs.

    Values that the job file states replace those that are usual for its kind.
    """
    plan_input = operation.plan_input
    declared = operation_of(plan_input.kind)
    needs = declared.needs(operation.parameters, plan_input.lathe, operation.plan.figures)
    stated = stated_set_up(Table(plan_input.parameters, "", []), declared.set_up_keys, plan_input.lathe)
    return needs._replace(
        workholding=stated.workholding or needs.workholding,
        tool=stated.tool or needs.tool,
        speed_rpm=stated.speed_rpm or needs.speed_rpm,
    )


def with_set_up_step(operation: JobOperation, job: Job) -> Plan:
    """Return the plan of an operation, with a first step that changes the set-up if this is necessary.

    The first operation of a job gets no such step.
    """
    changed = changes_before(operation, job)
    if not changed or operation.number == job.operations[0].number:
        return operation.plan
    return replace(operation.plan, steps=numbered([set_up_step(changed, needs_of(operation)), *operation.plan.steps]))


def set_up_step(changed: Sequence[Change], needs: Needs) -> Step:
    """Return the step that changes the lathe's set-up before an operation. The step lists only what changes.

    `changed`: the changes to make. `needs`: the whole set-up that the operation needs.
    """
    texts = [change.text.removesuffix(_HOW_TO_SWING) for change in changed]
    cuts_on_the_lathe = needs.place == "spindle" and (needs.feeds or needs.gears)
    new_tool = any(change.part == "tool" for change in changed)
    if cuts_on_the_lathe and new_tool and "centre height" not in needs.tool:
        at = next(at for at, change in enumerate(changed) if change.part == "tool")
        texts.insert(at + 1, "Set the tool to centre height and square to the work")
    return Step(action="set", title=SET_UP_TITLE, text=f"{STOP_FIRST} Change only these settings. {'. '.join(texts)}")


def changes_before(operation: JobOperation, job: Job) -> tuple[Change, ...]:
    """Return the changes to make on the lathe before one operation; () if the job does not contain the operation."""
    pairs = zip(job.operations, job_changes(job), strict=True)
    return next((changes for other, changes in pairs if other.number == operation.number), ())


def changes(set_up: Needs, needs: Needs) -> tuple[Change, ...]:
    """Return what to change from the set-up `set_up` to the set-up `needs`, in the order of the work.

    >>> changes(Needs(speed_rpm=60.0), Needs(speed_rpm=95.0))
    (Change(part='speed', text='Spindle speed: 95 rpm (it was 60 rpm)'),)
    """
    parts = (_workholding, _tool, _compound, _stop, _gears, _direction, _speed)
    return tuple(change for part in parts if (change := part(set_up, needs)))


def _after(set_up: Needs, needs: Needs) -> Needs:
    """Return the set-up of the lathe after an operation. What the operation does not need stays as it was.

    `set_up`: the set-up before the operation. `needs`: the set-up that the operation needs.
    """
    moved = bool(needs.place) and needs.place != set_up.place
    return Needs(
        place=needs.place or set_up.place,
        workholding=needs.workholding or ("" if moved else set_up.workholding),
        tool=needs.tool or set_up.tool,
        compound=needs.compound or set_up.compound,
        # A feed needs other gears than a thread, but the needed gears are not known.
        gears="" if needs.feeds else needs.gears or set_up.gears,
        turns=needs.turns if needs.gears else "" if needs.feeds else set_up.turns,
        speed_rpm=needs.speed_rpm if needs.feeds else needs.speed_rpm or set_up.speed_rpm,
        stop=needs.stop if needs.feeds or needs.gears else set_up.stop,
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
    # Work is usually on the spindle. Say so only after another workholding.
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
    return Change("compound", f"Compound (top slide): {needs.compound}{before}{_HOW_TO_SWING}")


def _stop(set_up: Needs, needs: Needs) -> Change | None:
    # A cut that uses the carriage stop sets it in a step of its own.
    if not set_up.stop or needs.stop or not (needs.feeds or needs.gears):
        return None
    return Change("stop", f"Carriage stop: move it out of the way (it was {set_up.stop})")


def _gears(set_up: Needs, needs: Needs) -> Change | None:
    if needs.gears and needs.gears != set_up.gears:
        before = f" (they were {set_up.gears})" if set_up.gears else ""
        return Change("gears", f"Gears: {needs.gears}{before}. Isolate the drive before you change them")
    if needs.feeds and set_up.gears:
        return Change(
            "gears",
            f"Gears: still set for the thread ({set_up.gears}). Isolate the drive and set them for a feed, "
            "or feed by hand with the half nuts open",
        )
    return None


def _direction(set_up: Needs, needs: Needs) -> Change | None:
    # A reversed thread says so in a step of its own. Only this change restores the usual directions.
    if set_up.turns and (needs.feeds or needs.gears) and not needs.turns:
        return Change("direction", "Direction: run the spindle forward again, and the leadscrew in its usual direction")
    return None


def _speed(set_up: Needs, needs: Needs) -> Change | None:
    before = set_up.speed_rpm
    if needs.speed_rpm is not None and needs.speed_rpm != before:
        was = "" if before is None else f" (it was {number_text(before, 0)} rpm)"
        return Change("speed", f"Spindle speed: {number_text(needs.speed_rpm, 0)} rpm{was}")
    if needs.feeds and before is not None:
        return Change("speed", f"Spindle speed: choose one for this cut (it was {number_text(before, 0)} rpm)")
    return None
