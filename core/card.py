"""A job as plain data, for printing and for JSON. Lengths in mm, angles in degrees."""

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from core.figure_words import lines_for
from core.jobs import Job, JobOperation
from core.lathe import SET_UP, Lathe
from core.plan import INNER_KEYS, Step, setting_as_data
from core.safety import ADVICE

CARD_FORMAT = 1
Drawn = Callable[[JobOperation], Sequence[str]]
"""Draws an operation as lines of text, none where there is nothing to draw."""

STAND_IN_WORDS = (
    f"these figures are for the stand-in lathe, not for yours: describe your own in a lathe file, or in {SET_UP}"
)


def card_data(job: Job) -> dict[str, Any]:
    """Return the card of a job as data that JSON can hold."""
    return {
        "format": CARD_FORMAT,
        "title": job.title,
        "lathe": job.lathe.name,
        "stand_in": job.lathe.stand_in,
        "operations": [_operation_data(operation, job.lathe) for operation in job.operations],
    }


def _operation_data(operation: JobOperation, lathe: Lathe) -> dict[str, Any]:
    plan = operation.plan
    return {
        "number": operation.number,
        "name": operation.name,
        "kind": operation.kind,
        "figures": {key: _tidy(value) for key, value in plan.figures.items()},
        "cautions": cautions(operation, lathe),
        "steps": [_step_data(number, step) for number, step in enumerate(plan.steps, start=1)],
    }


def cautions(operation: JobOperation, lathe: Lathe) -> list[str]:
    """Return all cautions of an operation: its own, then the general ones."""
    return [*own_cautions(operation, lathe), *operation.plan.general]


def own_cautions(operation: JobOperation, lathe: Lathe) -> list[str]:
    """Return the cautions of this very operation, the stand-in lathe's first."""
    return [*([STAND_IN_WORDS] if lathe.stand_in else []), *operation.plan.cautions]


def general_cautions(job: Job) -> tuple[str, ...]:
    """Return the general cautions of all operations, each once; whose rules decide comes last."""
    found = dict.fromkeys(caution for operation in job.operations for caution in operation.plan.general)
    return tuple(sorted(found, key=lambda caution: caution == ADVICE))


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
    shown = {key: _tidy(value) for key, value in step.extra.items() if key not in INNER_KEYS}
    return data | shown


def _tidy(value: Any) -> Any:
    """Round floats to a millionth of a micrometre: what lies below is the machine's, not the lathe's."""
    if isinstance(value, float):
        return round(value, 9) + 0.0
    if isinstance(value, dict):
        return {key: _tidy(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_tidy(item) for item in value]
    return value


def card_text(job: Job, markdown: bool = False, draw: Drawn | None = None) -> str:
    """Return the card of a job as text to print and take to the machine, with what `draw` draws of an operation."""
    lines = [f"# {job.title}" if markdown else job.title.upper()]
    lathe = f"Lathe: {job.lathe.name}" + (" (STAND-IN, not yours)" if job.lathe.stand_in else "")
    lines += ["", lathe, *([f"Material: {job.material}"] if job.material else [])]
    general = general_cautions(job)
    if general:
        bullet = "- " if markdown else "  "
        lines += ["", "## Before power" if markdown else "Before power", *([] if markdown else ["------------"])]
        lines += [f"{bullet}! {caution}" for caution in general]
    for operation in job.operations:
        picture = draw(operation) if draw else ()
        lines += ["", *_operation_lines(operation, job.lathe, markdown, picture)]
    return "\n".join(lines) + "\n"


def _operation_lines(operation: JobOperation, lathe: Lathe, markdown: bool, picture: Sequence[str]) -> Iterator[str]:
    heading = f"{operation.number}. {operation.name}"
    yield f"## {heading}" if markdown else heading
    if not markdown:
        yield "-" * len(heading)
    bullet = "- " if markdown else "  "
    figures = list(lines_for(lathe, operation.plan.figures))
    if figures:
        yield ""
        width = max(len(name) for name, _ in figures)
        for name, value in figures:
            yield f"- {name}: {value}" if markdown else f"  {name:<{width}}  {value}"
    if picture:
        yield ""
        yield from ["```", *picture, "```"] if markdown else (f"  {line}".rstrip() for line in picture)
    own = own_cautions(operation, lathe)
    if own:
        yield ""
        yield from (f"{bullet}! {caution}" for caution in own)
    yield ""
    yield from _step_lines(operation, lathe, markdown)


def _step_lines(operation: JobOperation, lathe: Lathe, markdown: bool) -> Iterator[str]:
    if markdown:
        yield "| step | what | takes off | to go |"
        yield "| ---: | --- | ---: | ---: |"
    on = ", on the radius" if operation.kind in {"turn", "thread"} else ""
    for number, step in enumerate(operation.plan.steps, start=1):
        removed = "" if step.removed_mm is None else lathe.say(step.removed_mm)
        left = "" if step.remaining_mm is None else lathe.say(step.remaining_mm)
        if markdown:
            text = step.text.replace("|", "\\|")
            yield f"| {number} | {text} | {removed} | {left} |"
        else:
            amounts = f"  [takes {removed}, {left} to go{on}]" if removed else ""
            yield f"  {number:>3}  {step.text}{amounts}"
        for caution in step.cautions:
            yield f"|  | ! {caution} |  |  |" if markdown else f"       ! {caution}"
