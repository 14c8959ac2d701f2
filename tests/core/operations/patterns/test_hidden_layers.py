"""Layers hidden by other grooves, checked against depths on a fine raster in numpy."""

import math

import numpy as np
import pytest

from core.lathe.lathe import Cutter
from core.operations.patterns.hidden_layers import UnsearchedLayer, searched_layers
from core.operations.patterns.layers import Layer
from tests.core.operations.patterns.made import SHARP, WIDE, job, layer, places

ACUTE = Cutter("acute", 60.0)


def raster_depth(one: Layer, radius_mm: float, points: int = 1501) -> np.ndarray:
    """Return the depth of circles or dots, cut with a sharp or flat point, at each place of a raster."""
    side = np.linspace(-radius_mm, radius_mm, points)
    x, y = np.meshgrid(side, side)
    depth = np.zeros_like(x)
    cutter = one.cutter
    assert cutter is not None
    for position in one.cut_positions:
        beside = np.abs(np.hypot(x - position.x_mm, y - position.y_mm) - (position.circle_radius_mm or 0.0))
        slope = math.tan(math.radians(cutter.tip_angle_deg / 2))
        deep = position.depth_mm - np.maximum(0.0, beside - cutter.tip_flat_mm / 2) / slope
        depth = np.maximum(depth, deep)
    return depth


def test_a_shallow_groove_cut_along_a_deeper_and_wider_groove_is_hidden() -> None:
    """The same circles are cut 0.3 mm deep after 0.5 mm with a wider point. From 0.5 mm on they are visible."""
    wide, fine = layer(6, 20, 8.0, cutter=WIDE), layer(6, 20, 8.0, cutter=ACUTE, depths_mm=(0.3,))
    (found,) = searched_layers(job(wide, fine))
    assert (found.number, found.depth_mm) == (2, 0.3)
    assert found.shows_from_mm == pytest.approx(0.5, abs=1e-6)
    assert list(searched_layers(job(wide, layer(6, 20, 8.0, cutter=ACUTE, depths_mm=(0.55,))))) == []


@pytest.mark.parametrize("beside", [0.1, 0.3, 0.6, 0.8])
def test_a_hidden_groove_becomes_visible_once_it_is_deeper_than_the_groove_that_hides_it(beside: float) -> None:
    """A 90 deg groove 0.5 mm deep is (0.5 - distance) deep off its middle.

    A finer point is visible once it is deeper.
    """
    wide = layer(1, 0, 8.0)
    least = max(0.0, 0.5 - beside)
    for depth in (least * 0.9, least + 0.02):
        if depth > 0:
            fine = layer(1, 0, 8.0 + beside, cutter=ACUTE, depths_mm=(depth,))
            found = list(searched_layers(job(wide, fine)))
            assert bool(found) == (depth < least)
            if found:
                assert found[0].shows_from_mm == pytest.approx(least, abs=1e-6)


def test_a_layer_with_too_many_grooves_to_search_is_reported_as_not_searched() -> None:
    """400 circles lie hidden in the grooves of 400 deeper circles. The full search would take too long."""
    deep, shallow = layer(400, 20, 8.0, cutter=WIDE), layer(400, 20, 8.0, cutter=ACUTE, depths_mm=(0.3,))
    assert list(searched_layers(job(deep, shallow))) == [UnsearchedLayer(2)]
    assert list(searched_layers(job(layer(4, 20, 8.0, cutter=WIDE), layer(4, 20, 3.0, cutter=ACUTE)))) == []


def test_the_flanks_of_a_blunt_groove_are_visible_outside_an_equally_deep_acute_groove() -> None:
    """The blunt groove is equally deep but wider, so its flanks are visible."""
    acute, blunt = layer(6, 20, 8.0, cutter=ACUTE), layer(6, 20, 8.0, cutter=WIDE, depths_mm=(0.45,))
    assert list(searched_layers(job(acute, blunt))) == []


@pytest.mark.parametrize(("offset", "depth"), [(2.0, 0.05), (2.0, 0.2), (3.0, 0.12), (3.0, 0.4), (4.0, 0.3)])
def test_the_search_for_hidden_dots_matches_a_raster_of_the_face(offset: float, depth: float) -> None:
    """Dots along rings of circles, compared at each place of the face."""
    rings = layer(8, 3, 2.0, cutter=WIDE)
    dots = layer(8, offset, shape="dots", start=7, cutter=SHARP, depths_mm=(depth,))
    wanted = job(rings, dots)
    deep, other = raster_depth(wanted.layers[1], 6), raster_depth(wanted.layers[0], 6)
    shows = bool((deep > np.maximum(other, 0) + 0.002).any())
    assert bool(list(searched_layers(wanted))) == (not shows)


def test_shallow_dots_in_the_end_of_a_deep_slot_or_on_a_deep_border_are_hidden() -> None:
    """Shallow dots lie in the round end of a deep slot and on a deep border. One dot away from them is visible."""
    slots = layer(4, 10, shape="slots", to_offset_mm=15.0)
    border = layer(1, 20, shape="arcs", through=360)
    hidden = places((15.1, 0.0), (0.0, 20.0), shape="dots", depths_mm=(0.1,))
    assert [one.number for one in searched_layers(job(slots, border, hidden))] == [3]
    beside = places((15.1, 0.0), (0.0, 17.0), shape="dots", depths_mm=(0.1,))
    assert list(searched_layers(job(slots, border, beside))) == []


def test_a_groove_visible_only_off_the_blank_counts_as_hidden() -> None:
    """A fine groove leaves a wide groove only beyond the rim."""
    border = layer(1, 0, 20.0, cutter=WIDE, depths_mm=(1.0,))
    dots = places((20.0, 0.0), (30.0, 0.0), shape="dots", depths_mm=(0.2,))
    assert [one.number for one in searched_layers(job(border, dots, blank_diameter_mm=50.0))] == [2]
    assert list(searched_layers(job(border, dots))) == []


def test_a_layer_without_a_depth_is_never_reported_as_hidden() -> None:
    """A layer without a depth, or a single layer, has no finding."""
    assert list(searched_layers(job(layer(), layer(depths_mm=())))) == []
    assert list(searched_layers(job(layer()))) == []
