"""The angles of a ground point, against a simulated block, wheel and groove made with numpy.

Tool directions: x across the cutting face, y up out of the face, z along the shank. The point is at the origin and the
shank is at negative z. The metal is at negative y.
"""

import numpy as np
import pytest

from core.operations.grinding.point import (
    FlankSetting,
    back_roll_deg,
    least_relief_deg,
    mark_at_least_deg,
    mark_below_deg,
    nearest_mark_deg,
    rest_angle_deg,
    ridge_relief_deg,
    shortened_by_mm,
)


def turned_about(axis: int, angle_deg: float) -> np.ndarray:
    """Return the rotation matrix about an axis."""
    one, other = (number for number in range(3) if number != axis)
    if axis == 1:
        one, other = other, one
    angle, matrix = np.radians(angle_deg), np.eye(3)
    matrix[one, one] = matrix[other, other] = np.cos(angle)
    matrix[one, other], matrix[other, one] = -np.sin(angle), np.sin(angle)
    return matrix


def flank_normal(roll_deg: float, rest_deg: float, *, over: bool = False) -> np.ndarray:
    """Return the normal of the flank that a wheel grinds, in the tool's own directions.

    The wheel's face is a vertical plane on the right. The block is rolled about the shank so that the flat looks up and
    away from the wheel. Then the rest turns the shank about the vertical. Turned over, the roll goes the other way.
    """
    block = turned_about(2, roll_deg)
    if over:
        block = turned_about(2, -roll_deg) @ turned_about(2, 180)
    wheel = np.array([np.cos(np.radians(rest_deg)), 0.0, np.sin(np.radians(rest_deg))])
    return block.T @ wheel


def half_angle_on_face(normal: np.ndarray) -> float:
    """Return the angle between the shank and the edge in which a flank cuts the face y = 0 [deg]."""
    edge = np.cross(normal, [0.0, 1.0, 0.0])
    return float(np.degrees(np.arctan2(abs(edge[0]), abs(edge[2]))))


def relief_in_section(normal: np.ndarray) -> float:
    """Return the angle by which a flank leans inwards behind the face, in a section z = constant [deg]."""
    return float(np.degrees(np.arctan2(-normal[1], abs(normal[0]))))


@pytest.mark.parametrize("over", [False, True])
@pytest.mark.parametrize("roll", [5.0, 15.0, 30.0])
@pytest.mark.parametrize("half", [15.0, 30.0, 45.0, 60.0, 75.0])
def test_a_block_rolled_to_the_relief_angle_gives_the_wanted_point_and_relief(
    half: float, roll: float, over: bool
) -> None:
    """The flank is found with rotation matrices, from the rest's angle alone."""
    rest = rest_angle_deg(half, roll)
    normal = flank_normal(roll, rest, over=over)
    assert half_angle_on_face(normal) == pytest.approx(half)
    assert relief_in_section(normal) == pytest.approx(roll)
    assert (normal[0] < 0) == over
    assert FlankSetting(roll, rest).half_angle_deg == pytest.approx(half)


def test_the_rest_angle_matches_values_worked_by_hand() -> None:
    """By a table of tangents: tan 45 x cos 20 = 0.93969, which is 43.22 deg. tan 60 x cos 15 = 1.67303 is 59.13 deg."""
    assert rest_angle_deg(45, 20) == pytest.approx(43.22, abs=0.005)
    assert rest_angle_deg(60, 15) == pytest.approx(59.13, abs=0.005)


# Heel and groove.


def largest_rub_mm(
    radius_mm: float, depth_mm: float, behind_mm: float, normals: tuple[np.ndarray, np.ndarray], flat_mm: float = 0.0
) -> float:
    """Return how far the body of a cutter reaches beyond the outer wall of its groove, in mm; at most 0 if it clears.

    The body is a cloud of points between both flanks, below the cutting face and in front of the shank's back. Each
    point turns about the spindle's axis at x = -radius. The wall is cut by the edge of the first flank at the same
    height.
    """
    heights = np.linspace(1e-3, 1, 60) * depth_mm
    depths = np.linspace(0, 1, 600) * behind_mm
    h, y = np.meshgrid(heights, depths, indexing="ij")

    def x_of(normal: np.ndarray, behind: np.ndarray, side: float) -> np.ndarray:
        # normal . (x - side flat / 2, -behind, -h) = 0
        return side * flat_mm / 2 + (normal[1] * behind + normal[2] * h) / normal[0]

    outer, inner = x_of(normals[0], y, 1), x_of(normals[1], y, -1)
    wall = radius_mm + x_of(normals[0], np.zeros_like(y), 1)
    is_body = outer >= inner
    reaches = np.maximum(np.hypot(radius_mm + outer, y), np.hypot(radius_mm + inner, y))
    return float(np.max(np.where(is_body, reaches - wall, -1)))


@pytest.mark.parametrize(
    ("radius", "half", "depth", "behind"),
    [(6, 45, 0.8, 3), (2, 45, 1, 1.5), (1, 60, 1, 3), (0.5, 30, 2, 2), (12, 20, 3, 5), (3, 75, 0.5, 1)],
)
def test_the_heel_of_a_sharp_cutter_clears_the_groove_from_the_minimum_relief_upwards(
    radius: float, half: float, depth: float, behind: float
) -> None:
    """A cloud of points of the body turns on the circle. With 1 degree less relief the heel reaches the wall."""
    least = least_relief_deg(radius, depth * np.tan(np.radians(half)), behind)

    def rub(relief: float) -> float:
        rest = rest_angle_deg(half, relief)
        return largest_rub_mm(
            radius, depth, behind, (flank_normal(relief, rest), flank_normal(relief, rest, over=True))
        )

    assert rub(least + 0.05) <= 1e-9
    assert rub(least - 1) > 1e-4


@pytest.mark.parametrize("flat", [0.1, 0.5, 1.5])
def test_the_heel_of_a_flat_tipped_cutter_clears_the_groove_at_the_minimum_relief(flat: float) -> None:
    """The groove's half width includes half the flat. The tip's own relief would only take metal away."""
    radius, half, depth, behind = 2.0, 45.0, 0.6, 2.0
    least = least_relief_deg(radius, flat / 2 + depth, behind)
    rest = rest_angle_deg(half, least)
    normals = flank_normal(least, rest), flank_normal(least, rest, over=True)
    assert largest_rub_mm(radius, depth, behind, normals, flat) <= 1e-9


def test_the_minimum_relief_matches_values_worked_by_hand() -> None:
    """On the axis itself, both formulas give 45 deg. tan 2a = 2 / 6 gives half of 18.435 deg, for a wide groove."""
    assert least_relief_deg(0, 0.7, 2) == pytest.approx(45)
    assert least_relief_deg(6, 100, 2) == pytest.approx(18.435 / 2, abs=0.001)
    # sin^2 a = 1 / (2 x 2) for X = r = 1: a = 30 deg.
    assert least_relief_deg(1, 1, 1e6) == pytest.approx(30)


@pytest.mark.parametrize("relief", [10.0, 25.0, 40.0, 50.0])
@pytest.mark.parametrize("half", [30.0, 45.0, 60.0])
def test_rolling_the_block_further_for_the_second_flank_keeps_a_cutter_in_the_spindle_from_rubbing(
    half: float, relief: float
) -> None:
    """Without the larger roll the ridge rubs, for a relief below 45 degrees."""
    depth, behind, roll = 1.0, 3.0, back_roll_deg(relief, 1)
    first = flank_normal(relief, rest_angle_deg(half, relief))
    rest = mark_below_deg(rest_angle_deg(half, roll), 1)
    assert largest_rub_mm(0.0, depth, behind, (first, flank_normal(roll, rest, over=True))) <= 1e-9
    alike = largest_rub_mm(0.0, depth, behind, (first, flank_normal(relief, rest_angle_deg(half, relief), over=True)))
    assert (alike > 1e-3) == (relief < 45)


def test_the_inner_flank_clears_the_groove_even_without_relief() -> None:
    """Points behind the inner edge move away from the spindle's axis, so the inner wall is never reached."""
    inner_edge = 4.0
    behind = np.linspace(0, 3, 100)
    assert np.all(np.hypot(inner_edge, behind) >= inner_edge)


# Marks and tips.


def test_chosen_protractor_marks_are_exact_multiples_of_the_graduation() -> None:
    """Whole steps of 0.1 deg, where floats add up badly: 3 x 0.1 is not 0.3."""
    assert nearest_mark_deg(0.31, 0.1) == 0.3 and nearest_mark_deg(43.219, 0.5) == 43.0
    assert mark_at_least_deg(17.01, 1) == 18 and mark_at_least_deg(18, 1) == 18
    assert mark_below_deg(18, 1) == 17 and mark_below_deg(0.4, 1) == 0
    assert nearest_mark_deg(0.01, 1) == 1 and nearest_mark_deg(89.9, 1) == 89 and nearest_mark_deg(87.5, 5) == 85


def test_the_relief_of_the_ridge_matches_the_ridge_between_two_simulated_flanks() -> None:
    """The ridge is the line in which both flanks meet: the cross product of their normals."""
    rest = rest_angle_deg(50, 18)
    ridge = np.cross(flank_normal(18, rest), flank_normal(18, rest, over=True))
    assert ridge_relief_deg(50, 18) == pytest.approx(np.degrees(np.arctan(abs(ridge[2] / ridge[1]))))


def test_the_shortening_of_a_point_by_a_flat_or_round_tip_matches_values_worked_by_hand() -> None:
    """90 deg: a flat of 0.2 mm takes 0.1 mm off; a nose of 1 mm takes sqrt 2 - 1 = 0.414 mm off."""
    assert shortened_by_mm(45, 0.2, 0) == pytest.approx(0.1)
    assert shortened_by_mm(45, 0, 1) == pytest.approx(0.414, abs=0.0005)
