"""Converts a card to rows without sentences: one row for each figure and step, or one for each refusal.

Every row starts with the number of its operation, so that a diff can be read without its context. Steps have no
numbers, so an additional step changes only one row.
"""

import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from core.jobs.card import card_data
from core.jobs.job import read_job
from core.lathe.lathe import Lathe
from core.lathe.reader import find_lathe, problems_in
from core.operations.registry import plan_of, read_operation
from core.values.errors import FileError
from core.values.fields import Problem, Table
from core.values.files import parse_toml, read_text

WORDING = frozenset({"text", "cautions", "direction"})
"""Keys of a card that hold sentences. Golden cards leave them out."""
IDENTIFIERS = frozenset(
    {"action", "cutter", "designation", "dial", "drill", "how", "last_tap", "lengths_by", "lie", "measured", "name"}
    | {"shape", "tapping_basis", "tapping_drill", "tool", "unit", "verdict", "wanted", "way", "where"}
)
"""Keys that hold a short name, such as "cut", "jaw 1", "M10x1.5-6g" or a drill's "5.1 mm"."""
ON_ONE_LINE = frozenset({"elements"})
"""Keys of lists whose items get one line each."""


def golden_lines(path: Path) -> list[str]:
    """Return the card of a job as rows, or the refusals of the job. For a lathe file return its refusals."""
    data = parse_toml(read_text(path), path)
    if "operation" not in data:
        return _refused(problems_in(data), "")
    try:
        job = read_job(path)
    except FileError:
        return list(_refused_operations(data, path))
    return card_lines(card_data(job))


def card_lines(card: Mapping[str, Any]) -> list[str]:
    """Return the figures and steps of a card as rows.

    The user's own texts, such as title and names, are left out.
    """
    lines = [f"{key} = {_plain(key, card[key])}" for key in ("format", "stand_in")]
    for operation in json.loads(json.dumps(card["operations"])):
        number = operation["number"]
        lines.append(f"{number} kind = {operation['kind']}")
        lines += [f"{number} {path} = {text}" for path, text in _leaves("", "", operation["figures"])]
        lines += [f"{number} step {_step_text(step)}" for step in operation["steps"]]
    return lines


def _step_text(step: Mapping[str, Any]) -> str:
    """Return a step as one row: its action, each dial with its setting in brackets, then all other figures."""
    dials = [
        f"{_plain('dial', setting['dial'])}({_pairs({key: setting[key] for key in setting if key != 'dial'})})"
        for setting in step.get("settings", ())
    ]
    rest = {key: step[key] for key in step if key not in {"number", "action", "settings"}}
    return " ".join(part for part in (_plain("action", step["action"]), *dials, _pairs(rest)) if part)


def _pairs(values: Mapping[str, Any]) -> str:
    """Return values as one row of key=value, sorted by key."""
    return " ".join(f"{path}={text}" for path, text in _leaves("", "", values))


def _leaves(path: str, key: str, value: Any) -> Iterator[tuple[str, str]]:
    """Yield each value with its path, such as "layers[0].offset_mm". A list of plain values counts as one value."""
    if isinstance(value, dict):
        for name in sorted(value.keys() - WORDING):
            yield from _leaves(f"{path}.{name}" if path else name, name, value[name])
    elif isinstance(value, list) and any(isinstance(item, dict | list) for item in value):
        for index, item in enumerate(value):
            if key in ON_ONE_LINE:
                yield f"{path}[{index}]", _pairs(item)
                continue
            yield from _leaves(f"{path}[{index}]", key, item)
    else:
        yield path, _plain(key, value)


def _plain(key: str, value: Any) -> str:
    """Return as text a number, a flag, a short name, or a list of these.

    Raises ValueError for a text that may be a sentence.
    """
    items = value if isinstance(value, list) else [value]
    if key not in IDENTIFIERS and any(isinstance(item, str) for item in items):
        raise ValueError(f'"{key}" holds the text {value!r}: add it to WORDING or IDENTIFIERS of {Path(__file__).name}')
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def _refused_operations(data: Mapping[str, Any], path: Path) -> Iterator[str]:
    """Yield a row for each refused key of each operation.

    Each operation is read on its own, because a FileError contains only sentences and no keys.
    """
    named = data.get("lathe")
    lathe = find_lathe(None if named is None else path.parent / named, None)
    for number, table in enumerate(data["operation"], start=1):
        yield from _refused(_problems(table, lathe, data.get("material")), f"{number} ")


def _problems(data: Mapping[str, Any], lathe: Lathe, material: str | None) -> list[Problem]:
    """Return all problems with the keys and values of one operation."""
    problems: list[Problem] = []
    table = Table(data, "", problems)
    found = read_operation(table, lathe)
    if found is not None:
        plan_of(table, found, data["kind"], lathe, material)
    return problems


def _refused(problems: Sequence[Problem], head: str) -> list[str]:
    """Return a row for each problem: the table and the key, without a sentence."""
    places = sorted((problem.where.strip(", "), problem.key) for problem in problems)
    return [f"{head}refused: {', '.join(part for part in place if part)}" for place in places]
