"""Locks on files. The operating system releases a lock when the program that holds it ends, even after a crash."""

import contextlib
import errno
import fcntl
import json
import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from core.logbook.errors import LogbookBusyError
from core.values.files import name_of
from core.values.plain_text import clean

_TRIES = 100
_PAUSE_S = 0.02
_LONGEST_HOLDER_TEXT = 400


class FileLock:
    """A lock on a separate lock file, taken with the system call `flock`.

    Its methods raise OSError if the disk fails.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.handle: int | None = None

    def try_exclusive(self) -> bool:
        """Try to take the lock exclusively. Return False if any other owner has the lock."""
        return self._try(fcntl.LOCK_EX)

    def try_shared(self) -> bool:
        """Try to take the lock together with other owners. Return False if one owner holds the lock exclusively."""
        return self._try(fcntl.LOCK_SH)

    def release(self) -> None:
        """Release the lock. If the lock is not held, do nothing."""
        if self.handle is not None:
            os.close(self.handle)
            self.handle = None

    @contextlib.contextmanager
    def held(self) -> Iterator[None]:
        """Hold the lock exclusively during the block.

        Raises LogbookBusyError if another owner keeps the lock for two seconds, or if the disk cannot lock files. For
        the second case the method also tries a lock of the kind that SQLite uses. Otherwise SQLite would wait ten
        seconds at every attempt.
        """
        for _ in range(_TRIES):
            if self.try_exclusive():
                break
            time.sleep(_PAUSE_S)
        else:
            raise LogbookBusyError(
                f"Another copy of this program is using {name_of(self.path)}. Wait a moment, then try again."
            )
        try:
            self._try_record_lock()
            yield
        finally:
            # The file stays open, because it is locked again at the next write.
            if self.handle is not None:
                with contextlib.suppress(OSError):
                    fcntl.lockf(self.handle, fcntl.LOCK_UN)
                fcntl.flock(self.handle, fcntl.LOCK_UN)

    def _try_record_lock(self) -> None:
        assert self.handle is not None
        try:
            fcntl.lockf(self.handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            reason = clean(error.strerror or "unknown reason")
            raise LogbookBusyError(
                f"The disk of {name_of(self.path)} cannot lock files: {reason}. Use a data folder on another disk."
            ) from None

    def _try(self, how: int) -> bool:
        while True:
            if self.handle is None:
                self.handle = os.open(self.path, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW, 0o644)
            try:
                fcntl.flock(self.handle, how | fcntl.LOCK_NB)
            except OSError as error:
                if error.errno in (errno.EWOULDBLOCK, errno.EACCES):
                    return False
                raise
            if self._is_at_path():
                return True
            # Another owner removed the file after this program opened it and before this program locked it.
            self.release()

    def _is_at_path(self) -> bool:
        assert self.handle is not None
        try:
            return os.path.samestat(os.fstat(self.handle), self.path.stat())
        except FileNotFoundError:
            return False


class RunHolder(NamedTuple):
    """Identifies the program that has locked a run and counts its passes."""

    pid: int | None
    host: str

    def __str__(self) -> str:
        process = "a program" if self.pid is None else f"process {self.pid}"
        return f"{process} on {self.host}" if self.host else process


class RunLock:
    """A lock on one run. Only the program that holds the lock may record events of the run.

    The lock ends when it is released or when the program ends.
    """

    def __init__(self, lock: FileLock) -> None:
        self._lock = lock

    def release(self) -> None:
        """Release the lock, so that another program can count the run."""
        if self._lock.handle is not None:
            with contextlib.suppress(OSError):
                self._lock.path.unlink()
            self._lock.release()


def take_run(path: Path) -> RunLock | RunHolder:
    """Lock a run and return the lock. If another program has locked the run, return a RunHolder for that program.

    `path`: the lock file of the run. Raises OSError if this file cannot be used.
    """
    lock = FileLock(path)
    path.parent.mkdir(exist_ok=True)
    if not lock.try_exclusive():
        holder = _read_holder(lock)
        lock.release()
        return holder
    assert lock.handle is not None
    text = json.dumps({"pid": os.getpid(), "host": os.uname().nodename})
    os.ftruncate(lock.handle, 0)
    os.pwrite(lock.handle, text.encode("ascii"), 0)
    return RunLock(lock)


def _read_holder(lock: FileLock) -> RunHolder:
    assert lock.handle is not None
    try:
        holder = json.loads(os.pread(lock.handle, _LONGEST_HOLDER_TEXT, 0))
        return RunHolder(pid=int(holder["pid"]), host=clean(str(holder["host"]), 60))
    except (ValueError, TypeError, KeyError):
        # The owner has not written the file yet, or somebody has changed the file.
        return RunHolder(pid=None, host="")
