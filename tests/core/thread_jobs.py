"""Thread jobs for tests, with their plans, and lathes with changed settings."""

from collections.abc import Mapping
from typing import Any

from core.lathe.lathe import Lathe
from core.lathe.reader import example_lathe, lathe_from
from core.operations.registry import PlanInput
from core.operations.threads.job import ThreadJob, read_thread_job
from core.plan import Plan, Step
from core.values.fields import Table
from tests.core.counted import Counted
from tests.core.planned import make_plan


def lathe(**changes: Any) -> Lathe:
    """Return the example lathe with some sections of its file changed; None removes a section."""
    data = dict(example_lathe().data)
    for key, table in changes.items():
        if table is None:
            data.pop(key, None)
        else:
            data[key] = {**data.get(key, {}), **table} if isinstance(table, dict) else table
    return lathe_from(data, "test")


def job_of(its_lathe: Lathe | None = None, **keys: Any) -> ThreadJob:
    """Return a thread job with these job-file keys."""
    job = read_thread_job(Table(dict(keys), "", []), its_lathe or lathe())
    assert job is not None
    return job


def plan_input_of(its_lathe: Lathe | None = None, material: str | None = None, **keys: Any) -> PlanInput:
    """Return the plan input of a `thread` operation."""
    parameters = {"kind": "thread", "name": "it", **keys}
    return PlanInput(kind="thread", parameters=parameters, lathe=its_lathe or lathe(), material=material)


def plan_of(its_lathe: Lathe | None = None, **keys: Any) -> Plan:
    """Return the plan of a `thread` operation."""
    return make_plan(plan_input_of(its_lathe, **keys))


def at_first_cut(its_lathe: Lathe | None = None, **keys: Any) -> tuple[str, ...]:
    """Return the movements of the first cut, after all earlier steps."""
    return counted_to_cut(its_lathe, **keys).view.movements


def counted_to_cut(its_lathe: Lathe | None = None, zeros: Mapping[str, str] | None = None, **keys: Any) -> Counted:
    """Return a run of a thread at its first cut.

    `zeros`: the readings of the dials at touch-off; 0 for other dials.
    """
    run = Counted(its_lathe or lathe(), "thread", **keys)
    while run.cursor.action != "cut":
        touched_off(run, zeros or {})
    return run


def touched_off(run: Counted, zeros: Mapping[str, str]) -> None:
    """Do the current step. If it zeroes a dial in `zeros`, enter that dial's reading."""
    shown = zeros.get(run.cursor.zeroed_dials[0]) if run.cursor.zeroed_dials else None
    if shown is None:
        run.done()
    else:
        run.log("done", step=run.cursor.id, value=shown, unit=run.lathe.dial(run.cursor.zeroed_dials[0]).unit)


def cuts(plan: Plan) -> list[Step]:
    return [step for step in plan.steps if step.action == "cut"]
