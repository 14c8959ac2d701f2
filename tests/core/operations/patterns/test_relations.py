"""The relation of two layers matches all distances between their circles, calculated by numpy."""

import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.operations.patterns.geometry import RingShape, relation

OFFSETS = st.sampled_from([7.0, 10.0, 20.0]) | st.floats(1, 30)
RADII = st.sampled_from([5.0, 10.0, 12.5]) | st.floats(0.5, 30)


@st.composite
def layers(draw: st.DrawFn) -> RingShape:
    """Draw a layer of up to 12 circles, some of them skipped."""
    count = draw(st.integers(1, 12))
    return RingShape(
        count=count,
        offset_mm=draw(OFFSETS if count > 1 else OFFSETS | st.just(0.0)),
        circle_radius_mm=draw(RADII),
        start_deg=draw(st.sampled_from([0.0, 90.0]) | st.floats(0, 360)),
        skip=frozenset(draw(st.lists(st.integers(1, count), max_size=count - 1))),
    )


@given(layers(), layers())
def test_the_relation_of_two_layers_matches_the_distances_between_all_circle_centres(
    one: RingShape, other: RingShape
) -> None:
    """Circles cross if the distance of their centres lies between the difference and the sum of the radii."""
    places = [np.array([(x_mm, y_mm) for _, x_mm, y_mm in layer.centres_mm()]) for layer in (one, other)]
    apart = np.hypot(*(places[0][:, None] - places[1][None, :]).transpose(2, 0, 1))
    together = one.circle_radius_mm + other.circle_radius_mm
    within = abs(one.circle_radius_mm - other.circle_radius_mm)
    free = np.maximum(apart - together, within - apart)
    if np.any(np.abs(np.abs(free) - 1e-6) < 1e-9):
        return
    found = relation(one, other)
    assert found.crossing_pairs == np.count_nonzero(free < -1e-6)
    expected = 0.0 if free.min() <= 1e-6 else free.min()
    assert found.gap_mm == pytest.approx(expected, abs=1e-9)
    if found.gap_mm:
        assert found.lie == ("inside" if np.any(within - apart > 1e-6) else "apart")


def test_twelve_layers_of_360_circles_are_compared_within_two_seconds() -> None:
    """All pairs of twelve layers of 360 circles have 8.5 million distances."""
    many = [
        RingShape(count=360 - number, offset_mm=20.0, circle_radius_mm=8.0, start_deg=number) for number in range(12)
    ]
    begun = time.process_time()
    for index, one in enumerate(many):
        for other in many[:index]:
            assert relation(one, other).lie == "cross"
    assert time.process_time() - begun < 2.0
