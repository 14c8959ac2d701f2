"""The land of a face matches a fine raster and areas known from geometry."""

import math
from pathlib import Path
from random import Random
from typing import Any

import pytest

from tests.core.operations.patterns.outside.figures_again import land_percent
from tests.core.operations.patterns.outside.job_files import card_of, mm
from tests.core.operations.patterns.outside.random_jobs import random_lathe, random_pattern

LATHE = random_lathe(Random(1)) | {"rotary_table": {"ratio": 72, "dial_graduation": "2 arcmin"}}
FINE = LATHE | {"dial": LATHE["dial"] | {"carriage": {"graduation": "0.01 mm", "reads": "travel"}}}
CUTTER = {"name": "cutter", "tip_angle": "90 deg"}
BLANK_MM = 80.0


def land_of(folder: Path, *layers: dict[str, Any]) -> float:
    """Return the land on the card for a blank of 80 mm [%]."""
    operation = {"kind": "pattern", "name": "Lid", "blank_diameter": "80 mm", "cutter": [CUTTER]}
    found: float = card_of(folder, operation | {"layer": list(layers)}, FINE)["figures"]["land_percent"]
    return found


def cut_away(area_mm2: float) -> float:
    """Return the land of the blank if a groove covers the given area [%]."""
    return 100 * (1 - area_mm2 / (math.pi * BLANK_MM**2 / 4))


@pytest.mark.parametrize("seed", range(8))
def test_the_land_left_between_grooves_of_all_shapes_matches_a_raster_count(seed: int, tmp_path: Path) -> None:
    """All shapes are in one pattern, to 0.5 percent."""
    random = Random(2000 + seed)
    lathe = random_lathe(random)
    operation = random_pattern(random, lathe)
    operation["blank_diameter"] = "100 mm"
    figures = card_of(tmp_path, operation, lathe)["figures"]
    assert figures["land_percent"] == pytest.approx(land_percent(figures["elements"], 100.0, cells=600), abs=0.5)


def test_the_land_equals_the_blanks_area_less_the_known_areas_of_the_grooves(tmp_path: Path) -> None:
    """A groove of 2 mm along a circle of 30 mm is a ring of 2 pi 30 x 2 mm2. Derived.

    A dot of 2 mm is pi mm2, a slot of 20 mm a strip with two half dots. A border by the table is the same ring.
    """
    deep = {"depth": "1 mm"}
    border = {"shape": "circles", "count": 1, "offset": "0 mm", "circle_radius": "30 mm", **deep}
    by_table = {"shape": "arcs", "count": 1, "offset": "30 mm", "through": "360 deg", **deep}
    ring = cut_away(2 * math.pi * 30 * 2)
    assert land_of(tmp_path, border) == pytest.approx(ring, abs=0.5)
    assert land_of(tmp_path, by_table) == pytest.approx(ring, abs=0.5)
    assert land_of(tmp_path, border, by_table) == pytest.approx(ring, abs=0.5)
    dots = {"shape": "dots", "count": 40, "offset": "30 mm", **deep}
    assert land_of(tmp_path, dots) == pytest.approx(cut_away(40 * math.pi), abs=0.5)
    slots = {"shape": "slots", "count": 12, "from": "15 mm", "to": "35 mm", **deep}
    assert land_of(tmp_path, slots) == pytest.approx(cut_away(12 * (20 * 2 + math.pi)), abs=0.5)


def test_the_part_of_a_groove_that_lies_off_the_blank_does_not_reduce_the_land(tmp_path: Path) -> None:
    """A circle of 10 mm about (40, 0) on a blank of 40 mm radius. The raster counts only points on the blank."""
    circle = {"shape": "circles", "at": [["40 mm", "0 mm"]], "circle_radius": "10 mm", "depth": "1 mm"}
    element = {"shape": "circle", "x_mm": 40.0, "y_mm": 0.0, "radius_mm": 10.0, "width_mm": 2.0}
    assert land_of(tmp_path, circle) == pytest.approx(land_percent([element], BLANK_MM, cells=600), abs=0.5)


def test_a_job_without_a_blank_diameter_has_no_land_figure(tmp_path: Path) -> None:
    """A job without blank_diameter has no area to compare with."""
    operation = {"kind": "pattern", "name": "Lid", "cutter": [CUTTER]}
    dots = {"shape": "dots", "count": 4, "offset": "30 mm", "depth": "1 mm"}
    assert "land_percent" not in card_of(tmp_path, operation | {"layer": [dots]}, FINE)["figures"]


def test_the_raster_used_for_comparison_measures_a_known_area_correctly() -> None:
    """A check of the raster: a ring of 2 mm along 30 mm on a blank of 80 mm leaves 92.5 percent."""
    ring = {"shape": "circle", "x_mm": 0.0, "y_mm": 0.0, "radius_mm": 30.0, "width_mm": 2.0}
    assert land_percent([ring], mm("80 mm"), cells=600) == pytest.approx(92.5, abs=0.1)
    arc = {"shape": "arc", "x_mm": 30.0, "y_mm": 0.0, "centre_x_mm": 0.0, "centre_y_mm": 0.0, "sweep_deg": 90.0}
    assert land_percent([arc | {"width_mm": 2.0}], 80.0, cells=600) == pytest.approx(
        100 - (94.248 + 3.1416) / 50.265, abs=0.1
    )
