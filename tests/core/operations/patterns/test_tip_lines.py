"""Reach, spacing and crossings of any layer match hand values, known figures, and brute force in numpy."""

import math
import time
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from core.operations.patterns.elements import exact_cuts
from core.operations.patterns.errors_drawn import neighbours
from core.operations.patterns.geometry import RingShape, crossing_count, relation
from core.operations.patterns.layers import Layer
from core.operations.patterns.tip_lines import (
    TipLine,
    crossing_points,
    envelope_mm,
    least_spacing_mm,
    nearest_points,
    relation_of_circles,
    tip_lines,
)
from tests.core.operations.patterns.made import job, layer, places


def circles(one: Layer, **keys: object) -> tuple[TipLine, ...]:
    """Return the tip lines of a job's only layer."""
    wanted = job(one, **keys)
    return tuple(tip_lines(wanted, wanted.layers[0]))


def brute_force_crossings(lines: tuple[TipLine, ...]) -> int | None:
    """Return the number of distinct crossing points from a comparison of every pair of circles.

    Points within 1e-6 mm of each other count as one. None: near points form a chain, which has no certain count.
    """
    points: list[complex] = []
    for one, other in combinations(lines, 2):
        a, b = complex(one.x_mm, one.y_mm), complex(other.x_mm, other.y_mm)
        apart = abs(b - a)
        if abs(one.radius_mm - other.radius_mm) + 1e-6 < apart < one.radius_mm + other.radius_mm - 1e-6:
            cosine = (apart**2 + one.radius_mm**2 - other.radius_mm**2) / (2 * apart * one.radius_mm)
            for sign in (1, -1):
                points.append(a + (b - a) / apart * one.radius_mm * np.exp(sign * 1j * math.acos(cosine)))
    if not points:
        return 0
    near = cKDTree(np.column_stack([np.real(points), np.imag(points)])).query_pairs(1e-6, output_type="ndarray")
    links = coo_matrix((np.ones(len(near)), (near[:, 0], near[:, 1])), shape=(len(points), len(points)))
    count, group = connected_components(links, directed=False)
    sizes = np.bincount(group)
    is_certain = (sizes * (sizes - 1) // 2).sum() == len(near)
    return int(count) if is_certain else None


@pytest.mark.parametrize(
    ("count", "offset", "radius", "known"),
    [
        # Six circles through the centre: 12 pairs cross, 3 opposite ones touch; 12 points outside and the centre.
        (6, 10, 10, 13),
        # Three through the centre: 3 points outside and the centre.
        (3, 10, 10, 4),
        # Five and eight through the centre: 10 pairs, and 28 less 4 that touch; each pair has one point outside.
        (5, 10, 10, 11),
        (8, 10, 10, 25),
        # Two circles that overlap, two that touch, and two apart.
        (2, 10, 11, 2),
        (2, 10, 10, 0),
        (2, 10, 9, 0),
        # Twelve with only neighbours crossing: 12 pairs of 2 points. 2 x 20 sin 15 deg = 10.35, 2 x 20 sin 30 deg = 20.
        (12, 20, 6, 24),
        # Circles two positions apart touch at a radius of 10 mm, and only direct neighbours cross.
        (12, 20, 10, 24),
    ],
)
def test_rings_of_circles_have_their_known_number_of_crossings(
    count: int, offset: float, radius: float, known: int
) -> None:
    """By hand. The same ring in another place has the same number."""
    assert crossing_count(RingShape(count=count, offset_mm=offset, circle_radius_mm=radius)) == known
    for about in ((0.0, 0.0), (7.3, -2.9), (100.0, 0.1)):
        assert crossing_points(circles(layer(count, offset, radius, about_mm=about))) == known


def test_rows_and_grids_of_circles_have_their_known_number_of_crossings() -> None:
    """In a row 1 mm apart with radius 0.8 mm, neighbours cross at two points. Circles 2 mm apart do not cross."""
    assert crossing_points(tuple(TipLine(number, 0.0, 0.8) for number in range(10))) == 18
    # With radius 1 mm, circles 2 mm apart touch. No other circles cross at these points.
    assert crossing_points(tuple(TipLine(number, 0.0, 1.0) for number in range(10))) == 18
    # A square grid 1 mm wide with radius 1 mm / root 2: all circles of a square go through its middle. Besides those
    # 9 points there are 12 half a mm outside the grid, 3 to a side.
    grid = tuple(TipLine(column, row, math.sqrt(0.5)) for column in range(4) for row in range(4))
    assert crossing_points(grid) == brute_force_crossings(grid) == 9 + 12


@settings(deadline=None, max_examples=60)
@given(st.integers(2, 14), st.integers(1, 4), st.floats(1, 20), st.floats(1, 20), st.floats(0.5, 20), st.floats(0, 1))
@example(6, 3, 12, 4, 13, 0.25).via("two crossing points 0.44 um apart, on two sides of a grid edge")
@example(6, 3, 8, 2, 11, 1).via("three crossing points within 0.48 um")
@example(14, 4, 10.87, 8.75, 18.46, 0.04).via("two such pairs")
@example(13, 4, 18, 2, 20, 0).via("two crossing points 0.95 um apart")
def test_the_number_of_crossings_in_repeated_rings_and_spirals_matches_a_brute_force_count(
    count: int, repeat: int, offset: float, apart: float, radius: float, step: float
) -> None:
    """Rings of rings and spirals, with every pair compared."""
    lines = circles(
        layer(
            count,
            round(offset, 2),
            round(radius, 2),
            repeat=repeat,
            repeat_offset_mm=round(apart, 2),
            spread=540,
            offset_step_mm=round(step, 2),
        )
    )
    expected = brute_force_crossings(lines)
    assume(expected is not None)
    assert crossing_points(lines) == expected


def test_the_number_of_crossings_is_unknown_if_too_many_pairs_of_circles_may_cross() -> None:
    """A spiral of 20 000 circles crosses only its neighbours. The same number of large circles all cross each other."""
    angles, offsets = np.arange(20_000) * 2.4, 0.5 * np.sqrt(np.arange(20_000))
    lines = tuple(TipLine(r * math.cos(a), r * math.sin(a), 0.3) for a, r in zip(angles, offsets, strict=True))
    start = time.process_time()
    assert (crossing_points(lines) or 0) > 10_000
    assert time.process_time() - start < 5
    assert crossing_points(tuple(line._replace(radius_mm=60.0) for line in lines)) is None


@settings(deadline=None, max_examples=60)
@given(st.integers(1, 9), st.floats(0, 30), st.floats(1, 20), st.integers(1, 9), st.floats(0, 30), st.floats(1, 20))
def test_comparing_circles_one_by_one_gives_the_same_relation_as_comparing_their_rings(
    count: int, offset: float, radius: float, other_count: int, other_offset: float, other_radius: float
) -> None:
    """Two rings about the centre, compared circle by circle."""
    one, other = (
        RingShape(count=n, offset_mm=round(a, 2), circle_radius_mm=round(r, 2), start_deg=s)
        for n, a, r, s in ((count, offset, radius, 0), (other_count, other_offset, other_radius, 17))
    )
    ones, others = (
        tuple(TipLine(x, y, ring.circle_radius_mm) for _, x, y in ring.centres_mm()) for ring in (one, other)
    )
    whole, free = relation(one, other), relation_of_circles(ones, others)
    assert free is not None
    assert (free.crossing_pairs, free.gap_mm) == (whole.crossing_pairs, pytest.approx(whole.gap_mm, abs=1e-6))


def outline(line: TipLine) -> np.ndarray:
    """Return points along a tip line as complex numbers [mm]."""
    if line.to is not None:
        return complex(line.x_mm, line.y_mm) + np.linspace(0, 1, 4001) * complex(
            line.to[0] - line.x_mm, line.to[1] - line.y_mm
        )
    angles = line.from_angle + line.sweep * np.linspace(0, 1, 4001)
    return complex(line.x_mm, line.y_mm) + line.radius_mm * np.exp(1j * angles)


@settings(deadline=None, max_examples=60)
@given(
    st.sampled_from(["circles", "dots", "arcs", "slots"]),
    st.floats(1, 30),
    st.floats(0, 10),
    st.floats(-1, 1),
    st.integers(10, 300),
    st.booleans(),
)
def test_the_envelope_matches_sampled_points_of_tip_lines(
    shape: str, offset: float, about: float, height: float, through: int, correct: bool
) -> None:
    """Sampled points along the tip lines give the least and greatest distance from the centre."""
    keys: dict[str, object] = {"arcs": {"through": through}, "slots": {"to_offset_mm": 35.0}}.get(shape, {})
    if shape in {"circles", "dots"}:
        keys["about_mm"] = (about, 2.0)
    lines = circles(
        layer(5, offset, 4.0, shape=shape, **keys), height_error_mm=height, correct=correct, eccentricity_mm=0.1
    )
    distances = np.abs(np.concatenate([outline(line) for line in lines]))
    assert envelope_mm(lines) == pytest.approx((distances.min(), distances.max()), abs=0.02)


@settings(deadline=None, max_examples=60)
@given(st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=2, max_size=60))
def test_the_minimum_spacing_of_points_matches_a_comparison_of_every_pair_of_points(
    points: list[tuple[float, float]],
) -> None:
    """The test compares every pair of points."""
    assert least_spacing_mm(tuple(points)) == pytest.approx(min(math.dist(a, b) for a, b in combinations(points, 2)))


@settings(deadline=None, max_examples=60)
@given(st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=2, max_size=60))
def test_the_distance_to_the_nearest_point_matches_a_comparison_of_every_pair_of_points(
    points: list[tuple[float, float]],
) -> None:
    """The test compares every pair of points. Of points at equal distance, any may be found."""
    for here, (index, nearest) in zip(points, enumerate(nearest_points(points)), strict=True):
        others = [other for number, other in enumerate(points) if number != index]
        assert nearest is not None and nearest != index
        assert math.dist(here, points[nearest]) == pytest.approx(min(math.dist(here, other) for other in others))


def test_the_nearest_dot_in_a_column_is_found_by_comparing_only_a_few_dots(monkeypatch: pytest.MonkeyPatch) -> None:
    """All dots of a column have the same x. Each of 400 dots is compared with a few others."""
    column, hypot, calls = places(*((5.0, float(row)) for row in range(400))), math.hypot, []

    def counting(*sides: float) -> float:
        calls.append(sides)
        return hypot(*sides)

    monkeypatch.setattr(math, "hypot", counting)
    pairs = list(neighbours(column))
    assert len(pairs) == 400 and all(abs(one - other) == 1 for one, other in pairs)
    assert len(calls) < 5000


def test_tip_lines_match_cuts_made_with_exact_settings() -> None:
    """The job has a height error, on either side of the table's axis."""
    for far in (False, True):
        wanted = job(
            layer(5, 9.0, 3.0, about_mm=(4.0, 1.0)), places((0.0, 0.0), (3.0, 2.0)), height_error_mm=0.7, is_far=far
        )
        cuts = exact_cuts(wanted)
        lines = [line for one in wanted.layers for line in tip_lines(wanted, one)]
        for cut, line in zip(cuts, lines, strict=True):
            assert wanted.comes_out_mm(cut.slide_mm, cut.angle_deg) == pytest.approx(line[:2], abs=1e-6)


def test_positions_spread_over_an_angle_share_the_angle_evenly() -> None:
    """Four positions share 90 deg. They are 22.5 deg apart: 2 x 20 sin 11.25 deg."""
    lines = circles(layer(4, 20.0, 2.0, spread=90))
    assert least_spacing_mm(tuple(line[:2] for line in lines)) == pytest.approx(40 * math.sin(math.radians(11.25)))
    assert all(
        math.dist(one[:2], other[:2]) == pytest.approx(40 * math.sin(math.radians(11.25)))
        for one, other in pairwise(lines)
    )
