"""The `divide` operation: refusals, its plan on a simulated table, planning again, and finding a position."""

import math
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.cutting import progress_of
from core.inputs import Edited, GaugeTried, Measured, Moved, PickedUp, RunInput
from core.lathe.lathe import Lathe
from core.operations.dividing.find_position import find_position, read_notch, read_place, table_angle_deg
from core.operations.dividing.operation import plan_divide, replan_divide
from core.plan import MOST_STEPS, Plan, PlateSetting, Step
from core.values.dials import Setting
from core.values.errors import PlanError, QuantityError
from tests.core.entered import set_to
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import divide_job, divide_problems, lathe_with

DEEP = {"depth": "2 mm", "cut": "0.5 mm", "depth_dial": "cross_slide"}


def plan(lathe: Lathe, **keys: Any) -> Plan:
    """Return the plan of a `divide` operation with the given keys of a job file."""
    return plan_divide(divide_job(lathe, **keys), lathe, None)


def positions(steps: tuple[Step, ...] | list[Step]) -> list[Step]:
    """Return the steps that turn to a position."""
    return [step for step in steps if step.action == "index"]


def cuts(steps: tuple[Step, ...] | list[Step]) -> list[Step]:
    """Return the cutting steps."""
    return [step for step in steps if step.action == "cut"]


def at_depth(steps: list[Step]) -> list[tuple[int, float]]:
    """Return the position and the cross-slide reading of every cut, in order."""
    found = []
    for step in cuts(steps):
        setting = step.setting("cross_slide")
        assert setting is not None
        found.append((step.at.position, float(setting.position)))
    return found


REFUSED: list[Any] = [
    ({"divisions": 0}, "divisions"),
    ({"divisions": 1}, "divisions"),
    ({"divisions": 10_000}, "divisions"),
    ({"divisions": 2.5}, "divisions"),
    ({"divisions": "12"}, "divisions"),
    ({}, "divisions"),
    ({"divisions": 5, "angles": ["0 deg"]}, "angles"),
    ({"angles": ["0 deg", "90 deg", "0 deg"]}, "angles"),
    ({"angles": ["0 deg", "90 deg", "360 deg"]}, "angles"),
    ({"angles": ["0 deg", "90"]}, "angles"),
    ({"angles": ["0 deg", "90 mm"]}, "angles"),
    ({"angles": ["0 deg", "400 deg"]}, "angles"),
    ({"angles": "0 deg"}, "angles"),
    ({"divisions": 5, "start": "10 mm"}, "start"),
    ({"divisions": 5, "with": "gears"}, "with"),
    ({"divisions": 5, "with": "plate"}, "with"),
    ({"divisions": 5, "radius": "0 mm"}, "radius"),
    ({"divisions": 5, "sense": "left"}, "sense"),
    ({"divisions": 5, **DEEP, "depth": "-1 mm"}, "depth"),
    ({"divisions": 5, **DEEP, "cut": "0 mm"}, "cut"),
    ({"divisions": 5, **DEEP, "depth_dial": "quill"}, "depth_dial"),
    ({"divisions": 5, "depth": "1 mm"}, "depth_dial"),
    ({"divisions": 5, "cut": "1 mm"}, "cut"),
    ({"divisions": 5, **DEEP, "order": "spiral"}, "order"),
    ({"divisions": 5, "colour": "red"}, "colour"),
]


@pytest.mark.parametrize(("keys", "key"), REFUSED)
def test_each_refusal_of_a_dividing_operation_names_the_wrong_key(keys: dict[str, Any], key: str) -> None:
    """Every refusal names the wrong key, and the value found or the values accepted."""
    _, problems = divide_problems(lathe_with(), **keys)
    assert [problem.key for problem in problems] == [key]
    assert problems[0].message.isprintable()


def test_dividing_on_a_lathe_without_a_rotary_table_is_refused() -> None:
    """If the lathe file has no rotary table, the refusal says so."""
    _, problems = divide_problems(replace(lathe_with(), rotary_table=None), divisions=5)
    assert "[rotary_table]" in problems[0].message


def test_all_problems_of_a_dividing_operation_are_reported_together() -> None:
    """Three wrong keys give three problems together."""
    _, problems = divide_problems(lathe_with(), divisions=1, start="x", order="y")
    assert [problem.key for problem in problems] == ["divisions", "start", "order"]


def test_the_text_of_a_position_states_whole_turns_and_a_dial_reading() -> None:
    """For 36 positions at 72:1, position 17 is two turns past position 16: reading 0, and 32 turns from zero."""
    step = positions(plan(lathe_with(72), divisions=36).steps)[16]
    assert figures(step.text) == {"17", "36", "2", "0°00'", "32", "160°00'"}
    assert step.extra["angle_deg"] == 160


@settings(deadline=None)
@given(
    st.sampled_from((36, 40, 60, 72, 90)),
    st.integers(2, 60),
    st.integers(-360, 360),
    st.booleans(),
    st.sampled_from(("dial", "plate")),
)
def test_a_simulated_table_reaches_every_planned_position(
    ratio: int, count: int, start: int, falling: bool, way: str
) -> None:
    """A simulated worm follows each step. It reaches every position within the error stated for that position."""
    lathe = lathe_with(ratio, minutes=1, plates=True)
    keys = {"divisions": count, "start": f"{start} deg", "with": way, "sense": "falling" if falling else "rising"}
    found = positions(plan(lathe, **keys).steps)
    assert len(found) == count
    for number, step in enumerate(found):
        setting = step.settings[0]
        if isinstance(setting, Setting):
            assert setting.turns is not None and setting.reading is not None
            stands = setting.turns * 360 / ratio + setting.reading
        else:
            stands = (setting.turns + setting.holes / (setting.circle or 1)) * 360 / ratio
        wanted = start + (-1 if falling else 1) * number * 360 / count
        assert step.extra["angle_deg"] == pytest.approx(wanted, abs=1e-9)
        assert (stands - wanted) * 3600 == pytest.approx(step.extra["error_arcsec"], abs=1e-5)


def test_the_errors_of_a_division_match_a_hand_calculation() -> None:
    """For 7 positions on a dial of minutes the largest error is 25.71 seconds, or 0.0125 mm at a radius of 100 mm.

    One second at 100 mm is 0.000485 mm.
    """
    found = plan(lathe_with(90, minutes=1), divisions=7, radius="100 mm")
    figures = found.figures
    assert figures["worst_error_arcsec"] == pytest.approx(25.714, abs=6e-4)
    assert figures["worst_error_mm"] == pytest.approx(25.714 * 4.848137e-6 * 100, abs=1e-6)
    assert figures["worst_neighbour_error_arcsec"] <= 60
    second = positions(found.steps)[1].extra
    assert second["error_mm"] == pytest.approx(17.143 * 4.848137e-6 * 100, abs=1e-6)
    assert "worst_error_mm" not in plan(lathe_with(), divisions=7).figures


def test_the_largest_spacing_error_is_the_largest_difference_between_errors_of_neighbouring_positions() -> None:
    """The errors of consecutive positions are compared, including the step from last to first."""
    found = plan(lathe_with(90, minutes=1), divisions=97)
    errors = [step.extra["error_arcsec"] for step in positions(found.steps)]
    largest = max(abs(after - before) for before, after in zip(errors, [*errors[1:], errors[0]], strict=True))
    assert found.figures["worst_neighbour_error_arcsec"] == pytest.approx(largest, abs=1e-6)


def test_cautions_state_the_error_of_repeating_a_rounded_step_and_the_backlash() -> None:
    """The cautions say not to repeat a rounded step and to take up backlash from below. General safety is included."""
    found = plan(lathe_with(90, minutes=1), divisions=7)
    assert {"0°02'", "0°03'"} <= figures(" ".join(found.cautions))
    assert positions(found.steps)[0].cautions
    assert "0°02'" not in " ".join(plan(lathe_with(90, minutes=1), divisions=36).cautions)


def test_if_no_hole_circle_is_exact_an_exact_pair_of_circles_is_named() -> None:
    """51 at 40:1 is exact on no single circle but on two circles of one plate. Each position gives both movements."""
    found = plan(lathe_with(40, minutes=None, plates=True), divisions=51)
    assert {"10", "15", "2", "17"} <= figures(found.cautions[1])
    plates = [step.settings[0] for step in positions(found.steps)]
    compound = [setting.compound for setting in plates if isinstance(setting, PlateSetting)]
    assert compound[0] is None
    assert compound[1:] == [{"circles": [15, 17], "holes": [10, 2], "turns": 0}] * 50


def test_settings_of_a_direct_index_plate_are_counted_in_notches() -> None:
    """With 24 notches, 8 divisions use every third notch."""
    found = positions(plan(lathe_with(40, direct=(24,)), divisions=8, with_="direct").steps)
    plates = [step.settings[0] for step in found]
    assert [setting.holes for setting in plates if isinstance(setting, PlateSetting)] == list(range(0, 24, 3))
    assert {setting.move for setting in plates[1:] if isinstance(setting, PlateSetting)} == {(0, 3)}
    with pytest.raises(PlanError):
        plan(lathe_with(40, direct=(24,)), divisions=7, with_="direct")


def test_cutting_in_rounds_cuts_every_position_before_any_position_is_cut_deeper() -> None:
    """3 positions, 2 mm in cuts of 0.5: all at 0.5, then all at 1.0, and so on. A diameter dial ends at 4 mm."""
    steps = list(plan(lathe_with(), divisions=3, **DEEP).steps)
    depths = [depth for depth in (1.0, 2.0, 3.0, 4.0) for _ in range(3)]
    assert at_depth(steps) == list(zip([1, 2, 3] * 4, depths, strict=True))
    assert len(positions(steps)) == 12


@pytest.mark.parametrize(("sense", "move"), [("rising", (10, 0)), ("falling", (-10, 0))])
def test_each_round_of_cuts_turns_the_table_in_the_same_direction(sense: str, move: tuple[int, int]) -> None:
    """With 4 positions at 40:1 the table always turns on by a quarter turn, and never back by three quarters."""
    lathe = lathe_with(40, minutes=None, plates=True)
    found = positions(plan(lathe, divisions=4, with_="plate", sense=sense, **DEEP).steps)
    moves = [setting.move for step in found for setting in step.settings if isinstance(setting, PlateSetting)]
    assert moves == [None, *[move] * 15]


def test_cutting_by_position_finishes_each_position_before_the_next() -> None:
    """Each of 3 positions is cut to full depth before the table turns to the next one."""
    steps = list(plan(lathe_with(), divisions=3, **DEEP, order="position").steps)
    assert at_depth(steps) == [(number, depth) for number in (1, 2, 3) for depth in (1.0, 2.0, 3.0, 4.0)]
    assert len(positions(steps)) == 3


@settings(deadline=None)
@given(st.floats(0.05, 8), st.floats(0.03, 3), st.integers(2, 12), st.sampled_from(("round", "position")))
def test_the_passes_at_every_position_add_up_to_the_wanted_depth(
    depth: float, cut: float, count: int, order: str
) -> None:
    """At every position the passes add up to the depth within half a mark. None is deeper than the allowed cut.

    A single pass may be half a mark deeper, since the depth itself may be half a mark from the nearest mark.
    """
    depth, cut = round(depth, 3), round(cut, 3)
    keys = {"depth": f"{depth} mm", "cut": f"{cut} mm", "depth_dial": "cross_slide", "order": order}
    found = cuts(plan(lathe_with(), divisions=count, **keys).steps)
    for number in range(1, count + 1):
        here = [step for step in found if step.at.position == number]
        assert abs(sum(step.removed_mm or 0 for step in here) - depth) <= 0.0125 + 1e-9
        most_mm = depth + 0.0125 if cut >= depth else max(cut, 0.025)
        assert all(0 < (step.removed_mm or 0) <= most_mm + 1e-9 for step in here)
        assert cut < depth or len(here) == 1
        assert here[-1].remaining_mm == pytest.approx(0, abs=1e-12)
        assert here[-1].depth_mm == pytest.approx(sum(step.removed_mm or 0 for step in here))


def test_a_division_that_needs_too_many_steps_is_refused() -> None:
    """1050 positions in 10 passes are more steps than a run holds. They are refused before anything is planned."""
    with pytest.raises(PlanError, match=str(MOST_STEPS)):
        plan(lathe_with(), divisions=1050, depth="2 mm", cut="0.2 mm", depth_dial="cross_slide")
    with pytest.raises(PlanError, match=r"\bmark\b"):
        plan(lathe_with(), divisions=3, depth="0.01 mm", depth_dial="cross_slide")


def replanned(entered: RunInput, done: int, **keys: Any) -> tuple[list[Step], list[Step]]:
    """Return the steps that were open after `done` steps, and the steps that replace them."""
    lathe = lathe_with()
    job = divide_job(lathe, **{"divisions": 3, **DEEP, **keys})
    steps = plan_divide(job, lathe, None).steps
    progress = progress_of(steps[:done], steps[done:], 1000)
    new = replan_divide(job, lathe, None, progress, entered)
    assert [step.id for step in new] == list(range(1000, 1000 + len(new)))
    return list(steps[done:]), list(new)


MADE_UP_FOR = [
    *((number, depth) for number in (1, 2, 3) for depth in (1.6, 2.2)),
    *((number, depth) for depth in (3.2, 4.2) for number in (1, 2, 3)),
]
"""Position and reading of each remaining pass after a first round that was 0.1 mm too shallow."""


def test_a_depth_measured_too_shallow_after_a_round_of_cuts_deepens_all_later_rounds() -> None:
    """The first round is 0.4 mm deep instead of 0.5. The deeper rounds go 0.2 mm further on the diameter dial.

    The next depth is 0.6 mm away and only 0.5 mm may be cut in one pass, so each position gets two passes.
    """
    old, new = replanned(Measured(what="depth", size_mm=0.4), 9)
    assert old[0].text.startswith("1 of 3: turn on by 24 turns")
    assert at_depth(new) == MADE_UP_FOR
    assert [cut.removed_mm for cut in cuts(new)[:2]] == pytest.approx([0.3, 0.3])
    assert cuts(new)[-1].depth_mm == pytest.approx(2.0)


def test_a_depth_measured_during_a_round_of_cuts_corrects_only_the_later_rounds() -> None:
    """After a measurement at position 1 the other positions get the same reading. Only deeper rounds change."""
    _, new = replanned(Measured(what="depth", size_mm=0.4), 4)
    assert at_depth(new)[:2] == [(2, 1.0), (3, 1.0)]
    assert at_depth(new)[2:] == MADE_UP_FOR


def test_if_there_is_only_one_round_of_cuts_a_measured_depth_corrects_the_later_positions() -> None:
    """2 mm is wanted in one pass and 1.9 mm is measured. The later positions go 0.2 mm further on the diameter dial."""
    _, new = replanned(Measured(what="depth", size_mm=1.9), 4, cut="2 mm")
    assert at_depth(new) == [(2, 4.2), (3, 4.2)]
    assert "Repeat" in new[0].findings[0]


def test_when_cutting_by_position_a_measured_depth_corrects_all_later_passes() -> None:
    """The later passes at this position and at all others go 0.1 mm deeper on the radius."""
    _, new = replanned(Measured(what="depth", size_mm=0.9), 5, order="position")
    assert at_depth(new)[:3] == [(1, 2.6), (1, 3.2), (1, 4.2)]
    assert at_depth(new)[3:7] == [(2, 1.2), (2, 2.2), (2, 3.2), (2, 4.2)]
    assert [step.removed_mm for step in cuts(new)[:3]] == pytest.approx([0.3, 0.3, 0.5])


def test_planned_passes_shallower_than_the_measured_depth_are_dropped() -> None:
    """The first pass is 1.2 mm deep instead of 0.5. The pass to 1.0 mm is no longer needed at this position."""
    _, new = replanned(Measured(what="depth", size_mm=1.2), 4, order="position")
    assert [number for number, _ in at_depth(new)[:3]] == [1, 1, 2]
    assert [depth for _, depth in at_depth(new)[:2]] == pytest.approx([1.6, 2.6])
    assert [step.removed_mm for step in cuts(new)[:2]] == pytest.approx([0.3, 0.5])


def test_a_depth_measured_before_any_cut_is_refused() -> None:
    """Before the first pass at a position there is no depth."""
    with pytest.raises(PlanError):
        replanned(Measured(what="depth", size_mm=0.4), 2)


def test_planning_again_keeps_the_correction_from_a_measured_depth() -> None:
    """After a measurement and a dial set differently, the open steps still have the correction."""
    lathe = lathe_with()
    job = divide_job(lathe, divisions=3, **DEEP)
    steps = plan_divide(job, lathe, None).steps
    measured = replan_divide(
        job, lathe, None, progress_of(steps[:9], steps[9:], 100), Measured(what="depth", size_mm=0.4)
    )
    later = progress_of([*steps[:9], *measured[:1]], measured[1:], 200)
    new = list(replan_divide(job, lathe, None, later, set_to(2.25)))
    assert at_depth(new)[0] == (1, 2.25)
    assert at_depth(new)[1:] == at_depth(list(measured))[2:]


@pytest.mark.parametrize("order", ["round", "position"])
def test_a_pass_set_too_shallow_is_followed_by_a_pass_for_the_rest_of_its_depth(order: str) -> None:
    """0.2 of 0.5 mm is cut. The other 0.3 mm comes next, so that the pass after it does not take 0.8 mm."""
    old, new = replanned(set_to(0.4), 3, order=order)
    assert [step.removed_mm for step in cuts(new)[:2]] == pytest.approx([0.2, 0.3])
    assert at_depth(new)[1:] == at_depth(old)
    _, new = replanned(set_to(-0.4), 3, order=order)
    assert [step.removed_mm for step in cuts(new)[:2]] == pytest.approx([0.0, 0.5])


@pytest.mark.parametrize("order", ["round", "position"])
@given(measured=st.integers(20, 90))
def test_no_pass_after_a_depth_measurement_is_deeper_than_allowed(order: str, measured: int) -> None:
    """The dial says 0.5 mm, the user measures 0.20 to 0.90. No later pass takes more than 0.5 mm and half a mark."""
    done = 9 if order == "round" else 4
    _, new = replanned(Measured(what="depth", size_mm=measured / 100), done, order=order)
    assert all(0 < (step.removed_mm or 0.0) <= 0.5 + 0.025 / 2 for step in cuts(new))
    assert cuts(new)[-1].depth_mm == pytest.approx(2.0, abs=0.0126)


def test_touching_off_again_cancels_the_correction_that_a_measured_depth_caused() -> None:
    """The correction belonged to the old zero. After a move the dial counts from a new zero.

    The work is 0.4 mm deep whatever the zero is. The next 0.6 mm remain two passes, and the last one is as planned.
    """
    lathe = lathe_with()
    job = divide_job(lathe, divisions=3, **DEEP)
    steps = plan_divide(job, lathe, None).steps
    measured = replan_divide(
        job, lathe, None, progress_of(steps[:9], steps[9:], 100), Measured(what="depth", size_mm=0.4)
    )
    moved = replan_divide(job, lathe, None, progress_of(steps[:9], measured, 200), Moved())
    assert [mark for mark in at_depth(list(moved)) if mark in at_depth(list(steps[9:]))] == at_depth(list(steps[9:]))
    assert all((step.removed_mm or 0.0) <= 0.5 + 0.025 / 2 for step in cuts(list(moved)))


def test_a_measured_depth_beyond_the_wanted_depth_leaves_no_more_cuts() -> None:
    """The measured depth exceeds the whole depth. The positions that had this pass need no other."""
    _, new = replanned(Measured(what="depth", size_mm=2.5), 9)
    assert positions(new) == [] and cuts(new) == []
    assert new[-1].action == "check"


def test_after_the_work_has_moved_the_zeros_are_found_before_the_remaining_positions() -> None:
    """The zeros of table and depth are found again. The first open position is counted from zero."""
    old, new = replanned(Moved(), 5)
    assert [step.zeroed_dials for step in new[:2]] == [("rotary_table",), ("cross_slide",)]
    assert at_depth(new) == at_depth(old)
    first = positions(new)[0]
    assert figures(first.text) >= {"2", "3", "0°00'", "24", "120°00'"}


def test_if_the_work_moves_before_a_cut_the_table_turns_to_the_position_of_that_cut_again() -> None:
    """Only the cut of position 2 was open. The table turns to position 2 again, since its angle is no longer known."""
    old, new = replanned(PickedUp(moved="other"), 5)
    assert old[0].action == "cut"
    assert [step.at.position for step in new[2:4]] == [2, 2]
    assert new[2].action == "index"


def test_a_position_set_differently_does_not_change_the_other_positions() -> None:
    """A position set 6 minutes too far stays as it is. The other positions keep their settings."""
    old, new = replanned(set_to(120.1), 4, radius="50 mm")
    assert new[0].extra["error_arcsec"] == pytest.approx(360)
    assert f"{50 * math.radians(0.1):.3f} mm" in new[0].findings[0]
    assert [step.extra["angle_deg"] for step in positions(new)[1:]] == [
        step.extra["angle_deg"] for step in positions(old)[1:]
    ]


def test_a_cut_set_past_the_final_depth_gets_a_caution() -> None:
    """The finding says by how much the cut is too deep, in time to wind back."""
    _, new = replanned(set_to(4.4), 3)
    assert "0.2" in figures(new[0].cautions[0])
    assert new[0].depth_mm == pytest.approx(2.2)


def test_after_an_edit_the_remaining_positions_are_planned_again() -> None:
    """The open positions are planned with the new values."""
    old, new = replanned(Edited(plan_input={}), 5)
    assert at_depth(new) == at_depth(old)
    with pytest.raises(PlanError):
        replanned(GaugeTried(fit="fits"), 5)


@settings(deadline=None)
@given(st.sampled_from((40, 72, 90)), st.integers(2, 90), st.data())
def test_every_table_position_can_be_identified_from_its_reading(ratio: int, count: int, data: st.DataObject) -> None:
    """The table's own degrees, or turns and reading, give the position and the distance past it or short of it."""
    lathe = lathe_with(ratio, minutes=1)
    assert lathe.rotary_table is not None
    steps = plan(lathe, divisions=count).steps
    number = data.draw(st.integers(1, count))
    setting = positions(steps)[number - 1].settings[0]
    assert isinstance(setting, Setting) and setting.turns is not None and setting.reading is not None
    minutes = round(setting.reading * 60)
    typed = f"{setting.turns} turns {minutes // 60}°{minutes % 60}'"
    found = find_position(read_place(typed, lathe.rotary_table), steps, lathe.rotary_table)
    assert found.numbers == (number,)
    assert found.off_deg == 0
    assert figures(found.words) == {str(number), str(count)}
    reading = find_position(
        read_place(f"{minutes // 60}°{minutes % 60}'", lathe.rotary_table), steps, lathe.rotary_table, near=number
    )
    assert reading.numbers[0] == number
    past = Fraction(setting.position).limit_denominator(60) + Fraction(1, 60)
    if past >= 360 / Fraction(ratio):
        off = find_position(read_place(f"{float(past)} deg", lathe.rotary_table), steps, lathe.rotary_table)
        assert off.numbers == (number,) and float(off.off_deg) == pytest.approx(1 / 60, abs=1e-6)
        assert off.remedy


def test_table_positions_can_be_identified_from_holes_and_notches() -> None:
    """Turns and holes, holes alone, and notches each give the position."""
    lathe = lathe_with(40, minutes=None, plates=True, direct=(24,))
    table = lathe.rotary_table
    assert table is not None
    steps = plan(lathe, divisions=39).steps
    setting = positions(steps)[5].settings[0]
    assert isinstance(setting, PlateSetting)
    typed = f"{setting.turns} turns {setting.holes} holes"
    assert find_position(read_place(typed, table, setting.circle), steps, table).numbers == (6,)
    assert 6 in find_position(read_place(f"{setting.holes}", table, setting.circle), steps, table).numbers
    direct = plan(lathe, divisions=8, with_="direct").steps
    assert find_position(read_notch("notch 9", 24), direct, table).numbers == (4,)
    assert table_angle_deg(positions(direct)[3], table) == 135


@pytest.mark.parametrize("typed", ["", "x", "3 mm", "5 turns 7°00'", "12"])
def test_impossible_readings_of_a_rotary_table_are_refused(typed: str) -> None:
    """At 72:1 the dial ends at 5 degrees. A number without a unit is refused too."""
    table = lathe_with(72).rotary_table
    assert table is not None
    with pytest.raises(QuantityError):
        read_place(typed, table)
    with pytest.raises(QuantityError, match=r"\b0 to 16\b"):
        read_place("17 holes", table, 17)
