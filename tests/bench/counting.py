"""Measures the counter: the time from a key to its painting, processor time while idle, and memory."""

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from tests.bench.measuring import BenchRow, percentile, sync_ms, taking_turns
from tests.bench.programs import Watched, empty_app, slot
from tests.trials.program import ROOT

KEYS = 97
IDLE_S = 20.0
BETWEEN_S = 0.02
_CAUSE_KEY = (
    "one sync for each pass; of the time above an app that paints a number (about 4 ms), 2 ms are for checking and "
    "logging the event with its sync, 1.5 ms for the words of the next step, 1 ms for painting: some 10 rows change, "
    "in the floor only one"
)
_CAUSE_MEMORY = (
    "core and its tables take 12 MB over the empty app; the caches of Textual, Rich and SQLite fill in the first "
    "thousand passes, and nothing grows later"
)


def rows(folder: Path, environment: Mapping[str, str]) -> Iterator[BenchRow]:
    """Yield the measured rows of the counter. While it is idle, another process measures the memory."""
    yield from _keys(folder, environment)
    with passes_counted(environment) as counted:
        yield _idle(folder, environment)
        yield from _memory(counted, environment)


def counter(folder: Path, environment: Mapping[str, str], core: int | None = None) -> Watched:
    """Start the counter on a new run.

    `core` is the number of the only processor core that it may use; None means any.
    """
    data = tempfile.mkdtemp(dir=folder)
    words = ["-m", "tests.bench.unhurried", data, str(slot(folder))]
    program = Watched(words, environment, None if core is None else lambda: os.sched_setaffinity(0, {core}))
    program.wait_for(b"not started")
    program.settle(0.5)
    program.press(b"\r")
    program.wait_for(b'Start "')
    program.settle(0.5)
    program.press(b"1")
    program.wait_for(b"Done")
    program.settle(0.5)
    for word in (b"Logged: Set", b"Logged: Touch off"):
        program.press(b" ")
        program.wait_for(word)
        program.settle(0.5)
    return program


def key_ms(program: Watched, key: bytes, word: bytes) -> float:
    """Press a key and return the time until the program has painted `word` [ms]."""
    program.settle(BETWEEN_S)
    begun = time.perf_counter()
    program.press(key)
    program.wait_for(word)
    return (time.perf_counter() - begun) * 1000


def _keys(folder: Path, environment: Mapping[str, str]) -> Iterator[BenchRow]:
    program, empty = counter(folder, environment), empty_app(environment)
    empty.wait_for(b"ready")
    logged, painted, synced = taking_turns(
        KEYS,
        lambda: key_ms(program, b" ", b"Logged"),
        lambda: key_ms(empty, b"x", b"ready"),
        sync_ms(folder),
        warm=3,
    )
    program.kill()
    empty.kill()
    against = "1.3 times an app that paints a number, and 2 fsync"
    for what, of in (("median", statistics.median), ("99th percentile", lambda values: percentile(values, 99))):
        floor = 1.3 * of(painted) + 2 * of(synced)
        yield BenchRow(
            what=f'key to painted "logged", {what}',
            against=against,
            taken=of(logged),
            floor=floor,
            at_most=1,
            cause=_CAUSE_KEY,
        )


def _idle(folder: Path, environment: Mapping[str, str]) -> BenchRow:
    program, empty = counter(folder, environment), empty_app(environment)
    empty.wait_for(b"ready")
    time.sleep(1)
    before = program.processor_s, empty.processor_s
    time.sleep(IDLE_S)
    a_minute = 60_000 / IDLE_S
    taken, floor = (program.processor_s - before[0]) * a_minute, (empty.processor_s - before[1]) * a_minute
    program.kill()
    empty.kill()
    return BenchRow(
        what=f"idle processor time per minute, from {IDLE_S:.0f} s",
        against="the empty app, idle; 1.2 times and 1 % of a minute",
        taken=taken,
        floor=floor,
        at_most=1.2 + 600 / floor,
    )


@contextmanager
def passes_counted(environment: Mapping[str, str]) -> Iterator["subprocess.Popen[bytes]"]:
    """Count passes in another process meanwhile. The log of that process is in memory, if possible."""
    memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    with tempfile.TemporaryDirectory(dir=memory) as data:
        command = [sys.executable, "-m", "tests.bench.passes", data, str(slot(Path(data)))]
        with subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.PIPE) as process:
            yield process


def _memory(counted: "subprocess.Popen[bytes]", environment: Mapping[str, str]) -> Iterator[BenchRow]:
    empty = empty_app(environment)
    empty.wait_for(b"ready")
    empty.settle(0.5)
    floor = empty.memory_mb
    empty.kill()
    found = json.loads(counted.communicate()[0])
    after, early, passes = found["memory_mb"], found["early_mb"], found["passes"]
    yield BenchRow(
        what=f"memory after {passes} passes",
        against="the empty app",
        taken=after,
        floor=floor,
        at_most=1.5,
        unit="MB",
        cause=_CAUSE_MEMORY,
    )
    yield BenchRow(
        what=f"memory after {passes} passes",
        against=f"the same program after {found['early']}",
        taken=after,
        floor=early,
        at_most=1.05,
        unit="MB",
        cause=_CAUSE_MEMORY,
    )
