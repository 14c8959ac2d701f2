"""Kills the real program during a run, again and again, and counts what was lost.

    python -m tests.trials.kills [KILLS]

The program runs in a pseudo-terminal, and keys count passes. At a random moment the program gets SIGKILL: between a key
and its painting, during the start, during an undo, or while the counter closes. Every pass that the screen has called
logged must be in the log exactly once. The next start must continue at the step that the log holds.
"""

import random
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from core.events.state import State
from core.logbook.logbook import Logbook
from tests.trials.program import Program, begin, count_one, done_on, newest

MOMENTS = ("key", "key", "key", "start", "back", "leave")
"""When to kill the program. The moments after a count key are three times as frequent as others."""
LONGEST_START_S = 0.7
LONGEST_KEY_S = 0.05


@dataclass
class KillTally:
    """Counts of trials and losses."""

    kills: int = 0
    painted: int = 0
    """Kills after the key's pass was painted, if that could be seen."""
    unpainted: int = 0
    """Kills between key and paint."""
    called_logged: int = 0
    lost: int = 0
    twice: int = 0
    wrong_step: int = 0
    unsound: int = 0

    @property
    def losses(self) -> int:
        """The count of all losses, none of which may happen."""
        return self.lost + self.twice + self.wrong_step + self.unsound

    def __str__(self) -> str:
        return (
            f"{self.kills} kills ({self.unpainted} between key and paint, {self.painted} just after it), "
            f"{self.called_logged} passes called logged: {self.lost} lost, {self.twice} twice, "
            f"{self.wrong_step} at a wrong step, {self.unsound} logs unsound"
        )


def trial(data: Path, tally: KillTally, moment: str, rng: random.Random) -> str:
    """Count some passes, kill the program at this moment, and compare screen and log. Return a row with the result."""
    before = newest(data) if data.exists() else None
    resumed = before is not None and before.steps_done > 0
    program = Program(data)
    tally.kills += 1
    if moment == "start" and resumed:
        time.sleep(rng.uniform(0, LONGEST_START_S))
        program.kill()
        return _compared(data, tally, moment, _done(before), _done(before))
    if before is not None and not resumed:
        program.wait_for("Space Done")
        time.sleep(0.9)
    else:
        begin(program, resumed=resumed)
    _check_resumed(program, before, tally)
    called = _done(before)
    for _ in range(rng.randint(1, 3)):
        count_one(program, called + 1)
        called += 1
    tally.called_logged += called - _done(before)
    return _killed(program, data, tally, moment, called, rng)


def _killed(program: Program, data: Path, tally: KillTally, moment: str, called: int, rng: random.Random) -> str:
    """Press the last key, kill the program, and return a row with the result."""
    program.press({"back": "-", "leave": "\x11"}.get(moment, " "))
    time.sleep(rng.uniform(0, LONGEST_KEY_S if moment != "leave" else 0.3))
    painted = done_on(program.kill())
    if moment == "leave":
        return _compared(data, tally, moment, called, called)
    if moment == "back":
        # The pass may be undone or not. If the screen showed it undone, the log must have it undone.
        most = called if painted in (called, None) else called - 1
        return _compared(data, tally, moment, called - 1, most)
    tally.painted += painted == called + 1
    tally.unpainted += painted == called
    least = called if painted is None else max(called, painted)
    return _compared(data, tally, moment, least, called + 1)


def _check_resumed(program: Program, before: State | None, tally: KillTally) -> None:
    """Compare the counter after a start with the state in the log before the start."""
    if before is not None and before.steps_done:
        tally.wrong_step += done_on(program.wait_for("] ")) != before.steps_done


def _compared(data: Path, tally: KillTally, moment: str, least: int, most: int) -> str:
    """Compare the log with the fewest and most passes that may have been logged. Return a row with the result."""
    after = newest(data)
    assert after is not None
    done = after.steps_done
    tally.lost += max(0, least - done)
    tally.twice += max(0, done - most)
    tally.wrong_step += after.cursor is not None and after.status_of(after.cursor.id) != "open"
    with Logbook.open(data, read_only=True) as logbook:
        tally.unsound += bool(logbook.verify().problems)
    told = f"{least}" if least == most else f"{least} or {most}"
    return f"kill {tally.kills} ({moment}): {told} are to be in the log; it holds {done}"


def _done(state: State | None) -> int:
    return 0 if state is None else state.steps_done


def run(kills: int, seed: int = 1) -> KillTally:
    """Kill the program `kills` times, and return the counts. A finished run is followed by a new one."""
    rng, tally = random.Random(seed), KillTally()
    with tempfile.TemporaryDirectory() as folder:
        number = 0
        while tally.kills < kills:
            data = Path(folder) / str(number)
            state = newest(data) if data.exists() else None
            if state is not None and state.steps_open < 6:
                number += 1
                continue
            print(trial(data, tally, rng.choice(MOMENTS), rng), flush=True)
    return tally


def main() -> int:
    """Print each trial and each loss."""
    tally = run(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
    print(tally)
    return 1 if tally.losses else 0


if __name__ == "__main__":
    sys.exit(main())
