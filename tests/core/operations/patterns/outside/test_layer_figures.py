"""The figures of a layer match a second calculation: envelopes, chords, widths, depths, and crossings."""

import math
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

import pytest

from tests.core.operations.patterns.outside.figures_again import crossing_points, figures_again
from tests.core.operations.patterns.outside.job_files import card_of, length_text
from tests.core.operations.patterns.outside.random_jobs import random_lathe, random_pattern

LATHE = random_lathe(Random(1)) | {"rotary_table": {"ratio": 72, "dial_graduation": "2 arcmin"}}
CUTTER = {"name": "cutter", "tip_angle": "90 deg"}
RING: dict[str, Any] = {"shape": "circles", "depth": "0.4 mm"}


def layers_of(folder: Path, *layers: dict[str, Any], **keys: Any) -> list[dict[str, Any]]:
    """Return the figures of each layer of a pattern."""
    operation = {"kind": "pattern", "name": "Lid", "layer_order": "written", "cutter": [CUTTER], **keys}
    found: list[dict[str, Any]] = card_of(folder, operation | {"layer": list(layers)}, LATHE)["figures"]["layers"]
    return found


def wrong_figures(operation: dict[str, Any], lathe: dict[str, Any], card: dict[str, Any]) -> Iterator[str]:
    """Yield each figure of a layer that differs from the second calculation."""
    for number, shown in enumerate(card["figures"]["layers"], start=1):
        for name, value in figures_again(operation, lathe, number):
            if name not in shown or abs(shown[name] - value) > 1e-5:
                yield f"layer {number}: {name} is {shown.get(name)}, by the contract {value}"


@pytest.mark.parametrize("seed", range(16))
def test_the_figures_of_each_layer_match_an_independent_calculation(seed: int, tmp_path: Path) -> None:
    """Derived. Every other seed has no set-up error, so that rings about any point are even too."""
    random = Random(1000 + seed)
    lathe = random_lathe(random)
    operation = random_pattern(random, lathe, exact=seed % 2 == 0)
    card = card_of(tmp_path, operation, lathe)
    assert list(wrong_figures(operation, lathe, card)) == []


@pytest.mark.parametrize("count", range(2, 14))
def test_circles_through_a_common_point_count_as_one_crossing_at_that_point(count: int, tmp_path: Path) -> None:
    """n circles through the centre cross there once, and n at a time at each distance in between. Derived.

    Pairs k positions apart meet again on n axes, for every k below n / 2. With an even n, opposite circles only touch.
    """
    ring = RING | {"count": count, "offset": "12 mm", "circle_radius": "12 mm"}
    expected = count * ((count - 1) // 2) + (1 if count > 2 else 0)
    assert layers_of(tmp_path, ring)[0]["crossings"] == expected


@pytest.mark.parametrize(
    ("count", "radius_mm", "expected"),
    [
        # 2 R sin(22.5 deg) = 7.65 and 2 R sin(45 deg) = 14.14: only neighbours cross, twice.
        (8, 7.0, 16),
        (8, 7.3, 32),
        # 2 R sin(36 deg) = 11.756, so circles of 5.878 touch; 2 R sin(72 deg) = 19.02: those after them do not meet.
        (5, 5.8, 0),
        (5, 5.95, 10),
        # Larger than the offset: every pair crosses in two points, no three in one.
        (5, 11.0, 20),
        (3, 15.0, 6),
        # Two equal circles.
        (2, 10.5, 2),
        (2, 9.5, 0),
    ],
)
def test_the_number_of_crossings_in_an_evenly_spaced_ring_matches_a_count_by_hand(
    count: int, radius_mm: float, expected: int, tmp_path: Path
) -> None:
    """The centres lie 10 mm from the middle. Derived."""
    ring = RING | {"count": count, "offset": "10 mm", "circle_radius": length_text(radius_mm)}
    assert layers_of(tmp_path, ring)[0]["crossings"] == expected


def test_the_number_of_crossings_of_four_circles_centred_on_a_square_matches_a_count_by_hand(tmp_path: Path) -> None:
    """Corners of a 20 mm square, radius 20 mm: sides cross at 2, diagonals at 2 points, all apart: 12. Derived.

    With radius equal to the offset, all four pass through the middle and sides meet again: 5. Diagonals only touch.
    """
    corners = [["10 mm", "10 mm"], ["-10 mm", "10 mm"], ["-10 mm", "-10 mm"], ["10 mm", "-10 mm"]]
    places = RING | {"at": corners, "circle_radius": "20 mm"}
    assert layers_of(tmp_path, places)[0]["crossings"] == 12
    ring = RING | {"count": 4, "start": "45 deg", "offset": "14 mm", "circle_radius": "14 mm"}
    assert layers_of(tmp_path, ring)[0]["crossings"] == 5


def test_a_square_grid_of_circles_that_only_touch_has_no_crossings(tmp_path: Path) -> None:
    """Nine circles of 5 mm, 10 mm apart both ways, touch their neighbours. With 6 mm, 12 pairs cross. Derived."""
    grid = [[f"{x} mm", f"{y} mm"] for x in (-10, 0, 10) for y in (-10, 0, 10)]
    assert layers_of(tmp_path, RING | {"at": grid, "circle_radius": "5 mm"})[0]["crossings"] == 0
    assert layers_of(tmp_path, RING | {"at": grid, "circle_radius": "6 mm"})[0]["crossings"] == 24


def test_the_figures_of_a_ring_about_a_point_off_the_centre_match_hand_calculation(tmp_path: Path) -> None:
    """Three circles of 10 mm about (9, -7), 10 mm from it, have four points. The spacing is 10 sqrt 3. Derived."""
    ring = RING | {"count": 3, "offset": "10 mm", "circle_radius": "10 mm", "about": ["9 mm", "-7 mm"]}
    layer = layers_of(tmp_path, ring)[0]
    assert layer["crossings"] == 4
    assert layer["spacing_mm"] == pytest.approx(10 * math.sqrt(3), abs=1e-6)
    # The circles about (9, -7) reach 20 mm along their own axes: at 0, 120 and 240 degrees.
    reaches = [math.hypot(9 + 10 * math.cos(a), -7 + 10 * math.sin(a)) + 10 for a in (0, 2.0943951024, 4.1887902048)]
    assert layer["outer_mm"] == pytest.approx(max(reaches), abs=1e-6)


def test_skipped_circles_are_not_counted_in_the_crossings(tmp_path: Path) -> None:
    """Six circles through the middle, with every second one skipped, are three circles: four points. Derived."""
    ring = RING | {"count": 6, "offset": "10 mm", "circle_radius": "10 mm", "skip": [2, 4, 6]}
    assert layers_of(tmp_path, ring)[0]["crossings"] == 4


def test_a_height_error_increases_the_true_offset_of_a_ring_and_turns_the_ring(tmp_path: Path) -> None:
    """hypot(20, 1) = 20.02498 and atan(1 / 20) = 2.8624 degrees. The chord of six is the offset itself. Derived."""
    ring = RING | {"count": 6, "offset": "20 mm", "circle_radius": "8 mm"}
    layer = layers_of(tmp_path, ring, height_error="1 mm")[0]
    assert layer["effective_offset_mm"] == pytest.approx(20.024984, abs=1e-6)
    assert layer["turned_by_deg"] == pytest.approx(2.862405, abs=1e-6)
    assert layer["spacing_mm"] == pytest.approx(20.024984, abs=1e-6)
    assert "turned_by_deg" not in layers_of(tmp_path, ring)[0]


def test_the_independent_calculation_counts_coinciding_crossings_once() -> None:
    """A check of the second calculation: six circles of 10 mm at 10 mm have 12 crossing pairs and 13 points."""
    places = [(10 * math.cos(k * math.pi / 3), 10 * math.sin(k * math.pi / 3), 10.0) for k in range(6)]
    assert len(crossing_points(places)) == 13
