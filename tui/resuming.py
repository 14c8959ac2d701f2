"""What can be done with a run that the log has, whether or not a job is open: continue it, or abandon it."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from core.logbook.active_run import ActiveRun
from core.run.event_words import run_names, run_progress_words
from core.values.errors import CoreError
from tui.log_access import logbook_of, say_failure
from tui.runs import counter_for

if TYPE_CHECKING:
    from core.events.state import RunSummary
    from tui.app import HalfnutApp


def go_on_run(app: "HalfnutApp", uid: str) -> None:
    """Open the counter of a run where it was left; what keeps it from that is said."""
    try:
        run = ActiveRun.resume(logbook_of(app), uid, clock=app.clock, session=app.session)
    except CoreError as error:
        say_failure(app, error)
        return
    app.push_screen(counter_for(run))


def abandon_run(app: "HalfnutApp", info: "RunSummary", read_again: Callable[[], None]) -> None:
    """Ask once, then close an unfinished run for good; `read_again` shows it so."""
    app.ask_in_turn(_abandon(app, info, read_again))


async def _abandon(app: "HalfnutApp", info: "RunSummary", read_again: Callable[[], None]) -> None:
    from tui.screens.ask import YesNo

    name, job = run_names(info)
    detail = [
        f"Steps done: {run_progress_words(info)}." + (f" Job: {job}." if job else ""),
        "The log keeps what was done. The run cannot be continued after that.",
    ]
    question = YesNo(f"Abandon the run {name} for good?", yes="Abandon it", no="Keep it", detail=detail)
    if not await app.push_screen_wait(question):
        return
    try:
        run = ActiveRun.resume(logbook_of(app), info.uid, clock=app.clock, session=app.session)
        try:
            if run.view_only:
                app.say(f"{name} is open elsewhere. Close it there first, then abandon it.")
                return
            run.abandon("closed for good in the list of runs")
        finally:
            run.close()
    except CoreError as error:
        app.say(error.message)
        return
    app.log_has_changed()
    # The screen below comes back first.
    app.screen.call_later(read_again)
    app.screen.call_later(app.say, f"{name} is abandoned. The log keeps what was done.")
