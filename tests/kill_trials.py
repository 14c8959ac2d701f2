"""Kills the real program in mid-run, again and again, and counts what was lost.

    python -m tests.kill_trials [KILLS]

The program runs in a pseudo-terminal. Passes are counted by key; at a random moment,
also between key and paint, it gets SIGKILL. What the screen had called logged must be
in the log, nothing twice, and the next start must go on at the right step.
"""

import random
import signal
import sys
import tempfile
import time
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import pexpect
import pyte

from core.logbook import Logbook
from core.session import replay
from core.state import State

ROOT = Path(__file__).parents[1]
JOB = ROOT / "sample_jobs" / "sundial_arbor.toml"
QUIET_S = 0.85
DEADLINE_S = 20.0


@dataclass
class Tally:
    """What was tried and what was lost."""

    kills: int = 0
    seen_logged: int = 0
    lost: int = 0
    twice: int = 0
    wrong_step: int = 0
    lines: list[str] = field(default_factory=list)


class Program:
    """The program in a pseudo-terminal, and the screen it paints."""

    def __init__(self, data: Path, job: Path = JOB) -> None:
        self.screen = pyte.Screen(80, 24)
        self._stream = pyte.ByteStream(self.screen)
        self.child = pexpect.spawn(
            sys.executable, ["-m", "tui", "--data", str(data), str(job)], cwd=str(ROOT), dimensions=(24, 80)
        )

        # Keys go out at once; the library would wait 50 ms before each.
        self.child.delaybeforesend = None

    def read(self, seconds: float = 0.05) -> str:
        """Take what was painted in the next moment; return the whole screen."""
        with suppress(pexpect.TIMEOUT, pexpect.EOF):
            self._stream.feed(self.child.read_nonblocking(65536, timeout=seconds))
        return "\n".join(self.screen.display)

    def wait_for(self, *words: str) -> str:
        """Return the screen once one of `words` stands on it; raises TimeoutError."""
        until = time.monotonic() + DEADLINE_S
        while time.monotonic() < until:
            shown = self.read()
            if any(word in shown for word in words):
                return shown
        raise TimeoutError(f"none of {words} came:\n" + "\n".join(self.screen.display))

    def press(self, key: str) -> None:
        """Send a key."""
        self.child.send(key)

    def kill(self) -> None:
        """End it as a power cut would end it."""
        self.child.kill(signal.SIGKILL)
        self.child.wait()


def newest(data: Path) -> State | None:
    """Return the newest run of the log, None where it holds none."""
    with Logbook.open(data, read_only=True) as logbook:
        runs = logbook.runs(limit=1)
        return replay(logbook.events(runs[0].uid), runs[0].uid) if runs else None


def begin(program: Program, *, resumed: bool) -> None:
    """Come from the start of the program to the counter; a resumed run asks its question by itself."""
    if resumed:
        program.wait_for("This run was interrupted")
        time.sleep(0.3)
        program.press("0")
        program.wait_for("nothing was moved.")
    else:
        program.wait_for("not begun")
        program.press("\r")
        program.wait_for("Begin:")
        time.sleep(0.3)
        program.press("1")
        program.wait_for("Taken")
    time.sleep(QUIET_S)


def count_one(program: Program, done: int) -> None:
    """Count a step and wait until the screen says that `done` are; a measurement is not given."""
    program.press(" ")
    shown = program.wait_for(f"] {done} of ", "What was measured?")
    if "What was measured?" in shown:
        program.wait_for("Go on as planned")
        go_on = next(line for line in program.screen.display if "Go on as planned" in line)
        program.press(next(character for character in go_on if character.isdigit()))
        program.wait_for(f"] {done} of ")
    time.sleep(QUIET_S)


def trial(data: Path, tally: Tally, passes: int, rng: random.Random) -> None:
    """Count some passes, kill at a random moment, and compare screen and log."""
    before = newest(data) if data.exists() else None
    program = Program(data)
    begin(program, resumed=before is not None and before.steps_done > 0)
    done_before = before.steps_done if before else 0
    called_logged = done_before
    for _ in range(passes):
        count_one(program, called_logged + 1)
        called_logged += 1
    program.press(" ")
    time.sleep(rng.uniform(0, 0.03))
    program.kill()
    after = newest(data)
    assert after is not None
    done = after.steps_done
    tally.kills += 1
    tally.seen_logged += called_logged - done_before
    tally.lost += max(0, called_logged - done)
    tally.twice += max(0, done - called_logged - 1)
    tally.wrong_step += after.cursor is not None and after.status_of(after.cursor.id) != "open"
    tally.lines.append(f"kill {tally.kills}: the screen had called {called_logged} logged; the log holds {done}")


def run(kills: int, seed: int = 1) -> Tally:
    """Try so many kills, on fresh runs as they are used up."""
    rng, tally = random.Random(seed), Tally()
    with tempfile.TemporaryDirectory() as folder:
        number = 0
        while tally.kills < kills:
            data = Path(folder) / str(number)
            state = newest(data) if data.exists() else None
            if state is not None and state.steps_open < 6:
                number += 1
                continue
            trial(data, tally, rng.randint(1, 4), rng)
            print(tally.lines[-1], flush=True)
    return tally


def main() -> int:
    """Print what was tried and what was lost."""
    tally = run(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
    print(
        f"{tally.kills} kills, {tally.seen_logged} passes called logged: "
        f"{tally.lost} lost, {tally.twice} twice, {tally.wrong_step} at a wrong step"
    )
    return 1 if tally.lost or tally.twice or tally.wrong_step else 0


if __name__ == "__main__":
    sys.exit(main())
