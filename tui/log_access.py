"""The one logbook of the program: opened when first needed, closed at a clean end."""

from typing import TYPE_CHECKING

from core.errors import LogbookError
from core.logbook import Logbook

if TYPE_CHECKING:
    from core.jobs import JobOperation
    from tui.app import HalfnutApp


def logbook_of(app: "HalfnutApp") -> Logbook:
    """Return the logbook that all screens share; raises LogbookError where it cannot be opened: the next call tries."""
    if app.logbook is None:
        app.logbook = Logbook.open(app.paths.data)
        app.notices_told = 0
    return app.logbook


def untold_notices(app: "HalfnutApp") -> str:
    """Return what the logbook has to tell, each thing once: damage is found at opening, or as a run is read."""
    notices = app.logbook.notices[app.notices_told :] if app.logbook else ()
    app.notices_told += len(notices)
    return " ".join(f"{notice[:1].upper()}{notice[1:].rstrip('.')}." for notice in notices)


def unfinished_operation(app: "HalfnutApp") -> "JobOperation | None":
    """Return the operation of the open job whose run was begun last and is not finished.

    Raises LogbookError where the log cannot be read.
    """
    if app.job is None:
        return None
    unfinished = logbook_of(app).unfinished(str(app.job.path.resolve()), limit=1)
    names = {run.origin.op_name for run in unfinished if run.origin is not None}
    return next((operation for operation in app.job.operations if operation.name in names), None)


def close_logbook(app: "HalfnutApp") -> None:
    """Close the logbook, if it was opened; it can be opened again."""
    logbook, app.logbook = app.logbook, None
    if logbook is None:
        return
    try:
        logbook.close()
    except LogbookError:
        # All that was logged is on disk already; the next start takes the write-ahead log in.
        return
