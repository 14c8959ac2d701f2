"""What can be done with a run that the log has, whether or not a job is open: continue it, or abandon it."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from core.errors import CoreError
from core.event_words import run_names, standing_words
from core.running import ActiveRun
from tui.context import AppContext
from tui.runs import counter_for

if TYPE_CHECKING:
    from core.logbook_schema import RunInfo


def go_on_run(context: AppContext, uid: str) -> None:
    """Open the counter of a run where it was left; what keeps it from that is said."""
    try:
        run = ActiveRun.resume(context.log.logbook(), uid, clock=context.clock, session=context.session)
    except CoreError as error:
        context.say_failure(error)
        return
    context.push_screen(counter_for(context, run))


def abandon_run(context: AppContext, info: "RunInfo", read_again: Callable[[], None]) -> None:
    """Ask once, then close an unfinished run for good; `read_again` shows it so."""
    context.ask_in_turn(_abandon(context, info, read_again))


async def _abandon(context: AppContext, info: "RunInfo", read_again: Callable[[], None]) -> None:
    from tui.screens.ask import YesNo

    name, job = run_names(info)
    detail = [
        f"Steps done: {standing_words(info)}." + (f" Job: {job}." if job else ""),
        "The log keeps what was done. The run cannot be continued after that.",
    ]
    question = YesNo(f"Abandon the run {name} for good?", yes="Abandon it", no="Keep it", detail=detail)
    if not await context.ask(question):
        return
    try:
        run = ActiveRun.resume(context.log.logbook(), info.uid, clock=context.clock, session=context.session)
        try:
            if run.looks_on:
                context.say(f"{name} is open elsewhere. Close it there first, then abandon it.")
                return
            run.abandon("closed for good in the list of runs")
        finally:
            run.close()
    except CoreError as error:
        context.say(error.message)
        return
    context.log_has_changed()
    # The screen below comes back first.
    context.after_this_screen(read_again)
    context.after_this_screen(context.say, f"{name} is abandoned. The log keeps what was done.")
