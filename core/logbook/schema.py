"""The logbook's file: its tables, its header, how it is made and opened, and what a row stands for."""

import json
import os
import re
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from pathlib import Path
from typing import Any, Literal, NamedTuple, get_args

from core.logbook.errors import damaged
from core.run.events import Event, canonical, checksum
from core.run.state import Origin, RunStatus, State
from core.values.errors import EventError
from core.values.files import sync_folder
from core.values.first_version import kind_now

FILE_NAME = "logbook.sqlite3"
COMPANIONS = ("-wal", "-shm", "-journal")
"""Endings of the files that SQLite keeps beside its own; they belong together."""

APPLICATION_ID = 0x484E5554
SCHEMA_VERSION = 1
PAGE_SIZE = 4096
CACHE_KIB = 400
"""What of the file is kept in memory [KiB]."""
MARKER = b"halfnut logbook"
"""Stands in the schema, so that a logbook with a broken header is still known as ours."""

_UID = re.compile(r"[0-9a-f]{32}")
_MAGIC = b"SQLite format 3\0"
HEADER_SIZE = 100
_SEARCHED = 64 * 1024
_BUSY_TIMEOUT_S = 2.0
_EVENT_COLUMNS = """(
    run TEXT NOT NULL, seq INTEGER NOT NULL, kind TEXT NOT NULL, body TEXT NOT NULL, wall TEXT NOT NULL,
    session TEXT NOT NULL, monotonic_ms INTEGER NOT NULL, crc INTEGER NOT NULL, PRIMARY KEY (run, seq)
) WITHOUT ROWID"""
TABLES = {
    "event": f"CREATE TABLE event /* {MARKER.decode()} */ {_EVENT_COLUMNS}",
    # Events that were read out of a damaged file but do not join on: one before them is lost.
    "stray": f"CREATE TABLE stray {_EVENT_COLUMNS}",
    # What board and history ask for at once; all of it can be told from the events.
    "run": """CREATE TABLE run (
    number INTEGER PRIMARY KEY, uid TEXT NOT NULL UNIQUE, job_path, job_title, op_name, kind TEXT NOT NULL,
    digest TEXT NOT NULL, begun TEXT NOT NULL, status TEXT NOT NULL, last_seq INTEGER NOT NULL,
    steps_done INTEGER NOT NULL, steps_open INTEGER NOT NULL
)""",
    "run_by_operation": "CREATE INDEX run_by_operation ON run (job_path, op_name, number)",
    "run_by_job": "CREATE INDEX run_by_job ON run (job_path, number)",
    "run_unfinished": "CREATE INDEX run_unfinished ON run (job_path, number) WHERE status = 'running'",
}
EVENT_COLUMNS = "run, seq, kind, body, wall, session, monotonic_ms, crc"
"""By name, for a newer halfnut may have added some."""
EVENTS_OF_RUN = f"SELECT {EVENT_COLUMNS} FROM event WHERE run = ? ORDER BY seq"
_INSERT = f"({EVENT_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)"
INSERT_EVENT = f"INSERT INTO event {_INSERT}"
INSERT_STRAY = f"INSERT OR IGNORE INTO stray {_INSERT}"
RUN_COLUMNS = "number, uid, job_path, job_title, op_name, kind, digest, begun, status, last_seq, steps_done, steps_open"
INSERT_RUN = f"INSERT INTO run ({RUN_COLUMNS}) VALUES (NULL, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
UPDATE_RUN = "UPDATE run SET digest=?, status=?, last_seq=?, steps_done=?, steps_open=? WHERE uid=?"
NAME_OF_RUN = """SELECT json_extract(body, '$.parameters.name') FROM event
WHERE run = ? AND seq = 0 AND json_valid(body)"""


class Standing(NamedTuple):
    """What the list of runs tells of a run beside what it was begun with."""

    digest: str
    status: RunStatus
    last_seq: int
    steps_done: int
    steps_open: int


class RunInfo(NamedTuple):
    """A run as the list of runs has it."""

    number: int
    """Rises in the order in which runs were begun; no clock is asked."""
    uid: str
    origin: Origin | None
    kind: str
    digest: str
    begun: str
    """Wall time of its first event."""
    status: RunStatus
    last_seq: int
    steps_done: int
    steps_open: int
    name: str = ""
    """What a run without a job was begun as; "" where its job names it, or nothing does."""


def standing_of(state: State) -> Standing:
    """Return what the list of runs tells of a run in this state."""
    return Standing(state.basis.digest, state.status, state.last_seq, state.steps_done, state.steps_open)


def is_uid(text: object) -> bool:
    """Tell whether this names a run: 32 digits from 0 to f."""
    return isinstance(text, str) and _UID.fullmatch(text) is not None


def companion(path: Path, ending: str) -> Path:
    """Return the file of this ending beside another one."""
    return path.with_name(path.name + ending)


def unused_name(path: Path, ending: str) -> Path:
    """Return a name beside another file under which there is nothing, nor anything that SQLite would take along."""
    number = 0
    while True:
        fresh = companion(path, f"{ending}{f'-{number}' if number else ''}")
        if not any(os.path.lexists(companion(fresh, companion_ending)) for companion_ending in ("", *COMPANIONS)):
            return fresh
        number += 1


def is_ours(path: Path) -> bool:
    """Tell whether a file is a logbook, whole or damaged, not a file of another program; raises OSError."""
    with path.open("rb") as file:
        start = file.read(_SEARCHED)
    if start[68:72] == APPLICATION_ID.to_bytes(4, "big") or MARKER in start:
        return True
    # A card that fails may give back zeros.
    if not start[:HEADER_SIZE].strip(b"\0"):
        return True
    # Too short to say whose it is, and no use to anybody else.
    return len(start) < HEADER_SIZE and _MAGIC.startswith(start[: len(_MAGIC)])


def connect(
    path: Path, mode: Literal["ro", "rw"], *, immutable: bool = False, any_thread: bool = False
) -> sqlite3.Connection:
    """Open an existing file; transactions begin and end where the code says so. Raises sqlite3.Error.

    `any_thread`: another thread may interrupt it, or use it while this one does not.
    """
    uri = f"{path.absolute().as_uri()}?mode={mode}{'&immutable=1' if immutable else ''}"
    connection = sqlite3.connect(
        uri, uri=True, isolation_level=None, timeout=_BUSY_TIMEOUT_S, check_same_thread=not any_thread
    )
    connection.execute("PRAGMA cell_size_check = ON")
    connection.execute("PRAGMA trusted_schema = OFF")
    if mode == "rw":
        # A run is written at its end and read once: more pages in memory would only grow with every pass. Asked of a
        # reader, it would read the file before it is known whether that may be done.
        connection.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
    return connection


def create(path: Path) -> None:
    """Make an empty logbook, synced, under a name that nothing has; raises sqlite3.Error or OSError."""
    # SQLite would make the file by itself, but not say whether it was there before.
    os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o644))
    with closing(connect(path, "rw")) as connection:
        connection.execute(f"PRAGMA page_size = {PAGE_SIZE}")
        connection.execute("PRAGMA synchronous = EXTRA")
        connection.execute("BEGIN IMMEDIATE")
        make_tables(connection)
        connection.execute("COMMIT")
    sync_folder(path.parent)


def make_tables(connection: sqlite3.Connection) -> None:
    """Give an empty database the tables and the header of a logbook."""
    for statement in TABLES.values():
        connection.execute(statement)
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")


def check_file(connection: sqlite3.Connection, path: Path) -> int:
    """Return the schema version of an opened logbook; raises LogbookDamagedError where it is not whole.

    A newer one is for its own program to judge.
    """
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise damaged(path, "its header is not as it was made")
    version: int = connection.execute("PRAGMA user_version").fetchone()[0]
    if version > SCHEMA_VERSION:
        return version
    if version != SCHEMA_VERSION:
        raise damaged(path, f"its schema has the number {version}, accepted is {SCHEMA_VERSION}")
    found = dict(connection.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL"))
    missing = [name for name, statement in TABLES.items() if found.get(name) != statement]
    if missing:
        raise damaged(path, f"its tables are not as they were made ({', '.join(missing)})")
    return version


def event_row(run: str, event: Event) -> tuple[object, ...]:
    """Return the row that stands for an event; raises EventError for a body that cannot be written."""
    body = canonical(event.body)
    crc = checksum(run, event, body)
    return (run, event.seq, event.kind, body, event.wall, event.session, event.monotonic_ms, crc)


def event_of(row: Iterable[Any]) -> tuple[str, Event] | None:
    """Return run and event that a row stands for, in the words it was logged in; None where it is not as written."""
    run, seq, kind, body, wall, session, monotonic_ms, crc = row
    try:
        event = Event(seq=seq, kind=kind, body=json.loads(body), wall=wall, session=session, monotonic_ms=monotonic_ms)
        return (run, event) if checksum(run, event, body) == crc else None
    except (EventError, ValueError, TypeError, RecursionError):
        return None


def run_row(run: str, begun: Event, standing: Standing) -> tuple[object, ...]:
    """Return the row of the list of runs for a run begun with this event."""
    origin = begun.body["origin"] or {}
    names = [as_column(origin.get(name)) for name in ("job_path", "job_title", "op_name")]
    return (run, *names, begun.body["kind"], standing.digest, begun.wall, *standing[1:])


def run_of(row: tuple[Any, ...]) -> RunInfo | None:
    """Return what a row of the list of runs stands for, None where no program wrote it so."""
    number, uid, job_path, job_title, op_name, kind, digest, begun, *rest = row
    names, texts, numbers = (job_path, job_title, op_name), (kind, digest, begun), (number, *rest[1:])
    plausible = (
        is_uid(uid)
        and (all(name is None for name in names) or all(isinstance(name, str | bytes) for name in names))
        and all(isinstance(text, str) for text in texts)
        and rest[0] in get_args(RunStatus)
        and all(type(found) is int and found >= 0 for found in numbers)
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
    standing = Standing(digest, *rest)
    return RunInfo(number=number, uid=uid, origin=origin, kind=kind_now(kind), begun=begun, **standing._asdict())


def with_name(connection: sqlite3.Connection, info: RunInfo) -> RunInfo:
    """Return a run of no job with the name in its first event; raises sqlite3.Error."""
    if info.origin is not None:
        return info
    row = connection.execute(NAME_OF_RUN, (info.uid,)).fetchone()
    return info._replace(name=row[0]) if row and isinstance(row[0], str) else info


def as_column(text: str | None) -> str | bytes | None:
    """Return a text as SQLite can keep it: file names of strangers need not be valid Unicode."""
    if text is None:
        return None
    try:
        text.encode()
    except UnicodeEncodeError:
        return text.encode("utf-8", "surrogatepass")
    return text


def _from_column(value: str | bytes) -> str:
    return value.decode("utf-8", "surrogatepass") if isinstance(value, bytes) else value
