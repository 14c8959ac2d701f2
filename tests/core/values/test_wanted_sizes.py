"""A size with limits is read exactly, planned to the middle, and judged at the last measurement."""

from fractions import Fraction

import pytest

from core.cutting import progress_of
from core.inputs import Measured
from core.lathe.lathe import Lathe
from core.operations.registry import PlanInput, replan
from core.plan import Step
from core.values.errors import FileError, QuantityError
from core.values.wanted_size import read_wanted_size
from tests.core.planned import make_plan
from tests.core.thread_jobs import lathe

FINE = {"per_turn": "1 mm", "graduation": "0.005 mm", "reads": "diameter"}
FINE_LATHE = lathe(
    dial={"cross_slide": FINE, "carriage": {"per_turn": "1 mm", "graduation": "0.01 mm", "reads": "travel"}}
)


def _plan_input(its_lathe: Lathe = FINE_LATHE, **parameters: str) -> PlanInput:
    table = {"kind": "turn", "name": "it", "cut": "0.5 mm", **{key.rstrip("_"): one for key, one in parameters.items()}}
    return PlanInput(kind=table["kind"], parameters=table, lathe=its_lathe, material=None)


def _at_the_end(plan_input: PlanInput, size_mm: float) -> tuple[Step, ...]:
    """Return the steps planned after all passes are cut and a size is measured."""
    steps = make_plan(plan_input).steps
    progress = progress_of(steps[:-1], steps[-1:], next_id=len(steps) + 1)
    return replan(plan_input, progress, Measured(what="size", size_mm=size_mm))


@pytest.mark.parametrize(
    ("text", "lower", "upper"),
    [
        # ISO 286-1: 30 g6 is -7 and -20 um, 25 H7 0 and +21 um.
        ("30 g6", "29.980", "29.993"),
        ("25 H7", "25", "25.021"),
        ("28.98 to 29.00 mm", "28.98", "29"),
        ("29 mm to 28.98 mm", "28.98", "29"),
        ("1.180 to 1.182 in", "29.972", "30.0228"),
        ("12.5 +0.02 -0.01 mm", "12.49", "12.52"),
        ("30 ±0.1 mm", "29.9", "30.1"),
        ("27 mm", "27", "27"),
        ("1 1/4 in", "31.75", "31.75"),
    ],
)
def test_limits_are_read_in_the_forms_that_drawings_use(text: str, lower: str, upper: str) -> None:
    """The limits are exact in every unit."""
    size = read_wanted_size(text)
    assert (size.lower_mm, size.upper_mm, size.text) == (Fraction(lower), Fraction(upper), text)


@pytest.mark.parametrize("text", ["30", "30 H7/g6", "28.98 to 29.00", "30 q6", "30 to mm", "5 deg", "", None, "9" * 70])
def test_texts_that_state_no_limits_of_size_are_refused(text: object) -> None:
    """Each refusal is a sentence. A fit of two parts is refused too, since it does not say which part is cut."""
    with pytest.raises(QuantityError):
        read_wanted_size(text)


def test_a_size_with_limits_is_cut_to_the_middle_of_those_limits() -> None:
    """For 28.98 to 29.00 mm, the plan ends at 28.99 and holds both limits. The last step asks for the size."""
    plan = make_plan(_plan_input(from_="30 mm", to="28.98 to 29.00 mm"))
    assert plan.figures["to_mm"] == pytest.approx(28.99)
    assert (plan.figures["to_min_mm"], plan.figures["to_max_mm"]) == pytest.approx((28.98, 29.0))
    cuts = [step for step in plan.steps if step.action == "cut"]
    assert 30 - 2 * (cuts[-1].depth_mm or 0) == pytest.approx(28.99, abs=0.0026)
    last = plan.steps[-1]
    assert (last.action, last.expects) == ("measure", "size")
    assert "28.98 mm to 29 mm" in last.text


def test_a_plan_for_a_size_without_limits_asks_for_no_final_measurement() -> None:
    """The last step asks for no size."""
    plan = make_plan(_plan_input(from_="30 mm", to="29 mm"))
    assert plan.steps[-1].action == "check"
    assert "to_min_mm" not in plan.figures


@pytest.mark.parametrize(
    ("size_mm", "words", "cuts"),
    [
        (28.980, "inside 28.98 mm to 29 mm", 0),
        (28.999, "inside 28.98 mm to 29 mm", 0),
        (29.012, "0.012 mm too big", 1),
        (28.975, "0.005 mm too small", 0),
    ],
)
def test_the_final_measurement_decides_whether_the_work_is_cut_again(size_mm: float, words: str, cuts: int) -> None:
    """Inside the limits nothing more is cut. Too large is cut to the middle. Too small cannot be corrected."""
    steps = _at_the_end(_plan_input(from_="30 mm", to="28.98 to 29.00 mm"), size_mm)
    said = " ".join([steps[0].text, *steps[0].findings])
    assert words in said
    assert sum(step.action == "cut" for step in steps) == cuts
    assert ("cannot be saved" in said) == (size_mm < 28.98)
    if cuts:
        # The amount on the radius to the middle, 28.99 mm, and the next last measurement.
        assert sum(step.removed_mm or 0 for step in steps) == pytest.approx((size_mm - 28.99) / 2, abs=0.0013)
        assert (steps[-1].action, steps[-1].expects) == ("measure", "size")


def test_a_bore_smaller_than_its_limits_can_still_be_cut() -> None:
    """25 H7 (0, +21 um): 24.99 can still be cut, and 25.03 is too large."""
    plan_input = _plan_input(from_="24 mm", to="25 H7", side="inside")
    small, large = _at_the_end(plan_input, 24.99), _at_the_end(plan_input, 25.03)
    assert small[0].action == "cut" and "0.01 mm too small for 25 mm to 25.021 mm (25 H7)" in small[0].findings[0]
    assert "0.009 mm too big" in large[0].text and "cannot be saved" in large[0].text


def test_faces_and_grooves_accept_limits_of_size() -> None:
    """Lengths, diameters and depths accept limits. An amount to cut off and a position do not."""
    face = _plan_input(kind="face", dial="carriage", length_now="50 mm", length="48 +0.05 -0.05 mm")
    assert make_plan(face).figures["to_max_mm"] == pytest.approx(48.05)
    assert "inside 47.95 mm to 48.05 mm" in _at_the_end(face, 48.03)[0].text
    groove = _plan_input(kind="groove", dial="cross_slide", depth="2 to 2.1 mm")
    assert make_plan(groove).figures["to_mm"] == pytest.approx(2.05)
    diameter = _plan_input(kind="groove", dial="cross_slide", diameter_now="30 mm", diameter="24 h11")
    assert make_plan(diameter).figures["to_min_mm"] == pytest.approx(24 - 0.130)
    with pytest.raises(FileError):
        make_plan(_plan_input(kind="face", dial="carriage", remove="2 to 2.1 mm"))


def test_no_pass_is_planned_to_a_mark_past_the_limits_of_size() -> None:
    """Marks are 50 um on the diameter. Neither 30.00 nor 29.95 mm is 30 g6. From 30.00 the work can still be cut."""
    plan_input = _plan_input(lathe(), from_="31 mm", to="30 g6")
    cuts = [step for step in make_plan(plan_input).steps if step.action == "cut"]
    assert 31 - 2 * (cuts[-1].depth_mm or 0) == pytest.approx(30.0)
    (again,) = _at_the_end(plan_input, 30.012)
    assert (again.action, again.expects) == ("measure", "size")
    assert "0.019 mm too big" in again.text and "Set the dial between two marks" in again.text
    # 30.04 to 29.99, a mark less, is inside the limits: 29.98 to 29.993 mm.
    assert _at_the_end(plan_input, 30.04)[0].action == "cut"


def test_dial_marks_too_coarse_for_the_limits_of_size_give_a_caution() -> None:
    """30 g6 is 13 um wide. Marks of 50 um on the diameter miss it from 31 mm. Marks of 5 um do not."""
    coarse, fine = (
        make_plan(_plan_input(lathe(), from_="31 mm", to="30 g6")),
        make_plan(_plan_input(from_="31 mm", to="30 g6")),
    )
    assert any("No mark of the cross-slide is inside 29.98 mm to 29.993 mm (30 g6)" in one for one in coarse.cautions)
    assert not any("no mark" in one for one in fine.cautions)
