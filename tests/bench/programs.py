"""Runs programs in a pseudo-terminal and reads their output. A real terminal would add its own time."""

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from core.events.state import Origin
from core.jobs.job import read_job
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.run.revising import logged_plan_input
from tests.trials.program import ROOT
from tui.terminal import SYSTEM_CLOCK

ARBOR = ROOT / "sample_jobs" / "sundial_arbor.toml"
HOUR_LINES = ROOT / "sample_jobs" / "hour_lines.toml"
LATHE = ROOT / "sample_jobs" / "metric_lathe.toml"
DEADLINE_S = 120.0

EMPTY = """
from textual.app import App
from textual.widgets import Static
class Empty(App):
    AUTO_FOCUS = ""
    count = 0
    def compose(self):
        yield Static("ready 0")
    def on_key(self, event):
        self.count += 1
        self.query_one(Static).update(f"ready {self.count}")
Empty().run()
"""
"""The program that is the floor. It paints a number for each key and does nothing else."""


SLOT = f"""
format = 1
title = "A slot in many passes"
lathe = "{LATHE}"
[[operation]]
kind = "groove"
name = "Slot"
dial = "cross_slide"
from = "0 mm"
to = "12 mm"
cut = "0.1 mm"
"""
"""A job with two set-up steps and then 118 passes without a question."""


def slot(folder: Path) -> Path:
    """Write a job file with a slot of many passes into a folder, and return its path."""
    job = folder / "slot.toml"
    job.write_text(SLOT)
    return job


class Watched:
    """A program in a terminal of 80 columns and 24 rows, and its output since the last key."""

    def __init__(
        self, words: Sequence[str], environment: Mapping[str, str], prepare: Callable[[], None] | None = None
    ) -> None:
        ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self.process = subprocess.Popen(
            [sys.executable, *words],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            cwd=ROOT,
            env=dict(environment),
            start_new_session=True,
            preexec_fn=prepare,
        )
        os.close(theirs)
        self._terminal = ours
        self._painted = b""

    def press(self, key: bytes) -> None:
        """Send a key to the program."""
        self._painted = b""
        os.write(self._terminal, key)

    def wait_for(self, word: bytes) -> None:
        """Wait until the program has painted `word`. Raises TimeoutError after 120 s."""
        until = time.monotonic() + DEADLINE_S
        while word not in self._painted:
            if not select.select([self._terminal], [], [], max(0.0, until - time.monotonic()))[0]:
                raise TimeoutError(f"{word!r} did not come:\n{self._painted[-2000:]!r}")
            self._painted += os.read(self._terminal, 1 << 16)

    def settle(self, seconds: float) -> None:
        """Wait until the program has painted nothing for this time [s]."""
        while select.select([self._terminal], [], [], seconds)[0]:
            self._painted += os.read(self._terminal, 1 << 16)

    @property
    def processor_s(self) -> float:
        """The processor time that all threads of the program have used so far [s]."""
        tasks = Path(f"/proc/{self.process.pid}/task").glob("*/schedstat")
        return sum(int(task.read_text().split()[0]) for task in tasks) / 1e9

    @property
    def memory_mb(self) -> float:
        """The memory that the program uses now [MB]."""
        return resident_mb(self.process.pid)

    def kill(self) -> None:
        """Kill the program without warning, as a power cut would."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        os.close(self._terminal)


def resident_mb(process: int | str = "self") -> float:
    """Return how much memory a process uses [MB]."""
    lines = Path(f"/proc/{process}/status").read_text().splitlines()
    return int(next(line for line in lines if line.startswith("VmRSS")).split()[1]) / 1024


def empty_app(environment: Mapping[str, str]) -> Watched:
    """Start an almost empty Textual program, which is the floor for starting and for keys."""
    return Watched(["-c", EMPTY], environment)


def halfnut(data: Path, job: Path, environment: Mapping[str, str]) -> Watched:
    """Start halfnut as a user does."""
    return Watched(["-m", "tui", "--data", str(data), str(job)], environment)


def begin_run(data: Path, job: Path, operation: int, done: int) -> ActiveRun:
    """Log a run of a job with `done` steps done, so that another process can resume it."""
    found = read_job(job)
    chosen = found.operations[operation]
    logbook = Logbook.open(data)
    run = ActiveRun.begin(
        logbook,
        chosen.plan,
        logged_plan_input(chosen.plan_input),
        Origin(job_path=str(job.resolve()), job_title=found.title, op_name=chosen.name),
        SYSTEM_CLOCK,
        "bench",
    )
    for _ in range(done):
        run.done()
    run.close()
    logbook.close()
    return run
