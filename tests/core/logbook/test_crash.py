"""Programs that are killed or whose disk fails: every event reported as logged is kept, and the count continues."""

import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.logbook.schema import FILE_NAME
from core.values.errors import LogbookError
from tests.core.logbook.run_samples import ROOT, StepClock, begin

KILLS = 3
"""How many times the program is killed here. `python -m tests.trials.kills` kills it as many times as the user wants.
"""

COUNT = """
import sys
from pathlib import Path
from core.logbook.logbook import Logbook
from core.logbook.active_run import ActiveRun
from tests.core.logbook.run_samples import StepClock
logbook = Logbook.open(Path(sys.argv[1]))
run = ActiveRun.resume(logbook, sys.argv[2], StepClock(), sys.argv[3])
print("notices", len(logbook.notices), flush=True)
while True:
    # Two passes forward, one back, so that taking back is killed too.
    for move in (run.done, run.done, run.undo):
        print("logged", move().last_seq, flush=True)
    if run.state.last_seq % 60 == 0:
        logbook.checkpoint()
"""


def killed_after(folder: Path, uid: str, session: str, seconds: float) -> int:
    """Count passes in a program and kill the program. Return the last event that it reported as logged."""
    program = subprocess.Popen(
        [sys.executable, "-c", COUNT, str(folder), uid, session],
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    assert program.stdout is not None
    assert program.stdout.readline() == "notices 0\n"
    time.sleep(seconds)
    program.kill()
    said = [line.split() for line in program.stdout if line.endswith("\n")]
    program.wait()
    return int(said[-1][1]) if said else -1


def test_killing_the_program_loses_no_logged_event(tmp_path: Path) -> None:
    """After several kills each event exists once, with at most one event more than was reported. The run continues."""
    chance = random.Random(20261125)
    with Logbook.open(tmp_path) as logbook:
        begun = begin(logbook, passes=3000)
        begun.close()
    uid, last, said_anything = begun.uid, 0, 0
    for kill in range(KILLS):
        said = killed_after(tmp_path, uid, f"session {kill}", chance.uniform(0.02, 0.08))
        with Logbook.open(tmp_path, read_only=True) as logbook:
            events = logbook.events(uid)
            found = logbook.verify()
        assert [event.seq for event in events] == list(range(len(events)))
        assert max(said, last) <= events[-1].seq
        assert said == -1 or events[-1].seq <= said + 1
        assert (found.problems, found.events) == ((), len(events))
        last = events[-1].seq
        said_anything += said != -1
    assert said_anything > KILLS / 2
    with Logbook.open(tmp_path) as logbook:
        run = ActiveRun.resume(logbook, uid, StepClock(), "last")
        step = run.state.cursor
        assert (logbook.notices, run.holder) == ((), None)
        assert step is not None
        run.done()
        assert run.state.status_of(step.id) == "done"


BEGIN = """
import sys
from pathlib import Path
from core.logbook.logbook import Logbook
from tests.core.logbook.run_samples import begin
print("started", flush=True)
logbook = Logbook.open(Path(sys.argv[1]))
print("opened", flush=True)
while True:
    begin(logbook).close()
"""


def test_a_logbook_whose_creation_was_interrupted_by_a_kill_is_created_at_the_next_start(tmp_path: Path) -> None:
    """No kill leaves half a logbook, or a logbook that looks damaged or foreign."""
    chance = random.Random(3)
    for kill in range(3):
        folder = tmp_path / str(kill)
        program = subprocess.Popen(
            [sys.executable, "-c", BEGIN, str(folder)], stdout=subprocess.PIPE, text=True, cwd=ROOT
        )
        assert program.stdout is not None
        program.stdout.readline()
        time.sleep(chance.uniform(0.0, 0.012))
        program.kill()
        program.communicate()
        with Logbook.open(folder) as logbook:
            assert logbook.notices == ()
            assert logbook.verify().problems == ()
            begin(logbook)


FULL = """
import resource, sys
from pathlib import Path
from core.values.errors import LogbookError
from core.logbook.logbook import Logbook
from core.logbook.active_run import ActiveRun
from tests.core.logbook.run_samples import StepClock, begin
logbook = Logbook.open(Path(sys.argv[1]))
run = begin(logbook, passes=200)
size = Path(str(logbook.path) + "-wal").stat().st_size
resource.setrlimit(resource.RLIMIT_FSIZE, (size + 50_000, resource.RLIM_INFINITY))
for _ in range(200):
    before = run.state
    try:
        run.done()
    except LogbookError as error:
        print(error.message)
        break
print(run.state == before, run.state.last_seq, len(logbook.events(run.uid)) - 1)
resource.setrlimit(resource.RLIMIT_FSIZE, (100, resource.RLIM_INFINITY))
try:
    run.done()
except LogbookError as error:
    print(run.state == before)
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
print(run.done().last_seq, logbook.verify().problems, logbook.notices)
logbook.close()
"""


def test_no_pass_is_counted_while_the_disk_is_full(tmp_path: Path) -> None:
    """A full disk is reported and the count stays. After space is freed, the same pass is logged."""
    writer = subprocess.run(
        [sys.executable, "-c", FULL, str(tmp_path)], capture_output=True, text=True, cwd=ROOT, check=True
    )
    sentence, stands, again, continued = writer.stdout.splitlines()
    assert sentence
    same, last, logged = stands.split()
    assert (same, last) == ("True", logged)
    assert again == "True"
    assert continued == f"{int(last) + 1} () ()"
    with Logbook.open(tmp_path) as logbook:
        assert logbook.runs()[0].last_seq == int(last) + 1


NOT_ALLOWED = """
import os, pkgutil, sys
from importlib import import_module
from pathlib import Path
import core
from core.values.errors import LogbookError
from core.logbook.logbook import Logbook
from tests.core.logbook.run_samples import begin
# What is imported when first needed may lie where only the owner of these tests may read.
for module in pkgutil.walk_packages(core.__path__, "core."):
    import_module(module.name)
if os.geteuid() == 0:
    os.seteuid(65534)
with Logbook.open(Path(sys.argv[1])) as logbook:
    print(logbook.read_only, len(logbook.runs()), *logbook.notices)
    try:
        begin(logbook)
    except LogbookError as error:
        print(error.message)
try:
    Logbook.open(Path(sys.argv[1]) / "below")
except LogbookError as error:
    print(error.message)
"""


def test_a_logbook_in_a_read_only_folder_can_be_viewed(tmp_path: Path) -> None:
    """A notice says that nothing can be logged. A new logbook cannot be made in that folder."""
    with Logbook.open(tmp_path) as logbook:
        begin(logbook)
    for file in tmp_path.iterdir():
        file.chmod(0o555 if file.is_dir() else 0o444)
    # The program below has no right to write, whoever runs the tests. It may only enter the folder.
    for folder in (tmp_path, *tmp_path.parents):
        if folder.stat().st_mode & 0o001 == 0:
            folder.chmod(0o555 if folder == tmp_path else folder.stat().st_mode | 0o011)
    tmp_path.chmod(0o555)
    writer = subprocess.run(
        [sys.executable, "-c", NOT_ALLOWED, str(tmp_path)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=True,
    )
    tmp_path.chmod(0o755)
    opened, refused, below = writer.stdout.splitlines()
    assert opened.startswith("True 1 ")
    assert refused and below


def test_no_pass_is_counted_while_the_logbook_file_is_missing(tmp_path: Path) -> None:
    """SQLite would write to a deleted file. After the file is back, the count continues."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        run.done()
        logbook.path.rename(tmp_path / "away")
        before = run.state
        with pytest.raises(LogbookError):
            run.done()
        assert run.state == before
        (tmp_path / "away").rename(logbook.path)
        assert run.done().last_seq == 2
        assert logbook.verify().problems == ()


def test_no_pass_is_counted_after_another_file_has_replaced_the_logbook(tmp_path: Path) -> None:
    """The other file may have other runs, or none."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        content = logbook.path.read_bytes()
        logbook.path.rename(tmp_path / "away")
        logbook.path.write_bytes(content)
        with pytest.raises(LogbookError):
            run.done()
        (tmp_path / "away").replace(logbook.path)


def test_no_pass_is_counted_after_the_folder_of_the_logbook_has_been_removed(tmp_path: Path) -> None:
    """This happens when a memory stick is pulled."""
    folder = tmp_path / "stick"
    logbook = Logbook.open(folder)
    run = begin(logbook)
    folder.rename(tmp_path / "out")
    before = run.state
    with pytest.raises(LogbookError):
        run.done()
    assert run.state == before
    (tmp_path / "out").rename(folder)
    assert run.done().last_seq == 1
    logbook.close()


def test_a_folder_or_device_in_place_of_the_logbook_is_reported(tmp_path: Path) -> None:
    """The path of the file is a folder or a link, or the path of the folder is a file."""
    (tmp_path / "a" / FILE_NAME).mkdir(parents=True)
    (tmp_path / "b").mkdir()
    (tmp_path / "b" / FILE_NAME).symlink_to(tmp_path / "elsewhere")
    (tmp_path / "c").write_text("x")
    for name in "abc":
        for read_only in (False, True):
            if (name, read_only) != ("c", True):
                with pytest.raises(LogbookError):
                    Logbook.open(tmp_path / name, read_only=read_only)
    assert not (tmp_path / "elsewhere").exists()
