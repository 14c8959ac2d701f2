"""Drops keys while too many keys wait to be handled, for example when a pasted text arrives as single keys."""

import time

from textual.driver import Driver
from textual.events import Key
from textual.message import Message

MOST_WAITING = 1_000
"""The most keys that may wait. A held key sends so many only after many seconds; a pasted file sends far more."""
QUIET_S = 0.5
"""The time without a key after which a flood of keys is over [s]."""


class KeyFlood:
    """Counts the keys that wait to be handled, and drops new keys while too many wait.

    `admit` is called in the thread that reads the terminal. The other methods are called in the main thread.
    """

    def __init__(self) -> None:
        self._admitted = self._answered = self._dropped = 0
        self._is_flood = False
        self._last_s = 0.0

    def admit(self, time_s: float) -> bool:
        """Return True if a key that arrived at `time_s` [s] is accepted. During a flood, no key is accepted."""
        if self._is_flood and time_s - self._last_s >= QUIET_S:
            self._is_flood = False
        self._last_s = time_s
        if self._is_flood or self._admitted - self._answered >= MOST_WAITING:
            self._is_flood = True
            self._dropped += 1
            return False
        self._admitted += 1
        return True

    def answered(self) -> str:
        """Record that a key was handled. Return a message about dropped keys; "" if there is nothing to report.

        A message is returned only once after each flood.
        """
        self._answered += 1
        if not self._dropped or self._is_flood or self._answered < self._admitted:
            return ""
        dropped, self._dropped = self._dropped, 0
        return f"{dropped} keys arrived too fast and were ignored. Check the screen before you continue."


def limited_driver(driver_class: type[Driver], flood: KeyFlood) -> type[Driver]:
    """Return a driver class that drops keys while too many keys wait. `flood` counts the waiting keys.

    Each waiting key takes kilobytes of memory and delays everything after it.
    """

    class LimitedDriver(driver_class):  # type: ignore[misc, valid-type]
        def send_message(self, message: Message) -> None:
            """Pass a message to the program, unless it is a key that `flood` does not accept."""
            if not isinstance(message, Key) or flood.admit(time.monotonic()):
                super().send_message(message)

    return LimitedDriver
