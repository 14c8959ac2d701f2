"""The card of a job, with its operations, steps and cautions, as plain data for printing and for JSON.

Lengths are in mm, angles in degrees.
"""

from collections.abc import Sequence
from typing import Any

from core.jobs.changeover import Change, job_changes
from core.jobs.job import Job, JobOperation
from core.lathe.lathe import SET_UP, Lathe
from core.plan import INNER_KEYS, Step, figures_as_data, setting_as_data
from core.safety import ADVICE

CARD_FORMAT = 1

EXAMPLE_LATHE_WORDS = (
    "These figures are for an example lathe, not for your lathe. Describe your own lathe in "
    f"{SET_UP} or in a lathe file."
)


def card_data(job: Job) -> dict[str, Any]:
    """Return the card of a job as data that can be written as JSON."""
    return {
        "format": CARD_FORMAT,
        "title": job.title,
        "lathe": job.lathe.name,
        "stand_in": job.lathe.example,
        "operations": [
            _operation_data(operation, job.lathe, changes)
            for operation, changes in zip(job.operations, job_changes(job), strict=True)
        ],
    }


def _operation_data(operation: JobOperation, lathe: Lathe, changes: Sequence[Change]) -> dict[str, Any]:
    plan = operation.plan
    return {
        "number": operation.number,
        "name": operation.name,
        "kind": operation.kind,
        "figures": {key: _tidy(value) for key, value in plan.figures.items()},
        "cautions": cautions(operation, lathe),
        "before": [change._asdict() for change in changes],
        "steps": [_step_data(number, step) for number, step in enumerate(plan.steps, start=1)],
    }


def cautions(operation: JobOperation, lathe: Lathe) -> list[str]:
    """Return all cautions of an operation: its own cautions first, then the general ones."""
    return [*own_cautions(operation, lathe), *operation.plan.general]


def own_cautions(operation: JobOperation, lathe: Lathe) -> list[str]:
    """Return the cautions that belong to this operation only.

    The caution that the lathe is only an example comes first.
    """
    return [*([EXAMPLE_LATHE_WORDS] if lathe.example else []), *operation.plan.cautions]


def general_cautions(job: Job) -> tuple[str, ...]:
    """Return the general cautions of all operations in a job, each once.

    The caution to follow the manual comes last.
    """
    cautions = dict.fromkeys(caution for operation in job.operations for caution in operation.plan.general)
    return tuple(sorted(cautions, key=lambda caution: caution == ADVICE))


def _step_data(number: int, step: Step) -> dict[str, Any]:
    data: dict[str, Any] = {"number": number, "action": step.action, "text": step.text}
    if step.settings:
        data["settings"] = [
            {key: _tidy(value) for key, value in setting_as_data(setting).items()} for setting in step.settings
        ]
    for key in ("depth_mm", "removed_mm", "remaining_mm"):
        value = getattr(step, key)
        if value is not None:
            data[key] = _tidy(value)
    if step.cautions:
        data["cautions"] = list(step.cautions)
    shown = {key: _tidy(value) for key, value in figures_as_data(step).items() if key not in INNER_KEYS}
    return data | shown


def _tidy(value: Any) -> Any:
    """Return a value from the card with each float rounded to 9 decimal places.

    The rounding removes floating-point errors such as 0.30000000000000004. Values inside lists and tables are rounded
    too.
    """
    if isinstance(value, float):
        return round(value, 9) + 0.0
    if isinstance(value, dict):
        return {key: _tidy(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_tidy(item) for item in value]
    return value
