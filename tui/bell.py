"""Rings the terminal's bell.

The bell rings once when a pass is logged, twice when the user has to measure, and three times when logging fails.
"""

import asyncio
from collections.abc import Callable
from enum import IntEnum

BETWEEN_S = 0.15
"""The time between two rings of one pattern [s]."""
PAUSE_S = 0.45
"""The pause between two patterns, which keeps them distinct [s]."""


class Sound(IntEnum):
    """The events that ring the bell, each with its number of rings."""

    LOGGED = 1
    MEASURE = 2
    NOT_LOGGED = 3


class Bell:
    """Rings the terminal's bell in patterns of one to three rings. Keys never wait for the bell."""

    def __init__(self, sound_once: Callable[[], object], is_on: Callable[[], bool]) -> None:
        """Make a bell that does not ring yet.

        `sound_once` rings the bell once. `is_on` returns True if the user has switched the bell on.
        """
        self._ring, self._is_on = sound_once, is_on
        self._sound: Sound | None = None
        """The pattern that is ringing now."""
        self._left = 0
        self._last_s = -PAUSE_S
        self._next: asyncio.TimerHandle | None = None

    def say(self, sound: Sound) -> None:
        """Ring as often as `sound` requires, if the user has switched the bell on.

        A different pattern that is still ringing is cut short. If the same pattern is still ringing, it continues.
        """
        if not self._is_on() or sound is self._sound:
            return
        self._sound, self._left = sound, int(sound)
        self._at(self._last_s + PAUSE_S)

    def _at(self, time_s: float) -> None:
        loop = asyncio.get_running_loop()
        if self._next is not None:
            self._next.cancel()
        self._next = loop.call_at(max(time_s, loop.time()), self._stroke)

    def _stroke(self) -> None:
        self._ring()
        self._last_s, self._left = asyncio.get_running_loop().time(), self._left - 1
        if self._left:
            self._at(self._last_s + BETWEEN_S)
        else:
            self._sound = self._next = None
