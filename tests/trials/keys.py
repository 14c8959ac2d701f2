"""Holds keys, lets switches bounce and pastes text into the counter of the real program.

    python -m tests.trials.keys

Keys that arrive within a moment count as one pass at most. The screen reports keys that are not counted, and the log
agrees with the screen.
"""

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.trials.program import QUIET_S, Program, begin, count_one, done_on, newest

Send = Callable[[Program], None]
NOT_COUNTED = "Not counted"


def repeated(key: str, times: int, pause_s: float) -> Send:
    """Return a function that sends a key `times` times, with a pause between [s]."""

    def send(program: Program) -> None:
        for _ in range(times):
            program.press(key)
            program.read(0.0)
            time.sleep(pause_s)

    return send


def at_once(keys: str) -> Send:
    """Return a function that sends several keys in one write."""
    return lambda program: program.press(keys)


PASTED = "Pass the word:\n  the gnomon stands on the plate, two by two\n\n  and the shadow falls \n \n"
TRIALS: tuple[tuple[str, Send, int, bool], ...] = (
    ("Space held for 3 s at 30 a second", repeated(" ", 90, 1 / 30), 1, True),
    ("Enter held for 2 s at 30 a second", repeated("\r", 60, 1 / 30), 1, True),
    ("a switch that bounces: two within 5 ms", repeated(" ", 2, 0.005), 1, True),
    ("a switch that bounces: two in one read", at_once("  "), 1, True),
    ("Space and Enter by turns, 20 a second", repeated(" \r", 20, 0.05), 1, True),
    ("a switch that chatters every 0.3 s", repeated(" ", 8, 0.3), 1, True),
    ("text pasted as a paste", at_once(f"\x1b[200~{PASTED}\x1b[201~"), 0, False),
    ("100 kB pasted as a paste", at_once(f"\x1b[200~{PASTED * 1000}\x1b[201~"), 0, False),
    ("blanks and line ends as if typed", at_once(" \r\n \r\n   \n" * 50), 1, True),
)
"""The name of each trial, its function, the most passes that it may count, and whether a message must report others."""


def trial(send: Send, most: int, told: bool) -> list[str]:
    """Count one pass by hand, send keys, and count another pass by hand. Return each fault.

    `most` is the largest number of passes that the keys may count. If `told`, the screen must report ignored keys.
    """
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "log"
        program = Program(data, rows=30)
        begin(program, resumed=False)
        count_one(program, 1)
        # The run was started by a digit, and Enter within 2 s of a digit does not count.
        time.sleep(2.0)
        send(program)
        program.settle(0.5)
        shown, done = program.shown, done_on(program.shown)
        logged = getattr(newest(data), "steps_done", None)
        wrong = [] if done is not None and 1 + min(most, 1) >= done >= 1 else [f"{done} are counted:\n{shown}"]
        wrong += [] if logged == done else [f"{logged} are logged, the screen says {done}"]
        wrong += [] if not told or NOT_COUNTED in shown else [f"it is not said:\n{shown}"]
        wrong += [] if most == 0 or done == 2 else [f"not even one is counted:\n{shown}"]
        time.sleep(QUIET_S)
        count_one(program, (done or 0) + 1)
        program.kill()
        return wrong


def held_take_back() -> list[str]:
    """Hold the undo key after three passes. Return each fault."""
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "log"
        program = Program(data)
        begin(program, resumed=False)
        for done in (1, 2, 3):
            count_one(program, done)
        repeated("-", 60, 1 / 30)(program)
        program.settle(0.5)
        done = done_on(program.shown)
        program.kill()
        return [] if done == 2 == getattr(newest(data), "steps_done", None) else [f"{done} are left of 3"]


def main() -> int:
    """Print each trial and each wrong count."""
    failed = 0
    for name, send, most, told in TRIALS:
        wrong = trial(send, most, told)
        print(f"{name}: " + ("; ".join(wrong) or f"{most} at most"), flush=True)
        failed += bool(wrong)
    wrong = held_take_back()
    print("the key that takes back held for 2 s: " + ("; ".join(wrong) or "one taken back"))
    failed += bool(wrong)
    print(f"{len(TRIALS) + 1} ways tried, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
