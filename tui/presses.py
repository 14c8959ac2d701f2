"""Tells a hand that presses Space or Enter from a held key, a bouncing switch and a leftover press."""

from collections import deque
from typing import NamedTuple

COUNT_KEYS = frozenset({"space", "enter"})
QUIET_S = 0.8
_REMEMBERED = 256


class _Press(NamedTuple):
    time_s: float
    key: str
    screen: int
    alone: bool
    """No Space or Enter came in the quiet time before."""


class Presses:
    """The latest key presses, by the key events' own time [s], and the screens they were meant for."""

    def __init__(self, quiet_s: float = QUIET_S) -> None:
        self.quiet_s = quiet_s
        self._presses: deque[_Press] = deque(maxlen=_REMEMBERED)
        self._handled_s: float | None = None
        self._counting_s: float | None = None
        """When Space or Enter was pressed last."""

    def note(self, time_s: float, key: str, screen: int) -> bool:
        """Note a key pressed while `screen` is on top; return False where it must be dropped.

        Dropped is a Space or Enter that follows another one within the quiet time, with
        no other key between, though that one was meant for another screen: the key is
        still held or bounces, and must not answer the question it has opened.
        """
        before = self._presses[-1] if self._presses else None
        leftover = (
            before is not None
            and key in COUNT_KEYS
            and before.key in COUNT_KEYS
            and time_s - before.time_s < self.quiet_s
            and before.screen != screen
        )
        # A leftover still belongs to the screen of the press before it, so that all of them are dropped.
        self._handled_s = time_s
        alone = self._counting_s is None or time_s - self._counting_s >= self.quiet_s
        self._presses.append(_Press(time_s, key, before.screen if before and leftover else screen, alone))
        if key in COUNT_KEYS:
            self._counting_s = time_s
        return not leftover

    def alone(self, time_s: float) -> bool:
        """Tell whether no Space or Enter came in the quiet time before the press at `time_s`.

        A press so long past that it is forgotten came in a flood of keys: it is not alone.
        """
        found = self._at(time_s)
        return bool(found) and all(press.alone for press in found)

    def comes_back(self, time_s: float, key: str, screen: int) -> bool:
        """Tell whether a key that no widget took may run an action: only on the screen it was meant for."""
        self._handled_s = time_s
        found = self._at(time_s)
        return bool(found) and all(press.screen == screen for press in found)

    def _at(self, time_s: float) -> list[_Press]:
        return [press for press in self._presses if press.time_s == time_s]

    def latest_is_alone(self) -> bool:
        """Tell, inside an action, whether the press that runs it is alone.

        Of a bounce the first press runs its action when the second has been noted
        already, so the latest noted would be the wrong one to ask about.
        """
        return self._handled_s is None or self.alone(self._handled_s)
