"""Where a step belongs: in a pattern, among the readings round a turn, or at a start of a thread.

In the log this is among the figures of the step, under keys that never change.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

_BOTH, _STRIDE = "start", 1_000_000
"""In runs of schema 1, one number may hold two: the step's number plus this stride for each mark of its shift."""


class PatternPosition(NamedTuple):
    """Where a step is in a pattern. All fields are None if it is not in one."""

    step: int | None = None
    """The number of the step in the pattern."""
    shift_marks: int = 0
    """How many marks its dial has been shifted since the step was planned."""
    position: int | None = None
    """The number of its position, from 1; None for a set-up step."""
    of: int | None = None
    """How many positions there are, if the step goes to one."""
    layer: int | None = None
    """The number of its layer, from 1; None if the pattern has only one."""

    @property
    def where(self) -> tuple[int | None, int | None]:
        """Its layer and position, which all steps that cut at the same place have in common."""
        return self.layer, self.position


class ReadingPosition(NamedTuple):
    """Where an indicator reading is taken: at which mark, in which turn and set of readings."""

    angle_deg: float | None
    """The mark to read [deg]; None for the first mark again, which closes the turn."""
    plane: int | None = None
    """The number of its plane, from 1; None if there is only one."""
    set_of_readings: int | None = None
    """The number of its set of readings.

    None for a turn that is read again, and in runs of the first version.
    """
    repeat: int = 0
    """How often the turn was read before: 0 for the first time."""

    @property
    def time(self) -> tuple[int | None, int]:
        """Its set of readings and its repeat, which all readings of the same turn have in common."""
        return self.set_of_readings, self.repeat


class ThreadStart(NamedTuple):
    """The start of a thread to which a step moves."""

    number: int


StepPlace = PatternPosition | ReadingPosition | ThreadStart


def place_as_data(place: StepPlace | None) -> dict[str, Any]:
    """Return a place as plain data for the log, without keys that do not apply.

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
    """Return the place of a step, and the figures without it.

    in_pattern: the key "start" is the number of a pattern's step, as in the oldest runs; else it is a start of
    a thread. Raises TypeError or ValueError for figures that cannot be a place.

    >>> place_from_data({"start": 2}, False, False)
    (ThreadStart(number=2), {})
    >>> place_from_data({"start": 2_000_007}, False, True)
    (PatternPosition(step=7, shift_marks=2, position=None, of=None, layer=None), {})
    """
    other = dict(figures)
    if is_reading and ("closing" in other or "angle_deg" in other):
        angle_deg = None if other.pop("closing", False) else float(other.pop("angle_deg"))
        # Runs of the first version do not number repeats.
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
    """Return a whole number of the figures and remove it there; raises TypeError if the value is not one."""
    value = figures.pop(key, None)
    if value is not None and type(value) is not int:
        raise TypeError(f"{key}, which must be a whole number")
    return value
