"""Reads the log of another computer: a logbook or a backup, which may be on a memory stick, in use or damaged.

The log is first copied together with SQLite's companion files, and only the copy is opened. So the other log stays
unchanged and may be write-protected. The user may remove the memory stick as soon as the copy is complete.
"""

import errno
import fcntl
import os
import shutil
import sqlite3
import stat
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from tempfile import TemporaryDirectory, gettempdir
from typing import Any, NamedTuple

from core.events.event import SCHEMA, Event
from core.events.replay import replay
from core.events.state import RunSummary, StateSummary, state_summary
from core.logbook.errors import LogbookDamagedError, LogbookDiskError, errors_as_sentences
from core.logbook.opening import open_to_write
from core.logbook.rows import EVENTS_OF_RUN, RUN_COLUMNS, read_events, run_from_row, with_name
from core.logbook.schema import COMPANIONS, FILE_NAME, MERGING, companion, is_ours
from core.values.errors import LogbookError
from core.values.files import name_of
from core.values.plain_text import clean, sentence

_TRIES = 5
_PAUSE_S = 0.2
_LOCK_TRIES, _LOCK_PAUSE_S = 50, 0.01
_COPY_PREFIX = "halfnut-merge-"
_NO_ROOM = {errno.ENOSPC, errno.EDQUOT}
_JOURNALS = (*(ending for ending in COMPANIONS if ending != "-shm"), MERGING)
"""The endings of the files that hold a part of the log's content. SQLite makes the "-shm" file again."""

Row = tuple[Any, ...]
"""An event as a row of the log."""


class ReadRun(NamedTuple):
    """A run of the other log whose events all have a correct checksum."""

    info: RunSummary
    events: tuple[Event, ...]
    rows: tuple[Row, ...]

    def summary(self) -> StateSummary:
        """Return the run's entry for the list of runs.

        Raises EventError if an event is not possible after the events before it.
        """
        return state_summary(replay(self.events, self.info.uid))


class UnusableRun(NamedTuple):
    """A run of the other log that cannot be merged, and the reason."""

    info: RunSummary | None
    """The run's entry in the list of runs; None if the list lacks the run."""
    why: str


class OtherLog:
    """The copy of another computer's log, open for reading."""

    def __init__(self, connection: sqlite3.Connection, path: Path, source: Path) -> None:
        """Use an open connection to the copy at `path`.

        `source`: the path of the other log itself, which all messages name.
        """
        self._connection, self._path, self.source = connection, path, source

    def runs(self) -> Iterator[ReadRun | UnusableRun]:
        """Yield every run of the other log, oldest first, with one run in memory at a time.

        Raises LogbookError if the log cannot be read.
        """
        with self._sentences():
            rows = self._connection.execute(f"SELECT {RUN_COLUMNS} FROM run ORDER BY number").fetchall()
            logged = {uid for (uid,) in self._connection.execute("SELECT DISTINCT run FROM event")}
        for row in rows:
            logged.discard(row[1])
            info = run_from_row(row)
            if info is None:
                yield UnusableRun(None, "Its entry in the list of runs is damaged.")
            else:
                yield self._run(info)
        for _ in logged:
            yield UnusableRun(None, "The list of runs does not contain this run, because the log is damaged.")

    def _run(self, info: RunSummary) -> ReadRun | UnusableRun:
        try:
            with self._sentences():
                info = with_name(self._connection, info)
                events = read_events(self._connection, self._path, info.uid)
                rows = tuple(self._connection.execute(EVENTS_OF_RUN, (info.uid,)))
            schema = events[0].body.get("schema")
            if isinstance(schema, int) and schema > SCHEMA:
                return UnusableRun(
                    info, "A newer version of halfnut made this run. Use the newer version to merge the run."
                )
            return ReadRun(info, events, rows)
        except LogbookDiskError:
            raise
        except LogbookError as error:
            return UnusableRun(info, error.message)

    @contextmanager
    def _sentences(self) -> Iterator[None]:
        """Run the block. Errors in the block become sentences that name the other log instead of its copy."""
        with _named_as(self.source, self._path), errors_as_sentences(self._path):
            yield


@contextmanager
def other_log(path: Path, own: Path) -> Iterator[OtherLog]:
    """Copy the log of another computer, open the copy, and yield it during the block.

    `path`: a logbook, a backup, or the folder of a logbook. `own`: this computer's logbook. Raises LogbookError if the
    log at `path` cannot be used.
    """
    source = log_at(path, own)
    with _temporary_folder() as folder:
        copy = folder / FILE_NAME
        _copy(source, copy)
        with _named_as(source, copy):
            try:
                opened = open_to_write(copy)
            except LogbookDamagedError as error:
                raise LogbookDamagedError(
                    f"{sentence(error.message)} Copy the log as {FILE_NAME} to an empty folder. Repair that copy with "
                    "`halfnut log --data FOLDER`, then merge the copy."
                ) from error
        with closing(opened.connection):
            if opened.newer:
                newer = opened.newer.replace(name_of(copy), name_of(source))
                raise LogbookError(f"{newer}. Nothing was merged. Use the newer version to merge this logbook.")
            # The copy need not survive a power cut.
            opened.connection.execute("PRAGMA synchronous = OFF")
            yield OtherLog(opened.connection, copy, source)


@contextmanager
def _temporary_folder() -> Iterator[Path]:
    """Yield a new folder for the copy of a log. A lock on the folder shows other merges that the folder is in use."""
    try:
        _remove_copies_of_killed_merges()
        folder = TemporaryDirectory(prefix=_COPY_PREFIX, ignore_cleanup_errors=True)
        handle = os.open(folder.name, os.O_RDONLY)
    except OSError as error:
        raise LogbookError(f"No temporary folder can be made: {_reason(error)}. Nothing was merged.") from None
    with folder as name:
        try:
            with suppress(OSError):
                fcntl.flock(handle, fcntl.LOCK_EX)
            yield Path(name)
        finally:
            os.close(handle)


def _remove_copies_of_killed_merges() -> None:
    for folder in Path(gettempdir()).glob(f"{_COPY_PREFIX}*"):
        with suppress(OSError):
            handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                # An empty folder may belong to a merge that has not locked it yet.
                if os.fstat(handle).st_uid == os.getuid() and any(folder.iterdir()):
                    shutil.rmtree(folder)
            finally:
                os.close(handle)


@contextmanager
def _named_as(source: Path, copy: Path) -> Iterator[None]:
    try:
        yield
    except LogbookError as error:
        error.message = error.message.replace(name_of(copy), name_of(source))
        error.args = (error.message,)
        raise


def log_at(path: Path, own: Path) -> Path:
    """Return the path of the log to merge.

    `path`: a log, or the folder of a log. `own`: this computer's logbook. Raises LogbookError if there is no logbook at
    `path`, or if it is this computer's own logbook. Until `path` and `own` are known to be different files, the file is
    not opened. If Python opened and closed the program's own log, SQLite would lose its locks.
    """
    try:
        path = path.resolve()
        if path.is_dir():
            if not (path / FILE_NAME).exists():
                raise LogbookError(f"There is no {FILE_NAME} in the folder {name_of(path)}. Enter the path of a log.")
            path = (path / FILE_NAME).resolve()
        status = path.stat()
        if own.exists() and os.path.samestat(status, own.stat()):
            raise LogbookError(
                f"{name_of(path)} is the log of this computer. Enter the path of the other computer's log."
            )
        if not stat.S_ISREG(status.st_mode):
            raise LogbookError(f"{name_of(path)} is a device or a pipe, not a logbook. Enter the path of a log.")
        if not status.st_size:
            raise LogbookError(f"{name_of(path)} is empty. Enter the path of a log, such as {FILE_NAME}.")
        if not is_ours(path):
            raise LogbookError(f"{name_of(path)} is not a logbook. Enter the path of a log, such as {FILE_NAME}.")
    except FileNotFoundError:
        raise LogbookError(
            f"There is no file {name_of(path)}. Check the name, and that the memory stick is plugged in."
        ) from None
    except (OSError, RuntimeError, ValueError) as error:
        raise LogbookError(f"{name_of(path)} cannot be read: {_reason(error)}. Nothing was merged.") from None
    return path


def _copy(source: Path, copy: Path) -> None:
    """Copy a log and its journals as they all are at one moment.

    Other halfnut programs on this computer wait during the copy. If another program changes the log during the copy,
    the log is copied again. Raises LogbookError if the log cannot be copied.
    """
    try:
        for attempt in range(_TRIES):
            if attempt:
                time.sleep(_PAUSE_S)
            with _writers_waiting(source):
                before = _state_of_files(source)
                for ending in ("", *_JOURNALS):
                    with suppress(FileNotFoundError):
                        companion(copy, ending).unlink()
                    if ending in before:
                        shutil.copyfile(companion(source, ending), companion(copy, ending))
                if _state_of_files(source) == before:
                    return
    except OSError as error:
        if error.errno in _NO_ROOM:
            where = name_of(copy.parent.parent)
            raise LogbookError(
                f"{where} has no room for a copy of {name_of(source)}. Make room, then merge again."
            ) from None
        raise LogbookError(
            f"{name_of(source)} cannot be read completely: {_reason(error)}. Nothing was merged. "
            "Check the memory stick, then merge again."
        ) from None
    raise LogbookError(
        f"{name_of(source)} keeps changing. Nothing was merged. Close halfnut on the other computer, then merge again."
    )


def _state_of_files(source: Path) -> dict[str, tuple[int, int, int]]:
    """Return the size [bytes], time of change [ns] and inode number of each file of a log.

    The keys are the endings of the file names, "" for the log itself.
    """
    found = {}
    for ending in ("", *_JOURNALS):
        with suppress(FileNotFoundError):
            status = companion(source, ending).stat()
            found[ending] = (status.st_size, status.st_mtime_ns, status.st_ino)
    if "" not in found:
        raise FileNotFoundError(2, os.strerror(2))
    return found


@contextmanager
def _writers_waiting(source: Path) -> Iterator[None]:
    """Make other programs on this computer wait before they write to the log, until the block ends.

    If the lock cannot be taken, the block runs without it.
    """
    handle = None
    with suppress(OSError):
        handle = os.open(companion(source, ".lock"), os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK)
        for _ in range(_LOCK_TRIES):
            try:
                fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
                break
            except BlockingIOError:
                time.sleep(_LOCK_PAUSE_S)
    try:
        yield
    finally:
        if handle is not None:
            os.close(handle)


def _reason(error: Exception) -> str:
    reason = error.strerror if isinstance(error, OSError) else str(error)
    return clean(reason or "unknown reason")
