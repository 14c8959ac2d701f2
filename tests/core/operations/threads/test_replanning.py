"""A thread planned again after a gauge check, a measurement or a move."""

import math
import re
from typing import get_args

import pytest

from core.cutting import progress_of
from core.inputs import Edited, GaugeTried, Measured, MovedPart, PickedUp, RunInput, input_from_data
from core.operations.registry import PlanInput, replan
from core.plan import Step
from core.values.errors import EventError, PlanError
from tests.core.entered import set_to
from tests.core.figures import figures
from tests.core.planned import make_plan
from tests.core.thread_jobs import lathe, plan_input_of

M30 = {"thread": "M30x3.5-6g", "blank": "29.85 mm", "tool_flat": "0.30 mm"}
COS = math.cos(math.radians(29))
SIZE = Measured(what="pitch diameter", size_mm=27.568 + 0.40)
"""A size of M30x3.5-6g, whose pitch diameter is 27.462 to 27.674 mm (ISO 965-2)."""


def again(plan_input: PlanInput, entered: RunInput, *, after_all_cuts: bool = False) -> tuple[Step, ...]:
    """Return the new remaining steps after the first measurement, or after the last measurement of the first start."""
    plan = make_plan(plan_input)
    actions = [step.action for step in plan.steps]
    at = actions.index("measure")
    if after_all_cuts:
        at = actions.index("measure", at + 1)
    return replan(plan_input, progress_of(plan.steps[:at], plan.steps[at:], len(plan.steps) + 1), entered)


@pytest.mark.parametrize(
    ("fit", "marks"),
    [("won't start", 2), ("tight", 1), ("fits", 0)],
)
def test_the_further_the_gauge_is_from_fitting_the_more_infeed_is_planned(fit: str, marks: int) -> None:
    """On marks of 0.02 mm at 29 degrees: two marks if the gauge does not start, one if it is tight, none if it fits."""
    steps = again(plan_input_of(**M30), GaugeTried(fit=fit), after_all_cuts=True)
    cuts = [step for step in steps if step.action == "cut"]
    assert sum(step.removed_mm or 0 for step in cuts) == pytest.approx(marks * 0.02 * COS)
    assert [step.action for step in steps] == (["cut", "spring", "measure", "check"] if marks else ["check"])


def test_after_a_gauge_is_tight_a_lathe_with_a_readout_gets_an_infeed_of_0_01_mm() -> None:
    """On a readout of 0.001 mm, the infeed after a tight gauge is 0.01 mm on the radius, not one mark."""
    fine = {"per_turn": "2 mm", "graduation": "0.001 mm", "reads": "travel"}
    its = lathe(dial={"compound": fine, "cross_slide": fine})
    plan_input = plan_input_of(its, **M30)
    tight, wont = (
        again(plan_input, GaugeTried(fit=fit), after_all_cuts=True)[0].removed_mm for fit in ("tight", "won't start")
    )
    assert tight == pytest.approx(0.01, abs=0.001)
    assert wont == pytest.approx(0.03, abs=0.001)


def test_a_gauge_tried_before_the_thread_reaches_its_limits_leaves_the_passes_unchanged() -> None:
    """Such a gauge cannot start yet. The passes stay, and a finding says so."""
    plan_input = plan_input_of(**M30)
    plan = make_plan(plan_input)
    at = [step.action for step in plan.steps].index("measure")
    planned = [step.settings[0] for step in plan.steps[at:] if step.action == "cut"]
    steps = again(plan_input, GaugeTried(fit="won't start"))
    assert [step.settings[0] for step in steps if step.action == "cut"] == planned and len(planned) > 1
    # By the dial, 27.674 (ISO 965-2) is still the difference of the depths away, on the diameter.
    short_mm = 2 * ((29.85 - 27.674) / 2 + (3.5 / 2 - 0.30) / 2 / math.tan(math.radians(30))) - 2 * (
        plan.steps[at - 1].depth_mm or 0.0
    )
    assert f"{short_mm:.3f}" in figures(steps[0].findings[0])


def test_a_thread_that_is_loose_in_its_gauge_gets_no_more_cuts() -> None:
    """A measurement then shows which class the thread still meets."""
    steps = again(plan_input_of(**M30), GaugeTried(fit="loose"))
    assert not any(step.action == "cut" for step in steps)
    assert len(steps[0].findings) >= 1 and steps[0].expects == "pitch diameter"


def test_a_planned_infeed_past_the_limits_of_the_thread_gets_a_caution() -> None:
    """M30x3.5-6g may go 0.053 mm on the radius past its middle (ISO 965-2): three marks of 0.0175 mm."""
    plan_input = plan_input_of(**M30)
    plan = make_plan(plan_input)
    at = max(number for number, step in enumerate(plan.steps) if step.action == "measure")
    done, told = list(plan.steps[:at]), []
    for next_id in (101, 201, 301, 401):
        steps = replan(plan_input, progress_of(done, plan.steps[at:], next_id), GaugeTried(fit="tight"))
        usual = replan(plan_input, progress_of(plan.steps[:at], plan.steps[at:], next_id), GaugeTried(fit="tight"))[
            0
        ].cautions
        told.append(len(set(steps[0].cautions) - set(usual)) > 0)
        done.append(steps[0])
    assert told == [False, False, False, True]


def test_an_unknown_gauge_result_in_a_log_is_refused() -> None:
    """The result comes from a log. The words of the first version are accepted."""
    with pytest.raises(EventError):
        input_from_data("fit", {"fit": "wobbly"})
    assert input_from_data("fit", {"fit": "does not go"}) == GaugeTried(fit="tight")


def test_a_thread_past_its_limits_gets_no_spring_pass() -> None:
    """With both ends past the limits, tapered or not, only the gauge check remains."""
    steps = again(plan_input_of(**M30), Measured(what="pitch diameter", size_mm=27.44, free_end_mm=27.40))
    assert [step.action for step in steps] == ["measure", "check"]
    assert {"0.022", "0.062"} & {figure for caution in steps[0].findings for figure in figures(caution)}


def test_a_thread_groove_deeper_than_its_limits_is_reported() -> None:
    """27.462 mm (ISO 965-2), flat 0.30 mm: the deepest groove is 1.194 - 0.053 mm below the blank's middle."""
    deepest_mm = (29.85 - 27.462) / 2 + (3.5 / 2 - 0.30) / 2 / math.tan(math.radians(30))
    steps = again(plan_input_of(**M30), Measured(what="crest", size_mm=deepest_mm + 0.03))
    assert [step.action for step in steps] == ["measure", "check"]
    assert any("0.03" in figures(caution) for caution in steps[0].findings)
    above = again(plan_input_of(**M30), Measured(what="crest", size_mm=deepest_mm - 0.01))
    assert above[0].text != steps[0].text


def test_a_thread_inside_its_limits_may_be_cut_to_its_gauge_one_mark_at_a_time() -> None:
    """Only past the limits is no further cut to the gauge allowed."""
    steps = again(plan_input_of(**M30), Measured(what="pitch diameter", size_mm=27.5), after_all_cuts=True)
    past = again(plan_input_of(**M30), Measured(what="pitch diameter", size_mm=27.4), after_all_cuts=True)
    assert steps[0].action == past[0].action == "measure" and steps[0].text != past[0].text


@pytest.mark.parametrize(("thread", "side", "sense"), [("M30x3.5-6g", "outside", 1), ("M30x3.5-6H", "inside", -1)])
def test_a_measured_size_far_from_the_size_predicted_by_the_dial_is_reported(
    thread: str, side: str, sense: int
) -> None:
    """The example is a size over wires typed as a pitch diameter, 0.866 P too large with the best wire."""
    plan_input = plan_input_of(thread=thread, side=side, tool_flat="0.30 mm")
    plan = make_plan(plan_input)
    at = [step.action for step in plan.steps].index("measure")
    middle_mm = (plan.figures["pitch_diameter_max_mm"] + plan.figures["pitch_diameter_min_mm"]) / 2
    by_dial_mm = middle_mm + sense * 2 * (plan.figures["depth_mm"] - (plan.steps[at - 1].depth_mm or 0.0))
    near, far = (
        again(plan_input, Measured(what="pitch diameter", size_mm=by_dial_mm + sense * off_mm))[0].findings
        for off_mm in (0.2, 0.866 * 3.5)
    )
    assert not any(f"{by_dial_mm:.3f}".rstrip("0") in figures(word) for word in near)
    assert f"{by_dial_mm:.3f}".rstrip("0") in figures(far[0])


def test_a_last_cut_that_will_end_outside_the_limits_gets_a_caution_beforehand() -> None:
    """Marks are 0.437 mm of diameter: from 27.87 measured, 27.433 is 0.029 mm past 27.462 (ISO 965-2)."""
    coarse = {"per_turn": "2 mm", "graduation": "0.25 mm", "reads": "travel"}
    its = lathe(dial={"compound": coarse, "cross_slide": coarse})
    steps = again(plan_input_of(its, **M30), Measured(what="pitch diameter", size_mm=27.87))
    ends_mm = 27.87 - 2 * 0.25 * COS
    cut = next(step for step in steps if step.action == "cut")
    past = f"{27.462 - ends_mm:.3f}"
    assert any(past in figures(word) for word in cut.cautions)
    inside = again(plan_input_of(its, **M30), Measured(what="pitch diameter", size_mm=28.0))
    assert not any("no mark" in word for step in inside for word in step.cautions)


@pytest.mark.parametrize("given", [{"pitch_diameter_mm": 276.0}, {"pitch_diameter_mm": 2.76}, {"crest_mm": 24.0}])
def test_a_measured_size_off_by_more_than_the_thread_depth_is_refused(given: dict[str, float]) -> None:
    """The size is further away than the depth of the whole thread. The refusal says which sizes are accepted."""
    with pytest.raises(PlanError):
        again(plan_input_of(**M30), input_from_data("measured", given))


def test_the_reported_number_of_marks_to_go_equals_the_planned_number() -> None:
    """The cuts after the measurement take exactly the reported number of marks."""
    for size_mm in (27.9, 27.7, 27.62, 27.6, 27.58):
        steps = again(plan_input_of(**M30), Measured(what="pitch diameter", size_mm=size_mm))
        cuts = [step for step in steps if step.action == "cut"]
        marks = round(sum(step.removed_mm or 0 for step in cuts) / (0.02 * COS))
        words = " ".join(steps[0].findings)
        assert re.findall(r"(\d+) more", words) == ([str(marks)] if marks else [])


@pytest.mark.parametrize("moved", get_args(MovedPart))
@pytest.mark.parametrize("table", [M30, {"thread": "M20x1.5-6H", "infeed": "straight"}, {"thread": "M24xPh6P3"}])
def test_picking_up_a_thread_starts_with_the_part_that_moved(moved: str, table: dict[str, str]) -> None:
    """Each case starts with a step of its own and ends with a required measurement, with no cut before it."""
    steps = again(plan_input_of(**table), PickedUp(moved=moved))
    before = steps[: [step.action for step in steps].index("measure") + 1]
    assert not any(step.action == "cut" for step in before)
    first = {"tool": "by the gauge", "work": "indicator", "half nuts": "Half nuts", "other": "Close the half nuts"}[
        moved
    ]
    assert first in before[0].text
    assert before[-1].required
    zeroed = [dial for step in before for dial in step.zeroed_dials]
    assert zeroed == (["cross_slide"] if table.get("infeed") == "straight" else ["compound", "cross_slide"])


def test_an_old_log_that_does_not_name_the_moved_part_gets_the_full_pick_up() -> None:
    """An old log does not name the moved part, so the turner picks up everything."""
    assert input_from_data("picked up", {}) == PickedUp(moved="other")


def test_after_a_pick_up_without_a_usable_thread_dial_line_the_half_nuts_stay_closed() -> None:
    """A 3.5 mm lead has no usable line on 8 tpi, so the spindle reverses. On a 7 mm leadscrew it does not reverse."""
    its = lathe(change_gears=None, thread_dial=None, leadscrew={"pitch": "8 tpi"}, gearbox={"pitches": ["3.5 mm"]})
    closed = again(plan_input_of(its, **M30), PickedUp(moved="half nuts"))[0].text
    its = lathe(change_gears=None, thread_dial=None, leadscrew={"pitch": "7 mm"}, gearbox={"pitches": ["3.5 mm"]})
    found = again(plan_input_of(its, **M30), PickedUp(moved="half nuts"))[0].text
    assert "reverse" in closed and "reverse" not in found


@pytest.mark.parametrize("off_mm", [-0.03, 0.0, 0.12])
def test_setting_a_pass_differently_keeps_the_correction_from_a_measurement(off_mm: float) -> None:
    """A measurement shows the error of the dial's count. Setting the next pass two marks further keeps that correction.

    M30x3.5-6g: the middle of the pitch-diameter limits is 27.568 mm (ISO 965-2, 27.462 and 27.674). Marks are 0.02 mm
    at 29 degrees.
    """
    plan_input = plan_input_of(**M30)
    plan = make_plan(plan_input)
    at = [step.action for step in plan.steps].index("measure")
    by_dial_mm = 27.568 + 2 * plan.figures["depth_mm"] - 2 * (plan.steps[at - 1].depth_mm or 0)
    pitch_diameter_mm = by_dial_mm + off_mm
    measured = replan(
        plan_input,
        progress_of(plan.steps[:at], plan.steps[at:], len(plan.steps) + 1),
        Measured(what="pitch diameter", size_mm=pitch_diameter_mm),
    )
    first = measured[0].settings[0]
    set_at = round(first.position + 0.04, 6)  # type: ignore[union-attr]
    progress = progress_of(plan.steps[:at], measured, len(plan.steps) + len(measured) + 1)
    steps = replan(plan_input, progress, set_to(str(set_at)))
    stood_at = plan.steps[at - 1].settings[0].position  # type: ignore[union-attr]
    for step in (step for step in steps if step.action == "cut"):
        reached_mm = pitch_diameter_mm - 2 * (step.settings[0].position - stood_at) * COS  # type: ignore[union-attr]
        assert step.depth_mm == pytest.approx(plan.figures["depth_mm"] - (reached_mm - 27.568) / 2, abs=1e-6)
        last_mm = reached_mm
    assert last_mm == pytest.approx(27.568, abs=0.02 * COS)


def test_the_infeed_after_a_gauge_check_counts_from_the_last_measured_size() -> None:
    """At the least size of 6g, 0.106 mm past the middle, one small infeed ends past the limits and gets a caution."""
    plan_input = plan_input_of(**M30)
    plan = make_plan(plan_input)
    at = [step.action for step in plan.steps].index("measure")
    progress = progress_of(plan.steps[:at], plan.steps[at:], len(plan.steps) + 1)
    measured = replan(plan_input, progress, Measured(what="pitch diameter", size_mm=27.462))
    assert not any(step.action == "cut" for step in measured)
    after = progress_of(plan.steps[:at], measured, len(plan.steps) + len(measured) + 1)
    small = replan(plan_input, after, GaugeTried(fit="tight"))[0]
    assert small.depth_mm == pytest.approx(plan.figures["depth_mm"] + 0.053 + 0.02 * COS, abs=1e-6)
    assert len(set(small.cautions) - set(measured[0].cautions)) > 0


@pytest.mark.parametrize("zeroed", [True, False])
def test_after_a_pick_up_the_dials_count_from_the_existing_groove(zeroed: bool) -> None:
    """A pitch diameter 0.40 mm above its middle is cut 0.20 mm further in, before or after both dials are set.

    Editing the job at that point plans no touch-off on the crest, because a touch-off would lose the groove again.
    """
    plan_input = plan_input_of(**M30)
    plan = make_plan(plan_input)
    at = [step.action for step in plan.steps].index("measure")
    done = list(plan.steps[:at])
    found = replan(plan_input, progress_of(done, plan.steps[at:], 101), PickedUp(moved="tool"))
    until = [step.action for step in found].index("measure")
    steps = found[until if zeroed else 0 :]
    done += found[:until] if zeroed else []
    for entered in (SIZE, SIZE, Edited(plan_input={}), Edited(plan_input={})):
        steps = replan(plan_input, progress_of(done, steps, 1 + max(step.id for step in steps)), entered)
        assert [dial for step in steps for dial in step.zeroed_dials] == ([] if zeroed else ["compound", "cross_slide"])
        assert not any("crest" in step.text or "just touches" in step.text for step in steps if step.zeroed_dials)
        cuts = [step for step in steps if step.action == "cut"]
        ends_at = cuts[-1].settings[0].position  # type: ignore[union-attr]
        assert float(ends_at) * COS == pytest.approx(0.20, abs=0.01 * COS)
