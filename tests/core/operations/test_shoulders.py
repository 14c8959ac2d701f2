"""A stepped shaft or bore: the order of its shoulders, their readings, and corrections by measurements."""

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from core.inputs import Measured
from core.operations.registry import count_steps, operation_of, parameters_of, read_operation, replan
from core.values.fields import Problem, Table
from tests.core.counted import Counted
from tests.core.figures import figures
from tests.core.operations.length_jobs import LATHE, SHAFT, an_input, carriage_at, cuts, done_up_to, problems
from tests.core.planned import make_plan


def test_shoulders_entered_in_any_order_are_cut_from_the_largest_diameter_down() -> None:
    """36 mm to a length of 60 mm, then 30 mm to 48.5 mm, then 25 mm to 22 mm: the shaft stays stiff longest."""
    for order in (SHAFT, SHAFT[::-1], [SHAFT[1], SHAFT[2], SHAFT[0]]):
        steps = cuts(make_plan(an_input("shoulders", shoulders=order)).steps)
        assert [step.title for step in steps if "Finish" in step.title] == [
            "Finish 36 mm",
            "Finish 30 mm",
            "Finish 25 mm",
        ]
        assert sorted((step.depth_mm for step in steps), key=float) == [step.depth_mm for step in steps]  # type: ignore[arg-type]


def test_shoulders_end_at_carriage_readings_calculated_by_hand() -> None:
    """60 = 3 x 18 + 6; 48.5 = 2 x 18 + 12.5; 22 = 18 + 4. The cross-slide dial reads the difference of diameters."""
    plan = make_plan(an_input("shoulders"))
    last = [step for step in cuts(plan.steps) if "Finish" in step.title]
    assert [(s.turns, s.reading) for step in last if (s := step.setting("carriage"))] == [
        (3, Fraction(6)),
        (2, Fraction("12.5")),
        (1, Fraction(4)),
    ]
    # The dial reads diameter: 40 - 36, 40 - 30, 40 - 25.
    assert [s.position for step in last if (s := step.setting("cross_slide"))] == [4, 10, 15]


def test_shoulders_in_a_bore_are_cut_from_the_smallest_diameter_up() -> None:
    """In a bore the deepest shoulder has the smallest diameter."""
    its = an_input("shoulders", side="inside", from_="18 mm", shoulders=[["30 mm", "10 mm"], ["20 mm", "25 mm"]])
    names = [step.title for step in cuts(make_plan(its).steps) if "Finish" in step.title]
    assert names == ["Finish 20 mm", "Finish 30 mm"]


@pytest.mark.parametrize(
    ("shoulders", "words"),
    [
        ([["30 mm", "22 mm"], ["25 mm", "40 mm"]], "undercut"),
        ([["30 mm", "22 mm"], ["25 mm", "22 mm"]], "undercut"),
        ([["30 mm", "22 mm"], ["30 mm", "40 mm"]], "twice"),
        ([["41 mm", "22 mm"]], "not smaller than the blank"),
        ([["30 mm"]], "needs a diameter and a length"),
        ([["30", "22 mm"]], "Shoulder 1"),
        ([["30 mm", "-2 mm"]], "above 0"),
        ([], "must have 1 to 10 entries"),
        ("30 mm", "not a list"),
    ],
)
def test_shoulders_that_cannot_be_turned_are_refused(shoulders: Any, words: str) -> None:
    """Each sentence says what is wrong and what to enter."""
    assert words in problems(kind="shoulders", shoulders=shoulders)


@pytest.mark.parametrize(
    ("shoulders", "field"),
    [
        ([["36 mm", "40 mm"], ["thick", "22 mm"]], "diameter_2"),
        ([["36 mm", "40 mm"], ["30 mm", "long"]], "ends_at_2"),
        ([["36 mm", "40 mm"], ["30 mm", "-2 mm"]], "ends_at_2"),
        ([["30 mm", "22 mm"], ["25 mm", "40 mm"]], "ends_at_2"),
        ([["30 mm", "22 mm"], ["36 mm", "40 mm"], ["41 mm", "50 mm"]], "diameter_3"),
    ],
)
def test_a_wrong_shoulder_is_refused_at_its_own_field_of_the_form(shoulders: Any, field: str) -> None:
    """A job file has one key for all shoulders, and the form has two fields for each."""
    parameters = an_input("shoulders", shoulders=shoulders).parameters
    noted: list[Problem] = []
    assert read_operation(Table(parameters, "", noted), LATHE) is None
    assert [(problem.key, problem.field) for problem in noted] == [("shoulders", field)]


def test_the_prompt_for_a_measured_diameter_states_the_diameter_predicted_by_the_dial() -> None:
    """After a pass the blank of 40 mm is gone: the dial is at 3.2, so the diameter is 36.8 mm."""
    run = Counted(LATHE, "turn", **{"from": "40 mm", "to": "36 mm", "cut": "1 mm", "finish": "0.2 mm"})
    for wanted, steps in (("Before: 40 mm. Wanted: 36 mm.", 0), ("The dial predicts 36.8 mm. Wanted: 36 mm.", 3)):
        run.done(steps)
        (asked,) = operation_of("turn").questions(run.job, LATHE, run.state)
        assert asked.detail == (wanted,)  # type: ignore[union-attr]
    moved = operation_of("turn").moved(run.job, LATHE, run.state)
    assert moved is not None and moved.detail == ("Before the move: 36.8 mm. Wanted: 36 mm.",)  # type: ignore[union-attr]


def test_shoulders_keep_their_numbers_from_the_users_list_during_the_run() -> None:
    """36 mm is listed second and cut first."""
    its = an_input("shoulders", shoulders=[["30 mm", "22 mm"], ["36 mm", "40 mm"]])
    steps = make_plan(its).steps
    rows = {step.title: step.extra["shoulder_row"] for step in cuts(steps)}
    assert rows["Finish 36 mm"] == 2 and rows["Finish 30 mm"] == 1
    form = operation_of("shoulders").form
    assert form is not None
    shown = {figure.name: figure.value for figure in form.figures(parameters_of(its), LATHE, make_plan(its))}
    assert (shown["Shoulder 1"], shown["Shoulder 2"]) == ("30 mm", "36 mm")


@pytest.mark.parametrize("by", ["carriage dial", "stop", "rule"])
@pytest.mark.parametrize("cut", ["0.2 mm", "1 mm", "20 mm"])
@pytest.mark.parametrize("shoulders", [SHAFT, SHAFT[:1], [["30 mm", "60 mm"], ["30 g6", "40 mm"], ["29.9 mm", "9 mm"]]])
def test_the_predicted_number_of_steps_for_a_stepped_shaft_equals_the_planned_number(
    by: str, cut: str, shoulders: list[list[str]]
) -> None:
    """Each shoulder is cut from the diameter of the one before, not from the blank."""
    its = an_input("shoulders", shoulders=shoulders, cut=cut, lengths_by=by)
    assert count_steps(parameters_of(its), its.kind, its.lathe, None) == len(make_plan(its).steps)


def test_a_diameter_measured_at_one_shoulder_corrects_the_next_shoulder() -> None:
    """36.3 mm is measured after the last pass for 36 mm. Later passes are 0.3 mm further on the dial."""
    its = an_input("shoulders")
    steps = make_plan(its).steps
    at = next(number for number, step in enumerate(steps) if step.title == "Finish 36 mm") + 1
    assert steps[at].action == "measure"
    new = replan(its, done_up_to(steps, at), Measured(what="size", size_mm=36.3))
    last = cuts(new)[-1].setting("cross_slide")
    assert last is not None and last.position == Fraction("15.3")
    assert cuts(new)[0].title == "Finish 36 mm"
    assert replace(new[0], findings=()).action == "cut"


def test_a_shoulder_that_needs_no_pass_of_its_own_is_still_measured() -> None:
    """30 g6 is 29.980 to 29.993 mm (ISO 286, from memory), under a mark below 30 mm. No size is measured yet."""
    its = an_input("shoulders", shoulders=[["30 mm", "60 mm"], ["30 g6", "40 mm"]])
    steps = make_plan(its).steps
    assert not any("30 g6" in step.title for step in cuts(steps))
    assert not any("30 mm measured" in step.text or "too big" in step.text for step in steps)
    assert steps[-1].action == "measure" and "No mark of the cross-slide cuts within" in steps[-1].text


def test_a_measured_diameter_equal_to_the_prediction_keeps_the_planned_passes() -> None:
    """The dial predicts 36 mm and 36 mm is measured, so the remaining passes stay as planned."""
    its = an_input("shoulders", cut="1.5 mm")
    steps = make_plan(its).steps
    at = next(number for number, step in enumerate(steps) if step.title == "Rough 30 mm")
    new = replan(its, done_up_to(steps, at), Measured(what="size", size_mm=36.0))
    assert [step.text for step in cuts(new)] == [step.text for step in cuts(steps[at:])]


def test_a_length_measured_before_the_next_shoulder_applies_to_the_shoulder_just_cut() -> None:
    """59.8 mm is measured before the shoulder of 48.5 mm starts. The shoulder of 60 mm gets 0.2 mm more; both shift."""
    its = an_input("shoulders")
    steps = make_plan(its).steps
    at = next(number for number, step in enumerate(steps) if step.title == "Rough 30 mm")
    new = replan(its, done_up_to(steps, at), Measured(what="length", size_mm=59.8))
    assert (new[0].action, carriage_at(new[0])) == ("spring", Fraction("60.2"))
    assert figures(new[0].findings[0]) == {"59.8", "60", "0.2"}
    assert carriage_at(next(step for step in new if step.title == "Finish 30 mm")) == Fraction("48.7")
    too_long = replan(its, done_up_to(steps, at), Measured(what="length", size_mm=60.2))
    assert too_long[0].title == "Rough 30 mm" and "0.2" in figures(too_long[0].findings[0])
