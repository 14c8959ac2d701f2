"""The place of a step: in a pattern, among the indicator readings of a turn, or at a start of a thread.

The log keeps the place among the figures of the step, under keys that never change.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

_BOTH, _STRIDE = "start", 1_000_000
"""The oldest key of a place, and the stride that it needs.

In runs of schema 1, one number may hold the number of the step, plus this stride for each mark of its shift.
"""


class PatternPosition(NamedTuple):
    """The place of a step in a pattern. All fields are None if the step is in no pattern."""

    step: int | None = None
    """The number of the step in the pattern."""
    shift_marks: int = 0
    """The number of marks by which its dial was shifted after the step was planned."""
    position: int | None = None
    """The number of the position, from 1; None for a set-up step."""
    of: int | None = None
    """The number of positions in the pattern; None if the step goes to no position."""
    layer: int | None = None
    """The number of the layer, from 1; None if the pattern has only one layer."""

    @property
    def where(self) -> tuple[int | None, int | None]:
        """Return layer and position, which are the same for all steps that cut at one place."""
        return self.layer, self.position


class ReadingPosition(NamedTuple):
    """The place of an indicator reading: its mark, turn and set of readings."""

    angle_deg: float | None
    """The angle of the mark to read [deg]; None for the first mark again, which closes the turn."""
    plane: int | None = None
    """The number of the plane, from 1; None if only one plane is read."""
    set_of_readings: int | None = None
    """The number of the set of readings.

    None for a turn that is read again, and in runs of the first version.
    """
    repeat: int = 0
    """How many times the turn was read before: 0 for the first time."""

    @property
    def time(self) -> tuple[int | None, int]:
        """Return set of readings and repeat, which are the same for all readings of one turn."""
        return self.set_of_readings, self.repeat


class ThreadStart(NamedTuple):
    """The start of a thread to which a step moves."""

    number: int


StepPlace = PatternPosition | ReadingPosition | ThreadStart


def place_as_data(place: StepPlace | None) -> dict[str, Any]:
    """Return a place as plain data for the log, without the keys that do not apply.

    >>> place_as_data(PatternPosition(step=7, shift_marks=-3, position=2))
    {'position': 2, 'pattern_step': 7, 'shift_marks': -3}
    """
    match place:
        case PatternPosition():
            data = {
                "position": place.position,
                "of": place.of,
                "layer": place.layer,
                "pattern_step": place.step,
                "shift_marks": place.shift_marks or None,
            }
            return {key: value for key, value in data.items() if value is not None}
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
    """Return the place of a step, and the figures that remain after the place is removed.

    in_pattern: True if the key "start" is the number of a pattern's step, as in the oldest runs; False if it is a start
    of a thread. Raises TypeError or ValueError for figures that cannot be a place.

    >>> place_from_data({"start": 2}, False, False)
    (ThreadStart(number=2), {})
    >>> place_from_data({"start": 2_000_007}, False, True)
    (PatternPosition(step=7, shift_marks=2, position=None, of=None, layer=None), {})
    """
    other = dict(figures)
    if is_reading and ("closing" in other or "angle_deg" in other):
        angle_deg = None if other.pop("closing", False) else float(other.pop("angle_deg"))
        # Runs of the first version do not number the repeats of a turn.
        repeat = (_whole(other, "repeat") or 1) if other.pop("again", False) else 0
        return ReadingPosition(angle_deg, _whole(other, "plane"), _whole(other, "round"), repeat), other
    both = _whole(other, _BOTH)
    if both is not None and not in_pattern:
        return ThreadStart(both), other
    step, shift = _whole(other, "pattern_step"), _whole(other, "shift_marks") or 0
    if both is not None:
        shift, step = divmod(both, _STRIDE)
    place = PatternPosition(step, shift, *(_whole(other, key) for key in ("position", "of", "layer")))
    return (None if place == PatternPosition() else place), other


def _whole(figures: dict[str, Any], key: str) -> int | None:
    """Remove a whole number from the figures and return it; raises TypeError if the value is not a whole number."""
    value = figures.pop(key, None)
    if value is not None and type(value) is not int:
        raise TypeError(f"{key}, which must be a whole number")
    return value
