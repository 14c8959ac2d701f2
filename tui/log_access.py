"""The one logbook of the program: opened when first needed, closed at a clean end."""

from threading import current_thread, main_thread
from typing import TYPE_CHECKING, NamedTuple

from core.logbook.logbook import Logbook
from core.values.errors import CoreError, LogbookError

if TYPE_CHECKING:
    from core.events.state import Origin, RunSummary
    from core.jobs.job import Job, JobOperation
    from tui.app import HalfnutApp

_LONG_REPAIR = 1_000_000
"""A file of so many bytes takes some tenths of a second to repair."""


def logbook_of(app: "HalfnutApp") -> Logbook:
    """Return the logbook that all screens share; raises LogbookError where it cannot be opened: the next call tries."""
    if app.logbook is None:
        app.logbook = Logbook.open(app.paths.data, on_repair=lambda size: _say_repairing(app, size))
        app.notices_told = 0
    return app.logbook


def _say_repairing(app: "HalfnutApp", size: int) -> None:
    """Say that a long log is being repaired: no screen is painted meanwhile, and keys wait.

    In a thread of its own the repair keeps no screen waiting, and tui.log_checking has said it.
    """
    if size >= _LONG_REPAIR and current_thread() is main_thread():
        app.say_at_once("The log is damaged and is being repaired. Wait; keys are answered after that.")


def untold_notices(app: "HalfnutApp") -> str:
    """Return what the logbook has to tell, each thing once: damage is found at opening, or as a run is read."""
    notices = app.logbook.notices[app.notices_told :] if app.logbook else ()
    app.notices_told += len(notices)
    return " ".join(f"{notice[:1].upper()}{notice[1:].rstrip('.')}." for notice in notices)


def say_failure(app: "HalfnutApp", error: CoreError) -> None:
    """Say why something could not be done, after what the logbook has to tell: it may have been repaired on the way."""
    notices = untold_notices(app)
    app.say(f"{notices} {error.message}".lstrip())
    if notices:
        app.log_has_changed()


def unfinished_operation(app: "HalfnutApp") -> "JobOperation | None":
    """Return the operation of the open job whose run was opened last and is not finished.

    Raises LogbookError where the log cannot be read.
    """
    if app.job is None:
        return None
    return next((operation for operation, _ in unfinished_operations(app, app.job)), None)


def unfinished_operations(app: "HalfnutApp", job: "Job") -> "list[tuple[JobOperation, RunSummary]]":
    """Return the operations of a job whose runs are not finished, with these, the one opened last first.

    Raises LogbookError where the log cannot be read.
    """
    operations = {operation.name: operation for operation in job.operations}
    runs = logbook_of(app).unfinished(str(job.path.resolve()))
    return [(operations[run.origin.op_name], run) for run in runs if run.origin and run.origin.op_name in operations]


class OtherRun(NamedTuple):
    """An unfinished run of the open job beside the one that is counted."""

    operation: "JobOperation"
    steps_done: int
    steps: int
    """Done and still open."""


def other_runs(app: "HalfnutApp", origin: "Origin | None") -> list[OtherRun]:
    """Return the unfinished runs of the open job but the one of `origin`; [] where that is not of this job."""
    if app.job is None or origin is None or origin.job_path != str(app.job.path.resolve()):
        return []
    try:
        found = unfinished_operations(app, app.job)
    except LogbookError:
        return []
    return [
        OtherRun(operation, info.steps_done, info.steps_done + info.steps_open)
        for operation, info in found
        if operation.name != origin.op_name
    ]


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
