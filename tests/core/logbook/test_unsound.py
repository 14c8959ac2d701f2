"""Late damage, disks that fail for a moment, newer logs, and copies: all events are kept and all faults reported."""

import os
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from core.logbook.active_run import ActiveRun
from core.logbook.check import Check
from core.logbook.errors import LogbookBusyError, LogbookDamagedError
from core.logbook.logbook import Logbook, RunStartedError
from core.logbook.opening import WAL_PAGES
from core.logbook.schema import FILE_NAME
from core.values.errors import LogbookError
from tests.core.logbook.run_samples import BASIS, JOB, ROOT, StepClock, begin, fill, sample_plan
from tests.trials.shim import Shim, available

needs_shim = pytest.mark.skipif(not available(), reason="no compiler (cc) to make a failing disk with")


def asides(folder: Path) -> list[Path]:
    """Return the damaged logbooks that were renamed."""
    return sorted(folder.glob("logbook-damaged-*.sqlite3"))


def sound(folder: Path) -> bool:
    """Return whether a check of the whole logbook finds no fault."""
    with Logbook.open(folder, read_only=True) as logbook:
        return logbook.verify().problems == ()


def changed(folder: Path, statement: str, *values: object) -> None:
    """Change the file as another program would."""
    connection = sqlite3.connect(folder / FILE_NAME)
    with connection:
        assert connection.execute(statement, values).rowcount
    connection.close()


# A sector of the list of runs.


def ways_in(logbook: Logbook) -> list[Callable[[], object]]:
    """Return the calls that board, history, start and resume make on a logbook."""
    uid = next(iter(logbook.marks.read()), "0" * 32)
    return [
        lambda: logbook.newest_run(JOB.job_path, JOB.op_name),
        lambda: logbook.unfinished(JOB.job_path),
        logbook.runs,
        lambda: begin(logbook).close(),
        lambda: ActiveRun.resume(logbook, uid, StepClock(), "again").close(),
    ]


@pytest.mark.parametrize("way", range(5))
def test_a_lost_page_of_the_list_of_runs_is_repaired_whichever_call_comes_first(tmp_path: Path, way: int) -> None:
    """Any page of the list or its indexes is lost. One repair leaves a sound logbook."""
    counts = fill(tmp_path / "log", runs=12, done=3)
    connection = sqlite3.connect(tmp_path / "log" / FILE_NAME)
    roots = [root for (root,) in connection.execute("SELECT rootpage FROM sqlite_master WHERE tbl_name = 'run'")]
    connection.close()
    content = (tmp_path / "log" / FILE_NAME).read_bytes()
    for root in roots:
        folder = tmp_path / f"page {root}"
        shutil.copytree(tmp_path / "log", folder)
        place = (root - 1) * 4096
        (folder / FILE_NAME).write_bytes(content[:place] + bytes(512) + content[place + 512 :])
        with Logbook.open(folder) as logbook:
            for _ in range(2):
                try:
                    ways_in(logbook)[way]()
                except LogbookError as error:
                    assert "Try again" in error.message
            if not asides(folder):
                # This call does not need the index. The check of the whole log finds the fault.
                assert logbook.repair(logbook.check().damage())
            found = {run.uid: len(logbook.events(run.uid)) for run in logbook.runs()}
            assert found.items() >= counts.items()
            assert len(logbook.notices) == 1
        assert len(asides(folder)) == 1
        assert sound(folder)


def test_an_impossible_row_in_the_list_of_runs_counts_as_damage(tmp_path: Path) -> None:
    """A wrong status or uid is never shown, and is restored from the events."""
    for harm in ("status = 'runnino'", "uid = 'x'", "kind = NULL || 1", "last_seq = 'many'", "begun = x'00ff'"):
        folder = tmp_path / harm.replace(" ", "")
        counts = fill(folder, runs=2, done=2)
        connection = sqlite3.connect(folder / FILE_NAME)
        connection.executescript("PRAGMA ignore_check_constraints = ON;")
        with connection:
            connection.execute(f"UPDATE OR IGNORE run SET {harm.replace('NULL || 1', '7')} WHERE number = 1")
        connection.close()
        with Logbook.open(folder) as logbook:
            logbook.repair(logbook.check().damage() or "nothing")
            assert {run.uid: len(logbook.events(run.uid)) for run in logbook.runs()} == counts
            assert logbook.verify().problems == ()


# One flipped bit in a row's run.


def flipped(text: str) -> str:
    """Return a uid with its last digit changed."""
    return text[:-1] + ("0" if text[-1] != "0" else "1")


@pytest.mark.parametrize("seq", [0, 5, 18])
def test_an_event_with_a_wrong_run_uid_is_restored_to_its_run(tmp_path: Path, seq: int) -> None:
    """The list of runs shows that an event is missing, and the checksum proves its place."""
    counts = fill(tmp_path, runs=1, done=17)
    (uid,) = counts
    content = (tmp_path / FILE_NAME).read_bytes()
    connection = sqlite3.connect(tmp_path / FILE_NAME)
    body = connection.execute("SELECT body FROM event WHERE seq = ?", (seq,)).fetchone()[0][:60]
    connection.close()
    # The row as its page holds it: uid, number, kind, body.
    kind = {0: b"begun", 18: b"note"}.get(seq, b"done")
    at = content.index(kind + body.encode()) - 32 - (1 if seq > 1 else 0)
    assert content[at : at + 32].decode() == uid
    harmed = content[:at] + flipped(uid).encode() + content[at + 32 :]
    (tmp_path / FILE_NAME).write_bytes(harmed)
    with Logbook.open(tmp_path) as logbook:
        run = ActiveRun.resume(logbook, uid, StepClock(), "second")
        assert (run.state.last_seq, run.state.steps_done) == (18, 17)
        assert f" holds {counts[uid]} events of 1 run." in logbook.notices[0]
        run.close()
    assert asides(tmp_path)[0].read_bytes() == harmed
    assert sound(tmp_path)


def test_events_missing_at_the_end_of_a_run_are_reported(tmp_path: Path) -> None:
    """The last events of a run are lost. The run ends earlier and a notice says so."""
    (uid,) = fill(tmp_path, runs=1, done=10)
    changed(tmp_path, "DELETE FROM event WHERE seq > 7")
    with Logbook.open(tmp_path) as logbook:
        run = ActiveRun.resume(logbook, uid, StepClock(), "second")
        assert run.state.last_seq == 7
        assert "has 8 events, but the list of runs says that event 11 is the last" in logbook.notices[0]
        run.close()
    assert sound(tmp_path)


def test_events_saved_by_an_earlier_repair_are_never_joined_to_events_logged_later(tmp_path: Path) -> None:
    """Event 3 was lost and done again. The old events 4 and 5 do not follow the new event 3."""
    (uid,) = fill(tmp_path, runs=1, done=5)
    changed(tmp_path, "DELETE FROM event WHERE seq = 3")
    with Logbook.open(tmp_path) as logbook:
        run = ActiveRun.resume(logbook, uid, StepClock(), "second")
        assert run.state.last_seq == 2
        run.done()
        run.close()
        logbook.rebuild()
        assert len(logbook.events(uid)) == 4
        assert [event.seq for _, event in logbook.strays()] == [4, 5, 6]
        assert logbook.verify().problems == ()


def test_closing_or_repairing_the_logbook_stops_a_check_in_progress(tmp_path: Path) -> None:
    """Logging continues during the check. A stopped check reports no damage."""
    fill(tmp_path, runs=3, done=2)
    with Logbook.open(tmp_path) as logbook:
        assert logbook.check().damage() == ""
        check = logbook.check()
        begin(logbook).close()
        assert check.damage() == ""
    changed(tmp_path, "UPDATE run SET steps_done = 1 WHERE number = 2")
    assert "for steps done" in Check(tmp_path / FILE_NAME).damage()
    stopped = Check(tmp_path / FILE_NAME)
    stopped.stop()
    assert stopped.damage() == ""


# Disks that fail for a moment.


OPEN = """
import sys
from pathlib import Path
from core.values.errors import CoreError
from core.logbook.logbook import Logbook
try:
    with Logbook.open(Path(sys.argv[1])) as logbook:
        print(sum(len(logbook.events(run.uid)) for run in logbook.runs()), *logbook.notices)
except CoreError as error:
    print("refused:", error.message)
"""


@needs_shim
@pytest.mark.parametrize(("after", "count"), [(0, 1), (4, 1), (40, 2), (0, 9999), (12, 9999)])
def test_a_read_error_of_the_disk_does_not_count_as_damage(tmp_path: Path, after: int, count: int) -> None:
    """A passing error has no effect. A lasting error is reported. The log is unchanged."""
    from tests.core.logbook.damaged_logs import count_of, written

    runs = written(tmp_path / "log")
    before = {path.name: path.read_bytes() for path in (tmp_path / "log").iterdir()}
    shim = Shim(tmp_path)
    shim.fail("EIO", "R", f"{after} {count}")
    command = [sys.executable, "-c", OPEN, str(tmp_path / "log")]
    environment = {**os.environ, **shim.environment}
    output = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=True).stdout
    assert asides(tmp_path / "log") == []
    if count < 9999:
        assert output == f"{count_of(runs)}\n"
        return
    assert output.startswith("refused: ")
    assert "the disk reports an error" in output
    assert {name: (tmp_path / "log" / name).read_bytes() for name in before} == before


LOCKED = """
import os, sys, time
from pathlib import Path
from core.values.errors import CoreError
from core.logbook.logbook import Logbook
from tests.core.logbook.run_samples import begin
with Logbook.open(Path(sys.argv[1])) as logbook:
    run = begin(logbook)
    fault = Path(os.environ["HALFNUT_TRIAL_FAULT"])
    fault.write_text("11 l")
    try:
        run.done()
    except CoreError as error:
        print(error.message)
    fault.unlink()
    print(run.done().last_seq)
"""


@needs_shim
def test_a_disk_that_cannot_lock_files_is_reported_without_delay(tmp_path: Path) -> None:
    """The report does not wait for the ten seconds that SQLite tries.

    When locks work again, the same pass counts once.
    """
    environment = {**os.environ, **Shim(tmp_path).environment}
    command = [sys.executable, "-c", LOCKED, str(tmp_path / "log")]
    begun = time.monotonic()
    output = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=True)
    assert time.monotonic() - begun < 5
    assert "cannot lock files" in output.stdout
    assert output.stdout.endswith("\n1\n")


def test_a_logbook_lock_held_by_another_program_is_reported_after_two_seconds(tmp_path: Path) -> None:
    """Nothing is read again meanwhile, because that would wait for the same lock."""
    with Logbook.open(tmp_path) as logbook, Logbook.open(tmp_path) as other:
        run = begin(logbook)
        begun = time.monotonic()
        with other.marks._held(), pytest.raises(LogbookBusyError):
            run.done()
        assert time.monotonic() - begun < 4
        assert run.done().last_seq == 1
        run.close()


# A newer log.


def test_a_log_from_a_newer_version_with_an_additional_column_is_not_changed(tmp_path: Path) -> None:
    """Every call gives a sentence, never a Python error. No byte is changed."""
    (uid,) = fill(tmp_path, runs=1)
    for table in ("event", "run", "stray"):
        connection = sqlite3.connect(tmp_path / FILE_NAME)
        connection.execute(f"ALTER TABLE {table} ADD COLUMN tool TEXT")
        connection.execute("PRAGMA user_version = 2")
        connection.close()
    before = (tmp_path / FILE_NAME).read_bytes()
    for read_only in (False, True):
        with Logbook.open(tmp_path, read_only=read_only) as logbook:
            assert "made by a newer version of halfnut (the file has format 2" in logbook.notices[0]
            assert len(logbook.events(uid)) == 14
            assert (len(logbook.runs()), logbook.strays(), logbook.verify().problems) == (1, (), ())
            assert ActiveRun.resume(logbook, uid, StepClock(), "second").view_only
            with pytest.raises(LogbookError, match="read only"):
                begin(logbook)
    assert (tmp_path / FILE_NAME).read_bytes() == before


def test_a_log_from_a_newer_version_with_different_sql_tables_is_not_changed(tmp_path: Path) -> None:
    """The newer log has other SQL tables, and is not called damaged."""
    (uid,) = fill(tmp_path, runs=1)
    connection = sqlite3.connect(tmp_path / FILE_NAME)
    connection.execute("ALTER TABLE event RENAME COLUMN body TO content")
    connection.execute("ALTER TABLE run RENAME TO started")
    connection.execute("PRAGMA user_version = 3")
    connection.close()
    with Logbook.open(tmp_path) as logbook:
        for ask in (logbook.runs, lambda: logbook.events(uid)):
            with pytest.raises(LogbookError, match=r"made by a newer version of halfnut .*Nothing was changed"):
                ask()
    assert asides(tmp_path) == []


# Copies.


def test_a_backup_never_overwrites_an_existing_file(tmp_path: Path) -> None:
    """Files with any name that the copy could use are kept."""
    fill(tmp_path / "log", runs=1)
    names = ("mine.new", "mine.new-journal", "mine.new-1", "mine-wal")
    for name in names:
        (tmp_path / name).write_text("mine")
    with Logbook.open(tmp_path / "log", read_only=True) as logbook:
        logbook.backup(tmp_path / "mine")
        with pytest.raises(LogbookError, match="already exists"):
            logbook.backup(tmp_path / "mine.new")
    assert {(tmp_path / name).read_text() for name in names} == {"mine"}
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(["log", "mine", *names])


def test_a_failed_backup_leaves_no_file_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No part of the copy and no temporary file is left."""
    fill(tmp_path / "log", runs=1)

    def fails(connection: sqlite3.Connection, partial: Path) -> None:
        partial.write_text("half of it")
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr("core.logbook.file._copy_to", fails)
    full = pytest.raises(LogbookError, match="cannot be written: database or disk is full")
    with Logbook.open(tmp_path / "log", read_only=True) as logbook, full:
        logbook.backup(tmp_path / "mine")
    assert [path.name for path in tmp_path.iterdir()] == ["log"]


def test_a_backup_of_a_missing_log_is_refused(tmp_path: Path) -> None:
    """An empty file would look like a copy."""
    (tmp_path / "log").mkdir()
    none = pytest.raises(LogbookError, match="there is no logbook in")
    with Logbook.open(tmp_path / "log", read_only=True) as logbook, none:
        logbook.backup(tmp_path / "mine")
    assert not (tmp_path / "mine").exists()


def test_a_repair_does_not_use_other_files_named_like_an_unfinished_repair(tmp_path: Path) -> None:
    """The program's own file has the digest of the damaged log in its name."""
    fill(tmp_path, runs=2)
    strangers = [f"{FILE_NAME}.carried", f"{FILE_NAME}.carried-1", f"{FILE_NAME}.carried-{'0' * 64}"]
    for name in strangers:
        with Logbook.open(tmp_path, read_only=True) as logbook:
            logbook.backup(tmp_path / name)
    for _ in range(2):
        with Logbook.open(tmp_path) as logbook:
            assert logbook.notices == ()
            begin(logbook).close()
    assert all((tmp_path / name).exists() for name in strangers)
    assert asides(tmp_path) == []


# One operation started twice.


def test_two_programs_that_start_the_same_operation_create_only_one_run(tmp_path: Path) -> None:
    """The second program gets the run that the first one started. It may still start another run."""

    def start(logbook: Logbook, after: str | None) -> ActiveRun:
        return ActiveRun.begin(logbook, sample_plan(), BASIS, JOB, StepClock(), "s", after=after)

    with Logbook.open(tmp_path) as first, Logbook.open(tmp_path) as second:
        assert first.newest_run(JOB.job_path, JOB.op_name) is None
        run = start(first, None)
        with pytest.raises(RunStartedError) as refused:
            start(second, None)
        assert refused.value.uid == run.uid
        assert len(second.runs()) == 1
        again = start(second, run.uid)
        assert [info.uid for info in second.runs()] == [again.uid, run.uid]


def test_a_pass_can_be_logged_after_the_repair_of_a_damaged_log(tmp_path: Path) -> None:
    """The count stays and the reason is given. The next try logs the pass once."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        run.done()
        logbook.checkpoint()
        connection = sqlite3.connect(tmp_path / FILE_NAME)
        connection.execute("DELETE FROM run")
        connection.commit()
        connection.close()
        with pytest.raises(LogbookError, match=r"missing from the list of runs.*Try again") as refused:
            run.done()
        assert not isinstance(refused.value, LogbookDamagedError)
        assert run.state.last_seq == 1
        assert run.done().last_seq == 2
        assert logbook.verify().problems == ()
        run.close()
    assert len(asides(tmp_path)) == 1


def test_the_write_ahead_log_stays_small_after_a_hundred_passes(tmp_path: Path) -> None:
    """A damaged end of the log is silently lost. So after a hundred passes the log holds at most some twenty."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook, passes=120)
        for _ in range(100):
            run.done()
        wal = tmp_path / f"{FILE_NAME}-wal"
        assert wal.stat().st_size < (WAL_PAGES + 30) * 4120
        shutil.copytree(tmp_path, tmp_path / "cut", ignore=shutil.ignore_patterns("*-wal", "*-shm", "cut"))
        run.close()
    with Logbook.open(tmp_path / "cut", read_only=True) as logbook:
        assert 101 - 25 <= len(logbook.events(run.uid)) <= 101
