"""Counts passes in the counter, run after run, and prints the memory used.

Start it with `python -m tests.bench.passes DATA JOB`.
"""

import asyncio
import gc
import json
import sys
from pathlib import Path

from core.jobs.job import JobOperation
from core.logbook.active_run import ActiveRun
from core.run.revising import logged_plan_input
from tests.bench.programs import resident_mb
from tui.__main__ import make_app
from tui.app import START_S, HalfnutApp
from tui.counter.screen import CounterScreen
from tui.paths import user_paths
from tui.presses import Presses
from tui.terminal import SYSTEM_CLOCK, Terminal
from tui.widgets.base_screen import BaseScreen

PASSES, IN_A_RUN = 10_000, 100


class BelowCounter(BaseScreen[None]):
    """An empty screen below the counter screens."""

    AUTO_FOCUS = ""


async def one_run(app: HalfnutApp, operation: JobOperation) -> int:
    """Count one run to its end, and return how many passes it had."""
    run = ActiveRun.begin(
        app.context.log.logbook(),
        operation.plan,
        logged_plan_input(operation.plan_input),
        None,
        SYSTEM_CLOCK,
        app.context.session,
    )
    counter = CounterScreen(run)
    await app.push_screen(counter)
    for number in range(IN_A_RUN):
        counter.call_later(counter.action_done)
        while run.state.steps_done == number:
            await asyncio.sleep(0)
    run.finish(early=True)
    await counter.dismiss()
    return run.state.steps_done


async def count(data: Path, job: Path) -> dict[str, float]:
    """Count at least PASSES passes. Return the memory used after the first run and after the last run [MB]."""
    # The program itself starts without garbage collection.
    gc.disable()
    app = make_app(
        user_paths(data), SYSTEM_CLOCK, Terminal(), job=job, opening=BelowCounter, presses=Presses(quiet_s=0.0)
    )
    assert app.context.job is not None
    async with app.run_test(size=(80, 24)):
        await asyncio.sleep(START_S + 0.5)
        early = passes = await one_run(app, app.context.job.operations[0])
        early_mb = resident_mb()
        while passes < PASSES:
            passes += await one_run(app, app.context.job.operations[0])
    return {"passes": passes, "early": early, "early_mb": early_mb, "memory_mb": resident_mb()}


if __name__ == "__main__":
    print(json.dumps(asyncio.run(count(Path(sys.argv[1]), Path(sys.argv[2])))))
