"""A simulated machine cuts random patterns. Each cut lies at the place of the job and of the card."""

from pathlib import Path
from random import Random
from typing import Any

import pytest

from core.values.errors import FileError
from tests.core.operations.patterns.outside.checking import disagreements, radii_off_mm
from tests.core.operations.patterns.outside.job_files import card_of
from tests.core.operations.patterns.outside.moves_again import wrong_moves
from tests.core.operations.patterns.outside.random_jobs import PLATES, random_lathe, random_pattern
from tests.core.operations.patterns.outside.settings_again import wrong_depths, wrong_settings

SEEDS = range(30)
LATHE = random_lathe(Random(1)) | {"rotary_table": {"ratio": 40, "dial_graduation": "2 arcmin", "plates": PLATES}}
DOTS: dict[str, Any] = {"shape": "dots", "count": 6, "offset": "20 mm", "depth": "0.4 mm"}


def pattern(*layers: dict[str, Any], **keys: Any) -> dict[str, Any]:
    """Return a pattern with one cutter."""
    cutter = {"name": "cutter", "tip_angle": "90 deg"}
    return {"kind": "pattern", "name": "Lid", "cutter": [cutter], **keys, "layer": list(layers)}


@pytest.mark.parametrize("seed", SEEDS)
def test_every_simulated_cut_lies_at_the_place_given_in_the_job_and_on_the_card(seed: int, tmp_path: Path) -> None:
    """Cuts match the job to half a mark of every dial, and the card to 1e-6 mm."""
    random = Random(seed)
    lathe = random_lathe(random)
    operation = random_pattern(random, lathe)
    try:
        card = card_of(tmp_path, operation, lathe)
    except FileError as error:
        pytest.fail(f"refused: {error.messages}")
    assert disagreements(operation, lathe, card) == []
    assert all(off <= 1 + 1e-6 for off in radii_off_mm(operation, lathe, card))
    assert [*wrong_settings(operation, lathe, card), *wrong_depths(card, lathe)] == []
    assert list(wrong_moves(operation, lathe, card)) == []


@pytest.mark.parametrize("keys", [{}, {"offset_side": "far"}, {"height_error": "0.3 mm", "correct": True}])
def test_offsets_that_decrease_below_0_continue_on_the_far_side_of_the_centre(
    keys: dict[str, Any], tmp_path: Path
) -> None:
    """The offsets are 5, 3, 1, -1, -3 and -5 mm. Past the centre the table turns by half a turn."""
    operation = pattern(DOTS | {"offset": "5 mm", "offset_step": "-2 mm", "spread": "60 deg"}, **keys)
    assert disagreements(operation, LATHE, card_of(tmp_path, operation, LATHE)) == []


@pytest.mark.parametrize(("count", "way"), [(24, "dial"), (7, "plate"), (13, "plate"), (17, "plate")])
def test_an_exact_means_of_setting_the_table_is_chosen_if_the_job_names_none(
    count: int, way: str, tmp_path: Path
) -> None:
    """The job names no means. 15 deg are whole marks of 2', 360/7 are not.

    7, 13 and 17 are on circles 21, 39 and 17.
    """
    operation = pattern(DOTS | {"count": count})
    card = card_of(tmp_path, operation, LATHE)
    assert {step["way"] for step in card["steps"] if step["action"] == "index"} == {way}
    assert card["figures"]["layers"][0]["worst_error_arcsec"] == pytest.approx(0, abs=1e-6)
    assert disagreements(operation, LATHE, card) == []


@pytest.mark.parametrize("sense", ["clockwise", "anticlockwise"])
@pytest.mark.parametrize("side", ["near", "far"])
def test_setting_the_table_by_notches_or_holes_gives_the_same_cuts_as_setting_by_the_dial(
    sense: str, side: str, tmp_path: Path
) -> None:
    """Twelve dots by a plate with 24 notches, and seven, on the far side of zero, by a hole circle of 21."""
    lathe = LATHE | {"rotary_table": LATHE["rotary_table"] | {"direct": [24], "numbers_rise": sense}}
    for means, layer in (("direct", DOTS | {"count": 12}), ("plate", DOTS | {"count": 7, "start": "270 deg"})):
        operation = pattern(layer, **{"with": means, "offset_side": side})
        card = card_of(tmp_path, operation, lathe)
        assert {step["way"] for step in card["steps"] if step["action"] == "index"} == {means}
        assert [*disagreements(operation, lathe, card), *wrong_moves(operation, lathe, card)] == []
        assert list(wrong_settings(operation, lathe, card)) == []


def test_the_table_is_set_by_its_dial_for_a_pattern_with_arcs_if_the_job_names_no_means(tmp_path: Path) -> None:
    """The pattern also has seven dots, which are exact only on a plate. But a plate cannot feed an arc."""
    arcs = {"shape": "arcs", "count": 7, "offset": "15 mm", "through": "30 deg", "depth": "0.4 mm"}
    operation = pattern(DOTS | {"count": 7}, arcs)
    card = card_of(tmp_path, operation, LATHE)
    assert disagreements(operation, LATHE, card) == []


def test_a_cross_slide_dial_that_reads_diameter_is_set_to_twice_the_offset(tmp_path: Path) -> None:
    """An offset of 20 mm is 40.00 on the dial, -40.00 on the far side, and 1.575 in inches."""
    cross_slide = {"per_turn": "4 mm", "graduation": "0.05 mm", "reads": "diameter"}
    inches = {"per_turn": "0.2 in", "graduation": "0.001 in", "reads": "diameter"}
    for dial, side, position in ((cross_slide, "near", 40), (cross_slide, "far", -40), (inches, "near", 1.575)):
        lathe = LATHE | {"dial": LATHE["dial"] | {"cross_slide": dial}}
        steps = card_of(tmp_path, pattern(DOTS, offset_side=side), lathe)["steps"]
        index = next(step for step in steps if step["action"] == "index")
        set_to = {setting["dial"]: setting["position"] for setting in index["settings"]}
        assert set_to["cross_slide"] == pytest.approx(position)


@pytest.mark.parametrize("sense", ["clockwise", "anticlockwise"])
@pytest.mark.parametrize("side", ["near", "far"])
def test_following_the_instructions_of_the_steps_sets_the_table_to_every_position(
    sense: str, side: str, tmp_path: Path
) -> None:
    """Each quarter of the work has a layer, reached from zero on a table with rising or falling numbers."""
    quarters = [["15 mm", "9 mm"], ["-15 mm", "9 mm"], ["-15 mm", "-9 mm"], ["15 mm", "-9 mm"], ["15 mm", "-0.5 mm"]]
    layers = [{"shape": "dots", "depth": "0.4 mm", "at": [place]} for place in quarters]
    lathe = LATHE | {"rotary_table": LATHE["rotary_table"] | {"numbers_rise": sense}}
    operation = pattern(*layers, offset_side=side, with_="dial")
    operation["with"] = operation.pop("with_")
    card = card_of(tmp_path, operation, lathe)
    assert [*disagreements(operation, lathe, card), *wrong_moves(operation, lathe, card)] == []


def test_before_a_plate_change_the_table_returns_to_zero_from_the_position_cut_last(tmp_path: Path) -> None:
    """Depths of one and of two passes. The second round ends at position 3 of 4, and there the plate is changed."""
    deep = DOTS | {"count": 4, "start": "10 deg", "depth": ["0.6 mm", "0.3 mm"], "cut": "0.3 mm"}
    operation = pattern(deep, DOTS | {"count": 7}, **{"with": "plate", "layer_order": "written"})
    card = card_of(tmp_path, operation, LATHE)
    assert [*wrong_settings(operation, LATHE, card), *wrong_moves(operation, LATHE, card)] == []
