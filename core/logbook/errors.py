"""Errors of the logbook on disk, worded as sentences for the user."""

import contextlib
import errno
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from core.values.errors import LogbookError
from core.values.files import name_of
from core.values.plain_text import clean

_REASONS = {
    sqlite3.SQLITE_FULL: "the disk is full. Make room, then try again",
    sqlite3.SQLITE_READONLY: "the file is read only",
    sqlite3.SQLITE_PERM: "you have no permission for this file",
    sqlite3.SQLITE_CANTOPEN: "the file was removed, you have no permission, or the disk is full",
    sqlite3.SQLITE_IOERR: "the disk reports an error. It may be full, failing or unplugged",
    sqlite3.SQLITE_BUSY: "another program is using the file",
    sqlite3.SQLITE_LOCKED: "another program is using the file",
    sqlite3.SQLITE_PROTOCOL: "this disk does not support file locks",
    sqlite3.SQLITE_NOMEM: "there is not enough memory",
}
_DAMAGE = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_FORMAT}


class LogbookDamagedError(LogbookError):
    """The file is a halfnut logbook, but its content is damaged."""


class LogbookDiskError(LogbookError):
    """The disk failed. The file may be undamaged, so the program repairs nothing and the user can try again."""


class LogbookBusyError(LogbookError):
    """Nothing was written: another program held a lock for too long, or files on this disk cannot be locked."""


def damaged(path: Path, what: str) -> LogbookDamagedError:
    """Return the error for a damaged logbook. `what` describes the damage, such as "its header is wrong"."""
    return LogbookDamagedError(f"The logbook {name_of(path)} is damaged: {what}.")


@contextlib.contextmanager
def errors_as_sentences(path: Path) -> Iterator[None]:
    """Run the block, and turn errors of the disk and of SQLite into a LogbookError with a sentence for the user."""
    try:
        yield
    except sqlite3.Error as error:
        raise _as_sentence(path, error) from error
    except UnicodeDecodeError as error:
        # SQLite quotes the damaged text in its message, and Python cannot decode that text.
        raise damaged(path, "part of its text cannot be read") from error
    except OSError as error:
        kind = _KINDS_BY_ERRNO.get(error.errno or 0, LogbookError)
        reason = _REASONS[sqlite3.SQLITE_IOERR] if kind is LogbookDiskError else clean(error.strerror or "unknown")
        raise kind(f"The logbook {name_of(path)} cannot be used: {reason}.") from error


_KINDS: dict[int, type[LogbookError]] = {
    sqlite3.SQLITE_IOERR: LogbookDiskError,
    sqlite3.SQLITE_BUSY: LogbookBusyError,
    sqlite3.SQLITE_LOCKED: LogbookBusyError,
    sqlite3.SQLITE_PROTOCOL: LogbookBusyError,
}
_KINDS_BY_ERRNO: dict[int, type[LogbookError]] = {errno.EIO: LogbookDiskError, errno.ENOLCK: LogbookBusyError}


def primary_code(error: sqlite3.Error) -> int:
    """Return SQLite's primary result code for an error; SQLITE_ERROR if the error has no code from SQLite."""
    code: int = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR)
    return code & 0xFF


def _as_sentence(path: Path, error: sqlite3.Error) -> LogbookError:
    code = primary_code(error)
    # Python reports text that is not UTF-8 without a code. SQLite reports a wrong format with a general code.
    if code in _DAMAGE or "decode" in str(error) or "file format" in str(error):
        return damaged(path, clean(str(error)))
    reason = _REASONS.get(code, clean(str(error)))
    return _KINDS.get(code, LogbookError)(f"The logbook {name_of(path)} cannot be used: {reason}.")
