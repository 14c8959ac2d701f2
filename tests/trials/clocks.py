"""Lets the wall clock of the real program jump while passes are counted.

    python -m tests.trials.clocks

The clock behaves as on a computer without a clock battery. It starts in 1970, finds the right time during a run, is set
back, and goes through summer time and into another time zone. The order of the log and the time of the run must stay
right. Every export must mark the events at which the clock was wrong.
"""

import csv
import io
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from core.events.replay import replay
from core.logbook.logbook import Logbook
from tests.trials import shim
from tests.trials.program import ROOT, Program, begin, count_one, own_environment

DAY_S = 86_400
JUMPS = (
    ("56 years ahead, to the right time", 0, True),
    ("an hour back", -3600, True),
    ("two days ahead", 2 * DAY_S, True),
    ("back again", 0, True),
)
"""Each jump: its name, the error of the clock afterwards [s], and whether the log must report the error."""
SESSIONS = (("summer time begins", "Europe/Berlin"), ("another time zone", "Asia/Kolkata"))


def exported(data: Path, form: str) -> str:
    """Return the log as `halfnut log` prints it in a format."""
    command = [sys.executable, "-m", "tui", "--data", str(data), "log", "--format", form]
    return subprocess.run(
        command, cwd=ROOT, env=own_environment(data), capture_output=True, text=True, check=True
    ).stdout


def remarks_in(data: Path) -> tuple[list[int], list[int], int]:
    """Return the events at which CSV and JSON report a wrong clock, and the number of reports in the text."""
    rows = csv.DictReader(io.StringIO(exported(data, "csv"), newline=""))
    (run,) = json.loads(exported(data, "json"))
    in_json = [event["seq"] for event in run["events"] if event.get("clock")]
    return [int(row["seq"]) for row in rows if row["clock"]], in_json, exported(data, "text").count("the clock: ")


def jumping(place: Path) -> Iterator[str]:
    """Count passes while the clock jumps. Yield a description of each fault."""
    data = place / "log"
    made = shim.Shim(place)
    made.set_clock(-int(time.time()) + 60)
    program = Program(data, environment=made.environment)
    begin(program, resumed=False)
    begun_s = time.monotonic()
    expected = []
    for done, (_, wrong_by_s, told) in enumerate(JUMPS, start=1):
        made.set_clock(wrong_by_s)
        count_one(program, done)
        expected += [done] if told else []
    taken_s = time.monotonic() - begun_s
    program.kill()
    made.set_clock(0)
    with Logbook.open(data, read_only=True) as logbook:
        run = logbook.runs()[0]
        state = replay(logbook.events(run.uid))
    if state.steps_done != len(JUMPS):
        yield f"{state.steps_done} passes are logged"
    # The run was started when the question was answered, a moment before the first pass could be counted.
    if not 0 < state.run_time_ms / 1000 < taken_s + 5:
        yield f"the run took {state.run_time_ms / 1000:.0f} s of {taken_s:.0f}"
    if not run.begun.startswith("1970"):
        yield f"begun {run.begun}: the trial's clock was not believed"
    in_csv, in_json, in_text = remarks_in(data)
    if not in_csv == in_json == expected or in_text != len(expected):
        yield f"told at {in_csv} in CSV, {in_json} in JSON, {in_text} times in the text; wanted {expected}"


def zones(place: Path) -> Iterator[str]:
    """Count passes in one time zone and then in others, with a right clock. Yield each fault.

    No export may say that the clock was wrong.
    """
    data = place / "zones"
    for done, (_, zone) in enumerate((("", "UTC"), *SESSIONS), start=1):
        program = Program(data, environment={"TZ": zone})
        begin(program, resumed=done > 1)
        count_one(program, done)
        program.leave()
    walls = {row["wall"][-6:] for row in csv.DictReader(io.StringIO(exported(data, "csv"), newline=""))}
    if len(walls) < 2:
        yield f"all events have the offset {walls}: the zones were not believed"
    if remarks_in(data) != ([], [], 0):
        yield f"told of a wrong clock: {remarks_in(data)}"


def main() -> int:
    """Print each trial and each fault."""
    if not shim.available():
        print("a compiler (cc) is missing: the clock cannot be made to jump", file=sys.stderr)
        return 2
    failed = 0
    with tempfile.TemporaryDirectory() as folder:
        for name, trial in (("the clock jumps", jumping(Path(folder))), ("time zones", zones(Path(folder)))):
            wrong = list(trial)
            print(f"{name}: " + ("; ".join(wrong) or "order and time are right, and it is told"), flush=True)
            failed += bool(wrong)
    print(f"{len(JUMPS)} jumps and {len(SESSIONS)} zones tried, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
