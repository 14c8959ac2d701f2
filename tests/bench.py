"""Measures speed as ratios to a floor in the same run.

    python -m tests.bench [--json]

Start to first paint and key to painted "Logged", both through a pseudo-terminal,
beside the same of a Textual app that does nothing else.
"""

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.kill_trials import JOB, QUIET_S, ROOT, Program, begin

EMPTY_APP = """
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
STDLIB = "import tomllib, sqlite3, json, dataclasses, fractions"
STARTS, KEYS = 7, 12


class Watched(Program):
    """Any Python program in a pseudo-terminal."""

    def __init__(self, *words: str) -> None:
        import pexpect
        import pyte

        self.screen = pyte.Screen(80, 24)
        self._stream = pyte.ByteStream(self.screen)
        self.child = pexpect.spawn(sys.executable, list(words), cwd=str(ROOT), dimensions=(24, 80))
        self.child.delaybeforesend = None

    def wait_for(self, *words: str) -> str:
        """As in Program, without a pause between looks: here every millisecond counts."""
        while True:
            shown = self.read(0.001)
            if any(word in shown for word in words):
                return shown


def seconds_to(word: str, *words: str) -> float:
    """Return the time from starting a program until `word` is painted [s]."""
    begun = time.perf_counter()
    program = Watched(*words)
    program.wait_for(word)
    taken = time.perf_counter() - begun
    program.kill()
    return taken


def key_to(program: Watched, key: str, expected: Callable[[int], str], pause_s: float) -> list[float]:
    """Return the times from a key until what it changes is painted [s]."""
    times = []
    for number in range(1, KEYS + 1):
        begun = time.perf_counter()
        program.press(key)
        program.wait_for(expected(number))
        times.append(time.perf_counter() - begun)
        time.sleep(pause_s)
    return times


def fsync_s(folder: Path) -> float:
    """Return the time of one raw write and fsync in a folder, the median of 30 [s]."""
    times = []
    with (folder / "raw").open("wb") as file:
        for _ in range(30):
            begun = time.perf_counter()
            file.write(b"x" * 200)
            file.flush()
            os.fsync(file.fileno())
            times.append(time.perf_counter() - begun)
    return statistics.median(times)


def printing_s(*words: str) -> float:
    """Return the time a command takes, the median [s]."""
    times = []
    for _ in range(STARTS):
        begun = time.perf_counter()
        subprocess.run([sys.executable, *words], cwd=ROOT, stdout=subprocess.DEVNULL, check=True)
        times.append(time.perf_counter() - begun)
    return statistics.median(times)


def measured() -> dict[str, dict[str, float]]:
    """Return each figure with its floor and their ratio [s]."""
    rows: dict[str, dict[str, float]] = {}

    def row(what: str, taken: float, floor: float) -> None:
        rows[what] = {"taken_s": taken, "floor_s": floor, "ratio": taken / floor}

    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder)
        halfnut = ("-m", "tui", "--data", str(data), str(JOB))
        empty = statistics.median(seconds_to("ready", "-c", EMPTY_APP) for _ in range(STARTS))
        board = statistics.median(seconds_to("Turn the thread blank", *halfnut) for _ in range(STARTS))
        row("start to first paint, board", board, empty)
        plain = Watched("-c", EMPTY_APP)
        plain.wait_for("ready")
        floor = statistics.median(key_to(plain, "x", lambda number: f"ready {number}", 0.1))
        plain.kill()
        program = Watched("-m", "tui", "--data", str(data), str(ROOT / "sample_jobs" / "hour_lines.toml"))
        begin(program, resumed=False)
        times = key_to(program, " ", lambda number: f"] {number} of ", QUIET_S)
        program.kill()
        sync = fsync_s(data)
        row("key to painted Logged, median; floor: paint of an empty app", statistics.median(times), floor)
        row("the same; floor: that paint and two fsync", statistics.median(times), floor + 2 * sync)
    bare = printing_s("-c", STDLIB)
    row("card of a job", printing_s("-m", "tui", "card", str(JOB)), bare)
    row("convert 1 1/4 in", printing_s("-m", "tui", "convert", "1 1/4 in"), bare)
    return rows


def main() -> int:
    """Print the table."""
    rows = measured()
    if "--json" in sys.argv[1:]:
        print(json.dumps(rows, indent=1))
        return 0
    for what, row in rows.items():
        print(f"{what:<62} {row['taken_s']:8.4f} s  floor {row['floor_s']:8.4f} s  ratio {row['ratio']:5.2f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
