"""Works something out in a thread while keys go on. Only the answer to what was asked last is ever used."""

from collections.abc import Callable
from contextlib import suppress
from threading import Thread
from typing import NamedTuple

from tui.context import AppContext


class _Asked(NamedTuple):
    """One piece of work, what to do when it is done, and what to do if the program itself fails at it."""

    work: Callable[[], object]
    done: Callable[[], None]
    failed: Callable[[str], None]
    doing: str


class LatestWork:
    """Does one piece of work at a time in a thread; of those that wait, only the latest."""

    def __init__(self, context: AppContext) -> None:
        self._context = context
        self._under_way = False
        self._wanted: _Asked | None = None
        """What was asked last; None if its answer is there or is no longer wanted."""

    @property
    def is_waited_for(self) -> bool:
        """Whether an answer is still to come."""
        return self._wanted is not None

    def ask(
        self, work: Callable[[], object], done: Callable[[], None], failed: Callable[[str], None], doing: str
    ) -> None:
        """Do `work` in a thread, then call `done`. What was asked before is dropped.

        `failed` gets a sentence if the program itself fails; `doing` is what the file of faults says about it.
        """
        self._wanted = _Asked(work, done, failed, doing)
        self._start()

    def drop(self) -> None:
        """Use no answer that is still to come."""
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

        # A worker of Textual would have to end before the program can.
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
