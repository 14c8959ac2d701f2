"""Checks a whole logbook: the file, every event against its checksum, every run against its events."""

import sqlite3
from collections.abc import Callable
from typing import NamedTuple

from core.errors import EventError, LogbookError
from core.events import Event
from core.logbook_schema import RUN_COLUMNS, run_of, standing_of
from core.plain_text import clean
from core.session import replay

MOST_PROBLEMS = 100


class Verification(NamedTuple):
    """What a check of the whole logbook found."""

    runs: int
    events: int
    strays: int
    """Events read out of a damaged file that follow on a lost one."""
    problems: tuple[str, ...]
    """Sentences, the first hundred; none where all is sound."""


def verify(connection: sqlite3.Connection, events_of: Callable[[str], tuple[Event, ...]]) -> Verification:
    """Check file and runs, one run in memory at a time; raises sqlite3.Error where it cannot go on."""
    problems = [
        f"the file: {clean(text)}"
        for (text,) in connection.execute(f"PRAGMA integrity_check({MOST_PROBLEMS})")
        if text != "ok"
    ]
    listed = {uid for (uid,) in connection.execute("SELECT uid FROM run")}
    logged = [uid for (uid,) in connection.execute("SELECT DISTINCT run FROM event")]
    problems += [f"run {uid} is listed but has no events" for uid in sorted(listed - set(logged))]
    count = 0
    for uid in logged:
        try:
            events = events_of(uid)
        except LogbookError as error:
            problems.append(error.message)
            continue
        count += len(events)
        problems += _problems_of(connection, uid, events)
    strays = connection.execute("SELECT count(*) FROM stray").fetchone()[0]
    return Verification(runs=len(logged), events=count, strays=strays, problems=tuple(problems[:MOST_PROBLEMS]))


def _problems_of(connection: sqlite3.Connection, uid: str, events: tuple[Event, ...]) -> list[str]:
    """Return what is wrong with a run whose events are whole."""
    row = connection.execute(f"SELECT {RUN_COLUMNS} FROM run WHERE uid = ?", (uid,)).fetchone()
    if row is None:
        return [f"run {uid} has {len(events)} events but is not listed"]
    try:
        standing = standing_of(replay(events, uid))
    except EventError as error:
        return [f"run {uid} cannot be replayed: {error.message}"]
    found = run_of(row)
    listed = {name: getattr(found, name) for name in standing._fields}
    wrong = [name for name, value in standing._asdict().items() if listed[name] != value]
    return [f"run {uid}: the list says {listed[name]} for {name}, its events do not" for name in wrong]
