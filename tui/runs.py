"""Opens the counter of an operation: starts or continues its run, after asking all necessary questions."""

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from core.events.state import Origin
from core.jobs.changeover import with_set_up_step
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import ANY_RUN, RunStartedError
from core.operations.registry import PlanInput, kind_of
from core.plan import Plan
from core.run.event_words import run_names, run_progress_words
from core.run.revising import edited_input, logged_plan_input, revised_steps, still_matches
from core.values.errors import CoreError
from core.values.files import may_exist, name_of
from core.values.plain_text import counted, quoted
from tui.context import AppContext
from tui.counter.caution_page import StartPage, pages_of
from tui.counter.screen import CounterScreen
from tui.widgets.question import OneOf, YesNo

if TYPE_CHECKING:
    from core.events.state import RunSummary
    from core.jobs.job import Job, JobOperation

AS_STARTED, REPLAN_REST, START_AGAIN = range(3)


def start_without_job(context: AppContext, plan_input: PlanInput, plan: Plan) -> None:
    """Show the cautions of a plan that belongs to no job file, then start a run of it."""
    context.ask_in_turn(
        _begin(context, plan_input, plan, None, str(plan_input.parameters.get("name") or plan_input.kind))
    )


def open_run(context: AppContext, operation: "JobOperation") -> None:
    """Start an operation of the open job, or continue its run from the step where it was closed."""
    if context.job is not None:
        context.ask_in_turn(_go_on(context, context.job, operation))


async def open_instead(context: AppContext, operation: "JobOperation") -> bool:
    """Open the unfinished run of an operation in place of the top screen. Return True if it was opened."""
    if context.job is None:
        return False
    origin = origin_of(context.job, operation)
    try:
        newest = context.log.logbook().newest_run(origin.job_path, origin.op_name)
        return newest is not None and await _resume(context, operation, origin, newest.uid, instead=True)
    except CoreError as error:
        context.show_failure(error)
        return False


def origin_of(job: "Job", operation: "JobOperation") -> Origin:
    """Return the origin of a run: the job file and the operation, as the log identifies them."""
    return Origin(job_path=str(job.path.resolve()), job_title=job.title, op_name=operation.name)


async def _go_on(context: AppContext, job: "Job", operation: "JobOperation") -> None:
    origin = origin_of(job, operation)
    try:
        newest = context.log.logbook().newest_run(origin.job_path, origin.op_name)
        if newest is None:
            await _begin_or_continue(context, operation, origin)
        elif newest.status == "running":
            await _resume(context, operation, origin, newest.uid)
        elif await context.ask(
            YesNo(
                f"{quoted(operation.name)} is {newest.status}. Start another piece?",
                detail=["The log keeps the earlier run."],
            )
        ):
            await _begin(
                context,
                operation.plan_input,
                operation.plan,
                origin,
                operation.name,
                after=newest.uid,
                operation=operation,
            )
    except CoreError as error:
        context.show_failure(error)


async def _begin_or_continue(context: AppContext, operation: "JobOperation", origin: Origin) -> None:
    """Start an operation that has no run yet, or continue a run of it that was started from another folder.

    `origin` identifies the job and the operation.
    """
    other = _run_from_elsewhere(context, origin)
    if other is not None and other.origin is not None:
        question = OneOf(
            f"{quoted(operation.name)} was started from this job in another folder. What do you want to do?",
            ["Continue that run", "Start another piece"],
            detail=[
                f"Steps done: {run_progress_words(other)}.",
                f"The job file of that run was {name_of(Path(other.origin.job_path))}. It no longer exists.",
            ],
        )
        chosen = await context.ask(question)
        if chosen == 0:
            await _resume(context, operation, origin, other.uid)
        if chosen != 1:
            return
    await _begin(context, operation.plan_input, operation.plan, origin, operation.name, operation=operation)


def _run_from_elsewhere(context: AppContext, origin: Origin) -> "RunSummary | None":
    """Return an unfinished run of the same operation that was started from the job in another folder.

    Job, file and operation have the same names, but the other job file does not exist on this machine: the run comes
    from a merged log, or from a stick that now has another path. Return None if there is no such run. Raises
    LogbookError if the log cannot be read.
    """
    file_name = Path(origin.job_path).name
    for info in context.log.logbook().unfinished():
        other = info.origin
        if (
            other is not None
            and (other.job_title, other.op_name) == (origin.job_title, origin.op_name)
            and Path(other.job_path).name == file_name
            and not may_exist(Path(other.job_path))
        ):
            return info
    return None


async def _begin(
    context: AppContext,
    plan_input: PlanInput,
    plan: Plan,
    origin: Origin | None,
    name: str,
    *,
    after: str | None = None,
    operation: "JobOperation | None" = None,
) -> None:
    """Show the cautions, then start the run and open its counter.

    `origin` identifies the job and the operation of the run; None without a job file. `name` is the operation's name in
    questions. `after` is the id of the operation's newest earlier run; None if there is none. If another program has
    started a later run, ask which run to use.
    """
    if operation is not None and context.job is not None:
        # Differences left by the previous operation come first.
        plan = with_set_up_step(operation, context.job)
    try:
        if not await _cautions_read(context, plan, name):
            return
        run = ActiveRun.begin(
            context.log.logbook(),
            plan=plan,
            plan_input=logged_plan_input(plan_input),
            origin=origin,
            clock=context.clock,
            session=context.session,
            after=ANY_RUN if origin is None else after,
        )
    except RunStartedError as error:
        await _ask_about_other_program(context, plan_input, plan, origin, name, error.uid, operation)
        return
    except CoreError as error:
        context.show_failure(error)
        return
    context.log_has_changed()
    context.push_screen(_counter(context, run, asks_first=False))


async def _ask_about_other_program(
    context: AppContext,
    plan_input: PlanInput,
    plan: Plan,
    origin: Origin | None,
    name: str,
    started: str,
    operation: "JobOperation | None",
) -> None:
    """Ask which run to use, because another program has just started the same operation.

    `started` is the id of the run of the other program. `origin` identifies the job and the operation; None without a
    job file.
    """
    question = OneOf(
        f"Another copy of this program has just started {quoted(name)}. Which run do you want?",
        ["Open that run", "Start another piece"],
        detail=["Two runs of one piece would each count only some of its passes."],
    )
    chosen = await context.ask(question)
    if chosen == 0 and operation is not None and origin is not None:
        await _resume(context, operation, origin, started)
    elif chosen == 1:
        await _begin(context, plan_input, plan, origin, name, after=started, operation=operation)


async def _cautions_read(context: AppContext, plan: Plan, name: str) -> bool:
    """Show every page of cautions. Return True if the user starts the run on the last page."""
    cuts = plan.figures.get("passes")
    question = f"Start {quoted(name)}? {counted(len(plan.steps), 'step')}" + (
        f", {cuts} of them cuts." if cuts else "."
    )
    pages = pages_of(plan, question, context.size)
    for number, parts in enumerate(pages, start=1):
        if not await context.ask(StartPage(question, parts, more=number < len(pages))):
            return False
    return True


def _opened(context: AppContext, uid: str) -> ActiveRun:
    """Return the run with the id `uid`, opened for counting if possible and otherwise only for viewing.

    Raises LogbookError if the log cannot be read.
    """
    return ActiveRun.resume(context.log.logbook(), uid, clock=context.clock, session=context.session)


async def _resume(
    context: AppContext, operation: "JobOperation", origin: Origin, uid: str, *, instead: bool = False
) -> bool:
    """Continue the run with the id `uid`. Return True unless the user cancels.

    If the job file or the lathe file has changed, first ask how to continue. If `instead` is True, the counter replaces
    the top screen.
    """
    run = _opened(context, uid)
    chosen: int | None = AS_STARTED
    try:
        if not run.view_only and not still_matches(run.state.plan_input.digests, operation):
            chosen = await _ask_how_to_continue(context, run, operation.name)
        if chosen == REPLAN_REST:
            replan_rest(run, operation.plan_input)
        elif chosen == START_AGAIN:
            run.abandon("started again after the job was changed")
            context.log_has_changed()
    except CoreError:
        run.close()
        raise
    if chosen in {AS_STARTED, REPLAN_REST}:
        if instead:
            context.switch_screen(counter_of(context, run))
        else:
            context.push_screen(counter_of(context, run))
        return True
    run.close()
    if chosen == START_AGAIN:
        await _begin(
            context, operation.plan_input, operation.plan, origin, operation.name, after=uid, operation=operation
        )
    return chosen == START_AGAIN


async def _ask_how_to_continue(context: AppContext, run: ActiveRun, name: str) -> int | None:
    question = OneOf(
        f"{quoted(name)} has been changed since this run was started. How do you want to continue?",
        ["Continue as planned at the start", "Plan the remaining steps from the changed files", "Start another piece"],
        detail=[f"Done: {counted(run.state.steps_done, 'step')}."],
    )
    return await context.ask(question)


def replan_rest(run: ActiveRun, plan_input: PlanInput) -> None:
    """Plan the remaining steps of a run again, from the changed input `plan_input`.

    If the steps cannot be planned, raise CoreError and change nothing.
    """
    now, entered = edited_input(plan_input, run.state)
    run.revise(entered, revised_steps(now, run.state, entered))


def counter_of(context: AppContext, run: ActiveRun) -> CounterScreen:
    """Return the counter screen of an earlier run.

    If the run was closed or interrupted after its first step, the counter first asks what was moved on the lathe.
    """
    return _counter(context, run, asks_first=run.left != "here" and run.state.steps_done > 0)


def _counter(context: AppContext, run: ActiveRun, *, asks_first: bool) -> CounterScreen:
    """Return the counter screen for a run. A runout check has a counter screen of its own.

    If `asks_first` is True, the counter first asks what was moved on the lathe.
    """
    kind, open_other = kind_of(run.state.plan_input.kind), partial(open_instead, context)
    if kind is not None and kind.screen == "readings":
        from tui.runout.counter import RunoutCounter

        return RunoutCounter(run, open_other, asks_first=asks_first)
    return CounterScreen(run, open_other, asks_first=asks_first)


def resume_run(context: AppContext, uid: str) -> None:
    """Open the counter of the run with the id `uid` at the step where the run was closed.

    If the run cannot be opened, show the reason.
    """
    try:
        run = _opened(context, uid)
    except CoreError as error:
        context.show_failure(error)
        return
    context.push_screen(counter_of(context, run))


def abandon_run(context: AppContext, info: "RunSummary", read_again: Callable[[], None]) -> None:
    """Ask the user to confirm, then abandon an unfinished run.

    `read_again` is called afterwards to update the list of runs.
    """
    context.ask_in_turn(_abandon(context, info, read_again))


async def _abandon(context: AppContext, info: "RunSummary", read_again: Callable[[], None]) -> None:
    name, job = run_names(info)
    detail = [
        f"Steps done: {run_progress_words(info)}." + (f" Job: {job}." if job else ""),
        "The log keeps the finished steps. You cannot continue an abandoned run.",
    ]
    question = YesNo(f"Abandon the run {quoted(name)}?", yes="Abandon it", no="Keep it", detail=detail)
    if not await context.ask(question):
        return
    try:
        run = _opened(context, info.uid)
        try:
            if run.view_only:
                context.show_message(
                    f"Another copy of this program has {name} open. Close the run there, then abandon it here."
                )
                return
            run.abandon("closed for good in the list of runs")
        finally:
            run.close()
    except CoreError as error:
        context.show_message(error.message)
        return
    context.log_has_changed()
    # Return to the screen below before opening the next screen.
    context.after_this_screen(read_again)
    context.after_this_screen(
        context.show_message, f"The run {name} has been abandoned. The log keeps its finished steps."
    )
