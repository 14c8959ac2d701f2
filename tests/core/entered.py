"""Short ways for a test to make what a user enters in a run."""

from fractions import Fraction

from core.inputs import SetTo


def set_to(position: object, dial: str = "compound") -> SetTo:
    """Return the input for a dial that was set differently from the plan, by a number as it is typed."""
    return SetTo(dial=dial, position=Fraction(str(position)), shown=str(position))
