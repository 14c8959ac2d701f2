"""Repairs a damaged logbook: copies its readable contents into a new file and renames the damaged file.

The new file is complete and synced before anything is moved. Every step can be continued after a power cut, and nothing
is ever overwritten. Until the new file takes its final name, its name contains the digest of the damaged file, so that
the program cannot confuse it with another file.
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
    """The number of items copied from a damaged logbook into the new one, and the present path of the damaged one."""

    aside: Path
    events: int
    runs: int
    strays: int
    """The number of events that could be read, but follow a lost event."""

    def sentence(self, path: Path, why: str) -> str:
        """Return sentences for the user: the damage, the numbers of saved items, and the paths of both files."""
        aside = f"{sentence(why)} The damaged file was set aside as {name_of(self.aside)}."
        if not self.events:
            return f"{aside} No run in it could be read, so a new {name_of(path)} was started."
        strays = ""
        if self.strays:
            strays = (
                f" {counted(self.strays, 'more event')} could be read but not placed, because an earlier event is lost."
            )
        return (
            f"{aside} Saved in a new {name_of(path)}: {counted(self.events, 'event')} of {counted(self.runs, 'run')}."
            f"{strays} Check which pass is the last one before you cut."
        )


def cut_off_event(connection: sqlite3.Connection, path: Path, *, merging: bool) -> tuple[str, Event] | None:
    """Return the run and the event of a last transaction that SQLite ignores; None if there is none.

    A power cut in the middle of a commit can leave such a transaction in the write-ahead log. SQLite silently stops at
    the first incomplete frame, and later overwrites the frames after it. Every transaction holds an event, so it is
    enough to look for the events of the last two transactions. Raises LogbookDamagedError if more is missing than a
    power cut explains.

    merging: a merge of another log was interrupted. The last transaction may be a whole run. No part of such a run is
    returned, because merging again brings the run back.
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
    """Log the event that was being written when the power failed, if it is the next event of its run."""
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
    """Return the events on these pages that are not in the logbook."""
    rows = rows_in(source, (source.page_of(frame) for frame in frames))
    pairs = {(pair[0], pair[1].seq): pair for row in rows if (pair := event_from_row(row))}
    query = "SELECT 1 FROM event WHERE run = ? AND seq = ?"
    return [pair for key, pair in pairs.items() if connection.execute(query, key).fetchone() is None]


def set_aside(path: Path) -> RecoveryReport:
    """Copy the readable contents into a new file, then move the damaged file away; raises OSError or sqlite3.Error.

    No other program may have the logbook open. If the disk cannot read a part of the file, nothing is moved, because
    that part may be undamaged.
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
    """Copy all readable contents into a new logbook on the disk. Return the numbers of its events, runs and strays."""
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
    """Correct rows in which only the run or the number is wrong. The checksum proves which values are right."""
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
    """Move a complete new logbook to the path of the damaged one. Also finish a move that a power cut interrupted.

    Return the new path of the damaged one; None if there is nothing to move.
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
    """Return a new logbook that was copied from the one at `path`, and the new path of that one; None if there is none.

    The digest in the new logbook's name proves from which file it was copied.
    """
    for carried in sorted(path.parent.glob(f"{glob.escape(path.name)}{_CARRIED}-*")):
        digest = carried.name.rpartition("-")[2]
        for old in [path] if path.exists() else sorted(path.parent.glob(_aside_name(path, "*"))):
            if _digest(old) == digest:
                return carried, old
    return None


def _digest(path: Path) -> str:
    """Return the SHA-256 of a file's content, in hex; raises OSError."""
    content_digest = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            content_digest.update(block)
    return content_digest.hexdigest()


def _aside_name(path: Path, number: object) -> str:
    return f"{path.stem}-damaged-{number}{path.suffix}"


def _free_name(path: Path) -> Path:
    """Return the first unused name for the damaged file."""
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
    """Return, by uid, the numbers of the runs that can still be read in the damaged file."""
    numbers: dict[str, int] = {}
    unreadable = contextlib.suppress(sqlite3.Error, UnicodeDecodeError)
    with unreadable, closing(connect(path, "ro", immutable=True)) as connection:
        for uid, number in connection.execute("SELECT uid, number FROM run"):
            if isinstance(uid, str) and isinstance(number, int):
                numbers[uid] = number
    return numbers


def _strays_of(path: Path) -> set[tuple[str, int, int]]:
    """Return run, number and checksum of each stray, an event that an earlier repair kept after a lost event."""
    strays: set[tuple[str, int, int]] = set()
    unreadable = contextlib.suppress(sqlite3.Error, UnicodeDecodeError)
    with unreadable, closing(connect(path, "ro", immutable=True)) as connection:
        strays.update(connection.execute("SELECT run, seq, crc FROM stray"))
    return strays


def _join_runs(connection: sqlite3.Connection, order: dict[str, int]) -> tuple[int, int]:
    """Put events together as runs that are numbered from 0 without a gap. Return the numbers of events and runs."""
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
    """Move the events of a run that can be replayed to the SQL table `event`. Return the number of these events."""
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
