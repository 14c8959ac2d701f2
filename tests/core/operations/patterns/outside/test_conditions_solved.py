"""A count, offset or radius from a condition satisfies the condition in the figures of the card."""

import math
from pathlib import Path
from random import Random
from typing import Any

import pytest

from core.values.errors import FileError
from tests.core.figures import figures
from tests.core.operations.patterns.outside.job_files import card_of, groove_width_mm
from tests.core.operations.patterns.outside.random_jobs import random_lathe

LATHE = random_lathe(Random(1)) | {"rotary_table": {"ratio": 72, "dial_graduation": "2 arcmin"}}
CUTTER = {"name": "cutter", "tip_angle": "90 deg", "tip_flat": "0.1 mm"}
WIDTH_MM = groove_width_mm(CUTTER, 0.4)
LENGTHS = ("overlap", "land", "inner", "outer", "inner_edge", "outer_edge")


def card(folder: Path, layer: dict[str, Any], **keys: Any) -> dict[str, Any]:
    """Return the card of one layer of circles, 0.4 mm deep."""
    operation = {"kind": "pattern", "name": "Lid", "cutter": [CUTTER], **keys}
    return card_of(folder, operation | {"layer": [{"shape": "circles", "depth": "0.4 mm"} | layer]}, LATHE)


def by_hand(name: str, count: int, offset_mm: float, radius_mm: float, touches: int = 1) -> float:
    """Return the value of a condition for a ring, by the formulas of the file format; 0 if the ring satisfies it."""
    spacing_mm = 2 * offset_mm * math.sin(math.pi / count)
    return {
        "points": spacing_mm - 2 * radius_mm,
        "grooves": spacing_mm - 2 * radius_mm - WIDTH_MM,
        "overlap": 2 * radius_mm - spacing_mm,
        "land": spacing_mm - 2 * radius_mm - WIDTH_MM,
        "touches": 2 * offset_mm * math.sin(touches * math.pi / count) - 2 * radius_mm,
        "inner": abs(offset_mm - radius_mm),
        "outer": offset_mm + radius_mm,
        "inner_edge": abs(offset_mm - radius_mm) - WIDTH_MM / 2,
        "outer_edge": offset_mm + radius_mm + WIDTH_MM / 2,
    }[name]


def ring_of(layer: dict[str, Any]) -> tuple[int, float, float]:
    """Return count, effective offset and radius from the card."""
    return layer["count"], layer["effective_offset_mm"], layer["circle_radius_mm"]


def sized(**lengths_mm: float) -> dict[str, str]:
    """Return lengths in the form of a file, to a nanometre."""
    return {name: f"{length:.7f} mm" for name, length in lengths_mm.items()}


@pytest.mark.parametrize("seed", range(24))
def test_a_condition_calculated_from_a_known_ring_gives_back_the_rings_missing_size(seed: int, tmp_path: Path) -> None:
    """One length of a random ring replaces its radius, and then its offset. Derived."""
    random = Random(seed)
    name = LENGTHS[seed % len(LENGTHS)]
    count, offset_mm = random.randint(5, 40), random.uniform(15, 30)
    # The radius is smaller than the offset, so it is the preferred one of two solutions.
    radius_mm = random.uniform(1.5, offset_mm - 3)
    value = {name: by_hand(name, count, offset_mm, radius_mm)}
    if name == "land" and value["land"] < 0:
        radius_mm = offset_mm * math.sin(math.pi / count) - WIDTH_MM / 2 - 0.3
        value = {"land": 0.6}
    if name == "overlap" and value["overlap"] < 0:
        radius_mm = offset_mm * math.sin(math.pi / count) + 0.6
        value = {"overlap": 1.2}
    for known in ({"offset": offset_mm}, {"circle_radius": radius_mm}):
        layer = card(tmp_path, {"count": count} | sized(**known, **value))["figures"]["layers"][0]
        assert ring_of(layer) == (count, pytest.approx(offset_mm, abs=1e-5), pytest.approx(radius_mm, abs=1e-5))


@pytest.mark.parametrize("meet", ["points", "grooves"])
@pytest.mark.parametrize("known", [{"offset": "20 mm"}, {"circle_radius": "4 mm"}])
def test_the_meet_condition_gives_neighbouring_circles_that_touch_without_crossing(
    meet: str, known: dict[str, str], tmp_path: Path
) -> None:
    """From offset or radius, the circles neither cross nor are apart. Touching circles never count as crossing.

    Derived.
    """
    layer = card(tmp_path, {"count": 11, "meet": meet} | known)["figures"]["layers"][0]
    assert by_hand(meet, *ring_of(layer)) == pytest.approx(0, abs=1e-6)
    gap = "overlap_mm" if meet == "points" else "groove_overlap_mm"
    assert layer[gap] == pytest.approx(0, abs=1e-6) and layer["crossings"] == 0


@pytest.mark.parametrize("touches", [1, 2, 3, 4, 5])
def test_a_touches_condition_of_n_makes_circles_n_positions_apart_touch(touches: int, tmp_path: Path) -> None:
    """2 R sin(m 180 deg / n) = 2 r. With m = 3, neighbours and the next circles cross, and the third ones touch.

    Derived.

    Each of the m - 1 nearer pairs crosses in two points, n times; none of these points coincide here.
    """
    layer = card(tmp_path, {"count": 11, "offset": "20 mm", "touches": touches})["figures"]["layers"][0]
    assert by_hand("touches", *ring_of(layer), touches) == pytest.approx(0, abs=1e-6)
    assert layer["crossings"] == 2 * 11 * (touches - 1)


@pytest.mark.parametrize(
    ("layer", "count"),
    [
        # 2 x 20 sin 30 = 20 between centres.
        ({"circle_radius": "10 mm", "meet": "points"}, 6),
        ({"circle_radius": "9.55 mm", "meet": "grooves"}, 6),
        ({"circle_radius": "10.75 mm", "overlap": "1.5 mm"}, 6),
        ({"circle_radius": "9.3 mm", "land": "0.5 mm"}, 6),
        ({"circle_radius": "10 mm", "touches": 2}, 12),
        ({"circle_radius": "10 mm", "touches": 3}, 18),
    ],
)
def test_the_number_of_circles_calculated_from_a_condition_matches_hand_calculation(
    layer: dict[str, Any], count: int, tmp_path: Path
) -> None:
    """The offset is 20 mm, and the grooves are 0.9 mm wide. By hand."""
    assert pytest.approx(0.9) == WIDTH_MM
    assert card(tmp_path, {"offset": "20 mm"} | layer)["figures"]["layers"][0]["count"] == count


def test_a_condition_that_needs_a_fractional_count_is_refused_with_the_two_nearest_whole_counts(tmp_path: Path) -> None:
    """asin(3 / 20) = 8.627 degrees, 180 / 8.627 = 20.87: neither 20 nor 21 circles of 3 mm touch. Derived."""
    with pytest.raises(FileError) as refusal:
        card(tmp_path, {"offset": "20 mm", "circle_radius": "3 mm", "meet": "points"})
    # 40 sin(180/20) = 6.257 mm and 40 sin(180/21) = 5.962 mm between centres, for circles of 6 mm.
    assert {"20", "21", "0.257", "0.038"} <= figures(" ".join(refusal.value.messages))


def test_two_conditions_determine_both_offset_and_circle_radius(tmp_path: Path) -> None:
    """inner 10 and outer 30: offset 20, radius 10.

    Twelve circles that meet and whose edges reach 30 mm: by hand below.
    """
    layer = card(tmp_path, {"count": 12, "inner": "10 mm", "outer": "30 mm"})["figures"]["layers"][0]
    assert ring_of(layer) == (12, pytest.approx(20), pytest.approx(10))
    layer = card(tmp_path, {"count": 12, "meet": "points", "outer_edge": "30 mm"})["figures"]["layers"][0]
    # r = R sin 15, R + r + 0.45 = 30.
    offset_mm = 29.55 / (1 + math.sin(math.pi / 12))
    assert ring_of(layer) == (12, pytest.approx(offset_mm), pytest.approx(29.55 - offset_mm))
    layer = card(tmp_path, {"count": 12, "land": "0.5 mm", "inner_edge": "15 mm"})["figures"]["layers"][0]
    assert by_hand("land", *ring_of(layer)) == pytest.approx(0.5)
    assert by_hand("inner_edge", *ring_of(layer)) == pytest.approx(15)


def test_a_caution_gives_a_second_circle_radius_that_also_satisfies_the_condition(tmp_path: Path) -> None:
    """With offset 10 and inner 3, the radius is 7, and a caution names 13. Derived."""
    found = card(tmp_path, {"count": 5, "offset": "10 mm", "inner": "3 mm"})
    assert found["figures"]["layers"][0]["circle_radius_mm"] == pytest.approx(7)
    assert any("13" in caution for caution in found["cautions"])


def test_a_circle_radius_calculated_from_a_condition_allows_for_a_height_error(tmp_path: Path) -> None:
    """The centres lie hypot(R, h) from the axis, so circles that meet are larger than without the error. Derived."""
    layer = {"count": 9, "offset": "12 mm", "meet": "points"}
    found = card(tmp_path, layer, height_error="2 mm")["figures"]["layers"][0]
    assert found["circle_radius_mm"] == pytest.approx(math.hypot(12, 2) * math.sin(math.pi / 9))
