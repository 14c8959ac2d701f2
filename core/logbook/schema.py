"""The format of the logbook's file: its name, SQL tables and header. Also creates and checks such a file."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Literal

from core.logbook.errors import damaged
from core.values.files import sync_folder

FILE_NAME = "logbook.sqlite3"
COMPANIONS = ("-wal", "-shm", "-journal")
"""The endings of the companion files that SQLite keeps next to its database. They are moved and copied together."""
MERGING = ".merging"
"""The ending of a file that exists while another log is merged into this one."""

APPLICATION_ID = 0x484E5554
SCHEMA_VERSION = 1
PAGE_SIZE = 4096
CACHE_KIB = 400
"""How much of the file SQLite keeps in memory [KiB]."""
MARKER = b"halfnut logbook"
"""A comment in the file's schema. A logbook with a broken header is recognised by this comment."""

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
    # Events read out of a damaged file that follow a lost event.
    "stray": f"CREATE TABLE stray {_EVENT_COLUMNS}",
    # Values that board and history need without delay. The events hold all of these values too.
    "run": """CREATE TABLE run (
    number INTEGER PRIMARY KEY, uid TEXT NOT NULL UNIQUE, job_path, job_title, op_name, kind TEXT NOT NULL,
    digest TEXT NOT NULL, begun TEXT NOT NULL, status TEXT NOT NULL, last_seq INTEGER NOT NULL,
    steps_done INTEGER NOT NULL, steps_open INTEGER NOT NULL
)""",
    "run_by_operation": "CREATE INDEX run_by_operation ON run (job_path, op_name, number)",
    "run_by_job": "CREATE INDEX run_by_job ON run (job_path, number)",
    "run_unfinished": "CREATE INDEX run_unfinished ON run (job_path, number) WHERE status = 'running'",
}


def companion(path: Path, ending: str) -> Path:
    """Return the path with an ending added to the file name, for example "-wal" for SQLite's write-ahead log."""
    return path.with_name(path.name + ending)


def unused_path(path: Path, ending: str) -> Path:
    """Return an unused path: `path` with `ending` added, and with a number added if needed.

    Neither a file at this path nor a companion file that SQLite would read, such as a write-ahead log, exists.
    """
    number = 0
    while True:
        candidate = companion(path, f"{ending}{f'-{number}' if number else ''}")
        if not any(os.path.lexists(companion(candidate, companion_ending)) for companion_ending in ("", *COMPANIONS)):
            return candidate
        number += 1


def is_ours(path: Path) -> bool:
    """Return True if the file is a logbook of this program, undamaged or damaged.

    Raises OSError if the file cannot be read.
    """
    with path.open("rb") as file:
        start = file.read(_SEARCHED)
    if start[68:72] == APPLICATION_ID.to_bytes(4, "big") or MARKER in start:
        return True
    # A failing memory card may return zeros.
    if not start[:HEADER_SIZE].strip(b"\0"):
        return True
    # The file is too short to belong to another program.
    return len(start) < HEADER_SIZE and _MAGIC.startswith(start[: len(_MAGIC)])


def connect(
    path: Path, mode: Literal["ro", "rw"], *, immutable: bool = False, any_thread: bool = False
) -> sqlite3.Connection:
    """Open an existing file without automatic transactions. Raises sqlite3.Error if the file cannot be opened.

    `mode`: "ro" to read, "rw" to read and write. `immutable`: True if nobody can change the file, so that SQLite takes
    no locks. `any_thread`: True if another thread may interrupt the connection, or may use it while this thread does
    not.
    """
    uri = f"{path.absolute().as_uri()}?mode={mode}{'&immutable=1' if immutable else ''}"
    connection = sqlite3.connect(
        uri, uri=True, isolation_level=None, timeout=_BUSY_TIMEOUT_S, check_same_thread=not any_thread
    )
    connection.execute("PRAGMA cell_size_check = ON")
    connection.execute("PRAGMA trusted_schema = OFF")
    if mode == "rw":
        # A run is written at its end and read once: a larger cache would only grow with every pass. For a reader the
        # pragma would read the file before its header is checked.
        connection.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
    return connection


def create(path: Path) -> None:
    """Create an empty logbook on the disk, at an unused path. Raises sqlite3.Error or OSError if the disk fails."""
    # SQLite would create the file itself, but would not report a file that exists already.
    os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o644))
    with closing(connect(path, "rw")) as connection:
        connection.execute(f"PRAGMA page_size = {PAGE_SIZE}")
        connection.execute("PRAGMA synchronous = EXTRA")
        connection.execute("BEGIN IMMEDIATE")
        make_tables(connection)
        connection.execute("COMMIT")
    sync_folder(path.parent)


def make_tables(connection: sqlite3.Connection) -> None:
    """Create the SQL tables of a logbook in an empty database, and set the database's header."""
    for statement in TABLES.values():
        connection.execute(statement)
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")


def check_file(connection: sqlite3.Connection, path: Path) -> int:
    """Return the schema version of an open logbook. Raises LogbookDamagedError if the header or the tables are wrong.

    The tables of a newer version are not checked, because only a newer program knows what they must contain.
    """
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise damaged(path, "its header is wrong")
    version: int = connection.execute("PRAGMA user_version").fetchone()[0]
    if version > SCHEMA_VERSION:
        return version
    if version != SCHEMA_VERSION:
        raise damaged(path, f"its schema number is {version} instead of {SCHEMA_VERSION}")
    statements = dict(connection.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL"))
    changed = [name for name, statement in TABLES.items() if statements.get(name) != statement]
    if changed:
        raise damaged(path, f"its tables have changed ({', '.join(changed)})")
    return version
