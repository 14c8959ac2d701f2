"""Runs calculations in a thread while the program handles keys. Only the latest request receives its result."""

from collections.abc import Callable
from contextlib import suppress
from threading import Thread
from typing import NamedTuple

from tui.context import AppContext


class _Asked(NamedTuple):
    """A request: a calculation, the function to call after it, and the function to call after an unexpected error."""

    work: Callable[[], object]
    done: Callable[[], None]
    failed: Callable[[str], None]
    doing: str


class LatestWork:
    """Runs one calculation at a time in a thread. Of all waiting requests, only the latest is kept."""

    def __init__(self, context: AppContext) -> None:
        self._context = context
        self._under_way = False
        self._wanted: _Asked | None = None
        """The latest request; None if its result has arrived or is no longer wanted."""

    @property
    def is_waited_for(self) -> bool:
        """True while the result of a request is still expected."""
        return self._wanted is not None

    def ask(
        self, work: Callable[[], object], done: Callable[[], None], failed: Callable[[str], None], doing: str
    ) -> None:
        """Run `work` in a thread and then call `done`. This request replaces any earlier one.

        If an unexpected error occurs, `failed` is called instead, with a sentence about the error. `doing` describes
        the work for the fault file.
        """
        self._wanted = _Asked(work, done, failed, doing)
        self._start()

    def drop(self) -> None:
        """Ignore the result of the present request, so that none of its functions is called."""
        self._wanted = None

    def _start(self) -> None:
        asked = self._wanted
        if asked is None or self._under_way:
            return
        self._under_way = True

        def run() -> None:
            fault = self._context.faults.guard(asked.work, asked.doing)
            # The program may have ended by now.
            with suppress(RuntimeError):
                self._context.call_later(self._ended, asked, fault)

        # The program could not end before a Textual worker ends.
        Thread(target=run, name="planning", daemon=True).start()

    def _ended(self, asked: _Asked, fault: str) -> None:
        self._under_way = False
        if asked is not self._wanted:
            self._start()
            return
        self._wanted = None
        if fault:
            asked.failed(fault)
        else:
            asked.done()
