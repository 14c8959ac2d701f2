"""Opens the logbook's file. Creates a missing file, repairs a damaged file, or opens the file only for reading."""

import errno
import os
import sqlite3
import stat
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import NamedTuple, TypeVar

from core.events.event import Event
from core.logbook.errors import LogbookDamagedError, LogbookDiskError, damaged, errors_as_sentences, primary_code
from core.logbook.locks import FileLock
from core.logbook.recovery import cut_off_event, finish_move, log_cut_off_event
from core.logbook.schema import (
    HEADER_SIZE,
    MERGING,
    SCHEMA_VERSION,
    check_file,
    companion,
    connect,
    create,
    is_ours,
    make_tables,
    unused_path,
)
from core.values.errors import LogbookError
from core.values.files import name_of, sync_folder

_WRITE_VERSION = 18
"""The position of the write version in the file's header. A program needs at least this version to write the file."""

_Result = TypeVar("_Result")
_TRIES = 3
_PAUSE_S = 0.02
_BLOCK = 1 << 20

WAL_PAGES = 64
"""The number of pages that the write-ahead log may hold, some twenty passes. The next commit moves them into the file.

The log is kept short because SQLite silently ignores a damaged end of the log.
"""

NO_WRITING = {errno.EACCES, errno.EPERM, errno.EROFS}


class Opened(NamedTuple):
    """An open logbook, with sentences for the user about it."""

    connection: sqlite3.Connection
    read_only: bool
    notices: tuple[str, ...] = ()
    newer: str = ""
    """A sentence, without its full stop, which says that a newer program made this logbook; "" for any other logbook.
    """
    exists: bool = True
    """False if there is no logbook yet and an empty one in memory is used instead."""


def make_ready(path: Path) -> tuple[str, ...]:
    """Finish an interrupted repair, or create the logbook if it is missing.

    Return sentences for the user about the repair; () if there was none. The caller must hold the write lock.
    """
    _refuse_special(path)
    notices: tuple[str, ...] = ()
    aside = finish_move(path)
    if aside is not None:
        notices = (
            f"The logbook {name_of(path)} was damaged. The damaged file was renamed to {name_of(aside)}. "
            f"Everything readable is in a new {name_of(path)}.",
        )
    if is_missing(path):
        new = unused_path(path, ".new")
        create(new)
        new.replace(path)
        sync_folder(path.parent)
    return notices


def is_missing(path: Path) -> bool:
    """Return True if there is no logbook yet: no file, or an empty file without a write-ahead log."""
    return _size(path) == 0 and _size(companion(path, "-wal")) == 0


def open_with_retries(path: Path, opening: Callable[[Path], Opened]) -> Opened:
    """Open a logbook with `opening`, which is `open_to_write` or `open_to_read`.

    A temporary failure of the disk leads to another attempt. Raises the same errors as `with_retries`.
    """
    return with_retries(path, lambda: opening(path), lambda _: True)


def with_retries(path: Path, look: Callable[[], _Result], is_sound: Callable[[_Result], bool]) -> _Result:
    """Return the result of `look`, which reads the logbook.

    `look` is called again if it reports damage or a disk failure, or if `is_sound` is False for its result.

    SQLite reports a failed read as damage. So damage counts only if every attempt finds it and every byte of the file
    can be read. Between two attempts, no thread of this process may have the logbook open, because closing a file in
    Python releases SQLite's locks. Raises LogbookDamagedError, or LogbookDiskError if the disk keeps failing.
    """
    for attempt in range(_TRIES):
        is_last = attempt == _TRIES - 1
        try:
            if attempt:
                time.sleep(_PAUSE_S)
                _read_through(path)
            result = look()
        except (LogbookDamagedError, LogbookDiskError):
            if is_last:
                raise
        else:
            if is_last or is_sound(result):
                return result
    raise AssertionError("the last look returns or raises")


def _read_through(path: Path) -> None:
    """Read every byte of the logbook's files. Raises LogbookDiskError if the disk cannot read them."""
    with errors_as_sentences(path):
        for file in (path, companion(path, "-wal")):
            if file.exists():
                with file.open("rb", buffering=0) as content:
                    while content.read(_BLOCK):
                        pass


def open_to_write(path: Path) -> Opened:
    """Open an existing logbook for reading and writing. The caller must hold the write lock.

    The logbook is opened read only if a newer version made it or if permission to write is missing. Raises
    LogbookDamagedError if the logbook is damaged, and LogbookError if the file belongs to another program.
    """
    if not os.access(path, os.W_OK, effective_ids=os.access in os.supports_effective_ids):
        return opened_read_only(path)
    version, unfinished = _peek(path)
    if version > SCHEMA_VERSION:
        return open_to_read(path)
    with errors_as_sentences(path):
        connection = connect(path, "rw", any_thread=True)
        try:
            check_file(connection, path)
            notices = _make_durable(connection, path)
            _check_writable(connection, path)
            if unfinished is not None:
                log_cut_off_event(connection, *unfinished)
            _forget_interrupted_merge(path)
        except BaseException:
            connection.close()
            raise
    return Opened(connection=connection, read_only=False, notices=notices)


def _forget_interrupted_merge(path: Path) -> None:
    """Remove the marker file of a merge, unless another program is merging now."""
    if companion(path, MERGING).exists():
        lock = FileLock(companion(path, MERGING))
        if lock.try_exclusive():
            lock.path.unlink()
        lock.release()


def opened_read_only(path: Path) -> Opened:
    """Open a logbook read only because permission to write is missing. The result contains a notice about this."""
    opened = open_to_read(path)
    notice = f"Nothing can be logged: you have no permission to write the logbook {name_of(path)}."
    return opened._replace(notices=(*opened.notices, notice))


def open_to_read(path: Path) -> Opened:
    """Open a logbook read only. If there is no logbook, return an empty logbook in memory."""
    _refuse_special(path)
    if is_missing(path):
        connection = sqlite3.connect(":memory:", isolation_level=None)
        make_tables(connection)
        notice = f"Nothing has been logged yet: there is no logbook in {name_of(path.parent)}."
        return Opened(connection=connection, read_only=True, notices=(notice,), exists=False)
    with _damage_or_foreign(path):
        connection = _connect_to_read(path)
        try:
            version = check_file(connection, path)
        except BaseException:
            connection.close()
            raise
    newer = ""
    if version > SCHEMA_VERSION:
        newer = (
            f"The logbook {name_of(path)} was made by a newer version of halfnut "
            f"(the file has format {version}; this version reads formats up to {SCHEMA_VERSION})"
        )
    notices = (f"{newer}. This version can only read the logbook and logs nothing.",) if newer else ()
    return Opened(connection=connection, read_only=True, notices=notices, newer=newer)


def _peek(path: Path) -> tuple[int, tuple[str, Event] | None]:
    """Return the file's schema version, and the event of a transaction that a power cut left incomplete.

    The event is None if no transaction is incomplete. The file is opened read only. A connection that may write would,
    when closed, overwrite readable parts of a damaged file.
    """
    with _damage_or_foreign(path):
        try:
            with closing(connect(path, "ro")) as connection:
                version = check_file(connection, path)
                if version > SCHEMA_VERSION:
                    return version, None
                return version, cut_off_event(connection, path, merging=companion(path, MERGING).exists())
        except sqlite3.OperationalError as error:
            # A transaction was cut off without a write-ahead log. Only a writer can roll it back.
            if primary_code(error) == sqlite3.SQLITE_READONLY:
                return SCHEMA_VERSION, None
            raise


@contextmanager
def _damage_or_foreign(path: Path) -> Iterator[None]:
    """Run the block, and turn each error in it into a sentence for the user.

    The sentence says either that the logbook is damaged or that the file belongs to another program.
    """
    try:
        with errors_as_sentences(path):
            if _size(path) < HEADER_SIZE:
                # SQLite takes a file of 0 or 1 bytes for a new file, and deletes its write-ahead log.
                raise damaged(path, "its header is missing")
            yield
    except LogbookDamagedError:
        if is_ours(path):
            raise
        raise LogbookError(
            f"{name_of(path)} belongs to another program and is not a logbook. It was not changed. "
            "Move it away, or use another data folder (--data DIR)."
        ) from None


def _connect_to_read(path: Path) -> sqlite3.Connection:
    connection = connect(path, "ro")
    try:
        connection.execute("PRAGMA application_id")
    except sqlite3.OperationalError as error:
        connection.close()
        cannot = primary_code(error) in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY)
        if not cannot or _size(companion(path, "-wal")):
            raise
        # The folder may not be written. Without a write-ahead log the file alone holds everything.
        return connect(path, "ro", immutable=True)
    return connection


def _make_durable(connection: sqlite3.Connection, path: Path) -> tuple[str, ...]:
    """Set SQLite so that a commit returns only when it is on the disk.

    Return a notice for the user if the disk does not support a write-ahead log; () otherwise.
    """
    connection.execute("PRAGMA fullfsync = ON")
    connection.execute("PRAGMA checkpoint_fullfsync = ON")
    if connection.execute("PRAGMA journal_mode = WAL").fetchone()[0] == "wal":
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute(f"PRAGMA wal_autocheckpoint = {WAL_PAGES}")
        return ()
    mode = connection.execute("PRAGMA journal_mode = TRUNCATE").fetchone()[0]
    connection.execute("PRAGMA synchronous = EXTRA")
    return (
        f"Logging is slower here but just as safe: the disk of {name_of(path)} "
        f"does not support a write-ahead log (journal mode {mode}).",
    )


def _check_writable(connection: sqlite3.Connection, path: Path) -> None:
    """Raise an error if SQLite cannot write the file.

    If the file's header has an unknown format version, SQLite refuses to write the file, and the error is
    LogbookDamagedError.
    """
    try:
        # This statement changes nothing, but needs permission to write.
        connection.execute("UPDATE run SET status = status WHERE number < 0")
    except sqlite3.OperationalError as error:
        if getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_READONLY and not _writable_by_header(path):
            raise damaged(path, "its header forbids writing") from None
        # A disk that cannot open the write-ahead log for writing is not damage.
        raise


def _writable_by_header(path: Path) -> bool:
    """Return True if the write version in the file's header is 1 or 2 ("Database File Format", section 1.3.3)."""
    with path.open("rb") as file:
        return file.read(_WRITE_VERSION + 1)[_WRITE_VERSION:] in (b"\1", b"\2")


def _refuse_special(path: Path) -> None:
    """Raise LogbookError if something other than a regular file is at the path. A link could lead to any other file."""
    try:
        mode = path.lstat().st_mode
    except FileNotFoundError:
        return
    if not stat.S_ISREG(mode):
        what = "a link" if stat.S_ISLNK(mode) else "a folder" if stat.S_ISDIR(mode) else "a device or a pipe"
        raise LogbookError(
            f"The logbook {name_of(path)} is {what}, not a file. Move it away, or use another data folder (--data DIR)."
        )


def _size(path: Path) -> int:
    return path.stat().st_size if path.exists() else 0
