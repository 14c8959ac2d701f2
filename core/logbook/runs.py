"""Reads one run out of the logbook, and holds its events against what the list of runs says of it."""

import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

from core.logbook.errors import damaged
from core.logbook.schema import EVENT_COLUMNS, EVENTS_OF_RUN, event_of
from core.run.events import Event
from core.values import first_version
from core.values.errors import LogbookError
from core.values.files import name_of
from core.values.plain_text import quoted


@contextmanager
def as_at_one_moment(connection: sqlite3.Connection) -> Iterator[None]:
    """Let all that is read in the block be as at one moment, whatever another program logs meanwhile."""
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
"""Some milliseconds of work."""


def no_pause() -> None:
    """Go on at once."""


def paced(items: Iterable[_Item], pause: Pause) -> Iterator[_Item]:
    """Yield items, with a pause after every few."""
    for number, item in enumerate(items, start=1):
        yield item
        if number % _AT_ONCE == 0:
            pause()


def read_events(connection: sqlite3.Connection, path: Path, run: str, pause: Pause = no_pause) -> tuple[Event, ...]:
    """Return the events of a run, each as it was written, and as many as the list of runs says.

    A row with a wrong run or number shows as a gap or not at all. Raises LogbookDamagedError, LogbookError where
    there is no such run, and sqlite3.Error.
    """
    with as_at_one_moment(connection):
        events = _checked(paced(connection.execute(EVENTS_OF_RUN, (run,)), pause), 0, path, run)
        listed = connection.execute("SELECT last_seq FROM run WHERE uid = ?", (run,)).fetchone()
    if not events and listed is None:
        raise LogbookError(f"the logbook {name_of(path)} holds no run {quoted(run)}")
    if listed is None:
        raise damaged(path, f"run {quoted(run)} is missing from the list of runs")
    if listed[0] != len(events) - 1:
        raise damaged(
            path, f"run {quoted(run)} has {len(events)} events; the list of runs says {quoted(listed[0])} is the last"
        )
    return events


def read_some_events(connection: sqlite3.Connection, path: Path, run: str, first: int, limit: int) -> tuple[Event, ...]:
    """Return at most `limit` events of a run from number `first` on; raises as `read_events` does."""
    query = f"SELECT {EVENT_COLUMNS} FROM event WHERE run = ? AND seq >= ? ORDER BY seq LIMIT ?"
    return _checked(connection.execute(query, (run, first, limit)), first, path, run)


def _checked(rows: Iterable[tuple[Any, ...]], first: int, path: Path, run: str) -> tuple[Event, ...]:
    events = []
    for seq, row in enumerate(rows, start=first):
        found = event_of(row)
        if found is None or found[1].seq != seq:
            raise damaged(path, f"event {seq} of run {quoted(run)} is not as it was written")
        events.append(first_version.event(found[1], row[_BODY]))
    return tuple(events)
