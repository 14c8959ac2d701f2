"""The depth of a face matches hand calculations at points, and brute force in numpy over a whole grid.

The brute force uses each groove's distance to every point, and the groove's section by plane geometry. A sharp point
leaves depth - beside / tan(half angle). A flat leaves the same from its edge on. A round nose leaves its circle up to
the tangent point, and the flanks from there. The brute force uses none of the project's formulas.
"""

import math

import numpy as np
import pytest

from core.drawing import Grid
from core.lathe.lathe import Cutter
from core.operations.patterns.depth_map import DepthMap
from core.operations.patterns.picture import CutPicture, FaceFall, PatternPlace

SHARP = Cutter(name="sharp", tip_angle_deg=90)
FLAT = Cutter(name="flat", tip_angle_deg=60, tip_flat_mm=0.8)
ROUND = Cutter(name="round", tip_angle_deg=90, tip_radius_mm=1.0)
PLACE = PatternPlace(1, 1)
NEAR_MM = 0.004
"""The map is right to a 512th of a groove's depth on straight flanks; a round bottom is steepest at its flanks."""


def cut(
    shape: str, at: tuple[float, float], cutter: Cutter = SHARP, depth_mm: float = 1.0, **more: object
) -> CutPicture:
    """Return a groove."""
    half_mm = cutter.groove_width_mm(depth_mm) / 2
    return CutPicture(PLACE, shape, at, half_mm, cutter=cutter, depth_mm=depth_mm, **more)  # type: ignore[arg-type]


def depth_at(x: float, y: float, *cuts: CutPicture) -> float:
    """Return the depth at one point, from a map with that point only."""
    depths = DepthMap(Grid(x, y, 1.0, 1.0, 1, 1))
    for one in cuts:
        depths.add(one)
    return depths.depths_mm[0][0]


RING = cut("circle", (0.0, 0.0), radius_mm=10.0)


@pytest.mark.parametrize(
    ("x", "y", "wanted"),
    [
        (10.0, 0.0, 1.0),  # on the tip line
        (0.0, -10.0, 1.0),
        (10.4, 0.0, 0.6),  # flanks of 45 deg: the depth falls by the distance from the middle
        (9.3, 0.0, 0.3),
        (6.0, 8.0, 1.0),  # 6, 8, 10
        (6.3, 8.4, 0.5),  # 6.3, 8.4, 10.5
        (11.1, 0.0, 0.0),
        (0.0, 0.0, 0.0),
    ],
)
def test_the_depth_across_the_groove_of_a_circle_matches_hand_calculation(x: float, y: float, wanted: float) -> None:
    """A groove of 90 deg, 1 mm deep, on a circle of 10 mm."""
    assert depth_at(x, y, RING) == pytest.approx(wanted, abs=NEAR_MM)


@pytest.mark.parametrize(
    ("cutter", "beside", "wanted"),
    [
        (FLAT, 0.3, 1.0),  # on the flat, which is 0.4 mm to either side
        (FLAT, 0.4 + 0.25, 1 - 0.25 / math.tan(math.radians(30))),
        (ROUND, 0.6, 0.8),  # 3, 4, 5: the nose rises by 1 - 0.8
        (ROUND, 0.9, 0.5142),
    ],
)
def test_the_depth_across_grooves_of_flat_and_round_points_matches_hand_calculation(
    cutter: Cutter, beside: float, wanted: float
) -> None:
    """A flat bottom, then flanks. A round bottom, then flanks from the tangent point (at r cos 45 = 0.7071 mm).

    Beyond it the flank of 45 deg falls by as much as it is further out: at 0.7071 mm the depth is
    1 - (1 - 0.7071) = 0.7071 mm, at 0.9 mm 0.7071 - 0.1929 = 0.5142 mm.
    """
    dot = cut("dot", (0.0, 0.0), cutter)
    assert depth_at(beside, 0.0, dot) == pytest.approx(wanted, abs=NEAR_MM)
    slot = cut("line", (0.0, 0.0), cutter, to_mm=(0.0, 20.0))
    assert depth_at(-beside, 7.0, slot) == pytest.approx(wanted, abs=NEAR_MM)


def test_the_depth_at_a_crossing_is_that_of_the_deeper_groove_whichever_is_listed_first() -> None:
    """Where two grooves cross, the greater depth counts: 0.6 mm of one against 0.2 mm of the other."""
    slot = cut("line", (10.4, -3.0), depth_mm=0.2, to_mm=(10.4, 3.0))
    assert depth_at(10.4, 0.0, RING, slot) == depth_at(10.4, 0.0, slot, RING) == pytest.approx(0.6, abs=NEAR_MM)


def test_the_groove_of_an_arc_has_round_ends() -> None:
    """From 0 to 90 deg on 10 mm, only half a dot of 1 mm lies beyond each end."""
    arc = cut("arc", (10.0, 0.0), centre_mm=(0.0, 0.0), sweep_deg=90.0)
    assert depth_at(10 * math.cos(0.7), 10 * math.sin(0.7), arc) == pytest.approx(1.0, abs=NEAR_MM)
    assert depth_at(10.0, -0.4, arc) == pytest.approx(0.6, abs=NEAR_MM)
    assert depth_at(-0.7, 10.0, arc) == pytest.approx(0.3, abs=NEAR_MM)
    assert depth_at(10.0, -1.1, arc) == depth_at(-10.0, 0.0, arc) == 0.0


def section(cutter: Cutter, depth_mm: float, beside: np.ndarray) -> np.ndarray:
    """Return the depth at a distance from a tip line: below the round nose or the flat, and below the flanks."""
    half = math.radians(cutter.tip_angle_deg / 2)
    radius = cutter.tip_radius_mm
    tangent = radius * math.cos(half)
    flank = depth_mm - radius * (1 - math.sin(half)) - (beside - tangent - cutter.tip_flat_mm / 2) / math.tan(half)
    nose = depth_mm - radius + np.sqrt(np.maximum(radius**2 - beside**2, 0.0))
    bottom = np.full_like(beside, depth_mm)
    below = np.where(beside <= tangent, nose, flank) if radius else np.minimum(bottom, flank)
    return np.maximum(below, 0.0)


def distance(one: CutPicture, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return the distance of every point from the tip line of a groove, with the line of an arc sampled finely."""
    (x0, y0), (x1, y1) = one.at_mm, one.to_mm
    if one.shape == "line":
        share = ((x - x0) * (x1 - x0) + (y - y0) * (y1 - y0)) / ((x1 - x0) ** 2 + (y1 - y0) ** 2)
        share = np.clip(share, 0, 1)
        return np.hypot(x - x0 - share * (x1 - x0), y - y0 - share * (y1 - y0))
    if one.shape == "arc":
        start = math.atan2(y0 - one.centre_mm[1], x0 - one.centre_mm[0])
        radius = math.dist(one.at_mm, one.centre_mm)
        angles = start + np.radians(np.linspace(0, one.sweep_deg, 6000))
        along = np.stack([one.centre_mm[0] + radius * np.cos(angles), one.centre_mm[1] + radius * np.sin(angles)])
        return np.array(
            [np.hypot(along[0] - a, along[1] - b).min() for a, b in zip(x.ravel(), y.ravel(), strict=True)]
        ).reshape(x.shape)
    return np.abs(np.hypot(x - x0, y - y0) - one.radius_mm)


def test_the_depth_map_of_a_whole_face_matches_a_brute_force_calculation() -> None:
    """Circles, dots, slots and arcs of all three points, some partly outside the grid."""
    random = np.random.default_rng(20)
    cuts = []
    for number in range(40):
        cutter = (SHARP, FLAT, ROUND)[number % 3]
        depth_mm = float(random.uniform(0.2, 1.5))
        at, to = (tuple(map(float, random.uniform(-14, 14, 2))) for _ in range(2))
        shape = ("circle", "dot", "line", "arc")[number % 4]
        more: dict[str, object] = {
            "circle": {"radius_mm": float(random.uniform(0.3, 8))},
            "dot": {},
            "line": {"to_mm": to},
            "arc": {"centre_mm": to, "sweep_deg": float(random.uniform(-350, 350))},
        }[shape]
        cuts.append(cut(shape, at, cutter, depth_mm, **more))  # type: ignore[arg-type]
    grid = Grid(-12.0, 12.0, 0.37, 0.53, 65, 46)
    depths = DepthMap(grid)
    for one in cuts:
        depths.add(one)
    columns, rows = np.meshgrid(np.arange(grid.columns), np.arange(grid.rows))
    x, y = grid.left + grid.across * columns, grid.top - grid.down * rows
    wanted = np.zeros_like(x)
    for one in cuts:
        assert one.cutter is not None
        wanted = np.maximum(wanted, section(one.cutter, one.depth_mm, distance(one, x, y)))
    # The error is at most one step of the section. The steepest flank falls by 1.73 mm per mm.
    assert np.abs(np.array(depths.depths_mm) - wanted).max() < 2 * NEAR_MM
    assert 0.3 < (wanted > 0).mean() < 0.99


def test_a_narrow_groove_drawn_wider_is_visible_on_a_coarse_grid() -> None:
    """Points 2 mm apart miss a groove of 0.2 mm. A groove drawn 2 mm wide is visible."""
    narrow = cut("line", (0.9, -9.0), depth_mm=0.1, to_mm=(0.9, 9.0))
    grid = Grid(-8.0, 8.0, 2.0, 2.0, 9, 9)
    plain, spread = DepthMap(grid), DepthMap(grid, least_width_mm=2.0)
    plain.add(narrow)
    spread.add(narrow)
    assert not any(map(any, plain.depths_mm))
    assert all(max(row) == pytest.approx(0.1, abs=NEAR_MM) for row in spread.depths_mm)


def test_a_groove_with_an_unknown_cutter_or_a_depth_of_0_leaves_the_face_uncut() -> None:
    """A pattern with an unknown cutter keeps a face without grooves."""
    assert depth_at(10.0, 0.0, RING._replace(cutter=None)) == depth_at(10.0, 0.0, RING._replace(depth_mm=0.0)) == 0.0


@pytest.mark.parametrize(
    "one",
    [
        cut("circle", (2.0, 1.0), radius_mm=6.0),
        cut("dot", (3.0, -2.0)),
        cut("line", (-4.0, 0.0), to_mm=(5.0, 3.0)),
        cut("arc", (7.0, 0.0), sweep_deg=120.0),
    ],
)
def test_grooves_are_shallower_on_the_low_side_of_a_face_with_runout(one: CutPicture) -> None:
    """The map is that of a true face, less a plane 0.4 mm down in the middle that falls to the left."""
    grid = Grid(-9.0, 9.0, 0.25, 0.25, 73, 73)
    true, falling = DepthMap(grid), DepthMap(grid)
    true.add(one)
    falling.add(one._replace(fall=FaceFall(0.4, -0.03, 0.01)))
    xs, ys = np.meshgrid(-9 + 0.25 * np.arange(73), 9 - 0.25 * np.arange(73))
    lower = np.maximum(0.4 - 0.03 * xs + 0.01 * ys, 0)
    assert np.allclose(np.array(falling.depths_mm), np.maximum(np.array(true.depths_mm) - lower, 0), atol=1e-12)
    assert 0 < np.count_nonzero(falling.depths_mm) < np.count_nonzero(true.depths_mm)
