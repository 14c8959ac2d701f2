"""A dial: what a hand sets, as turns and reading, and the one rule that rounds to its marks."""

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Literal

from core.quantities import MM_PER_INCH

Unit = Literal["mm", "in", "deg"]

# A wanted place this close (in graduations) to the middle between two marks is taken as the middle:
# floats that stand for decimals are off by far less, a hand can set nothing so fine.
_TIE = 1e-6


@dataclass(frozen=True, kw_only=True)
class Setting:
    """One reading to set on a dial, counted from the zero set at touch-off.

    `position` is in the dial's own unit, sense and direction and lies on a mark;
    `turns` = floor(position / per_turn) and 0 <= `reading` < per_turn, both None
    for a digital readout; `rounding` = position minus the exact value wanted.
    """

    dial: str
    unit: Unit
    position: float
    turns: int | None
    reading: float | None
    rounding: float


@dataclass(frozen=True, kw_only=True)
class Dial:
    """One dial of a lathe. Lengths are in its own unit, exact."""

    name: str
    unit: Unit
    graduation: Fraction
    per_turn: Fraction | None = None
    """None for a digital readout, which has no turns."""
    reads_diameter: bool = False
    lead_mm: Fraction | None = None
    """True slide travel in one turn [mm], where the engraved numbers do not say it."""
    backlash: Fraction = Fraction(0)
    clockwise_goes: Literal["in", "out"] | None = None
    rising_inwards: bool = True
    """Going in, the numbers rise."""
    can_zero: bool = True
    most_rpm: float | None = None

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

        Half-way between two marks the one nearer to zero is taken: a little too
        little can still be cut.
        """
        exact = travel_mm / self.mark_mm
        return int(math.copysign(math.ceil(abs(exact) - 0.5 - _TIE), exact)) if exact else 0

    def travel_mm(self, marks: int) -> float:
        """Return the slide travel inwards [mm] of a whole number of marks."""
        return float(marks * self.graduation * self.mm_per_unit)

    def at_marks(self, marks: int, exact_travel_mm: float | None = None) -> Setting:
        """Return the setting `marks` marks inwards from zero (negative: outwards).

        `exact_travel_mm` is the slide travel that was wanted; where it is left
        out the mark itself was.
        """
        position = self._signed(marks * self.graduation)
        rounding = 0.0
        if exact_travel_mm is not None:
            exact = exact_travel_mm / float(self.mm_per_unit)
            rounding = float(position) - (exact if self.rising_inwards else -exact)
        return self._setting(position, rounding)

    def at_travel(self, travel_mm: float) -> Setting:
        """Return the setting on the mark nearest to a slide travel inwards [mm]."""
        return self.at_marks(self.marks(travel_mm), travel_mm)

    def from_zero(self, setting: Setting, zero: Fraction) -> Setting:
        """Return `setting` for a dial that showed `zero`, not 0, at touch-off.

        Where that zero lies between two marks the nearest mark is taken again,
        from the exact value wanted, so that roundings do not add up.
        """
        exact = Fraction(setting.position).limit_denominator(10**9) - Fraction(setting.rounding) + zero
        position = round(exact / self.graduation) * self.graduation
        return self._setting(position, float(position - exact))

    def marks_at(self, position: Fraction) -> Fraction:
        """Return how many marks inwards from zero a reading counted from zero is."""
        return self._signed(position) / self.graduation

    def reading_text(self, value: float | Fraction) -> str:
        """Return a number of this dial with the places its marks need, and its unit."""
        return f"{self.number_text(value)} {self.unit}"

    def number_text(self, value: float | Fraction) -> str:
        """Return a number of this dial with the places its marks need.

        >>> Dial(name="compound", unit="mm", graduation=Fraction(2, 100)).number_text(1.5)
        '1.50'
        """
        return f"{float(value):.{self.decimals}f}"

    @cached_property
    def decimals(self) -> int:
        """Places behind the point that this dial's marks need, 4 at most."""
        for places in range(5):
            if (self.graduation * 10**places).denominator == 1:
                return places
        return 4

    def handle_turns(self, setting: Setting) -> int | None:
        """Return the whole turns the handle makes from zero, whichever way the numbers run."""
        if self.per_turn is None:
            return None
        return int(abs(Fraction(setting.position).limit_denominator(10**9)) / self.per_turn)

    def turns_text(self, position: Fraction) -> str:
        """Return the whole turns from zero to a position as "1 turn and ", "" where there are none."""
        turns = 0 if self.per_turn is None else int(abs(position) / self.per_turn)
        return f"{turns} turn{'s' if turns > 1 else ''} and " if turns else ""

    def setting_text(self, setting: Setting) -> str:
        """Return a setting in words: "0.42 mm", "1 turn and 0.42 mm".

        The turns are those the hand makes from zero; for numbers that fall going
        in the reading is what the mark then shows.
        """
        if self.per_turn is None or setting.reading is None:
            return self.reading_text(setting.position)
        position = Fraction(setting.position).limit_denominator(10**9)
        return f"{self.turns_text(position)}{self.reading_text(setting.reading)}"

    def _signed(self, value: Fraction) -> Fraction:
        return value if self.rising_inwards else -value

    def _setting(self, position: Fraction, rounding: float) -> Setting:
        turns, reading = None, None
        if self.per_turn is not None:
            turns = math.floor(position / self.per_turn)
            reading = float(position - turns * self.per_turn)
        return Setting(
            dial=self.name,
            unit=self.unit,
            position=float(position),
            turns=turns,
            reading=reading,
            rounding=round(rounding, 12),
        )
