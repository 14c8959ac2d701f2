"""The log as text, CSV and JSON: every event of every run, and where the clock cannot have been right."""

import csv
import io
import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from itertools import pairwise
from typing import Any

from core.events import Event, canonical
from core.logbook_schema import RunInfo
from core.plain_text import clean

Logged = tuple[RunInfo, Sequence[Event]]
"""A run and all its events."""

COLUMNS = (
    "run",
    "job_path",
    "job_title",
    "op_name",
    "seq",
    "kind",
    "wall",
    "session",
    "monotonic_ms",
    "step",
    "value",
    "unit",
    "words",
    "clock",
    "body",
)
CLOCK_TOLERANCE_S = 5.0
"""Two clocks of one computer drift apart by far less between two events."""

_LONGEST_LINE = 500
_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?")
_STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def as_text(runs: Iterable[Logged]) -> Iterator[str]:
    """Yield the lines that `halfnut log` prints: a heading for each run, a line for each event."""
    for info, events in runs:
        yield _heading(info)
        remarks = clock_remarks(events)
        for event, words in _with_words(events):
            line = f"  {event.seq:>5}  {clean(event.wall, 40)}  {event.kind}{words and ' '}{words}"
            yield clean(line, _LONGEST_LINE)
            if event.seq in remarks:
                yield f"         the clock: {remarks[event.seq]}"


def as_csv(runs: Iterable[Logged]) -> Iterator[str]:
    """Yield the lines of a CSV table (RFC 4180), a row for each event, the whole event in `body`.

    Cells that a spreadsheet program would run as a formula are led by an apostrophe.
    """
    yield _csv_line(COLUMNS)
    for info, events in runs:
        remarks = clock_remarks(events)
        for event, words in _with_words(events):
            row = _csv_row(info, event) | {"words": words, "clock": remarks.get(event.seq)}
            yield _csv_line([_cell(row[name]) for name in COLUMNS])


def as_json(runs: Iterable[Logged]) -> Iterator[str]:
    """Yield the lines of a JSON list of runs, each with all its events."""
    before = "["
    for info, events in runs:
        remarks = clock_remarks(events)
        data = [event.as_data() | ({"clock": remarks[event.seq]} if event.seq in remarks else {}) for event in events]
        yield before
        yield json.dumps({**_run_data(info), "events": data}, sort_keys=True, allow_nan=False)
        before = ","
    yield "]" if before == "," else "[]"


def clock_remarks(events: Sequence[Event]) -> Mapping[int, str]:
    """Return what can be told of a wrong clock, by the seq of the event at which it shows.

    Within one session the wall clock is held against the monotonic one; between two
    sessions only a step backwards can be told. Time zones and summer time do not matter.
    """
    remarks = {}
    for earlier, later in pairwise(events):
        remark = _clock_remark(earlier, later)
        if remark:
            remarks[later.seq] = remark
    return remarks


def _clock_remark(earlier: Event, later: Event) -> str:
    try:
        wall_s = (datetime.fromisoformat(later.wall) - datetime.fromisoformat(earlier.wall)).total_seconds()
    except (ValueError, TypeError):
        return "date and time cannot be compared with those of the event before"
    if earlier.session != later.session:
        return "" if wall_s >= 0 else f"ran backwards by {_span(wall_s)}; one of the two sessions had it wrong"
    jumped_s = wall_s - (later.monotonic_ms - earlier.monotonic_ms) / 1000
    if abs(jumped_s) <= CLOCK_TOLERANCE_S:
        return ""
    if jumped_s < 0:
        return f"was set back by {_span(jumped_s)}"
    return f"went ahead by {_span(jumped_s)}: it was set, or the computer slept"


def _span(seconds: float) -> str:
    minutes, rest = divmod(round(abs(seconds)), 60)
    hours, minutes = divmod(minutes, 60)
    days, hours = divmod(hours, 24)
    parts = [(days, "d"), (hours, "h"), (minutes, "min"), (rest, "s")]
    return " ".join(f"{number} {unit}" for number, unit in parts if number) or "0 s"


def _heading(info: RunInfo) -> str:
    what = info.kind
    if info.origin is not None:
        what = f'{info.kind} "{info.origin.op_name}" of {info.origin.job_path}'
    counted = f"{info.steps_done} of {info.steps_done + info.steps_open} steps"
    return clean(f"run {info.uid}: {what}, begun {info.begun}, {info.status}, {counted}", _LONGEST_LINE)


def _step_texts(event: Event) -> dict[int, str]:
    """Return the texts of the steps that an event brings, by step id."""
    if event.kind == "begun":
        return {step["id"]: step["text"] for step in event.body["plan"]["steps"]}
    if event.kind == "revised":
        return {step["id"]: step["text"] for step in event.body["steps"]}
    return {}


def _with_words(events: Iterable[Event]) -> Iterator[tuple[Event, str]]:
    """Yield each event with what it says beside its kind."""
    texts: dict[int, str] = {}
    for event in events:
        texts |= _step_texts(event)
        yield event, _words(event, texts)


def _words(event: Event, texts: Mapping[int, str]) -> str:
    body = event.body
    if event.kind == "begun":
        return f"{body['kind']}, {len(body['plan']['steps'])} steps, lathe {body['lathe_name']}"
    if event.kind == "done":
        value = "" if "value" not in body else f" = {_shown(body['value'])} {body.get('unit') or ''}".rstrip()
        return f"step {body['step']}{value}: {texts.get(body['step'], '')}"
    if event.kind == "revised":
        return f"({body['cause']}) {_shown(body['given'])}, {len(body['steps'])} steps"
    if event.kind in ("skipped", "reopened"):
        steps = ", ".join(str(step) for step in body["steps"])
        return f"step {steps}" + (f": {body['reason']}" if "reason" in body else "")
    if event.kind == "undone":
        return f"event {body['seq']}"
    return next((body[name] for name in ("text", "reason") if name in body), "")


def _shown(value: Any) -> str:
    return value if isinstance(value, str) else canonical(value)


def _run_data(info: RunInfo) -> dict[str, Any]:
    origin = info.origin
    return {
        "run": info.uid,
        "job_path": origin.job_path if origin else None,
        "job_title": origin.job_title if origin else None,
        "op_name": origin.op_name if origin else None,
        "kind": info.kind,
        "digest": info.digest,
        "begun": info.begun,
        "status": info.status,
        "steps_done": info.steps_done,
        "steps_open": info.steps_open,
    }


def _csv_row(info: RunInfo, event: Event) -> dict[str, Any]:
    return (
        _run_data(info)
        | event.as_data()
        | {name: event.body.get(name) for name in ("step", "value", "unit")}
        | {"body": canonical(event.body)}
    )


def _cell(value: Any) -> str:
    """Return a cell that no spreadsheet program takes for a formula; a plain number stays one."""
    if value is None:
        return ""
    text = _shown(value)
    # The body is ASCII JSON, whole whatever its length; anything else is a stranger's text.
    text = text if text.isascii() and text.isprintable() else clean(text, 4 * _LONGEST_LINE)
    if text.lstrip().startswith(_STARTS_FORMULA) and not _NUMBER.fullmatch(text):
        return f"'{text}"
    return text


def _csv_line(cells: Iterable[str]) -> str:
    line = io.StringIO()
    csv.writer(line, lineterminator="").writerow(cells)
    return line.getvalue()
