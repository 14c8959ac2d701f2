"""How a run was left, and which run was opened last, is known after a power cut. Lost marks break nothing."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from core.events.state import Origin
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.logbook.run_marks import FILE_NAME
from tests.core.logbook.run_samples import ROOT, StepClock, begin

CUT_OFF = """
import os, sys
from pathlib import Path
from core.logbook.logbook import Logbook
from core.logbook.active_run import ActiveRun
from tests.core.logbook.run_samples import StepClock
logbook = Logbook.open(Path(sys.argv[1]))
run = ActiveRun.resume(logbook, sys.argv[2], StepClock(), "cut off")
os.kill(os.getpid(), 9)
"""


def resumed(logbook: Logbook, run: ActiveRun, session: str) -> ActiveRun:
    """Open a run in another session."""
    return ActiveRun.resume(logbook, run.uid, StepClock(), session)


def cut_off(folder: Path, run: ActiveRun) -> None:
    """Open a run in another program, and kill the program before it logs anything."""
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    subprocess.run([sys.executable, "-c", CUT_OFF, str(folder), run.uid], cwd=ROOT, env=environment, check=False)


def test_a_run_closed_by_the_user_does_not_count_as_interrupted(tmp_path: Path) -> None:
    """The user closed the run, and another session opened it."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        assert run.left == "here"
        run.done()
        run.close()
        assert resumed(logbook, run, "second").left == "in order"


def test_a_run_counts_as_interrupted_after_the_program_is_killed(tmp_path: Path) -> None:
    """Opening a run sets the mark before anything is logged."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        run.done()
        run.close()
    cut_off(tmp_path, run)
    with Logbook.open(tmp_path) as logbook:
        assert resumed(logbook, run, "third").left == "interrupted"


def test_an_interrupted_run_still_counts_as_interrupted_until_an_event_is_logged(tmp_path: Path) -> None:
    """The run is closed again with the question unanswered, and still counts as interrupted."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        run.done()
        run.close(in_order=False)
        resumed(logbook, run, "second").close()
        third = resumed(logbook, run, "third")
        assert third.left == "interrupted"
        third.note("nothing was moved")
        third.close()
        assert resumed(logbook, run, "fourth").left == "in order"


def test_the_most_recently_opened_run_is_listed_first(tmp_path: Path) -> None:
    """This run is neither the last one started nor the last one counted. A kill changes nothing."""
    with Logbook.open(tmp_path) as logbook:
        first, second = (begin(logbook, origin=Origin("/jobs/a.toml", "A", name)) for name in ("A", "B"))
        second.done()
        for run in (first, second):
            run.close()
        assert [info.uid for info in logbook.unfinished("/jobs/a.toml")] == [second.uid, first.uid]
    cut_off(tmp_path, first)
    with Logbook.open(tmp_path) as logbook:
        assert [info.uid for info in logbook.unfinished("/jobs/a.toml")] == [first.uid, second.uid]
        assert [info.uid for info in logbook.unfinished("/jobs/a.toml", limit=1)] == [first.uid]


@pytest.mark.parametrize("content", [None, b"", b"{}", b"[1]", b"\xff\0", b"[" * 5000])
def test_all_open_runs_count_as_interrupted_if_the_file_of_run_marks_is_lost(
    tmp_path: Path, content: bytes | None
) -> None:
    """A log of an older version has no marks. A broken file counts as no marks."""
    with Logbook.open(tmp_path) as logbook:
        first, second = (begin(logbook, origin=Origin("/jobs/a.toml", "A", name)) for name in ("A", "B"))
        for run in (second, first):
            run.close()
        (tmp_path / FILE_NAME).unlink()
        if content is not None:
            (tmp_path / FILE_NAME).write_bytes(content)
        assert [info.uid for info in logbook.unfinished()] == [second.uid, first.uid]
        assert resumed(logbook, first, "later").left == "interrupted"


def test_abandoning_a_run_removes_its_entry_from_the_file_of_run_marks(tmp_path: Path) -> None:
    """The file does not grow with every piece."""
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        run.abandon("chuck slipped")
        run.close()
        assert logbook.marks.read() == {}


def test_passes_are_logged_even_if_the_file_of_run_marks_cannot_be_written(tmp_path: Path) -> None:
    """A folder in place of the file does not stop a pass from being logged."""
    (tmp_path / f"{FILE_NAME}.new").mkdir(parents=True)
    with Logbook.open(tmp_path) as logbook:
        run = begin(logbook)
        run.done()
        run.close()
        assert logbook.marks.read() == {}
        assert resumed(logbook, run, "second").state.steps_done == 1
