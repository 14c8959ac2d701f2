"""Rules for planning again that hold for every kind of operation that cuts to a depth."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest

from core.cutting import Infeed, Progress, progress_of
from core.inputs import Edited, ExtraSpringPass, GaugeTried, Measured, Moved, RunInput, SetTo
from core.operations.registry import PlanInput, replan
from core.plan import Step
from core.values.errors import PlanError
from tests.core.operations.dividing.rotary import pattern_keys
from tests.core.planned import make_plan
from tests.core.thread_jobs import lathe

ONE_BY_ONE = {"with": "dial", "depth_dial": "compound", "order": "position"}
KINDS = {
    "turn": {"from": "30 mm", "to": "26.8 mm", "cut": "0.5 mm", "finish": "0.1 mm"},
    "bore": {"kind": "turn", "side": "inside", "from": "20 mm", "to": "22.8 mm", "cut": "0.5 mm", "finish": "0.1 mm"},
    "face": {"dial": "compound", "length_now": "60 mm", "length": "57 mm", "cut": "0.7 mm", "finish": "0.1 mm"},
    "groove": {"dial": "cross_slide", "depth": "2 mm", "cut": "0.4 mm", "finish": "0.1 mm"},
    "taper": {"taper": "1:10", "large": "20 mm", "length": "40 mm", "cut": "0.4 mm", "finish": "0.1 mm"},
    "thread": {"thread": "M30x3.5-6g", "blank": "29.85 mm", "tool_flat": "0.30 mm"},
    "divide": {**ONE_BY_ONE, "divisions": 6, "depth": "1.2 mm", "cut": "0.3 mm"},
    "pattern": pattern_keys(
        {"count": 6, "offset": "10 mm", "circle_radius": "6 mm", "depth": "0.4 mm"}, cut="0.1 mm", **ONE_BY_ONE
    ),
}


def at_second_pass(name: str) -> tuple[PlanInput, Progress]:
    """Return an operation and a run of it after one pass, with the next pass as the current step."""
    plan_input = PlanInput(kind=name, parameters={"kind": name, "name": "it", **KINDS[name]}, lathe=lathe())
    plan_input = plan_input._replace(kind=str(plan_input.parameters["kind"]))
    steps = make_plan(plan_input).steps
    at = 1 + next(at for at, step in enumerate(steps) if step.action == "cut")
    assert steps[at].action == "cut"
    return plan_input, progress_of(steps[:at], steps[at:], 1000)


def here(steps: Sequence[Step]) -> list[Step]:
    """Return the passes before the work is turned to another position."""
    others = [at for at, step in enumerate(steps) if step.action == "index"]
    return [step for step in steps[: others[0] if others else None] if step.action == "cut"]


def assert_nearly_as_planned(plan_input: PlanInput, passes: Sequence[Step], planned: Sequence[Step]) -> None:
    """Check for the same number of passes to the same last mark. Equal cuts may differ by one mark."""
    found, wanted = ([step.settings[0][2] for step in steps] for steps in (passes, planned))
    mark = plan_input.lathe.dials[planned[0].settings[0].dial].graduation
    assert len(found) == len(wanted) and found[-1] == wanted[-1]
    assert all(abs(one - other) <= mark for one, other in zip(found, wanted, strict=True))


def set_further(plan_input: PlanInput, progress: Progress, step: Step, marks: int) -> tuple[Step, ...]:
    """Return the steps that follow a dial set this number of marks further than the plan."""
    setting = step.settings[0]
    dial = plan_input.lathe.dials[setting.dial]
    inwards = 1 if step.settings[0].position >= 0 else -1  # type: ignore[union-attr]
    position = setting.position + inwards * marks * dial.graduation  # type: ignore[union-attr]
    return replan(plan_input, progress, SetTo(dial.name, position, "it"))


@pytest.mark.parametrize("name", KINDS)
def test_entering_the_planned_dial_setting_changes_no_later_setting(name: str) -> None:
    """All passes stay at their planned marks."""
    plan_input, progress = at_second_pass(name)
    steps = set_further(plan_input, progress, progress.open_steps[0], 0)
    assert [step.settings[0] for step in here(steps)] == [step.settings[0] for step in here(progress.open_steps)]


@pytest.mark.parametrize("name", KINDS)
@pytest.mark.parametrize("marks", [-2, 2])
def test_passes_after_a_dial_was_set_differently_still_end_at_the_planned_mark(name: str, marks: int) -> None:
    """The depth of the next pass counts from the new setting."""
    plan_input, progress = at_second_pass(name)
    passes = here(set_further(plan_input, progress, progress.open_steps[0], marks))
    planned = here(progress.open_steps)
    assert passes[-1].settings[0][2] == planned[-1].settings[0][2]
    reached = [progress.depth_mm, *(step.depth_mm or 0.0 for step in passes)]
    for step, before in zip(passes, reached, strict=False):
        assert step.depth_mm == pytest.approx(before + (step.removed_mm or 0.0))
    assert max(step.removed_mm or 0.0 for step in passes[1:]) <= max(step.removed_mm or 0.0 for step in planned) + 1e-9


@pytest.mark.parametrize("name", KINDS)
def test_a_pass_set_clear_of_the_work_is_counted_as_removing_no_metal(name: str) -> None:
    """Such a setting is likely a slip. A finding says so, and every planned pass still follows."""
    plan_input, progress = at_second_pass(name)
    as_set, *rest = here(set_further(plan_input, progress, progress.open_steps[0], -100))
    assert as_set.removed_mm == 0 and as_set.findings and as_set.depth_mm == pytest.approx(progress.depth_mm)
    assert_nearly_as_planned(plan_input, rest, here(progress.open_steps))


@pytest.mark.parametrize("name", KINDS)
def test_no_pass_follows_a_dial_setting_past_the_last_planned_mark(name: str) -> None:
    """A caution says how much deeper the setting is."""
    plan_input, progress = at_second_pass(name)
    passes = here(set_further(plan_input, progress, here(progress.open_steps)[-1], 5))
    assert len(passes) == 1 and set(passes[0].cautions) - set(here(progress.open_steps)[0].cautions)


@pytest.mark.parametrize("name", sorted(KINDS.keys() - {"taper"}))
def test_an_edit_that_changes_nothing_in_the_job_keeps_the_remaining_passes(name: str) -> None:
    """After a pass nothing is touched off again, except on a taper, whose angle may have changed."""
    plan_input, progress = at_second_pass(name)
    steps = replan(plan_input, progress, Edited(plan_input={}))
    assert not any(step.zeroed_dials for step in steps)
    assert_nearly_as_planned(plan_input, here(steps), here(progress.open_steps))


@pytest.mark.parametrize("name", KINDS)
def test_an_input_that_belongs_to_another_kind_of_operation_is_refused(name: str) -> None:
    """An example is the fit of a gauge in an operation without a thread."""
    plan_input, progress = at_second_pass(name)
    refused: list[RunInput] = [Measured(what="mood", size_mm=1.0), ExtraSpringPass()]
    refused += [] if name == "thread" else [GaugeTried(fit="tight")]
    refused += [Moved()] if name in {"turn", "bore", "face", "groove", "taper"} else []
    for entered in refused:
        with pytest.raises(PlanError):
            replan(plan_input, progress, entered)


def test_an_edit_of_the_job_keeps_a_size_measured_before_the_touch_off() -> None:
    """After a move, 28.4 is measured: 1.6 more on the diameter to 26.8. After a pass this size no longer counts."""
    plan_input, progress = at_second_pass("turn")
    steps = replan(plan_input, progress, Moved(size=Measured(what="size", size_mm=28.4)))
    edited = replan(plan_input, replace(progress, open_steps=steps, next_id=2000), Edited(plan_input={}))
    assert here(edited)[-1].settings[0][2] == here(steps)[-1].settings[0][2] == Fraction("1.6")
    touched, first, *_ = steps
    again = progress_of([touched, first], [touched, *steps[2:]], 2000)
    assert again.depth_at_dial_mm(Infeed(dial=plan_input.lathe.dials["cross_slide"])) == first.depth_mm


def test_work_already_past_its_size_is_not_cut_further_after_an_edit_of_the_job() -> None:
    """After a move, 26.5 is measured for 26.8. Nothing is cut, however many times the job is read again."""
    plan_input, progress = at_second_pass("turn")
    steps = replan(plan_input, progress, Moved(size=Measured(what="size", size_mm=26.5)))
    for entered in (Edited(plan_input={}), Edited(plan_input={})):
        edited = replan(plan_input, progress_of(steps[:1], steps[1:], 2000), entered)
        assert not here(edited) and [step.action for step in edited if not step.zeroed_dials] == ["check"]
        steps = (steps[0], *edited)
