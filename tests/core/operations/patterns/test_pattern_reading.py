"""The reader accepts every key of a pattern. A wrong key or value gets a sentence beside its key."""

import math
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.events.state import LoggedPlanInput
from core.lathe.lathe import Cutter
from core.operations.patterns.job import read_pattern
from core.operations.patterns.layers import Layer, PatternJob
from core.operations.registry import parameters_of
from core.run.revising import plan_input_of
from core.values.fields import Problem, Table
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import HEAD, lathe_with, layers_job, layers_problems

LATHE = lathe_with()
CIRCLES: dict[str, Any] = {"count": 5, "offset": "20 mm", "circle_radius": "12 mm", "depth": "0.6 mm"}
DOTS: dict[str, Any] = {"shape": "dots", "count": 12, "offset": "40 mm", "depth": "0.5 mm"}
PLACES: dict[str, Any] = {"shape": "dots", "at": [["10 mm", "0 mm"], ["-3 mm", "12.5 mm"]], "depth": "0.5 mm"}
SLOTS: dict[str, Any] = {"shape": "slots", "count": 12, "from": "30 mm", "to": "36 mm", "depth": "0.4 mm"}
ARCS: dict[str, Any] = {"shape": "arcs", "count": 1, "offset": "42 mm", "through": "360 deg", "depth": "0.4 mm"}
WIDE = {"name": "wide", "tip_angle": "120 deg"}
FINE = {"name": "fine", "tip_angle": "60 deg", "tip_radius": "0.2 mm", "reach": "4 mm"}


def layer_of(keys: dict[str, Any], **operation: Any) -> Layer:
    """Read the only layer of a pattern without problems."""
    return layers_job(LATHE, keys, **operation).layers[0]


# Accepted keys.


def test_each_repeat_of_a_ring_has_its_positions_about_its_own_centre() -> None:
    """Three rings of four have centres at 30 mm, the first towards 90 deg, all moved by (1, 2)."""
    layer = layer_of(
        {
            **CIRCLES, "count": 4, "circle_radius": "2 mm", "offset": "5 mm", "start": "15 deg",
            "about": ["1 mm", "2 mm"], "repeat": 3, "repeat_offset": "30 mm", "repeat_start": "90 deg",
        }
    )  # fmt: skip
    assert len(layer.positions) == 12 and not layer.is_even_ring
    fifth = layer.positions[4]
    ring = complex(1, 2) + 30 * complex(math.cos(math.radians(210)), math.sin(math.radians(210)))
    place = ring + 5 * complex(math.cos(math.radians(15)), math.sin(math.radians(15)))
    assert (fifth.x_mm, fifth.y_mm) == pytest.approx((place.real, place.imag))


def test_a_spiral_has_the_angles_radii_and_depths_given_by_its_keys() -> None:
    """Three turns in 36 positions, 30 deg each. The listed depths repeat, each time slightly less."""
    layer = layer_of(
        {
            **CIRCLES, "count": 36, "spread": "1080 deg", "offset_step": "0.5 mm", "circle_radius": "3 mm",
            "circle_radius_step": "-0.05 mm", "depth": ["0.6 mm", "0.3 mm"], "depth_step": "-0.005 mm", "cut": "0.2 mm",
        }
    )  # fmt: skip
    third = layer.positions[2]
    assert third.angle_deg == 60
    assert (third.x_mm, third.y_mm) == pytest.approx((21 * math.cos(math.pi / 3), 21 * math.sin(math.pi / 3)))
    assert (third.circle_radius_mm, third.depth_mm) == pytest.approx((2.9, 0.59))
    assert (layer.depth_mm, layer.cut_mm) == (0.6, 0.2)


def test_dots_slots_and_arcs_are_read_from_the_keys_of_their_own_shape() -> None:
    """Each shape has its own keys. A list of places gives the count."""
    places = layer_of(PLACES)
    assert (places.count, places.at_mm) == (2, ((10, 0), (-3, 12.5)))
    slot = layer_of(SLOTS).positions[3]
    assert (slot.angle_deg, slot.x_mm, slot.y_mm, slot.to_offset_mm) == (90, pytest.approx(0), pytest.approx(30), 36)
    assert layer_of(ARCS).through_deg == 360
    assert layer_of({**ARCS, "through": "12°30'"}).through_deg == Fraction(25, 2)
    assert layer_of(DOTS).circle_radius_mm == 0
    layer = layer_of(
        {"at": [["10 mm", "0 mm"], ["20 mm", "0 mm"]], "circle_radius": "2 mm", "circle_radius_step": "1 mm"}
    )
    assert [position.circle_radius_mm for position in layer.positions] == [2, 3]
    assert layer_of({**SLOTS, "count": 1, "from": "10 mm", "to": "-10 mm"}).to_offset_mm == -10


def test_concentric_circles_of_growing_radius_are_accepted() -> None:
    """Five circles about the table's axis, each larger than the last, and a fan at one angle."""
    layer = layer_of({**CIRCLES, "offset": "0 mm", "circle_radius_step": "1 mm"})
    assert [position.circle_radius_mm for position in layer.positions] == [12, 13, 14, 15, 16]
    fan = layer_of({**DOTS, "spread": "0 deg", "offset_step": "1 mm"})
    assert {position.angle_deg for position in fan.positions} == {0}


def test_the_keys_of_a_pattern_operation_are_read_as_their_values() -> None:
    """The values are those of the example in the format's description."""
    job = layers_job(
        LATHE, CIRCLES, blank_diameter="90 mm", depth_dial="carriage", offset_dial="compound", offset_side="far",
        order="position", layer_order="fewest changes", **{"with": "dial"}, height_error="0.1 mm",
        eccentricity="0.02 mm", eccentric_at="90 deg", face_runout="0.05 mm", face_radius="40 mm",
        face_high_at="30 deg", correct=True,
    )  # fmt: skip
    assert job == PatternJob(
        layers=job.layers, blank_diameter_mm=90, depth_dial="carriage", offset_dial="compound", is_far=True,
        order="position", layer_order="fewest changes", height_error_mm=0.1, eccentricity_mm=0.02,
        eccentric_at_deg=90, face_runout_mm=0.05, face_radius_mm=40, face_high_at_deg=30, correct=True,
    )  # fmt: skip
    plain = layers_job(LATHE, CIRCLES, layer_order="wide first")
    assert (plain.layer_order, plain.offset_dial, plain.is_far, plain.correct) == (
        "wide first", "cross_slide", False, False,
    )  # fmt: skip


def test_a_layer_can_use_a_cutter_from_the_job_or_from_the_lathe_file() -> None:
    """A layer names its cutter unless only one exists. A cutter of the job comes before one of the lathe."""
    lathe = replace(LATHE, cutters=(Cutter("fine", 60), Cutter("round", 90, tip_radius_mm=1)))
    job = layers_job(lathe, {**CIRCLES, "cutter": "round"}, {**DOTS, "cutter": "wide"}, DOTS, cutter=[WIDE])
    assert [layer.cutter and layer.cutter.name for layer in job.layers] == ["round", "wide", "wide"]
    job = layers_job(lathe, {**CIRCLES, "cutter": "fine"}, DOTS, cutter=[FINE])
    assert job.layers[0].cutter == Cutter("fine", 60, tip_radius_mm=0.2, reach_mm=4)
    assert layers_job(replace(LATHE, cutters=(Cutter("fine", 60),)), DOTS).layers[0].cutter == Cutter("fine", 60)
    assert layers_job(lathe, DOTS).layers[0].cutter is None
    assert layers_job(LATHE, DOTS).layers[0].cutter is None


def test_the_table_is_set_exactly_where_possible_if_the_job_names_no_way_of_setting_the_table() -> None:
    """7 divides neither a dial of 2' nor a circle of 20 holes, but a circle of 21.

    Without an exact means the dial is used.
    """
    lathe = lathe_with(40, minutes=2, plates=True, direct=(24,))
    seven, twelve, odd = {**DOTS, "count": 7}, {**DOTS, "count": 12}, {**DOTS, "count": 7, "start": "0.123456 deg"}
    assert layers_job(lathe, seven).means == "plate"
    assert layers_job(lathe, twelve).means == "dial"
    assert layers_job(lathe, twelve, seven).means == "plate"
    assert layers_job(lathe, odd).means == "dial"
    assert layers_job(lathe, PLACES).means == "dial"
    assert layers_job(lathe, seven, ARCS).means == "dial"
    assert layers_job(lathe_with(40, minutes=None, plates=True, direct=(96,)), {**DOTS, "count": 96}).means == "direct"
    assert layers_job(lathe_with(40, minutes=None, direct=(24,)), twelve).means == "direct"


def test_a_run_started_by_the_first_version_still_sets_the_table_by_its_dial() -> None:
    """The first version used the dial wherever a table had one. A newer run uses its planned means."""
    table = {"ratio": 40, "dial_graduation": "2 arcmin", "plates": [[21, 23]]}
    logged = LoggedPlanInput(
        kind="pattern",
        parameters={"kind": "pattern", "name": "Lid", "layer": [{**CIRCLES, "shape": "circles", "count": 7}]},
        material=None,
        lathe={**LATHE.data, "rotary_table": table},
        lathe_name="old",
        stand_in=False,
    )
    assert parameters_of(plan_input_of(logged)).means == "plate"
    assert parameters_of(plan_input_of(replace(logged, logged_digest="1234"))).means == "dial"


# Refused values.

WRONG: list[Any] = [
    # Types, signs, texts.
    ({**CIRCLES, "shape": "stars"}, {}, "shape"),
    ({**CIRCLES, "shape": 3}, {}, "shape"),
    ({**CIRCLES, "count": "5"}, {}, "count"),
    ({**CIRCLES, "count": True}, {}, "count"),
    ({**CIRCLES, "count": -1}, {}, "count"),
    ({**CIRCLES, "offset": "NaN mm"}, {}, "offset"),
    ({**CIRCLES, "offset": "inf mm"}, {}, "offset"),
    ({**CIRCLES, "offset": "20 deg"}, {}, "offset"),
    ({**CIRCLES, "offset": "20\x1b[2J mm"}, {}, "offset"),
    ({**CIRCLES, "offset": ["20 mm"]}, {}, "offset"),
    ({**CIRCLES, "offset": {"a": 1}}, {}, "offset"),
    ({**CIRCLES, "offset": "2000 mm"}, {}, "offset"),
    ({**CIRCLES, "start": "400 deg"}, {}, "start"),
    ({**CIRCLES, "spread": "360"}, {}, "spread"),
    ({**CIRCLES, "spread": "1e9 deg"}, {}, "spread"),
    ({**CIRCLES, "spread": "0 deg"}, {}, "spread"),
    ({**CIRCLES, "count": 6, "spread": "720 deg"}, {}, "spread"),
    ({**CIRCLES, "offset": "0 mm"}, {}, "offset"),
    ({**CIRCLES, "about": "10 mm"}, {}, "about"),
    ({**CIRCLES, "about": ["10 mm"]}, {}, "about"),
    ({**CIRCLES, "about": ["10 mm", "0 mm", "0 mm"]}, {}, "about"),
    ({**CIRCLES, "about": ["10 mm", 0]}, {}, "about"),
    ({**CIRCLES, "about": ["10 mm", "9 m"]}, {}, "about"),
    ({**CIRCLES, "repeat": 0}, {}, "repeat"),
    ({**CIRCLES, "repeat": 3}, {}, "repeat_offset"),
    ({**CIRCLES, "repeat": 3, "repeat_offset": "0 mm"}, {}, "repeat_offset"),
    ({**CIRCLES, "repeat_offset": "3 mm"}, {}, "repeat_offset"),
    ({**CIRCLES, "repeat_start": "3 deg"}, {}, "repeat_start"),
    ({**CIRCLES, "count": 2000, "repeat": 11, "repeat_offset": "30 mm"}, {}, "repeat"),
    # Steps to a size of 0 or below.
    ({**CIRCLES, "circle_radius_step": "-3 mm"}, {}, "circle_radius_step"),
    ({**CIRCLES, "depth_step": "-0.15 mm"}, {}, "depth_step"),
    ({**SLOTS, "offset_step": "-3 mm"}, {}, "offset_step"),
    ({**CIRCLES, "offset_step": "x"}, {}, "offset_step"),
    ({"count": 5, "offset": "20 mm", "circle_radius": "1 mm", "depth_step": "0.1 mm"}, {}, "depth_step"),
    # Depths.
    ({**CIRCLES, "depth": []}, {}, "depth"),
    ({**CIRCLES, "depth": ["0.4 mm", "0 mm"]}, {}, "depth"),
    ({**CIRCLES, "depth": ["0.4 mm", "-1 mm"]}, {}, "depth"),
    ({**CIRCLES, "depth": ["0.4 mm", ["0.2 mm"]]}, {}, "depth"),
    ({**CIRCLES, "depth": "0.4"}, {}, "depth"),
    ({**CIRCLES, "depth": {"a": "0.4 mm"}}, {}, "depth"),
    ({**CIRCLES, "cut": "0 mm"}, {}, "cut"),
    # Skipped positions.
    ({**CIRCLES, "skip": [6]}, {}, "skip"),
    ({**CIRCLES, "skip": [1.5]}, {}, "skip"),
    ({**CIRCLES, "skip": "4"}, {}, "skip"),
    ({**CIRCLES, "skip": [[4]]}, {}, "skip"),
    ({**CIRCLES, "skip": [2, 2]}, {}, "skip"),
    ({**PLACES, "skip": [1, 2]}, {}, "skip"),
    ({**CIRCLES, "skip": list(range(30_000))}, {}, "skip"),
    # Places.
    ({**PLACES, "at": []}, {}, "at"),
    ({**PLACES, "at": "10 mm"}, {}, "at"),
    ({**PLACES, "at": ["10 mm", "0 mm"]}, {}, "at"),
    ({**PLACES, "at": [["10 mm", "0 mm", "3 mm"]]}, {}, "at"),
    ({**PLACES, "at": [["10 mm", 0]]}, {}, "at"),
    ({**PLACES, "at": [["10 mm", "NaN mm"]]}, {}, "at"),
    ({**PLACES, "at": [["10 mm", "9 m"]]}, {}, "at"),
    ({**PLACES, "at": [[["10 mm", "0 mm"], "0 mm"]]}, {}, "at"),
    ({**PLACES, "at": [["10 mm", "0 mm"], ["10.0 mm", "0 in"]]}, {}, "at"),
    ({**PLACES, "at": [["1 mm", "0 mm"]] * 20_001}, {}, "at"),
    ({**PLACES, "count": 2}, {}, "count"),
    ({**PLACES, "offset": "20 mm"}, {}, "offset"),
    ({**PLACES, "about": ["0 mm", "0 mm"]}, {}, "about"),
    ({**PLACES, "repeat": 2}, {}, "repeat"),
    # Keys of another shape.
    ({**CIRCLES, "from": "1 mm"}, {}, "from"),
    ({**CIRCLES, "through": "90 deg"}, {}, "through"),
    ({**DOTS, "circle_radius": "3 mm"}, {}, "circle_radius"),
    ({**DOTS, "circle_radius_step": "3 mm"}, {}, "circle_radius_step"),
    ({**DOTS, "touches": 3}, {}, "touches"),
    ({**SLOTS, "offset": "3 mm"}, {}, "offset"),
    ({**SLOTS, "at": [["1 mm", "0 mm"]]}, {}, "at"),
    ({**SLOTS, "about": ["0 mm", "0 mm"]}, {}, "about"),
    ({**ARCS, "to": "3 mm"}, {}, "to"),
    ({**CIRCLES, "colour": "red"}, {}, "colour"),
    ({**CIRCLES, "\x1b[2J": 1}, {}, "\ufffd[2J"),
    # Slots and arcs.
    ({**SLOTS, "to": "30 mm"}, {}, "to"),
    ({**SLOTS, "from": "-1 mm"}, {}, "from"),
    ({**ARCS, "through": "0 deg"}, {}, "through"),
    ({**ARCS, "through": "361 deg"}, {}, "through"),
    # Cutters.
    ({**CIRCLES, "cutter": "blunt"}, {"cutter": [WIDE]}, "cutter"),
    ({**CIRCLES, "cutter": "blunt"}, {}, "cutter"),
    ({**CIRCLES, "cutter": 7}, {"cutter": [WIDE]}, "cutter"),
    ({**CIRCLES, "cutter": ""}, {"cutter": [WIDE]}, "cutter"),
    (CIRCLES, {"cutter": [WIDE, FINE]}, "cutter"),
    # Out of reach.
    ({**CIRCLES, "depth": "4.5 mm"}, {"cutter": [FINE]}, "depth"),
    ({**CIRCLES, "offset": "60 mm", "circle_radius": "3 mm"}, {"blank_diameter": "90 mm"}, "offset"),
    ({**PLACES, "at": [["10 mm", "0 mm"], ["46 mm", "0 mm"]]}, {"blank_diameter": "90 mm"}, "at"),
    ({**SLOTS, "from": "46 mm", "to": "50 mm"}, {"blank_diameter": "90 mm"}, "from"),
    ({**ARCS, "offset": "46 mm"}, {"blank_diameter": "90 mm"}, "offset"),
    ({**CIRCLES, "offset": "5 mm", "circle_radius": "55 mm"}, {"blank_diameter": "90 mm"}, "offset"),
]
OPERATION_WRONG: list[Any] = [
    ({"cutter": []}, "cutter"),
    ({"cutter": WIDE}, "cutter"),
    ({"cutter": ["wide"]}, "cutter"),
    ({"cutter": [{"tip_angle": "90 deg"}]}, "name"),
    ({"cutter": [{"name": "wide"}]}, "tip_angle"),
    ({"cutter": [{**WIDE, "tip_angle": "180 deg"}]}, "tip_angle"),
    ({"cutter": [{**WIDE, "tip_angle": "-20 deg"}]}, "tip_angle"),
    ({"cutter": [{**WIDE, "tip_flat": "0.1 mm", "tip_radius": "0.1 mm"}]}, "tip_radius"),
    ({"cutter": [{**WIDE, "tip_flat": "-0.1 mm"}]}, "tip_flat"),
    ({"cutter": [{**WIDE, "reach": "0 mm"}]}, "reach"),
    ({"cutter": [{**WIDE, "colour": "red"}]}, "colour"),
    ({"cutter": [{**WIDE, "name": "\x1b[2J" * 100}]}, "name"),
    ({"offset_dial": "quill"}, "offset_dial"),
    ({"offset_dial": "boring_head"}, "offset_dial"),
    ({"offset_dial": "carriage"}, "offset_dial"),
    ({"offset_dial": "cross_slide", "depth_dial": "cross_slide"}, "offset_dial"),
    ({"offset_side": "left"}, "offset_side"),
    ({"layer_order": "best"}, "layer_order"),
    ({"order": "best"}, "order"),
    ({"with": "plate"}, "with"),
    ({"correct": "yes"}, "correct"),
    ({"correct": 1}, "correct"),
    ({"height_error": "500 mm"}, "height_error"),
    ({"eccentricity": "-1 mm", "eccentric_at": "0 deg"}, "eccentricity"),
    ({"eccentricity": "1 mm"}, "eccentric_at"),
    ({"eccentric_at": "10 deg"}, "eccentric_at"),
    ({"eccentricity": "1 mm", "eccentric_at": "10 mm"}, "eccentric_at"),
    ({"face_high_at": "10 deg"}, "face_high_at"),
    ({"face_radius": "10 mm"}, "face_radius"),
    ({"face_runout": "-0.1 mm"}, "face_runout"),
    ({"blank_diameter": "-9 mm"}, "blank_diameter"),
]


def is_a_sentence(message: str) -> bool:
    """Return whether a message is a complete sentence that can be shown unchanged."""
    return message.isprintable() and message.endswith((".", "?")) and len(message) < 600


@pytest.mark.parametrize(("layer", "operation", "key"), WRONG)
def test_an_invalid_value_in_a_layer_gets_one_sentence_next_to_its_key(
    layer: dict[str, Any], operation: dict[str, Any], key: str
) -> None:
    """The problem's place names the layer."""
    job, problems = layers_problems(
        LATHE,
        DOTS if "cutter" not in operation else {**DOTS, "cutter": operation["cutter"][0]["name"]},
        layer,
        **operation,
    )
    assert job is None and [problem.key for problem in problems] == [key]
    assert problems[0].where == "job, layer 2"
    assert is_a_sentence(problems[0].message)


@pytest.mark.parametrize(("operation", "key"), OPERATION_WRONG)
def test_an_invalid_value_in_a_pattern_operation_gets_one_sentence_next_to_its_key(
    operation: dict[str, Any], key: str
) -> None:
    """The sentence is beside its key, or beside its cutter's key."""
    job, problems = layers_problems(LATHE, CIRCLES, **operation)
    assert job is None and [problem.key for problem in problems] == [key]
    assert is_a_sentence(problems[0].message)


def test_all_errors_of_a_pattern_are_reported_together() -> None:
    """Two layers have two errors each, a cutter has one, and the operation has one."""
    _, problems = layers_problems(
        LATHE,
        {**CIRCLES, "count": 0, "depth": "0 mm", "cutter": "wide"},
        {**SLOTS, "from": "x", "at": []},
        cutter=[{**WIDE, "tip_angle": "0 deg"}],
        order="best",
    )
    assert {(problem.where, problem.key) for problem in problems} == {
        ("job, layer 1", "count"), ("job, layer 1", "depth"), ("job, layer 2", "from"), ("job, layer 2", "at"),
        ("job, cutter", "tip_angle"), ("job", "order"),
    }  # fmt: skip


def test_two_cutters_with_the_same_name_are_refused() -> None:
    """The message names the second cutter. Thirteen layers are one too many."""
    _, problems = layers_problems(LATHE, {**DOTS, "cutter": "wide"}, cutter=[WIDE, {**FINE, "name": "wide"}])
    assert [(problem.where, problem.key) for problem in problems] == [("job, cutter 2", "name")]
    _, problems = layers_problems(LATHE, *13 * [DOTS])
    assert [problem.key for problem in problems] == ["layer"]
    many = {**DOTS, "count": 1999, "repeat": 9, "repeat_offset": "20 mm"}
    _, problems = layers_problems(LATHE, many, many)
    assert [problem.key for problem in problems] == ["layer"] and "20000" in problems[0].message


def test_places_and_radii_beyond_the_lathes_limits_are_refused() -> None:
    """The slide has 30 mm, the head 3 to 25 mm. The limits themselves are accepted."""
    slide = replace(LATHE.dials["cross_slide"], slide_travel_mm=30)
    head = replace(HEAD, least_radius_mm=3, most_radius_mm=25)
    lathe = replace(LATHE, dials={**LATHE.dials, "cross_slide": slide, "boring_head": head})
    for keys, key, numbers in (
        ({**DOTS, "offset": "31 mm"}, "offset", {"1", "31", "30"}),
        ({**DOTS, "offset": "20 mm", "offset_step": "1 mm"}, "offset", {"12", "31", "30"}),
        ({"shape": "dots", "at": [["10 mm", "0 mm"], ["24 mm", "32 mm"]]}, "at", {"2", "40", "30"}),
        ({**SLOTS, "from": "10 mm", "to": "-21 mm"}, "to", {"1", "31", "30"}),
        ({**CIRCLES, "circle_radius": "2.9 mm"}, "circle_radius", {"1", "2.9", "3"}),
        ({**CIRCLES, "circle_radius": "25.1 mm"}, "circle_radius", {"25.1", "25"}),
        ({**CIRCLES, "circle_radius": "24 mm", "circle_radius_step": "0.5 mm"}, "circle_radius", {"4", "25.5", "25"}),
        ({"count": 36, "offset": "20 mm", "meet": "points"}, "meet", {"1", "1.743", "3"}),
    ):
        _, problems = layers_problems(lathe, keys)
        assert [problem.key for problem in problems] == [key] and figures(problems[0].message) >= numbers
    assert layers_job(lathe, {**CIRCLES, "offset": "30 mm", "circle_radius": "25 mm"}).layers
    assert layers_job(lathe, {**CIRCLES, "circle_radius": "3 mm"}).layers
    skipped = {"shape": "dots", "at": [["10 mm", "0 mm"], ["24 mm", "32 mm"]], "skip": [2]}
    assert layers_job(lathe, skipped).layers


def test_a_layer_partly_off_the_blank_is_accepted() -> None:
    """One circle's tip line still crosses the rim, and half a groove is on the blank."""
    assert layers_job(LATHE, {**CIRCLES, "offset": "45 mm"}, blank_diameter="90 mm")
    edge = {**DOTS, "offset": "45.4 mm"}
    assert layers_job(LATHE, edge, blank_diameter="90 mm", tip_angle="90 deg")
    _, problems = layers_problems(LATHE, edge, blank_diameter="90 mm")
    assert [problem.key for problem in problems] == ["offset"]


def test_arcs_are_refused_unless_the_table_is_set_by_the_dial_of_its_handle() -> None:
    """A table without that dial, and setting by holes or notches, cannot feed an arc. The message says what can."""
    plates = lathe_with(40, minutes=None, plates=True)
    _, problems = layers_problems(plates, ARCS)
    assert [(problem.where, problem.key) for problem in problems] == [("job, layer 1", "shape")]
    assert "offset 0" in problems[0].message
    both = lathe_with(40, minutes=2, plates=True)
    _, problems = layers_problems(both, ARCS, **{"with": "plate"})
    assert [problem.key for problem in problems] == ["shape"] and "dial" in problems[0].message
    assert layers_job(both, ARCS).means == "dial"


# Random values.

NESTED = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20) | st.sampled_from(
        ("20 mm", "-1 mm", "0 mm", "90 deg", "circles", "dots", "slots", "arcs", "points", "wide", "near", "360 deg")
    ),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from(("name", "count")), inner, max_size=3),
    max_leaves=8,
)  # fmt: skip
LAYER_KEYS = sorted({*CIRCLES, *PLACES, *SLOTS, *ARCS, "cut", "skip", "spread", "start", "about", "repeat", "cutter",
                     "repeat_offset", "repeat_start", "offset_step", "circle_radius_step", "depth_step", "meet", "land",
                     "overlap", "touches", "inner", "outer", "inner_edge", "outer_edge"})  # fmt: skip
OPERATION_KEYS = ("layer", "cutter", "with", "order", "layer_order", "offset_dial", "offset_side", "depth_dial",
                  "blank_diameter", "height_error", "eccentricity", "eccentric_at", "face_runout", "face_radius",
                  "face_high_at", "correct")  # fmt: skip


@settings(deadline=None, max_examples=30)
@given(st.lists(st.sampled_from((CIRCLES, DOTS, PLACES, SLOTS, ARCS)), min_size=1, max_size=3), st.data())
def test_no_invalid_value_in_a_pattern_raises_an_exception(layers: list[dict[str, Any]], data: Any) -> None:
    """Any value in any place gives printable problems or a job, never an exception."""
    read = [
        {**layer, **data.draw(st.dictionaries(st.sampled_from(LAYER_KEYS), NESTED, max_size=3))} for layer in layers
    ]
    operation = data.draw(st.dictionaries(st.sampled_from(OPERATION_KEYS), NESTED, max_size=3))
    problems: list[Problem] = []
    shaped = [{"shape": "circles", **layer} for layer in read]
    job = read_pattern(Table({"layer": shaped, **operation}, "job", problems), LATHE)
    assert (job is None) == bool(problems)
    assert all(is_a_sentence(problem.message) and problem.key.isprintable() for problem in problems)
    if job is not None:
        assert all(math.isfinite(position.x_mm) for layer in job.layers for position in layer.positions)


def test_one_invalid_key_is_reported_as_exactly_one_problem() -> None:
    """A wrong `repeat` causes no second problem, and the message quotes a list as in the file."""
    _, problems = layers_problems(LATHE, {**DOTS, "repeat": 0, "repeat_offset": "9 mm"})
    assert [problem.key for problem in problems] == ["repeat"]
    _, problems = layers_problems(LATHE, {**DOTS, "about": ["5 mm"]})
    assert problems[0].message.startswith('["5 mm"] is not two lengths')
    _, problems = layers_problems(LATHE, {**DOTS, "depth": "0.01 mm"})
    assert [(problem.key, "layer 1" in problem.where) for problem in problems] == [("depth", True)]
    lathe = lathe_with(head=False)
    _, problems = layers_problems(lathe, {**CIRCLES, "circle_radius_step": "0.5 mm"})
    assert [(problem.key, "layer 1" in problem.where) for problem in problems] == [("circle_radius_step", True)]


def test_an_impossible_size_at_a_skipped_position_is_accepted() -> None:
    """From the fifth circle on the size falls to nothing, but these positions are skipped."""
    keys = {**CIRCLES, "count": 6, "circle_radius": "8 mm", "circle_radius_step": "-2 mm"}
    assert layers_job(LATHE, {**keys, "skip": [5, 6]}).layers
    _, problems = layers_problems(LATHE, {**keys, "skip": [6]})
    assert [problem.key for problem in problems] == ["circle_radius_step"] and "5" in figures(problems[0].message)


@pytest.mark.parametrize(("keys", "key"), [
    ({"count": 3, "offset": "20 mm", "through": "360 deg"}, "offset"),
    ({"count": 1, "offset": "0 mm", "through": "90 deg"}, "offset"),
])  # fmt: skip
def test_arcs_that_coincide_or_have_no_length_are_refused(keys: dict[str, Any], key: str) -> None:
    """Three full turns at one offset are the same groove. An arc at the axis is a dot."""
    _, problems = layers_problems(LATHE, {"shape": "arcs", "depth": "0.3 mm", **keys})
    assert [problem.key for problem in problems] == [key]
    assert layers_job(LATHE, {"shape": "arcs", "depth": "0.3 mm", "count": 3, "offset": "20 mm", "through": "60 deg"})
