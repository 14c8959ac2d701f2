"""Widths of grooves match hand calculations, and so does the least depth on a face that runs out."""

import math
from pathlib import Path
from random import Random
from typing import Any

import pytest

from tests.core.operations.patterns.outside.job_files import card_of, groove_width_mm
from tests.core.operations.patterns.outside.random_jobs import random_lathe

LATHE = random_lathe(Random(1)) | {"rotary_table": {"ratio": 72, "dial_graduation": "2 arcmin"}}
FINE = {"dial": LATHE["dial"] | {"carriage": {"graduation": "0.01 mm", "reads": "travel"}}}
RING: dict[str, Any] = {"shape": "circles", "count": 6, "offset": "20 mm", "circle_radius": "8 mm"}

SHARP, FLAT, ROUND = {}, {"tip_flat": "0.2 mm"}, {"tip_radius": "1 mm"}
WIDTHS = [
    # A point of 90 degrees is twice as wide as deep, of 60 degrees 2 / sqrt 3, of 120 degrees 2 sqrt 3. By hand.
    (SHARP, "90 deg", "0.6 mm", 1.2),
    (SHARP, "60 deg", "0.6 mm", 0.692820),
    (SHARP, "120 deg", "0.5 mm", 1.732051),
    (FLAT, "90 deg", "0.6 mm", 1.4),
    (FLAT, "60 deg", "0.3 mm", 0.546410),
    # Round, radius 1: a chord of the circle at 0.2 deep is 2 sqrt(0.4 - 0.04) = 1.2.
    (ROUND, "90 deg", "0.2 mm", 1.2),
    # The arc ends at 1 - sin 45 = 0.292893 deep, where the chord is 2 cos 45 = 1.414214.
    (ROUND, "90 deg", "0.29 mm", 1.408403),
    # Deeper, two flanks of 45 degrees: 1.414214 + 2 (0.6 - 0.292893) = 2.028427.
    (ROUND, "90 deg", "0.6 mm", 2.028427),
    # At a half angle of 30 degrees the arc ends at half the radius, where the chord is sqrt 3.
    (ROUND, "60 deg", "0.5 mm", 1.732051),
    (ROUND, "60 deg", "0.8 mm", 1.732051 + 0.346410),
]


def layer_of(folder: Path, layer: dict[str, Any], **keys: Any) -> dict[str, Any]:
    """Return the figures of the only layer of a pattern, on a lathe with fine marks."""
    operation = {"kind": "pattern", "name": "Lid", **keys, "layer": [RING | layer]}
    found: dict[str, Any] = card_of(folder, operation, LATHE | FINE)["figures"]["layers"][0]
    return found


@pytest.mark.parametrize(("point", "angle", "depth", "width_mm"), WIDTHS)
def test_the_width_of_a_groove_matches_hand_calculation(
    point: dict[str, str], angle: str, depth: str, width_mm: float, tmp_path: Path
) -> None:
    """Sharp, flat and round points, cut shallower and deeper than the nose. Derived."""
    cutter = {"name": "cutter", "tip_angle": angle, **point}
    layer = layer_of(tmp_path, {"depth": depth}, cutter=[cutter])
    assert layer["groove_width_mm"] == pytest.approx(width_mm, abs=2e-6)
    assert groove_width_mm(cutter, float(depth.split()[0])) == pytest.approx(width_mm, abs=2e-6)


def test_a_cutter_defined_in_the_lathe_file_cuts_the_same_groove_width_as_one_defined_in_the_job(
    tmp_path: Path,
) -> None:
    """The layer names it, and the job has no cutter of its own."""
    lathe = LATHE | FINE | {"cutter": [{"name": "wide", "tip_angle": "120 deg", "reach": "4 mm"}]}
    operation = {"kind": "pattern", "name": "Lid", "layer": [RING | {"depth": "0.5 mm", "cutter": "wide"}]}
    layer = card_of(tmp_path, operation, lathe)["figures"]["layers"][0]
    assert (layer["cutter"], layer["groove_width_mm"]) == ("wide", pytest.approx(math.sqrt(3), abs=1e-6))


def test_face_runout_reduces_the_minimum_groove_depth_of_a_layer(tmp_path: Path) -> None:
    """A runout of 0.08 mm at 40 mm is 0.056 mm at the layer's radius of 28 mm: 0.5 - 0.056 = 0.444. Derived.

    The face is highest where it is touched off. On the other side it lies lower by the whole reading.
    """
    cutter = [{"name": "cutter", "tip_angle": "90 deg"}]
    runout = {"face_runout": "0.08 mm", "face_radius": "40 mm"}
    layer = layer_of(tmp_path, {"depth": "0.5 mm"}, cutter=cutter, **runout)
    assert layer["depth_max_mm"] == pytest.approx(0.5)
    assert layer["depth_min_mm"] == pytest.approx(0.444, abs=2e-6)
    layer = layer_of(tmp_path, {"depth": ["0.5 mm", "0.3 mm"]}, cutter=cutter, **runout)
    assert layer["depth_max_mm"] == pytest.approx(0.5)
    assert layer["depth_min_mm"] == pytest.approx(0.244, abs=2e-6)


def test_a_face_runout_larger_than_the_groove_depth_gets_a_caution_on_the_card(tmp_path: Path) -> None:
    """0.4 mm at 20 mm is 0.56 mm at 28 mm, more than the depth of 0.5 mm. The least depth is 0, not below."""
    cutter, runout = [{"name": "cutter", "tip_angle": "90 deg"}], {"face_runout": "0.4 mm", "face_radius": "20 mm"}
    operation = {"kind": "pattern", "name": "Lid", "cutter": cutter, "layer": [RING | {"depth": "0.5 mm"}]}
    true = card_of(tmp_path, operation, LATHE | FINE)
    card = card_of(tmp_path, operation | runout, LATHE | FINE)
    assert card["figures"]["layers"][0]["depth_min_mm"] == 0
    assert any("uncut" in caution for caution in card["cautions"])
    assert not any("uncut" in caution for caution in true["cautions"])
