"""The plan of a thread: order of work, settings on the user's own dials, cautions, and planning again."""

import math
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.cutting import progress_of
from core.inputs import input_from_data
from core.lathe.lathe import Lathe
from core.lathe.reader import example_lathe, lathe_from
from core.operations.registry import PlanInput, replan
from core.plan import Plan, Step
from core.values.dials import Setting
from core.values.errors import FileError, PlanError
from tests.core.entered import set_to
from tests.core.figures import figures
from tests.core.planned import make_plan

M30 = {"thread": "M30x3.5-6g", "blank": "29.85 mm", "tool_flat": "0.30 mm"}


def lathe(**changes: Any) -> Lathe:
    """Return the example lathe with some sections of its file changed."""
    data = dict(example_lathe().data)
    for key, table in changes.items():
        data[key] = {**data.get(key, {}), **table} if isinstance(table, dict) else table
    return lathe_from(data, "test")


def thread(its_lathe: Lathe | None = None, material: str | None = None, **keys: Any) -> PlanInput:
    """Return the plan input of a `thread` operation."""
    parameters = {"kind": "thread", "name": "it", **keys}
    return PlanInput(kind="thread", parameters=parameters, lathe=its_lathe or lathe(), material=material)


def cuts(plan: Plan) -> list[Step]:
    """Return the cut steps of a plan."""
    return [step for step in plan.steps if step.action == "cut"]


def position(step: Step, dial: str) -> float:
    """Return the position to which a step sets a dial [mm]."""
    setting = step.setting(dial)
    assert setting is not None
    return float(setting.position)


def test_the_compound_travel_matches_a_hand_calculation() -> None:
    """M30x3.5-6g is 2.396737 mm deep. At 29 degrees the travel is 2.396737 / cos 29 = 2.740319 mm.

    In marks of 0.02 mm the nearest is 137: 2.74 mm, which is 1 turn of 2 mm and 0.74 mm.
    """
    plan = make_plan(thread(passes=18, **M30))
    figures = plan.figures
    assert figures["depth_mm"] == pytest.approx(2.396737, abs=1e-6)
    assert figures["compound_travel_mm"] == pytest.approx(2.740319, abs=1e-6)
    assert (figures["compound_angle_deg"], figures["scale_reading_deg"], figures["passes"]) == (29, 29, 18)
    assert figures["root_mm"] == pytest.approx(29.85 - 2 * 2.396737, abs=1e-5)
    # Lead angle: atan(3.5 / (pi 27.568)); tool width: 0.30 + 2 x 2.396737 tan 30.
    assert figures["lead_angle_deg"] == pytest.approx(math.degrees(math.atan(3.5 / (math.pi * 27.568))), abs=1e-6)
    assert figures["tool_width_mm"] == pytest.approx(3.067514, abs=1e-5)
    last = cuts(plan)[-1].settings[0]
    assert isinstance(last, Setting)
    assert (last.position, last.turns, last.reading) == (Fraction("2.74"), 1, Fraction("0.74"))
    assert last.rounding == pytest.approx(2.74 - 2.740319, abs=1e-6)
    assert cuts(plan)[-1].depth_mm == pytest.approx(2.74 * math.cos(math.radians(29)))


def test_the_time_left_to_stop_in_the_relief_matches_a_hand_calculation() -> None:
    """Relief 5 mm, tool 3.0675 mm wide, 70 rpm, lead 3.5 mm: (5 - 1.53376) / (3.5 x 70 / 60) = 0.8489 s.

    A time of 1 s needs at most 60 x 3.46624 / 3.5 = 59.4 rpm, which is below this lathe's slowest speed.
    """
    plan = make_plan(thread(relief="5 mm", relief_diameter="24.5 mm", speed="70 rpm", **M30))
    assert plan.figures["stop_time_s"] == pytest.approx(0.8489, abs=1e-4)
    assert "rpm_most" not in plan.figures
    assert any("by hand" in caution for caution in set(plan.cautions) - set(make_plan(thread(**M30)).cautions))


def test_the_stop_time_of_a_pointed_tool_matches_a_hand_calculation() -> None:
    """t = 60 w / (lead rpm), derived.

    A tool of no width in 3 mm of relief, at a lead of 1.5 mm and 60 rpm, has 2.0 s.
    """
    plan = make_plan(thread(thread="M12x1.5", relief="3 mm", speed="60 rpm"))
    half_width = plan.figures["tool_width_mm"] / 2
    assert plan.figures["stop_time_s"] == pytest.approx(60 * (3 - half_width) / (1.5 * 60))
    assert 60 * 3 / (1.5 * 60) == 2.0


def test_the_steps_of_a_thread_are_planned_in_the_order_of_work() -> None:
    """Touch off, set the carriage dial, dry run, scratch pass, cut, spring, measure, cut, spring, try, deburr."""
    plan = make_plan(thread(relief="5 mm", **M30))
    actions = [step.action for step in plan.steps]
    first_cut, measure = actions.index("cut"), actions.index("measure")
    zeroes = [step.zeroed_dials for step in plan.steps[:first_cut] if step.zeroed_dials]
    assert zeroes == [("compound",), ("cross_slide",), ("carriage",)]
    assert plan.steps[first_cut - 2].text.startswith("Dry run")
    assert "Scratch pass" in plan.steps[first_cut - 1].text
    assert actions[measure - 1] == "spring"
    assert "cut" in actions[measure:]
    assert actions[-4:] == ["spring", "spring", "measure", "check"]


def test_the_first_measurement_comes_a_tenth_of_a_millimetre_before_the_limits() -> None:
    """The thread is then at least 0.1 mm above its largest pitch diameter, 27.674 mm (ISO 965-2)."""
    plan = make_plan(thread(**M30))
    measure = [step.action for step in plan.steps].index("measure")
    before = next(step for step in reversed(plan.steps[:measure]) if step.action == "cut")
    over_mm = 2 * (plan.figures["depth_mm"] - (before.depth_mm or 0)) + 27.568
    assert over_mm >= 27.674 + 0.1 - 1e-9


def test_a_scratch_pass_is_at_least_two_hundredths_of_a_millimetre_deep() -> None:
    """0.02 mm deep at 29 degrees is 0.0229 mm of travel, so the pass ends at the second mark of 0.02 mm, 0.04."""
    plan = make_plan(thread(**M30))
    scratch = next(step for step in plan.steps if "Scratch" in step.text)
    assert position(scratch, "compound") == 0.04
    assert position(scratch, "cross_slide") == 0


@pytest.mark.parametrize(("zero", "reading"), [("parallel", 61.0), ("perpendicular", 29.0)])
def test_the_compound_angle_is_converted_to_the_reading_of_its_scale(zero: str, reading: float) -> None:
    """29 degrees off square reads 61 on a scale with its zero parallel to the axis: common practice, no source."""
    plan = make_plan(thread(lathe(compound={"scale_zero": zero}), **M30))
    assert plan.figures["scale_reading_deg"] == reading


@pytest.mark.parametrize(
    ("compound_angle", "said", "steps"),
    [
        ("0 deg", 0, False),
        ("15 deg", 0, False),
        ("29.5 deg", 0, False),
        ("30 deg", 1, False),
        ("31 deg", 1, True),
        ("35 deg", 1, True),
    ],
)
def test_a_compound_angle_above_the_half_angle_of_the_thread_gets_a_caution(
    compound_angle: str, said: int, steps: bool
) -> None:
    """A larger angle steps the trailing flank: common practice, no source.

    30 degrees is the limit for a 60 degree thread.
    """
    plan = make_plan(thread(compound_angle=compound_angle, **M30))
    assert ("trailing_step_mm" in plan.figures) == steps
    assert len([caution for caution in plan.cautions if "trailing" in caution]) == said


def test_the_size_of_the_step_cut_into_the_trailing_flank_matches_a_hand_calculation() -> None:
    """At 31 degrees on a half angle of 30, the step is tan 31 - tan 30 = 0.023511 mm for each mm of depth (derived)."""
    plan = make_plan(thread(compound_angle="31 deg", **M30))
    largest = max(step.removed_mm or 0 for step in cuts(plan))
    assert plan.figures["trailing_step_mm"] == pytest.approx(largest * 0.023511, rel=1e-3)


def test_a_whitworth_thread_gets_a_compound_angle_of_27_degrees() -> None:
    """The half angle is 27.5 degrees, so the compound gets the largest whole mark below, 27 degrees."""
    assert make_plan(thread(thread="1/2 BSW")).figures["compound_angle_deg"] == 27


def test_cuts_with_straight_infeed_set_only_the_cross_slide() -> None:
    """Every cut sets no other dial. In steel a caution says that both flanks cut."""
    plan = make_plan(thread(infeed="straight", material="mild steel", **M30))
    assert all([setting.dial for setting in step.settings] == ["cross_slide"] for step in cuts(plan))
    assert any("both flanks" in caution for caution in plan.cautions)
    soft = make_plan(thread(infeed="straight", material="acetal plastic", **M30))
    assert not any("both flanks" in caution for caution in soft.cautions)


def test_dial_readings_decrease_while_a_bore_is_threaded() -> None:
    """The infeed is outwards, so the dial counts down from zero, by whole turns and the remainder."""
    plan = make_plan(thread(thread="M20x1.5-6H", blank="18.5 mm"))
    for step in cuts(plan):
        setting = step.settings[0]
        assert isinstance(setting, Setting) and setting.position < 0 and setting.turns == -1
        assert setting.reading == pytest.approx(setting.position + 2)


SHARPNESS = [
    ({"tool_flat": "0.05 mm"}, "sharper"),
    ({"tool_radius": "0.505 mm"}, ""),
    ({"tool_flat": "0.80 mm"}, "blunter"),
    ({"tool_flat": "1.20 mm"}, "too blunt"),
]


@pytest.mark.parametrize(("tool", "how"), SHARPNESS)
def test_a_tool_tip_that_does_not_suit_the_standards_root_gets_a_caution(tool: dict[str, str], how: str) -> None:
    """The root radius is H/6 = 0.1443 P = 0.505 mm (ISO 68-1); the mating crest needs H/4 below the pitch line.

    A flat of P/4 = 0.875 mm reaches exactly H/4. A narrower flat clears the mating crest, a wider flat binds.
    """
    plan = make_plan(thread(thread="M30x3.5-6g", blank="29.85 mm", **tool))
    words = [caution for caution in plan.cautions if "sharper" in caution or "blunt" in caution]
    assert [how in word for word in words] == ([True] if how else [])


def test_a_blank_outside_the_limits_of_the_major_diameter_gets_a_caution() -> None:
    """The limits are 29.522 mm and 29.947 mm (ISO 965-2)."""
    fat = make_plan(thread(thread="M30x3.5-6g", blank="30.10 mm"))
    thin = make_plan(thread(thread="M30x3.5-6g", blank="29.40 mm"))
    usual = set(make_plan(thread(thread="M30x3.5-6g", blank="29.85 mm")).cautions)
    assert any({"0.153", "29.947"} <= figures(caution) for caution in set(fat.cautions) - usual)
    assert any({"0.122", "29.522"} <= figures(caution) for caution in set(thin.cautions) - usual)


def test_a_relief_that_is_too_shallow_or_too_narrow_gets_a_caution() -> None:
    """The relief must be deeper than the root and wider than the tool. The caution states the size."""
    shallow = make_plan(thread(relief="5 mm", relief_diameter="25.5 mm", **M30))
    assert any("25.057" in figures(caution) for caution in shallow.cautions)
    narrow = make_plan(thread(relief="3 mm", **M30))
    assert any("3.068" in figures(caution) for caution in narrow.cautions)


def test_a_plan_without_a_dial_mark_inside_the_limits_has_a_caution() -> None:
    """Marks of 0.5 mm are too coarse for a tolerance of 0.2 mm. The nearest mark is planned."""
    coarse = lathe(dial={**example_lathe().data["dial"], "compound": {"graduation": "0.5 mm", "reads": "travel"}})
    plan = make_plan(thread(coarse, thread="M10", blank="9.85 mm"))
    # A mark on the flank is 0.5 cos 29 on the radius, twice that on the diameter; 8.994 - 8.862 (ISO 965-2).
    assert any({"0.875", "0.132"} <= figures(caution) for caution in plan.cautions)


def test_a_spindle_speed_that_the_lathe_lacks_gets_a_caution() -> None:
    """The caution lists the speeds of the lathe."""
    plan = make_plan(thread(speed="90 rpm", **M30))
    assert any({"90", "70", "115"} <= figures(caution) for caution in plan.cautions)


@given(
    designation=st.sampled_from(["M6", "M10", "M30x3.5-6g", "1/2-13 UNC-2A", "1/4-20 UNC-2B", "M20x1.5-6H", "1/2 BSW"]),
    flat=st.floats(0, 0.1),
    compound_angle=st.integers(0, 29),
    straight=st.booleans(),
    numbers=st.sampled_from(["rise", "fall"]),
    reads=st.sampled_from(["travel", "diameter"]),
    graduation=st.sampled_from(["0.01 mm", "0.02 mm", "0.05 mm", "0.001 in"]),
)
def test_passes_get_steadily_deeper_down_to_the_wanted_depth(
    designation: str, flat: float, compound_angle: int, straight: bool, numbers: str, reads: str, graduation: str
) -> None:
    """The last depth is at the mark nearest to the wanted depth.

    Positions lie on marks, and the depths of passes add up.
    """
    per_turn = "0.1 in" if graduation.endswith("in") else "2 mm"
    dial = {"per_turn": per_turn, "graduation": graduation, "numbers": numbers}
    its = lathe(
        dial={"compound": {**dial, "reads": "travel"}, "cross_slide": {**dial, "reads": reads}},
    )
    keys: dict[str, Any] = {"thread": designation, "tool_flat": f"{flat:.3f} mm"}
    keys |= {"infeed": "straight"} if straight else {"compound_angle": f"{compound_angle} deg"}
    plan = make_plan(thread(its, **keys))
    name = "cross_slide" if straight else "compound"
    mark = its.dials[name].mark_mm * (1 if straight else math.cos(math.radians(compound_angle)))
    depth = 0.0
    for step in cuts(plan):
        assert step.depth_mm is not None and step.removed_mm is not None and step.remaining_mm is not None
        assert step.depth_mm == pytest.approx(depth + step.removed_mm)
        assert step.removed_mm > 0
        depth = step.depth_mm
        marks = Fraction(position(step, name)).limit_denominator(10**6) / its.dials[name].graduation
        assert marks.denominator == 1
        assert abs(marks) * mark == pytest.approx(depth)
    assert abs(depth - plan.figures["depth_mm"]) <= mark / 2 + 1e-9
    assert cuts(plan)[-1].remaining_mm == pytest.approx(0)


def after_first_measurement(
    plan_input: PlanInput, given_: dict[str, Any], cause: str = "measured"
) -> tuple[Plan, tuple[Step, ...]]:
    """Return a plan, and the steps that replace its remaining steps after the first measurement."""
    plan = make_plan(plan_input)
    at = [step.action for step in plan.steps].index("measure")
    now = progress_of(plan.steps[:at], plan.steps[at:], len(plan.steps) + 1)
    return plan, replan(plan_input, now, input_from_data(cause, given_))


def test_the_plan_continues_from_a_measured_pitch_diameter() -> None:
    """0.2 mm above the middle of the limits is 0.1 mm radial, or 0.1 / cos 29 = 0.114 mm of travel: 6 marks."""
    plan, steps = after_first_measurement(thread(**M30), {"pitch_diameter_mm": 27.768})
    at = [step.action for step in plan.steps].index("measure")
    stood = next(position(step, "compound") for step in reversed(plan.steps[:at]) if step.action == "cut")
    rest = [step for step in steps if step.action == "cut"]
    assert position(rest[-1], "compound") == pytest.approx(stood + 0.12)
    assert [step.action for step in steps][-4:] == ["spring", "spring", "measure", "check"]
    assert steps[0].id == len(plan.steps) + 1


def test_a_tapered_thread_gets_spring_passes_before_any_deeper_pass() -> None:
    """The free end is 0.05 mm fatter, so two spring passes and a measurement come first."""
    _, steps = after_first_measurement(thread(**M30), {"pitch_diameter_mm": {"shoulder": 27.70, "free": 27.75}})
    assert [step.action for step in steps[:3]] == ["spring", "spring", "measure"]
    assert any("0.05" in figures(caution) for caution in steps[0].findings)


def test_a_thread_below_its_minimum_pitch_diameter_gets_no_more_cuts() -> None:
    """The least pitch diameter is 27.462 mm (ISO 965-2). A sentence states by how much the thread is too small."""
    _, steps = after_first_measurement(thread(**M30), {"pitch_diameter_mm": 27.40})
    assert not any(step.action == "cut" for step in steps)
    assert "0.062" in figures(steps[0].findings[0])


def test_after_a_gauge_that_does_not_go_the_next_cut_is_one_mark_deeper() -> None:
    """A spring pass follows the extra mark. If the gauge goes, nothing more is cut."""
    _, tight = after_first_measurement(thread(**M30), {"fit": "does not go"}, "fit")
    assert [step.action for step in tight] == ["cut", "spring", "measure", "check"]
    assert tight[0].removed_mm == pytest.approx(0.02 * math.cos(math.radians(29)))
    _, goes = after_first_measurement(thread(**M30), {"fit": "goes"}, "fit")
    assert [step.action for step in goes] == ["check"]


def test_a_picked_up_thread_is_measured_before_any_further_cut() -> None:
    """The measurement gives the depth. Both dials count from their present readings."""
    _, steps = after_first_measurement(thread(**M30), {}, "picked up")
    assert not any(step.action == "cut" for step in steps)
    assert [step.zeroed_dials for step in steps if step.zeroed_dials] == [("compound",), ("cross_slide",)]
    assert [step.required for step in steps if step.action == "measure"] == [True]


def test_the_plan_continues_from_a_pass_set_deeper_than_planned() -> None:
    """The pass is cut at the mark that was set, and the later passes are planned from this mark."""
    plan_input = thread(**M30)
    plan = make_plan(plan_input)
    first = [step.action for step in plan.steps].index("cut")
    now = progress_of(plan.steps[:first], plan.steps[first:], 99)
    steps = replan(plan_input, now, set_to("0.5"))
    assert position(steps[0], "compound") == 0.5
    assert position([step for step in steps if step.action == "cut"][-1], "compound") == 2.74


def test_indicator_readings_are_refused_as_a_measurement_of_a_thread() -> None:
    """A thread is measured by its sizes, not by indicator readings."""
    with pytest.raises(PlanError):
        after_first_measurement(thread(**M30), {"readings_mm": [0.1, 0.2]})


def test_all_problems_of_a_thread_are_reported_together() -> None:
    """A tool too wide, a number of passes of 0 and an unknown key give three sentences."""
    with pytest.raises(FileError) as refusal:
        make_plan(thread(thread="M30x3.5-6g", tool_flat="4 mm", passes=0, colour="blue"))
    assert len(refusal.value.messages) == 3
