"""What goes wrong with the logbook on disk, as sentences."""

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from core.errors import LogbookError
from core.files import name_of
from core.plain_text import clean

_REASONS = {
    sqlite3.SQLITE_FULL: "the disk is full",
    sqlite3.SQLITE_READONLY: "it may only be read",
    sqlite3.SQLITE_PERM: "there is no permission",
    sqlite3.SQLITE_CANTOPEN: "it cannot be opened; it was removed, or there is no permission or no room",
    sqlite3.SQLITE_IOERR: "the disk reports an error (full, failing, or taken out)",
    sqlite3.SQLITE_BUSY: "another program is using it",
    sqlite3.SQLITE_LOCKED: "another program is using it",
    sqlite3.SQLITE_NOMEM: "there is not enough memory",
}
_DAMAGE = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_FORMAT}


class LogbookDamagedError(LogbookError):
    """The logbook is ours, but cannot be trusted as it is."""


def damaged(path: Path, what: str) -> LogbookDamagedError:
    """Return the error for a logbook that is damaged; `what` says in which way."""
    return LogbookDamagedError(f"the logbook {name_of(path)} is damaged: {what}")


@contextlib.contextmanager
def errors_told(path: Path) -> Iterator[None]:
    """Turn what the disk or SQLite reports inside the block into LogbookError, a sentence."""
    try:
        yield
    except sqlite3.Error as error:
        raise _told(path, error) from error
    except UnicodeDecodeError as error:
        # SQLite quotes what it found in its own message, and Python cannot read that.
        raise damaged(path, "it holds text that is none") from error
    except OSError as error:
        reason = clean(error.strerror or "unknown reason")
        raise LogbookError(f"the logbook {name_of(path)} cannot be used: {reason}") from error


def primary_code(error: sqlite3.Error) -> int:
    """Return SQLite's primary result code, SQLITE_ERROR where the error did not come from SQLite itself."""
    code: int = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR)
    return code & 0xFF


def _told(path: Path, error: sqlite3.Error) -> LogbookError:
    code = primary_code(error)
    # Text that is not UTF-8 is reported by Python, without a code, and a wrong format with none of its own.
    if code in _DAMAGE or "decode" in str(error) or "file format" in str(error):
        return damaged(path, clean(str(error)))
    reason = _REASONS.get(code, clean(str(error)))
    return LogbookError(f"the logbook {name_of(path)} cannot be used: {reason}")
