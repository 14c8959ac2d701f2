"""Where a step belongs: in a pattern, among the readings round a turn, or at a start of a thread.

One codec for the log, which has a place among the other figures of its step, under the keys that it always had.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

_BOTH, _STRIDE = "start", 1_000_000
"""Runs begun with schema 1 may hold number and shift in one: the number, plus so many for each mark of shift."""


class PatternPosition(NamedTuple):
    """A step of a pattern, by the numbers that planning again knows it by; all None for a step of no pattern."""

    step: int | None = None
    """Its number in the pattern."""
    shift_marks: int = 0
    """By how many marks its dial has been shifted since it was planned."""
    position: int | None = None
    """From 1; None where something is set up."""
    of: int | None = None
    """How many positions there are, at a step that goes to one."""
    layer: int | None = None
    """From 1; None where the pattern has one layer alone."""

    @property
    def where(self) -> tuple[int | None, int | None]:
        """Layer and position: what is cut at one place of the work has them alike."""
        return self.layer, self.position


class ReadingPosition(NamedTuple):
    """A reading round a turn of the work."""

    angle_deg: float | None
    """The mark that is read; None for the first once more, which closes the turn."""
    plane: int | None = None
    """From 1; None where only one is read."""
    set_of_readings: int | None = None
    """A number that no other set of readings has; None for a turn read again, and in runs of the first version."""
    repeat: int = 0
    """0 where the turn is read for the first time, more for each time that it is read again."""

    @property
    def time(self) -> tuple[int | None, int]:
        """Set of readings and repeat: readings of one turn of the work have them alike."""
        return self.set_of_readings, self.repeat


class ThreadStart(NamedTuple):
    """A step that goes on to another start of a thread."""

    number: int


StepPlace = PatternPosition | ReadingPosition | ThreadStart


def place_as_data(place: StepPlace | None) -> dict[str, Any]:
    """Return a place as the log has it; what does not apply has no key.

    >>> place_as_data(PatternPosition(step=7, shift_marks=-3, position=2))
    {'position': 2, 'pattern_step': 7, 'shift_marks': -3}
    """
    match place:
        case PatternPosition():
            found = {
                "position": place.position,
                "of": place.of,
                "layer": place.layer,
                "pattern_step": place.step,
                "shift_marks": place.shift_marks or None,
            }
            return {key: value for key, value in found.items() if value is not None}
        case ReadingPosition():
            mark = {"closing": True} if place.angle_deg is None else {"angle_deg": place.angle_deg}
            again = {"again": True, "repeat": place.repeat} if place.repeat else {}
            own = {"plane": place.plane, "round": place.set_of_readings}
            return {**mark, **{key: value for key, value in own.items() if value is not None}, **again}
        case ThreadStart():
            return {"start": place.number}
    return {}


def place_from_data(
    figures: Mapping[str, Any], is_reading: bool, in_pattern: bool
) -> tuple[StepPlace | None, dict[str, Any]]:
    """Return the place of a step, and the figures without it.

    in_pattern: "start" numbers a step of a pattern, as the first runs had it; else a start of a thread. Raises
    TypeError or ValueError for what cannot be a place.

    >>> place_from_data({"start": 2}, False, False)
    (ThreadStart(number=2), {})
    >>> place_from_data({"start": 2_000_007}, False, True)
    (PatternPosition(step=7, shift_marks=2, position=None, of=None, layer=None), {})
    """
    rest = dict(figures)
    if is_reading and ("closing" in rest or "angle_deg" in rest):
        angle_deg = None if rest.pop("closing", False) else float(rest.pop("angle_deg"))
        # A turn read again bears no number of the repeat in runs of the first version.
        repeat = (_whole(rest, "repeat") or 1) if rest.pop("again", False) else 0
        return ReadingPosition(angle_deg, _whole(rest, "plane"), _whole(rest, "round"), repeat), rest
    both = _whole(rest, _BOTH)
    if both is not None and not in_pattern:
        return ThreadStart(both), rest
    step, shift = _whole(rest, "pattern_step"), _whole(rest, "shift_marks") or 0
    if both is not None:
        shift, step = divmod(both, _STRIDE)
    place = PatternPosition(step, shift, *(_whole(rest, key) for key in ("position", "of", "layer")))
    return (None if place == PatternPosition() else place), rest


def _whole(figures: dict[str, Any], key: str) -> int | None:
    """Take a whole number out of the figures; raises TypeError for anything else under its key."""
    value = figures.pop(key, None)
    if value is not None and type(value) is not int:
        raise TypeError(f"{key}, which must be a whole number")
    return value
