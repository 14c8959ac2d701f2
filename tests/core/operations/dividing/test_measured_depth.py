"""The sentences about a depth measured at a position of the table."""

from typing import Any

import pytest

from core.lathe.reader import lathe_from
from core.operations.dividing.depth import check_depth, measured_depth_text
from core.operations.patterns.trial_circle import check_circle
from core.values.errors import PlanError
from tests.core.counted import Counted, table_lathe
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import pattern_keys

# A mark of the cross-slide is 0.05 mm on the diameter, or 0.025 mm of travel. Half a mark is 0.0125 mm.
SLOTS: dict[str, Any] = {"divisions": 6, "depth": "1 mm", "depth_dial": "cross_slide"}


def _cut(**keys: Any) -> Counted:
    """Return a run whose first pass at position 1 is done."""
    run = Counted(table_lathe(), "divide", **{**SLOTS, **keys})
    run.to_position(1)
    run.done(2)
    return run


def _words(run: Counted, depth_mm: float) -> str:
    return measured_depth_text(run.job, run.lathe, run.state, depth_mm)


def _nothing_to_set(words: str) -> bool:
    return "half a mark" in words


def test_depth_errors_smaller_than_half_a_mark_are_not_corrected() -> None:
    """0.988 mm is 0.012 mm short, less than half a mark. 0.987 mm is 0.013 mm short, more than half a mark."""
    run = _cut()
    assert figures(_words(run, 0.988)) == {"0.988", "0.012", "1", "0.013"} and _nothing_to_set(_words(run, 0.988))
    assert figures(_words(run, 1.012)) >= {"0.012", "1"} and _nothing_to_set(_words(run, 1.012))
    assert figures(_words(run, 0.987)) == {"0.987", "0.013", "1"} and not _nothing_to_set(_words(run, 0.987))
    assert figures(_words(run, 1.0)) == {"1"}


def test_the_sentence_about_a_measured_depth_agrees_with_the_plan() -> None:
    """If the sentence announces no change, later positions stay at 2.00. Otherwise the dial moves by one mark."""
    for depth_mm, reading in ((0.988, 2.00), (0.987, 2.05), (1.012, 2.00), (1.013, 1.95)):
        run = _cut()
        kept = _nothing_to_set(_words(run, depth_mm))
        run.revise("measured", depth_mm=depth_mm)
        cut = next(step for step in run.state.open_steps() if step.action == "cut" and step.at.position == 2)
        assert cut.settings[0].position == pytest.approx(reading)  # type: ignore[union-attr]
        assert kept == (reading == 2.00)


def test_a_depth_measured_after_an_earlier_pass_is_compared_with_the_depth_of_that_pass() -> None:
    """The measurement is compared with the depth of that pass. The deeper passes make up the difference."""
    assert figures(_words(_cut(cut="0.5 mm"), 0.49)) == {"0.49", "0.01", "0.5"}
    assert figures(_words(_cut(cut="0.5 mm"), 0.99)) >= {"0.99", "0.01", "1"}


def test_the_measured_depth_of_a_layer_is_compared_with_the_wanted_depth_of_that_layer() -> None:
    """The measurement is compared with the wanted depth of 0.61, not with the nearest mark of 0.6."""
    layer = {"count": 6, "offset": "20 mm", "circle_radius": "8 mm", "depth": "0.61 mm"}
    run = Counted(
        table_lathe(),
        "pattern",
        **pattern_keys(layer, tip_angle="90 deg", blank_diameter="90 mm"),
    )
    while run.cursor.action != "cut":
        run.done()
    run.done()
    check_circle(run.job, run.lathe, run.state, 17)
    with pytest.raises(PlanError):
        check_circle(run.job, run.lathe, run.state, 8)
    assert figures(_words(run, 0.6)) >= {"0.6", "0.01", "0.61"} and _nothing_to_set(_words(run, 0.6))


@pytest.mark.parametrize("depth_mm", [10.99, 2.1])
def test_a_measured_depth_that_the_dial_cannot_have_cut_is_refused(depth_mm: float) -> None:
    """A typing mistake would shift every later position."""
    run = _cut()
    with pytest.raises(PlanError, match=r"\b1 mm"):
        run.revise("measured", depth_mm=depth_mm)
    with pytest.raises(PlanError, match=r"\b1 mm"):
        check_depth(run.job, run.lathe, run.state, depth_mm)
    check_depth(run.job, run.lathe, run.state, 0.9)


def test_the_refusal_of_a_measured_depth_is_in_the_unit_of_the_lathe() -> None:
    """1 in is typed instead of 0.1 in on an inch lathe. The refusal gives inches."""
    table = {
        "format": 1,
        "name": "Inch bench",
        "dial": {"cross_slide": {"per_turn": "0.1 in", "graduation": "0.001 in", "reads": "travel"}},
        "rotary_table": {"ratio": 90, "dial_graduation": "1 arcmin"},
    }
    run = Counted(lathe_from(table, "lathe"), "divide", divisions=6, depth="0.1 in", depth_dial="cross_slide")
    run.to_position(1)
    run.done(2)
    with pytest.raises(PlanError) as refused:
        check_depth(run.job, run.lathe, run.state, 25.4)
    assert {"1.0000", "0.1000"} <= figures(refused.value.message) and " mm" not in refused.value.message


def test_a_boring_head_setting_below_zero_is_shown_as_turns_and_a_dial_reading() -> None:
    """12 mm to 8 mm of radius on a diameter dial of 0.05 in: 0.315 in below 0, which is 6 turns and 0.015 in."""
    table = {
        "format": 1,
        "name": "Bench",
        "dial": {
            "cross_slide": {"per_turn": "4 mm", "graduation": "0.05 mm", "reads": "diameter"},
            "boring_head": {"per_turn": "0.05 in", "graduation": "0.001 in", "reads": "diameter"},
        },
        "rotary_table": {"ratio": 72, "dial_graduation": "2 arcmin"},
    }
    first = {"count": 2, "offset": "20 mm", "circle_radius": "12 mm"}
    run = Counted(lathe_from(table, "bench.toml"), "pattern", **pattern_keys(first, {**first, "circle_radius": "8 mm"}))
    while not (run.cursor.action == "set" and not run.cursor.zeroed_dials and "2" in figures(run.cursor.text[:7])):
        run.done()
    assert [figures(line) for line in run.view.also] == [{"6", "0.015", "0", "0.035"}]


def test_the_setting_of_a_hole_contains_both_its_x_and_y_readouts() -> None:
    """For 5 holes on a 64 mm circle, the second is at 32 cos 72 and 32 sin 72."""
    run = Counted(table_lathe(), "holes", count=5, circle="64 mm")
    run.to_position(2)
    assert run.view.set_to == "x 9.889 mm, y 30.434 mm"
