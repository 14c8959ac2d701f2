"""The pattern form returns every key of a job file unchanged, and shows only the fields that apply."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.lathe.lathe import Lathe
from core.operations.patterns.field_texts import text_of, value_of
from core.values.errors import PlanError
from tests.core.operations.dividing.rotary import lathe_with
from tui.pattern import fields
from tui.pattern.records import CutterFields, LayerFields, names_of

LATHE: Lathe = lathe_with()
NUMBERS = st.decimals(0, 300, places=3, allow_nan=False).map(lambda number: f"{number.normalize():f}")
LENGTHS = st.one_of(
    NUMBERS.map(lambda number: f"{number} mm"),
    NUMBERS.map(lambda number: f"{number.replace('.', ',')} mm" if "." in number else f"{number} thou"),
    st.sampled_from(["1 1/4 in", "3/64 in", '0.25"', "-3 mm"]),
)
ANGLES = st.sampled_from(["0 deg", "12°30'", "12d30m15s", "1080 deg", "-45 deg", "45 arcmin"])
WHOLE = st.integers(1, 400)
PLACE = st.lists(LENGTHS, min_size=2, max_size=2)
RING = {"start": ANGLES, "spread": ANGLES, "offset_step": LENGTHS}
ABOUT = {"about": PLACE, "repeat": WHOLE, "repeat_offset": LENGTHS, "repeat_start": ANGLES}
DEPTHS: dict[str, st.SearchStrategy[Any]] = {
    "cutter": st.sampled_from(["wide", "fine", "of the lathe"]),
    "depth_step": LENGTHS,
    "cut": LENGTHS,
    "skip": st.lists(WHOLE, min_size=1, max_size=6),
}
DEPTH = st.one_of(LENGTHS, st.lists(LENGTHS, min_size=1, max_size=5))
LISTED = {"at": st.lists(PLACE, min_size=1, max_size=9)}
CONDITIONS = st.lists(
    st.sampled_from(["meet", "overlap", "land", "touches", "inner", "outer", "inner_edge", "outer_edge"]),
    max_size=2,
    unique=True,
)


def table(shape: str, needed: dict[str, Any], optional: dict[str, Any]) -> st.SearchStrategy[dict[str, Any]]:
    """Return layers of one shape, with some of the optional keys."""
    return st.fixed_dictionaries({"shape": st.just(shape), "depth": DEPTH, **needed}, optional={**DEPTHS, **optional})


@st.composite
def circles(draw: st.DrawFn) -> dict[str, Any]:
    """Return a ring of circles. Each condition replaces the count, the offset or the circle radius."""
    sizes = {"count": WHOLE, "offset": LENGTHS, "circle_radius": LENGTHS}
    chosen = draw(CONDITIONS)
    for key in draw(st.permutations(sorted(sizes)))[: len(chosen)]:
        del sizes[key]
    values = {"meet": st.sampled_from(["points", "grooves"]), "touches": WHOLE}
    given_values = {key: values.get(key, LENGTHS) for key in chosen}
    return draw(table("circles", {**sizes, **given_values}, {**RING, **ABOUT, "circle_radius_step": LENGTHS}))


LAYERS = st.one_of(
    circles(),
    table("circles", {"circle_radius": LENGTHS, **LISTED}, {"circle_radius_step": LENGTHS}),
    table("dots", {"count": WHOLE, "offset": LENGTHS}, {**RING, **ABOUT}),
    table("dots", LISTED, {}),
    table("slots", {"count": WHOLE, "from": LENGTHS, "to": LENGTHS}, RING),
    table("arcs", {"count": WHOLE, "offset": LENGTHS, "through": ANGLES}, {**RING, **ABOUT}),
    table("arcs", {"through": ANGLES, **LISTED}, {}),
)
REFS = {"wide": "own 1", "fine": "own 2"}


@settings(max_examples=400)
@given(LAYERS)
def test_a_layer_opened_in_the_pattern_form_is_saved_unchanged(layer: dict[str, Any]) -> None:
    """All keys of the file format come back unchanged, in every allowed combination."""
    held = LayerFields.of(layer, REFS)
    assert held.table("mm", {ref: name for name, ref in REFS.items()}) == layer
    assert set(layer) - {"meet"} <= held.keys


@given(
    st.fixed_dictionaries(
        {"name": st.sampled_from(["wide", "fine"]), "tip_angle": ANGLES},
        optional={"reach": LENGTHS},
    ),
    st.sampled_from(["", "tip_flat", "tip_radius"]),
    LENGTHS,
)
def test_a_cutter_opened_in_the_pattern_form_is_saved_unchanged(cutter: dict[str, Any], nose: str, size: str) -> None:
    """The nose is sharp, flat or round, and the reach is given or not."""
    cutter |= {nose: size} if nose else {}
    held = CutterFields.of(cutter)
    assert held.table(names_of([held])[0], "mm") == cutter


def test_numbers_without_a_unit_get_the_unit_of_their_field() -> None:
    """The same holds in lists, in which a comma without a space after it is a decimal comma."""
    assert value_of("depth", "0.6, 0.3;0,25 mm", "mm") == ["0.6 mm", "0.3 mm", "0,25 mm"]
    assert value_of("depth", "0.6", "in") == "0.6 in"
    assert value_of("at", "10 0; -3,5, 1 1/4 in;", "mm") == [["10 mm", "0 mm"], ["-3,5 mm", "1 1/4 in"]]
    assert value_of("about", "5, -2", "mm") == ["5 mm", "-2 mm"]
    assert value_of("skip", "every 4th", count=12) == [4, 8, 12]
    assert (value_of("count", "36"), value_of("count", "many")) == (36, "many")
    assert text_of(["0.6 mm", "0.3 mm"]) == "0.6 mm, 0.3 mm"


@pytest.mark.parametrize(
    ("key", "text"), [("at", "10"), ("at", "10,0"), ("at", "10, 0, 5, 6"), ("about", "1, 2, 3"), ("skip", "often")]
)
def test_a_list_that_cannot_be_read_is_refused_with_an_example(key: str, text: str) -> None:
    """The text stays in the field, and the message gives an example."""
    with pytest.raises(PlanError, match='"'):
        value_of(key, text, "mm")


SHOWN = {
    "circles": {"count", "offset", "circle_radius", "start", "placed", "condition"},
    "dots": {"count", "offset", "start", "placed"},
    "slots": {"count", "from", "to", "start"},
    "arcs": {"count", "offset", "through", "start", "placed"},
}


@pytest.mark.parametrize("shape", SHOWN)
def test_the_form_shows_only_the_fields_of_the_chosen_shape(shape: str) -> None:
    """At first the fields of a ring are shown.

    Rarely used fields appear on request, and a list has only its positions.
    """
    words = {**LayerFields().words, "shape": shape}
    always = {"shape", "cutter", "depth", "skip", "more"}
    assert fields.layer_keys(words, {}) == SHOWN[shape] | always
    rare = fields.layer_keys({**words, "more": fields.SHOWN}, {}) - SHOWN[shape] - always
    assert rare == {"spread", "offset_step"} | ({"circle_radius_step"} if shape == "circles" else set())
    listed = fields.layer_keys({**words, "placed": fields.LISTED}, {"depth": "1"})
    if shape != "slots":
        own = {"circles": {"circle_radius"}, "arcs": {"through"}}.get(shape, set())
        assert listed == {"at", "placed", "cut"} | own | always


def test_choosing_a_condition_lets_the_count_the_offset_or_the_radius_be_left_empty() -> None:
    """Without a condition, count, offset and radius are required. With one condition any one of them may be empty."""
    words = {**LayerFields().words, "condition": "points meet"}
    assert fields.needed_keys(LayerFields().words, {}) == {"count", "offset", "circle_radius"}
    assert fields.needed_keys(words, {"count": "6", "offset": "20"}) == {"count", "offset"}
    assert fields.needed_keys(words, {"count": "6"}) == {"count", "offset", "circle_radius"}
    both = {**words, "condition_2": "outer radius of edges"}
    assert fields.needed_keys(both, {"count": "6"}) == {"count", "outer_edge"}
