"""The mean and the slope of a few measurements, each with an uncertainty by Student's t distribution.

Sources: M. Abramowitz, I. A. Stegun, "Handbook of Mathematical Functions", 26.7.3 and 26.7.4, for the distribution with
whole degrees of freedom; least squares as in any textbook. Both are from memory. The tests compare them with scipy.
"""

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

USUAL_LEVEL = 0.95
"""The share of cases in which the interval of a mean contains the true value."""
SURE_LEVEL = 0.99
"""The share for a sentence of advice. With many dials, one case in twenty would be chance too often."""
_LARGEST_T = 1e4
_HALVINGS = 60


def t_share(t: float, freedom: int) -> float:
    """Return the probability that Student's t is between -t and t [-]. `freedom`: degrees of freedom, 1 or more.

    >>> round(t_share(12.706, 1), 4), round(t_share(2.228, 10), 4)
    (0.95, 0.95)
    """
    angle = math.atan(abs(t) / math.sqrt(freedom))
    sine, cosine = math.sin(angle), math.cos(angle)
    is_odd = freedom % 2 == 1
    term = cosine if is_odd else 1.0
    total = 0.0
    for power in range(1 if is_odd else 0, freedom - 1, 2):
        total += term
        term *= cosine**2 * (power + 1) / (power + 2)
    return 2 / math.pi * (angle + sine * total) if is_odd else sine * total


@lru_cache(maxsize=256)
def t_factor(freedom: int, level: float = USUAL_LEVEL) -> float:
    """Return how many standard errors an interval must extend to each side, to contain the true value.

    `freedom`: degrees of freedom. `level`: the probability that the interval contains the true value [-].

    >>> round(t_factor(3), 3)
    3.182
    """
    low, high = 0.0, _LARGEST_T
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if t_share(middle, freedom) < level else (low, middle)
    return high


class Mean(NamedTuple):
    """The mean of some values and its standard error, both in the unit of the values."""

    number: int
    """The number of values."""
    mean: float
    error: float
    """The standard error of the mean; 0 for a single value, for which no error can be computed."""

    @property
    def half_width(self) -> float:
        """Return how far the 95 % interval extends to each side of the mean; 0 for the mean of a single value."""
        return self.error * t_factor(self.number - 1) if self.number > 1 else 0.0


def mean_of(values: Sequence[float]) -> Mean | None:
    """Return the mean of the values with its standard error; None if there are no values.

    >>> mean_of([0.01, 0.03])
    Mean(number=2, mean=0.02, error=0.01)
    """
    count = len(values)
    if not count:
        return None
    mean = math.fsum(values) / count
    if count == 1:
        return Mean(1, mean, 0.0)
    squares = math.fsum((value - mean) ** 2 for value in values)
    return Mean(count, mean, math.sqrt(squares / (count - 1) / count))


class Slope(NamedTuple):
    """The slope of a line through some points, and its standard error, both in units of y per unit of x."""

    slope: float
    error: float
    freedom: int
    """Degrees of freedom: the number of points minus the number of fitted values."""

    def half_width(self, level: float = SURE_LEVEL) -> float:
        """Return how far the slope's interval of uncertainty extends to each side of the slope.

        `level`: the probability that the interval contains the true slope [-].
        """
        return self.error * t_factor(self.freedom, level)

    @property
    def is_sure(self) -> bool:
        """Return True if the slope is so far from 0 that chance would explain it in fewer than 1 of 100 cases."""
        return abs(self.slope) > self.half_width()


Points = Sequence[tuple[float, float]]


def common_slope(groups: Sequence[Points], *, through_zero: bool = False) -> Slope | None:
    """Return the least-squares slope that all groups of points (x, y) share; None if there is none.

    There is none if the points are too few, or if all points of each group have the same x. Each group has an offset of
    its own. `through_zero`: True to give no group an offset.
    """
    used = [points for points in groups if points]
    middles = [(0.0, 0.0) if through_zero else _middle(points) for points in used]
    moved = [(x - x0, y - y0) for points, (x0, y0) in zip(used, middles, strict=True) for x, y in points]
    freedom = len(moved) - 1 - (0 if through_zero else len(used))
    spread = math.fsum(x * x for x, _ in moved)
    if freedom < 1 or spread <= 1e-12 * max((x * x for points in used for x, _ in points), default=0.0):
        return None
    slope = math.fsum(x * y for x, y in moved) / spread
    left = math.fsum((y - slope * x) ** 2 for x, y in moved)
    return Slope(slope, math.sqrt(left / freedom / spread), freedom)


def _middle(points: Points) -> tuple[float, float]:
    return math.fsum(x for x, _ in points) / len(points), math.fsum(y for _, y in points) / len(points)
