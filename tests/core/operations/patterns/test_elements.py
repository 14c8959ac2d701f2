"""Grooves on the finished work match a simulated machine in numpy and calculations by hand."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.lathe.lathe import Cutter
from core.operations.patterns.elements import depth_beside_mm, elements, exact_cuts
from core.operations.patterns.layers import CutAsSet
from tests.core.operations.patterns.made import SHARP, WIDE, grooves, job, layer, places


def under_the_spindle(slide: float, table_deg: float, height: float, far: bool, eccentric: complex) -> complex:
    """Return the point of the work under the spindle's axis, for a table angle and a slide setting.

    The view is from the spindle, which is at 0, with the operator to the right. The slide moves the table's axis away
    from the spindle: to the left if the spindle is on the operator's side of the axis. A clockwise turn of the table
    brings the positions anticlockwise. A point w of the work lies at axis + (w + eccentric) turned by the table.
    """
    axis = complex(slide if far else -slide, height)
    turned = np.exp(-1j * np.deg2rad(table_deg))
    return complex((0 - axis) / turned - eccentric)


@settings(deadline=None, max_examples=50)
@given(
    st.floats(0, 60),
    st.floats(-720, 720),
    st.floats(-2, 2),
    st.booleans(),
    st.floats(0, 1),
    st.floats(0, 360),
)
def test_the_calculated_place_of_a_dot_is_the_point_under_the_simulated_spindle(
    slide: float, angle: float, height: float, far: bool, eccentric: float, at: float
) -> None:
    """The dot has any slide and angle, and every error at the same time."""
    wanted = job(
        layer(1, 10, shape="dots"), height_error_mm=height, is_far=far, eccentricity_mm=eccentric, eccentric_at_deg=at
    )
    one = wanted.layers[0]
    (dot,) = elements(wanted, [CutAsSet(one, one.positions[0], slide, angle, depth_mm=0.5)])
    true = under_the_spindle(slide, angle, height, far, eccentric * np.exp(1j * np.deg2rad(at)))
    assert complex(dot.x_mm, dot.y_mm) == pytest.approx(true, abs=1e-9)
    assert (dot.shape, dot.depth_mm, dot.width_mm) == ("dot", 0.5, pytest.approx(1.0))


@settings(deadline=None, max_examples=40)
@given(st.floats(3, 40), st.floats(-2, 2), st.booleans(), st.floats(0, 0.9), st.floats(0, 360))
def test_circles_and_dots_cut_with_corrected_settings_lie_in_their_wanted_places(
    offset: float, height: float, far: bool, eccentric: float, at: float
) -> None:
    """With exact corrected settings, the simulated machine cuts each wanted place. Angles are kept to 1e-7 deg."""
    ring = layer(7, offset, 3.0, start=11.5, about_mm=(2.0, -1.0), repeat=3, repeat_offset_mm=50.0)
    keys = {"height_error_mm": height, "is_far": far, "eccentricity_mm": eccentric, "eccentric_at_deg": at}
    wanted = job(ring, correct=True, **keys)
    centre = eccentric * np.exp(1j * np.deg2rad(at))
    for cut, circle in zip(exact_cuts(wanted), grooves(ring, correct=True, **keys), strict=True):
        asked = complex(cut.position.x_mm, cut.position.y_mm)
        if abs(asked + centre) > abs(height) + 1e-6:
            assert complex(circle.x_mm, circle.y_mm) == pytest.approx(asked, abs=1e-6)
            assert under_the_spindle(cut.slide_mm, cut.angle_deg, height, far, centre) == pytest.approx(asked, abs=1e-6)


def test_a_height_error_moves_a_cut_by_the_amount_of_the_error() -> None:
    """Table axis 1 mm too high, slide 20 mm, table at 0: the cut lies 1 mm below.

    At 90 deg it lies 1 mm to one side.
    """
    first, second = grooves(layer(2, 20, spread=180, shape="dots"), height_error_mm=1.0)
    assert (first.x_mm, first.y_mm) == pytest.approx((20, -1))
    assert (second.x_mm, second.y_mm) == pytest.approx((1, 20))


def test_a_slot_runs_straight_from_start_to_end() -> None:
    """From 30 to 36 mm at 90 deg, with the axis 0.5 mm too high, a slot lies 0.5 mm to one side of the middle."""
    (slot,) = grooves(layer(1, 30, start=90, shape="slots", to_offset_mm=36.0), height_error_mm=0.5)
    assert (slot.x_mm, slot.y_mm, slot.to_x_mm, slot.to_y_mm) == pytest.approx((0.5, 30, 0.5, 36))
    assert slot.radius_mm is None and slot.as_data().keys() == {
        "layer", "position", "shape", "angle_deg", "x_mm", "y_mm", "to_x_mm", "to_y_mm", "depth_mm", "width_mm",
    }  # fmt: skip


def test_the_centre_of_an_arc_lies_on_the_table_axis() -> None:
    """The work is eccentric by 0.3 mm upwards, so the arc's centre lies 0.3 mm below the work's centre."""
    (arc,) = grooves(
        layer(1, 42, shape="arcs", through=90, depths_mm=(0.4,)), eccentricity_mm=0.3, eccentric_at_deg=90.0
    )
    assert (arc.x_mm, arc.y_mm) == pytest.approx((42, -0.3))
    assert (arc.centre_x_mm, arc.centre_y_mm, arc.sweep_deg) == pytest.approx((0, -0.3, 90))
    assert arc.line_radius_mm == pytest.approx(42) and arc.width_mm == pytest.approx(0.8)


def test_skipping_positions_leaves_the_numbers_of_the_other_positions_unchanged() -> None:
    """Two rings of three, with positions 2 and 5 skipped."""
    ring = layer(3, 5, 2, repeat=2, repeat_offset_mm=20.0, skip=frozenset({2, 5}))
    assert [circle.position for circle in grooves(ring)] == [1, 3, 4, 6]


def test_settings_on_the_far_side_of_the_table_axis_cut_a_dot_at_the_same_place() -> None:
    """Settings for the far side cut the same wanted place."""
    for far in (False, True):
        (dot,) = grooves(places((3.0, 4.0), shape="dots"), is_far=far)
        assert (dot.x_mm, dot.y_mm) == pytest.approx((3, 4), abs=1e-7)


@pytest.mark.parametrize("cutter", [SHARP, WIDE, Cutter("round", 60, tip_radius_mm=0.5), Cutter("flat", 60, 0.4)])
@pytest.mark.parametrize("depth", [0.05, 0.3, 0.9])
def test_a_groove_is_0_mm_deep_at_its_edge_and_fully_deep_in_its_middle(cutter: Cutter, depth: float) -> None:
    """The point's outline crosses the face at half the groove's width."""
    half = cutter.groove_width_mm(depth) / 2
    assert depth_beside_mm(cutter, depth, 0) == pytest.approx(depth)
    assert depth_beside_mm(cutter, depth, half) == pytest.approx(0, abs=1e-9)
    assert depth_beside_mm(cutter, depth, half * 1.01) == 0
    beside = np.linspace(0, half, 50)
    deep = [depth_beside_mm(cutter, depth, float(one)) for one in beside]
    for one, there in zip(beside, deep, strict=True):
        # The remaining depth at that distance gives a groove that is narrower by twice the distance.
        if 0 < there < depth:
            assert cutter.groove_width_mm(depth - there) / 2 == pytest.approx(one, abs=1e-7)


def test_an_arc_of_360_degrees_is_swept_through_a_full_turn() -> None:
    """An arc of 360 deg is a full turn."""
    (border,) = grooves(layer(1, 42, shape="arcs", through=360))
    assert border.sweep_deg == 360 and math.hypot(border.x_mm, border.y_mm) == pytest.approx(42)


def test_a_place_on_the_table_axis_needs_the_cross_slide_at_0() -> None:
    """The work's centre is 0.2 mm right of the table's axis, so a place 0.2 mm to its left lies on the axis."""
    (dot,) = grooves(places((-0.2, 0.0), shape="dots"), eccentricity_mm=0.2, correct=True)
    assert (dot.x_mm, dot.y_mm) == pytest.approx((-0.2, 0), abs=1e-9)
