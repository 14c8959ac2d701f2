"""The facts of a run: numbers and names that must come out of its events in every later version.

They are written once, when a run is recorded, and are never made again for it:

- Numbers (events, marks, readings, zeros, depth, numbers of steps) must come out the same for good.
- Names (kind, action, what is expected, cause, dial) are those of the version that recorded it. If the program
  has renamed something since, RENAMED says so; the file of facts does not change.
- Another fact may be added for new recordings. A test asks for those that the file holds.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from core.events.event import Event
from core.events.replay import replay
from core.events.state import RunSummary, State
from core.inputs import input_as_data
from core.jobs.job import read_job
from core.logbook.logbook import Logbook
from core.plan import AnySetting, figures_as_data
from core.run.revising import still_matches
from core.values.dials import Setting
from core.values.first_version import DIALS, KINDS, Names

RENAMED: Mapping[str, Names] = {"kind": KINDS, "zeroes": DIALS, "dial": DIALS, "zeros": DIALS}
"""For each fact the names that recordings hold, by what the newest program calls the same thing.

They are those of `core.values.first_version`. Who renames an action, a cause or what is expected adds its lines here.
"""

MARKS = {"open": "-", "done": "d", "skipped": "s"}
_PLACES = 6
"""The decimal places that are compared. A later version may add floats in another order."""


def facts_of_logbook(data: Path, jobs: Path) -> list[dict[str, Any]]:
    """Return the facts of every run of the logbook in a folder, the oldest first. `jobs` holds the job files."""
    with Logbook.open(data, read_only=True) as logbook:
        infos = logbook.runs(limit=1_000)
        return [facts_of(info, logbook.events(info.uid), jobs) for info in reversed(infos)]


def facts_of(info: RunSummary, events: Sequence[Event], jobs: Path) -> dict[str, Any]:
    """Return the facts of a run."""
    state = replay(events, info.uid)
    steps = state.steps
    return {
        "uid": info.uid,
        "name": _name(state),
        "job": None if state.origin is None else state.origin.job_path,
        "as_filed": is_as_filed(state, jobs),
        "kind": state.plan_input.kind,
        "material": state.plan_input.material,
        "lathe": state.plan_input.lathe_name,
        "example_lathe": state.plan_input.stand_in,
        "status": state.status,
        "logged": dict(Counter(event.kind for event in events)),
        "causes": dict(Counter(event.body["cause"] for event in events if event.kind == "revised")),
        "sessions": len({event.session for event in events}),
        "steps": "".join(MARKS[state.status_of(step.id)] for step in steps),
        "cursor": _cursor(state),
        "entered": {str(step_id): [value, state.results[step_id].unit] for step_id, value in state.values.items()},
        "notes": [note.text for note in state.notes],
        "zeros": {dial: str(zero) for dial, zero in state.zeros.items()},
        "depth_mm": None if state.depth_mm is None else round(state.depth_mm, _PLACES),
        "revisions": dict(Counter(input_as_data(revision.entered)[0] for revision in state.revisions)),
        "passes": [state.pass_number, state.pass_count],
        "run_time_ms": state.run_time_ms,
    }


def is_as_filed(state: State, jobs: Path) -> bool | None:
    """Return whether the job file still has the values from which a run was planned; None for a run without a job."""
    if state.origin is None:
        return None
    job = read_job(jobs / Path(state.origin.job_path).name)
    operation = next(found for found in job.operations if found.name == state.origin.op_name)
    return still_matches(state.plan_input.digests, operation)


def as_called_now(facts: Any, key: str = "") -> Any:
    """Return recorded facts with every name in the spelling of the newest program."""
    if isinstance(facts, Mapping):
        return {RENAMED.get(key, {}).get(name, name): as_called_now(value, name) for name, value in facts.items()}
    if isinstance(facts, list):
        return [as_called_now(value, key) for value in facts]
    return RENAMED.get(key, {}).get(facts, facts) if isinstance(facts, str) else facts


def _name(state: State) -> str:
    return state.origin.op_name if state.origin else str(state.plan_input.parameters["name"])


def _cursor(state: State) -> dict[str, Any] | None:
    step = state.cursor
    if step is None:
        return None
    return {
        "step": step.id,
        "action": step.action,
        "expects": step.expects,
        "zeroes": list(step.zeroed_dials),
        "may_not_be_skipped": step.required,
        "place": [step.at.layer, step.at.position, figures_as_data(step).get("angle_deg")],
        "settings": _settings(step.settings),
    }


def _settings(settings: Iterable[AnySetting]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for setting in settings:
        if isinstance(setting, Setting):
            numbers = {name: _rounded(getattr(setting, name)) for name in ("position", "turns", "reading")}
            found.append({"dial": setting.dial, "unit": setting.unit, **numbers})
        else:
            numbers = {name: getattr(setting, name) for name in ("turns", "holes", "circle")}
            move = None if setting.move is None else list(setting.move)
            compound = None if setting.compound is None else dict(setting.compound)
            found.append({"dial": setting.dial, **numbers, "move": move, "compound": compound})
    return found


def _rounded(number: float | None) -> float | None:
    return None if number is None else round(float(number), _PLACES)
