"""The logbook on a sound disk: events are saved, and found without reading all other events."""

import json
import os
import sqlite3
import stat
import subprocess
import sys
import threading
from dataclasses import replace
from pathlib import Path
from typing import Literal

import pytest

from core.events.state import Origin, state_summary
from core.inputs import Edited
from core.logbook import opening
from core.logbook.active_run import ActiveRun
from core.logbook.locks import RunHolder, RunLock
from core.logbook.logbook import Logbook
from core.logbook.schema import FILE_NAME, connect
from core.values.errors import EventError, LogbookError
from tests.core.logbook.run_samples import ROOT, StepClock, begin, fill


@pytest.fixture
def connections(monkeypatch: pytest.MonkeyPatch) -> list[sqlite3.Connection]:
    """Return the connections with which the test opens logbooks."""
    found: list[sqlite3.Connection] = []

    def kept(path: Path, mode: Literal["ro", "rw"], **how: bool) -> sqlite3.Connection:
        found.append(connect(path, mode, **how))
        return found[-1]

    monkeypatch.setattr(opening, "connect", kept)
    return found


def test_events_are_read_back_as_logged(tmp_path: Path) -> None:
    """Every field is the same, even after closing and opening."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        run.done(0.25, "mm")
        run.note("[bold]\x1b]52;c;x\x07 \u202e Ø 20 \ud800")
        logged = logbook.events(run.uid)
        assert logbook.notices == ()
    with Logbook.open(tmp_path) as logbook:
        assert logbook.events(run.uid) == logged
        assert [event.kind for event in logged] == ["begun", "done", "note"]
        assert logged[1].body == {"step": 1, "value": 0.25, "unit": "mm"}
        assert logged[2].body["text"].endswith("\ud800")


def test_a_new_logbook_is_private_to_its_owner(tmp_path: Path) -> None:
    """Missing folders are made, and only their owner may read them."""
    folder = tmp_path / "a" / "b"
    Logbook.open(folder).close()
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_each_commit_is_synced_to_the_disk(tmp_path: Path, connections: list[sqlite3.Connection]) -> None:
    """SQLite reports the requested journal mode, and FULL for syncing."""
    with Logbook.open(tmp_path):
        connection = connections[-1]
        assert connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
        assert connection.execute("PRAGMA synchronous").fetchone()[0] == 2


def test_a_disk_that_does_not_support_a_write_ahead_log_is_reported(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On such a file system another mode is used, which is equally safe, and a notice says so."""

    def connect(path: Path, mode: str, **how: bool) -> sqlite3.Connection:
        # This SQLite file layer has no shared memory, like some network disks.
        uri = f"{path.as_uri()}?mode={mode}&vfs=unix-none"
        connections.append(sqlite3.connect(uri, uri=True, isolation_level=None))
        return connections[-1]

    connections: list[sqlite3.Connection] = []
    monkeypatch.setattr(opening, "connect", connect)
    with Logbook.open(tmp_path) as logbook:
        assert len(logbook.notices) == 1
        assert connections[-1].execute("PRAGMA journal_mode").fetchone()[0] == "truncate"
        assert connections[-1].execute("PRAGMA synchronous").fetchone()[0] == 3
        run = begin(logbook)
        run.done()
        assert len(logbook.events(run.uid)) == 2
    assert not (tmp_path / f"{FILE_NAME}-wal").exists()


def test_closing_the_logbook_leaves_a_single_file(tmp_path: Path) -> None:
    """Closing moves the write-ahead log into the file. A second close is harmless."""
    logbook = Logbook.open(tmp_path)
    begin(logbook).close()
    assert (tmp_path / f"{FILE_NAME}-wal").stat().st_size > 0
    logbook.close()
    logbook.close()
    assert not (tmp_path / f"{FILE_NAME}-wal").exists()


def test_a_checkpoint_empties_the_write_ahead_log(tmp_path: Path) -> None:
    """After the checkpoint all events are in the file."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        logbook.checkpoint()
        assert (tmp_path / f"{FILE_NAME}-wal").stat().st_size == 0
        assert len(logbook.events(run.uid)) == 1


def test_an_empty_file_is_opened_as_a_new_logbook(tmp_path: Path) -> None:
    """An empty file is opened as a new logbook."""
    (tmp_path / FILE_NAME).touch()
    with Logbook.open(tmp_path) as logbook:
        assert (logbook.notices, logbook.runs()) == ((), ())
        begin(logbook)
    assert sorted(path.name for path in tmp_path.glob("*.sqlite3*") if path.stat().st_size) == [FILE_NAME]


# The list of runs.


def origin(job: str, operation: str) -> Origin:
    """Return the origin of a run: its job and operation."""
    return Origin(job_path=f"/jobs/{job}.toml", job_title=job, op_name=operation)


def test_runs_are_listed_newest_first_whatever_the_clock_shows(tmp_path: Path) -> None:
    """Runs are in the order in which they were started. Each page continues the previous one."""
    with Logbook.open(tmp_path) as logbook:
        uids = []
        for number in range(7):
            run = begin(logbook, origin=origin("ab"[number % 2], "thread"))
            uids.append(run.uid)
        listed = logbook.runs(limit=4)
        assert [run.uid for run in listed] == uids[:2:-1]
        assert [run.uid for run in logbook.runs(limit=4, before=listed[-1].number)] == uids[2::-1]
        assert [run.uid for run in logbook.runs("/jobs/b.toml")] == [uids[5], uids[3], uids[1]]
        assert logbook.runs("/jobs/none.toml") == ()


def test_the_newest_run_is_found_separately_for_each_operation_of_a_job(tmp_path: Path) -> None:
    """Each operation of a job has its own newest run."""
    with Logbook.open(tmp_path) as logbook:
        begin(logbook, origin=origin("a", "thread"))
        newest = begin(logbook, origin=origin("a", "thread"))
        begin(logbook, origin=origin("a", "spigot"))
        begin(logbook, origin=origin("b", "thread"))
        begin(logbook, origin=None)
        found = logbook.newest_run("/jobs/a.toml", "thread")
        assert found is not None
        assert (found.uid, found.origin) == (newest.uid, origin("a", "thread"))
        assert logbook.newest_run("/jobs/a.toml", "none") is None


def test_the_list_of_runs_contains_the_progress_of_each_run(tmp_path: Path) -> None:
    """Steps done and open, status and digest are shown without reading events."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        run.done()
        run.done()
        info = logbook.run(run.uid)
        assert info is not None
        assert (info.status, info.steps_done, info.steps_open, info.last_seq) == ("running", 2, 5, 2)
        run.revise(Edited(plan_input={"parameters": {"passes": 9}}), [])
        run.finish()
        info = logbook.run(run.uid)
        assert info is not None
        assert (info.status, info.steps_done, info.steps_open) == ("finished", 2, 0)
        assert info.digest == run.state.plan_input.digest


def test_a_run_whose_operation_was_started_again_is_not_listed_as_unfinished(tmp_path: Path) -> None:
    """Only the newest run of an operation counts. Each run without a job counts on its own."""
    with Logbook.open(tmp_path) as logbook:
        begin(logbook, origin=origin("a", "thread"))
        again = begin(logbook, origin=origin("a", "thread"))
        spigot = begin(logbook, origin=origin("a", "spigot"))
        alone = [begin(logbook, origin=None) for _ in range(2)]
        begin(logbook, origin=origin("a", "done")).finish(early=True)
        assert [run.uid for run in logbook.unfinished("/jobs/a.toml")] == [spigot.uid, again.uid]
        assert [run.uid for run in logbook.unfinished()] == [
            alone[1].uid,
            alone[0].uid,
            spigot.uid,
            again.uid,
        ]


def test_job_file_names_that_are_not_valid_unicode_are_kept_unchanged(tmp_path: Path) -> None:
    """A file name may be invalid Unicode or hostile text."""
    names = [os.fsdecode(b"/jobs/\xff.toml"), "/jobs/\x1b[2J'; DROP TABLE run; --.toml", "\0", "ü" * 10_000]
    with Logbook.open(tmp_path) as logbook:
        for name in names:
            run = begin(logbook, origin=Origin(job_path=name, job_title=name, op_name=name))
            found = logbook.newest_run(name, name)
            assert found is not None
            assert (found.uid, found.origin) == (run.uid, run.state.origin)
        assert logbook.verify().problems == ()


def test_finding_a_run_does_not_read_other_runs(tmp_path: Path, connections: list[sqlite3.Connection]) -> None:
    """SQLite's query plan uses an index and scans neither runs nor events."""
    with Logbook.open(tmp_path) as logbook:
        connection = connections[-1]
        seen: list[str] = []
        connection.set_trace_callback(seen.append)
        logbook.newest_run("j", "o")
        logbook.runs("j")
        logbook.unfinished("j")
        logbook.run("u")
        with pytest.raises(LogbookError):
            logbook.events("u")
        connection.set_trace_callback(None)
        plans = [
            row[3]
            for query in seen
            for row in connection.execute(f"EXPLAIN QUERY PLAN {query}")
            if "run" in row[3] or "event" in row[3]
        ]
        assert len(plans) >= 5
        assert [plan for plan in plans if "SCAN" in plan or "TEMP B-TREE" in plan] == []


# Events that must not be logged.


def test_an_event_that_does_not_follow_the_last_logged_event_is_refused(tmp_path: Path) -> None:
    """Events that a second program logged meanwhile are not overwritten."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        run.done()
        last = logbook.events(run.uid)[-1]
        standing = state_summary(run.state)
        for seq in (1, 3):
            wrong = replace(last, seq=seq)
            with pytest.raises(LogbookError):
                logbook.append(run.uid, wrong, standing)
        with pytest.raises(LogbookError):
            logbook.append("0" * 32, last, standing)
        assert logbook.events(run.uid)[-1] == last
        with pytest.raises(LogbookError):
            logbook.begin(run.uid, logbook.events(run.uid)[0], standing)
        with pytest.raises(LogbookError):
            logbook.begin("../x", last, standing)
        with pytest.raises(EventError):
            logbook.append(run.uid, replace(last, seq=2, body={"x": float("nan")}), standing)
        run.done()
        assert logbook.verify().problems == ()


def test_nothing_is_written_to_a_logbook_opened_read_only(tmp_path: Path) -> None:
    """Logging is refused with a sentence. Without a logbook, an empty one is shown."""
    with Logbook.open(tmp_path / "none", read_only=True) as logbook:
        assert logbook.runs() == ()
        assert len(logbook.notices) == 1
    assert not (tmp_path / "none").exists()
    counts = fill(tmp_path)
    before = (tmp_path / FILE_NAME).read_bytes()
    with Logbook.open(tmp_path, read_only=True) as logbook:
        assert (logbook.read_only, logbook.notices) == (True, ())
        assert {run.uid: len(logbook.events(run.uid)) for run in logbook.runs()} == counts
        with pytest.raises(LogbookError):
            begin(logbook)
        run = ActiveRun.resume(logbook, logbook.runs()[0].uid, StepClock(), "s")
        assert run.view_only
    assert (tmp_path / FILE_NAME).read_bytes() == before


def test_a_worker_thread_can_read_the_log_while_another_thread_writes(tmp_path: Path) -> None:
    """The thread has its own read-only logbook, and sees committed events."""
    found: list[int] = []

    def look() -> None:
        with Logbook.open(tmp_path, read_only=True) as other:
            found.append(len(other.events(run.uid)))

    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        for _ in range(3):
            run.done()
            thread = threading.Thread(target=look)
            thread.start()
            thread.join()
    assert found == [2, 3, 4]


# Copies and checks.


def test_a_backup_opens_as_a_complete_logbook(tmp_path: Path) -> None:
    """The backup is one file, made while the logbook is open. Nothing is overwritten."""
    counts = fill(tmp_path)
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        target = tmp_path / "copy" / FILE_NAME
        target.parent.mkdir()
        logbook.backup(target)
        run.done()
        assert [path.name for path in target.parent.iterdir()] == [FILE_NAME]
        with pytest.raises(LogbookError):
            logbook.backup(target)
        with pytest.raises(LogbookError):
            logbook.backup(tmp_path / "no" / "folder")
    with Logbook.open(target.parent) as copy:
        assert copy.notices == ()
        assert copy.verify().problems == ()
        assert {run.uid: len(copy.events(run.uid)) for run in copy.runs()} == counts | {run.uid: 1}


def test_checking_an_undamaged_log_finds_no_problem(tmp_path: Path) -> None:
    """The check counts the runs and events that were logged."""
    counts = fill(tmp_path)
    with Logbook.open(tmp_path, read_only=True) as logbook:
        found = logbook.verify()
    assert (found.runs, found.events, found.strays) == (len(counts), sum(counts.values()), 0)
    assert found.problems == ()


HARM = [
    "UPDATE event SET body = '{\"step\":9}' WHERE seq = 3",
    "DELETE FROM event WHERE seq = 3",
    "DELETE FROM event",
    "DELETE FROM run",
    "UPDATE run SET steps_done = 5",
    "UPDATE run SET status = 'finished'",
]


@pytest.mark.parametrize("harm", HARM)
def test_checking_a_log_finds_altered_events(tmp_path: Path, harm: str) -> None:
    """Each fault is a sentence that names the run."""
    (uid,) = fill(tmp_path, runs=1)
    connection = sqlite3.connect(tmp_path / FILE_NAME)
    with connection:
        connection.execute(harm)
    connection.close()
    with Logbook.open(tmp_path, read_only=True) as logbook:
        assert uid in logbook.verify().problems[0]


# Two programs at the same time.


def test_the_data_version_changes_when_another_program_logs_an_event(tmp_path: Path) -> None:
    """The data version changes with the commits of another program, but not with the program's own commits."""
    with Logbook.open(tmp_path) as one, Logbook.open(tmp_path) as other:
        run = begin(one)
        before = one.data_version(), other.data_version()
        run.done()
        assert one.data_version() == before[0]
        assert other.data_version() != before[1]
        assert len(other.events(run.uid)) == 2


def test_only_one_program_can_lock_a_run(tmp_path: Path) -> None:
    """The uid names a file, so a text that is no uid is refused."""
    with Logbook.open(tmp_path) as one, Logbook.open(tmp_path) as other:
        uid = "0" * 32
        lock = one.lock_run(uid)
        assert isinstance(lock, RunLock)
        assert isinstance(other.lock_run(uid), RunHolder)
        lock.release()
        assert isinstance(other.lock_run(uid), RunLock)
        with pytest.raises(LogbookError):
            one.lock_run("../../x")


WRITE = """
import sys
from pathlib import Path
from core.logbook.logbook import Logbook
from tests.core.logbook.run_samples import begin
with Logbook.open(Path(sys.argv[1])) as logbook:
    run = begin(logbook, passes=150)
    for number in range(150):
        run.done()
        if number % 40 == 39:
            logbook.checkpoint()
    print(run.uid, run.state.last_seq)
"""


def test_two_programs_can_log_two_runs_at_the_same_time(tmp_path: Path) -> None:
    """Both runs are whole, with checkpoints of either program among the writes. The first program makes the file."""
    programs = [
        subprocess.Popen([sys.executable, "-c", WRITE, str(tmp_path)], stdout=subprocess.PIPE, text=True, cwd=ROOT)
        for _ in range(2)
    ]
    outputs = [program.communicate(timeout=50)[0].split() for program in programs]
    assert [program.returncode for program in programs] == [0, 0]
    with Logbook.open(tmp_path) as logbook:
        assert logbook.notices == ()
        assert {run.uid: run.last_seq for run in logbook.runs()} == {uid: int(last) for uid, last in outputs}
        found = logbook.verify()
    assert (found.runs, found.events, found.problems) == (2, 302, ())


def test_a_logged_pass_takes_at_most_three_times_the_space_of_its_json_text(tmp_path: Path) -> None:
    """A pass takes at most three times the size of its text in JSON."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook, passes=2000, session="0123456789abcdef0123456789abcdef")
        logbook.checkpoint()
        before = logbook.path.stat().st_size
        for _ in range(2000):
            run.done()
        logbook.checkpoint()
        grown = logbook.path.stat().st_size - before
        texts = [json.dumps(event.as_data()) for event in logbook.events(run.uid)[1:]]
    assert grown <= 3 * sum(map(len, texts))
