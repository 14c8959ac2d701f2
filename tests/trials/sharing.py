"""Opens one run in two real programs at the same time, and two runs of one log at the same time.

    python -m tests.trials.sharing [PASSES]

If two programs both ask whether to start an operation, only one run starts, and the second program asks again. A second
program on the same run must only watch. It names the process that has the run, shows each pass, and counts nothing.
When the first program is killed, the second takes over. Two programs count two runs at the same moments, and every pass
of both must be in the log. While passes are counted, the command line checks and copies the log.
"""

import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from core.logbook.logbook import Logbook
from tests.trials.program import (
    JOB,
    QUIET_S,
    ROOT,
    Program,
    begin,
    count_one,
    done_on,
    newest,
    own_environment,
    see_counted,
)

OTHER_JOB = ROOT / "sample_jobs" / "hour_lines.toml"


def looking_on(place: Path) -> Iterator[str]:
    """Count in one program, watch in another, and kill the first. Yield each fault."""
    data = place / "one run"
    first = Program(data)
    begin(first, resumed=False)
    count_one(first, 1)
    second = Program(data)
    shown = second.wait_for("view only")
    told = re.search(r"process (\d+) on \S+ has this run", shown)
    if told is None or int(told[1]) != first.child.pid:
        yield f"it is not said who has it:\n{shown}"
    count_one(first, 2)
    second.wait_for("] 2 of ")
    second.press(" ")
    time.sleep(QUIET_S)
    if done_on(second.settle()) != 2 or getattr(newest(data), "steps_done", 0) != 2:
        yield "the one that looks on has counted"
    first.kill()
    second.wait_for("has closed this run")
    # The first was killed, so the second asks whether something was moved before it counts.
    begin(second, resumed=True)
    count_one(second, 3)
    if second.leave() != 0 or getattr(newest(data), "steps_done", 0) != 3:
        yield "the pass after the first was killed is not in the log"


def two_runs(place: Path, passes: int) -> Iterator[str]:
    """Count two runs of one log in two programs. Yield each fault."""
    data = place / "two runs"
    programs = [Program(data, job) for job in (JOB, OTHER_JOB)]
    for program in programs:
        begin(program, resumed=False)
    for done in range(1, passes + 1):
        for program in programs:
            program.press(" ")
        for program in programs:
            see_counted(program, done)
        time.sleep(QUIET_S)
    if [program.leave() for program in programs] != [0, 0]:
        yield "one of them did not end with 0"
    with Logbook.open(data, read_only=True) as logbook:
        counts = [run.steps_done for run in logbook.runs()]
        problems = logbook.verify().problems
    if counts != [passes, passes] or problems:
        yield f"the log holds {counts} passes, wanted are {passes} twice; {problems}"


def started_twice(place: Path) -> Iterator[str]:
    """Let two programs ask whether to start the same operation, and answer yes in both. Yield each fault."""
    data = place / "started twice"
    programs = [Program(data), Program(data)]
    for program in programs:
        program.wait_for("not started")
        program.press("\r")
        program.wait_for('Start "')
    time.sleep(0.3)
    programs[0].press("1")
    programs[0].wait_for("Space Done")
    programs[1].press("1")
    programs[1].wait_for("Another copy of this program has just started")
    time.sleep(0.3)
    programs[1].press("1")
    programs[1].wait_for("view only")
    for program in programs:
        program.leave()
    with Logbook.open(data, read_only=True) as logbook:
        if len(logbook.runs()) != 1:
            yield f"the log holds {len(logbook.runs())} runs of one piece"


def copied(place: Path) -> Iterator[str]:
    """Check and copy the log while passes are counted. Yield each fault."""
    data = place / "copied"
    program = Program(data)
    begin(program, resumed=False)
    for done in (1, 2, 3):
        program.press(" ")
        for words in (("--verify",), ("--backup", str(place / f"copy {done}" / "logbook.sqlite3"))):
            (place / f"copy {done}").mkdir(exist_ok=True)
            command = [sys.executable, "-m", "tui", "--data", str(data), "log", *words]
            told = subprocess.run(
                command, cwd=ROOT, env=own_environment(data), capture_output=True, text=True, check=False
            )
            if told.returncode:
                yield f"{words[0]}: {told.stdout}{told.stderr}"
        see_counted(program, done)
        with Logbook.open(place / f"copy {done}", read_only=True) as copy:
            if copy.verify().problems or copy.runs()[0].steps_done not in (done - 1, done):
                yield f"copy {done} is not sound, or lacks passes"
        time.sleep(QUIET_S)
    program.leave()


def main() -> int:
    """Print each trial and each loss."""
    passes = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    failed = 0
    with tempfile.TemporaryDirectory() as folder:
        for name, trial in (
            ("one run in two programs, the first killed", looking_on(Path(folder))),
            (f"two runs in two programs, {passes} passes each", two_runs(Path(folder), passes)),
            ("one operation started in two programs", started_twice(Path(folder))),
            ("checked and copied while passes are counted", copied(Path(folder))),
        ):
            wrong = list(trial)
            print(f"{name}: " + ("; ".join(wrong) or "nothing lost"), flush=True)
            failed += bool(wrong)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
