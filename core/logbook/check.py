"""Checks a whole logbook: the SQLite file, the checksum of every event, and the list of runs against the events."""

import sqlite3
import threading
from contextlib import closing, suppress
from pathlib import Path
from typing import NamedTuple

from core.events.event import Event
from core.events.replay import replay
from core.events.state import state_summary
from core.logbook.errors import LogbookDamagedError, LogbookDiskError, errors_as_sentences
from core.logbook.rows import RUN_COLUMNS, Pause, as_at_one_moment, no_pause, paced, read_events, run_row
from core.logbook.schema import connect
from core.values.errors import EventError, LogbookError
from core.values.first_version import kind_now
from core.values.plain_text import clean, quoted, sentence

MOST_PROBLEMS = 100
_PAUSE_S = 0.005
"""The length of the pause after every few events [s], in which the program reacts to keys."""
_LONGEST_STOP_S = 2.0


class Verification(NamedTuple):
    """The result of checking the whole logbook."""

    runs: int
    events: int
    strays: int
    """The number of events that a repair saved although an earlier event of the run is lost."""
    problems: tuple[str, ...]
    """At most a hundred problems, each as a sentence; () if the logbook is undamaged."""


def verify(connection: sqlite3.Connection, path: Path, pause: Pause = no_pause) -> Verification:
    """Check the file and every run, and return the result. Other programs may log events during the check.

    Only one run is in memory at a time. `pause` is called after every 200 events. Raises LogbookDiskError or
    sqlite3.Error if the check cannot continue.
    """
    problems = [
        f"The file is damaged: {clean(text)}."
        for (text,) in connection.execute(f"PRAGMA integrity_check({MOST_PROBLEMS})")
        if text != "ok"
    ]
    with as_at_one_moment(connection):
        listed = {uid: None for (uid,) in connection.execute("SELECT uid FROM run")}
        logged = {uid: None for (uid,) in connection.execute("SELECT DISTINCT run FROM event")}
    problems += [f"Run {quoted(uid)} is listed but has no events." for uid in listed if uid not in logged]
    problems += [f"Run {quoted(uid)} has events but is not listed." for uid in logged if uid not in listed]
    count = 0
    for uid in logged:
        if uid not in listed:
            continue
        pause()
        try:
            events = read_events(connection, path, uid, pause)
        except LogbookDiskError:
            raise
        except LogbookError as error:
            problems.append(error.message)
            continue
        count += len(events)
        problems += _problems_of(connection, uid, events, pause)
    strays = connection.execute("SELECT count(*) FROM stray").fetchone()[0]
    return Verification(runs=len(logged), events=count, strays=strays, problems=tuple(problems[:MOST_PROBLEMS]))


def _problems_of(connection: sqlite3.Connection, uid: str, events: tuple[Event, ...], pause: Pause) -> list[str]:
    """Return a sentence for each difference between a run's events and the run's entry in the list of runs.

    `pause` is called after every 200 events.
    """
    row = connection.execute(f"SELECT {RUN_COLUMNS} FROM run WHERE uid = ?", (uid,)).fetchone()
    try:
        summary = state_summary(replay(paced(events, pause), uid))
    except EventError as error:
        return [f"Run {uid} cannot be replayed. {sentence(error.message)}"]
    names = RUN_COLUMNS.split(", ")[1:]
    by_events = dict(zip(names, run_row(uid, events[0], summary), strict=True))
    listed = dict(zip(names, row[1:], strict=True))
    listed["kind"] = kind_now(str(listed["kind"]))
    if listed["last_seq"] > summary.last_seq:
        # An event was logged between the two queries, so the list is newer than the events read here.
        listed |= summary._asdict()
    wrong = [name for name in names if listed[name] != by_events[name]]
    return [
        f"Run {uid}: the list of runs has {clean(str(listed[name]), 60)} "
        f"for {name.replace('_', ' ')}, but the run's events give another value."
        for name in wrong
    ]


class Check:
    """A check of the whole logbook that runs in a worker thread, on its own connection to the file."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._connection: sqlite3.Connection | None = None
        self._stopping = threading.Event()
        self._ended = threading.Event()
        self._ended.set()

    def damage(self) -> str:
        """Check the logbook and return a sentence about its damage; "" if no damage was found.

        Damage counts only if two checks find it, because SQLite also reports a temporary disk error as damage. A
        failing disk or a call of `stop` ends the check, and the result is then "".
        """
        self._ended.clear()
        try:
            return self._problem() and self._problem()
        finally:
            self._ended.set()

    def stop(self) -> None:
        """Stop the check. Wait up to two seconds for the worker thread to end the check."""
        self._stopping.set()
        connection = self._connection
        if connection is not None:
            # The connection may be closed by now.
            with suppress(sqlite3.ProgrammingError):
                connection.interrupt()
        self._ended.wait(_LONGEST_STOP_S)

    def _problem(self) -> str:
        try:
            # If Python itself read the file, this process would lose SQLite's locks.
            with errors_as_sentences(self._path), closing(connect(self._path, "ro", any_thread=True)) as connection:
                self._connection = connection
                if self._stopping.is_set():
                    return ""
                problems = verify(connection, self._path, self._pause).problems
        except LogbookDamagedError as error:
            problems = (error.message,)
        except (LogbookError, _StoppedError):
            problems = ()
        finally:
            self._connection = None
        return problems[0] if problems and not self._stopping.is_set() else ""

    def _pause(self) -> None:
        if self._stopping.wait(_PAUSE_S):
            raise _StoppedError


class _StoppedError(Exception):
    """Raised inside a check to end it, after `stop` was called."""
