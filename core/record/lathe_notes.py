"""Saves the user's notes on lathes, and adjustments of lathes, with their dates, in a file next to the log.

The file only grows. Each entry is one row with a checksum, and is synced to the disk before the program says "Saved".
Deleting an entry adds another row. A power cut can damage only a row that the program has not yet reported as saved.
Such a row is ignored when the file is read.
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
_WHEN = "Enter a date such as 2026-03-14, or a date and a time such as 2026-03-14 09:30."

Sort = Literal["note", "adjustment"]


class LatheNote(NamedTuple):
    """One note about a lathe, or one adjustment of a lathe, as the user entered it."""

    uid: str
    lathe_name: str
    dial: str
    """The dial that the note is about; "" for the whole lathe."""
    sort: Sort
    """After an adjustment the lathe record counts only newer measurements. A note changes no count."""
    when: str
    """Date and time with offset (ISO 8601)."""
    text: str

    @property
    def moment(self) -> datetime:
        """Return `when` as a datetime, so that entries can be sorted."""
        return datetime.fromisoformat(self.when)


class NotesRead(NamedTuple):
    """The entries of a notes file, the earliest date first, and a sentence about rows that cannot be read."""

    notes: tuple[LatheNote, ...]
    problem: str = ""
    """A sentence about rows of the file that cannot be read; "" if all rows can be read."""


class NotesMerged(NamedTuple):
    """How a merge has changed the notes on this computer."""

    new: int = 0
    """The number of notes that came over from the other machine."""
    deleted: int = 0
    """The number of notes deleted here because the user had deleted them on the other machine."""
    problem: str = ""
    """A sentence about notes that could not be merged; "" if all could."""


class LatheNotes:
    """The file in the data folder with the notes on all lathes."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / FILE_NAME

    def read(self) -> NotesRead:
        """Return all entries that have not been deleted. Raises LogbookError if the file cannot be read."""
        rows, problem = _rows(self.path)
        return NotesRead(tuple(sorted(_entries(rows.values()).values(), key=lambda note: note.moment)), problem)

    def merge(self, other: Path) -> NotesMerged:
        """Add the rows that are only in another computer's notes file, and return how the notes here have changed.

        `other`: the path of that file. A note that was deleted on either computer is deleted after the merge. A power
        cut leaves only complete rows, and another merge adds the rest. Raises LogbookError if a file cannot be read, or
        if the file here cannot be written.
        """
        rows, _ = _rows(self.path)
        others, problem = _rows(other)
        known = {_key(line, row) for line, row in rows.items()}
        missing = {line: row for line, row in others.items() if _key(line, row) not in known}
        if not missing:
            return NotesMerged(problem=problem)
        # The deletions come first, so that no deleted note shows again if only a part is written.
        lines = sorted(missing, key=lambda line: missing[line].get("deleted") is not True)
        size = sum(len(line) + 2 for line in lines) + (self.path.stat().st_size if self.path.exists() else 0)
        if size > _LARGEST_FILE:
            raise LogbookError(
                f"{name_of(self.path)} would be larger than {_LARGEST_FILE} bytes. Move the file to another folder."
            )
        self._append(lines)
        before, after = _entries(rows.values()), _entries([*rows.values(), *missing.values()])
        return NotesMerged(len(after.keys() - before.keys()), len(before.keys() - after.keys()), problem)

    def add(self, note: LatheNote) -> None:
        """Save an entry and sync it to the disk. Raises LogbookError if the entry could not be saved."""
        self._append([_line(note._asdict())])

    def delete(self, note: LatheNote) -> None:
        """Delete an entry permanently, and sync the change to the disk. Raises LogbookError if this fails."""
        self._append([_line({"uid": note.uid, "deleted": True})])

    def back_up(self, log_copy: Path) -> Path | None:
        """Copy the notes file next to `log_copy`, a copy of the log, and return the new path; None without notes.

        Raises LogbookError if the notes cannot be read or copied, and CoreError if the new path is already in use.
        """
        content = _content(self.path)
        if not content:
            return None
        target = _backup_path(log_copy)
        write_new(target, content.decode("utf-8", "replace").splitlines())
        return target

    def _append(self, lines: Iterable[bytes]) -> None:
        """Add rows to the end of the file in one write, and sync them to the disk.

        Each row starts with a line break, so that a row that a power cut left incomplete cannot damage the next row.
        """
        content = b"".join(b"\n%s\n" % line for line in lines)
        try:
            is_new = not self.path.exists()
            handle = os.open(self.path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_NOFOLLOW, 0o644)
            try:
                if os.write(handle, content) != len(content):
                    raise OSError(0, "no room on the disk")
                os.fsync(handle)
            finally:
                os.close(handle)
            if is_new:
                sync_folder(self.path.parent)
        except OSError as error:
            reason = clean(error.strerror or "unknown reason")
            raise LogbookError(f"Not saved: {name_of(self.path)} cannot be written ({reason}). Try again.") from None


def notes_beside(log: Path) -> Path:
    """Return the path of the notes file that belongs to a log or to a backup of a log. The file may not exist."""
    backup = _backup_path(log)
    return backup if backup.exists() else log.with_name(FILE_NAME)


def new_note(lathe_name: str, dial: str, sort: Sort, when: str, text: str) -> LatheNote:
    """Return a new entry with a new uid. Raises CoreError if the text is empty or too long.

    `dial`: the dial that the entry is about; "" for the whole lathe. `sort`: whether the entry is a note or an
    adjustment. `when`: date and time with the UTC offset, in ISO 8601.
    """
    return LatheNote(uuid.uuid4().hex, lathe_name, dial, sort, when, note_text(text))


def note_text(text: str) -> str:
    """Return the text of an entry without control characters. Raises CoreError if the text is empty or too long."""
    cleaned = as_name(text, LONGEST_TEXT + 1)
    if not cleaned or len(cleaned) > LONGEST_TEXT:
        raise CoreError(f'Enter some text, such as "gib adjusted", with at most {LONGEST_TEXT} characters.')
    return cleaned


def read_when(text: str, now: str) -> str:
    """Return a date, or a date and time, that the user typed, in ISO 8601 with the UTC offset of `now`.

    A date alone means midnight at the start of that day. Raises CoreError if the text is neither, or if the time is
    later than `now`.

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
    """Return the entries about a lathe.

    `dial`: a dial, to leave out entries about other dials; None for all entries.
    """
    return [note for note in notes if note.lathe_name == lathe_name and (dial is None or note.dial in {"", dial})]


def _backup_path(log: Path) -> Path:
    return log.with_name(f"{log.name}-{FILE_NAME}")


def _content(path: Path) -> bytes:
    """Return the bytes of a notes file; b"" if there is no file. Raises LogbookError if the file cannot be read."""
    if path.exists() and not path.is_file():
        raise LogbookError(f"{name_of(path)} is not an ordinary file. Move it to another folder.")
    try:
        with path.open("rb") as file:
            content = file.read(_LARGEST_FILE + 1)
    except FileNotFoundError:
        return b""
    except OSError as error:
        raise LogbookError(f"{name_of(path)} cannot be read: {clean(error.strerror or 'unknown reason')}.") from None
    if len(content) > _LARGEST_FILE:
        raise LogbookError(f"{name_of(path)} is larger than {_LARGEST_FILE} bytes. Move the file to another folder.")
    return content


def _rows(path: Path) -> tuple[dict[bytes, Mapping[str, Any]], str]:
    """Return each undamaged line of a notes file with its decoded row, and a sentence about the damaged lines.

    The sentence is "" if no line is damaged.
    """
    lines = [line for line in _content(path).split(b"\n") if line.strip()]
    rows = [(line, row) for line in lines if (row := _row(line)) is not None]
    spoiled = len(lines) - len(rows)
    problem = f"{counted(spoiled, 'line')} of {name_of(path)} cannot be read. The file was not changed."
    return dict(rows), problem if spoiled else ""


def _entries(rows: Iterable[Mapping[str, Any]]) -> dict[str, LatheNote]:
    """Return the entries that the rows contain, by uid, without those that another row deletes."""
    rows = list(rows)
    deleted = {str(row.get("uid")) for row in rows if row.get("deleted") is True}
    notes = [note for row in rows if (note := _note(row)) is not None]
    return {note.uid: note for note in notes if note.uid not in deleted}


def _key(line: bytes, row: Mapping[str, Any]) -> tuple[str, str | bytes]:
    """Return a key by which a merge finds equal rows: of several rows with the same key, it keeps only one.

    `line`: the text of the row.
    """
    if row.get("deleted") is True:
        return "deleted", str(row.get("uid"))
    note = _note(row)
    # Nothing is known about the fields of a row from a newer program, so its whole text is compared.
    return ("note", note.uid) if note else ("other", line)


def _line(row: Mapping[str, Any]) -> bytes:
    text = canonical(row).encode("ascii")
    return b"%08x %s" % (zlib.crc32(text), text)


def _row(line: bytes) -> dict[str, Any] | None:
    """Return the row that a line of the file contains; None if the line's checksum is wrong."""
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
    """Return the entry in a row; None if the row has unknown fields, as a later version of the program may write."""
    try:
        note = LatheNote(**{name: str(row[name]) for name in LatheNote._fields})  # type: ignore[arg-type]
        # A date without an offset cannot be compared with those of the log.
        return note if note.moment.tzinfo is not None and note.sort in {"note", "adjustment"} else None
    except (KeyError, ValueError):
        return None
