"""Makes runs for tests through the program's own functions, on a clock that the test sets."""

from fractions import Fraction
from pathlib import Path

from core.events.state import Origin
from core.jobs.job import Job, read_job
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.operations.registry import PlanInput
from core.plan import Plan, Step
from core.run.revising import logged_plan_input
from core.values.dials import Setting
from tui.terminal import TimeSource

JOB = """\
format = 1
title = "Gnomon base"
material = "brass"

[[operation]]
kind = "turn"
name = "Rough the base"
from = "24 mm"
to = "20 mm"
cut = "0.5 mm"
finish = "0.1 mm"

[[operation]]
kind = "by_hand"
name = "Deburr"
text = "Break every edge."

[[operation]]
kind = "thread"
name = "Thread the stem"
thread = "M10"
length = "12 mm"
"""


def job_file(folder: Path, text: str = JOB, name: str = "base.toml") -> Path:
    """Write a job file and return its path."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def begin(book: Logbook, job: Job, name: str, clock: TimeSource, session: str = "earlier") -> ActiveRun:
    """Start a run of the operation `name` of a job."""
    operation = next(operation for operation in job.operations if operation.name == name)
    origin = Origin(job_path=str(job.path.resolve()), job_title=job.title, op_name=name)
    return ActiveRun.begin(
        book,
        plan=operation.plan,
        plan_input=logged_plan_input(operation.plan_input),
        origin=origin,
        clock=clock,
        session=session,
    )


def begin_by_hand(book: Logbook, plan_input: PlanInput, plan: Plan, clock: TimeSource) -> ActiveRun:
    """Start a run from a plan that the test has made, without a job."""
    return ActiveRun.begin(
        book, plan=plan, plan_input=logged_plan_input(plan_input), origin=None, clock=clock, session="earlier"
    )


def run_through(run: ActiveRun) -> None:
    """Do all remaining steps of a run and finish it."""
    while run.state.cursor is not None:
        run.done()
    run.finish()


def pinned_collar_plan() -> Plan:
    """Return two cuts of 0.030 and 0.050 in on a compound whose dial cannot be set to zero."""
    zero = Setting(dial="compound", unit="in", position=Fraction(0), turns=0, reading=Fraction(0), rounding=0.0)
    steps = [
        Step(id=1, action="set", text="Touch off", settings=(zero,), zeroed_dials=("compound",), expects="reading"),
        *(
            Step(
                id=number,
                action="cut",
                text=f"Cut: compound to {position} in",
                settings=(
                    Setting(
                        dial="compound",
                        unit="in",
                        position=Fraction(str(position)),
                        # The collar has 0.040 in to the turn.
                        turns=int(Fraction(str(position)) // Fraction("0.040")),
                        reading=Fraction(str(position)) % Fraction("0.040"),
                        rounding=0.0,
                    ),
                ),
                depth_mm=depth,
                removed_mm=0.25,
                remaining_mm=left,
            )
            for number, position, depth, left in ((2, 0.03, 0.25, 0.25), (3, 0.05, 0.5, 0.0))
        ),
    ]
    return Plan(steps=tuple(steps))


def sample(name: str) -> Job:
    """Return one of the sample jobs."""
    return read_job(Path(__file__).parents[2] / "sample_jobs" / name)
