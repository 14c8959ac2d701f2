"""A dial's collar near a reading, as the eye sees it: marks, numbers, and on which side they rise."""

from fractions import Fraction
from typing import NamedTuple

from core.lathe.set_up.dial_test import read_position
from core.lathe.set_up.measuring import exact_text
from core.values.dials import Dial

_LONG_EVERY = 5
_TRIED_MARKS = 21


class Mark(NamedTuple):
    """One mark of a collar, seen from the handle's end with the zero line above it."""

    offset: int
    """Marks to the right of the zero line; negative: to the left."""
    long: bool
    number: str
    """What is engraved at a long mark, "" at the others."""


def collar(dial: Dial, marks_inwards: int, each_side: int) -> tuple[Mark, ...]:
    """Return the marks round the one under the zero line, from left to right.

    Turned clockwise a collar's top goes to the right, so what comes next stands on
    the left. Where it is not known which way the handle goes, clockwise is taken to
    go in, as on most lathes.
    """
    rising_clockwise = (dial.clockwise_goes != "out") == dial.rising_inwards
    here = marks_inwards if dial.rising_inwards else -marks_inwards
    marks = []
    for offset in range(-each_side, each_side + 1):
        number = here + (-offset if rising_clockwise else offset)
        long = number % _LONG_EVERY == 0
        marks.append(Mark(offset=offset, long=long, number=_engraved(dial, number) if long else ""))
    return tuple(marks)


def marks_of(dial: Dial, text: str) -> int:
    """Return how many marks inwards from 0 a reading is, the nearest one; raises QuantityError."""
    return round(dial.marks_at(read_position(dial, text)))


def example_reading(dial: Dial, unit: str) -> str:
    """Return a reading to try a dial with, some marks inwards from 0, in the unit engraved: "mm", "in" or "thou".

    >>> example_reading(Dial(name="compound", unit="mm", graduation=Fraction(2, 100), per_turn=Fraction(2)), "mm")
    '0.42'
    """
    position = dial.at_marks(_TRIED_MARKS).position
    return exact_text(position * 1000) if unit == "thou" else dial.number_text(position)


def _engraved(dial: Dial, mark: int) -> str:
    position = mark * dial.graduation
    if dial.per_turn is not None:
        position %= dial.per_turn
    return dial.number_text(Fraction(position))
