"""Pecks on the dial: how deep each peck is, where it ends, and how deep the hole then is."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.operations.registry import count_steps, operation_of, parameters_of
from core.values.dials import ZeroedDials
from tests.core.operations.drilling.holes_made import (
    blind,
    cone_mm,
    cuts_of_tool,
    drill_input,
    drill_lathe,
    drill_plan,
    position_mm,
)

MARK_MM = 0.05


@settings(max_examples=40)
@given(st.integers(100, 6000), st.integers(5, 2000), st.integers(5, 2000))
def test_no_peck_is_deeper_than_the_entered_peck_or_the_peck_before(depth: int, one: int, other: int) -> None:
    """The last peck ends at the mark nearest to the depth, after the number of pecks counted beforehand.

    Depths are in hundredths of a millimetre.
    """
    peck_mm, last_mm = max(one, other) / 100, min(one, other) / 100
    keys = blind(f"{depth / 100} mm", peck=f"{peck_mm} mm", last_peck=f"{last_mm} mm")
    plan_input = drill_input(**keys)
    plan = drill_plan(**keys)
    ends = [0.0, *map(position_mm, cuts_of_tool(plan, "12 mm drill"))]
    pecks = [after - before for before, after in pairwise(ends)]
    assert all(0 < peck <= peck_mm + 1e-9 for peck in pecks)
    assert all(after <= before + MARK_MM + 1e-9 for before, after in pairwise(pecks))
    assert ends[-1] == pytest.approx(depth / 100, abs=MARK_MM / 2 + 1e-9)
    steps = count_steps(parameters_of(plan_input), "drill", plan_input.lathe, None)
    assert steps == len(plan.steps)


def test_the_largest_allowed_peck_decreases_linearly_with_the_depth() -> None:
    """By hand: the limit falls from 10 mm at the face to 5 mm at the tip, 28.6 mm deep."""
    plan = drill_plan(**blind("25 mm", peck="10 mm", last_peck="5 mm"))
    tip_mm = 25 + cone_mm(12, 118)
    at_mm = 0.0
    for step in cuts_of_tool(plan, "12 mm drill"):
        most_mm = 10 - 5 * (at_mm + cone_mm(12, 118)) / tip_mm
        assert position_mm(step) - at_mm <= most_mm + 1e-9
        at_mm = position_mm(step)


def test_without_an_entered_peck_each_peck_is_one_drill_diameter() -> None:
    """Common practice, no source: a 12 mm drill makes 25 mm in three pecks, a 6 mm pilot in five."""
    plan = drill_plan(**blind("25 mm", pilots=["6 mm"]))
    assert [len(cuts_of_tool(plan, f"{size} mm drill")) for size in (6, 12)] == [5, 3]


@pytest.mark.parametrize(
    ("keys", "zero_mm"),
    [({}, cone_mm(12, 118)), ({"start_with": "none"}, 0.0), ({"strip": "2 mm"}, -2.0)],
)
def test_every_way_of_touching_off_gives_a_hole_of_the_same_depth(keys: dict[str, str], zero_mm: float) -> None:
    """At zero the tip is at the face, in front of the face by a strip, or past the face by the length of its point."""
    last = cuts_of_tool(drill_plan(**blind("25 mm", **keys)), "12 mm drill")[-1]
    assert zero_mm + position_mm(last) == pytest.approx(25 + cone_mm(12, 118), abs=MARK_MM / 2 + 1e-9)
    assert last.depth_mm == pytest.approx(zero_mm + position_mm(last))


@pytest.mark.parametrize("through", ["20 mm", "20.01 mm", "20.049 mm", "1 in"])
@pytest.mark.parametrize("strip", [None, "0.5 mm"])
def test_a_through_hole_has_its_full_diameter_beyond_the_far_face(through: str, strip: str | None) -> None:
    """The last peck ends at the first mark at which the corners are 0.5 mm past the far face."""
    keys = {"drill": "9 mm", "through": through, "past": "0.5 mm"} | ({"strip": strip} if strip else {})
    zero_mm = -0.5 if strip else cone_mm(9, 118)
    last = cuts_of_tool(drill_plan(**keys), "9 mm drill")[-1]
    length_mm = 25.4 if through == "1 in" else float(through.split()[0])
    past_mm = zero_mm + position_mm(last) - cone_mm(9, 118) - length_mm
    assert 0.5 - 1e-6 <= past_mm < 0.5 + MARK_MM + 1e-6


@pytest.mark.parametrize(
    ("keys", "cuts"),
    [({}, True), ({"start_with": "none"}, False), ({"strip": "2 mm"}, False), ({"start_depth": "3 mm"}, False)],
)
def test_every_touch_off_step_says_whether_the_spindle_must_run(keys: dict[str, str], cuts: bool) -> None:
    """Only the corners of a drill's lips touch off by drilling. Otherwise the drive is isolated first."""
    step = next(step for step in drill_plan(**blind("25 mm", **keys)).steps if step.zeroed_dials)
    assert step.text.removesuffix(" and take the strip out").endswith(". Withdraw the drill")
    assert step.text.startswith("Spindle on." if cuts else "Stop the spindle and isolate its drive.")
    assert any("while the drill starts" in caution for caution in step.cautions) == cuts


def test_the_touch_off_strip_is_removed_before_the_spindle_starts() -> None:
    """The touch-off step says so in its text and in its caution. Every movement list of a peck starts with power."""
    plan_input = drill_input(**blind("25 mm", strip="2 mm"))
    plan = drill_plan(**blind("25 mm", strip="2 mm"))
    step = next(step for step in plan.steps if step.zeroed_dials)
    assert step.text.endswith("Withdraw the drill and take the strip out")
    assert [caution for caution in step.cautions if "strip" in caution and "before you switch on" in caution]
    movements = operation_of("drill").movements(parameters_of(plan_input), plan_input.lathe)
    dials = ZeroedDials(plan_input.lathe.dials, {})
    for peck in cuts_of_tool(plan, "12 mm drill"):
        assert movements(peck, dials, (1, 1))[0] == "Spindle on"


@pytest.mark.parametrize("through", ["30 mm", "1.013 in"])
def test_a_reamer_passes_the_far_face_by_its_lead_in_one_feed(through: str) -> None:
    """The lead of a machine reamer is at most a quarter of its diameter (common practice, no source).

    By hand, for 12 mm: 3 mm of lead and the usual 1 mm past the far face.
    """
    plan_input = drill_input(ream="12 mm", through=through)
    (ream,) = cuts_of_tool(drill_plan(ream="12 mm", through=through), "12 mm reamer")
    length_mm = 30 if through == "30 mm" else 1.013 * 25.4
    assert length_mm + 4 - 1e-6 <= position_mm(ream) < length_mm + 4 + MARK_MM
    movements = operation_of("drill").movements(parameters_of(plan_input), plan_input.lathe)
    assert movements(ream, ZeroedDials(plan_input.lathe.dials, {}), (1, 1))[0] == "Spindle on, slow"


def test_every_drill_is_touched_off_before_its_first_peck() -> None:
    """Three drills of different lengths each set the dial to zero, then go to the same depth of full diameter."""
    plan = drill_plan(**blind("20 mm", pilots=["4 mm", "8 mm"]))
    for tool in ("4 mm drill", "8 mm drill", "12 mm drill"):
        own = [step for step in plan.steps if step.extra.get("tool") == tool]
        assert [step.zeroed_dials for step in own[:2]] == [(), ("tailstock",)]
        assert position_mm(cuts_of_tool(plan, tool)[-1]) == pytest.approx(20.0)


def test_a_pilot_hole_is_never_deeper_than_the_finished_hole() -> None:
    """The pilot's corners end level with those of the last drill, so the pilot's point ends higher."""
    plan = drill_plan(**blind("20 mm", pilots=["4 mm"]))
    pilot, last = (cuts_of_tool(plan, tool)[-1].depth_mm or 0.0 for tool in ("4 mm drill", "12 mm drill"))
    assert pilot < last


def test_touching_off_with_a_fixed_scale_on_the_quill_asks_for_the_scales_reading() -> None:
    """The fixed rule has marks of 1 mm, so every peck ends at a whole millimetre."""
    lathe = drill_lathe(per_turn=None, graduation="1 mm", can_zero=False)
    plan = drill_plan(lathe, **blind("25.4 mm", peck="6 mm"))
    assert [step.required for step in plan.steps if step.zeroed_dials] == [True]
    assert all(step.settings[0].turns is None for step in cuts_of_tool(plan, "12 mm drill"))  # type: ignore[union-attr]
    assert position_mm(cuts_of_tool(plan, "12 mm drill")[-1]) == 25
    assert any("0.4 mm" in step.text for step in plan.steps if step.action == "measure")


def test_a_reamer_stops_above_the_bottom_of_a_blind_hole() -> None:
    """The reamer stops 1 mm above the bottom of the full diameter, in one feed (common practice, no source)."""
    plan = drill_plan(ream="12 mm", depth="20 mm", depth_to="full diameter")
    (ream,) = cuts_of_tool(plan, "12 mm reamer")
    assert position_mm(ream) == pytest.approx(19.0)


def test_a_reamers_feed_is_not_counted_as_a_peck() -> None:
    """By hand: 7 pecks of at most 5 mm reach the tip at 30 + 1 + 1.77 mm. The reamer's feed is the eighth cut."""
    keys = {"ream": "6 H7", "through": "30 mm", "strip": "1 mm", "peck": "5 mm"}
    plan_input = drill_input(**keys)
    plan, hole, form = drill_plan(**keys), parameters_of(plan_input), operation_of("drill").form
    assert len(cuts_of_tool(plan, "5.9 mm drill")) == 7 and plan.figures["passes"] == 8
    assert form.summary(hole, plan_input.lathe, plan).startswith("7 pecks, the last of the 5.9 mm drill")
    notes = {figure.name: figure.note for figure in form.figures(hole, plan_input.lathe, plan)}
    assert (notes["5.9 mm drill"], notes["6 H7 reamer"]) == ("7 pecks", "one feed")
    assert operation_of("drill").figure_names["passes"] == "cuts of all tools"


def test_the_last_peck_through_the_work_warns_that_the_drill_may_grab() -> None:
    """A blind hole has no such warning. Common practice, no source."""
    grabs = [
        [step for step in drill_plan(**keys).steps if any("grabs" in caution for caution in step.cautions)]
        for keys in ({"drill": "9 mm", "through": "20 mm"}, blind("20 mm"))
    ]
    assert [len(steps) for steps in grabs] == [1, 0] and grabs[0][0].remaining_mm == 0
