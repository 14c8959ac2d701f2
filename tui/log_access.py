"""The logbook that the whole program shares.

It is opened when it is first needed, and closed when the program ends cleanly.
"""

from collections.abc import Callable
from pathlib import Path
from threading import current_thread, main_thread
from typing import TYPE_CHECKING, NamedTuple

from core.values.errors import LogbookError
from core.values.plain_text import sentence

if TYPE_CHECKING:
    from core.events.state import Origin, RunSummary
    from core.jobs.job import Job, JobOperation
    from core.logbook.logbook import Logbook
    from core.operations.dividing.steps import Pace

_RUNS_FOR_PACE, _EVENTS_FOR_PACE, _ENOUGH_FOR_PACE = 200, 250, 60
"""Limits for finding the user's pace: the most runs, the most events of each run, and a sufficient number of passes."""
REPAIRING = "The log is damaged. Wait while the program repairs it. Your keys take effect afterwards."
_LONG_REPAIR = 1_000_000
"""The log size from which a repair takes some tenths of a second [bytes]."""


class OtherRun(NamedTuple):
    """An unfinished run of the open job that belongs to an operation other than the present one."""

    operation: "JobOperation"
    steps_done: int
    steps: int
    """The number of all steps of the run, done and remaining."""


class LogAccess:
    """Opens the shared logbook and remembers which of its notices the user has seen."""

    def __init__(self, folder: Path, show_repairing: Callable[[], object]) -> None:
        """Use the log in `folder`. `show_repairing` shows a message that a large log is being repaired.

        During the repair, keys wait and nothing is painted.
        """
        self._folder, self._show_repairing = folder, show_repairing
        self._notices_said = 0
        self._paces: dict[tuple[str, str], Pace | None] = {}
        self.opened: Logbook | None = None
        """The logbook; None before its first use, because opening a logbook would delay the first screen."""

    def logbook(self) -> "Logbook":
        """Return the logbook, and open it first if necessary.

        Raises LogbookError if it cannot be opened. The next call then tries again.
        """
        from core.logbook.logbook import Logbook

        if self.opened is None:
            self.opened = Logbook.open(self._folder, on_repair=self._repairing)
            self._notices_said = 0
        return self.opened

    def _repairing(self, size: int) -> None:
        # A repair in a thread blocks no screen, and tui.log_check has already shown a message.
        if size >= _LONG_REPAIR and current_thread() is main_thread():
            self._show_repairing()

    def new_notices(self) -> str:
        """Return the notices that the logbook has added since the last call; "" if there are none.

        Opening the logbook or reading a damaged run may add notices.
        """
        notices = self.opened.notices[self._notices_said :] if self.opened else ()
        self._notices_said += len(notices)
        return " ".join(map(sentence, notices))

    def unfinished_operation(self, job: "Job | None") -> "JobOperation | None":
        """Return the operation of `job` whose unfinished run was opened last.

        Return None if `job` is None or has no unfinished run. Raises LogbookError if the log cannot be read.
        """
        if job is None:
            return None
        return next((operation for operation, _ in self._unfinished(job)), None)

    def other_runs(self, job: "Job | None", origin: "Origin | None") -> list[OtherRun]:
        """Return the unfinished runs of the job's other operations, the most recently opened run first.

        `origin` identifies the present operation. Return [] if that is not an operation of the open job `job`, or if
        the log cannot be read.
        """
        if job is None or origin is None or origin.job_path != str(job.path.resolve()):
            return []
        try:
            unfinished = self._unfinished(job)
        except LogbookError:
            return []
        return [
            OtherRun(operation, info.steps_done, info.steps_done + info.steps_open)
            for operation, info in unfinished
            if operation.name != origin.op_name
        ]

    def _unfinished(self, job: "Job") -> "list[tuple[JobOperation, RunSummary]]":
        operations = {operation.name: operation for operation in job.operations}
        runs = self.logbook().unfinished(str(job.path.resolve()))
        return [
            (operations[run.origin.op_name], run) for run in runs if run.origin and run.origin.op_name in operations
        ]

    def pace(self, kind: str, lathe_name: str) -> "Pace | None":
        """Return how long a pass usually takes for a kind of operation on a lathe.

        Return None if too few passes are logged, or if the log cannot be read. The result is kept until `forget_paces`
        is called.
        """
        key = kind, lathe_name
        if key not in self._paces:
            try:
                self._paces[key] = self._read_pace(kind, lathe_name)
            except LogbookError:
                self._paces[key] = None
        return self._paces[key]

    def forget_paces(self) -> None:
        """Forget the usual times of passes, because more passes have been logged."""
        self._paces.clear()

    def _read_pace(self, kind: str, lathe_name: str) -> "Pace | None":
        from core.record.lathe_record import pace_of
        from core.record.observations import PassTime, pass_times

        times: list[PassTime] = []
        logbook = self.logbook()
        for run in logbook.runs(limit=_RUNS_FOR_PACE):
            if run.kind != kind or not run.steps_done or len(times) >= _ENOUGH_FOR_PACE:
                continue
            begun = logbook.events_from(run.uid, 0, 1)
            if begun and begun[0].body.get("lathe_name") == lathe_name:
                first = max(1, run.last_seq + 1 - _EVENTS_FOR_PACE)
                times += pass_times([*begun, *logbook.events_from(run.uid, first, _EVENTS_FOR_PACE)])
        return pace_of(kind, times)

    def close(self) -> None:
        """Close the logbook if it is open. A later use opens it again."""
        logbook, self.opened = self.opened, None
        if logbook is None:
            return
        try:
            logbook.close()
        except LogbookError:
            # Every logged event is already on disk. The next start reads the write-ahead log.
            return
