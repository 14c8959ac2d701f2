"""Drops keys that come faster than they can be handled, as when a terminal sends a pasted text key by key."""

import time

from textual.driver import Driver
from textual.events import Key
from textual.message import Message

MOST_WAITING = 1_000
"""How many keys may wait. A key held down takes many seconds to send so many; a pasted file has far more."""
QUIET_S = 0.5
"""A flood of keys is over when no key has come for this time [s]."""


class KeyFlood:
    """Counts the keys that wait, and drops keys while they are too many.

    `admit` is called in the thread that reads the terminal, the other methods in the program's own.
    """

    def __init__(self) -> None:
        self._admitted = self._answered = self._dropped = 0
        self._is_flood = False
        self._last_s = 0.0

    def admit(self, time_s: float) -> bool:
        """Return whether to accept a key that came at a time [s]. In a flood no key is accepted until it is over."""
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
        """Note that a key was handled. Return a message about dropped keys, but only once; else ""."""
        self._answered += 1
        if not self._dropped or self._is_flood or self._answered < self._admitted:
            return ""
        dropped, self._dropped = self._dropped, 0
        return f"{dropped} keys came all at once and were dropped. Check what is on the screen."


def limited_driver(driver_class: type[Driver], flood: KeyFlood) -> type[Driver]:
    """Return a class of driver that drops keys while too many are waiting, and passes on everything else.

    Each waiting key takes kilobytes of memory, and everything else would have to wait until it is handled.
    """

    class LimitedDriver(driver_class):  # type: ignore[misc, valid-type]
        def send_message(self, message: Message) -> None:
            """Pass a message on to the program, unless it is a key in a flood."""
            if not isinstance(message, Key) or flood.admit(time.monotonic()):
                super().send_message(message)

    return LimitedDriver
