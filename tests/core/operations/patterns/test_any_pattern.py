"""Random patterns have figures that fit into JSON, cautions and a tolerance budget."""

import json
import math
from collections.abc import Iterator
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from core.lathe.lathe import Cutter
from core.lathe.reader import example_lathe
from core.operations.patterns.budget import budget_effects
from core.operations.patterns.effects import SetUpErrors, set_up_effects
from core.operations.patterns.layers import Layer, PatternJob
from core.pages.figure_words import figure_lines, table_rows
from tests.core.operations.patterns.divided import cautions_of, figures_of
from tests.core.operations.patterns.made import SHARP, WIDE, job, layer, places

LATHE = example_lathe()
LENGTH = st.sampled_from([0.0, 0.5, 3.0, 10.0, 20.25, 41.7])
CUTTERS = st.sampled_from([None, SHARP, WIDE, Cutter("round", 60, tip_radius_mm=0.5, reach_mm=1.0)])
DEPTHS = st.sampled_from([(), (0.5,), (0.6, 0.3, 0.3), (0.01,)])


@st.composite
def layers(draw: st.DrawFn) -> Layer:
    """Draw a layer of any shape, with steps, repeats, places and skipped positions."""
    shape = draw(st.sampled_from(["circles", "dots", "slots", "arcs"]))
    count = draw(st.integers(1, 9))
    keys: dict[str, Any] = {"shape": shape, "cutter": draw(CUTTERS), "depths_mm": draw(DEPTHS)}
    if shape == "slots":
        return layer(count, draw(LENGTH), to_offset_mm=draw(LENGTH), start=draw(st.integers(0, 359)), **keys)
    if shape == "arcs":
        keys["through"] = draw(st.sampled_from([1, 90, 360]))
    if draw(st.booleans()):
        place = st.tuples(st.floats(-40, 40), st.floats(-40, 40))
        return places(*draw(st.lists(place, min_size=1, max_size=6)), **keys)
    return layer(
        count,
        draw(LENGTH),
        draw(LENGTH) + 0.5,
        about_mm=draw(st.tuples(LENGTH, LENGTH)),
        repeat=draw(st.integers(1, 3)),
        repeat_offset_mm=draw(LENGTH),
        spread=draw(st.sampled_from([0, 90, 360, 1080])),
        offset_step_mm=draw(st.sampled_from([0.0, 0.7])),
        circle_radius_step_mm=draw(st.sampled_from([0.0, 0.1])),
        depth_step_mm=draw(st.sampled_from([0.0, 0.01])),
        skip=frozenset({1} if count > 1 and draw(st.booleans()) else ()),
        **keys,
    )


@st.composite
def jobs(draw: st.DrawFn) -> PatternJob:
    """Draw a pattern with any set-up errors."""
    small = st.sampled_from([0.0, 0.1, 0.35])
    return job(
        *draw(st.lists(layers(), min_size=1, max_size=3)),
        blank_diameter_mm=draw(st.sampled_from([None, 60.0, 90.0])),
        height_error_mm=draw(small) * draw(st.sampled_from([1, -1])),
        eccentricity_mm=draw(small),
        eccentric_at_deg=draw(st.floats(0, 360)),
        face_runout_mm=draw(st.sampled_from([None, 0.05])),
        face_radius_mm=draw(st.sampled_from([None, 30.0])),
        correct=draw(st.booleans()),
        is_far=draw(st.booleans()),
    )


def numbers(data: Any) -> Iterator[float]:
    """Yield every number in nested data."""
    if isinstance(data, dict | list):
        for item in data.values() if isinstance(data, dict) else data:
            yield from numbers(item)
    elif isinstance(data, int | float):
        yield data


@settings(deadline=None, max_examples=50)
@given(jobs())
def test_random_patterns_have_finite_figures_and_printable_text(wanted: PatternJob) -> None:
    """Figures are finite numbers that JSON can hold, words are printable, and each element is a cut position."""
    found = figures_of(wanted, LATHE, cutter_changes=0)
    assert all(math.isfinite(number) for number in numbers(json.loads(json.dumps(found))))
    assert len(found["elements"]) == sum(len(one.cut_positions) for one in wanted.layers)
    assert 0 <= found.get("land_percent", 0) <= 100
    for one in found["layers"]:
        assert 0 <= one["inner_mm"] <= one["outer_mm"] + 1e-9
        assert 0 <= one.get("depth_min_mm", 0) <= one.get("depth_max_mm", 0)
    effects = [*budget_effects(wanted, LATHE), *set_up_effects(wanted, SetUpErrors(), LATHE)]
    sentences = [
        *cautions_of(wanted, LATHE),
        *(word for effect in effects for word in effect),
        *(word for line in figure_lines(found, whole=True) for word in line),
        *(name for name, _ in table_rows(found["layers"], "mm")),
    ]
    assert all(sentence.isprintable() and "None" not in sentence for sentence in sentences)


@settings(deadline=None, max_examples=60)
@given(jobs())
def test_every_element_lies_between_the_inner_and_outer_radius_of_its_layer(wanted: PatternJob) -> None:
    """With exact settings and no eccentricity, every tip line lies between the inner and the outer radius given."""
    if wanted.eccentricity_mm:
        return
    found = figures_of(wanted, LATHE)
    for one in found["elements"]:
        reach = found["layers"][one["layer"] - 1]
        centre, radius = complex(one["x_mm"], one["y_mm"]), one.get("radius_mm", 0.0)
        away = np.abs(centre + radius * np.exp(2j * np.pi * np.arange(360) / 360))
        assert away.min() >= reach["inner_mm"] - 1e-5
        assert away.max() <= reach["outer_mm"] + 1e-5
        if "to_x_mm" in one:
            end = math.hypot(one["to_x_mm"], one["to_y_mm"])
            assert reach["inner_mm"] - 1e-5 <= end <= reach["outer_mm"] + 1e-5
