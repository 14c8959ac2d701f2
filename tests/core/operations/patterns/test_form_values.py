"""Values for the empty field, positions skipped by rule, and errors in words match plain geometry."""

import math
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from core.operations.patterns.effects import SetUpErrors, read_errors, set_up_effects
from core.operations.patterns.form_values import open_field_answer, read_skip
from core.values.errors import PlanError
from core.values.fields import Problem, Table
from core.values.quantities import length_mm
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import lathe_with, layers_job, pattern_keys

LATHE = lathe_with()


def neighbours_mm(count: int, offset: float, height: float) -> float:
    """Return the distance between neighbouring centres, by numpy [mm]."""
    first, second = abs(complex(offset, height)) * np.exp(2j * np.pi * np.arange(2) / count)
    return float(abs(second - first))


@settings(deadline=None, max_examples=60)
@given(st.integers(2, 120), st.floats(5, 80), st.floats(-2, 2))
def test_the_form_suggests_the_radius_or_offset_at_which_neighbouring_circles_touch(
    count: int, offset: float, height: float
) -> None:
    """Neighbours are apart by no more than the rounding of the suggested text, and never cross."""
    offset, height = round(offset, 3), round(height, 3)
    operation = {"height_error": f"{height} mm"}
    found = open_field_answer("points", {"count": count, "offset": f"{offset} mm"}, operation)
    assert found is not None and found.key == "circle_radius"
    radius = length_mm(found.text)
    assume(radius > 0.01)
    assert -1e-9 <= neighbours_mm(count, offset, height) - 2 * radius <= 2.001e-4
    back = open_field_answer("points", {"count": count, "circle_radius": found.text}, operation)
    assert back is not None and back.key == "offset"
    apart = neighbours_mm(count, length_mm(back.text), height)
    rounding = 2.001e-4 * math.sin(math.pi / count)
    # A height error reduces the effect of rounding the slide, and never enlarges it.
    assert -1e-9 <= apart - 2 * radius <= rounding


@settings(deadline=None, max_examples=60)
@given(st.floats(5, 60), st.floats(0.3, 5), st.floats(0.1, 1), st.sampled_from(("points", "grooves")))
def test_the_suggested_count_is_the_largest_at_which_the_circles_do_not_overlap(
    offset: float, radius: float, depth: float, meeting: str
) -> None:
    """The suggested count has room and one more circle has not, by tip lines or by groove edges."""
    offset, radius, depth = round(offset, 2), round(radius, 2), round(depth, 2)
    layer = {"offset": f"{offset} mm", "circle_radius": f"{radius} mm", "depth": f"{depth} mm"}
    wide = 2 * radius + (2 * depth * math.tan(math.radians(30)) if meeting == "grooves" else 0)
    assume(wide < 1.9 * offset and math.pi / math.asin(wide / 2 / offset) < 350)
    found = open_field_answer(meeting, layer, pattern_keys(tip_angle="60 deg"))  # type: ignore[arg-type]
    assert found is not None and found.key == "count"
    count = int(found.text)
    assert neighbours_mm(count, offset, 0) >= wide - 1e-6
    assert neighbours_mm(count + 1, offset, 0) < wide + 1e-6


def test_the_form_suggests_the_radius_or_offset_of_circles_through_the_centre() -> None:
    """Radius and offset are equal. With a table 3 mm too high, a distance of 5 mm needs the slide at 4 mm."""
    found = open_field_answer("centre", {"count": 6, "circle_radius": "5 mm"}, {"height_error": "3 mm"})
    assert found is not None and (found.key, found.text) == ("offset", "4 mm")
    found = open_field_answer("centre", {"count": 6, "offset": "4 mm"}, {"height_error": "-3 mm"})
    assert found is not None and (found.key, found.text) == ("circle_radius", "5 mm")
    assert open_field_answer("centre", {"offset": "4 mm", "circle_radius": "4 mm"}, {}) is None


def test_suggested_sizes_are_in_inches_on_an_inch_lathe() -> None:
    """Six circles at an inch: half an inch (a hexagon's side is its radius)."""
    found = open_field_answer("points", {"count": 6, "offset": "1 in"}, {}, "in")
    assert found is not None and (found.text, found.note) == ("0.5 in", "1.0000 in across")


@pytest.mark.parametrize(
    "layer",
    [
        {"count": 36},
        {"count": 36, "offset": "20 mm", "circle_radius": "3 mm"},
        {"count": 0, "offset": "20 mm"},
        {"count": 36, "offset": "20"},
        {"count": 36, "offset": "0 mm"},
    ],
)
def test_missing_or_invalid_values_give_no_suggestion(layer: dict[str, Any]) -> None:
    """Two empty fields, no empty field or one invalid field give neither an answer nor an error."""
    assert open_field_answer("points", layer, {}) is None


@pytest.mark.parametrize(
    ("meeting", "layer", "operation", "wanted"),
    [
        ("points", {"count": 1, "offset": "9 mm"}, {}, ["2"]),
        ("points", {"offset": "9 mm", "circle_radius": "9.5 mm"}, {}, ["9.5", "9"]),
        ("points", {"offset": "90 mm", "circle_radius": "0.1 mm"}, {}, ["2000"]),
        ("grooves", {"count": 36, "offset": "20 mm"}, {}, []),
        (
            "grooves",
            {"count": 36, "offset": "20 mm", "depth": "2 mm"},
            pattern_keys(tip_angle="90 deg"),
            ["22.947"],
        ),
        ("centre", {"count": 3, "circle_radius": "2 mm"}, {"height_error": "2.5 mm"}, ["2.5"]),
    ],
)
def test_the_request_to_suggest_a_size_for_an_impossible_layer_is_refused(
    meeting: str, layer: dict[str, Any], operation: dict[str, Any], wanted: list[str]
) -> None:
    """The sentence names the condition that fails, and a value that would satisfy it."""
    with pytest.raises(PlanError) as refused:
        open_field_answer(meeting, layer, operation)  # type: ignore[arg-type]
    assert figures(refused.value.message) >= set(wanted)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("4", {4}),
        ("4, 8,12", {4, 8, 12}),
        ("2 5 - 7", {2, 5, 6, 7}),
        ("every 4th", {4, 8, 12}),
        ("every 3 from 1", {1, 4, 7, 10}),
        ("Every 2nd", {2, 4, 6, 8, 10, 12}),
        ("3 cut, 1 left", {4, 8, 12}),
        ("2 cut 4 left out", {3, 4, 5, 6, 9, 10, 11, 12}),
    ],
)
def test_skipped_positions_can_be_entered_as_numbers_ranges_or_rules(text: str, found: set[int]) -> None:
    """Entries are numbers, ranges, every n-th position, and groups, of twelve positions."""
    assert set(read_skip(text, 12)) == found


@pytest.mark.parametrize(
    "text", ["four", "4;", "every", "every 13th", "7-5", "9-13", "0 cut 2 left", "4, , 5", "1e3", "-4"]
)
def test_the_refusal_of_an_invalid_skip_entry_shows_valid_entries(text: str) -> None:
    """The refusal shows entries that are valid."""
    with pytest.raises(PlanError):
        read_skip(text, 12)


LAYER = {"count": 12, "offset": "50 mm", "circle_radius": "10 mm", "depth": "0.5 mm"}


def test_the_effects_of_set_up_errors_match_hand_calculation() -> None:
    """Errors of 0.2 mm in height, face and rim, a minute of arc and 0.2 deg of tilt, by hand from right triangles."""
    job = layers_job(LATHE, LAYER, {**LAYER, "offset": "25 mm"}, tip_angle="120 deg", height_error="0.2 mm")
    errors = SetUpErrors(face_tir_mm=0.2, table_tir_mm=0.2, position_deg=Fraction(1, 60), tilt_deg=0.2)
    found = [figures(f"{effect.amount}; {effect.meaning}") for effect in set_up_effects(job, errors, LATHE)]
    turned = [math.degrees(math.atan2(0.2, offset)) for offset in (50, 25)]
    height_1, height_2, between, face, _, rim, position, _, tilt, _ = found
    assert f"{turned[0]:.3f}" in height_1 and f"{turned[1]:.3f}" in height_2
    assert {f"{turned[1] - turned[0]:.3f}", f"{math.radians(turned[1] - turned[0]) * 25:.1f}"} == between
    # 0.5 mm deep at the touch-off, and 0.2 mm less where the face is lowest, with tan 60 deg on either side.
    wide = 2 * math.tan(math.radians(60))
    assert {f"{0.3 * wide:.3f}", f"{0.5 * wide:.3f}"} <= face
    assert rim == {"0.1", "0.2"}
    assert position == {"0.015", "0.014"}
    assert f"{20 * math.sin(math.radians(0.2)):.2f}" in tilt


def test_a_cut_shallower_than_the_face_runout_leaves_part_of_the_face_uncut() -> None:
    """A depth of 0.5 mm on a face with a runout of 0.6 mm at the layer's radius of 60 mm, or 0.3 mm at 30 mm."""
    job = layers_job(LATHE, LAYER, tip_angle="90 deg")
    for errors, cause in (
        (SetUpErrors(face_tir_mm=0.6), "Face 0.6 mm"),
        (SetUpErrors(face_tir_mm=0.3, face_radius_mm=30), "Face 0.3 mm"),
    ):
        (effect,) = [effect for effect in set_up_effects(job, errors, LATHE) if effect.cause.startswith(cause)]
        assert not figures(effect.amount) and figures(effect.meaning) == {"0.6", "0.5"}
    read = read_errors(Table({"face_runout": "0.3 mm", "face_radius": "30 mm"}, "", []))
    assert (read.face_tir_mm, read.face_radius_mm) == (0.3, 30)


def test_a_circle_at_offset_0_is_eccentric_by_the_whole_height_error() -> None:
    """At offset 0 the table's axis is away from the spindle's by the height error alone."""
    job = layers_job(LATHE, {"count": 1, "offset": "0 mm", "circle_radius": "4 mm"}, height_error="-0.3 mm")
    effect = next(iter(set_up_effects(job, SetUpErrors(), LATHE)))
    assert figures(effect.amount) == {"0.3"}


def test_a_set_up_error_that_is_not_entered_gets_its_usual_value() -> None:
    """An entered error counts. An empty or invalid field gets the usual error."""
    problems: list[Problem] = []
    found = read_errors(Table({"face_runout": "0.1 mm", "tilt": "0.5", "position_error": "3 arcmin"}, "", problems))
    assert (found.face_tir_mm, found.position_deg) == (0.1, Fraction(1, 20))
    assert (found.table_tir_mm, found.tilt_deg) == (0.05, 0.1)
    assert [problem.key for problem in problems] == ["tilt"]
    usual = read_errors(Table({}, "", []))
    assert (usual.face_tir_mm, usual.position_deg) == (0.05, Fraction(1, 60))
