"""A disk that fails during a commit: the pass counts once, however much of the commit reached the disk."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from core.logbook.logbook import Logbook
from tests.core.logbook.run_samples import ROOT
from tests.trials.shim import Shim, available

COUNT = """
import os, sys
from pathlib import Path
from core.values.errors import CoreError
from core.logbook.logbook import Logbook
from tests.core.logbook.run_samples import begin
fault = Path(os.environ["HALFNUT_TRIAL_FAULT"])
logbook = Logbook.open(Path(sys.argv[1]))
run = begin(logbook, passes=50)
run.done()
run.done()
fault.write_text(sys.argv[2])
for _ in range(3):
    try:
        run.done()
        print("logged", run.state.last_seq)
    except CoreError as error:
        print("refused", run.state.last_seq, type(error).__name__)
fault.unlink()
for _ in range(3):
    print("logged", run.done().last_seq)
logbook.close()
"""


@pytest.mark.skipif(not available(), reason="no compiler (cc) to make a failing disk with")
@pytest.mark.parametrize(
    "fault",
    [
        pytest.param("5 s", id="EIO when syncing"),
        pytest.param("5 w", id="EIO when writing"),
        pytest.param("28 s", id="ENOSPC when syncing"),
        pytest.param("5 wsto", id="EIO at everything"),
    ],
)
def test_a_pass_logged_again_after_a_failed_commit_is_counted_once(tmp_path: Path, fault: str) -> None:
    """Three tries fail and the count stays. After that, the same pass and the next passes are logged."""
    writer = subprocess.run(
        [sys.executable, "-c", COUNT, str(tmp_path / "log"), fault],
        cwd=ROOT,
        env={**os.environ, **Shim(tmp_path).environment},
        capture_output=True,
        text=True,
        check=True,
    )
    lines = writer.stdout.splitlines()
    assert [line.startswith("refused 2 Logbook") for line in lines[:3]] == [True] * 3
    assert lines[3:] == ["logged 3", "logged 4", "logged 5"]
    with Logbook.open(tmp_path / "log") as logbook:
        assert logbook.notices == ()
        (run,) = logbook.runs()
        assert [event.body.get("step") for event in logbook.events(run.uid)] == [None, 1, 2, 3, 4, 5]
        assert logbook.verify().problems == ()
