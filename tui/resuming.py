"""Going on with a run that the log has, whether or not a job is open."""

from typing import TYPE_CHECKING

from core.errors import CoreError
from core.running import ActiveRun
from tui.log_access import logbook_of, say_failure
from tui.runs import counter_for

if TYPE_CHECKING:
    from tui.app import HalfnutApp


def go_on_run(app: "HalfnutApp", uid: str) -> None:
    """Open the counter of a run where it was left; what keeps it from that is said."""
    try:
        run = ActiveRun.resume(logbook_of(app), uid, clock=app.clock, session=app.session)
    except CoreError as error:
        say_failure(app, error)
        return
    app.push_screen(counter_for(run))
