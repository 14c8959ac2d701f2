"""The log as text, CSV and JSON: every event of every run, with a remark where the computer's clock was wrong."""

import csv
import io
import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from itertools import pairwise
from typing import Any

from core.events.event import Event, canonical
from core.events.state import RunSummary
from core.run.event_words import EventLine, event_lines, run_names, status_words, wall_parts
from core.values.plain_text import clean

LoggedRun = tuple[RunSummary, Sequence[Event]]
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
"""The largest difference between the clock and the elapsed time [s].

With a larger difference the clock counts as wrong.

Two clocks of one computer drift apart by far less between two events.
"""

_LONGEST_LINE = 500
_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?")
_STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def as_text(runs: Iterable[LoggedRun]) -> Iterator[str]:
    """Yield the rows that `halfnut log` prints: a heading for each run, then one row for each event."""
    for info, events in runs:
        yield _heading(info)
        remarks = clock_remarks(events)
        for line in event_lines(events):
            yield clean(
                f"  {line.event.seq:>5}  {' '.join(wall_parts(line.event.wall))}  {_line_words(line)}", _LONGEST_LINE
            )
            if line.event.seq in remarks:
                yield f"         the clock: {remarks[line.event.seq]}"


def as_csv(runs: Iterable[LoggedRun]) -> Iterator[str]:
    """Yield the rows of a CSV table (RFC 4180) with one row for each event. The column `body` contains the whole event.

    A cell that a spreadsheet program would run as a formula gets an apostrophe in front.
    """
    yield _csv_line(COLUMNS)
    for info, events in runs:
        remarks = clock_remarks(events)
        for line in event_lines(events):
            row = _csv_row(info, line.event) | {"words": _line_words(line), "clock": remarks.get(line.event.seq)}
            yield _csv_line([_cell(row[name]) for name in COLUMNS])


def as_json(runs: Iterable[LoggedRun]) -> Iterator[str]:
    """Yield the rows of a JSON list of runs. Each run contains all its events."""
    before = "["
    for info, events in runs:
        remarks = clock_remarks(events)
        data = [event.as_data() | ({"clock": remarks[event.seq]} if event.seq in remarks else {}) for event in events]
        yield before
        yield json.dumps({**_run_data(info), "events": data}, sort_keys=True, allow_nan=False)
        before = ","
    yield "]" if before == "," else "[]"


def clock_remarks(events: Sequence[Event]) -> Mapping[int, str]:
    """Return remarks on a wrong computer clock, by the number of the event at which the error shows.

    Within one session, the computer's clock is compared with its monotonic clock, which nobody can set. Between two
    sessions, only a step back is noticed. Time zones and summer time make no difference.
    """
    remarks = {}
    for earlier, later in pairwise(events):
        remark = clock_remark(earlier, later)
        if remark:
            remarks[later.seq] = remark
    return remarks


def clock_remark(earlier: Event, later: Event) -> str:
    """Return a remark if the computer's clock was wrong at the later of two successive events; "" otherwise."""
    try:
        wall_s = (datetime.fromisoformat(later.wall) - datetime.fromisoformat(earlier.wall)).total_seconds()
    except (ValueError, TypeError):
        return "its date and time cannot be compared with those of the previous event"
    if earlier.session != later.session:
        return "" if wall_s >= 0 else f"went back by {_span(wall_s)}, so it was wrong in one of the two sessions"
    jumped_s = wall_s - (later.monotonic_ms - earlier.monotonic_ms) / 1000
    if abs(jumped_s) <= CLOCK_TOLERANCE_S:
        return ""
    if jumped_s < 0:
        return f"was set back by {_span(jumped_s)}"
    return f"jumped ahead by {_span(jumped_s)}, because it was set forward or the computer slept"


def _span(seconds: float) -> str:
    minutes, left_s = divmod(round(abs(seconds)), 60)
    hours, minutes = divmod(minutes, 60)
    days, hours = divmod(hours, 24)
    parts = [(days, "d"), (hours, "h"), (minutes, "min"), (left_s, "s")]
    return " ".join(f"{number} {unit}" for number, unit in parts if number) or "0 s"


def _heading(info: RunSummary) -> str:
    name, job = run_names(info)
    what = f"{name}, of the job {job} in {info.origin.job_path}" if info.origin else name
    counted = f"{info.steps_done} of {info.steps_done + info.steps_open} steps"
    started = " ".join(wall_parts(info.begun))
    return clean(f"run {info.uid}: {what}; {status_words(info)}, {counted}, started {started}", _LONGEST_LINE)


def _line_words(line: EventLine) -> str:
    """Return the number of an event's step, and the event in words. An undone event ends with "(undone later)"."""
    step = f"[{line.step}] " if line.step else ""
    return f"{step}{line.words}{' (undone later)' if line.undone else ''}"


def _run_data(info: RunSummary) -> dict[str, Any]:
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


def _csv_row(info: RunSummary, event: Event) -> dict[str, Any]:
    return (
        _run_data(info)
        | event.as_data()
        | {name: event.body.get(name) for name in ("step", "value", "unit")}
        | {"body": canonical(event.body)}
    )


def _cell(value: Any) -> str:
    """Return a value as the text of a CSV cell that no spreadsheet program runs as a formula.

    Plain numbers are not changed.
    """
    if value is None:
        return ""
    text = value if isinstance(value, str) else canonical(value)
    # The body is ASCII JSON and stays whole, whatever its length. All other cells may come from outside.
    text = text if text.isascii() and text.isprintable() else clean(text, 4 * _LONGEST_LINE)
    if text.lstrip().startswith(_STARTS_FORMULA) and not _NUMBER.fullmatch(text):
        return f"'{text}"
    return text


def _csv_line(cells: Iterable[str]) -> str:
    line = io.StringIO()
    csv.writer(line, lineterminator="").writerow(cells)
    return line.getvalue()
