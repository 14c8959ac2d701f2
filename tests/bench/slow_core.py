"""Measures the counter on a core that it shares with three busy programs, so that it gets a quarter of the time."""

import os
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from tests.bench.counting import counter, key_ms
from tests.bench.measuring import BenchRow

CORE, NEIGHBOURS, KEYS = 0, 3, 60
LONGEST_WAIT_MS = 200.0


def rows(folder: Path, environment: Mapping[str, str]) -> Iterator[BenchRow]:
    """Yield the row with the longest time that a key had to wait."""
    with _busy():
        program = counter(folder, environment, CORE)
        waits = [key_ms(program, b" ", b"Logged") for _ in range(KEYS)]
        program.kill()
    what = f"a quarter of a core: longest wait of {KEYS} keys"
    yield BenchRow(what=what, against="0.2 s", taken=max(waits), floor=LONGEST_WAIT_MS, at_most=1)


@contextmanager
def _busy() -> Iterator[None]:
    """Keep the core busy with other programs."""

    def pin() -> None:
        os.sched_setaffinity(0, {CORE})

    busy = [subprocess.Popen([sys.executable, "-c", "while True: pass"], preexec_fn=pin) for _ in range(NEIGHBOURS)]
    try:
        yield
    finally:
        for process in busy:
            process.kill()
            process.wait()
