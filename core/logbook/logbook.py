"""The logbook: every event of every run. An event is on the disk before the screen says "Logged".

Only one Logbook object in a process writes. Worker threads open their own Logbook with `read_only`. Every error of the
disk or of SQLite becomes a LogbookError with a sentence for the user.
"""

import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Self, TypeVar

from core.events.event import Event
from core.events.state import RunSummary, StateSummary
from core.logbook.errors import LogbookDamagedError, LogbookDiskError, damaged, errors_as_sentences
from core.logbook.file import LogbookFile, OnRepair
from core.logbook.locks import RunHolder, RunLock, take_run
from core.logbook.opening import with_retries
from core.logbook.rows import (
    EVENT_COLUMNS,
    INSERT_EVENT,
    INSERT_RUN,
    RUN_COLUMNS,
    UPDATE_RUN,
    as_column,
    event_from_row,
    event_row,
    in_todays_names,
    is_uid,
    read_events,
    read_some_events,
    run_from_row,
    run_row,
    with_digest_today,
    with_name,
)
from core.logbook.run_marks import RunMarks
from core.logbook.schema import FILE_NAME
from core.values.errors import LogbookError
from core.values.files import name_of
from core.values.plain_text import quoted

if TYPE_CHECKING:
    from core.logbook.check import Check, Verification

_Result = TypeVar("_Result")
ANY_RUN = "any"
"""A value for `after` that starts another run, whatever runs the operation already has."""
_MOST_UNFINISHED = 500
"""The number of unfinished runs that are searched for the one opened last."""
_NONE_LATER = """NOT EXISTS (SELECT 1 FROM run AS later WHERE later.job_path = run.job_path
    AND later.op_name = run.op_name AND later.number > run.number)"""


class RunStartedError(LogbookError):
    """Nothing was logged, because another program has just started a run of the same operation."""

    def __init__(self, uid: str) -> None:
        super().__init__("Another copy of this program has just started this operation. Nothing was logged here.")
        self.uid = uid


class Logbook:
    """The events of all runs, and the list of runs that the board and the history show."""

    def __init__(self, file: LogbookFile) -> None:
        self._file = file
        self.marks = RunMarks(file.path.parent, file.held)
        """The marks that say which runs were opened, and how they were left."""

    @classmethod
    def open(cls, folder: Path, *, read_only: bool = False, on_repair: OnRepair | None = None) -> Self:
        """Open the logbook in a folder. A missing logbook is created, and a damaged logbook is repaired.

        `read_only`: change nothing on the disk; a missing logbook appears empty. `on_repair`: called with the size of
        the file [bytes] before a repair; None to call nothing. Repairing 200,000 events takes about ten seconds. Raises
        LogbookError if the file belongs to another program, if permission is missing, or if the disk is full.
        """
        return cls(LogbookFile(folder.absolute() / FILE_NAME, read_only=read_only, on_repair=on_repair))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def path(self) -> Path:
        return self._file.path

    @property
    def read_only(self) -> bool:
        """True if nothing can be logged.

        The reason may be that permission to write is missing, or that a newer version made the file.
        """
        return self._file.read_only

    @property
    def notices(self) -> tuple[str, ...]:
        """Sentences for the user about the open file, such as that it was repaired or is read only; () if none."""
        return self._file.notices

    def begin(self, run: str, event: Event, summary: StateSummary, *, after: str | None = ANY_RUN) -> None:
        """Log the first event of a run and add the run to the list of runs.

        Both are on the disk before this method returns. `run`: the uid of the run. `summary`: the run's entry in the
        list. `after`: the uid of the newest run of this operation that the user has seen; None if the user has seen no
        run. Raises RunStartedError if a newer run exists.
        """
        _checked(run)
        rows = event_row(run, event), run_row(run, event, summary)
        with self.writing() as connection:
            if after != ANY_RUN:
                query = "SELECT uid FROM run WHERE job_path = ? AND op_name = ? ORDER BY number DESC LIMIT 1"
                newest = connection.execute(query, (rows[1][1], rows[1][3])).fetchone()
                if newest is not None and newest[0] != after:
                    raise RunStartedError(newest[0])
            connection.execute(INSERT_EVENT, rows[0])
            connection.execute(INSERT_RUN, rows[1])

    def append(self, run: str, event: Event, summary: StateSummary) -> None:
        """Log the next event of a run. The event is on the disk before this method returns.

        `run`: the uid of the run. `summary`: the run's entry in the list of runs after the event. Raises LogbookError
        if the event's number does not follow the number of the run's last event on the disk.
        """
        row = event_row(run, event)
        with self.writing() as connection:
            query = "SELECT max(seq) FROM event WHERE run = ?"
            last = connection.execute(query, (run,)).fetchone()[0]
            if last is None or last + 1 != event.seq:
                logged = "no events" if last is None else f"events 0 to {last}"
                raise LogbookError(
                    f"The logbook {name_of(self.path)} has {logged} of this run, "
                    f"so event {event.seq} cannot follow. Nothing was logged. Quit the program and start it again."
                )
            connection.execute(INSERT_EVENT, row)
            if connection.execute(UPDATE_RUN, (*summary, run)).rowcount != 1:
                raise damaged(self.path, "a run is missing from the list of runs")

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """Yield the connection for one transaction. The transaction is committed and synced when the block ends.

        If the file is damaged, the block fails: the file is repaired, and a LogbookError asks the user to try again.
        """
        try:
            with self._file.writing() as connection:
                yield connection
        except LogbookDamagedError as error:
            if self.read_only:
                raise
            if not self.repair(error.message):
                raise LogbookDiskError(f"{error.message} A second check found no damage. Try again.") from error
            raise LogbookError(f"{self.notices[-1]} Try again.") from error

    def events(self, run: str) -> tuple[Event, ...]:
        """Return all events of the run with the uid `run`.

        The checksum of each event and the number of events are checked first.
        """
        return self._file.read(lambda connection: read_events(connection, self.path, run))

    def events_from(self, run: str, first: int, limit: int) -> tuple[Event, ...]:
        """Return at most `limit` events of a run, beginning with event number `first`.

        Each event's checksum is checked. `run`: the uid of the run. Screens use this method to read a long run page by
        page.
        """
        return self._file.read(lambda connection: read_some_events(connection, self.path, run, first, limit))

    def strays(self) -> tuple[tuple[str, Event], ...]:
        """Return each stray together with the uid of its run.

        A stray is an event that a repair has kept although an earlier event of its run is lost.
        """
        query = f"SELECT {EVENT_COLUMNS} FROM stray ORDER BY run, seq"
        rows = self._file.read(lambda connection: connection.execute(query).fetchall())
        return tuple((pair[0], in_todays_names(pair[1], row[3])) for row in rows if (pair := event_from_row(row)))

    def runs(
        self, job_path: str | None = None, *, limit: int = 50, before: int | None = None
    ) -> tuple[RunSummary, ...]:
        """Return at most `limit` runs of one job, newest first; runs of all jobs if `job_path` is None.

        `before`: the number of the last run on the previous page; None for the first page.
        """
        conditions: dict[str, object] = {}
        if job_path is not None:
            conditions["job_path = ?"] = as_column(job_path)
        if before is not None:
            conditions["number < ?"] = before
        return self._runs(conditions, limit)

    def run(self, uid: str) -> RunSummary | None:
        """Return the run with this uid; None if the logbook does not contain the run."""
        return next(iter(self._runs({"uid = ?": uid}, 1)), None)

    def newest_run(self, job_path: str, op_name: str) -> RunSummary | None:
        """Return the newest run of an operation in a job; None if the operation has no run yet."""
        conditions = {"job_path = ?": as_column(job_path), "op_name = ?": as_column(op_name)}
        info = next(iter(self._runs(conditions, 1)), None)
        if info is None or info.status != "running":
            return info
        return self._file.read(lambda connection: with_digest_today(connection, info))

    def unfinished(self, job_path: str | None = None, *, limit: int = 50) -> tuple[RunSummary, ...]:
        """Return at most `limit` unfinished runs of a job, last opened first; runs of all jobs if `job_path` is None.

        Only the newest run of each operation is returned. Earlier versions did not record which run was opened last.
        Runs from those versions follow at the end, newest first.
        """
        conditions = {} if job_path is None else {"job_path = ?": as_column(job_path)}
        running = self._runs(conditions, _MOST_UNFINISHED, f"status = 'running' AND {_NONE_LATER}")
        order = {run: place for place, run in enumerate(self.marks.read())}
        return tuple(sorted(running, key=lambda info: (-order.get(info.uid, -1), -info.number))[:limit])

    def lock_run(self, uid: str) -> RunLock | RunHolder:
        """Lock a run, so that only this program can record its events, and return the lock.

        If another program has locked the run, return a RunHolder that identifies that program.
        """
        with errors_as_sentences(self.path):
            return take_run(self.path.parent / "runs" / f"{_checked(uid)}.lock")

    def read(self, query: Callable[[sqlite3.Connection], _Result]) -> _Result:
        """Return the result of a query. If the file is damaged, repair it once and run the query again."""
        return self._file.read(query)

    def data_version(self) -> int:
        """Return a number that changes whenever another program changes the logbook."""
        version: int = self._file.read(lambda connection: connection.execute("PRAGMA data_version").fetchone()[0])
        return version

    def verify(self) -> "Verification":
        """Check the whole file, every event and every run, and return the result. 100,000 events take a few seconds."""
        from core.logbook.check import verify

        with self._file.reading() as connection:
            return verify(connection, self.path)

    @classmethod
    def verified(cls, folder: Path) -> "Verification":
        """Check the logbook in a folder, which is opened read only and closed again, and return the result.

        Damage counts only if every attempt finds it. Raises LogbookDiskError if the disk cannot read the whole file,
        and LogbookError if the logbook cannot be opened.
        """

        def look() -> "Verification":
            with cls.open(folder, read_only=True) as logbook:
                return logbook.verify()

        return with_retries(folder.absolute() / FILE_NAME, look, lambda verification: not verification.problems)

    def check(self) -> "Check":
        """Return a check of the whole logbook, which the caller runs in a worker thread. It has its own connection."""
        return self._file.check()

    def repair(self, why: str) -> bool:
        """Check again a logbook that seems damaged, and rebuild it if this check confirms the damage.

        Return True if the logbook was damaged. `why`: the damage, as a sentence.
        """
        try:
            self._file.connect_again()
            problems = self.verify().problems
        except LogbookDamagedError as error:
            problems = (error.message,)
        if problems:
            self._file.rebuild(why)
        return bool(problems)

    def rebuild(self, why: str = "") -> None:
        """Rename the damaged logbook and copy its readable content into a new one.

        `why`: the damage as a sentence, for the notice to the user; "" for a general sentence.
        """
        self._file.rebuild(why)

    def backup(self, target: Path) -> tuple[Path, ...]:
        """Write a complete copy of the log to the new file `target`, and the notes on lathes to a file next to it.

        Return the paths of the new files. Other programs may log events during the copy. Raises LogbookError if the
        copy fails, and CoreError if the file already exists.
        """
        from core.record.lathe_notes import LatheNotes

        self._file.backup(target)
        notes = LatheNotes(self.path.parent).back_up(target)
        return (target,) if notes is None else (target, notes)

    def merging(self) -> AbstractContextManager[None]:
        """Mark the logbook as the target of a merge during the block.

        Raises LogbookBusyError if another program is already merging into this logbook.
        """
        return self._file.merging()

    def settle(self) -> None:
        """After a failed `append`, make sure that every event read from now on is on the disk."""
        self._file.settle()

    def checkpoint(self) -> None:
        """Move the events in the write-ahead log into the main file."""
        self._file.checkpoint()

    def close(self) -> None:
        """Close the logbook. If the logbook is already closed, do nothing."""
        self._file.close()

    def _runs(self, conditions: Mapping[str, object], limit: int, condition: str = "1") -> tuple[RunSummary, ...]:
        where = " AND ".join([condition, *conditions])
        query = f"SELECT {RUN_COLUMNS} FROM run WHERE {where} ORDER BY number DESC LIMIT ?"

        def listed(connection: sqlite3.Connection) -> tuple[RunSummary, ...]:
            rows = connection.execute(query, (*conditions.values(), limit)).fetchall()
            infos = tuple(with_name(connection, info) for row in rows if (info := run_from_row(row)))
            if len(infos) != len(rows):
                raise damaged(self.path, "a row of the list of runs has changed since it was written")
            return infos

        return self._file.read(listed)


def _checked(uid: str) -> str:
    """Return `uid`, or raise LogbookError if `uid` does not have the form of a run's uid.

    The check is needed because uids also serve as file names.
    """
    if not is_uid(uid):
        raise LogbookError(
            f"{quoted(uid)} is not the identifier of a run. Enter its 32 characters, 0 to 9 and a to f, as "
            "`halfnut log` prints them."
        )
    return uid
