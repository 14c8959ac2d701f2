"""Turns unexpected errors of the program into messages for the user, and saves their details in a file."""

import traceback
from collections.abc import Callable
from pathlib import Path

from core.values.errors import FileError
from core.values.files import name_of, read_text, write_text
from core.values.plain_text import clean, sentence
from tui.terminal import TimeSource

FILE_NAME = "faults.txt"
"""The name of the fault file in the log's folder. The newest fault is at the end of the file."""
_LARGEST = 200_000


class FaultFile:
    """The file that records the details of unexpected errors."""

    def __init__(self, folder: Path, clock: TimeSource) -> None:
        self._path, self._clock = folder / FILE_NAME, clock

    def guard(self, work: Callable[[], object], doing: str) -> str:
        """Run `work`. Return "", or a message for the user if `work` raised an unexpected error.

        `doing` says what the user was doing: on which screen, and with which text. It is saved with the details of the
        error.
        """
        try:
            work()
        except Exception as error:
            # Every exception is caught here, and only here, on purpose. A calculation between two keys
            # must not end the program, whatever the error. A run may be open at the same time, and the
            # typed text would be lost. Work that writes to the log never runs inside this guard.
            details = self.keep(error, doing)
            return f"This value causes an error in the program. Enter another value. {details}"
        return ""

    def keep(self, error: Exception, doing: str) -> str:
        """Append the details of an error to the fault file, with `doing`, which says what the user was doing.

        Return a sentence that says where the details are, or why they could not be saved.
        """
        record = f"{clean(doing, 2_000)}\n{''.join(traceback.format_exception(error))}\n"
        try:
            before = read_text(self._path) if self._path.exists() else ""
            # The same text in a field fails again at every key. One record is enough.
            if record not in before:
                self._path.parent.mkdir(parents=True, exist_ok=True)
                write_text(self._path, f"{before}{self._clock.wall()} {record}"[-_LARGEST:])
        except (OSError, FileError) as failed:
            reason = failed.message if isinstance(failed, FileError) else clean(failed.strerror or "unknown reason")
            return sentence(f"The details cannot be saved: {reason}")
        return f"The details are in {name_of(self._path)}."
