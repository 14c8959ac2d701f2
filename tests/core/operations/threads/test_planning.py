"""The plan of a thread: order of work, settings on the user's own dials, cautions, planning again."""

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
from core.operations.registry import PlanInput, make_plan, replan
from core.plan import Plan, Step
from core.values.dials import Setting
from core.values.errors import FileError, PlanError
from tests.core.entered import set_to
from tests.core.figures import figures

M30 = {"thread": "M30x3.5-6g", "blank": "29.85 mm", "tool_flat": "0.30 mm"}


def lathe(**changes: Any) -> Lathe:
    """Return the example lathe with some tables of its file changed."""
    data = dict(example_lathe().data)
    for key, table in changes.items():
        data[key] = {**data.get(key, {}), **table} if isinstance(table, dict) else table
    return lathe_from(data, "test")


def thread(its_lathe: Lathe | None = None, material: str | None = None, **keys: Any) -> PlanInput:
    """Return the plan input of a `thread` operation."""
    parameters = {"kind": "thread", "name": "it", **keys}
    return PlanInput(kind="thread", parameters=parameters, lathe=its_lathe or lathe(), material=material)


def cuts(plan: Plan) -> list[Step]:
    """Return the cut steps."""
    return [step for step in plan.steps if step.action == "cut"]


def position(step: Step, dial: str) -> float:
    """Return the position to which a step sets a dial."""
    setting = step.setting(dial)
    assert setting is not None
    return float(setting.position)


def test_compound_travel_matches_hand_calculation() -> None:
    """M30x3.5-6g as in test_tool: 2.396737 deep; at 29 degrees 2.396737 / cos 29 = 2.740319 of travel.

    In marks of 0.02 mm the nearest is 137: 2.74, which is 1 turn of 2 mm and 0.74.
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


def test_stop_time_matches_hand_calculation() -> None:
    """Groove 5 mm, tool 3.0675 wide, 70 rpm at a lead of 3.5: (5 - 1.53376) / (3.5 x 70 / 60) = 0.8489 s.

    For 1 s at most 60 x 3.46624 / 3.5 = 59.4 rpm: slower than this lathe goes.
    """
    plan = make_plan(thread(relief="5 mm", relief_diameter="24.5 mm", speed="70 rpm", **M30))
    assert plan.figures["stop_time_s"] == pytest.approx(0.8489, abs=1e-4)
    assert "rpm_most" not in plan.figures
    assert any("by hand" in caution for caution in set(plan.cautions) - set(make_plan(thread(**M30)).cautions))


def test_shoulder_times_match_trade_practice() -> None:
    """t = 60 w / (lead rpm), derived: with a tool of no width, 3 mm at a lead of 1.5 and 60 rpm is 2.0 s."""
    plan = make_plan(thread(thread="M12x1.5", relief="3 mm", speed="60 rpm"))
    half_width = plan.figures["tool_width_mm"] / 2
    assert plan.figures["stop_time_s"] == pytest.approx(60 * (3 - half_width) / (1.5 * 60))
    assert 60 * 3 / (1.5 * 60) == 2.0


def test_steps_are_in_the_order_of_work() -> None:
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


def test_first_measurement_is_a_tenth_above_the_largest_pitch_diameter() -> None:
    """At least 0.1 mm is left on the diameter above 27.674 (ISO 965-2) at the first measurement."""
    plan = make_plan(thread(**M30))
    measure = [step.action for step in plan.steps].index("measure")
    before = next(step for step in reversed(plan.steps[:measure]) if step.action == "cut")
    over_mm = 2 * (plan.figures["depth_mm"] - (before.depth_mm or 0)) + 27.568
    assert over_mm >= 27.674 + 0.1 - 1e-9


def test_scratch_pass_ends_at_the_first_mark_from_two_hundredths() -> None:
    """0.02 mm deep at 29 degrees is 0.0229 of travel: the second mark of 0.02 mm, 0.04."""
    plan = make_plan(thread(**M30))
    scratch = next(step for step in plan.steps if "Scratch" in step.text)
    assert position(scratch, "compound") == 0.04
    assert position(scratch, "cross_slide") == 0


@pytest.mark.parametrize(("zero", "reading"), [("parallel", 61.0), ("perpendicular", 29.0)])
def test_compound_angle_is_shown_as_its_scale_reads(zero: str, reading: float) -> None:
    """29 degrees off square reads 61 on a scale with its zero parallel: common practice, no source."""
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
def test_steep_compound_angle_gets_a_caution_about_the_trailing_flank(
    compound_angle: str, said: int, steps: bool
) -> None:
    """Up to 30 degrees makes a good 60 degree thread, beyond it is stepped: common practice, no source."""
    plan = make_plan(thread(compound_angle=compound_angle, **M30))
    assert ("trailing_step_mm" in plan.figures) == steps
    assert len([caution for caution in plan.cautions if "trailing" in caution]) == said


def test_the_step_left_on_the_trailing_flank_matches_hand_calculation() -> None:
    """31 degrees on a half angle of 30 leave tan 31 - tan 30 = 0.023511 for each mm of depth, derived."""
    plan = make_plan(thread(compound_angle="31 deg", **M30))
    largest = max(step.removed_mm or 0 for step in cuts(plan))
    assert plan.figures["trailing_step_mm"] == pytest.approx(largest * 0.023511, rel=1e-3)


def test_a_whitworth_thread_gets_a_smaller_compound_angle() -> None:
    """Half angle 27.5: the largest whole mark below is 27."""
    assert make_plan(thread(thread="1/2 BSW")).figures["compound_angle_deg"] == 27


def test_straight_infeed_uses_only_the_cross_slide() -> None:
    """Every cut sets the cross-slide and nothing else; in steel a caution says that both flanks cut."""
    plan = make_plan(thread(infeed="straight", material="mild steel", **M30))
    assert all([setting.dial for setting in step.settings] == ["cross_slide"] for step in cuts(plan))
    assert any("both flanks" in caution for caution in plan.cautions)
    soft = make_plan(thread(infeed="straight", material="acetal plastic", **M30))
    assert not any("both flanks" in caution for caution in soft.cautions)


def test_dial_readings_of_a_bore_count_down() -> None:
    """For infeed outwards the dial counts down from zero, by whole turns and the rest."""
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
def test_tool_is_compared_with_the_root_of_the_standard(tool: dict[str, str], how: str) -> None:
    """Root radius H/6 = 0.1443 P = 0.505 mm (ISO 68-1 design profile); the mating crest needs H/4 below the pitch line.

    A flat of P/4 = 0.875 reaches exactly H/4: less clears, more binds.
    """
    plan = make_plan(thread(thread="M30x3.5-6g", blank="29.85 mm", **tool))
    words = [caution for caution in plan.cautions if "sharper" in caution or "blunt" in caution]
    assert [how in word for word in words] == ([True] if how else [])


def test_a_blank_beyond_the_major_limits_gets_a_caution() -> None:
    """The limits are 29.522 and 29.947 (ISO 965-2)."""
    fat = make_plan(thread(thread="M30x3.5-6g", blank="30.10 mm"))
    thin = make_plan(thread(thread="M30x3.5-6g", blank="29.40 mm"))
    usual = set(make_plan(thread(thread="M30x3.5-6g", blank="29.85 mm")).cautions)
    assert any({"0.153", "29.947"} <= figures(caution) for caution in set(fat.cautions) - usual)
    assert any({"0.122", "29.522"} <= figures(caution) for caution in set(thin.cautions) - usual)


def test_a_shallow_or_narrow_relief_gets_a_caution() -> None:
    """A relief not deeper than the root, or not wider than the tool, gets a caution with its size."""
    shallow = make_plan(thread(relief="5 mm", relief_diameter="25.5 mm", **M30))
    assert any("25.057" in figures(caution) for caution in shallow.cautions)
    narrow = make_plan(thread(relief="3 mm", **M30))
    assert any("3.068" in figures(caution) for caution in narrow.cautions)


def test_no_mark_inside_the_limits_gets_a_caution() -> None:
    """A dial of 0.5 mm marks has none inside a tolerance of 0.2 mm: the nearest is planned, with a caution."""
    coarse = lathe(dial={**example_lathe().data["dial"], "compound": {"graduation": "0.5 mm", "reads": "travel"}})
    plan = make_plan(thread(coarse, thread="M10", blank="9.85 mm"))
    # A mark on the flank is 0.5 cos 29 on the radius, twice that on the diameter; 8.994 - 8.862 (ISO 965-2).
    assert any({"0.875", "0.132"} <= figures(caution) for caution in plan.cautions)


def test_a_speed_that_the_lathe_lacks_gets_a_caution() -> None:
    """The sentence lists the speeds that the lathe has."""
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
def test_every_plan_gets_deeper_and_ends_at_the_wanted_depth(
    designation: str, flat: float, compound_angle: int, straight: bool, numbers: str, reads: str, graduation: str
) -> None:
    """Depths grow to the mark nearest the wanted one; positions lie on marks; what is removed adds up."""
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
    """Return a plan, and the steps that replace its open ones after the first measurement."""
    plan = make_plan(plan_input)
    at = [step.action for step in plan.steps].index("measure")
    now = progress_of(plan.steps[:at], plan.steps[at:], len(plan.steps) + 1)
    return plan, replan(plan_input, now, input_from_data(cause, given_))


def test_the_plan_continues_from_a_measurement() -> None:
    """Measured 0.2 mm above the middle of the limits: 0.1 mm radial, 0.1 / cos 29 = 0.114 of travel: 6 marks on."""
    plan, steps = after_first_measurement(thread(**M30), {"pitch_diameter_mm": 27.768})
    at = [step.action for step in plan.steps].index("measure")
    stood = next(position(step, "compound") for step in reversed(plan.steps[:at]) if step.action == "cut")
    rest = [step for step in steps if step.action == "cut"]
    assert position(rest[-1], "compound") == pytest.approx(stood + 0.12)
    assert [step.action for step in steps][-4:] == ["spring", "spring", "measure", "check"]
    assert steps[0].id == len(plan.steps) + 1


def test_the_thicker_end_decides_and_taper_is_reported() -> None:
    """The free end 0.05 mm fatter: spring or taper, two spring passes and measuring first, not more infeed."""
    _, steps = after_first_measurement(thread(**M30), {"pitch_diameter_mm": {"shoulder": 27.70, "free": 27.75}})
    assert [step.action for step in steps[:3]] == ["spring", "spring", "measure"]
    assert any("0.05" in figures(caution) for caution in steps[0].findings)


def test_overshoot_is_reported() -> None:
    """Below the least pitch diameter, 27.462 (ISO 965-2), nothing more is cut and the amount is reported."""
    _, steps = after_first_measurement(thread(**M30), {"pitch_diameter_mm": 27.40})
    assert not any(step.action == "cut" for step in steps)
    assert "0.062" in figures(steps[0].findings[0])


def test_a_trial_adds_a_step_until_the_gauge_goes() -> None:
    """If the gauge does not go, one more mark and a spring pass are planned. If it goes, nothing more is cut."""
    _, tight = after_first_measurement(thread(**M30), {"fit": "does not go"}, "fit")
    assert [step.action for step in tight] == ["cut", "spring", "measure", "check"]
    assert tight[0].removed_mm == pytest.approx(0.02 * math.cos(math.radians(29)))
    _, goes = after_first_measurement(thread(**M30), {"fit": "goes"}, "fit")
    assert [step.action for step in goes] == ["check"]


def test_after_picking_up_a_measurement_gives_the_depth() -> None:
    """No cut is planned before the thread is measured again. Both dials count from their present readings."""
    _, steps = after_first_measurement(thread(**M30), {}, "picked up")
    assert not any(step.action == "cut" for step in steps)
    assert [step.zeroed_dials for step in steps if step.zeroed_dials] == [("compound",), ("cross_slide",)]
    assert [step.required for step in steps if step.action == "measure"] == [True]


def test_the_plan_continues_from_a_deeper_setting() -> None:
    """The pass is cut at the mark that was set, and the later passes are planned from there."""
    plan_input = thread(**M30)
    plan = make_plan(plan_input)
    first = [step.action for step in plan.steps].index("cut")
    now = progress_of(plan.steps[:first], plan.steps[first:], 99)
    steps = replan(plan_input, now, set_to("0.5"))
    assert position(steps[0], "compound") == 0.5
    assert position([step for step in steps if step.action == "cut"][-1], "compound") == 2.74


def test_indicator_readings_are_refused_for_a_thread() -> None:
    """An input that a thread has no use for is refused."""
    with pytest.raises(PlanError):
        after_first_measurement(thread(**M30), {"readings_mm": [0.1, 0.2]})


def test_all_problems_of_an_operation_are_listed() -> None:
    """A tool too wide, no passes and an unknown key give three sentences."""
    with pytest.raises(FileError) as refusal:
        make_plan(thread(thread="M30x3.5-6g", tool_flat="4 mm", passes=0, colour="blue"))
    assert len(refusal.value.messages) == 3
