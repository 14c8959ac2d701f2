"""Harmonics match numpy, scipy and a hand calculation. Some properties hold for any readings."""

from fractions import Fraction
from itertools import pairwise
from math import radians

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import least_squares  # type: ignore[import-untyped]

from core.operations.runout.harmonics import LARGEST_FACTOR, alias_share, determines, direction_deg, evenly_spaced, fit
from core.values.errors import PlanError
from tests.core.exact import power

ORDERS = [(1,), (1, 2), (1, 2, 3)]


def _design(angles_deg: tuple[float, ...], orders: tuple[int, ...]) -> np.ndarray:
    turned = [np.radians(angles_deg) * order for order in orders]
    return np.column_stack([np.ones(len(angles_deg)), *(f(angle) for angle in turned for f in (np.cos, np.sin))])


@st.composite
def uneven_turns(draw: st.DrawFn) -> tuple[tuple[float, ...], tuple[float, ...], tuple[int, ...]]:
    """Draw marks at any angles, readings at these marks, and orders that they determine."""
    orders = draw(st.sampled_from(ORDERS))
    tenths = draw(st.lists(st.integers(0, 3599), min_size=2 * len(orders) + 1, max_size=40, unique=True))
    angles = tuple(tenth / 10 for tenth in tenths)
    assume(determines(angles, orders))
    readings = draw(st.lists(st.floats(-5, 5), min_size=len(angles), max_size=len(angles)))
    return angles, tuple(readings), orders


def test_harmonics_of_six_ordinates_match_hand_calculation() -> None:
    """At sixths of a turn the cosines are halves and the sines half of root 3: a = 2/N sum of y cos (k angle)."""
    readings = [Fraction(tenths, 10) for tenths in (10, 14, 19, 17, 15, 12)]
    half, high = Fraction(1, 2), power(3, "1/2") / 2
    cosines, sines = (1, half, -half, -1, -half, half), (0, high, high, 0, -high, -high)
    found = fit(evenly_spaced(6), list(map(float, readings)), (1, 2))
    assert found.mean == pytest.approx(float(sum(readings) / 6), abs=1e-12)
    for order in (1, 2):
        parts = [
            float(sum(reading * table[order * place % 6] for place, reading in enumerate(readings)) / 3)
            for table in (cosines, sines)
        ]
        assert found.waves[order] == pytest.approx(parts, abs=1e-12)


@given(uneven_turns())
def test_fitted_harmonics_match_numpy(turn: tuple[tuple[float, ...], tuple[float, ...], tuple[int, ...]]) -> None:
    """Coefficients and covariance agree to 1e-9, for even and uneven marks."""
    angles, readings, orders = turn
    design = _design(angles, orders)
    wanted = np.linalg.lstsq(design, np.array(readings), rcond=None)[0]
    found = fit(angles, readings, orders)
    flat = [found.mean, *(part for order in orders for part in found.waves[order])]
    assert np.allclose(flat, wanted, rtol=0, atol=1e-9)
    covariance = np.linalg.inv(design.T @ design)
    assert np.allclose(found.covariance, covariance, rtol=1e-7, atol=1e-9)


def test_a_fitted_circle_matches_scipy() -> None:
    """A solver that uses no normal equations finds the same circle."""
    random = np.random.default_rng(4)
    for count in (3, 4, 7, 24):
        angles = tuple(sorted(random.choice(360, count, replace=False).astype(float)))
        readings = tuple(random.normal(0, 0.1, count))
        if not determines(angles):
            continue
        turned = np.radians(angles)

        def misfit(x: np.ndarray, turned: np.ndarray = turned, readings: tuple[float, ...] = readings) -> np.ndarray:
            shape: np.ndarray = x[0] + x[1] * np.cos(turned - x[2]) - np.array(readings)
            return shape

        found = fit(angles, readings)
        start = [found.mean + 0.01, found.amplitude(1) * 1.1, radians(found.high_deg(1)) + 0.1]
        solved = least_squares(misfit, start, xtol=1e-15, ftol=1e-15, gtol=1e-15).x
        assert found.amplitude(1) == pytest.approx(solved[1], abs=1e-8)


@given(st.integers(5, 60), st.data())
def test_a_fit_at_evenly_spaced_marks_equals_the_fourier_transform(count: int, data: st.DataObject) -> None:
    """The fit gives bins 1 and 2 of numpy's transform."""
    readings = data.draw(st.lists(st.floats(-3, 3), min_size=count, max_size=count))
    bins = 2 * np.fft.fft(readings) / count
    found = fit(evenly_spaced(count), readings, (1, 2))
    for order in (1, 2):
        assert found.waves[order] == pytest.approx((bins[order].real, -bins[order].imag), abs=1e-9)


@given(st.integers(3, 24), st.floats(0.01, 2), st.floats(0, 359), st.floats(-50, 50), st.floats(0.1, 9))
def test_turning_the_marks_turns_the_high_spot_but_scaling_the_readings_does_not(
    count: int, size: float, high: float, constant: float, scale: float
) -> None:
    """Adding a constant does not turn the high spot either. A change of sign turns it by half a turn."""
    angles = evenly_spaced(count)
    readings = [size * np.cos(radians(angle - high)) + 0.1 * np.cos(5 * radians(angle)) for angle in angles]
    plain = fit(angles, readings)
    assume(plain.amplitude(1) > 1e-3)

    def turned_by(other: list[float]) -> tuple[float, float]:
        found = fit(angles, other)
        return found.amplitude(1), (found.high_deg(1) - plain.high_deg(1) + 1) % 360 - 1

    assert turned_by([*readings[-1:], *readings[:-1]]) == pytest.approx((plain.amplitude(1), 360 / count), abs=1e-6)
    assert turned_by([reading + constant for reading in readings]) == pytest.approx((plain.amplitude(1), 0), abs=1e-6)
    assert turned_by([reading * scale for reading in readings]) == pytest.approx(
        (plain.amplitude(1) * scale, 0), abs=1e-6
    )
    assert turned_by([-reading for reading in readings]) == pytest.approx((plain.amplitude(1), 180), abs=1e-6)


@pytest.mark.parametrize("lobes", range(2, 9))
def test_the_lobes_mistaken_for_eccentricity_match_the_sampling_theorem(lobes: int) -> None:
    """Order j appears wholly as order 1 if j = m N - 1 or m N + 1. Otherwise it does not appear at all."""
    counts = range(3, 17)
    passes = [float((lobes + 1) % count == 0 or (lobes - 1) % count == 0) for count in counts]
    assert [alias_share(evenly_spaced(count), lobes) for count in counts] == pytest.approx(passes, abs=1e-9)


def test_the_stated_share_of_lobes_mistaken_for_eccentricity_is_the_maximum_over_all_phases() -> None:
    """numpy turns three lobes to every degree at uneven marks. The share is never exceeded, and reached once."""
    angles = (0.0, 40.0, 95.0, 180.0, 200.0, 300.0)
    design = _design(angles, (1,))
    worst = 0.0
    for phase in range(0, 360):
        form = np.cos(3 * np.radians(angles) - np.radians(phase))
        _, a, b = np.linalg.lstsq(design, form, rcond=None)[0]
        worst = max(worst, float(np.hypot(a, b)))
    assert alias_share(angles, 3) == pytest.approx(worst, rel=1e-3)


def test_standard_errors_match_the_scatter_of_simulated_random_turns() -> None:
    """Over many turns, eccentricity and direction scatter as predicted."""
    angles, random = (0.0, 30.0, 100.0, 160.0, 250.0), np.random.default_rng(1)
    true = np.array([np.cos(radians(angle - 70)) for angle in angles])
    along, across = fit(angles, list(true)).errors()
    found = [fit(angles, list(true + random.normal(0, 0.01, 5))) for _ in range(4000)]
    assert np.std([one.amplitude(1) for one in found]) == pytest.approx(0.01 * along, rel=0.05)
    assert np.std([radians(one.high_deg(1)) for one in found]) == pytest.approx(0.01 * across, rel=0.05)


@pytest.mark.parametrize(
    ("angles", "enough"),
    [
        ((0, 120, 240), True),
        ((0, 90, 180), True),
        ((0, 45, 90), True),
        ((0, 1, 2), False),
        ((0, 10, 20, 30), False),
        ((0, 0, 180), False),
        ((0, 90), False),
    ],
)
def test_marks_too_few_or_too_close_to_determine_a_circle_are_rejected(angles: tuple[float, ...], enough: bool) -> None:
    """Two marks, or three next to each other, are too few. The bound is the error in the worst direction."""
    assert determines(angles) is enough
    if enough:
        covariance = np.linalg.inv(_design(angles, (1,)).T @ _design(angles, (1,)))
        assert np.sqrt(np.linalg.eigvalsh(covariance[1:, 1:]).max()) <= LARGEST_FACTOR


def test_a_fit_through_fewer_than_three_different_marks_is_refused() -> None:
    """The refusal is a sentence instead of a division by zero."""
    with pytest.raises(PlanError, match=r"\b3 marks\b"):
        fit((0, 180, 360), (1, 2, 3))


def test_directions_are_between_0_and_360_degrees() -> None:
    """A direction in each quarter is right, and none is 360."""
    found = [direction_deg(np.cos(radians(angle)), np.sin(radians(angle))) for angle in range(0, 360, 5)]
    assert found == pytest.approx(list(range(0, 360, 5)))
    assert all(later > earlier for earlier, later in pairwise(found))
    assert direction_deg(1, -1e-17) == 0
    assert (
        0 <= fit(evenly_spaced(6), [np.cos(radians(2 * (a - 170))) for a in evenly_spaced(6)], (1, 2)).high_deg(2) < 180
    )
