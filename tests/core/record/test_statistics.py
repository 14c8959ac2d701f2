"""Means, intervals and slopes, compared with scipy and numpy."""

import numpy as np
import pytest
from scipy import stats

from core.record.statistics import common_slope, mean_of, t_factor, t_share


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 5, 8, 9, 30, 101, 400])
@pytest.mark.parametrize("level", [0.95, 0.99])
def test_the_computed_students_t_distribution_equals_the_one_in_scipy(freedom: int, level: float) -> None:
    """Both the quantile and the share between -t and t are compared."""
    assert t_factor(freedom, level) == pytest.approx(stats.t.ppf((1 + level) / 2, freedom), rel=1e-7)
    for t in (0.0, 0.3, 1.7, 6.0):
        assert t_share(t, freedom) == pytest.approx(2 * stats.t.cdf(t, freedom) - 1, abs=1e-12)


@pytest.mark.parametrize("count", [2, 3, 5, 24])
def test_the_confidence_interval_of_a_mean_equals_the_one_from_scipy(count: int) -> None:
    """Both the standard error and the 95 % interval are compared."""
    values = np.random.default_rng(count).normal(0.012, 0.004, count)
    mean = mean_of(values.tolist())
    assert mean is not None
    assert mean.error == pytest.approx(stats.sem(values))
    low, high = stats.t.interval(0.95, count - 1, loc=values.mean(), scale=stats.sem(values))
    assert (mean.mean - mean.half_width, mean.mean + mean.half_width) == pytest.approx((low, high))


def test_the_mean_of_a_single_value_has_no_confidence_interval() -> None:
    """A single value has no interval, and no value has no mean."""
    assert mean_of([]) is None
    one = mean_of([0.02])
    assert one is not None and one.half_width == 0.0


@pytest.mark.parametrize("seed", range(5))
def test_the_common_slope_of_several_groups_equals_numpys_least_squares_slope(seed: int) -> None:
    """numpy fits a column of ones for each group. The error follows from the residuals."""
    rng = np.random.default_rng(seed)
    sizes = rng.integers(3, 9, 2)
    x, y = rng.uniform(0, 3, sizes.sum()), rng.normal(0, 0.01, sizes.sum())
    group = np.repeat([0, 1], sizes)
    design = np.column_stack([x, group == 0, group == 1]).astype(float)
    fitted, squares, _, _ = np.linalg.lstsq(design, y, rcond=None)
    freedom = len(x) - 3
    error = np.sqrt(squares[0] / freedom * np.linalg.inv(design.T @ design)[0, 0])
    slope = common_slope([list(zip(x[group == one], y[group == one], strict=True)) for one in (0, 1)])
    assert slope is not None
    assert (slope.slope, slope.error, slope.freedom) == pytest.approx((fitted[0], error, freedom))
    alone = common_slope([list(zip(x, y, strict=True))])
    line = stats.linregress(x, y)
    assert alone is not None and (alone.slope, alone.error) == pytest.approx((line.slope, line.stderr))


def test_points_that_share_one_x_value_have_no_slope() -> None:
    """Cuts that are all alike cannot show how differences grow."""
    assert common_slope([[(0.3, 0.01), (0.3, 0.02), (0.3, 0.03)]]) is None
    assert common_slope([[(0.3, 0.01), (0.5, 0.02)]]) is None
