"""From an operation to its counter: begin a run, go on with one, and what must be asked before."""

from typing import TYPE_CHECKING

from core.events.state import Origin
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import ANY_RUN, RunStartedError
from core.operations.registry import Basis, kind_of
from core.plan import Plan
from core.run.progress import edited, goes_by, revised_steps, run_basis_of
from core.values.errors import CoreError
from core.values.plain_text import counted
from tui.log_access import logbook_of, say_failure
from tui.screens.ask import OneOf, YesNo
from tui.screens.caution_page import StartPage, pages_of
from tui.screens.counter import CounterScreen

if TYPE_CHECKING:
    from core.jobs.job import Job, JobOperation
    from tui.app import HalfnutApp

AS_BEGUN, ANEW, AFRESH = range(3)


def begin_ad_hoc(app: "HalfnutApp", basis: Basis, plan: Plan) -> None:
    """Begin a run that no job file holds."""
    app.ask_in_turn(_begin(app, basis, plan, None, str(basis.parameters.get("name") or basis.kind)))


def go_on(app: "HalfnutApp", operation: "JobOperation") -> None:
    """Go on with an operation of the open job where it was left, or begin it."""
    if app.job is not None:
        app.ask_in_turn(_go_on(app, app.job, operation))


async def open_instead(app: "HalfnutApp", operation: "JobOperation") -> bool:
    """Open the unfinished run of an operation in the place of the screen on top; tell whether it was opened."""
    if app.job is None:
        return False
    origin = origin_of(app.job, operation)
    try:
        found = logbook_of(app).newest_run(origin.job_path, origin.op_name)
        return found is not None and await _resume(app, operation, origin, found.uid, instead=True)
    except CoreError as error:
        say_failure(app, error)
        return False


def origin_of(job: "Job", operation: "JobOperation") -> Origin:
    """Return how the log names an operation of a job."""
    return Origin(job_path=str(job.path.resolve()), job_title=job.title, op_name=operation.name)


async def _go_on(app: "HalfnutApp", job: "Job", operation: "JobOperation") -> None:
    origin = origin_of(job, operation)
    try:
        found = logbook_of(app).newest_run(origin.job_path, origin.op_name)
        if found is None:
            await _begin(app, operation.basis, operation.plan, origin, operation.name, operation=operation)
        elif found.status == "running":
            await _resume(app, operation, origin, found.uid)
        elif await app.push_screen_wait(
            YesNo(f"{operation.name} is {found.status}. Begin another piece?", detail=["The log keeps what was done."])
        ):
            await _begin(
                app, operation.basis, operation.plan, origin, operation.name, after=found.uid, operation=operation
            )
    except CoreError as error:
        say_failure(app, error)


async def _begin(
    app: "HalfnutApp",
    basis: Basis,
    plan: Plan,
    origin: Origin | None,
    name: str,
    *,
    after: str | None = None,
    operation: "JobOperation | None" = None,
) -> None:
    """Show the cautions once, then begin and open the counter.

    `after` is the newest run of the operation so far; of one that another program has started meanwhile it is asked.
    """
    try:
        if not await _agreed(app, plan, name):
            return
        run = ActiveRun.begin(
            logbook_of(app),
            plan=plan,
            basis=run_basis_of(basis),
            origin=origin,
            clock=app.clock,
            session=app.session,
            after=ANY_RUN if origin is None else after,
        )
    except RunStartedError as error:
        await _begin_beside(app, basis, plan, origin, name, error.uid, operation)
        return
    except CoreError as error:
        say_failure(app, error)
        return
    app.log_has_changed()
    app.push_screen(_counter(run, asks_first=False))


async def _begin_beside(
    app: "HalfnutApp",
    basis: Basis,
    plan: Plan,
    origin: Origin | None,
    name: str,
    started: str,
    operation: "JobOperation | None",
) -> None:
    """Ask what to do about a run of the same operation that another program started while this one was asking."""
    question = OneOf(
        f"Another program has started {name} meanwhile. Which run do you want?",
        ["That one", "Start another piece"],
        detail=["Two runs of one piece would each count half of its passes."],
    )
    chosen = await app.push_screen_wait(question)
    if chosen == 0 and operation is not None and origin is not None:
        await _resume(app, operation, origin, started)
    elif chosen == 1:
        await _begin(app, basis, plan, origin, name, after=started, operation=operation)


async def _agreed(app: "HalfnutApp", plan: Plan, name: str) -> bool:
    """Show every page of cautions, and tell whether the run is to be started after the last."""
    cuts = plan.figures.get("passes")
    question = f"Start: {name}? {counted(len(plan.steps), 'step')}" + (f", {cuts} of them cuts." if cuts else ".")
    pages = pages_of(plan, question, app.size)
    for number, parts in enumerate(pages, start=1):
        if not await app.push_screen_wait(StartPage(question, parts, more=number < len(pages))):
            return False
    return True


async def _resume(
    app: "HalfnutApp", operation: "JobOperation", origin: Origin, uid: str, *, instead: bool = False
) -> bool:
    """Continue a run, and tell whether its counter was opened; where job or lathe file have changed since, ask how.

    `instead`: its counter takes the place of the screen on top.
    """
    run = ActiveRun.resume(logbook_of(app), uid, clock=app.clock, session=app.session)
    chosen: int | None = AS_BEGUN
    try:
        if not run.view_only and not goes_by(run.state.basis.digest, operation):
            chosen = await _how_to_go_on(app, run, operation.name)
        if chosen == ANEW:
            plan_anew(run, operation.basis)
        elif chosen == AFRESH:
            run.abandon("begun afresh after the job was changed")
            app.log_has_changed()
    except CoreError:
        run.close()
        raise
    if chosen in {AS_BEGUN, ANEW}:
        if instead:
            app.switch_screen(counter_for(run))
        else:
            app.push_screen(counter_for(run))
        return True
    run.close()
    if chosen == AFRESH:
        await _begin(app, operation.basis, operation.plan, origin, operation.name, after=uid, operation=operation)
    return chosen == AFRESH


async def _how_to_go_on(app: "HalfnutApp", run: ActiveRun, name: str) -> int | None:
    question = OneOf(
        f"{name} has been changed since this run was begun. How to go on?",
        ["As it was begun", "Plan the rest anew, as the files are now", "Begin afresh with another piece"],
        detail=[f"Done: {counted(run.state.steps_done, 'step')}."],
    )
    return await app.push_screen_wait(question)


def plan_anew(run: ActiveRun, basis: Basis) -> None:
    """Plan what is left of a run from another basis; raises CoreError and changes nothing."""
    now, entered = edited(basis, run.state)
    run.revise(entered, revised_steps(now, run.state, entered))


def counter_for(run: ActiveRun) -> CounterScreen:
    """Return the counter of a run that was begun before; of one left by another session it asks what was moved."""
    return _counter(run, asks_first=run.left != "here" and run.state.steps_done > 0)


def _counter(run: ActiveRun, *, asks_first: bool) -> CounterScreen:
    """Return the counter for a run: the one that reads an indicator where that is what it does."""
    kind = kind_of(run.state.basis.kind)
    if kind is not None and kind.screen == "readings":
        from tui.screens.runout_reading import RunoutCounter

        return RunoutCounter(run, asks_first=asks_first)
    return CounterScreen(run, asks_first=asks_first)
