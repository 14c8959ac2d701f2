"""Fits a straight line to readings along a length: slope, straightness, errors, and the move that corrects the slope.

The formulas are derived here, not taken from a source, except where a source is named.
"""

from collections.abc import Sequence
from math import atan, degrees, fsum, pi, sqrt
from typing import NamedTuple

from core.operations.asked_values import AFTER, REVERSED
from core.operations.square.job import SquareJob

LIGHT_CUT_N = 20.0
"""Force of a light finishing cut against the bar [N]; common practice, no source."""
STEEL_N_PER_MM2 = 210_000.0
"""Young's modulus of steel [N/mm²]; a common handbook value, from memory."""


class Line(NamedTuple):
    """A straight line fitted to readings by least squares. Lengths are in mm."""

    slope: float
    """Change of the reading for each mm of length."""
    middle_mm: float
    """The mean of the positions. At this position the line has the mean reading."""
    mean_mm: float
    straightness_mm: float | None
    """Largest minus smallest distance of the readings from the line. None for two positions, which fit any line."""
    spread_mm: float
    """Root of the sum of squared distances of the positions from their mean.

    The slope's error is divided by this root.
    """
    length_mm: float
    """Distance from the first position to the last."""

    @property
    def slope_deg(self) -> float:
        """The slope of the line as an angle [deg]."""
        return degrees(atan(self.slope))

    @property
    def error_mm(self) -> float:
        """The slope times the length over which readings were taken [mm]."""
        return self.slope * self.length_mm

    def turned(self, by_slope: float) -> "Line":
        """Return this line turned about its middle, with `by_slope` added to its slope."""
        return self._replace(slope=self.slope + by_slope)


def line_through(at_mm: Sequence[float], readings_mm: Sequence[float]) -> Line:
    """Return the least-squares line through readings at two or more different positions.

    >>> line = line_through((0, 60, 120), (0.0, 0.02, 0.05))
    >>> round(100 * line.slope, 5), round(line.straightness_mm, 5)
    (0.04167, 0.005)
    """
    count = len(at_mm)
    middle, mean = fsum(at_mm) / count, fsum(readings_mm) / count
    spread = fsum((at - middle) ** 2 for at in at_mm)
    pairs = list(zip(at_mm, readings_mm, strict=True))
    slope = fsum((at - middle) * (reading - mean) for at, reading in pairs) / spread
    off = [reading - mean - slope * (at - middle) for at, reading in pairs]
    straightness = max(off) - min(off) if count > 2 else None
    return Line(slope, middle, mean, straightness, sqrt(spread), max(at_mm) - min(at_mm))


class Found(NamedTuple):
    """The findings of one set of readings or diameters. Lengths are in mm."""

    line: Line
    """The line of the part, after subtracting the error of the square or bar itself."""
    own_slope: float | None = None
    """Slope of the square or bar itself. None if it was not read in both positions."""
    move_mm: float | None = None
    """Move at the tap, or of the tailstock; above 0 if away from the indicator or the tool."""
    taper_mm: float | None = None
    """Second diameter minus the first."""


def found_in(job: SquareJob, *, after: bool = False) -> Found | None:
    """Return the findings of a complete set of readings or diameters; None if the set is not complete.

    `after`: whether to use the set taken after a move.
    """
    values = job.complete(f"{job.key}{AFTER}" if after else job.key)
    if values is None:
        return None
    if job.key == "diameters":
        return _of_diameters(job, values)
    line, own = line_through(job.at_mm, values), _own_slope(job)
    if job.reverse and own is None:
        return None
    if job.method == "facing":
        # The slide cut the near side itself, so past the centre its error counts twice.
        return Found(line._replace(slope=line.slope / 2))
    line = line.turned(-(own or 0.0))
    return Found(line, own, _move_mm(job, line))


def _own_slope(job: SquareJob) -> float | None:
    """Return the slope error of the square or bar itself; None if it was not read in both positions.

    This slope is half the difference of the slopes before and after turning the square or bar over.
    """
    one, other = job.complete(job.key), job.complete(f"{REVERSED}{job.key}")
    if one is None or other is None:
        return None
    return (line_through(job.at_mm, one).slope - line_through(job.at_mm, other).slope) / 2


def _move_mm(job: SquareJob, line: Line) -> float | None:
    if job.method == "ground bar":
        return line.slope * (job.work_length_mm or line.length_mm)
    if job.tap_mm is None:
        return None
    return line.slope * (job.tap_mm - (job.at_mm[0] if job.pivot_mm is None else job.pivot_mm))


def _of_diameters(job: SquareJob, diameters_mm: Sequence[float]) -> Found:
    first, second = diameters_mm
    apart = job.apart_mm or 1.0
    # The larger end is further from the tool by half of the difference of the diameters.
    line = line_through((0.0, apart), (0.0, (second - first) / 2))
    move = None
    if job.method == "between centres":
        move = -line.slope * (job.work_length_mm or apart)
    return Found(line, None, move, second - first)


def slope_error(line: Line, graduation_mm: float, *, halved: bool = False) -> float:
    """Return the standard error of a slope [mm per mm] that the indicator's graduation alone causes.

    `halved`: whether the slope is half the difference of two slopes. The result is then halved too.

    Source: graduation / sqrt 12 for a reading (GUM F.2.2.1), carried through the least-squares fit.
    """
    error = graduation_mm / sqrt(12) / line.spread_mm
    return error / 2 if halved else error


def bending_mm(diameter_mm: float, stick_out_mm: float, force_n: float = LIGHT_CUT_N) -> float:
    """Return how far the free end of a steel bar in a chuck bends [mm]: F L^3 / (3 E I), I = pi d^4 / 64.

    F is `force_n` [N], and L is `stick_out_mm`.

    >>> round(bending_mm(25, 150), 4)
    0.0056
    """
    return force_n * stick_out_mm**3 / (3 * STEEL_N_PER_MM2 * pi * diameter_mm**4 / 64)
