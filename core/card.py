"""A job as plain data, for printing and for JSON. Lengths in mm, angles in degrees."""

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from core.dials import Unit
from core.jobs import Job, JobOperation
from core.lathe import SET_UP, Lathe, dial_words
from core.plan import INNER_KEYS, Step, setting_as_data
from core.quantities import length_text, number_text

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
    """Return the cautions of an operation, the stand-in lathe's first."""
    return [*([STAND_IN_WORDS] if lathe.stand_in else []), *operation.plan.cautions]


def _step_data(number: int, step: Step) -> dict[str, Any]:
    data: dict[str, Any] = {"number": number, "action": step.action, "text": step.text}
    if step.settings:
        data["settings"] = [
            {key: _tidy(value) for key, value in setting_as_data(setting).items()}
            for setting in step.settings
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
    for operation in job.operations:
        picture = draw(operation) if draw else ()
        lines += ["", *_operation_lines(operation, job.lathe, markdown, picture)]
    return "\n".join(lines) + "\n"


def _operation_lines(
    operation: JobOperation, lathe: Lathe, markdown: bool, picture: Sequence[str]
) -> Iterator[str]:
    heading = f"{operation.number}. {operation.name}"
    yield f"## {heading}" if markdown else heading
    if not markdown:
        yield "-" * len(heading)
    bullet = "- " if markdown else "  "
    figures = list(figure_lines(operation.plan.figures, lathe.unit))
    if figures:
        yield ""
        width = max(len(name) for name, _ in figures)
        for name, value in figures:
            yield f"- {name}: {value}" if markdown else f"  {name:<{width}}  {value}"
    if picture:
        yield ""
        yield from ["```", *picture, "```"] if markdown else (f"  {line}".rstrip() for line in picture)
    yield ""
    for caution in cautions(operation, lathe):
        yield f"{bullet}! {caution}"
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


_UNITS = {"mm": "mm", "deg": "deg", "s": "s", "ppm": "ppm", "rpm": "rpm", "arcsec": '"'}
_MINUTES_FROM_S = 300
_WHOLE_LISTS = {"rings", "between_rings"}
"""Lists of which a card leaves nothing out."""
_WORDS = {
    "tapping_drill_mm": ("tapping drill's size", "mm"),
    "passes": ("cutting passes", ""),
    "rpm_most": ("fastest speed that leaves time to stop", "rpm"),
    "scale_reading_deg": ("compound's own scale reads", "deg"),
    "set_over_deg": ("set-over, off square to the axis", "deg"),
    "root_mm": ("root diameter the tip reaches", "mm"),
    "depth_mm": ("depth on the radius", "mm"),
    "fim_mm": ("full indicator movement", "mm"),
    "high_spot_deg": ("high spot at the mark", "deg"),
    "eccentricity_error_mm": ("standard error of the eccentricity", "mm"),
    "out_of_roundness_mm": ("out of roundness, about the least-squares circle", "mm"),
    "ovality_mm": ("oval, highest to lowest", "mm"),
    "three_lobe_mm": ("three-lobed, highest to lowest", "mm"),
    "wobble_deg": ("wobble of the face", "deg"),
    "tilt_deg": ("tilt of the work's axis", "deg"),
    "taper_mm": ("taper on the diameter between the planes", "mm"),
    "moves": ("move", ""),
    "tilt_moves": ("move against the tilt", ""),
}


def figure_lines(figures: Any, unit: Unit = "mm") -> Iterator[tuple[str, str]]:
    """Yield each figure as a name in words and a value with its unit; on an "in" lathe inches come first."""
    for key, value in figures.items():
        if isinstance(value, list):
            yield from _list_lines(key, value, unit)
        elif isinstance(value, dict):
            yield _name(key)[0], ", ".join(f"{name} {text}" for name, text in figure_lines(value, unit))
        else:
            name, its_unit = _name(key)
            text = f"{value_text(value)} {its_unit}".rstrip() if its_unit != "s" else _time_text(value)
            yield name, f"{length_text(value, unit)} ({text})" if unit == "in" and its_unit == "mm" else text


def _parts(values: dict[str, Any], unit: Unit) -> Iterator[str]:
    """Yield the figures of one entry of a list, lists in it as they are."""
    for key, value in values.items():
        if isinstance(value, list | tuple):
            yield f"{_name(key)[0]} {value_text(value)}"
        else:
            yield from (f"{name} {text}" for name, text in figure_lines({key: value}, unit))


def _time_text(time_s: float) -> str:
    """Return seconds as they are stopped by, longer times in minutes."""
    return f"{number_text(time_s / 60, 0)} min" if time_s >= _MINUTES_FROM_S else f"{value_text(time_s)} s"


def _list_lines(key: str, values: list[Any], unit: Unit) -> Iterator[tuple[str, str]]:
    most = len(values) if key in _WHOLE_LISTS else 3
    for number, value in enumerate(values[:most], start=1):
        name = f"{_name(key)[0]} {number}"
        if isinstance(value, dict) and "how" in value:
            # Only a runout has moves, and only its card needs the module.
            from core.runout.figures import move_words

            yield name, move_words(value, lambda length_mm: length_text(length_mm, unit))
        elif isinstance(value, dict):
            yield name, ", ".join(_parts(value, unit))
        else:
            yield name, value_text(value)
    if len(values) > most:
        yield f"{_name(key)[0]}, more", f"{len(values) - most} in the JSON card"


def _name(key: str) -> tuple[str, str]:
    if key in _WORDS:
        return _WORDS[key]
    stem, _, unit = key.rpartition("_")
    if stem and unit in _UNITS:
        return dial_words(stem), _UNITS[unit]
    return dial_words(key), ""


def value_text(value: Any) -> str:
    """Return one value in words."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return number_text(value, 4)
    if isinstance(value, list | tuple):
        return "(" + " ".join(value_text(item) for item in value) + ")"
    return str(value)
