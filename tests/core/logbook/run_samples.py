"""Plans, runs and a clock, for the tests of runs and logbook."""

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from core.events.state import LoggedPlanInput, Origin
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.plan import Plan, Step, numbered
from core.values.dials import Setting

ROOT = Path(__file__).parents[3]
"""The folder in which programs started by a test find the code."""

JOB = Origin(job_path="/jobs/sundial.toml", job_title="Sundial", op_name="Spigot thread")
BASIS = LoggedPlanInput(
    kind="thread",
    parameters={"name": "Spigot thread", "kind": "thread", "thread": "M20x1.5", "passes": 4},
    material="brass",
    lathe={"name": "Bench lathe", "dials": {"compound": {"unit": "mm", "graduation": 0.02}}},
    lathe_name="Bench lathe",
    stand_in=False,
)


@dataclass
class StepClock:
    """A clock that starts at a date and advances by 1.5 s at every reading."""

    now_ms: int = 0
    day: str = "2026-11-25"

    def wall(self) -> str:
        """Return the time of day."""
        seconds = self.now_ms // 1000
        return f"{self.day}T{seconds // 3600 % 24:02}:{seconds // 60 % 60:02}:{seconds % 60:02}+01:00"

    def monotonic_ms(self) -> int:
        """Return the time [ms], then advance the clock."""
        self.now_ms += 1500
        return self.now_ms


def sample_plan(passes: int = 4) -> Plan:
    """Return a plan: touch off, some cuts of 0.1 mm, a spring pass, a check."""
    cuts = [
        Step(
            action="cut",
            text=f"Cut {number}",
            settings=(
                Setting(
                    dial="compound",
                    unit="mm",
                    position=Fraction(number, 10),
                    turns=number // 20,
                    reading=Fraction(number % 20, 10),
                    rounding=0.0,
                ),
            ),
            depth_mm=number / 10,
            removed_mm=0.1,
            remaining_mm=(passes - number) / 10,
        )
        for number in range(1, passes + 1)
    ]
    touch = Step(action="set", text="Touch off", zeroed_dials=("compound",), expects="reading")
    spring = Step(action="spring", text="Spring pass", depth_mm=passes / 10, removed_mm=0.0)
    return Plan(
        figures={"passes": passes, "pitch_mm": 1.5},
        cautions=("No gloves.",),
        movements=("tool out", "carriage back"),
        steps=numbered([touch, *cuts, spring, Step(action="check", text="Try the gauge")]),
    )


def begin(logbook: Logbook, passes: int = 4, origin: Origin | None = JOB, session: str = "first") -> ActiveRun:
    """Start a run of the sample plan."""
    return ActiveRun.begin(logbook, sample_plan(passes), BASIS, origin, StepClock(), session)


def fill(folder: Path, runs: int = 5, done: int = 12) -> dict[str, int]:
    """Write a logbook with some runs and close it. Return the number of events by run uid."""
    counts = {}
    with Logbook.open(folder) as logbook:
        for number in range(runs):
            # The longest run begins with a plan that spills over several pages.
            run = begin(logbook, passes=400 if number == 1 else 20)
            for _ in range(done):
                run.done()
            run.note(f"note {number}")
            run.close()
            counts[run.uid] = run.state.last_seq + 1
    return counts
