"""One dial as the counter shows it, and any setting as the dial really shows it."""

import math
from collections.abc import Mapping
from fractions import Fraction
from typing import NamedTuple

from core.values.dials import Dial, Setting


class DialShown(NamedTuple):
    """One dial as a hand sets it."""

    name: str
    number: str
    """What the mark shows, with the places its marks need; of a plate, what is counted."""
    unit: str
    turns: str
    """What comes before the number, such as whole turns from zero; "" for a readout or where there is nothing."""
    direction: str
    """Which way the handle goes, "" where it stays."""
    absolute: str = ""
    """The same place counted from zero, where the number counts from the last one."""
    large: str = ""
    """What is read from afar, where that is more than the number: with whole turns, "5+3°51'", as it is typed too."""


class DialsShown(NamedTuple):
    """The dials of a lathe with what each showed at touch-off: every reading that is shown comes from here."""

    dials: Mapping[str, Dial]
    zeros: Mapping[str, Fraction]
    """In the dial's own unit; a dial without an entry was set to 0."""

    def setting(self, setting: Setting) -> Setting:
        """Return a planned setting, which counts from 0, as its dial shows it."""
        dial, zero = self.dials.get(setting.dial), self.zeros.get(setting.dial)
        return dial.from_zero(setting, zero) if dial is not None and zero else setting

    def words(self, setting: Setting) -> str:
        """Return a planned setting in words, as its dial shows it; see `place_words`."""
        return place_words(self.dials[setting.dial], self.setting(setting), self.zeros.get(setting.dial, Fraction(0)))


def place_words(dial: Dial, setting: Setting, zero: Fraction) -> str:
    """Return what a dial shows in words: "0", "0.42 mm", "1 turn and 0.42 mm", "0.015 in, past its 0".

    A dial that was set to 0 counts whole turns from there. One that showed `zero` at
    touch-off passes its 0 mark instead.

    >>> dial = Dial(name="compound", unit="in", graduation=Fraction(1, 1000), per_turn=Fraction(4, 100))
    >>> [place_words(dial, dial.from_zero(dial.at_marks(20), zero), zero) for zero in (Fraction(0), Fraction(3, 100))]
    ['0.020 in', '0.010 in, past its 0']
    """
    if setting.reading is None or dial.per_turn is None:
        return dial.reading_text(setting.position)
    if not zero:
        return dial.setting_text(setting) if setting.position else "0"
    shown = dial.reading_text(setting.reading)
    if counts_in_size(dial, zero):
        return f"{shown} (size {dial.reading_text(setting.position)})"
    times = times_past_0(dial, setting, zero)
    return f"{shown}, past its 0{'' if times == 1 else f' {times} times'}" if times else shown


def counts_in_size(dial: Dial, zero: Fraction) -> bool:
    """Tell whether a dial shows the size of the work itself: it was set to more than a turn at touch-off."""
    return dial.per_turn is not None and zero >= dial.per_turn


def times_past_0(dial: Dial, setting: Setting, zero: Fraction) -> int:
    """Return how often the 0 mark goes by on the way from what a dial showed at touch-off, `zero`, to a setting."""
    if dial.per_turn is None:
        return 0
    return abs(math.floor(setting.position / dial.per_turn) - math.floor(zero / dial.per_turn))
