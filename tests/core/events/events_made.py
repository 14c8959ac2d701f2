"""Makes events of a run of the sample plan, for tests."""

from collections.abc import Mapping
from typing import Any

from core.events.event import Event, as_read_back
from core.events.replay import apply
from core.events.state import State
from core.plan import Plan, Step, numbered, plan_as_data, step_as_data
from tests.core.logbook.run_samples import BASIS, JOB, sample_plan


def event(seq: int, kind: str, body: Mapping[str, Any], session: str = "s", ms: int | None = None) -> Event:
    """Return an event in the form in which the log gives it back."""
    return Event(
        seq=seq,
        kind=kind,
        body=as_read_back(body),
        wall="2026-11-25T10:00:00+01:00",
        session=session,
        monotonic_ms=seq * 1000 if ms is None else ms,
    )


def begun(plan: Plan | None = None) -> Event:
    """Return the first event of a run of the sample plan: touch off, cuts 2 to 5, spring 6, check 7."""
    body = {
        "schema": 1,
        "program": "halfnut 0.1.0",
        "origin": {"job_path": JOB.job_path, "job_title": JOB.job_title, "op_name": JOB.op_name},
        "kind": BASIS.kind,
        "parameters": BASIS.parameters,
        "material": BASIS.material,
        "lathe": BASIS.lathe,
        "lathe_name": BASIS.lathe_name,
        "stand_in": BASIS.stand_in,
        "digest": BASIS.digest,
        "plan": plan_as_data(plan or sample_plan()),
    }
    return event(0, "begun", body)


def run_of(*moves: tuple[str, Mapping[str, Any]], plan: Plan | None = None) -> State:
    """Return the state of a run after these events."""
    state = apply(None, begun(plan), "ab" * 16)
    for kind, body in moves:
        state = apply(state, event(state.last_seq + 1, kind, body))
    return state


def done(*step_ids: int) -> list[tuple[str, Mapping[str, Any]]]:
    """Return the events that finish these steps."""
    return [("done", {"step": step_id}) for step_id in step_ids]


def revised(first: int, count: int, cause: str = "moved", **given: Any) -> tuple[str, Mapping[str, Any]]:
    """Return the event that replaces the open steps by some cuts."""
    steps = numbered([Step(action="cut", text="New", depth_mm=0.5 + n / 10) for n in range(count)], first)
    return "revised", {"cause": cause, "given": given, "steps": [step_as_data(step) for step in steps]}


def cursor_id(state: State) -> int | None:
    """Return the id of the step at the cursor."""
    return None if state.cursor is None else state.cursor.id


def sample_body(kind: str) -> Mapping[str, Any]:
    """Return an event body that is possible in a run that has just started."""
    return {
        "begun": begun().body,
        "done": {"step": 1},
        "skipped": {"steps": [1], "reason": "x"},
        "reopened": {"steps": [1]},
        "revised": revised(100, 1)[1],
        "note": {"text": "x"},
        "finished": {"early": True},
        "abandoned": {"reason": "x"},
        "undone": {"seq": 1},
    }[kind]
