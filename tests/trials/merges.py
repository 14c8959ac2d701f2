"""Kills a merge of another machine's log, again and again, and compares every run with its allowed states.

    python -m tests.trials.merges [KILLS]

Both machines have runs of their own, runs in common, runs that the other machine continued, and forks. `halfnut log
--merge` gets SIGKILL at a random moment. Each run must then be either as before or completely merged. The log must be
sound and the other log unchanged, and a second merge must complete the first.
"""

import hashlib
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from core.events.event import canonical
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.logbook.merge import merge
from tests.core.logbook.run_samples import StepClock, begin
from tests.trials.program import ROOT, own_environment

_RUNS = 24
_PASSES = 40
Histories = frozenset[tuple[str, ...]]
"""All runs of a log, each as the checksums of its events."""


@dataclass
class MergeTally:
    """Counts of trials and faults."""

    kills: int = 0
    before: int = 0
    """Kills before the first run came over."""
    between: int = 0
    """Kills when some runs had come over and others had not."""
    after: int = 0
    """Kills after the last run came over, or too late."""
    half: int = 0
    lost: int = 0
    unsound: int = 0
    changed: int = 0
    incomplete: int = 0

    @property
    def losses(self) -> int:
        """The counts of everything that must not happen."""
        return self.half + self.lost + self.unsound + self.changed + self.incomplete

    def __str__(self) -> str:
        return (
            f"{self.kills} kills ({self.before} before the first run came over, {self.between} between two, "
            f"{self.after} after the last): {self.half} runs neither old nor merged, {self.lost} lost, "
            f"{self.unsound} logs unsound, {self.changed} other logs changed, {self.incomplete} not completed"
        )


def two_machines(folder: Path) -> tuple[Path, Path]:
    """Make the logs of two machines, with every kind of run. Return their folders."""
    here, there = folder / "here", folder / "there"
    with Logbook.open(there) as logbook:
        for number in range(_RUNS):
            _work(begin(logbook, passes=_PASSES, session=f"common {number}"), number % 5)
    shutil.copytree(there, here)
    for machine in (here, there):
        with Logbook.open(machine) as logbook:
            for number, info in enumerate(logbook.runs(limit=_RUNS)):
                # A third of the runs continues only there, a third on both machines, a third on neither.
                if number % 3 == 1 or (number % 3 == 0 and machine == there):
                    _work(ActiveRun.resume(logbook, info.uid, StepClock(), f"{machine.name} {number}"), 6)
            for number in range(_RUNS // 3):
                _work(begin(logbook, passes=_PASSES, session=f"{machine.name} own {number}"), 12)
    return here, there


def _work(run: ActiveRun, passes: int) -> None:
    for _ in range(passes):
        run.done()
    run.close()


def histories(folder: Path) -> Histories:
    """Return the runs of a log by the contents of their events, without uids."""
    with Logbook.open(folder, read_only=True) as logbook:
        return frozenset(
            tuple(hashlib.sha256(canonical(event.as_data()).encode()).hexdigest() for event in logbook.events(info.uid))
            for info in logbook.runs(limit=1_000)
        )


def content(folder: Path) -> dict[str, bytes]:
    """Return the files of a folder by name, with their content."""
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir()) if path.is_file()}


def run(kills: int, seed: int = 1) -> MergeTally:
    """Kill a merge `kills` times, each time on fresh copies of the logs. Return the counts."""
    rng, tally = random.Random(seed), MergeTally()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        here, there = two_machines(folder)
        old, other = histories(here), content(there)
        shutil.copytree(here, folder / "whole")
        started = time.monotonic()
        _merging(folder / "whole", there).wait()
        longest_s = time.monotonic() - started
        merged = histories(folder / "whole")
        for number in range(kills):
            data = folder / f"here {number}"
            shutil.copytree(here, data)
            program = _merging(data, there)
            # Nothing comes over while Python starts.
            time.sleep(rng.uniform(longest_s / 3, longest_s))
            program.send_signal(signal.SIGKILL)
            program.wait()
            print(_compared(data, there, old, merged, tally), flush=True)
            tally.changed += content(there) != other
            shutil.rmtree(data)
    return tally


def _merging(data: Path, there: Path) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "tui", "log", "--data", str(data), "--merge", str(there)]
    environment = own_environment(data) | {"TMPDIR": str(data.parent)}
    return subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL)


def _compared(data: Path, there: Path, old: Histories, merged: Histories, tally: MergeTally) -> str:
    """Compare a log after a kill with its states before and after the merge, then merge again.

    Return a row with the result.
    """
    found = histories(data)
    tally.kills += 1
    tally.half += len(found - old - merged)
    # A continued run is either old or merged.
    tally.lost += sum(not any(one[: len(was)] == was for one in found) for was in old)
    tally.before += found == old
    tally.after += found == merged
    tally.between += found not in (old, merged)
    with Logbook.open(data) as logbook:
        tally.unsound += bool(logbook.verify().problems) or bool(logbook.notices)
        merge(logbook, there)
    tally.incomplete += histories(data) != merged
    came = len(found & (merged - old))
    return f"kill {tally.kills}: {came} of {len(merged - old)} runs had come over; wrong so far: {tally.losses}"


def main() -> int:
    """Print each trial and each fault."""
    tally = run(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
    print(tally)
    return 1 if tally.losses else 0


if __name__ == "__main__":
    sys.exit(main())
