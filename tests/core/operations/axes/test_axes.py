"""Two axes brought together: whole runs, and figures of simulated set-ups worked out in this file with numpy.

Each test chooses the axes and works out from circles and lines what instruments would read. The operation must find the
axes from these readings.
"""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from core.inputs import GaugeTried, Moved, RunInput
from core.lathe.lathe import Lathe
from core.lathe.reader import read_lathe
from core.operations.asked_values import asked_at
from core.operations.axes.height import effect_on_pattern
from core.operations.registry import PlanInput, operation_of, parameters_of
from core.plan import Step
from core.questions import ChoiceAsked, ValueAsked
from core.run.event_words import event_words
from core.run.revising import edited_input, plan_input_of, revised_steps
from core.values.errors import FileError, PlanError, QuantityError
from tests.core.counted import Counted
from tests.core.planned import make_plan

SAMPLES = Path(__file__).parents[4] / "sample_jobs"
METRIC = read_lathe(SAMPLES / "metric_lathe.toml")
INCH = read_lathe(SAMPLES / "inch_lathe.toml")
PLACES = np.array([[0.0, 1.0], [-1.0, 0.0], [0.0, -1.0], [1.0, 0.0]])
"""Up, near, down, far as directions. The second axis points up, the first away from the operator."""


def card(lathe: Lathe = METRIC, **keys: Any) -> dict[str, Any]:
    """Return the figures of an axes operation."""
    return dict(make_plan(PlanInput("axes", {"kind": "axes", "name": "it", **keys}, lathe)).figures)


def mm(value: float) -> str:
    """Return a length in the form of a job file."""
    return f"{value:.6f} mm"


def swept(centre: np.ndarray, radius: float, *, droop: float, outside: bool) -> list[float]:
    """Return the readings at the four positions of a circle that an indicator in the spindle sweeps.

    The spindle's axis is the origin. The indicator points away from the axis (bore) or towards it (outside). Its weight
    lowers it by the droop, which is along its plunger only at the top and the bottom.
    """
    readings = []
    for direction in PLACES:
        along = float(direction @ centre)
        across = float(np.linalg.norm(centre - along * direction))
        distance = along + float(np.sqrt(radius**2 - across**2))
        pushed_in = distance if outside else -distance
        readings.append(pushed_in + droop * float(direction[1]) * (1 if outside else -1))
    return [reading - readings[0] for reading in readings]


# Figures.


def test_the_heights_calculated_from_two_test_bars_match_the_worked_example() -> None:
    """Worked by hand: 135.42 - 10 = 125.42 and 128.11 - 8 = 120.11, so the table must rise by 5.31 mm."""
    found = card(
        method="bars",
        spindle_bar="20 mm",
        over_spindle_bar="135.42 mm",
        other_bar="16 mm",
        over_other_bar="128.11 mm",
    )
    assert found["spindle_axis_mm"] == pytest.approx(125.42)
    assert found["other_axis_mm"] == pytest.approx(120.11)
    assert found["lift_mm"] == pytest.approx(5.31)
    assert found["meets_at_mm"] == pytest.approx(125.42 + 8)
    assert sum(found["stack_mm"]) + found["stack_left_mm"] == pytest.approx(5.31)


@pytest.mark.parametrize("seed", range(6))
def test_two_bars_read_half_a_turn_apart_give_the_axis_heights_free_of_the_bars_runout(seed: int) -> None:
    """Two bars run out at random angles. The mean of both heights is exactly the height of the axis."""
    chance = np.random.default_rng(seed)
    axes, bars = chance.uniform(90, 130, 2), chance.uniform(8, 25, 2)
    out = chance.uniform(0.02, 0.2, 2) * np.cos(chance.uniform(0, 2 * np.pi, 2))
    heights = np.array([axes + bars / 2 + out, axes + bars / 2 - out])
    keys = {"spindle_bar": mm(bars[0]), "other_bar": mm(bars[1])}
    keys |= {"over_spindle_bar": mm(heights[0][0]), "over_spindle_bar_turned": mm(heights[1][0])}
    keys |= {"over_other_bar": mm(heights[0][1]), "over_other_bar_turned": mm(heights[1][1])}
    assert card(method="bars", **keys)["lift_mm"] == pytest.approx(axes[0] - axes[1], abs=3e-6)


def test_comparing_two_bars_with_one_indicator_gives_the_same_error_as_measuring_both_heights() -> None:
    """The same set-up as two heights and as one difference: 128.11 - 135.42 = -7.31 mm."""
    both = {"spindle_bar": "20 mm", "other_bar": "16 mm"}
    found = card(method="bars compared", difference="-7.31 mm", **both)
    assert found["lift_mm"] == pytest.approx(5.31)
    assert found["meets_at_mm"] == pytest.approx(-2)
    turned = card(method="bars compared", difference="-7.41 mm", difference_turned="-7.21 mm", **both)
    assert turned["lift_mm"] == pytest.approx(5.31)


@pytest.mark.parametrize("outside", [False, True])
@pytest.mark.parametrize("seed", range(5))
def test_sweeping_with_an_indicator_finds_the_axis_of_a_simulated_table(seed: int, outside: bool) -> None:
    """Random axes and droop, with circles by numpy. Only an error of second order, e^2 / 2R, may remain."""
    chance = np.random.default_rng(seed)
    far, height = chance.uniform(-0.3, 0.3, 2)
    droop, radius = float(chance.uniform(0, 0.05)), 40.0
    readings = swept(np.array([far, height]), radius, droop=droop, outside=outside)
    found = card(
        method="sweep",
        surface="outside" if outside else "bore",
        readings=[mm(reading) for reading in readings],
        droop=mm(droop),
    )
    assert found["height_error_mm"] == pytest.approx(height, abs=2e-6)
    assert found["near_error_mm"] == pytest.approx(-far, abs=2e-6)
    assert found["lift_mm"] == -found["height_error_mm"]
    bar_up, bar_down = droop, -droop
    again = card(
        method="sweep",
        surface="outside" if outside else "bore",
        readings=[mm(reading) for reading in readings],
        droop_readings=[mm(bar_up), mm(bar_down)],
    )
    assert again["height_error_mm"] == pytest.approx(found["height_error_mm"])


@pytest.mark.parametrize("seed", range(5))
def test_two_circles_cut_half_a_turn_apart_give_the_size_and_direction_of_the_axis_error(seed: int) -> None:
    """Two circles are drawn on a table that turns by half a turn about its own axis, by a rotation matrix."""
    chance = np.random.default_rng(seed)
    table = chance.uniform(-0.4, 0.4, 2)
    half_turn = -np.eye(2)
    first, last = half_turn @ (np.zeros(2) - table) + table, np.zeros(2)
    circle = 20.0
    apart = np.abs(last - first)
    found = card(
        method="two circles",
        circle=mm(circle),
        over_both_level=mm(circle + apart[0]),
        over_both_up=mm(circle + apart[1]),
        last_circle="higher" if last[1] > first[1] else "lower",
        last_circle_level="nearer" if last[0] < first[0] else "further away",
    )
    assert found["height_error_mm"] == pytest.approx(abs(table[1]), abs=2e-6)
    assert found["near_error_mm"] == pytest.approx(abs(table[0]), abs=2e-6)
    assert found["lift_mm"] == pytest.approx(-table[1], abs=2e-6)


def test_two_trial_circles_do_not_show_how_far_to_lift_the_table_if_the_job_does_not_give_their_side() -> None:
    """Only the sizes are known. The lift may be up or down."""
    found = card(method="two circles", circle="20 mm", over_both_up="20.6 mm", over_both_level="20.2 mm")
    assert (found["height_error_mm"], found["near_error_mm"]) == (pytest.approx(0.3), pytest.approx(0.1))
    assert "lift_mm" not in found and "stack_mm" not in found


def test_the_lean_of_the_tables_face_matches_hand_calculation() -> None:
    """0.04 mm over 80 mm is 0.0286 deg. Above 0, the top or the near side is towards the spindle."""
    found = card(method="bars", face_circle="80 mm", face_readings=["0 mm", "0.03 mm", "0.04 mm", "0.01 mm"])
    assert found["face_up_deg"] == pytest.approx(-np.degrees(np.arctan(0.04 / 80)))
    assert found["face_across_deg"] == pytest.approx(np.degrees(np.arctan(0.02 / 80)))


def test_the_turn_of_a_ring_by_a_remaining_height_error_matches_hand_calculation() -> None:
    """1 mm at an offset of 20 mm gives 20.025 mm and 2.862 deg, as in shop notes. The gap of the stack counts too."""
    effect = effect_on_pattern(20, 1)
    assert effect.effective_offset_mm == pytest.approx(np.hypot(20, 1))
    assert effect.turned_by_deg == pytest.approx(2.862, abs=5e-4)
    keys = {"spindle_bar": "20 mm", "other_bar": "20 mm", "over_spindle_bar": "120.31 mm", "over_other_bar": "120 mm"}
    found = card(method="bars", pattern_offset="10 mm", **keys)
    left = found["stack_left_mm"]
    assert found["height_error_left_mm"] == pytest.approx(-left)
    assert found["turned_by_deg"] == pytest.approx(np.degrees(np.arctan(abs(left) / 10)))


def test_a_table_axis_that_is_too_high_gets_no_stack() -> None:
    """With a lift below 0 there is neither a stack nor a remaining gap."""
    keys = {"spindle_bar": "20 mm", "other_bar": "20 mm", "over_spindle_bar": "120 mm", "over_other_bar": "120.3 mm"}
    found = card(method="bars", **keys)
    assert found["lift_mm"] == pytest.approx(-0.3)
    assert not {"stack_mm", "stack_left_mm", "plate_to_make_mm"} & found.keys()


def test_a_plate_or_bar_owned_twice_can_be_used_twice_in_the_stack() -> None:
    """24.2 mm is 12 + 12 + 0.2."""
    lathe = replace(METRIC, bars_mm=(12.0, 12.0, 6.0), shims_mm=(0.2, 0.5))
    keys = {"spindle_bar": "20 mm", "other_bar": "20 mm", "over_spindle_bar": "144.2 mm", "over_other_bar": "120 mm"}
    found = card(lathe, method="bars", **keys)
    assert found["stack_mm"] == [12.0, 12.0, 0.2] and found["stack_left_mm"] == pytest.approx(0)


# Runs.


class Walked(Counted):
    """A run of an operation that asks for values, answered one by one."""

    @property
    def planned_from(self) -> PlanInput:
        """The plan input, with the answers so far."""
        return plan_input_of(self.state.plan_input)

    def to_question(self) -> Step:
        """Do steps until one has a question, and return the question."""
        while asked_at(self.cursor) is None:
            self.done()
        return self.cursor

    def answer(self, value: str) -> None:
        """Answer the next question."""
        step = self.to_question()
        operation = operation_of(self.plan_input.kind)
        (asked,) = operation.questions(parameters_of(self.planned_from), self.lathe, self.state)
        entered: RunInput
        if isinstance(asked, ChoiceAsked):
            entered = dict(asked.answers)[value]
        else:
            assert isinstance(asked, ValueAsked), step
            entered = asked.entered(asked.read(value))
        self.plan_input = self.planned_from
        self.tell(entered)

    def answers(self, *values: str) -> None:
        """Answer several questions."""
        for value in values:
            self.answer(value)

    @property
    def titles(self) -> list[str]:
        """The titles of the open steps."""
        return [step.title for step in self.state.open_steps()]


def walk(lathe: Lathe = METRIC, **keys: Any) -> Walked:
    """Return a run of an axes operation that has just started."""
    return Walked(lathe, "axes", **keys)


def test_an_axes_run_asks_for_every_value_missing_from_the_job() -> None:
    """No value is known. Six are asked, two of them optional. Then come the lift, the values again and the result."""
    run = walk(method="bars", tolerance="0.02 mm")
    run.answers("20", "16", "120.42", "120.44", "116.68", "116.66")
    assert run.cursor.title == "Set the height" and "1.76 mm" in run.cursor.text
    assert run.state.plan_input.answered["over_spindle_bar_turned"] == "120.44 mm"
    run.answers("120.43", "118.42")
    assert run.cursor.title == "Check what stays" and "Within 0.02 mm" in run.cursor.text
    assert "0.01 mm too low" in run.cursor.findings[0]
    run.done(3)
    assert run.state.cursor is None


def test_the_steps_for_aligning_axes_follow_the_usual_workshop_order() -> None:
    """In this order no error hides another; common practice, no source."""
    titles = walk(method="sweep", face_circle="80 mm").titles
    order = ["Gibs and bed", "Cross-slide square", "Table's face true", "Sweep the face, up", "Set the face square"]
    order += ["Bring two points together", "Droop, up", "Sweep up", "Set the height", "Set the cross-slide to 0"]
    order += ["Tighten all bolts", "Sweep up again", "Check what stays", "Blank on", "Skim its face in place"]
    assert [title for title in titles if title in order] == order


def test_a_value_entered_in_the_job_is_not_asked_for() -> None:
    """With both bars known, the height over the first is asked first.

    With both heights known, nothing is before the lift.
    """
    known = {"spindle_bar": "20 mm", "other_bar": "16 mm"}
    run = walk(method="bars", **known)
    assert run.to_question().title == "Height over the spindle's bar"
    whole = walk(method="bars", **known, over_spindle_bar="120 mm", over_other_bar="118 mm")
    assert "Set the height" in whole.titles and whole.to_question().title == "Height over the spindle's bar again"


def test_an_optional_reading_can_be_skipped() -> None:
    """The bar is not turned, so its single height counts."""
    run = walk(method="bars")
    run.answers("20", "16", "120.42")
    assert run.to_question().title == "The spindle's bar, half a turn on" and not run.cursor.required
    run.done()
    run.answer("116.67")
    run.skip()
    assert "1.75 mm" in run.cursor.text


def test_a_sweep_whose_readings_show_a_slip_is_read_again() -> None:
    """0 + 0.10 and 0.03 + 0.12 differ by 0.05 mm, more than two graduations of 0.01 mm. 0.02 mm is accepted."""
    run = walk(method="sweep", droop="0 mm")
    run.answers("0", "0.03", "0.10", "0.12")
    assert run.cursor.title == "Sweep up" and "0.05 mm" in run.cursor.findings[0]
    run.answers("0", "0.03", "0.10", "0.09")
    assert run.cursor.title == "Set the height"
    (caution, *_) = make_plan(
        PlanInput(
            "axes",
            {"kind": "axes", "name": "it", "method": "sweep", "droop": "0 mm"}
            | {"readings": ["0 mm", "0.03 mm", "0.1 mm", "0.12 mm"]},
            METRIC,
        )
    ).cautions
    assert "0.05 mm" in caution


def test_after_a_move_every_value_except_the_bar_diameters_is_measured_again() -> None:
    """Only the bars stay as measured. Nothing is worked out until all other values are measured again."""
    run = walk(method="bars compared")
    run.answers("20", "16", "-3.75", "-3.75")
    assert "1.75 mm" in run.cursor.text
    run.done()
    run.tell(Moved())
    assert run.titles[0] == "Compare the bars"
    assert all("1.75" not in step.text for step in run.state.open_steps())
    run.answers("-2.5", "-2.5")
    assert "0.5 mm" in run.cursor.text


def test_undo_asks_the_answered_question_again() -> None:
    """After the undo of a mistyped reading, the answers are as before that reading."""
    run = walk(method="bars")
    run.answers("20", "160")
    run.undo()
    assert run.cursor.title == "Measure the bar in the table's chuck"
    assert set(run.state.plan_input.answered) == {"spindle_bar"}


def test_an_impossible_answer_is_refused_without_changing_the_run() -> None:
    """9 mm over a bar of 20 mm is below the middle of the bar."""
    run = walk(method="bars")
    run.answers("20", "16")
    before = run.state
    with pytest.raises(FileError, match="below the middle"):
        run.answer("9")
    assert run.state is before
    with pytest.raises(QuantityError, match="above 0"):
        run.answer("-3")
    with pytest.raises(PlanError):
        run.tell(GaugeTried(fit="tight"))


def test_the_log_shows_each_measured_value_with_the_name_of_its_step() -> None:
    """The entry has only the new value, with the name of its step."""
    run = walk(method="sweep", droop="0 mm")
    run.answers("0")
    step = run.to_question()
    before = run.state
    run.answer("0.03")
    words = event_words(run.state.last, before, METRIC)
    assert words.startswith(f"Measured: 0.03 mm ({step.title.lower()})")


def test_a_height_error_is_passed_to_a_pattern_only_after_the_second_measurement() -> None:
    """In a pattern, + means that the table's axis is above the spindle's."""
    run = walk(method="bars compared")
    handed = []
    for value in ("20", "16", "-3.75", "-3.75", "-2.03"):
        handed.append(_handover(run))
        run.answer(value)
    assert handed == [None] * 5
    found = _handover(run)
    assert found is not None and (found.kind, found.parameters) == ("pattern", {"height_error": "-0.03 mm"})


def _handover(run: Walked) -> Any:
    hands_over = operation_of("axes").hands_over
    assert hands_over is not None
    return hands_over(parameters_of(run.planned_from), run.lathe, run.state)


def test_on_an_inch_lathe_numbers_without_a_unit_are_read_in_inches() -> None:
    """3/4 in and 0.750 in are 19.05 mm. The lift is in inches as well."""
    run = walk(INCH, method="bars")
    run.answers("3/4", "0.5 in", "4.0000")
    assert run.state.plan_input.answered["spindle_bar"] == "3/4 in"
    run.done()
    run.answer("3.5")
    run.done()
    # 4 - 0.375 = 3.625 and 3.5 - 0.25 = 3.25.
    assert "0.3750 in" in run.cursor.text


def every_bad() -> Iterator[tuple[dict[str, Any], str]]:
    """Yield tables that are refused, each with its wrong key."""
    yield {}, "method"
    yield {"method": "by eye"}, "method"
    yield {"method": ["bars"]}, "method"
    yield {"method": "bars", "spindle_bar": 20}, "spindle_bar"
    yield {"method": "bars", "spindle_bar": "0 mm"}, "spindle_bar"
    yield {"method": "bars", "spindle_bar": "20 deg"}, "spindle_bar"
    yield {"method": "bars", "droop": "0.1 mm"}, "droop"
    yield {"method": "sweep", "readings": "0 mm"}, "readings"
    yield {"method": "sweep", "readings": ["0 mm"] * 5}, "readings"
    yield {"method": "sweep", "surface": "rim"}, "surface"
    yield {"method": "bars", "face_readings": ["0 mm"]}, "face_circle"
    yield {"method": "two circles", "circle": "20 mm", "over_both_up": "19 mm"}, "over_both_up"
    yield {"method": "two circles", "last_circle": "left"}, "last_circle"
    yield {"method": "bars", "tolerance": "nan mm"}, "tolerance"


@pytest.mark.parametrize(("keys", "key"), list(every_bad()))
def test_each_refusal_of_an_axes_operation_names_the_key_with_the_wrong_value(keys: dict[str, Any], key: str) -> None:
    """The refusal also says what to enter."""
    with pytest.raises(FileError) as refused:
        card(**keys)
    assert any(message.startswith(f"{key}: ") and message.endswith(".") for message in refused.value.every)


def test_every_method_of_comparing_axes_gives_the_safety_cautions_that_apply() -> None:
    """Turning by hand at every sweep, a loose table, the skim, the boring head; common practice, no source."""
    for method in ("bars", "bars compared", "sweep", "two circles"):
        plan = make_plan(PlanInput("axes", {"kind": "axes", "name": "it", "method": method}, METRIC))
        said = " ".join(caution for step in plan.steps for caution in step.cautions)
        assert "Turn the spindle by hand only" in said and "fingers out" in said and "Before you switch on" in said
        general = " ".join(plan.general)
        assert "indicator and its base off before you switch on" in general
        assert ("Stay out of the plane" in general) == (method == "two circles")


def test_aligning_a_milling_spindle_has_no_steps_for_a_rotary_table() -> None:
    """All methods but two circles apply to it. No blank is mounted, and no value goes into a pattern."""
    run = walk(method="bars compared", other="milling spindle")
    assert not {"Table's face true", "Blank on", "Skim its face in place"} & set(run.titles)
    run.answers("20", "16", "-3.75", "-3.75")
    assert all("table" not in step.text for step in run.state.open_steps())
    run.answer("-2")
    assert run.cursor.title == "Check what stays" and _handover(run) is None
    with pytest.raises(FileError, match="table that turns"):
        card(method="two circles", other="slide")


def edit(run: Walked, **keys: Any) -> None:
    """Change keys of the job file and plan the remaining steps of a run again."""
    changed = {**run.state.plan_input.parameters, **keys}
    file = run.planned_from._replace(parameters={key: value for key, value in changed.items() if value is not None})
    now, entered = edited_input(file, run.state)
    run.log_revised(entered, revised_steps(now, run.state, entered))
    run.plan_input = now


def test_an_edited_job_keeps_measured_values_and_finished_steps() -> None:
    """After a new tolerance the current step stays. A bar corrected in the file counts immediately."""
    run = walk(method="bars")
    run.answers("20", "16", "120.42", "120.44", "116.68", "116.66")
    edit(run, tolerance="0.02 mm")
    assert run.titles[0] == "Set the height" and "1.76 mm" in run.cursor.text
    edit(run, other_bar="18 mm")
    assert "2.76 mm" in run.cursor.text
    run.done()
    edit(run, tolerance="0.05 mm")
    assert run.titles[0] == "Set the cross-slide to 0"
    edit(run, method="two circles", other_bar=None)
    assert run.titles[0] == "Gibs and bed" and "Measure the first circle" in run.titles


# Outside the tolerance.


def test_a_table_face_outside_the_tolerance_is_swept_again() -> None:
    """The bottom is 0.06 mm nearer over 80 mm, or 0.075 mm in 100 mm of the foot.

    The far edge is shimmed to tip the face back. Space alone does not finish the step: the user sweeps again, or leaves
    the face as it is.
    """
    run = walk(method="sweep", face_circle="80 mm", tolerance="0.02 mm", droop="0 mm")
    run.answers("0", "0.03", "0.06", "0.03")
    step = run.cursor
    assert step.title == "Set the face square" and step.required and asked_at(step) is not None
    assert "bottom is 0.06 mm nearer" in step.text and "outside 0.02 mm" in step.text
    assert "foot's edge away from the spindle by 0.075 mm for every 100 mm" in step.text
    run.answer("Corrected: sweep the face again")
    assert run.cursor.title == "Sweep the face, up"
    run.answers("0", "0", "0.01", "0.01")
    assert run.cursor.title == "Set the face square" and "within 0.02 mm" in run.cursor.text
    run.done()
    assert run.cursor.title == "Bring two points together"


def test_an_error_of_the_table_face_is_accepted_only_if_the_user_agrees() -> None:
    """The log has the remaining error, and the set-up continues. After a move, the user is asked about a worse face."""
    run = walk(method="sweep", face_circle="80 mm", tolerance="0.02 mm", droop="0 mm")
    run.answers("0", "0.03", "0.06", "0.03")
    before = run.state
    run.answer("Leave it as it is")
    assert "Left outside the tolerance: face, 0.06" in event_words(run.state.last, before, METRIC)
    assert run.titles[:2] == ["Bring two points together", "Sweep up"]
    run.undo()
    run.answer("Corrected: sweep the face again")
    run.answers("0", "0.04", "0.08", "0.04")
    assert asked_at(run.cursor) is not None and run.cursor.title == "Set the face square"


def test_a_remaining_height_error_outside_the_tolerance_can_be_measured_again_or_accepted() -> None:
    """0.03 mm remain and 0.02 mm are allowed: measured, set and measured again, or left.

    A pattern can still take the error.
    """
    run = walk(method="bars compared", tolerance="0.02 mm")
    run.answers("20", "16", "-3.75", "-3.75", "-2.03")
    assert run.cursor.title == "Check what stays" and "Outside 0.02 mm" in run.cursor.text
    assert run.cursor.required and _handover(run) is not None
    run.answer("Measure, and set the height again")
    assert run.titles[0] == "Compare the bars" and "Set the height" in run.titles
    run.answers("-2.03", "-2.03", "-2.04")
    run.answer("Leave it as it is")
    assert run.cursor.title == "Check what stays" and "left as it is" in run.cursor.text
    assert run.titles[1] == "Blank on"


def test_a_set_up_step_asks_for_the_blank_to_be_centred_with_an_indicator() -> None:
    """Bringing the axes together does not centre the work. The pattern's circles are about the table's axis."""
    run = walk(method="bars")
    (blank,) = (step for step in run.state.steps if step.title == "Blank on")
    assert "centre it" in blank.text and "indicator" in blank.text
