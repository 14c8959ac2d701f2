"""Repairs a damaged logbook: copies its readable content into a new file, then renames the damaged file.

The new file is complete and synced before any file is moved. If a power cut interrupts the repair, the next start
continues it, and no file is ever overwritten. Until the new file gets its final name, its name contains the digest of
the damaged file. So the program cannot confuse the new file with a file from an earlier repair.
"""

import contextlib
import glob
import hashlib
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import NamedTuple

from core.events.event import Event
from core.events.replay import replay_until_refused
from core.events.state import state_summary
from core.logbook.errors import damaged
from core.logbook.raw_pages import PageSource, Row, WalFrame, rows_in
from core.logbook.rows import (
    EVENT_COLUMNS,
    EVENTS_OF_RUN,
    INSERT_EVENT,
    INSERT_RUN,
    INSERT_STRAY,
    UPDATE_RUN,
    event_from_row,
    event_row,
    run_row,
)
from core.logbook.schema import COMPANIONS, companion, connect, create, unused_path
from core.values.files import name_of, sync_folder
from core.values.plain_text import counted, sentence

_CARRIED = ".carried"
_MOST_SUSPECTS = 1_000
"""The largest number of rows with a wrong checksum that are searched for a wrong run or number."""
_MOST_GAPS = 100
_BLOCK = 1 << 20


class RecoveryReport(NamedTuple):
    """The result of a repair: the new path of the damaged file, and how much was copied from it."""

    aside: Path
    events: int
    runs: int
    strays: int
    """The number of events that could be read, but follow a lost event."""

    def sentence(self, path: Path, why: str) -> str:
        """Return sentences for the user: the damage, how much was saved, and the paths of both files.

        `why`: the damage, as a sentence.
        """
        aside = f"{sentence(why)} The damaged file was renamed to {name_of(self.aside)}."
        if not self.events:
            return f"{aside} No run could be read from the damaged file, so a new {name_of(path)} was started."
        strays = ""
        if self.strays:
            strays = (
                f" {counted(self.strays, 'more event')} could be read but not used, because an earlier event is lost."
            )
        return (
            f"{aside} A new {name_of(path)} holds {counted(self.events, 'event')} of {counted(self.runs, 'run')}."
            f"{strays} Before you cut, check which pass was logged last."
        )


def cut_off_event(connection: sqlite3.Connection, path: Path, *, merging: bool) -> tuple[str, Event] | None:
    """Return the event of an incomplete last transaction and the uid of its run; None if there is no such transaction.

    A power cut during a commit can leave such a transaction in the write-ahead log. SQLite silently stops at the first
    incomplete frame, and later overwrites the frames after it. Every transaction contains an event, so only the events
    of the last two transactions are compared. Raises LogbookDamagedError if more is missing than a power cut can
    explain.

    `merging`: True if a merge was interrupted. The last transaction may then be a whole run. No part of this run is
    returned, because the next merge copies the run again.
    """
    with PageSource(path, companion(path, "-wal")) as source:
        before, last = ([], [], *source.transactions())[-2:]
        if _missing(connection, source, before):
            raise damaged(path, "the end of the log is incomplete")
        if merging:
            return None
        missing = _missing(connection, source, last)
    if len(missing) > 1:
        raise damaged(path, "the end of the log is incomplete")
    return missing[0] if missing else None


def log_cut_off_event(connection: sqlite3.Connection, run: str, event: Event) -> None:
    """Log the event that a power cut interrupted, if this event is the next one of the run with the uid `run`."""
    events = [pair[1] for row in connection.execute(EVENTS_OF_RUN, (run,)) if (pair := event_from_row(row))]
    state = replay_until_refused([*events, event], run)
    if state is None or state.last_seq != event.seq:
        return
    connection.execute("BEGIN IMMEDIATE")
    connection.execute(INSERT_EVENT, event_row(run, event))
    if event.seq == 0:
        connection.execute(INSERT_RUN, run_row(run, event, state_summary(state)))
    else:
        connection.execute(UPDATE_RUN, (*state_summary(state), run))
    connection.execute("COMMIT")


def _missing(connection: sqlite3.Connection, source: PageSource, frames: list[WalFrame]) -> list[tuple[str, Event]]:
    """Return each event in `frames` that the logbook does not contain, with the uid of its run."""
    rows = rows_in(source, (source.page_of(frame) for frame in frames))
    pairs = {(pair[0], pair[1].seq): pair for row in rows if (pair := event_from_row(row))}
    query = "SELECT 1 FROM event WHERE run = ? AND seq = ?"
    return [pair for key, pair in pairs.items() if connection.execute(query, key).fetchone() is None]


def set_aside(path: Path) -> RecoveryReport:
    """Copy the readable content into a new file, rename the damaged file, and report the result.

    No other program may have the logbook open. If the disk cannot read a part of the file, no file is moved, because
    that part may be undamaged. Raises OSError or sqlite3.Error if the repair fails.
    """
    digest = _digest(path)
    new = unused_path(path, ".new")
    create(new)
    try:
        events, runs, strays = _carry_over(path, new)
        new.replace(companion(path, f"{_CARRIED}-{digest}"))
    except BaseException:
        with contextlib.suppress(OSError):
            for ending in ("", *COMPANIONS):
                companion(new, ending).unlink(missing_ok=True)
        raise
    sync_folder(path.parent)
    aside = finish_move(path)
    assert aside is not None
    return RecoveryReport(aside=aside, events=events, runs=runs, strays=strays)


def _carry_over(path: Path, new: Path) -> tuple[int, int, int]:
    """Copy all readable content of `path` into the empty logbook `new`.

    Return the number of events, runs and strays in `new`. A stray is an event that follows a lost event of its run.
    """
    order, old_strays = _order_of_runs(path), _strays_of(path)
    suspects: list[Row] = []
    kept_apart: list[Row] = []
    with closing(connect(new, "rw")) as connection:
        connection.execute("PRAGMA synchronous = EXTRA")
        connection.execute("BEGIN IMMEDIATE")
        with PageSource(path, companion(path, "-wal")) as source:
            for row in rows_in(source, source.pages()):
                if not event_from_row(row):
                    suspects += [row] if len(suspects) < _MOST_SUSPECTS else []
                elif (row[0], row[1], row[-1]) in old_strays:
                    kept_apart.append(row)
                else:
                    connection.execute(INSERT_STRAY, row)
        _restore_keys(connection, suspects)
        events, runs = _join_runs(connection, order)
        # If an earlier repair lost an event, the events after it must not join the events logged since.
        connection.executemany(INSERT_STRAY, kept_apart)
        strays = connection.execute("SELECT count(*) FROM stray").fetchone()[0]
        connection.execute("COMMIT")
    return events, runs, strays


def _restore_keys(connection: sqlite3.Connection, suspects: list[Row]) -> None:
    """Copy the rows in which only the run's uid or the event's number is wrong, with the right value.

    `suspects`: rows with a wrong checksum. The checksum shows which uid and number are right.
    """
    if not suspects:
        return
    for (run,) in connection.execute("SELECT DISTINCT run FROM stray").fetchall():
        seqs = {seq for (seq,) in connection.execute("SELECT seq FROM stray WHERE run = ?", (run,))}
        missing = [seq for seq in range(max(seqs) + 2) if seq not in seqs][:_MOST_GAPS]
        for row in suspects:
            for seq in missing if row[0] == run else [row[1]] if row[1] in missing else []:
                restored = (run, seq, *row[2:])
                if event_from_row(restored):
                    connection.execute(INSERT_STRAY, restored)


def finish_move(path: Path) -> Path | None:
    """Finish a repair: rename the damaged logbook, and move the complete new logbook to its path.

    A power cut may have interrupted this move earlier. Return the new path of the damaged file; None if there is no new
    logbook to move.
    """
    pair = _carried_over_from(path)
    if pair is None:
        return None
    carried, aside = pair
    if path.exists():
        aside = _free_name(path)
        # The file itself is moved last. While it is at its old path, its companion files must not meet a new logbook.
        for ending in (*COMPANIONS, ""):
            source = companion(path, ending)
            if source.exists():
                source.rename(companion(aside, ending))
        sync_folder(path.parent)
    carried.rename(path)
    sync_folder(path.parent)
    return aside


def _carried_over_from(path: Path) -> tuple[Path, Path] | None:
    """Return the repaired copy of a damaged logbook, and a new path for the damaged file.

    Return None if there is no such copy. `path`: the damaged logbook. The digest in the copy's name proves that the
    copy was made from this file.
    """
    for carried in sorted(path.parent.glob(f"{glob.escape(path.name)}{_CARRIED}-*")):
        digest = carried.name.rpartition("-")[2]
        for old in [path] if path.exists() else sorted(path.parent.glob(_aside_name(path, "*"))):
            if _digest(old) == digest:
                return carried, old
    return None


def _digest(path: Path) -> str:
    """Return the SHA-256 digest of a file's content in hexadecimal. Raises OSError if the file cannot be read."""
    content_digest = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            content_digest.update(block)
    return content_digest.hexdigest()


def _aside_name(path: Path, number: object) -> str:
    return f"{path.stem}-damaged-{number}{path.suffix}"


def _free_name(path: Path) -> Path:
    """Return the first unused path to which the damaged file can be renamed."""
    number = 1
    while True:
        aside = path.with_name(_aside_name(path, number))
        taken = aside.exists() or any(
            companion(aside, ending).exists() and companion(path, ending).exists() for ending in COMPANIONS
        )
        if not taken:
            return aside
        number += 1


def _order_of_runs(path: Path) -> dict[str, int]:
    """Return, by uid, the number of each run whose entry in the damaged file can still be read."""
    numbers: dict[str, int] = {}
    unreadable = contextlib.suppress(sqlite3.Error, UnicodeDecodeError)
    with unreadable, closing(connect(path, "ro", immutable=True)) as connection:
        for uid, number in connection.execute("SELECT uid, number FROM run"):
            if isinstance(uid, str) and isinstance(number, int):
                numbers[uid] = number
    return numbers


def _strays_of(path: Path) -> set[tuple[str, int, int]]:
    """Return the uid of the run, the number and the checksum of each stray in the damaged file.

    A stray is an event that an earlier repair kept although an earlier event of its run is lost.
    """
    strays: set[tuple[str, int, int]] = set()
    unreadable = contextlib.suppress(sqlite3.Error, UnicodeDecodeError)
    with unreadable, closing(connect(path, "ro", immutable=True)) as connection:
        strays.update(connection.execute("SELECT run, seq, crc FROM stray"))
    return strays


def _join_runs(connection: sqlite3.Connection, order: dict[str, int]) -> tuple[int, int]:
    """Join the copied events into runs whose events are numbered from 0 without a gap.

    `order`: the number of each run in the damaged file, by uid. Return the number of events and the number of runs.
    """
    first_events = connection.execute("SELECT run, wall FROM stray WHERE seq = 0").fetchall()
    # The old list lacks some later runs. Only their wall clock shows their order.
    first_events.sort(key=lambda row: (row[0] not in order, order.get(row[0], 0), row[1]))
    events = runs = 0
    for run, _ in first_events:
        count = _join_run(connection, run)
        events += count
        runs += count > 0
    return events, runs


def _join_run(connection: sqlite3.Connection, run: str) -> int:
    """Move the events of a run that can be replayed to the SQL table `event`. Return how many events were moved."""
    state = replay_until_refused(_stray_events(connection, run), run)
    if state is None:
        return 0
    first = next(_stray_events(connection, run))
    which = (run, state.last_seq)
    connection.execute(f"INSERT INTO event SELECT {EVENT_COLUMNS} FROM stray WHERE run = ? AND seq <= ?", which)
    connection.execute("DELETE FROM stray WHERE run = ? AND seq <= ?", which)
    connection.execute(INSERT_RUN, run_row(run, first, state_summary(state)))
    return state.last_seq + 1


def _stray_events(connection: sqlite3.Connection, run: str) -> Iterator[Event]:
    for row in connection.execute(f"SELECT {EVENT_COLUMNS} FROM stray WHERE run = ? ORDER BY seq", (run,)):
        pair = event_from_row(row)
        if pair:
            yield pair[1]
