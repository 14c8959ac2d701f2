"""The rows of the logbook: writes events and runs as rows, and reads and checks these rows."""

import json
import re
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar, get_args

from core.events.event import Event, canonical, checksum, digest
from core.events.state import Origin, RunStatus, RunSummary, StateSummary
from core.logbook.errors import damaged
from core.values.errors import EventError, LogbookError
from core.values.files import name_of
from core.values.first_version import event_body, kind_now
from core.values.plain_text import quoted

_UID = re.compile(r"[0-9a-f]{32}")

EVENT_COLUMNS = "run, seq, kind, body, wall, session, monotonic_ms, crc"
"""The columns of an event. Queries always name the columns, because a newer halfnut may have added some."""
EVENTS_OF_RUN = f"SELECT {EVENT_COLUMNS} FROM event WHERE run = ? ORDER BY seq"
_INSERT = f"({EVENT_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)"
INSERT_EVENT = f"INSERT INTO event {_INSERT}"
INSERT_STRAY = f"INSERT OR IGNORE INTO stray {_INSERT}"
RUN_COLUMNS = "number, uid, job_path, job_title, op_name, kind, digest, begun, status, last_seq, steps_done, steps_open"
INSERT_RUN = f"INSERT INTO run ({RUN_COLUMNS}) VALUES (NULL, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
UPDATE_RUN = "UPDATE run SET digest=?, status=?, last_seq=?, steps_done=?, steps_open=? WHERE uid=?"
_NAME_OF_RUN = """SELECT json_extract(body, '$.parameters.name') FROM event
WHERE run = ? AND seq = 0 AND json_valid(body)"""

_PLAN_INPUT_OF_RUN = """SELECT json_extract(body, '$.parameters'), json_extract(body, '$.lathe') FROM event
WHERE run = ? AND seq = 0 AND json_valid(body) AND json_type(body, '$.parameters') = 'object'
AND json_type(body, '$.lathe') = 'object'"""


def is_uid(text: object) -> bool:
    """Return True if `text` is the uid of a run: 32 digits from 0 to f."""
    return isinstance(text, str) and _UID.fullmatch(text) is not None


def event_row(run: str, event: Event) -> tuple[object, ...]:
    """Return the row of an event, including its checksum. Raises EventError if the event's body cannot be written.

    `run`: the uid of the run.
    """
    body = canonical(event.body)
    crc = checksum(run, event, body)
    return (run, event.seq, event.kind, body, event.wall, event.session, event.monotonic_ms, crc)


def event_from_row(row: Iterable[Any]) -> tuple[str, Event] | None:
    """Return the run's uid and the event in a row; None if the row is malformed or its checksum is wrong."""
    run, seq, kind, body, wall, session, monotonic_ms, crc = row
    try:
        event = Event(seq=seq, kind=kind, body=json.loads(body), wall=wall, session=session, monotonic_ms=monotonic_ms)
        return (run, event) if checksum(run, event, body) == crc else None
    except (EventError, ValueError, TypeError, RecursionError):
        return None


def in_todays_names(event: Event, body_text: str) -> Event:
    """Return an event in which keys with old names have today's names. `body_text`: the text of the body in the log."""
    body = event_body(event.kind, event.body, body_text, digest)
    return event if body is event.body else replace(event, body=body)


def run_row(run: str, begun: Event, summary: StateSummary) -> tuple[object, ...]:
    """Return the row for a new run in the list of runs. `run`: the run's uid. `begun`: the run's first event."""
    origin = begun.body["origin"] or {}
    names = [as_column(origin.get(name)) for name in ("job_path", "job_title", "op_name")]
    return (run, *names, begun.body["kind"], summary.digest, begun.wall, *summary[1:])


def run_from_row(row: tuple[Any, ...]) -> RunSummary | None:
    """Return the run that a row of the list of runs describes; None if the row is damaged."""
    number, uid, job_path, job_title, op_name, kind, digest, begun, *counts = row
    names, texts, numbers = (job_path, job_title, op_name), (kind, digest, begun), (number, *counts[1:])
    plausible = (
        is_uid(uid)
        and (all(name is None for name in names) or all(isinstance(name, str | bytes) for name in names))
        and all(isinstance(text, str) for text in texts)
        and counts[0] in get_args(RunStatus)
        and all(type(value) is int and value >= 0 for value in numbers)
    )
    if not plausible:
        return None
    origin = None
    if job_path is not None:
        origin = Origin(
            job_path=_from_column(job_path),
            job_title=_from_column(job_title),
            op_name=_from_column(op_name),
        )
    summary = StateSummary(digest, *counts)
    return RunSummary(number=number, uid=uid, origin=origin, kind=kind_now(kind), begun=begun, **summary._asdict())


def with_name(connection: sqlite3.Connection, info: RunSummary) -> RunSummary:
    """Return the run with its name filled in, if it is a run without a job.

    The name of such a run is in its first event. Raises sqlite3.Error if the log cannot be read.
    """
    if info.origin is not None:
        return info
    row = connection.execute(_NAME_OF_RUN, (info.uid,)).fetchone()
    return info._replace(name=row[0]) if row and isinstance(row[0], str) else info


def with_digest_today(connection: sqlite3.Connection, info: RunSummary) -> RunSummary:
    """Return the run with an additional digest, computed with today's names, if the run was logged under old names.

    The digest covers the parameters and the lathe in the first event. Otherwise the run is returned unchanged, also if
    it was planned again from changed files. Raises sqlite3.Error if the log cannot be read.
    """
    row = connection.execute(_PLAN_INPUT_OF_RUN, (info.uid,)).fetchone()
    if row is None:
        return info
    logged = {"parameters": json.loads(row[0]), "lathe": json.loads(row[1])}
    body = event_body("begun", logged, "".join(row), digest)
    if body.get("logged_digest") != info.digest:
        return info
    return info._replace(digest_today=digest(body["parameters"], body["lathe"]))


def as_column(text: str | None) -> str | bytes | None:
    """Return a text as SQLite can store it; None if `text` is None.

    A file name that is not valid Unicode becomes bytes.
    """
    if text is None:
        return None
    try:
        text.encode()
    except UnicodeEncodeError:
        return text.encode("utf-8", "surrogatepass")
    return text


def _from_column(value: str | bytes) -> str:
    return value.decode("utf-8", "surrogatepass") if isinstance(value, bytes) else value


@contextmanager
def as_at_one_moment(connection: sqlite3.Connection) -> Iterator[None]:
    """Make all queries in the block read the same state of the logbook.

    An event that another program logs meanwhile is not visible in the block.
    """
    connection.execute("BEGIN")
    try:
        yield
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")


Pause = Callable[[], object]
_Item = TypeVar("_Item")
_BODY = EVENT_COLUMNS.split(", ").index("body")
_AT_ONCE = 200
"""The number of items between two pauses. These items take some milliseconds."""


def no_pause() -> None:
    """Do nothing. Checks outside the user interface use this function as their `pause`."""


def paced(items: Iterable[_Item], pause: Pause) -> Iterator[_Item]:
    """Yield the items, and call `pause` after every 200 items."""
    for number, item in enumerate(items, start=1):
        yield item
        if number % _AT_ONCE == 0:
            pause()


def read_events(connection: sqlite3.Connection, path: Path, run: str, pause: Pause = no_pause) -> tuple[Event, ...]:
    """Return all events of a run. Each checksum is checked, and the number of events is compared with the list of runs.

    A row with a wrong uid or number leaves a gap, which counts as damage. Raises LogbookDamagedError for damage,
    LogbookError if there is no such run, and sqlite3.Error if a query fails. `pause`: called after every 200 events.
    """
    with as_at_one_moment(connection):
        events = checked_events(paced(connection.execute(EVENTS_OF_RUN, (run,)), pause), 0, path, run)
        listed = connection.execute("SELECT last_seq FROM run WHERE uid = ?", (run,)).fetchone()
    if not events and listed is None:
        raise LogbookError(f"The logbook {name_of(path)} has no run {quoted(run)}.")
    if listed is None:
        raise damaged(path, f"run {quoted(run)} is missing from the list of runs")
    if listed[0] != len(events) - 1:
        raise damaged(
            path,
            f"run {quoted(run)} has {len(events)} events, but the list of runs says that event "
            f"{quoted(listed[0])} is the last",
        )
    return events


def read_some_events(connection: sqlite3.Connection, path: Path, run: str, first: int, limit: int) -> tuple[Event, ...]:
    """Return at most `limit` events of a run, beginning with event number `first`. Each event's checksum is checked.

    Raises the same errors as `read_events`.
    """
    query = f"SELECT {EVENT_COLUMNS} FROM event WHERE run = ? AND seq >= ? ORDER BY seq LIMIT ?"
    return checked_events(connection.execute(query, (run, first, limit)), first, path, run)


def checked_events(rows: Iterable[tuple[Any, ...]], first: int, path: Path, run: str) -> tuple[Event, ...]:
    """Return the events in the rows of one run.

    `first`: the number that the first event must have. `run`: the uid of the run. Raises LogbookDamagedError for a
    wrong checksum or a gap in the numbers.
    """
    events = []
    for seq, row in enumerate(rows, start=first):
        read = event_from_row(row)
        if read is None or read[1].seq != seq:
            raise damaged(path, f"event {seq} of run {quoted(run)} is missing or has changed")
        events.append(in_todays_names(read[1], row[_BODY]))
    return tuple(events)
