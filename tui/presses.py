"""Tells a deliberate Space or Enter from a held key, a bouncing switch and a press for an earlier screen."""

from typing import NamedTuple

from tui.number_burst import QUICK_S

COUNT_KEYS = frozenset({"space", "enter"})
QUIET_S = 0.8
HELD_S = 0.15
"""The longest time between repeats of a held key [s]. Two presses by hand are further apart."""
AT_ONCE_S = 0.03
"""Two keys closer together than this time were not pressed by hand [s]."""
AFTER_DIGIT_S = 2.0
"""An Enter within this time after a digit ends a number and counts no pass [s]."""


class _Press(NamedTuple):
    time_s: float
    key: str
    screen: int


class Presses:
    """Records the latest presses: their times by the clock of key events [s], and the screens they were meant for."""

    def __init__(self, quiet_s: float = QUIET_S) -> None:
        self.quiet_s = quiet_s
        self._latest: _Press | None = None
        self._counting_s: float | None = None
        """The time of the latest Space or Enter [s]."""
        self._alone = True
        self._digit_s: float | None = None
        """The time of the latest digit [s]."""
        self._ends_number = False

    @property
    def burst_s(self) -> float:
        """The longest time between two characters of a number from an instrument [s]."""
        return min(QUICK_S, self.quiet_s)

    def is_doubtful(self, time_s: float, key: str, screen: int) -> bool:
        """Return True if a Space or Enter may come from a key that was held down before a screen opened.

        `time_s` is the time of the press [s], and `screen` is the id of the screen that would receive it. A held or
        bouncing key must not answer the question that it has opened. A press is doubtful if it quickly follows a Space
        or Enter for another screen, with no other key between them. It is also doubtful if it immediately follows any
        other key for another screen.
        """
        before = self._latest
        if before is None or key not in COUNT_KEYS or before.screen == screen:
            return False
        return time_s - before.time_s < (self.quiet_s if before.key in COUNT_KEYS else min(AT_ONCE_S, self.quiet_s))

    def is_repeat(self, time_s: float, following_s: float | None) -> bool:
        """Return True if a doubtful press comes from a held key, which repeats faster than a hand can press.

        `time_s` is the time of the press [s]. `following_s` is the time of the next press [s]; None if no further key
        has been pressed.
        """
        before = self._latest
        if before is not None and time_s - before.time_s < (HELD_S if before.key in COUNT_KEYS else AT_ONCE_S):
            return True
        return following_s is not None and following_s - time_s < HELD_S

    def note(self, time_s: float, key: str, screen: int) -> None:
        """Record that `key` was pressed at `time_s` [s]. `screen` is the id of the screen that receives the key."""
        self._alone = self._counting_s is None or time_s - self._counting_s >= self.quiet_s
        self._latest = _Press(time_s, key, screen)
        if key in COUNT_KEYS:
            self._counting_s = time_s
        after_digit_s = AFTER_DIGIT_S if self.quiet_s else 0.0
        self._ends_number = key == "enter" and self._digit_s is not None and time_s - self._digit_s < after_digit_s
        if key.isdecimal():
            self._digit_s = time_s

    def note_repeat(self, time_s: float, key: str) -> None:
        """Record a press at `time_s` [s] that was dropped because its key was held down.

        The press, and later repeats of the key, count as pressed for the same screen as the press before.
        """
        if self._latest is not None:
            self.note(time_s, key, self._latest.screen)

    def latest_is_alone(self) -> bool:
        """Return True if no other Space or Enter came within the quiet time before the latest press."""
        return self._alone

    def latest_ends_number(self) -> bool:
        """Return True if the latest press is an Enter within AFTER_DIGIT_S after a digit, and so ends a number."""
        return self._ends_number
