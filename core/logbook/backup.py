"""Writes a sound copy of the logbook to a new file; nothing that is there is overwritten or removed."""

import os
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from core.logbook.errors import LogbookDamagedError
from core.logbook.schema import COMPANIONS, companion, unused_name
from core.values.errors import LogbookError
from core.values.files import name_of, sync_folder
from core.values.plain_text import clean


def write_backup(connection: sqlite3.Connection, target: Path) -> None:
    """Copy an open logbook to `target`, also while passes are being logged.

    Raises LogbookError; then nothing is left of the copy.
    """
    made: list[Path] = []
    try:
        _make(target, made)
        partial = unused_name(target, ".new")
        _make(partial, made)
        _copy(connection, partial)
        # What is replaced is the empty file that was made here.
        partial.replace(target)
        sync_folder(target.parent)
    except BaseException as error:
        for path in made:
            for ending in ("", *(COMPANIONS if path != target else ())):
                with suppress(OSError):
                    companion(path, ending).unlink(missing_ok=True)
        if isinstance(error, FileExistsError):
            raise LogbookError(f"{name_of(target)} is there already. Enter a name that is not used yet") from None
        if isinstance(error, OSError | sqlite3.Error):
            reason = error.strerror if isinstance(error, OSError) else str(error)
            raise LogbookError(
                f"the copy {name_of(target)} cannot be written: {clean(reason or 'unknown reason')}"
            ) from error
        raise


def _make(path: Path, made: list[Path]) -> None:
    """Make an empty file under a name that nothing has; raises FileExistsError, OSError."""
    os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o644))
    made.append(path)


def _copy(connection: sqlite3.Connection, partial: Path) -> None:
    with closing(sqlite3.connect(partial, isolation_level=None)) as copy:
        connection.backup(copy)
        # One file, without companions; switching the mode syncs it.
        copy.execute("PRAGMA synchronous = EXTRA")
        copy.execute("PRAGMA journal_mode = DELETE")
        found = copy.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if found != "ok":
        raise LogbookDamagedError(f"the logbook is damaged, so it was not copied: {clean(found)}")
