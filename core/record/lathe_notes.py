"""Notes and adjustments of a lathe, each with its date, kept in a file beside the log.

The file only grows: each entry is one line with a checksum, written and synced at once. Deleting an entry adds a line
that says so. A power cut can spoil only a line that was never called saved. Such a line is not read.
"""

import os
import re
import uuid
import zlib
from collections.abc import Iterable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any, Literal, NamedTuple

from core.events.event import canonical
from core.values.errors import CoreError, LogbookError
from core.values.files import name_of, sync_folder, write_new
from core.values.plain_text import as_name, clean, counted, quoted

FILE_NAME = "lathe_notes.txt"
LONGEST_TEXT = 200
_LARGEST_FILE = 10_000_000
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}( [0-9]{2}:[0-9]{2})?")
_WHEN = "Enter a date such as 2026-03-14, or date and time such as 2026-03-14 09:30."

Sort = Literal["note", "adjustment"]


class LatheNote(NamedTuple):
    """One entry of the user about a lathe."""

    uid: str
    lathe_name: str
    dial: str
    """The dial that it is about; "" for the whole lathe."""
    sort: Sort
    """An adjustment separates measurements before it from those after it; a note does not."""
    when: str
    """Date and time with offset (ISO 8601)."""
    text: str

    @property
    def moment(self) -> datetime:
        """The time from which an adjustment counts."""
        return datetime.fromisoformat(self.when)


class NotesRead(NamedTuple):
    """The entries of a file, the earliest date first, and a sentence about lines that cannot be read; "" if all can."""

    notes: tuple[LatheNote, ...]
    problem: str = ""


class LatheNotes:
    """The entries about all lathes, in the data folder."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / FILE_NAME

    def read(self) -> NotesRead:
        """Return all entries that were not deleted; raises LogbookError if the file cannot be read."""
        content = self._content()
        lines = [line for line in content.split(b"\n") if line.strip()]
        rows = [row for line in lines if (row := _row(line)) is not None]
        notes = {note.uid: note for row in rows if (note := _note(row)) is not None}
        for row in rows:
            if row.get("deleted") is True:
                notes.pop(str(row.get("uid")), None)
        spoiled = len(lines) - len(rows)
        problem = f"{counted(spoiled, 'line')} of {name_of(self.path)} cannot be read and was left as it is."
        ordered = sorted(notes.values(), key=lambda note: note.moment)
        return NotesRead(tuple(ordered), problem if spoiled else "")

    def _content(self) -> bytes:
        """Return what the file holds, nothing if there is none; raises LogbookError."""
        if self.path.exists() and not self.path.is_file():
            raise LogbookError(f"{name_of(self.path)} is not a file. Move it away.")
        try:
            with self.path.open("rb") as file:
                content = file.read(_LARGEST_FILE + 1)
        except FileNotFoundError:
            return b""
        except OSError as error:
            raise LogbookError(
                f"{name_of(self.path)} cannot be read: {clean(error.strerror or 'unknown reason')}."
            ) from None
        if len(content) > _LARGEST_FILE:
            raise LogbookError(f"{name_of(self.path)} is larger than {_LARGEST_FILE} bytes. Move it away.")
        return content

    def add(self, note: LatheNote) -> None:
        """Save an entry. It is on the disk when this returns; raises LogbookError if it could not be saved."""
        self._append(note._asdict())

    def delete(self, note: LatheNote) -> None:
        """Delete an entry for good. That is on the disk when this returns; raises LogbookError."""
        self._append({"uid": note.uid, "deleted": True})

    def back_up(self, log_copy: Path) -> Path | None:
        """Copy the file, as it is, beside a copy of the log. Return its new path, None if there are no notes.

        Raises LogbookError, and CoreError if a file has that name already.
        """
        content = self._content()
        if not content:
            return None
        target = log_copy.with_name(f"{log_copy.name}-{FILE_NAME}")
        write_new(target, content.decode("utf-8", "replace").splitlines())
        return target

    def _append(self, row: Mapping[str, Any]) -> None:
        """Add one line in one write, and sync it.

        The line starts with a line break of its own, so that a line that was cut off before spoils no other.
        """
        text = canonical(row).encode("ascii")
        line = b"\n%08x %s\n" % (zlib.crc32(text), text)
        try:
            is_new = not self.path.exists()
            handle = os.open(self.path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_NOFOLLOW, 0o644)
            try:
                if os.write(handle, line) != len(line):
                    raise OSError(0, "no room on the disk")
                os.fsync(handle)
            finally:
                os.close(handle)
            if is_new:
                sync_folder(self.path.parent)
        except OSError as error:
            reason = clean(error.strerror or "unknown reason")
            raise LogbookError(f"Not saved: {name_of(self.path)} cannot be written, {reason}. Try again.") from None


def new_note(lathe_name: str, dial: str, sort: Sort, when: str, text: str) -> LatheNote:
    """Return a new entry; raises CoreError for an empty or long text. `when`: ISO 8601 with offset."""
    return LatheNote(uuid.uuid4().hex, lathe_name, dial, sort, when, note_text(text))


def note_text(text: str) -> str:
    """Return what a user typed as the text of an entry; raises CoreError if it is empty or too long."""
    cleaned = as_name(text, LONGEST_TEXT + 1)
    if not cleaned or len(cleaned) > LONGEST_TEXT:
        raise CoreError(f"Enter what was done, such as: gib adjusted. At most {LONGEST_TEXT} characters.")
    return cleaned


def read_when(text: str, now: str) -> str:
    """Return a date, or a date and time, as ISO 8601 with the offset of `now`; raises CoreError.

    A date alone counts from its first minute. A time to come is refused.

    >>> read_when("2026-03-14", "2026-03-20T10:00:00+01:00")
    '2026-03-14T00:00:00+01:00'
    """
    entered = text.strip()
    try:
        if not _DATE.fullmatch(entered):
            raise ValueError
        present = datetime.fromisoformat(now)
        moment = datetime.fromisoformat(entered).replace(tzinfo=present.tzinfo)
    except ValueError:
        raise CoreError(f"{quoted(entered)} is not a date. {_WHEN}") from None
    if moment > present:
        raise CoreError(f"{quoted(entered)} is in the future by this computer's clock. {_WHEN}")
    return moment.isoformat(timespec="seconds")


def notes_about(notes: Iterable[LatheNote], lathe_name: str, dial: str | None = None) -> list[LatheNote]:
    """Return the entries about a lathe; with `dial`, only those about that dial or the whole lathe."""
    return [note for note in notes if note.lathe_name == lathe_name and (dial is None or note.dial in {"", dial})]


def _row(line: bytes) -> dict[str, Any] | None:
    """Return the table in a line, None if its checksum is wrong."""
    import json

    checksum, _, text = line.partition(b" ")
    try:
        if int(checksum, 16) != zlib.crc32(text):
            return None
        row = json.loads(text)
    except (ValueError, RecursionError):
        return None
    return row if isinstance(row, dict) else None


def _note(row: Mapping[str, Any]) -> LatheNote | None:
    """Return the entry in a table; None if it has other fields, as a newer program may write."""
    try:
        note = LatheNote(**{name: str(row[name]) for name in LatheNote._fields})  # type: ignore[arg-type]
        # A date without an offset cannot be compared with those of the log.
        return note if note.moment.tzinfo is not None and note.sort in {"note", "adjustment"} else None
    except (KeyError, ValueError):
        return None
