"""The figures of every kind of layer match values calculated by hand and with numpy."""

import math

import numpy as np
import pytest

from core.lathe.reader import example_lathe
from tests.core.operations.patterns.divided import figures_of
from tests.core.operations.patterns.made import WIDE, job, layer, places

LATHE = example_lathe()


def test_the_figures_of_a_ring_about_a_point_off_the_centre_match_numpy() -> None:
    """Six circles of 3 mm at 10 mm about (20, 5). The spacing is 10 mm, and numpy gives the envelope."""
    (found,) = figures_of(job(layer(6, 10, 3.0, about_mm=(20.0, 5.0))), LATHE)["layers"]
    distances = np.abs(20 + 5j + 10 * np.exp(2j * np.pi * np.arange(6) / 6))
    wanted = {
        "shape": "circles",
        "cutter": "sharp",
        "count": 6,
        "offset_mm": 10.0,
        "circle_radius_mm": 3.0,
        "spacing_mm": 10.0,
        "overlap_mm": -4.0,
        "groove_overlap_mm": -3.0,
        "inner_mm": distances.min() - 3,
        "outer_mm": distances.max() + 3,
        "inner_edge_mm": distances.min() - 3.5,
        "outer_edge_mm": distances.max() + 3.5,
        "groove_width_mm": 1.0,
        "effective_offset_mm": 10.0,
        "depth_min_mm": 0.5,
        "depth_max_mm": 0.5,
        "crossings": 0,
    }
    assert {key: found[key] for key in wanted} == {
        key: pytest.approx(value, abs=1e-9) if isinstance(value, float) else value for key, value in wanted.items()
    }
    assert "turned_by_deg" not in found


def test_the_minimum_and_maximum_depth_allow_for_listed_depths_and_face_runout() -> None:
    """Depths are 0.6, 0.3 and 0.3 mm. A face 0.1 mm lower at 20 mm is 0.14 mm lower at the outer radius of 28 mm."""
    wanted = job(layer(6, 20, 8.0, depths_mm=(0.6, 0.3, 0.3)), face_runout_mm=0.1, face_radius_mm=20.0)
    (found,) = figures_of(wanted, LATHE)["layers"]
    assert (found["depth_min_mm"], found["depth_max_mm"]) == pytest.approx((0.16, 0.6))
    assert found["groove_width_mm"] == pytest.approx(1.2)
    (bare,) = figures_of(job(layer(6, 20, 8.0), face_runout_mm=0.6), LATHE)["layers"]
    assert bare["depth_min_mm"] == 0


def test_dots_slots_and_arcs_have_only_the_figures_that_apply_to_their_shape() -> None:
    """Figures that a shape cannot have are absent."""
    dots, slots, border = figures_of(
        job(
            places((3.0, 4.0), (6.0, 8.0), (6.0, 9.5), shape="dots"),
            layer(12, 30, shape="slots", to_offset_mm=36.0),
            layer(1, 42, shape="arcs", through=360, cutter=WIDE),
        ),
        LATHE,
    )["layers"]
    assert (dots["inner_mm"], dots["outer_mm"], dots["spacing_mm"]) == pytest.approx((5, math.hypot(6, 9.5), 1.5))
    assert dots["groove_overlap_mm"] == pytest.approx(-0.5)
    assert not {"overlap_mm", "crossings", "circle_radius_mm", "offset_mm", "effective_offset_mm"} & dots.keys()
    assert (slots["inner_mm"], slots["outer_mm"], slots["outer_edge_mm"]) == pytest.approx((30, 36, 36.5))
    assert slots["offset_mm"] == 30 and "crossings" not in slots
    # Neighbouring slots are nearest at their inner ends, even if cut inwards. Subtract a groove of 1 mm.
    apart = 60 * math.sin(math.radians(15)) - 1
    inwards = job(layer(12, 36, shape="slots", to_offset_mm=30.0))
    assert slots["groove_overlap_mm"] == pytest.approx(-apart)
    assert figures_of(inwards, LATHE)["layers"][0]["groove_overlap_mm"] == pytest.approx(-apart)
    assert (border["inner_mm"], border["outer_mm"], border["shape"], border["cutter"]) == (42, 42, "arcs", "wide")


def test_the_figures_give_the_true_offset_and_the_turn_caused_by_an_uncorrected_height_error() -> None:
    """20 mm and 1 mm give the root of 401, and atan 1/20 = 2.862 deg, for either sign of the error."""
    for height in (1.0, -1.0):
        (found,) = figures_of(job(layer(), height_error_mm=height), LATHE)["layers"]
        assert found["effective_offset_mm"] == pytest.approx(math.sqrt(401))
        assert found["turned_by_deg"] == pytest.approx(2.8624, abs=1e-4)
        (taken,) = figures_of(job(layer(), height_error_mm=height, correct=True), LATHE)["layers"]
        assert taken["effective_offset_mm"] == 20 and "turned_by_deg" not in taken
        assert taken["spacing_mm"] == pytest.approx(20)


def test_the_inner_and_outer_radius_of_a_spiral_are_those_of_its_first_and_last_circle() -> None:
    """A spiral of 36 positions over three turns, with steps of 0.5 mm and 2 mm circles, reaches from 10 to 27.5 mm."""
    (found,) = figures_of(job(layer(36, 10, 2.0, spread=1080, offset_step_mm=0.5)), LATHE)["layers"]
    assert (found["inner_mm"], found["outer_mm"]) == pytest.approx((8, 29.5))
    k = np.arange(36)
    points = (10 + 0.5 * k) * np.exp(2j * np.pi * 3 * k / 36)
    apart = np.abs(points[:, None] - points[None, :])
    assert found["spacing_mm"] == pytest.approx(apart[apart > 0].min())


def test_the_figures_have_one_element_for_each_cut() -> None:
    """Each cut has one element, only a blank gives land, and the changes have the counted number."""
    wanted = job(layer(6, 20, 8.0, skip=frozenset({2})), layer(1, 0, 30.0), blank_diameter_mm=80.0)
    found = figures_of(wanted, LATHE, cutter_changes=0, head_changes=1, plate_changes=0)
    assert [one["position"] for one in found["elements"]] == [1, 3, 4, 5, 6, 1]
    assert (found["head_changes"], found["cutter_changes"]) == (1, 0)
    assert 0 < found["land_percent"] < 100
    assert "land_percent" not in figures_of(job(layer()), LATHE)
    assert "land_percent" not in figures_of(job(layer(cutter=None), blank_diameter_mm=80.0), LATHE)


def test_the_gap_between_two_rings_about_different_points_matches_hand_calculation() -> None:
    """Two rings with centres 50 mm apart: the gap is 50 mm less the reach of both rings along their line."""
    one, other = layer(4, 10, 3.0), layer(4, 10, 3.0, about_mm=(50.0, 0.0))
    (lie,) = figures_of(job(one, other), LATHE)["between_layers"]
    assert lie == {"layers": [1, 2], "lie": "apart", "gap_mm": pytest.approx(24), "crossing_pairs": 0}
    assert "between_layers" not in figures_of(job(one, places((1.0, 2.0), shape="dots")), LATHE)
