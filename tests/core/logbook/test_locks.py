"""Locks that the kernel frees: between programs, inside one program, and when their owner is killed."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from core.logbook import locks
from core.logbook.locks import FileLock, RunHolder, RunLock, take_run
from core.values.errors import LogbookError
from tests.core.logbook.run_samples import ROOT

HOLD = """
import sys, time
from pathlib import Path
from core.logbook.locks import take_run
print(type(take_run(Path(sys.argv[1]))).__name__, flush=True)
time.sleep(60)
"""


def hold_elsewhere(path: Path) -> "subprocess.Popen[str]":
    """Start a program that takes the lock and keeps it."""
    program = subprocess.Popen([sys.executable, "-c", HOLD, str(path)], stdout=subprocess.PIPE, text=True, cwd=ROOT)
    assert program.stdout is not None
    assert program.stdout.readline().strip() == "RunLock"
    return program


def test_only_one_owner_at_a_time_can_hold_an_exclusive_lock(tmp_path: Path) -> None:
    """The next owner gets the lock after a release."""
    first, second = FileLock(tmp_path / "a"), FileLock(tmp_path / "a")
    assert first.try_exclusive()
    assert not second.try_exclusive()
    first.release()
    assert second.try_exclusive()
    second.release()


def test_a_shared_lock_blocks_only_exclusive_owners(tmp_path: Path) -> None:
    """Two owners share the lock, and an exclusive owner must wait."""
    first, second = FileLock(tmp_path / "a"), FileLock(tmp_path / "a")
    assert first.try_shared()
    assert second.try_shared()
    assert not second.try_exclusive()
    first.release()
    assert second.try_exclusive()


def test_waiting_too_long_for_a_lock_ends_in_a_refusal_with_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A program that hangs while writing does not block this program."""
    monkeypatch.setattr(locks, "_PAUSE_S", 0.0001)
    first, second = FileLock(tmp_path / "a"), FileLock(tmp_path / "a")
    with first.held(), pytest.raises(LogbookError), second.held():
        raise AssertionError("both hold the lock")
    with second.held():
        assert not first.try_exclusive()


def test_a_removed_lock_file_is_created_again(tmp_path: Path) -> None:
    """Two owners of files with the same name, one of them removed, must not both count as the only owner."""
    first, second = FileLock(tmp_path / "a"), FileLock(tmp_path / "a")
    with first.held():
        pass
    (tmp_path / "a").unlink()
    with second.held():
        assert not first.try_exclusive()


def test_a_symbolic_link_in_place_of_a_lock_file_is_refused(tmp_path: Path) -> None:
    """A link could lead to another user's file."""
    (tmp_path / "a").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(OSError, match=r"[Ss]ymbolic"):
        FileLock(tmp_path / "a").try_exclusive()
    assert not (tmp_path / "elsewhere").exists()


def test_the_report_of_a_locked_run_names_the_program_that_is_counting_the_run(tmp_path: Path) -> None:
    """The report names process and computer. If the owner is killed, the kernel frees the run."""
    path = tmp_path / "runs" / "a.lock"
    program = hold_elsewhere(path)
    held = take_run(path)
    assert held == RunHolder(pid=program.pid, host=os.uname().nodename)
    assert str(held) == f"process {program.pid} on {os.uname().nodename}"
    program.kill()
    program.wait()
    assert isinstance(take_run(path), RunLock)


def test_releasing_a_run_removes_its_lock_file(tmp_path: Path) -> None:
    """The run can be taken again immediately. A second release is harmless."""
    path = tmp_path / "runs" / "a.lock"
    for _ in range(2):
        lock = take_run(path)
        assert isinstance(lock, RunLock)
        assert isinstance(take_run(path), RunHolder)
        lock.release()
        lock.release()
        assert not path.exists()


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"pid": "x", "host": "y"}', '{"pid": 3}', "\x00\xff", json.dumps({"host": "h"})]
)
def test_a_lock_file_with_unreadable_content_still_locks_the_run(tmp_path: Path, text: str) -> None:
    """Whatever the file contains, a program has the run."""
    path = tmp_path / "a"
    owner = FileLock(path)
    assert owner.try_exclusive()
    path.write_text(text)
    assert take_run(path) == RunHolder(pid=None, host="")
    assert str(RunHolder(pid=None, host="")) == "a program"


def test_control_characters_in_the_host_name_of_a_lock_file_are_removed(tmp_path: Path) -> None:
    """No control sequence reaches the terminal."""
    path = tmp_path / "a"
    owner = FileLock(path)
    assert owner.try_exclusive()
    path.write_text(json.dumps({"pid": 7, "host": "\x1b[2Jbench"}))
    assert "\x1b" not in str(take_run(path))
