"""`halfnut log` prints the contents of the log's file as text, CSV and JSON."""

import csv
import io
import json
import sqlite3
from pathlib import Path

import pytest

from core.jobs.job import read_job
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.logbook.schema import FILE_NAME
from tests.conftest import ToldTime
from tests.tui.runs_made import begin, job_file, run_through, sample
from tui.__main__ import main
from tui.terminal import TimeSource


@pytest.fixture
def data(tmp_path: Path, told_time: ToldTime) -> Path:
    """Return a folder whose log contains a finished run of one job and an unfinished run of another."""
    folder = tmp_path / "data"
    job = read_job(job_file(tmp_path))
    with Logbook.open(folder) as book:
        run = begin(book, job, "Deburr", told_time.clock())
        run.note("\x1b[2J =1+1 ünder")
        run_through(run)
        run.close()
        begin(book, sample("gnomon_screw.toml"), "Chamfer", told_time.clock()).close()
    return folder


def logged(data: Path) -> list[tuple[str, int, str]]:
    """Return the run, the number and the kind of every event, read from the file with sqlite3 alone."""
    connection = sqlite3.connect(data / FILE_NAME)
    rows = connection.execute("SELECT run, seq, kind FROM event ORDER BY run, seq").fetchall()
    connection.close()
    return rows


def test_the_log_printed_as_json_contains_every_event(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Python's JSON reader finds all events of the file. The newest run comes first."""
    assert main(["log", "--data", str(data), "--format", "json"]) == 0
    runs = json.loads(capsys.readouterr().out)
    assert [run["op_name"] for run in runs] == ["Chamfer", "Deburr"]
    found = sorted((run["run"], event["seq"], event["kind"]) for run in runs for event in run["events"])
    assert found == logged(data)


def test_the_log_printed_as_csv_contains_every_event(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Python's CSV reader finds all events of the file. The note is complete, and no cell starts a formula."""
    assert main(["log", "--data", str(data), "--format", "csv"]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert sorted((row["run"], int(row["seq"]), row["kind"]) for row in rows) == logged(data)
    note = next(row for row in rows if row["kind"] == "note")
    assert json.loads(note["body"]) == {"text": "\x1b[2J =1+1 ünder"}


def test_the_printed_log_contains_no_control_characters(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each run has a heading and each event a row. Control characters from a file are left out."""
    assert main(["log", "--data", str(data)]) == 0
    printed = capsys.readouterr().out
    lines = printed.splitlines()
    assert len(lines) == 2 + len(logged(data))
    assert all(line.isprintable() for line in lines)
    assert "=1+1 ünder" in printed


def test_any_spelling_of_a_job_path_selects_the_runs_of_that_job(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The file of the job may have been deleted."""
    (tmp_path / "base.toml").unlink()
    assert main(["log", str(tmp_path / "data" / ".." / "base.toml"), "--data", str(data), "--format", "json"]) == 0
    assert [run["op_name"] for run in json.loads(capsys.readouterr().out)] == ["Deburr"]


@pytest.mark.parametrize(("form", "printed"), [("text", ""), ("json", "[]\n"), ("csv", "run,job_path")])
def test_printing_a_missing_log_creates_no_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], form: str, printed: str
) -> None:
    """The output is complete in every format."""
    assert main(["log", "--data", str(tmp_path / "none"), "--format", form]) == 0
    out = capsys.readouterr().out
    assert out.startswith(printed) and out.count("\n") == 1
    assert not (tmp_path / "none").exists()


def test_the_printed_log_of_a_job_that_was_never_started_names_the_job(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["log", "never.toml", "--data", str(data)]) == 0
    printed = capsys.readouterr().out
    assert "never.toml" in printed and printed.count("\n") == 1


def test_each_of_205_logged_runs_is_printed_exactly_once(
    tmp_path: Path, told_time: ToldTime, capsys: pytest.CaptureFixture[str]
) -> None:
    job = read_job(job_file(tmp_path))
    with Logbook.open(tmp_path / "data") as book:
        for _ in range(205):
            begin(book, job, "Deburr", told_time.clock()).close()
    assert main(["log", "--data", str(tmp_path / "data"), "--format", "json"]) == 0
    uids = [run["run"] for run in json.loads(capsys.readouterr().out)]
    assert len(uids) == len(set(uids)) == 205


def test_printing_a_file_that_is_not_a_log_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One sentence goes to standard error, the exit status is 1, and the file is unchanged."""
    (tmp_path / FILE_NAME).write_bytes(b"not ours at all " * 100)
    assert main(["log", "--data", str(tmp_path)]) == 1
    captured = capsys.readouterr()
    assert captured.out == ""
    assert len(captured.err.splitlines()) == 1
    assert "logbook" in captured.err
    assert (tmp_path / FILE_NAME).read_bytes() == b"not ours at all " * 100


def test_the_log_command_can_merge_the_log_of_another_computer(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Afterwards both files contain the same events. If a run was skipped or the file is no log, the status is 1."""
    here = tmp_path / "here"
    assert main(["log", "--data", str(here), "--merge", str(data / FILE_NAME)]) == 0
    assert "2 runs added" in capsys.readouterr().out
    assert logged(here) == logged(data)
    with Logbook.open(data) as there, Logbook.open(here) as book:
        uid = there.runs()[0].uid
        clock = TimeSource(wall=lambda: "2026-03-15T08:00:00+00:00", monotonic_ms=lambda: 1)
        run = ActiveRun.resume(there, uid, clock, "later")
        run.note("there")
        run.close()
        still_open = ActiveRun.resume(book, uid, clock, "open")
        assert main(["log", "--data", str(here), "--merge", str(data)]) == 1
        still_open.close()
    assert "1 run skipped" in capsys.readouterr().out
    assert main(["log", "--data", str(here), "--merge", str(tmp_path / "base.toml")]) == 1
    assert "is not a logbook" in capsys.readouterr().err
    assert main(["log", "--data", str(tmp_path / "none"), "--merge", str(tmp_path / "base.toml")]) == 1
    assert not (tmp_path / "none").exists()
