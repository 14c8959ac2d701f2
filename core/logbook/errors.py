"""What goes wrong with the logbook on disk, as sentences."""

import contextlib
import errno
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from core.values.errors import LogbookError
from core.values.files import name_of
from core.values.plain_text import clean

_REASONS = {
    sqlite3.SQLITE_FULL: "the disk is full",
    sqlite3.SQLITE_READONLY: "it may only be read",
    sqlite3.SQLITE_PERM: "there is no permission",
    sqlite3.SQLITE_CANTOPEN: "it cannot be opened; it was removed, or there is no permission or no room",
    sqlite3.SQLITE_IOERR: "the disk reports an error (full, failing, or taken out)",
    sqlite3.SQLITE_BUSY: "another program is using it",
    sqlite3.SQLITE_LOCKED: "another program is using it",
    sqlite3.SQLITE_PROTOCOL: "it cannot be locked: locks fail on this disk",
    sqlite3.SQLITE_NOMEM: "there is not enough memory",
}
_DAMAGE = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_FORMAT}


class LogbookDamagedError(LogbookError):
    """The logbook is ours, but cannot be trusted as it is."""


class LogbookDiskError(LogbookError):
    """The disk failed. What it holds may be sound: nothing is repaired; the user tries again."""


class LogbookBusyError(LogbookError):
    """Another program has a lock for too long, or locks fail here; nothing was written."""


def damaged(path: Path, what: str) -> LogbookDamagedError:
    """Return the error for a logbook that is damaged; `what` says in which way."""
    return LogbookDamagedError(f"the logbook {name_of(path)} is damaged: {what}")


@contextlib.contextmanager
def errors_as_sentences(path: Path) -> Iterator[None]:
    """Turn what the disk or SQLite reports inside the block into LogbookError, a sentence."""
    try:
        yield
    except sqlite3.Error as error:
        raise _as_sentence(path, error) from error
    except UnicodeDecodeError as error:
        # SQLite quotes the damaged text in its message, and Python cannot decode that.
        raise damaged(path, "it holds text that is none") from error
    except OSError as error:
        kind = _KINDS_BY_ERRNO.get(error.errno or 0, LogbookError)
        reason = _REASONS[sqlite3.SQLITE_IOERR] if kind is LogbookDiskError else clean(error.strerror or "unknown")
        raise kind(f"the logbook {name_of(path)} cannot be used: {reason}") from error


_KINDS: dict[int, type[LogbookError]] = {
    sqlite3.SQLITE_IOERR: LogbookDiskError,
    sqlite3.SQLITE_BUSY: LogbookBusyError,
    sqlite3.SQLITE_LOCKED: LogbookBusyError,
    sqlite3.SQLITE_PROTOCOL: LogbookBusyError,
}
_KINDS_BY_ERRNO: dict[int, type[LogbookError]] = {errno.EIO: LogbookDiskError, errno.ENOLCK: LogbookBusyError}


def primary_code(error: sqlite3.Error) -> int:
    """Return SQLite's primary result code, SQLITE_ERROR where the error did not come from SQLite itself."""
    code: int = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR)
    return code & 0xFF


def _as_sentence(path: Path, error: sqlite3.Error) -> LogbookError:
    code = primary_code(error)
    # Text that is not UTF-8 is reported by Python, without a code, and a wrong format with none of its own.
    if code in _DAMAGE or "decode" in str(error) or "file format" in str(error):
        return damaged(path, clean(str(error)))
    reason = _REASONS.get(code, clean(str(error)))
    return _KINDS.get(code, LogbookError)(f"the logbook {name_of(path)} cannot be used: {reason}")
