"""The simulated machine and the checks work on steps made by hand: right steps pass, wrong steps are found."""

import copy
from typing import Any

import pytest

from tests.core.operations.patterns.outside.checking import disagreements
from tests.core.operations.patterns.outside.machine import Cut, Machine, half_mark_mm, mm_inwards

LATHE: dict[str, Any] = {
    "dial": {
        "cross_slide": {"per_turn": "4 mm", "graduation": "0.05 mm", "reads": "diameter"},
        "carriage": {"per_turn": "20 mm", "graduation": "0.1 mm", "reads": "travel"},
    },
    "rotary_table": {"ratio": 40, "dial_graduation": "2 arcmin"},
}
LAYER: dict[str, Any] = {"shape": "slots", "count": 1, "start": "90 deg", "from": "20 mm", "to": "24 mm"}
OPERATION: dict[str, Any] = {
    "cutter": [{"name": "cutter", "tip_angle": "90 deg"}],
    "layer": [LAYER | {"depth": "0.4 mm"}],
}


def at(dial: str, position: float) -> dict[str, Any]:
    """Return the setting of a dial."""
    return {"dial": dial, "position": position}


def step(action: str, *settings: dict[str, Any], **more: Any) -> dict[str, Any]:
    """Return a step in the form of a card."""
    return {"action": action, "layer": 1, "position": 1, "settings": list(settings), **more}


def card() -> dict[str, Any]:
    """Return the card of one slot that is cut in one pass."""
    steps = [
        step("index", at("rotary_table", 90.0), at("cross_slide", 40.0)),
        step("cut", at("carriage", 0.4), at("cross_slide", 40.0)),
        step("cut", at("carriage", 0.4), at("cross_slide", 48.0)),
    ]
    element = {"layer": 1, "position": 1, "shape": "slot", "angle_deg": 90.0, "x_mm": 0.0, "y_mm": 20.0}
    element |= {"to_x_mm": 0.0, "to_y_mm": 24.0, "depth_mm": 0.4, "width_mm": 0.8}
    numbered = [one | {"number": number} for number, one in enumerate(steps, start=1)]
    return {"steps": numbered, "figures": {"elements": [element]}}


def cut_once(operation: dict[str, Any], lathe: dict[str, Any], slide: float, table: dict[str, Any]) -> Cut:
    """Return the cut at one position by a cutter on the spindle's axis."""
    settings = step("index", table, at("cross_slide", slide), number=1)
    layer = {"layer": [{"shape": "dots"}]}
    steps = [settings, step("cut", at("carriage", 0.4), number=2)]
    return Machine(operation | layer, lathe).run(steps)[1, 1]


@pytest.mark.parametrize(
    ("operation", "sense", "slide", "angle", "place"),
    [
        ({}, "clockwise", 40.0, 90.0, (0, 20)),
        # The table's numbers fall while it turns clockwise.
        ({}, "anticlockwise", 40.0, -90.0, (0, 20)),
        # The table's axis lies 1 mm above the spindle's: (20, -1) turned by 90 degrees.
        ({"height_error": "1 mm"}, "clockwise", 40.0, 90.0, (1, 20)),
        # On the far side: (-20, -1) turned by 270 degrees.
        ({"height_error": "1 mm", "offset_side": "far"}, "clockwise", -40.0, 270.0, (-1, 20)),
        # The work lies 0.5 mm off the table's axis, towards its own 90 degrees.
        ({"eccentricity": "0.5 mm", "eccentric_at": "90 deg"}, "clockwise", 40.0, 90.0, (0, 19.5)),
    ],
)
def test_the_place_of_the_simulated_tool_on_the_work_matches_hand_calculation(
    operation: dict[str, Any], sense: str, slide: float, angle: float, place: tuple[float, float]
) -> None:
    """The positions of axis, spindle and work give the place by hand."""
    lathe = LATHE | {"rotary_table": LATHE["rotary_table"] | {"numbers_rise": sense}}
    stroke = cut_once(operation, lathe, slide, at("rotary_table", angle)).strokes[0]
    assert tuple(stroke.start) == pytest.approx(place) and stroke.depth_mm == 0.4


def test_turns_and_plate_holes_turn_the_simulated_table_by_the_angle_calculated_by_hand() -> None:
    """Ten turns at 40:1 are 90 degrees; 3 turns and 6 holes of 18 are 30 degrees."""
    table = {"dial": "rotary_table", "turns": 3, "holes": 6, "circle": 18}
    assert cut_once({}, LATHE, 40.0, table).strokes[0].angle_deg == pytest.approx(30)
    table = {"dial": "rotary_table", "turns": 10, "holes": 0}
    assert cut_once({}, LATHE, 40.0, table).strokes[0].angle_deg == pytest.approx(90)


@pytest.mark.parametrize(
    ("dial", "per_unit", "half_mm"),
    [
        ({"graduation": "0.05 mm", "reads": "diameter"}, 0.5, 0.0125),
        ({"graduation": "0.02 mm", "reads": "travel", "numbers": "fall"}, -1.0, 0.01),
        ({"graduation": "1 thou", "reads": "diameter"}, 12.7, 0.00635),
        ({"graduation": "1 thou", "reads": "travel", "per_turn": "40 thou", "lead": "1 mm"}, 25.0, 0.0125),
    ],
)
def test_a_simulated_dial_moves_its_slide_by_the_travel_calculated_by_hand(
    dial: dict[str, str], per_unit: float, half_mm: float
) -> None:
    """The travel is calculated by hand."""
    assert mm_inwards(dial) == pytest.approx(per_unit)
    assert half_mark_mm(dial) == pytest.approx(half_mm)


def test_correct_steps_pass_the_checks_of_the_simulated_machine() -> None:
    """A slot of 4 mm is fed in at 20 mm and 90 degrees."""
    assert disagreements(OPERATION, LATHE, card()) == []


@pytest.mark.parametrize(
    ("step_number", "dial", "position"),
    [
        (1, "rotary_table", 90.1),
        (1, "rotary_table", -90.0),
        (2, "cross_slide", 40.1),
        (2, "carriage", 0.5),
        (3, "cross_slide", 48.1),
        (3, "cross_slide", 40.0),
    ],
)
def test_the_checks_of_the_simulated_machine_detect_a_wrong_dial_setting(
    step_number: int, dial: str, position: float
) -> None:
    """The fault is a mark or two too far, the wrong direction, or no feed."""
    wrong = card()
    for setting in wrong["steps"][step_number - 1]["settings"]:
        if setting["dial"] == dial:
            setting["position"] = position
    if dial == "carriage":
        wrong["steps"][2]["settings"][0]["position"] = position
    assert disagreements(OPERATION, LATHE, wrong)


@pytest.mark.parametrize("key", ["angle_deg", "x_mm", "y_mm", "to_x_mm", "to_y_mm", "depth_mm", "width_mm"])
def test_the_checks_of_the_simulated_machine_detect_a_wrong_figure_on_the_card(key: str) -> None:
    """The fault is a hundredth of a millimetre or of a degree."""
    wrong = card()
    wrong["figures"]["elements"][0][key] += 0.01
    assert disagreements(OPERATION, LATHE, wrong)


def test_the_checks_of_the_simulated_machine_detect_a_position_cut_twice_or_not_at_all() -> None:
    """Two more cut steps at the same depth, and a position of the job without a cut."""
    twice = card()
    twice["steps"] += [one | {"number": one["number"] + 3} for one in copy.deepcopy(twice["steps"])]
    assert any("do not grow" in text for text in disagreements(OPERATION, LATHE, twice))
    two = copy.deepcopy(OPERATION)
    two["layer"][0]["count"] = 2
    assert any("did not cut" in text for text in disagreements(two, LATHE, card()))


def test_the_checks_of_the_simulated_machine_detect_a_pass_that_is_too_deep() -> None:
    """One pass of 0.4 mm exceeds the limit of 0.2 mm."""
    light = copy.deepcopy(OPERATION)
    light["layer"][0]["cut"] = "0.2 mm"
    assert any("deeper" in text for text in disagreements(light, LATHE, card()))
