"""Calculates the position of another axis relative to the spindle's, from bars, a sweep or two circles.

The formulas are derived here, not taken from a source. Signs: a height error is above 0 if the other axis is higher
than the spindle's. A near error is above 0 if the other axis is nearer to the operator.
"""

from math import atan, degrees, sqrt
from typing import NamedTuple

from core.operations.asked_values import AFTER
from core.operations.axes.job import UP_DOWN, AxesJob
from core.operations.patterns.geometry import effective_offset_mm, turned_by_deg

SLIP_GRADUATIONS = 2
"""Largest difference between up + down and near + far [graduations]. With a larger one, a reading has slipped."""
_TIE_MM = 1e-9


class AxisError(NamedTuple):
    """The distance of the other axis from the spindle's, in height and across [mm]; None for a direction that has not
    been measured.
    """

    height_mm: float | None = None
    near_mm: float | None = None
    signed: bool = True
    """False if only the sizes are known: two circles were measured, but not which one is higher or nearer."""


def bar_axes_mm(job: AxesJob, *, after: bool = False) -> tuple[float, float] | None:
    """Return the heights of the spindle's axis and of the other axis above a common surface [mm].

    Return None if the job does not have all the sizes and heights of the bars. If a bar was read twice, half a turn
    apart, the mean of both readings counts.
    `after`: True to use the values measured again after the bolts were tightened.
    """
    axes = []
    for bar, over in (("spindle_bar", "over_spindle_bar"), ("other_bar", "over_other_bar")):
        size, height = job.size(bar), job.size(f"{over}{AFTER}" if after else over)
        if size is None or height is None:
            return None
        turned = None if after else job.size(f"{over}_turned")
        axes.append((height if turned is None else (height + turned) / 2) - size / 2)
    return axes[0], axes[1]


def error_of(job: AxesJob, *, after: bool = False) -> AxisError | None:
    """Return the position error of the other axis; None if it has not been measured.

    `after`: True to use the values measured again after the bolts were tightened.
    """
    end = AFTER if after else ""
    match job.method:
        case "bars":
            axes = bar_axes_mm(job, after=after)
            return None if axes is None else AxisError(axes[1] - axes[0])
        case "bars compared":
            return _compared(job, end)
        case "sweep":
            return _swept(job, end)
        case "two circles":
            return _circles(job, end)


def _compared(job: AxesJob, end: str) -> AxisError | None:
    spindle, other = job.size("spindle_bar"), job.size("other_bar")
    difference = job.size(f"difference{end}")
    if spindle is None or other is None or difference is None:
        return None
    turned = None if end else job.size("difference_turned")
    mean = difference if turned is None else (difference + turned) / 2
    return AxisError(mean + (spindle - other) / 2)


def droop_mm(job: AxesJob) -> float | None:
    """Return how far the indicator droops under its own weight [mm]; None if the droop is not known.

    The droop is half of up - down, the readings above and below a bar that turns with the indicator.
    """
    readings = job.measured.get("droop_readings", ())
    return (readings[0] - readings[1]) / 2 if len(readings) == 2 else job.size("droop")


def _swept(job: AxesJob, end: str) -> AxisError | None:
    readings, droop = job.four(f"readings{end}"), droop_mm(job)
    if readings is None or droop is None:
        return None
    up, near, down, far = readings
    sense = -1 if job.surface == "bore" else 1
    return AxisError(sense * (up - down) / 2 - droop, sense * (near - far) / 2)


def _circles(job: AxesJob, end: str) -> AxisError | None:
    circle = job.size("circle")
    both = job.size(f"over_both_up{end}"), job.size(f"over_both_level{end}")
    if circle is None or None in both:
        return None
    height, near = ((size or 0.0) - circle for size in both)
    words = job.measured.get(f"last_circle{end}"), job.measured.get(f"last_circle_level{end}")
    if None in words:
        return AxisError(height / 2, near / 2, signed=False)
    # The last circle is about the spindle. The table has carried the first one to the other side of its own axis.
    return AxisError(height / 2 * (-1 if words[0] == UP_DOWN[0] else 1), near / 2 * (-1 if words[1] == "nearer" else 1))


def slip_mm(readings: tuple[float, float, float, float]) -> float:
    """Return the difference between up + down and near + far [mm], which is above 0 only if a reading has slipped.

    readings: up, near, down and far [mm].

    >>> round(slip_mm((0.0, 0.05, 0.1, 0.09)), 6)
    0.04
    """
    up, near, down, far = readings
    return abs(up + down - near - far)


def slipped(readings: tuple[float, float, float, float] | None, graduation_mm: float) -> bool:
    """Return True if a reading of a sweep has slipped; False if it has not, or if there are no readings.

    `readings`: up, near, down and far [mm]. `graduation_mm`: one graduation of the indicator [mm].
    """
    return readings is not None and slip_mm(readings) > SLIP_GRADUATIONS * graduation_mm + _TIE_MM


def sweep_error_mm(graduation_mm: float) -> float:
    """Return the standard error [mm] of a height that a sweep gives as half the difference of two readings.

    Source: the standard error of one reading is graduation / sqrt 12 (GUM F.2.2.1).
    """
    return graduation_mm / sqrt(12) / sqrt(2)


class FaceSlope(NamedTuple):
    """How far a face leans over a circle. `up_mm` is above 0 if the top of the face is nearer to the spindle.

    `across_mm` is above 0 if the side of the face near the operator is nearer to the spindle.
    """

    up_mm: float
    across_mm: float
    circle_mm: float
    """Diameter of the circle over which the lean was read."""

    @property
    def up_deg(self) -> float:
        """The angle by which the top or bottom of the face leans towards the spindle [deg], with the sign of
        `up_mm`.
        """
        return degrees(atan(self.up_mm / self.circle_mm))

    @property
    def across_deg(self) -> float:
        """The angle by which the near or far side of the face leans towards the spindle [deg], with the sign of
        `across_mm`.
        """
        return degrees(atan(self.across_mm / self.circle_mm))


def face_slope(job: AxesJob) -> FaceSlope | None:
    """Return the lean of the table's face, swept with an indicator in the spindle; None if the face has not been swept.

    Droop does not change these readings, because it moves the indicator along the face, not towards it.
    """
    readings = job.four("face_readings")
    if readings is None or job.face_circle_mm is None:
        return None
    up, near, down, far = readings
    return FaceSlope(up - down, near - far, job.face_circle_mm)


class PatternEffect(NamedTuple):
    """The effect of a height error on one ring of a pattern that is cut with the work on the other axis."""

    offset_mm: float
    effective_offset_mm: float
    turned_by_deg: float
    """Angle by which the whole ring is turned, never below 0."""


def effect_on_pattern(offset_mm: float, height_error_mm: float) -> PatternEffect:
    """Return the effect of a height error [mm] on the ring of a pattern that is cut with the slide at an offset [mm].

    >>> [round(value, 6) for value in effect_on_pattern(20, -1)[1:]]
    [20.024984, 2.862405]
    """
    return PatternEffect(
        offset_mm, effective_offset_mm(offset_mm, height_error_mm), abs(turned_by_deg(offset_mm, height_error_mm))
    )


def meets_at_mm(job: AxesJob) -> float | None:
    """Return the reading at which both axes have the same height [mm]; None if this reading is not known.

    - bars: the height over the other bar;
    - bars compared: the indicator reading on the other bar, after it was set to 0 on the spindle's bar;
    - sweep: down - up;
    - two circles: the width over both circles.
    """
    spindle, other = job.size("spindle_bar"), job.size("other_bar")
    match job.method:
        case "bars":
            axes = bar_axes_mm(job)
            return None if axes is None or other is None else axes[0] + other / 2
        case "bars compared":
            return None if spindle is None or other is None else (other - spindle) / 2
        case "sweep":
            droop = droop_mm(job)
            return None if droop is None else (2 if job.surface == "bore" else -2) * droop
        case "two circles":
            return job.size("circle")
