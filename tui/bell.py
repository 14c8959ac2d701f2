"""What the terminal's bell says to someone who watches the tool: logged, measure now, not logged."""

import asyncio
from collections.abc import Callable
from enum import IntEnum

BETWEEN_S = 0.15
"""From one stroke of a pattern to the next [s]."""
PAUSE_S = 0.45
"""From the last stroke of a pattern to the first of the next one, so that they sound different [s]."""


class Sound(IntEnum):
    """What the bell says, and by how many strokes."""

    LOGGED = 1
    MEASURE = 2
    NOT_LOGGED = 3


class Bell:
    """Rings patterns one after the other. No key waits for it."""

    def __init__(self, sound_once: Callable[[], object], is_on: Callable[[], bool]) -> None:
        """`sound_once` sounds the bell once. `is_on` returns whether the user wants to hear it."""
        self._ring, self._is_on = sound_once, is_on
        self._sound: Sound | None = None
        """The pattern that rings now."""
        self._left = 0
        self._last_s = -PAUSE_S
        self._next: asyncio.TimerHandle | None = None

    def say(self, sound: Sound) -> None:
        """Ring a pattern, in place of what is left of another one. The one that rings already is not rung twice."""
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
