"""The logbook's file while it is open: locks during writes, repairs after disk errors, and backups."""

import os
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from core.logbook.errors import (
    LogbookBusyError,
    LogbookDamagedError,
    LogbookDiskError,
    errors_as_sentences,
    primary_code,
)
from core.logbook.locks import FileLock
from core.logbook.opening import (
    NO_WRITING,
    Opened,
    make_ready,
    open_to_read,
    open_to_write,
    open_with_retries,
    opened_read_only,
)
from core.logbook.recovery import set_aside
from core.logbook.schema import COMPANIONS, MERGING, companion, unused_path
from core.values.errors import LogbookError
from core.values.files import name_of, sync_folder
from core.values.plain_text import clean, sentence

if TYPE_CHECKING:
    from core.logbook.check import Check

_Result = TypeVar("_Result")
OnRepair = Callable[[int], object]
_HARMLESS = {sqlite3.SQLITE_FULL, sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_CONSTRAINT}
"""Errors after which SQLite's connection can still be used."""


class LogbookFile:
    """An open logbook file. A method that fails raises LogbookError with a sentence for the user.

    A lock file is held during every write, checkpoint and close. Without this lock, two connections that write and
    checkpoint at the same time can damage the file in SQLite 3.7.0 to 3.51.2.
    """

    def __init__(self, path: Path, *, read_only: bool, on_repair: OnRepair | None = None) -> None:
        """Open the logbook file at `path`.

        `read_only`: True to open the file without writing to it. `on_repair`: called with the file's size [bytes]
        before a repair, which may take seconds; None to call nothing.
        """
        self.path = path
        self._on_repair = on_repair
        self.notices: tuple[str, ...] = ()
        self._thread_lock = threading.RLock()
        """Held by each thread that uses the file.

        A long repair runs in its own thread, and no other thread reads or writes then.
        """
        self._lock = FileLock(companion(path, ".lock"))
        self._users = FileLock(companion(path, ".users"))
        self._connection: sqlite3.Connection | None = None
        self._check: Check | None = None
        self._newer = ""
        self._exists = True
        self._in_doubt = False
        """True if a commit failed whose data may be on the disk all the same."""
        self._repair_failed = False
        """True if a repair left damage. The disk is not reliable, so no further repair is tried."""
        self._closed = False
        try:
            with errors_as_sentences(path):
                opened = open_with_retries(path, open_to_read) if read_only else self._open_to_write()
        except BaseException:
            self._release()
            raise
        self.read_only, self._newer, self._exists = opened.read_only, opened.newer, opened.exists
        self._use(opened)

    def read(self, query: Callable[[sqlite3.Connection], _Result]) -> _Result:
        """Return the result of a query.

        After a disk error, the query runs once more. If the file is damaged, it is opened again and, if it is still
        damaged, repaired once. Then the query runs again.
        """
        try:
            return self._queried(query)
        except LogbookDiskError:
            return self._queried(query)
        except LogbookDamagedError:
            if self.read_only or self._repair_failed:
                raise
        try:
            self.connect_again()
            return self._queried(query)
        except LogbookDamagedError as error:
            self.rebuild(error.message)
        try:
            return self._queried(query)
        except LogbookDamagedError:
            self._repair_failed = True
            raise

    def _queried(self, query: Callable[[sqlite3.Connection], _Result]) -> _Result:
        try:
            with self.reading() as connection:
                return query(connection)
        except LogbookError as error:
            if not self._newer:
                raise
            raise LogbookError(
                f"{self._newer}. Use the newer version to read it. Nothing was changed. {error.message}"
            ) from error

    def connect_again(self) -> None:
        """Close the file and open it again, to see whether it is really damaged.

        Raises LogbookDamagedError if it is.
        """
        with errors_as_sentences(self.path), self.held():
            self._check_in_place()
            self._connect_again()

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """Yield the connection for queries. Errors of the disk or of SQLite in the block become a LogbookError."""
        with self._thread_lock, errors_as_sentences(self.path):
            if self._connection is None:
                with self.held():
                    self._check_in_place()
                    self._connect_again()
            assert self._connection is not None
            yield self._connection

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """Yield the connection for one transaction.

        When the block ends, the transaction is committed and synced. After an error in the block, the whole transaction
        is undone.
        """
        if self.read_only:
            raise LogbookError(f"The logbook {name_of(self.path)} is open read only, so nothing was logged.")
        with errors_as_sentences(self.path), self.held():
            self._check_in_place()
            if self._in_doubt or self._connection is None:
                self._connect_again()
            assert self._connection is not None
            try:
                self._connection.execute("BEGIN IMMEDIATE")
                yield self._connection
                self._connection.execute("COMMIT")
            except sqlite3.Error as error:
                self._in_doubt = primary_code(error) not in _HARMLESS
                raise
            finally:
                self._roll_back()
            self._check_in_place()

    @contextmanager
    def held(self) -> Iterator[None]:
        """Hold the write lock during the block.

        Other threads and programs that want to write wait until the block ends. The lock also protects the files next
        to the logbook.
        """
        with self._thread_lock, self._lock.held():
            yield

    def settle(self) -> None:
        """After a failed commit, make sure that every event read from now on is on the disk.

        If only the sync failed, the commit may be complete in the write-ahead log and reappear later. Moving the write-
        ahead log into the main file makes such a commit safe.
        """
        if self._in_doubt and not self.read_only:
            self._stop_check()
            with errors_as_sentences(self.path), self.held():
                self._check_in_place()
                self._connect_again()
                assert self._connection is not None
                # The data are in doubt until all of them are in the file and synced.
                self._in_doubt = True
                if self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]:
                    raise LogbookError(f"Another program is reading the logbook {name_of(self.path)}. Try again.")
                self._in_doubt = False

    def checkpoint(self) -> None:
        """Move the content of the write-ahead log into the main file, except for pages that are being read."""
        if not self.read_only:
            with self.reading() as connection, self.held():
                connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()

    @contextmanager
    def merging(self) -> Iterator[None]:
        """Keep a marker file next to the logbook during a merge.

        After a power cut, the marker file shows that a merge was interrupted. Raises LogbookBusyError if another
        program is merging a log into this one.
        """
        lock = FileLock(companion(self.path, MERGING))
        try:
            with errors_as_sentences(self.path):
                if not lock.try_exclusive():
                    raise LogbookBusyError(
                        "Another copy of this program is merging a log into this logbook. Try again later."
                    )
                sync_folder(self.path.parent)
            try:
                yield
            except LogbookError:
                # The merge has stopped, but its data is safe. If even that cannot be made sure of, the file stays.
                with suppress(LogbookError):
                    self._settle_merge(lock.path)
                raise
            self._settle_merge(lock.path)
        finally:
            lock.release()

    def _settle_merge(self, mark: Path) -> None:
        # A power cut cannot remove data from the file itself any more.
        self.checkpoint()
        with errors_as_sentences(self.path):
            mark.unlink(missing_ok=True)

    def check(self) -> "Check":
        """Return a check of the whole file, which the caller runs in a worker thread.

        Closing or repairing the file stops the check.
        """
        from core.logbook.check import Check

        self._stop_check()
        self._check = Check(self.path)
        return self._check

    def _stop_check(self) -> None:
        check, self._check = self._check, None
        if check is not None:
            check.stop()

    def rebuild(self, why: str = "") -> None:
        """Rename the damaged file, copy its readable content into a new file, and continue with the new file.

        `why`: the damage as a sentence, with which the notice for the user begins; "" for a general sentence. Any
        thread may call this method.
        """
        self._stop_check()
        with errors_as_sentences(self.path), self.held():
            self._disconnect()
            notice = self._set_aside(why or f"The logbook {name_of(self.path)} is damaged.")
            self.notices = (*self.notices, notice)
            self._connect_again()

    def backup(self, target: Path) -> None:
        """Write a complete copy of the logbook to the new file `target`.

        Other programs may log events during the copy.
        """
        if not self._exists:
            raise LogbookError(f"Nothing was copied: there is no logbook in {name_of(self.path.parent)}.")
        self.read(lambda connection: _write_backup(connection, target))

    def close(self) -> None:
        """Move the write-ahead log into the main file, and close the file.

        If the file is already closed, do nothing.
        """
        if self._closed:
            return
        self._closed = True
        self._stop_check()
        try:
            with self._thread_lock, errors_as_sentences(self.path):
                if self.read_only:
                    self._disconnect()
                else:
                    with self.held():
                        self._checkpoint_at_end()
                        self._disconnect()
        finally:
            self._release()

    def _open_to_write(self) -> Opened:
        try:
            _make_folder(self.path.parent)
            with self.held():
                self._users.try_shared()
                notices = make_ready(self.path)
                try:
                    opened = open_with_retries(self.path, open_to_write)
                except LogbookDamagedError as error:
                    notices += (self._set_aside(error.message),)
                    opened = open_with_retries(self.path, open_to_write)
        except OSError as error:
            if error.errno in NO_WRITING and self.path.exists():
                return opened_read_only(self.path)
            raise
        self.notices = notices
        return opened

    def _release(self) -> None:
        self._lock.release()
        self._users.release()

    def _set_aside(self, why: str) -> str:
        """Rename the damaged file, and return a sentence for the user with its new name.

        `why`: the damage, as a sentence.
        """
        alone = self._users.try_exclusive()
        try:
            if not alone:
                raise LogbookDamagedError(
                    f"{sentence(why)} "
                    "Another copy of this program has the logbook open, so the logbook was not repaired. Quit "
                    "both copies, then start one of them."
                )
            if self._on_repair is not None:
                self._on_repair(self.path.stat().st_size)
            return set_aside(self.path).sentence(self.path, why)
        finally:
            self._users.try_shared()

    def _connect_again(self) -> None:
        self._disconnect()
        opened = open_with_retries(self.path, open_to_write)
        if opened.read_only:
            opened.connection.close()
            raise LogbookError(opened.notices[-1])
        self._use(opened)

    def _use(self, opened: Opened) -> None:
        self._connection = opened.connection
        self._in_doubt = False
        self.notices = tuple(dict.fromkeys(self.notices + opened.notices))
        self._identity = self.path.stat() if self.path.exists() else None

    def _disconnect(self) -> None:
        if self._connection is not None:
            with suppress(sqlite3.Error):
                self._connection.close()
        self._connection = None

    def _roll_back(self) -> None:
        if self._connection is not None and self._connection.in_transaction:
            try:
                self._connection.execute("ROLLBACK")
            except sqlite3.Error:
                self._in_doubt = True

    def _check_in_place(self) -> None:
        """Raise an error if the path no longer leads to the open file.

        The check is needed because SQLite would keep writing to a deleted file.
        """
        try:
            at_path = self.path.stat()
        except FileNotFoundError:
            raise LogbookError(
                f"The logbook {name_of(self.path)} was removed while the program was running. "
                "Put the file back, or quit the program and start it again."
            ) from None
        if self._identity is None or not os.path.samestat(at_path, self._identity):
            raise LogbookError(
                f"The logbook {name_of(self.path)} was replaced while the program was running. Quit the program "
                "and start it again."
            )

    def _checkpoint_at_end(self) -> None:
        if self._connection is not None:
            # Pages that cannot be moved into the file now stay in the write-ahead log, where they are just as safe.
            with suppress(sqlite3.Error):
                self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()


def _make_folder(folder: Path) -> None:
    """Create a folder and its missing parent folders, and sync them so that they survive a power cut."""
    missing = [place for place in (folder, *folder.parents) if not place.exists()]
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    for place in missing:
        sync_folder(place.parent)


def _write_backup(connection: sqlite3.Connection, target: Path) -> None:
    """Copy an open logbook to the new file `target`. Other programs may log events during the copy.

    Raises LogbookError if the copy fails. After an error, no part of the copy stays on the disk.
    """
    made: list[Path] = []
    try:
        _make_empty(target, made)
        partial = unused_path(target, ".new")
        _make_empty(partial, made)
        _copy_to(connection, partial)
        # This replaces the empty file made above.
        partial.replace(target)
        sync_folder(target.parent)
    except BaseException as error:
        for path in made:
            for ending in ("", *(COMPANIONS if path != target else ())):
                with suppress(OSError):
                    companion(path, ending).unlink(missing_ok=True)
        if isinstance(error, FileExistsError):
            raise LogbookError(f"{name_of(target)} already exists. Enter a name that is not in use.") from None
        if isinstance(error, OSError | sqlite3.Error):
            reason = error.strerror if isinstance(error, OSError) else str(error)
            raise LogbookError(
                f"The copy {name_of(target)} cannot be written: {clean(reason or 'unknown reason')}."
            ) from error
        raise


def _make_empty(path: Path, made: list[Path]) -> None:
    """Create an empty file and add its path to the list `made`.

    Raises FileExistsError if the name is in use, and OSError if the disk fails.
    """
    os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o644))
    made.append(path)


def _copy_to(connection: sqlite3.Connection, partial: Path) -> None:
    with closing(sqlite3.connect(partial, isolation_level=None)) as copy:
        connection.backup(copy)
        # The backup is one file without companion files. Switching the mode syncs the file.
        copy.execute("PRAGMA synchronous = EXTRA")
        copy.execute("PRAGMA journal_mode = DELETE")
        problem = copy.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if problem != "ok":
        raise LogbookDamagedError(f"The logbook is damaged, so it was not copied: {clean(problem)}.")
