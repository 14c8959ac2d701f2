"""Layers of circles match brute force in numpy: crossings, envelopes, touching circles and pairs of layers."""

import math
from fractions import Fraction
from itertools import combinations
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from core.lathe.lathe import Cutter
from core.operations.patterns.effects import layers_turned_mm
from core.operations.patterns.form_values import every_kth, groups
from core.operations.patterns.geometry import (
    RingShape,
    angle_to_touch_deg,
    crossing_count,
    effective_offset_mm,
    nearest_on_segment,
    relation,
    turned_by_deg,
)
from core.values.errors import PlanError
from tests.core.exact import power

Points = npt.NDArray[np.complex128]


def shape(count: int, offset: float, radius: float, **more: Any) -> RingShape:
    """Return a ring of circles."""
    return RingShape(count=count, offset_mm=offset, circle_radius_mm=radius, **more)


def centres(layer: RingShape) -> Points:
    """Return the centres as complex numbers, by numpy alone."""
    turns = np.deg2rad(layer.start_deg) + 2 * np.pi * np.arange(layer.count) / layer.count
    kept = [number for number in range(layer.count) if number + 1 not in layer.skip]
    places: Points = (layer.offset_mm * np.exp(1j * turns))[kept]
    return places


def brute_force_crossings(layer: RingShape) -> int:
    """Return the number of crossing points over all pairs of circles. Points within 1e-6 mm count as one."""
    found: list[complex] = []
    for one, other in combinations(centres(layer), 2):
        apart = abs(other - one)
        if apart >= 2 * layer.circle_radius_mm - 1e-9:
            continue
        height = math.sqrt(layer.circle_radius_mm**2 - apart**2 / 4)
        across = 1j * (other - one) / apart * height
        for point in ((one + other) / 2 + across, (one + other) / 2 - across):
            if all(abs(point - known) > 1e-6 for known in found):
                found.append(point)
    return len(found)


def test_a_table_axis_that_is_too_high_turns_and_enlarges_a_layer() -> None:
    """Offset 20 and 1 mm of height give the root of 401 and atan 1/20. Layers of 20 and 10 mm turn differently."""
    assert effective_offset_mm(20, 1) == pytest.approx(float(power(401, "1/2")), abs=1e-12)
    assert turned_by_deg(20, 1) == pytest.approx(math.degrees(math.atan(1 / 20)))
    turned_deg, turned_mm = layers_turned_mm(20, 10, 0.1)
    between = math.atan(0.1 / 10) - math.atan(0.1 / 20)
    assert turned_deg == pytest.approx(math.degrees(between))
    assert turned_mm == pytest.approx(10 * between, rel=1e-5)


def test_circles_through_a_common_point_have_one_crossing_at_that_point() -> None:
    """Offset and radius are equal: 12 crossing and 3 touching pairs share the middle, 13 points in all. By hand."""
    assert crossing_count(shape(6, 10, 10)) == 13


def test_groove_widths_match_hand_calculation() -> None:
    """A 90 deg point cuts twice as wide as deep. 60 deg with a 0.2 mm flat at 1 mm depth: 0.2 + 2 tan 30 deg."""
    assert Cutter("wide", 90).groove_width_mm(0.6) == pytest.approx(1.2, abs=1e-12)
    assert Cutter("flat", 60, 0.2).groove_width_mm(1) == pytest.approx(
        float(Fraction("0.2") + 2 / power(3, "1/2")), abs=1e-12
    )


@pytest.mark.parametrize("radius", [3.0, 7.0, 10.0, 10.0 * math.sqrt(2), 17.3205080756888, 20.0, 25.0])
def test_the_number_of_crossings_in_a_ring_matches_a_brute_force_count(radius: float) -> None:
    """Offset 10 and radii that are small, large, through the centre, or let crossing points of many pairs coincide."""
    layers = [shape(count, 10, radius) for count in (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 16, 18, 24, 30)]
    assert [(layer.count, crossing_count(layer)) for layer in layers] == [
        (layer.count, brute_force_crossings(layer)) for layer in layers
    ]


@settings(deadline=None, max_examples=60)
@given(st.integers(2, 20), st.floats(1, 30), st.floats(0.5, 40), st.floats(0, 360), st.data())
def test_the_number_of_crossings_in_a_ring_with_skipped_positions_matches_a_brute_force_count(
    count: int, offset: float, radius: float, start: float, data: st.DataObject
) -> None:
    """Any ring with any skipped positions, against brute force."""
    skip = frozenset(data.draw(st.lists(st.integers(1, count), max_size=count - 1)))
    layer = shape(count, offset, radius, start_deg=start, skip=skip)
    # Rounding decides whether nearly touching circles have one or two points. The exact cases cover them.
    chords = [2 * offset * math.sin(math.pi * step / count) for step in range(1, count)]
    assume(all(abs(chord - 2 * radius) > 1e-4 for chord in chords))
    assert brute_force_crossings(layer) == crossing_count(layer)


@settings(deadline=None, max_examples=60)
@given(st.integers(2, 60), st.floats(0.5, 60), st.floats(0.3, 80), st.floats(0.01, 5))
def test_the_spacing_and_envelope_of_a_ring_match_sampled_circles(
    count: int, offset: float, radius: float, width: float
) -> None:
    """Sampled circles give the nearest and furthest points of tip lines and groove edges from the table's axis."""
    layer = shape(count, offset, radius, groove_width_mm=width)
    places = centres(layer)
    assert abs(places[1] - places[0]) == pytest.approx(layer.spacing_mm, abs=1e-9)
    overlap = 2 * radius - abs(places[1] - places[0])
    assert overlap == pytest.approx(layer.overlap_mm, abs=1e-9)
    assert overlap + width == pytest.approx(layer.groove_overlap_mm, abs=1e-9)
    turns = np.exp(1j * np.linspace(0, 2 * np.pi, 3601))
    tip_lines = np.abs(places[0] + radius * turns)
    assert tip_lines.min() == pytest.approx(layer.inner_mm, abs=1e-9)
    assert tip_lines.max() == pytest.approx(layer.outer_mm, abs=1e-9)
    across = np.linspace(max(0, radius - width / 2), radius + width / 2, 801)
    grooves = np.abs(places[0] + across[:, None] * turns[None, ::10])
    assert grooves.min() == pytest.approx(layer.inner_edge_mm, abs=width / 800 + 1e-9)
    assert grooves.max() == pytest.approx(layer.outer_edge_mm, abs=1e-9)


@settings(deadline=None)
@given(st.floats(1, 50), st.floats(0.2, 30), st.floats(1, 50), st.floats(0.2, 30))
def test_circles_of_two_layers_touch_at_the_calculated_angle(
    offset: float, radius: float, other: float, reach: float
) -> None:
    """At the angle found, the centres are the sum of the radii apart. A pair without such an angle is refused."""
    if abs(offset - other) <= radius + reach <= offset + other:
        angle = math.radians(angle_to_touch_deg(offset, radius, other, reach))
        apart = abs(offset - other * complex(math.cos(angle), math.sin(angle)))
        assert apart == pytest.approx(radius + reach, rel=1e-6)
    else:
        with pytest.raises(PlanError):
            angle_to_touch_deg(offset, radius, other, reach)


@settings(deadline=None, max_examples=80)
@given(
    st.integers(1, 9),
    st.floats(1, 30),
    st.floats(0.5, 12),
    st.integers(1, 9),
    st.floats(1, 30),
    st.floats(0.5, 12),
    st.floats(0, 360),
)
def test_the_number_of_crossing_pairs_of_circles_in_two_layers_matches_sampled_circles(
    count: int, offset: float, radius: float, other_count: int, other_offset: float, other_radius: float, start: float
) -> None:
    """Two circles cross if sampled points of one lie both inside and outside the other."""
    one, other = shape(count, offset, radius), shape(other_count, other_offset, other_radius, start_deg=start)
    turns = np.exp(1j * np.linspace(0, 2 * np.pi, 721))
    crossing, gap, inside = 0, math.inf, False
    for place in centres(one):
        for other_place in centres(other):
            depth = np.abs(place + radius * turns - other_place) - other_radius
            if depth.min() < -1e-2 and depth.max() > 1e-2:
                crossing += 1
            elif depth.min() < 1e-2 < -depth.min() or abs(depth).min() < 2e-2:
                assume(False)  # The circles nearly touch, so the samples cannot decide.
            gap = min(gap, float(np.abs(depth).min()))
            surrounds = np.abs(other_place + other_radius * turns - place) - radius
            inside = inside or depth.max() < 0 or surrounds.max() < 0
    found = relation(one, other)
    assert found.crossing_pairs == crossing
    if crossing:
        assert (found.lie, found.gap_mm) == ("cross", 0.0)
    else:
        assert found.lie == ("inside" if inside else "apart")
        assert found.gap_mm == pytest.approx(gap, abs=2e-2)


def test_circles_of_two_layers_that_only_touch_do_not_count_as_crossing() -> None:
    """Circles of radius 2 and 3 mm with centres 5 mm apart touch without crossing."""
    assert relation(shape(1, 3, 2), shape(1, 4, 3, start_deg=90)).lie == "touch"
    assert relation(shape(1, 3, 2.01), shape(1, 4, 3, start_deg=90)).lie == "cross"
    assert relation(shape(1, 3, 1.99), shape(1, 4, 3, start_deg=90)).lie == "apart"


def test_a_skip_rule_such_as_every_4th_gives_the_numbers_of_the_skipped_positions() -> None:
    """The rules are every 4th, 3 cut and 2 skipped, and impossible rules."""
    assert every_kth(36, 4) == tuple(range(4, 37, 4))
    assert every_kth(6, 2, 1) == (1, 3, 5)
    assert groups(7, 2, 1) == (3, 6)
    for step in (1, 7):
        with pytest.raises(PlanError):
            every_kth(6, step)
    for cut, leave in ((0, 2), (5, 2)):
        with pytest.raises(PlanError):
            groups(6, cut, leave)


@given(*[st.tuples(st.floats(-50, 50), st.floats(-50, 50))] * 3)
def test_the_nearest_point_on_a_line_segment_matches_sampled_points(
    place: tuple[float, float], start: tuple[float, float], end: tuple[float, float]
) -> None:
    """No sampled point is nearer, and the nearest point lies on the segment. Points come from numpy."""
    sampled = complex(*start) + (complex(*end) - complex(*start)) * np.linspace(0, 1, 2001)
    nearest = nearest_on_segment(place, start, end)
    assert math.dist(nearest, place) <= np.abs(sampled - complex(*place)).min() + 1e-9
    assert np.abs(sampled - complex(*nearest)).min() <= math.dist(start, end) / 2000 + 1e-9
