"""A dial as it looks when it is set: the marks round the one wanted, and where it is now.

The collar is seen from the handle's end, the zero line above it; its numbers rise to the
side that the lathe's own dial has them.
"""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from core.lathe.dial_face import DialMark, marks_around
from core.lathe.lathe import dial_words
from core.values.dials import Dial


class DialPicture(NamedTuple):
    """A dial at the mark that a step sets it to. Marks are counted from its own 0, inwards."""

    dial: Dial
    wanted_marks: int
    turns: str
    """What comes before the number, such as "1 full turn and"; "" for nothing."""
    now_marks: Fraction | None = None
    """Where it is now; None where that is not known, as before it is touched off."""
    set_to_zero: bool = False
    """The dial itself is turned to its 0 here, the slide stays."""

    @property
    def name(self) -> str:
        """The dial's name as it is spoken."""
        return dial_words(self.dial.name)

    @property
    def number(self) -> str:
        """What its mark shows under the zero line."""
        return self._engraved(Fraction(self.wanted_marks))

    def around(self, each_side: int) -> Sequence[DialMark]:
        """Return the marks on each side of the wanted one, from left to right."""
        return marks_around(self.dial, self.wanted_marks, each_side)

    @property
    def away_marks(self) -> Fraction | None:
        """Return how many marks the dial is away from the wanted one now; None where that is not known."""
        return None if self.now_marks is None else self.now_marks - self.wanted_marks

    @property
    def now_offset(self) -> int | None:
        """Marks to the right of the wanted one (negative: left) at which the zero line is on the collar now.

        None where it is not known, and a whole turn away or further: the same mark comes by more than once.
        """
        away, dial = self.away_marks, self.dial
        if away is None or dial.per_turn is None or abs(away) >= dial.per_turn / dial.graduation:
            return None
        on_the_right = (dial.clockwise_goes == "out") == dial.rising_inwards
        rises = away if dial.rising_inwards else -away
        return round(rises if on_the_right else -rises)

    @property
    def now_words(self) -> str:
        """Say where the dial is now and how far that is, "" where it is not known or is there already."""
        away, dial = self.away_marks, self.dial
        if self.set_to_zero:
            return "Turn the collar alone to 0; the handle stays."
        if away is None or self.now_marks is None or dial.per_turn is None:
            return ""
        if not away:
            return "It is there now."
        turns, marks = divmod(abs(away), dial.per_turn / dial.graduation)
        far = [f"{turns} turn{'s' if turns != 1 else ''}"] if turns else []
        far += [f"{_count(marks)} mark{'s' if marks != 1 else ''}"] if marks else []
        return f"Now {self._engraved(self.now_marks)}: {' and '.join(far)} to go."

    def _engraved(self, marks: Fraction) -> str:
        position = (marks if self.dial.rising_inwards else -marks) * self.dial.graduation
        if self.dial.per_turn is not None:
            position %= self.dial.per_turn
        return self.dial.number_text(position)


def _count(marks: Fraction) -> str:
    return str(marks) if marks.denominator == 1 else f"{float(marks):.1f}"
