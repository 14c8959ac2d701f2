"""Merges the runs in another computer's log into this computer's log, and the notes on lathes next to both logs.

Every run has a uid, and no two computers create the same uid. If both computers continued a run, the second version
gets a new uid, which is computed from the first uid and the run's events. So a later merge in either direction
recognizes both versions. Each run is merged in one transaction. After a power cut a run is either unchanged or
complete, and the user can merge again.
"""

import hashlib
import sqlite3
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal, NamedTuple

from core.events.event import canonical, checksum
from core.events.state import RunSummary, StateSummary
from core.logbook.errors import damaged
from core.logbook.locks import RunHolder, RunLock
from core.logbook.logbook import Logbook
from core.logbook.other_log import ReadRun, Row, UnusableRun, other_log
from core.logbook.rows import EVENTS_OF_RUN, INSERT_EVENT, INSERT_RUN, UPDATE_RUN, checked_events, run_row
from core.record.lathe_notes import LatheNotes, NotesMerged, notes_beside
from core.run.event_words import run_names, wall_parts
from core.values.errors import EventError, LogbookError
from core.values.files import name_of
from core.values.plain_text import counted, quoted, sentence

Outcome = Literal["new", "continued", "two", "same", "skipped"]
_WORDS: dict[Outcome, str] = {
    "new": "added",
    "continued": "continued",
    "two": "kept as two",
    "same": "already here",
    "skipped": "skipped",
}
_LENGTH_OF_UID = 32


class MergedRun(NamedTuple):
    """The outcome of a merge for one run of the other log."""

    outcome: Outcome
    uid: str
    """The uid of the run in this log; "" if the run was skipped."""
    name: str
    detail: str = ""
    """Sentences on a run that was kept as two or skipped; "" for other outcomes."""


class MergeReport(NamedTuple):
    """The outcome of a merge: one entry for each run of the other log, and the result for the notes on lathes."""

    source: Path
    runs: tuple[MergedRun, ...]
    notes: NotesMerged

    @property
    def counts(self) -> Counter[Outcome]:
        """The number of runs with each outcome."""
        return Counter(run.outcome for run in self.runs)

    def lines(self) -> list[str]:
        """Return the report as sentences: how many runs had each outcome, then each run that the user must check."""
        counts = self.counts
        said = [f"{counted(counts[outcome], 'run')} {words}" for outcome, words in _WORDS.items() if counts[outcome]]
        if self.notes.new:
            said.append(f"{counted(self.notes.new, 'note')} on lathes added")
        if self.notes.deleted:
            said.append(f"{counted(self.notes.deleted, 'note')} on lathes deleted")
        head = f"From {name_of(self.source)}: {', '.join(said) or 'the log has no runs'}."
        details = [f"{_head(run)} {run.detail}" for run in self.runs if run.detail]
        return [head, *details, *([self.notes.problem] if self.notes.problem else [])]


def merge(logbook: Logbook, path: Path) -> MergeReport:
    """Merge the runs of the log at `path` into an open logbook. Each run is committed and synced on its own.

    `path`: another computer's logbook, a backup, or the folder of a logbook. The file at `path` is never changed.
    Raises LogbookError if this file cannot be used, or if the open logbook cannot be written.
    """
    if logbook.read_only:
        raise LogbookError(f"The logbook {name_of(logbook.path)} is open read only, so nothing was merged.")
    merged: list[MergedRun] = []
    with other_log(path, logbook.path) as other, logbook.merging():
        notes = _merge_notes(logbook, other.source)
        previous = ""
        try:
            for run in other.runs():
                if isinstance(run, UnusableRun):
                    merged.append(MergedRun("skipped", "", _name(run.info), run.why))
                    continue
                merged.append(_merge_run(logbook, run, previous))
                previous = merged[-1].uid or previous
        except LogbookError as error:
            count = sum(run.outcome in {"new", "continued", "two"} for run in merged)
            raise LogbookError(
                f"{sentence(error.message)} {counted(count, 'run')} had already been merged. Merge again to add "
                "the rest."
            ) from error
    return MergeReport(path, tuple(merged), notes)


def _merge_notes(logbook: Logbook, source: Path) -> NotesMerged:
    """Merge the notes on lathes next to the other log into this computer's notes.

    A failure is stated in the result and does not stop the merge of the runs.
    """
    try:
        return LatheNotes(logbook.path.parent).merge(notes_beside(source))
    except LogbookError as error:
        return NotesMerged(problem=f"The notes on lathes were not merged. {error.message}")


class _Relative(NamedTuple):
    """A run of this log that has the same start as a run of the other log."""

    uid: str
    number: int
    steps_done: int
    rows: tuple[Row, ...]
    common: int
    """The number of events that both runs have in common, counted from the first event."""


class _Decision(NamedTuple):
    """The decision about how to merge one run of the other log."""

    outcome: Outcome
    uid: str
    common: int = 0
    """The number of the run's events that this log already has under `uid`."""
    nearest: _Relative | None = None
    """The run of this log that shares the most events before the two runs differ."""


def _merge_run(logbook: Logbook, run: ReadRun, previous: str) -> MergedRun:
    """Merge one run of the other log, and return the outcome.

    `previous`: the uid, in this log, of the run that the other computer started just before this run; "" for its first
    run.
    """
    name = _name(run.info)
    decision = logbook.read(lambda connection: _decide(connection, logbook.path, run))
    if decision.outcome == "same":
        return MergedRun("same", decision.uid, name)
    try:
        summary = run.summary()
    except EventError as error:
        return MergedRun("skipped", "", name, error.message)
    lock: RunLock | None = None
    if decision.outcome == "continued":
        locked = logbook.lock_run(decision.uid)
        if isinstance(locked, RunHolder):
            why = f"This run is open in a counter on this computer ({locked}). Close the counter, then merge again."
            return MergedRun("skipped", "", name, why)
        lock = locked
        # The work was on the other machine. So the next user who continues the run here is asked what was moved.
        logbook.marks.ended(decision.uid)
    try:
        with logbook.writing() as connection:
            if _decide(connection, logbook.path, run) != decision:
                return MergedRun(
                    "skipped", "", name, "This run changed on this computer during the merge. Merge again."
                )
            _write(connection, run, summary, decision, previous)
    finally:
        if lock is not None:
            lock.release()
    return MergedRun(decision.outcome, decision.uid, name, _fork_words(summary, decision.nearest))


def _decide(connection: sqlite3.Connection, path: Path, run: ReadRun) -> _Decision:
    """Decide how to merge a run, by comparing it with the runs of this log that have the same start.

    Raises LogbookDamagedError if this log is damaged, and sqlite3.Error if a query fails.
    """
    alike = _started_alike(connection, path, run)
    origins = _origins({run.info.uid: run.rows} | {one.uid: one.rows for one in alike})
    origin = origins[run.info.uid]
    relatives = [one for one in alike if origins[one.uid] == origin]
    if same := [one for one in relatives if one.common == len(run.rows)]:
        return _Decision("same", same[0].uid)
    if shorter := [one for one in relatives if one.common == len(one.rows)]:
        longest = max(shorter, key=lambda one: one.common)
        return _Decision("continued", longest.uid, longest.common)
    nearest = max(relatives, key=lambda one: one.common, default=None)
    uid = run.info.uid
    if nearest and connection.execute("SELECT 1 FROM run WHERE uid = ?", (uid,)).fetchone():
        *_, uid = _uids_of_forks(origin, run.rows[: nearest.common + 1])
    return _Decision("two" if nearest else "new", uid, nearest=nearest)


def _started_alike(connection: sqlite3.Connection, path: Path, run: ReadRun) -> list[_Relative]:
    """Return the runs of this log that have the same uid or the same first event as a run of the other log."""
    query = "SELECT uid, number, steps_done, last_seq FROM run WHERE begun = ? OR uid = ? ORDER BY number"
    alike = []
    for uid, number, steps_done, last_seq in connection.execute(query, (run.events[0].wall, run.info.uid)).fetchall():
        rows = tuple(connection.execute(EVENTS_OF_RUN, (uid,)))
        if len(checked_events(rows, 0, path, uid)) != last_seq + 1:
            raise damaged(path, f"the end of run {quoted(uid)} is missing")
        pairs = enumerate(zip(rows, run.rows, strict=False))
        shorter = min(len(rows), len(run.rows))
        common = next((place for place, (one, other) in pairs if _logged(one) != _logged(other)), shorter)
        if common or uid == run.info.uid:
            alike.append(_Relative(uid, number, steps_done, rows, common))
    return alike


def _origins(runs: Mapping[str, Sequence[Row]]) -> dict[str, str]:
    """Return, for each run, the uid of the run from which it was forked; its own uid if it was not forked."""
    parents = {
        uid: next((other for other in runs if other != uid and uid in _uids_of_forks(other, rows)), uid)
        for uid, rows in runs.items()
    }
    origins = {}
    for uid in runs:
        origin = uid
        while parents[origin] != origin:
            origin = parents[origin]
        origins[uid] = origin
    return origins


def _uids_of_forks(origin: str, rows: Sequence[Row]) -> Iterator[str]:
    """Yield the uids that a second version of a run could get, one for each event at which this version could begin.

    `origin`: the uid of the first version. `rows`: the events of the run.
    """
    digest = hashlib.sha256(origin.encode("ascii"))
    for row in rows:
        digest.update(canonical(_logged(row)).encode("ascii"))
        yield digest.hexdigest()[:_LENGTH_OF_UID]


def _logged(row: Row) -> Row:
    """Return the columns of an event that do not depend on the run's uid."""
    return tuple(row[2:7])


def _write(
    connection: sqlite3.Connection, run: ReadRun, summary: StateSummary, decision: _Decision, previous: str
) -> None:
    """Write the events that this log lacks, and the run's entry in the list of runs.

    `previous`: the uid, in this log, of the run that the other computer started just before this run; "" for its first
    run.
    """
    uid, common = decision.uid, decision.common
    for event, row in zip(run.events[common:], run.rows[common:], strict=True):
        connection.execute(INSERT_EVENT, (uid, *row[1:7], checksum(uid, event, row[3])))
    if decision.outcome == "continued":
        connection.execute(UPDATE_RUN, (*summary, uid))
        return
    # The board shows the newest run of an operation. After a fork this is still the run counted here.
    nearest = decision.nearest
    place = nearest.number - 1 if nearest else _place(connection, run.info.begun, previous)
    connection.execute(INSERT_RUN, run_row(uid, run.events[0], summary))
    _put_after(connection, uid, place)


def _place(connection: sqlite3.Connection, begun: str, previous: str) -> int:
    """Return the number of the run after which a new run is listed; 0 if it is listed first.

    `begun`: the time at which the new run was started. The new run always comes after the run `previous`, even if a
    clock was wrong.
    """
    started = _moment(begun)
    for number, uid, wall in connection.execute("SELECT number, uid, begun FROM run ORDER BY number DESC"):
        moment = _moment(wall)
        if uid == previous or started is None or moment is None or moment <= started:
            return int(number)
    return 0


def _put_after(connection: sqlite3.Connection, uid: str, place: int) -> None:
    """Renumber the runs so that the run `uid`, which is the last of the list, follows run number `place`."""
    # Numbers are unique at every moment, so they are negative during the change.
    connection.execute(
        "UPDATE run SET number = CASE WHEN uid = ? THEN -? ELSE -number - 1 END WHERE number > ?",
        (uid, place + 1, place),
    )
    connection.execute("UPDATE run SET number = -number WHERE number < 0")


def _moment(wall: str) -> datetime | None:
    """Return a logged time as a datetime; None if the text is not a date and time.

    A time without an offset is taken as UTC.
    """
    try:
        moment = datetime.fromisoformat(wall)
    except ValueError:
        return None
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def _name(info: RunSummary | None) -> str:
    """Return the operation, the job and the start of a run in words; "" if `info` is None."""
    if info is None:
        return ""
    name, job = run_names(info)
    date, time = wall_parts(info.begun)
    return f"{quoted(name)}{f' of {quoted(job)}' if job else ''}, started {date} {time[:5]}"


def _head(run: MergedRun) -> str:
    return f"{_WORDS[run.outcome].capitalize()}: {run.name or 'a run without a name'}."


def _fork_words(there: StateSummary, nearest: _Relative | None) -> str:
    if nearest is None:
        return ""
    return (
        f"Both computers continued this run differently. Steps done: {nearest.steps_done} here, "
        f"{there.steps_done} there. Compare both runs with the work before you continue either of them."
    )
