"""The dials of a lathe: which turns and reading to set, how they are rounded to the marks, and how they are worded."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Literal, NamedTuple

from core.values.quantities import MM_PER_INCH

Unit = Literal["mm", "in", "deg"]

# A size this close (in graduations) to the middle between two marks counts as the middle.
# Errors of floats are far smaller, and no hand can set a dial so finely.
_TIE = 1e-6


class Setting(NamedTuple):
    """A position to set on a dial, counted from the zero that was set at touch-off.

    `position`: an exact number in the dial's own unit, which lies on a mark and rises with the dial's numbers. `turns`:
    floor(position / per_turn). `reading`: the rest, which is less than one turn. Both are None for a digital readout.
    `rounding`: the position minus the exact wanted value.
    """

    dial: str
    unit: Unit
    position: Fraction
    turns: int | None
    reading: Fraction | None
    rounding: float


@dataclass(frozen=True, kw_only=True)
class Dial:
    """One dial of a lathe. Lengths in fields without _mm in their names are exact and in the dial's own unit."""

    name: str
    unit: Unit
    graduation: Fraction
    per_turn: Fraction | None = None
    """The change of the dial's number in one turn. None for a digital readout, which has no turns."""
    reads_diameter: bool = False
    lead_mm: Fraction | None = None
    """The true travel of the slide in one turn [mm]; None if the engraved numbers are true."""
    backlash: Fraction = Fraction(0)
    clockwise_goes: Literal["in", "out"] | None = None
    rising_inwards: bool = True
    """True if the dial's numbers rise when the slide goes in."""
    can_zero: bool = True
    most_rpm: float | None = None
    slide_travel_mm: float | None = None
    """The longest travel of the slide [mm]; None if it is not known."""
    least_radius_mm: float | None = None
    """The smallest circle radius of a boring head [mm]; None for other dials, or if it is not known."""
    most_radius_mm: float | None = None

    @cached_property
    def mm_per_unit(self) -> Fraction:
        """The travel of the slide [mm] when the dial's number changes by 1 in the dial's own unit, mm or in."""
        if self.lead_mm is not None and self.per_turn is not None:
            return self.lead_mm / self.per_turn
        unit_mm = MM_PER_INCH if self.unit == "in" else Fraction(1)
        return unit_mm / 2 if self.reads_diameter else unit_mm

    @cached_property
    def mark_mm(self) -> float:
        """The travel of the slide from one mark to the next [mm]."""
        return float(self.graduation * self.mm_per_unit)

    def marks(self, travel_mm: float) -> int:
        """Return the whole number of marks nearest to a travel of the slide inwards [mm].

        Half-way between two marks, the mark nearer to zero is taken, because a later cut can still remove the
        difference.
        """
        exact = travel_mm / self.mark_mm
        return int(math.copysign(math.ceil(abs(exact) - 0.5 - _TIE), exact)) if exact else 0

    def travel_mm(self, marks: int) -> float:
        """Return how far the slide moves inwards [mm] when the dial turns by a whole number of marks."""
        return float(marks * self.graduation * self.mm_per_unit)

    def at_marks(self, marks: int, exact_travel_mm: float | None = None) -> Setting:
        """Return the setting at a number of marks inwards from zero. A negative number of marks is outwards.

        `exact_travel_mm`: the wanted travel of the slide, from which the rounding is computed; None if there is no
        rounding.
        """
        shown = marks if self.rising_inwards else -marks
        rounding = 0.0
        if exact_travel_mm is not None:
            exact = exact_travel_mm / float(self.mm_per_unit)
            rounding = float(shown * self.graduation) - (exact if self.rising_inwards else -exact)
        return self._setting(shown, rounding)

    def at_travel(self, travel_mm: float) -> Setting:
        """Return the setting at the mark nearest to a travel of the slide inwards from zero [mm]."""
        return self.at_marks(self.marks(travel_mm), travel_mm)

    def from_zero(self, setting: Setting, zero: Fraction) -> Setting:
        """Return a setting as the dial shows it if the dial read `zero` instead of 0 at touch-off.

        If `zero` lies between two marks, the exact wanted value is rounded again, so that two roundings do not add up.
        """
        exact = setting.position - Fraction(setting.rounding) + zero
        shown = round(exact / self.graduation)
        return self._setting(shown, float(shown * self.graduation - exact))

    def marks_at(self, position: Fraction) -> Fraction:
        """Return the number of marks from zero to a position, counted inwards. A negative number is outwards."""
        return (position if self.rising_inwards else -position) / self.graduation

    def reading_text(self, value: float | Fraction) -> str:
        """Return a number of this dial with its unit, and with as many decimal places as the marks need (at most 4)."""
        return f"{self.number_text(value)} {self.unit}"

    def number_text(self, value: float | Fraction) -> str:
        """Return a number of this dial without its unit, and with as many decimal places as the marks need (at most 4).

        >>> Dial(name="compound", unit="mm", graduation=Fraction(2, 100)).number_text(1.5)
        '1.50'
        """
        return f"{float(value):.{self.decimals}f}"

    @cached_property
    def decimals(self) -> int:
        """The number of decimal places that the marks of this dial need; at most 4."""
        for places in range(5):
            if (self.graduation * 10**places).denominator == 1:
                return places
        return 4

    def handle_turns(self, setting: Setting) -> int | None:
        """Return how many whole turns the handle makes from zero to a setting; None for a digital readout.

        The number is positive in both directions.
        """
        if setting.turns is None or setting.reading is None:
            return None
        # Below zero `turns` is one more than the handle has made, except at the end of a turn.
        return setting.turns if setting.turns >= 0 else -setting.turns - (setting.reading > 0)

    def turns_text(self, position: Fraction) -> str:
        """Return the whole turns from zero to a position in words, such as "1 turn and "; "" for less than one."""
        return _turns_words(0 if self.per_turn is None else int(abs(position) / self.per_turn))

    def setting_text(self, setting: Setting) -> str:
        """Return a setting in words, such as "0.42 mm" or "1 turn and 0.42 mm".

        The words count the whole turns of the handle from zero, and then give the number on the dial. On a dial whose
        numbers fall as the slide moves in, this number is the one at the mark, not the distance turned.
        """
        turns = self.handle_turns(setting)
        if turns is None or setting.reading is None:
            return self.reading_text(setting.position)
        return f"{_turns_words(turns)}{self.reading_text(setting.reading)}"

    @cached_property
    def _in_whole_numbers(self) -> tuple[int, int, int]:
        """Return how many parts make one unit, one mark and one turn, so that all three are whole numbers.

        A mark of 0.02 mm and a turn of 3 mm give (50, 1, 150): the parts are 1/50 mm.
        """
        per_turn = self.per_turn or Fraction(0)
        parts = math.lcm(self.graduation.denominator, per_turn.denominator)
        return parts, int(self.graduation * parts), int(per_turn * parts)

    def _setting(self, marks: int, rounding: float) -> Setting:
        """Return the setting at a number of marks from zero.

        The marks are counted in the direction in which the dial's numbers rise.
        """
        # A long plan needs thousands of marks. Whole numbers are exact and fast.
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
    """The setting of one dial in words, ready for the screen: the dial, the number to set and the direction to turn."""

    name: str
    number: str
    """The number at the mark, with as many decimals as the marks need.

    For a dividing plate, the number of holes or notches to count.
    """
    unit: str
    turns: str
    """The words before the number, such as whole turns from zero; "" if there are none."""
    direction: str
    """The direction in which the handle turns; "" if it does not move."""
    absolute: str = ""
    """The position counted from zero, if `number` counts from the previous position."""
    large: str = ""
    """The text in large digits in place of the number alone, such as "5 turns 3°51'"."""


class ZeroedDials(NamedTuple):
    """The dials of a lathe with their readings at touch-off. All readings on the screen come from this class."""

    dials: Mapping[str, Dial]
    zeros: Mapping[str, Fraction]
    """Each dial's reading at touch-off, in its own unit. A dial without an entry was set to 0."""

    def setting(self, setting: Setting) -> Setting:
        """Return a planned setting as its dial shows it after touch-off.

        The planned setting counts from 0. The dial may have had another reading at touch-off.
        """
        dial, zero = self.dials.get(setting.dial), self.zeros.get(setting.dial)
        return dial.from_zero(setting, zero) if dial is not None and zero else setting

    def words(self, setting: Setting) -> str:
        """Return a planned setting in words, as its dial shows it after touch-off. `place_words` chooses the words."""
        return place_words(self.dials[setting.dial], self.setting(setting), self.zeros.get(setting.dial, Fraction(0)))

    def short_words(self, setting: Setting) -> str:
        """Return a planned setting in words like `words`, but without "and", to save room on the screen.

        >>> dial = Dial(name="carriage", unit="mm", graduation=Fraction(1, 10), per_turn=Fraction(18))
        >>> ZeroedDials({"carriage": dial}, {}).short_words(dial.at_travel(21.3))
        '1 turn 3.3 mm'
        """
        return self.words(setting).replace(" and ", " ")


def place_words(dial: Dial, setting: Setting, zero: Fraction) -> str:
    """Return the setting of a dial in words: "0", "0.42 mm", "1 turn and 0.42 mm", "0.015 in, past its 0".

    `zero`: the dial's reading at touch-off. If it is 0, the words count whole turns from there. Otherwise the words say
    how often the dial passes its 0 mark on the way to the setting.

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
    """Return whether the readings of a dial are sizes of the work.

    They are sizes if the user set the dial to at least one full turn at touch-off. `zero`: the reading that was set.
    """
    return dial.per_turn is not None and zero >= dial.per_turn


def times_past_0(dial: Dial, setting: Setting, zero: Fraction) -> int:
    """Return how often a dial's 0 mark passes the zero line between touch-off and a setting; 0 for a readout.

    `zero`: the dial's reading at touch-off.
    """
    if dial.per_turn is None:
        return 0
    return abs(math.floor(setting.position / dial.per_turn) - math.floor(zero / dial.per_turn))
