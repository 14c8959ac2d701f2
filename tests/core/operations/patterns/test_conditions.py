"""Sizes calculated from conditions match distances between points calculated by numpy."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from core.lathe.lathe import Cutter
from core.operations.patterns.layers import Layer
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import lathe_with, layers_job, layers_problems

LATHE = lathe_with()
CUTTER = {"tip_angle": "90 deg"}
KEYS = ("count", "offset", "circle_radius")


def layer_of(keys: dict[str, Any], **operation: Any) -> Layer:
    """Read a layer without problems, cut with a 90 deg point."""
    return layers_job(LATHE, keys, **CUTTER, **operation).layers[0]


def refusal(keys: dict[str, Any], **operation: Any) -> tuple[str, str]:
    """Return the key and message of the only problem of a layer."""
    _, problems = layers_problems(LATHE, keys, **CUTTER, **operation)
    (problem,) = problems
    return problem.key, problem.message


def centres(count: int, offset_mm: float, height_mm: float = 0.0) -> Any:
    """Return the centres as complex numbers: slide and height error as one vector, turned to each angle."""
    return complex(offset_mm, -height_mm) * np.exp(2j * np.pi * np.arange(count) / count)


def seen(count: int, offset_mm: float, radius_mm: float, width_mm: float, apart: int, height_mm: float) -> Any:
    """Return the value of each condition, measured on the centres."""
    places = centres(count, offset_mm, height_mm)
    far = abs(places[0])
    return {
        "points": abs(places[1] - places[0]) - 2 * radius_mm,
        "grooves": abs(places[1] - places[0]) - 2 * radius_mm - width_mm,
        "overlap": 2 * radius_mm - abs(places[1] - places[0]),
        "land": abs(places[1] - places[0]) - 2 * radius_mm - width_mm,
        "touches": abs(places[apart % count] - places[0]) - 2 * radius_mm,
        "inner": abs(far - radius_mm),
        "outer": far + radius_mm,
        "inner_edge": abs(far - radius_mm) - width_mm / 2,
        "outer_edge": far + radius_mm + width_mm / 2,
    }


# Sizes calculated by hand.

SIX = {"count": 6, "depth": "0.5 mm"}
"""Six circles at 20 mm: neighbours are 20 mm apart, and a groove of 90 deg and 0.5 mm is 1 mm wide."""


@pytest.mark.parametrize(
    ("keys", "wanted"),
    [
        ({"offset": "20 mm", "meet": "points"}, 10.0),
        ({"offset": "20 mm", "meet": "grooves"}, 9.5),
        ({"offset": "20 mm", "overlap": "1.5 mm"}, 10.75),
        ({"offset": "20 mm", "land": "0.5 mm"}, 9.25),
        # Every second of six lies 20 x sqrt 3 from the first, every third 40 mm.
        ({"offset": "20 mm", "touches": 2}, 10 * math.sqrt(3)),
        ({"offset": "20 mm", "touches": 3}, 20.0),
        ({"offset": "20 mm", "outer": "29 mm"}, 9.0),
        ({"offset": "20 mm", "outer_edge": "29 mm"}, 8.5),
        # Of 8 and 32 mm, the solution has the offset that is not below the radius.
        ({"offset": "20 mm", "inner": "12 mm"}, 8.0),
        ({"offset": "20 mm", "inner_edge": "12 mm"}, 7.5),
        ({"offset": "20 mm", "inner": "0 mm"}, 20.0),
        # Only a circle round the axis leaves that much free space at the axis.
        ({"offset": "20 mm", "inner": "25 mm"}, 45.0),
    ],
)
def test_one_condition_determines_the_missing_circle_radius(keys: dict[str, Any], wanted: float) -> None:
    """One condition gives the missing circle radius."""
    assert layer_of({**SIX, **keys}).circle_radius_mm == pytest.approx(wanted, abs=1e-12)


@pytest.mark.parametrize(
    ("keys", "wanted"),
    [
        ({"circle_radius": "10 mm", "meet": "points"}, 20.0),
        ({"circle_radius": "9.5 mm", "meet": "grooves"}, 20.0),
        ({"circle_radius": "20 mm", "touches": 3}, 20.0),
        ({"circle_radius": "10 mm", "inner": "4 mm"}, 14.0),
        ({"circle_radius": "10 mm", "outer": "30 mm"}, 20.0),
        ({"circle_radius": "10 mm", "outer": "30 mm", "count": 1}, 20.0),
    ],
)
def test_one_condition_determines_the_missing_offset(keys: dict[str, Any], wanted: float) -> None:
    """One condition gives the missing offset."""
    assert layer_of({**SIX, **keys}).offset_mm == pytest.approx(wanted, abs=1e-12)


@pytest.mark.parametrize(
    ("keys", "wanted"),
    [
        ({"offset": "20 mm", "circle_radius": "10 mm", "meet": "points"}, 6),
        ({"offset": "20 mm", "circle_radius": "9.5 mm", "meet": "grooves", "depth": "0.5 mm"}, 6),
        ({"offset": "20 mm", "circle_radius": "20 mm", "touches": 2}, 4),
        ({"offset": "20 mm", "circle_radius": "9.25 mm", "land": "0.5 mm", "depth": "0.5 mm"}, 6),
        # 3-4-5: the half spacing of four circles at 5 x sqrt 2 is 5; within 1e-6 mm the count is whole.
        ({"offset": "7.071068 mm", "circle_radius": "5 mm", "meet": "points"}, 4),
    ],
)
def test_one_condition_determines_the_missing_number_of_circles(keys: dict[str, Any], wanted: int) -> None:
    """One condition gives the missing count."""
    assert layer_of(keys).count == wanted


def test_two_conditions_determine_two_missing_sizes() -> None:
    """Circles between 8 and 32 mm have a radius of 12 mm at 20 mm.

    Six that meet and reach 30 mm match the hand result.
    """
    layer = layer_of({"count": 5, "inner": "8 mm", "outer": "32 mm"})
    assert (layer.offset_mm, layer.circle_radius_mm, layer.condition) == (20, 12, "inner and outer")
    layer = layer_of({"count": 6, "meet": "points", "outer": "30 mm"})
    assert (layer.offset_mm, layer.circle_radius_mm) == pytest.approx((20, 10))
    layer = layer_of({"offset": "20 mm", "meet": "points", "outer": "30 mm"})
    assert (layer.count, layer.circle_radius_mm) == (6, 10)
    layer = layer_of({"circle_radius": "20 mm", "meet": "points", "inner": "20 mm"})
    assert (layer.count, layer.offset_mm) == (6, 40)


def test_conditions_use_the_groove_width_at_the_greatest_depth_actually_cut_in_the_layer() -> None:
    """At 90 deg a depth of 0.5 mm is 1 mm wide, 0.25 mm half of it. Six circles at 20 mm have grooves that meet."""
    keys = {"count": 6, "offset": "20 mm", "meet": "grooves"}
    assert layer_of({**keys, "depth": ["0.25 mm", "0.5 mm"]}).circle_radius_mm == pytest.approx(9.5)
    skipped = layer_of({**keys, "depth": ["0.25 mm", "0.5 mm"], "skip": [2, 4, 6]})
    assert skipped.circle_radius_mm == pytest.approx(9.75) and skipped.groove_width_mm == pytest.approx(0.5)
    assert layer_of({**keys, "depth": 6 * ["0.25 mm"] + ["9 mm"]}).circle_radius_mm == pytest.approx(9.75)


def test_a_condition_on_groove_widths_is_refused_if_the_layer_names_no_cutter() -> None:
    """The lathe has two cutters, and the layer names neither."""
    lathe = replace(LATHE, cutters=(Cutter("wide", 90), Cutter("fine", 60)))
    keys = {"count": 6, "offset": "20 mm", "meet": "grooves", "depth": "0.5 mm"}
    _, problems = layers_problems(lathe, keys)
    assert [problem.key for problem in problems] == ["cutter"] and '"fine"' in problems[0].message
    assert layers_job(lathe, {**keys, "cutter": "wide"}).layers[0].circle_radius_mm == pytest.approx(9.5)
    assert layers_job(lathe, {**keys, "meet": "points"}).layers[0].circle_radius_mm == pytest.approx(10)


def test_the_note_on_a_condition_gives_the_sizes_of_a_second_ring_that_satisfies_the_condition() -> None:
    """A radius of 8 mm leaves 12 mm free at the axis, and so does 32 mm. A condition with one solution has no note."""
    assert figures(layer_of({**SIX, "offset": "20 mm", "inner": "12 mm"}).condition_note) == {"32"}
    note = layer_of({"count": 5, "inner": "8 mm", "outer": "32 mm"}).condition_note
    assert figures(note) == {"12", "20"} and "an offset of 12 mm and a circle radius of 20 mm" in note
    assert layer_of({**SIX, "offset": "20 mm", "meet": "points"}).condition_note == ""
    assert layer_of({**SIX, "offset": "20 mm", "inner": "0 mm"}).condition_note == ""


def test_conditions_allow_for_a_height_error_unless_the_error_is_corrected() -> None:
    """A slide at 4 mm and a height error of 3 mm give a true distance of 5 mm."""
    keys = {"count": 6, "meet": "points"}
    assert layer_of({**keys, "offset": "4 mm"}, height_error="-3 mm").circle_radius_mm == pytest.approx(2.5)
    assert layer_of({**keys, "circle_radius": "2.5 mm"}, height_error="3 mm").offset_mm == pytest.approx(4)
    corrected = layer_of({**keys, "offset": "4 mm"}, height_error="-3 mm", correct=True)
    assert corrected.circle_radius_mm == pytest.approx(2)
    elsewhere = layer_of({**keys, "offset": "4 mm", "about": ["30 mm", "0 mm"]}, height_error="-3 mm")
    assert elsewhere.circle_radius_mm == pytest.approx(2)


BETWEEN: list[dict[str, Any]] = [
    {"offset": "20 mm", "circle_radius": "12 mm", "meet": "points"},
    {"offset": "20 mm", "circle_radius": "10 mm", "depth": "0.5 mm", "land": "1 mm"},
    {"offset": "20 mm", "circle_radius": "10 mm", "overlap": "1 mm"},
    {"offset": "20 mm", "circle_radius": "10 mm", "depth": "0.5 mm", "meet": "grooves"},
    {"offset": "20 mm", "circle_radius": "12 mm", "touches": 2},
    {"offset": "20 mm", "meet": "points", "outer": "29 mm"},
]


def test_the_refusal_of_a_fractional_count_gives_the_whole_counts_below_and_above() -> None:
    """Circles of 12 mm at 20 mm: 180 / asin 0.6 = 4.882. Four centres are 28.284 mm apart, five 23.511 mm."""
    key, message = refusal(BETWEEN[0])
    assert key == "meet" and figures(message) >= {"4.882", "4", "5", "4.284", "0.489"}
    key, message = refusal(BETWEEN[1])
    # Five circles leave 23.511 - 20 - 1 mm of land. Six leave none, and cross by 1 mm.
    assert key == "land" and figures(message) >= {"5", "6", "2.511", "1"}
    # Six just touch at 10 mm, seven are 17.355 mm apart: 2.645 mm of overlap.
    key, message = refusal(BETWEEN[2])
    assert key == "overlap" and figures(message) >= {"6", "7", "2.645"}
    assert [refusal(keys)[0] for keys in BETWEEN[3:]] == ["meet", "touches", "meet"]


# Round trips.


@settings(deadline=None, max_examples=50)
@given(
    st.integers(2, 60),
    st.floats(1, 80),
    st.floats(0.5, 80),
    st.floats(-2, 2),
    st.sampled_from(("points", "grooves", "overlap", "land", "touches", "inner", "outer", "inner_edge", "outer_edge")),
    st.sampled_from(("offset", "circle_radius")),
    st.data(),
)
def test_a_size_calculated_from_a_condition_satisfies_the_condition(
    count: int, offset: float, radius: float, height: float, key: str, missing: str, data: Any
) -> None:
    """A measured property of a ring replaces its offset or radius. The solved ring has the same property to 1e-9 mm."""
    offset, radius, height = round(offset, 3), round(radius, 3), round(height, 3)
    apart = data.draw(st.integers(1, count // 2)) if key == "touches" else 1
    wanted = round(float(seen(count, offset, radius, 1.0, apart, height)[key]), 3)
    assume(key not in {"land", "inner", "inner_edge"} or wanted >= 0)
    keys: dict[str, Any] = {
        "count": count,
        "offset": f"{offset} mm",
        "circle_radius": f"{radius} mm",
        "depth": "0.5 mm",
    }
    del keys[missing]
    if key in {"points", "grooves"}:
        keys["meet"], wanted = key, 0.0
    elif key == "touches":
        keys["touches"], wanted = apart, 0.0
    else:
        keys[key] = f"{wanted} mm"
    job, problems = layers_problems(LATHE, keys, **CUTTER, height_error=f"{height} mm")
    if job is None:
        assert len(problems) == 1 and problems[0].message.endswith(".")
        assume(False)
        return
    layer = job.layers[0]
    shown = seen(layer.count, layer.offset_mm, layer.circle_radius_mm, 1.0, apart, height)[key]
    assert shown == pytest.approx(wanted, abs=1e-9)
    assert layer.circle_radius_mm > 0 and layer.offset_mm >= 0


ENVELOPES = ("inner", "outer", "inner_edge", "outer_edge")
NEXT = ("meet", "overlap", "land")


@settings(deadline=None, max_examples=50)
@given(
    st.integers(4, 40),
    st.integers(5_000, 60_000),
    st.floats(0.1, 0.9),
    st.sampled_from(NEXT),
    st.sampled_from((*ENVELOPES, "touches")),
    st.data(),
)
def test_sizes_calculated_from_two_conditions_satisfy_both_conditions(
    count: int, offset_um: int, part: float, one: str, other: str, data: Any
) -> None:
    """One condition is about neighbours, one about the envelope or further circles.

    The ring satisfies both to 1e-9 mm.
    """
    apart = data.draw(st.integers(2, count // 2)) if other == "touches" else 1
    offset = offset_um / 1000
    radius = round(offset * math.sin(apart * math.pi / count) if other == "touches" else offset * part, 6)
    shown = seen(count, offset, radius, 1.0, apart, 0.0)
    keys: dict[str, Any] = {"count": count, "depth": "0.5 mm"}
    for key in (one, other):
        if key == "meet":
            keys["meet"] = "points"
        elif key == "touches":
            keys["touches"] = apart
        else:
            keys[key] = f"{float(shown[key]):.6f} mm"
    job, problems = layers_problems(LATHE, keys, **CUTTER)
    if job is None:
        assert problems and all(problem.message.endswith(".") for problem in problems)
        assume(False)
        return
    layer = job.layers[0]
    found = seen(layer.count, layer.offset_mm, layer.circle_radius_mm, 1.0, apart, 0.0)
    for key in (one, other):
        wanted = 0.0 if key in {"meet", "touches"} else float(f"{float(shown[key]):.6f}")
        assert found["points" if key == "meet" else key] == pytest.approx(wanted, abs=1e-9)


@settings(deadline=None, max_examples=50)
@given(st.integers(4, 60), st.integers(5_000, 60_000), st.sampled_from(("offset", "circle_radius")), st.data())
def test_two_conditions_calculated_from_a_known_ring_give_back_the_number_of_circles(
    count: int, offset_um: int, known: str, data: Any
) -> None:
    """Circles touch some positions further on and overlap their neighbours. Both conditions give count and radius back.

    The lengths have nine decimals, the finest that the reader keeps. If two counts fit, either satisfies both.
    """
    apart = data.draw(st.integers(2, count // 2))
    offset = offset_um / 1000
    radius = offset * math.sin(apart * math.pi / count)
    overlap = 2 * radius - 2 * offset * math.sin(math.pi / count)
    size = offset if known == "offset" else radius
    keys = {known: f"{size:.9f} mm", "overlap": f"{overlap:.9f} mm", "touches": apart}
    layer = layers_job(LATHE, keys).layers[0]
    shown = seen(layer.count, layer.offset_mm, layer.circle_radius_mm, 1.0, apart, 0.0)
    assert shown["touches"] == pytest.approx(0, abs=1e-9)
    assert shown["overlap"] == pytest.approx(overlap, abs=1e-6)
    if known == "circle_radius":
        assert layer.count == count


@settings(deadline=None, max_examples=40)
@given(st.integers(2, 400), st.integers(5_000, 60_000), st.booleans())
def test_the_meet_condition_gives_back_the_number_of_circles_in_a_known_ring(
    count: int, offset_um: int, grooves: bool
) -> None:
    """The radius has nine decimals."""
    offset, half = offset_um / 1000, 0.1 if grooves else 0.0
    radius = offset * math.sin(math.pi / count) - half
    assume(radius > 0.01)
    keys = {"offset": f"{offset} mm", "circle_radius": f"{radius:.9f} mm", "depth": "0.1 mm"}
    assert layer_of({**keys, "meet": "grooves" if grooves else "points"}).count == count


# Refusals.


REFUSED: list[Any] = [
    ({"count": 6, "offset": "20 mm", "circle_radius": "9 mm", "meet": "points"}, "meet", set()),
    ({"count": 6, "offset": "20 mm", "meet": "points", "land": "1 mm"}, "land", set()),
    ({"count": 6, "meet": "points", "overlap": "1 mm"}, "overlap", set()),
    ({"count": 6, "inner": "1 mm", "inner_edge": "2 mm"}, "inner_edge", set()),
    ({"count": 6, "meet": "points", "touches": 2, "outer": "40 mm"}, "outer", set()),
    ({"count": 6, "meet": "points", "touches": 1}, "touches", set()),
    ({"count": 6, "meet": "points", "touches": 2}, "meet", set()),
    ({"count": 6, "meet": "points"}, "offset", set()),
    ({"offset": "20 mm", "meet": "points"}, "count", set()),
    ({"offset": "20 mm", "circle_radius": "5 mm", "inner": "15 mm"}, "inner", set()),
    ({"count": 5, "offset": "20 mm", "touches": 3}, "touches", {"6", "2"}),
    ({"count": 1, "offset": "20 mm", "meet": "points"}, "meet", {"2"}),
    ({"count": 6, "offset": "20 mm", "outer": "20 mm"}, "outer", {"20"}),
    ({"count": 6, "circle_radius": "20 mm", "outer": "15 mm"}, "outer", {"20"}),
    ({"count": 6, "circle_radius": "2 mm", "overlap": "4 mm"}, "overlap", {"4"}),
    ({"count": 6, "offset": "20 mm", "land": "19 mm", "depth": "0.5 mm"}, "land", {"20"}),
    ({"count": 6, "offset": "20 mm", "land": "1 mm"}, "land", set()),
    ({"count": 6, "offset": "20 mm", "inner_edge": "1 mm"}, "inner_edge", set()),
    ({"offset": "20 mm", "circle_radius": "21 mm", "meet": "points"}, "meet", {"21", "20"}),
    ({"offset": "20 mm", "circle_radius": "0.01 mm", "meet": "points"}, "meet", {"6283", "2000"}),
    ({"count": 6, "inner": "12 mm", "outer": "10 mm"}, "inner", set()),
    ({"count": 6, "offset": "20 mm", "meet": "points", "spread": "180 deg"}, "meet", set()),
    ({"count": 6, "offset": "20 mm", "meet": "points", "offset_step": "1 mm"}, "meet", set()),
    ({"count": 6, "offset": "20 mm", "outer": "30 mm", "circle_radius_step": "1 mm"}, "outer", set()),
    ({"count": 6, "offset": "20 mm", "meet": "points", "depth": "1 mm", "depth_step": "0.1 mm"}, "meet", set()),
    ({"count": 6, "offset": "20 mm", "land": "-1 mm"}, "land", set()),
    ({"count": 6, "offset": "20 mm", "outer": "0 mm"}, "outer", set()),
    ({"count": 6, "offset": "20 mm", "touches": "2"}, "touches", {"2"}),
    ({"at": [["20 mm", "0 mm"]], "circle_radius": "2 mm", "meet": "points"}, "meet", set()),
    ({"shape": "dots", "count": 6, "offset": "20 mm", "meet": "points"}, "meet", set()),
]


@pytest.mark.parametrize(("keys", "key", "numbers"), REFUSED)
def test_conditions_without_a_solution_are_refused(keys: dict[str, Any], key: str, numbers: set[str]) -> None:
    """One or two sentences next to the key give the numbers to compare."""
    found, message = refusal(keys)
    assert found == key and message.endswith(".") and message.isprintable()
    assert figures(message) >= numbers


def test_a_height_error_larger_than_the_distance_of_a_circle_from_the_axis_is_refused() -> None:
    """Six circles of 1 mm that meet lie 2 mm from the axis, but the axes already differ by 3 mm in height."""
    key, message = refusal({"count": 6, "circle_radius": "1 mm", "meet": "points"}, height_error="3 mm")
    assert key == "meet" and figures(message) >= {"2", "3"}
