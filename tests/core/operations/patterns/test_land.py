"""The percentage of land matches a fine raster in numpy and areas calculated by hand."""

import math
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.operations.patterns.elements import Element
from core.operations.patterns.land import land_percent
from tests.core.operations.patterns.made import WIDE, grooves, layer, places


def raster_percent(cut: tuple[Element, ...], blank_mm: float, points: int = 600) -> float:
    """Return the percentage of points on the face that are further from every tip line than half its groove's width."""
    side = (np.arange(points) + 0.5) / points * blank_mm - blank_mm / 2
    x, y = np.meshgrid(side, side)
    face = x**2 + y**2 <= (blank_mm / 2) ** 2
    land = face.copy()
    for one in cut:
        dx, dy = x - one.x_mm, y - one.y_mm
        if one.shape == "circle":
            away = np.abs(np.hypot(dx, dy) - one.radius_mm)
        elif one.shape == "dot":
            away = np.hypot(dx, dy)
        elif one.shape == "slot":
            along = complex(one.to_x_mm - one.x_mm, one.to_y_mm - one.y_mm)
            share = np.clip((dx * along.real + dy * along.imag) / abs(along) ** 2, 0, 1)
            away = np.hypot(dx - share * along.real, dy - share * along.imag)
        else:
            start = np.arctan2(one.y_mm - one.centre_y_mm, one.x_mm - one.centre_x_mm)
            radius = math.hypot(one.x_mm - one.centre_x_mm, one.y_mm - one.centre_y_mm)
            angle = (np.arctan2(y - one.centre_y_mm, x - one.centre_x_mm) - start) % (2 * np.pi)
            sweep = np.deg2rad(one.sweep_deg)
            away = np.abs(np.hypot(x - one.centre_x_mm, y - one.centre_y_mm) - radius)
            for end in (start, start + sweep):
                to_end = np.hypot(
                    x - one.centre_x_mm - radius * np.cos(end), y - one.centre_y_mm - radius * np.sin(end)
                )
                away = np.where(angle > sweep, np.inf, away) if end == start else away
                away = np.minimum(away, to_end)
        land &= away > one.width_mm / 2
    return 100 * land.sum() / face.sum()


def test_the_land_matches_areas_calculated_by_hand() -> None:
    """One dot, one border and one slot in a blank 100 mm across, by the areas of circle, ring and rectangle."""
    (dot,) = cut = grooves(layer(1, 0, shape="dots", depths_mm=(10.0,)))
    assert dot.width_mm == pytest.approx(20)
    assert land_percent(cut, 100) == pytest.approx(100 - 4, abs=0.02)
    border = grooves(layer(1, 40, shape="arcs", through=360, depths_mm=(1.0,)))
    assert land_percent(border, 100) == pytest.approx(100 * (1 - (41**2 - 39**2) / 50**2), abs=0.02)
    slot = grooves(layer(1, 5, shape="slots", to_offset_mm=45.0, depths_mm=(1.0,)))
    assert land_percent(slot, 100) == pytest.approx(100 - 100 * (80 + math.pi) / (2500 * math.pi), abs=0.02)
    assert land_percent((), 100) == 100


def test_the_part_of_a_dot_beyond_the_edge_of_the_blank_does_not_reduce_the_land() -> None:
    """One dot lies wholly off the blank, and one dot lies half on it."""
    assert land_percent(grooves(places((80.0, 0.0), shape="dots")), 100) == 100
    half = land_percent(grooves(places((50.0, 0.0), shape="dots", depths_mm=(2.0,))), 100)
    assert half == pytest.approx(100 - 100 * 2 / 2500, abs=0.02)


def test_the_land_is_unknown_if_the_width_of_a_groove_is_unknown() -> None:
    """The layer has no depth, or no cutter."""
    assert land_percent(grooves(layer(depths_mm=())), 100) is None
    assert land_percent(grooves(layer(cutter=None)), 100) is None


@settings(deadline=None, max_examples=25)
@given(
    st.integers(1, 20),
    st.floats(0, 35),
    st.floats(2, 25),
    st.floats(0.1, 2),
    st.sampled_from(["circles", "dots", "slots", "arcs"]),
    st.integers(5, 200),
    st.floats(-1, 1),
)
def test_the_land_left_by_random_patterns_matches_a_raster_count(
    count: int, offset: float, radius: float, depth: float, shape: str, through: int, height: float
) -> None:
    """Any shape on a blank of 80 mm, within half a percent."""
    keys: dict[str, object] = {"arcs": {"through": through}, "slots": {"to_offset_mm": 38.0}}.get(shape, {})
    one = layer(count, offset, radius, shape=shape, start=13, cutter=WIDE, depths_mm=(depth,), **keys)
    cut = grooves(one, layer(1, 0.0, 30.0), height_error_mm=height, eccentricity_mm=0.2)
    assert land_percent(cut, 80) == pytest.approx(raster_percent(cut, 80), abs=0.5)


def test_the_land_of_1200_circles_is_calculated_in_under_a_second() -> None:
    """The circles form 33 rings of 36."""
    cut = grooves(layer(36, 12, 6.0, repeat=33, repeat_offset_mm=25.0, depths_mm=(0.05,)))
    start = time.process_time()
    share = land_percent(cut, 90)
    assert time.process_time() - start < 1.5
    assert share == pytest.approx(raster_percent(cut, 90, 250), abs=0.5)
