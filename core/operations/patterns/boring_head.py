"""The boring head: its dial, and the circle radius at which the dial reads 0. Lengths in mm.

The dial shows only changes of the radius. The turner sets it to 0 at the first layer, and the settings of all later
layers count from that 0, so that rounding errors do not add up. On a boring head, "in" means towards a larger circle.
"""

from typing import NamedTuple

from core.values.dials import Dial, Setting

HEAD = "boring_head"
"""The key of the dial that sets the circle radius."""
VISIBLE_MM = 0.001
"""Smaller errors are not shown, because nobody can see them [mm]."""
AWAY, TOWARDS = "away from the table's axis", "towards the table's axis"
LARGER, SMALLER = "to a larger circle", "to a smaller circle"
_PAST = "past it by more than the backlash, then"


def direction(dial_name: str, inwards: bool, is_far: bool = False, *, feeds: bool = False) -> str:
    """Return words for the direction in which a dial moves the slide that sets the offset, or the boring head.

    `inwards`: whether the dial moves in. On the slide, in is away from the table's axis, or towards the axis if the
    spindle cuts on its far side (`is_far`). On the boring head, in is towards a larger circle.

    Every reading is approached away from the table's axis, or towards a larger circle, so that the backlash is taken
    up. A move in the opposite direction therefore goes past the reading and comes back, except for a move that feeds
    the cutter along a groove (`feeds`).

    >>> direction("cross_slide", True), direction("cross_slide", False)
    ("away from the table's axis", "towards the table's axis, past it by more than the backlash, then away again")
    >>> direction("cross_slide", True, True, feeds=True)
    "towards the table's axis"
    """
    if dial_name == HEAD:
        return LARGER if inwards else f"{SMALLER}, {_PAST} {LARGER}"
    is_away = inwards != is_far
    if feeds:
        return AWAY if is_away else TOWARDS
    return AWAY if is_away else f"{TOWARDS}, {_PAST} away again"


class Head(NamedTuple):
    """A boring head, and the circle radius at which its dial reads 0. Lengths in mm."""

    dial: Dial | None
    """The dial of the head; None if the lathe file has no [dial.boring_head]."""
    zero_radius_mm: float
    planned_zero_mm: float
    """Planned radius at which the dial reads 0: the radius of the first layer."""

    def setting(self, radius_mm: float) -> Setting | None:
        """Return the dial setting for a circle radius [mm]; None if the head has no dial."""
        return None if self.dial is None else self.dial.at_travel(radius_mm - self.zero_radius_mm)

    def shift(self, radius_mm: float) -> int:
        """Return how many marks the head's real setting for a circle radius [mm] is above its planned setting.

        The result is 0 for a head without a dial.
        """
        if self.dial is None:
            return 0
        planned = self.dial.marks(radius_mm - self.planned_zero_mm)
        return self.dial.marks(radius_mm - self.zero_radius_mm) - planned

    def shifted(self, marks: int) -> "Head":
        """Return this head with every dial setting `marks` above the planned setting.

        A head without a dial is returned unchanged.
        """
        if self.dial is None or marks == 0:
            return self
        return self._replace(zero_radius_mm=self.planned_zero_mm - self.dial.travel_mm(marks))


def head_shown(dial: Dial, setting: Setting) -> str:
    """Return a position of the boring head's dial in words, such as "3 turns and 0.012 in above 0"."""
    if setting.position == 0:
        return "0"
    position = abs(setting.position)
    amount = dial.turns_text(position) + dial.reading_text(position % (dial.per_turn or position + 1))
    reading = "" if setting.reading is None else f", where it reads {dial.number_text(setting.reading)}"
    return f"{amount} {'above' if setting.position > 0 else 'below'} 0{reading}"
