"""Effects of set-up errors match a simulation that follows the cutter's point on the moving work."""

import math
from fractions import Fraction

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares  # type: ignore[import-untyped]

from core.operations.patterns.effects import (
    eccentricity_mm,
    face_runout,
    height_effect,
    layers_turned_mm,
    position_effect,
    tilt_depth_change_mm,
)
from core.operations.patterns.geometry import RingShape
from tests.core.exact import power

Path = npt.NDArray[np.complex128]


def path_on_work(offset: float, height: float, radius: float, table_deg: float) -> Path:
    """Return the path of the cutter's point as seen from the work.

    The spindle axis is the origin, and the table's axis lies at (offset, height). The point circles the origin. Each
    point is turned back by the table's angle.
    """
    tip = radius * np.exp(1j * np.linspace(0, 2 * np.pi, 361)[:-1])
    seen: Path = (tip - complex(offset, height)) * np.exp(-1j * np.deg2rad(table_deg))
    return seen


def centre_of(path: Path) -> complex:
    """Return the centre of a circle through sampled points, by least squares."""

    def off(values: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        found: npt.NDArray[np.float64] = np.abs(path - complex(values[0], values[1])) - values[2]
        return found

    start = [path.mean().real, path.mean().imag, float(np.abs(path - path.mean()).mean())]
    x_mm, y_mm, _ = least_squares(off, start, xtol=1e-14, ftol=1e-14, gtol=1e-14).x
    return complex(x_mm, y_mm)


@settings(deadline=None, max_examples=40)
@given(st.floats(5, 60), st.floats(-2, 2), st.floats(1, 40), st.integers(2, 40))
def test_a_height_error_turns_and_enlarges_a_ring(offset: float, height: float, radius: float, count: int) -> None:
    """The layer grows and turns as a whole, and neighbouring centres move apart, by the calculated amounts."""
    step = 360 / count
    true, other = (centre_of(path_on_work(offset, height, radius, angle)) for angle in (0, step))
    ideal, ideal_other = (centre_of(path_on_work(offset, 0, radius, angle)) for angle in (0, step))
    effect = height_effect(offset, count, height)
    assert abs(true) - abs(ideal) == pytest.approx(effect.offset_change_mm, abs=1e-6)
    assert math.degrees(np.angle(true / ideal)) == pytest.approx(effect.turned_by_deg, abs=1e-5)
    assert abs(true - other) - abs(ideal - ideal_other) == pytest.approx(effect.spacing_change_mm, abs=1e-6)


@settings(deadline=None, max_examples=40)
@given(st.floats(5, 60), st.floats(5, 60), st.floats(-1, 1))
def test_a_height_error_turns_two_layers_relative_to_each_other(offset: float, other: float, height: float) -> None:
    """The simulation cuts the first circles of two layers and measures the angle between them."""
    first, second = (centre_of(path_on_work(distance, height, 3, 0)) for distance in (offset, other))
    angle, length = layers_turned_mm(offset, other, height)
    between = abs(math.degrees(np.angle(first / second)))
    assert between == pytest.approx(angle, abs=1e-5)
    assert math.radians(between) * min(offset, other) == pytest.approx(length, abs=1e-5)


@settings(deadline=None, max_examples=40)
@given(st.floats(10, 60), st.integers(2, 40), st.floats(-0.2, 0.2))
def test_a_wrong_table_angle_changes_the_gaps_on_both_sides_of_a_circle_by_opposite_amounts(
    offset: float, count: int, error: float
) -> None:
    """One gap grows, and the other shrinks by the same amount (first order)."""
    layer = RingShape(count=count, offset_mm=offset, circle_radius_mm=3)
    step = 360 / count
    before, right, wrong, after = (centre_of(path_on_work(offset, 0, 3, angle)) for angle in (-step, 0, error, step))
    effect = position_effect(layer, error)
    second_order = offset * math.radians(abs(error)) ** 2 + 1e-6
    assert abs(wrong - right) == pytest.approx(effect.shift_mm, abs=second_order)
    if count > 2:
        one = abs(wrong - before) - abs(right - before)
        other = abs(wrong - after) - abs(right - after)
        assert abs(one) == pytest.approx(effect.spacing_change_mm, abs=second_order)
        assert one == pytest.approx(-other, abs=second_order)


def depths_cut(tir: float, face_radius: float, offset: float, radius: float, count: int, depth: float) -> np.ndarray:
    """Return the depths all round each circle, cut into a face that runs out, by a formula independent of the program.

    The face is a plane: `tir` from highest to lowest on a circle of `face_radius`. The cutter touches off on the
    highest place under the circles.
    """
    centres = offset * np.exp(2j * np.pi * np.arange(count) / count)
    tip = centres[:, None] + radius * np.exp(2j * np.pi * np.arange(3600) / 3600)
    face = tir / 2 * np.real(tip) / face_radius
    bottom = face.max() - depth
    return np.maximum(face - bottom, 0.0)


@pytest.mark.parametrize(
    ("tir", "face_radius", "depth"), [(0.05, 12.0, 0.5), (0.05, 40.0, 0.5), (0.2, 12.0, 0.15), (0.2, 6.0, 0.5)]
)
def test_the_minimum_and_maximum_depth_on_a_face_with_runout_match_a_simulated_cut(
    tir: float, face_radius: float, depth: float
) -> None:
    """One circle about the table's axis. The greatest depth is the depth set."""
    cut = depths_cut(tir, face_radius, 0, 12, 1, depth)
    effect = face_runout(tir, 90, depth, 12 / face_radius)
    assert cut.max() == pytest.approx(depth)
    assert cut.min() == pytest.approx(effect.depth_min_mm, abs=1e-9)
    assert effect.leaves_face == (cut.min() == 0)
    if not effect.leaves_face:
        # A 90 degree point cuts twice as wide as deep.
        assert 2 * (cut.max() - cut.min()) == pytest.approx(effect.width_change_mm, abs=1e-9)


@given(st.integers(1, 40), st.floats(1, 40), st.floats(1, 20), st.floats(0.01, 0.2), st.floats(0.2, 1))
def test_no_circle_is_shallower_than_the_calculated_minimum_depth(
    count: int, offset: float, radius: float, tir: float, depth: float
) -> None:
    """No circle is shallower than the calculated least depth. With 40 circles, the least depth is nearly reached."""
    effect = face_runout(tir, 90, depth, (offset + radius) / 30)
    cut = depths_cut(tir, 30, offset, radius, count, depth)
    assert cut.min() >= effect.depth_min_mm - 1e-9
    if count % 2 == 0:
        assert cut.min() == pytest.approx(effect.depth_min_mm, abs=1e-9)


def test_groove_depth_and_width_on_a_face_with_runout_match_hand_calculation() -> None:
    """At 90 deg, 0.5 mm deep is 1 mm wide. On a face 0.05 mm lower it is 0.45 mm deep: 0.9 to 1 mm wide."""
    effect = face_runout(0.05, 90, 0.5)
    assert (effect.depth_min_mm, 2 * effect.depth_min_mm) == pytest.approx((0.45, 0.90))
    assert face_runout(0.05, 90, 0.04).leaves_face and not face_runout(0.05, 90, 0.06).leaves_face


def test_the_change_in_groove_width_caused_by_face_runout_matches_hand_calculation() -> None:
    """A runout of 0.05 mm under a 120 deg point changes the width by 2 x 0.05 x tan 60 deg = 0.173 mm."""
    change_mm = face_runout(0.05, 120, 1).width_change_mm
    assert change_mm == pytest.approx(float(Fraction("0.1") * power(3, "1/2")), abs=1e-12)
    assert change_mm == pytest.approx(0.173, abs=0.0005)


def test_the_effect_of_a_position_error_of_one_minute_of_arc_matches_hand_calculation() -> None:
    """60 arcsec at 50 mm are 50 x pi/10800 = 0.0145 mm. With 12 circles, the chord changes by that times cos 15 deg."""
    effect = position_effect(RingShape(count=12, offset_mm=50, circle_radius_mm=1), 60 / 3600)
    cosine = float(power((1 + power(3, "1/2") / 2) / 2, "1/2"))
    assert effect.shift_mm == pytest.approx(50 * math.pi / 10800)
    assert effect.shift_mm == pytest.approx(0.0145, abs=0.00005)
    assert effect.spacing_change_mm == pytest.approx(50 * math.pi / 10800 * cosine, rel=1e-4)


def test_the_runout_of_the_rim_is_twice_the_eccentricity_of_the_pattern() -> None:
    """A rim reading that varies by 0.1 mm means an eccentricity of 0.05 mm."""
    eccentric = 0.05
    turns = np.linspace(0, 2 * np.pi, 3601)
    rim = np.abs(eccentric + 30 * np.exp(1j * turns))
    assert eccentricity_mm(float(rim.max() - rim.min())) == pytest.approx(eccentric, abs=1e-9)


@given(st.floats(1, 50), st.floats(0, 2))
def test_axes_that_are_not_parallel_make_one_side_of_a_circle_deeper(radius: float, tilt: float) -> None:
    """A plain rotation gives the height of the cutter's point over the tilted face, round one turn."""
    turns = np.linspace(0, 2 * np.pi, 721)
    tip = np.stack([radius * np.cos(turns), radius * np.sin(turns), np.zeros_like(turns)])
    angle = math.radians(tilt)
    normal = np.array([math.sin(angle), 0, math.cos(angle)])
    height = normal @ tip
    assert height.max() - height.min() == pytest.approx(tilt_depth_change_mm(radius, tilt), abs=1e-9)
