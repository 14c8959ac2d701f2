"""What is told a run, short enough for a test."""

from fractions import Fraction

from core.inputs import SetTo


def set_to(position: object, dial: str = "compound") -> SetTo:
    """Return a dial set otherwise than planned, by a number as it is typed."""
    return SetTo(dial=dial, position=Fraction(str(position)), shown=str(position))
