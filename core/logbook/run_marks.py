"""Marks of runs, stored next to the log: which runs were opened, which run was opened last, and which the user closed.

A run that was open during a power cut keeps the mark "opened". If the file of marks is lost, the program only forgets
how each run was left. The log still contains every event.
"""

import contextlib
import json
import os
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

from core.values.errors import LogbookError
from core.values.files import sync_folder

FILE_NAME = "opened.json"
_MOST_RUNS = 500
"""The number of runs that keep a mark. It is not known how an older run was left."""
_LARGEST_FILE = 100_000

Marks = dict[str, bool]
"""For each run's uid, whether the user closed the run. The run opened last is at the end."""


class RunMarks:
    """The marks of all runs in one logbook.

    If a mark cannot be written, the marks stay unchanged and no error is raised.
    """

    def __init__(self, folder: Path, held: Callable[[], AbstractContextManager[None]]) -> None:
        """Use the marks in `folder`, which is the logbook's folder.

        `held`: a function that returns a context manager, which holds the logbook's write lock.
        """
        self._path = folder / FILE_NAME
        self._held = held

    def read(self) -> Marks:
        """Return, by uid, the mark of each run; {} if the marks cannot be read.

        The value is True if the user closed the run.
        """
        try:
            if not self._path.is_file():
                return {}
            with self._path.open("rb") as file:
                rows = json.loads(file.read(_LARGEST_FILE))
            return {str(run): bool(closed) for run, closed in rows}
        except (OSError, ValueError, TypeError, RecursionError):
            return {}

    def opened(self, run: str) -> None:
        """Mark a run as the one opened last. The mark is on the disk before this method returns."""

        def mark(marks: Marks) -> None:
            marks.pop(run, None)
            marks[run] = False

        self._change(mark)

    def closed(self, run: str) -> None:
        """Mark a run as closed by the user. The mark is on the disk before this method returns."""

        def mark(marks: Marks) -> None:
            if run in marks:
                marks[run] = True

        self._change(mark)

    def ended(self, run: str) -> None:
        """Remove the mark of a run, because the run is finished or abandoned."""
        self._change(lambda marks: marks.pop(run, None))

    def _change(self, change: Callable[[Marks], object]) -> None:
        # A full disk or a folder without permission must not stop a run from being opened or closed.
        with contextlib.suppress(OSError, LogbookError), self._held():
            marks = self.read()
            change(marks)
            rows = list(marks.items())[-_MOST_RUNS:]
            self._replace(json.dumps(rows).encode("ascii"))

    def _replace(self, content: bytes) -> None:
        """Replace the content of the file of marks in one step.

        After a power cut, the file is either the old or the new one.
        """
        new = self._path.with_name(f"{FILE_NAME}.new")
        handle = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_NOFOLLOW, 0o644)
        try:
            if os.pwrite(handle, content, 0) != len(content):
                raise OSError("no room for the marks")
            os.fsync(handle)
        finally:
            os.close(handle)
        new.replace(self._path)
        sync_folder(self._path.parent)
