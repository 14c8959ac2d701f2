"""A dial: which turns and reading to set, how a travel is rounded to its marks, and how that is put in words."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Literal, NamedTuple

from core.values.quantities import MM_PER_INCH

Unit = Literal["mm", "in", "deg"]

# A wanted place this close (in graduations) to the middle between two marks counts as the middle:
# the error of a float is far smaller, and no hand can set so finely.
_TIE = 1e-6


class Setting(NamedTuple):
    """One reading to set on a dial, counted from the zero that was set at touch-off.

    `position` is exact and lies on a mark, in the dial's own unit, sense and direction. `turns` is floor(position /
    per_turn) and `reading` the rest, below per_turn; both are None for a digital readout. `rounding` is the
    position minus the exact value wanted.
    """

    dial: str
    unit: Unit
    position: Fraction
    turns: int | None
    reading: Fraction | None
    rounding: float


@dataclass(frozen=True, kw_only=True)
class Dial:
    """One dial of a lathe. Lengths are in its own unit, exact."""

    name: str
    unit: Unit
    graduation: Fraction
    per_turn: Fraction | None = None
    """The change of the number in one turn. None for a digital readout, which has no turns."""
    reads_diameter: bool = False
    lead_mm: Fraction | None = None
    """How far the slide really travels in one turn [mm], if the engraved numbers do not say so."""
    backlash: Fraction = Fraction(0)
    clockwise_goes: Literal["in", "out"] | None = None
    rising_inwards: bool = True
    """True if the numbers rise when the slide goes in."""
    can_zero: bool = True
    most_rpm: float | None = None
    slide_travel_mm: float | None = None
    """How far the slide can go; None if it is not known."""
    least_radius_mm: float | None = None
    """Of a boring head: the smallest circle it can be set to; None if it is not known."""
    most_radius_mm: float | None = None

    @cached_property
    def mm_per_unit(self) -> Fraction:
        """Slide travel [mm] for one unit (1 mm or 1 in) of the dial's own numbers."""
        if self.lead_mm is not None and self.per_turn is not None:
            return self.lead_mm / self.per_turn
        unit_mm = MM_PER_INCH if self.unit == "in" else Fraction(1)
        return unit_mm / 2 if self.reads_diameter else unit_mm

    @cached_property
    def mark_mm(self) -> float:
        """Slide travel between two marks [mm]."""
        return float(self.graduation * self.mm_per_unit)

    def marks(self, travel_mm: float) -> int:
        """Return the number of marks nearest to a slide travel inwards [mm].

        Half-way between two marks, the mark nearer to zero counts: the rest can still be cut.
        """
        exact = travel_mm / self.mark_mm
        return int(math.copysign(math.ceil(abs(exact) - 0.5 - _TIE), exact)) if exact else 0

    def travel_mm(self, marks: int) -> float:
        """Return the slide travel inwards [mm] of a whole number of marks."""
        return float(marks * self.graduation * self.mm_per_unit)

    def at_marks(self, marks: int, exact_travel_mm: float | None = None) -> Setting:
        """Return the setting `marks` marks inwards from zero; negative: outwards.

        `exact_travel_mm` is the slide travel that was wanted. Without it, the mark itself was wanted.
        """
        shown = marks if self.rising_inwards else -marks
        rounding = 0.0
        if exact_travel_mm is not None:
            exact = exact_travel_mm / float(self.mm_per_unit)
            rounding = float(shown * self.graduation) - (exact if self.rising_inwards else -exact)
        return self._setting(shown, rounding)

    def at_travel(self, travel_mm: float) -> Setting:
        """Return the setting on the mark nearest to a slide travel inwards [mm]."""
        return self.at_marks(self.marks(travel_mm), travel_mm)

    def from_zero(self, setting: Setting, zero: Fraction) -> Setting:
        """Return `setting` as it is on a dial that showed `zero` instead of 0 at touch-off.

        If that zero lies between two marks, the exact value wanted is rounded to the nearest mark, so that
        roundings do not add up.
        """
        exact = setting.position - Fraction(setting.rounding) + zero
        shown = round(exact / self.graduation)
        return self._setting(shown, float(shown * self.graduation - exact))

    def marks_at(self, position: Fraction) -> Fraction:
        """Return how many marks inwards of zero `position` is; negative means outwards."""
        return (position if self.rising_inwards else -position) / self.graduation

    def reading_text(self, value: float | Fraction) -> str:
        """Return a number of this dial with its unit and as many decimals as the marks need."""
        return f"{self.number_text(value)} {self.unit}"

    def number_text(self, value: float | Fraction) -> str:
        """Return a number of this dial with as many decimals as the marks need.

        >>> Dial(name="compound", unit="mm", graduation=Fraction(2, 100)).number_text(1.5)
        '1.50'
        """
        return f"{float(value):.{self.decimals}f}"

    @cached_property
    def decimals(self) -> int:
        """Decimal places that this dial's marks need, 4 at most."""
        for places in range(5):
            if (self.graduation * 10**places).denominator == 1:
                return places
        return 4

    def handle_turns(self, setting: Setting) -> int | None:
        """Return how many whole turns the handle has made from zero, whichever way the numbers run."""
        if setting.turns is None or setting.reading is None:
            return None
        # Below zero `turns` is one more than were made, but at the end of a turn.
        return setting.turns if setting.turns >= 0 else -setting.turns - (setting.reading > 0)

    def turns_text(self, position: Fraction) -> str:
        """Return the whole turns from zero to a position as "1 turn and "; "" if there are none."""
        return _turns_words(0 if self.per_turn is None else int(abs(position) / self.per_turn))

    def setting_text(self, setting: Setting) -> str:
        """Return a setting in words: "0.42 mm", "1 turn and 0.42 mm".

        The turns are those that the handle makes from zero. If the numbers fall going in,
        the reading is what the mark shows after those turns.
        """
        turns = self.handle_turns(setting)
        if turns is None or setting.reading is None:
            return self.reading_text(setting.position)
        return f"{_turns_words(turns)}{self.reading_text(setting.reading)}"

    @cached_property
    def _in_whole_numbers(self) -> tuple[int, int, int]:
        """How many parts to split the unit into, so that graduation and turn are whole numbers of parts.

        After it, the graduation and the turn in those parts: (50, 1, 150) for 0.02 mm and 3 mm.
        """
        per_turn = self.per_turn or Fraction(0)
        parts = math.lcm(self.graduation.denominator, per_turn.denominator)
        return parts, int(self.graduation * parts), int(per_turn * parts)

    def _setting(self, marks: int, rounding: float) -> Setting:
        """Return the setting on a mark; `marks` is counted in the direction in which the dial's numbers rise."""
        # A long plan asks for thousands of marks: in whole numbers they are exact and quick.
        parts, per_mark, per_turn = self._in_whole_numbers
        turns, into_turn = divmod(marks * per_mark, per_turn) if per_turn else (None, 0)
        return Setting(
            dial=self.name,
            unit=self.unit,
            position=Fraction(marks * per_mark, parts),
            turns=turns,
            reading=None if turns is None else Fraction(into_turn, parts),
            rounding=round(rounding, 12),
        )


def _turns_words(turns: int) -> str:
    return f"{turns} turn{'s' if turns > 1 else ''} and " if turns else ""


class DialView(NamedTuple):
    """One dial in words, ready to be shown: its name, what to set, and which way."""

    name: str
    number: str
    """The number at the mark, with as many decimals as the marks need.

    For a plate, how many holes or notches to count.
    """
    unit: str
    turns: str
    """What comes before the number, such as whole turns from zero; "" if there is nothing."""
    direction: str
    """Which way the handle turns; "" if it does not move."""
    absolute: str = ""
    """The same position counted from zero, if `number` counts from the position before."""
    large: str = ""
    """What is shown in large digits instead of the number alone, such as "5+3°51'": turns and number as entered."""


class ZeroedDials(NamedTuple):
    """The dials of a lathe, with what each showed at touch-off. Every reading on a screen comes from here."""

    dials: Mapping[str, Dial]
    zeros: Mapping[str, Fraction]
    """What each dial showed at touch-off, in its own unit. A dial without an entry was set to 0."""

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
    """Return whether a dial shows the size of the work itself.

    It does if it was set to more than a turn at touch-off.
    """
    return dial.per_turn is not None and zero >= dial.per_turn


def times_past_0(dial: Dial, setting: Setting, zero: Fraction) -> int:
    """Return how often the 0 mark of a dial passes between `zero`, its reading at touch-off, and a setting."""
    if dial.per_turn is None:
        return 0
    return abs(math.floor(setting.position / dial.per_turn) - math.floor(zero / dial.per_turn))
