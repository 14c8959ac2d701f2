"""Short functions with which a test makes the inputs of a run."""

from fractions import Fraction

from core.inputs import SetTo


def set_to(position: object, dial: str = "compound") -> SetTo:
    """Return the input for a dial that was set differently from the plan.

    `shown` is the reading as the user types it.
    """
    return SetTo(dial=dial, position=Fraction(str(position)), shown=str(position))
