"""After a cut set differently from the plan, later cuts end inside the limits, and the last follows a measurement."""

from fractions import Fraction

import pytest

from core.cutting import progress_of
from core.inputs import Measured
from core.operations.registry import PlanInput, replan
from core.plan import Step
from tests.core.entered import set_to
from tests.core.planned import make_plan
from tests.core.thread_jobs import lathe

LATHE = lathe(dial={"cross_slide": {"per_turn": "4 mm", "graduation": "0.05 mm", "reads": "diameter"}})


def _after_setting(wanted: str, size_mm: float, further: str) -> tuple[int, tuple[Step, ...]]:
    """Return where the roughing ended [0.01 mm], and the steps after a size and a dial set further by `further`."""
    table = {"kind": "turn", "name": "it", "from": "32 mm", "to": wanted, "cut": "0.4 mm", "finish": "0.1 mm"}
    plan_input = PlanInput(kind="turn", parameters=table, lathe=LATHE, material=None)
    steps = make_plan(plan_input).steps
    at = [step.action for step in steps].index("measure")
    measured = replan(plan_input, progress_of(steps[:at], steps[at:], 100), Measured(what="size", size_mm=size_mm))
    rough = steps[at - 1].settings[0].position  # type: ignore[union-attr]
    stands_at = rough + Fraction(further)
    return round(100 * rough), replan(
        plan_input, progress_of(steps[:at], measured, 200), set_to(stands_at, "cross_slide")
    )


def test_after_a_dial_is_set_differently_the_work_is_measured_before_the_last_cut() -> None:
    """At the mark of the semi-finishing cut or one mark further: measure, then finish. Worked by hand."""
    for further, predicted in (("0.20", "30.2 mm"), ("0.25", "30.15 mm")):
        _, steps = _after_setting("30 mm", 30.4, further)
        assert [step.action for step in steps] == ["cut", "measure", "cut", "check"]
        assert steps[1].text.endswith(f"The dial predicts {predicted}")


def test_a_cut_that_removed_no_metal_is_not_followed_by_an_extra_measurement() -> None:
    """A slip set the cut clear of the work, so the planned steps follow."""
    _, steps = _after_setting("30 mm", 30.4, "-0.10")
    assert [step.action for step in steps] == ["cut", "cut", "measure", "cut", "check"]


@pytest.mark.parametrize("further", ["0.20", "-0.10"])
def test_no_cut_is_planned_to_end_past_a_limit_of_size(further: str) -> None:
    """30.43 with marks of 0.05: nine more end at 29.98, below 29.99; eight end at 30.03, outside."""
    rough, steps = _after_setting("29.99 mm to 30.01 mm", 30.43, further)
    last = [step for step in steps if step.action == "cut"][-1]
    assert round(100 * last.settings[0].position) == rough + 40  # type: ignore[union-attr]
    assert any("No mark of the cross-slide is inside" in caution for caution in last.cautions)
