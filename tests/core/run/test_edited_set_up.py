"""A job that is edited before the first pass: the set-up follows the edited job."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from core.inputs import PickedUp
from core.jobs.job import read_job
from core.operations.registry import PlanInput
from core.plan import Plan, Step
from core.run.revising import edited_input, plan_input_of, revised_steps
from core.set_up_steps import prepares, set_up_steps
from tests.core.counted import Counted
from tests.core.planned import make_plan

SAMPLES = Path(__file__).parents[3] / "sample_jobs"


def run_of(sample: str, kind: str) -> Counted:
    """Return a run of the first operation of a kind in a sample job."""
    operation = next(op for op in read_job(SAMPLES / f"{sample}.toml").operations if op.kind == kind)
    keys = {key: value for key, value in operation.plan_input.parameters.items() if key not in {"kind", "name"}}
    return Counted(operation.plan_input.lathe, kind, operation.plan_input.material, **keys)


def change(run: Counted, **keys: Any) -> None:
    """Edit keys of the job, then plan the rest of the run again."""
    now, entered = edited_input(run.plan_input._replace(parameters={**run.plan_input.parameters, **keys}), run.state)
    steps = revised_steps(now, run.state, entered)
    run.plan_input = now
    run.log_revised(entered, steps)
    assert plan_input_of(run.state.plan_input).parameters == now.parameters


def set_up_words(steps: tuple[Step, ...]) -> list[str]:
    """Return the texts of the set-up steps."""
    return [step.text for step in set_up_steps(steps)]


CHANGED = [("socket_arbor", "taper", {"taper": "1:10"}), ("sundial_arbor", "thread", {"thread": "M27x1"})]


@pytest.mark.parametrize(("sample", "kind", "keys"), CHANGED)
def test_an_edit_at_the_first_step_replaces_the_set_up_steps(sample: str, kind: str, keys: dict[str, Any]) -> None:
    """The set-up steps are those of a new run, in the same order."""
    run = run_of(sample, kind)
    change(run, **keys)
    assert set_up_words(tuple(run.state.open_steps())) == set_up_words(make_plan(run.plan_input).steps)


@pytest.mark.parametrize(("sample", "kind", "keys"), CHANGED)
def test_set_up_steps_changed_by_an_edit_must_be_done_again(sample: str, kind: str, keys: dict[str, Any]) -> None:
    """The edit is made at each step of the set-up. The last step of each title has the text of the edited job.

    A second edit then restores the first job, and its angle is set once more.
    """
    before = run_of(sample, kind)
    back = {key: before.plan_input.parameters[key] for key in keys}
    for done in range(len(set_up_steps(before.state.steps)) + 1):
        run = run_of(sample, kind)
        run.done(done)
        for now in (keys, back):
            change(run, **now)
            wanted = {
                step.title: step.text for step in set_up_steps(make_plan(run.plan_input).steps) if not step.zeroed_dials
            }
            work = next(at for at, step in enumerate(run.state.steps) if not prepares(step))
            set_up = {step.title: step.text for step in run.state.steps[:work] if not step.zeroed_dials}
            assert wanted.items() <= set_up.items(), (done, now)
            swung = max(at for at, step in enumerate(run.state.steps) if step.title == "Swing the compound")
            assert any(step.zeroed_dials for step in run.state.steps[swung:work])
            while now is keys and prepares(run.cursor):
                run.done()


@pytest.mark.parametrize(("sample", "kind", "keys"), CHANGED)
def test_an_edit_repeats_only_changed_set_up_steps_of_a_run_logged_by_another_version(
    sample: str, kind: str, keys: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The edit is made at each step.

    Only the steps that it changes are done again, although every logged text differs.
    """

    def planned_then(plan_input: PlanInput) -> Plan:
        plan = make_plan(plan_input)
        return replace(plan, steps=tuple(replace(step, text=f"Once {step.text}") for step in plan.steps))

    for done in range(len(set_up_steps(run_of(sample, kind).state.steps)) + 1):
        run = run_of(sample, kind)
        with monkeypatch.context() as then:
            then.setattr("tests.core.counted.make_plan", planned_then)
            earlier = run_of(sample, kind)
        for one in (run, earlier):
            one.done(done)
            change(one, **keys)
        assert set_up_words(tuple(earlier.state.open_steps())) == set_up_words(tuple(run.state.open_steps())), done


def test_an_edit_does_not_repeat_unchanged_set_up_steps() -> None:
    """The edit changes only the cuts. Finished set-up steps stay done, and open ones stay open."""
    run = run_of("sundial_arbor", "thread")
    run.done(2)
    before = set_up_words(tuple(run.state.open_steps()))
    change(run, passes=30)
    assert set_up_words(tuple(run.state.open_steps())) == before


@pytest.mark.parametrize("cuts", [0, 4])
def test_an_edit_keeps_the_steps_that_pick_up_an_existing_thread(cuts: int) -> None:
    """The groove exists already.

    So no edit brings back the touch-off on the blank, and the depth comes from measuring.
    """
    run = run_of("sundial_arbor", "thread")
    while cuts and run.cursor.action != "cut":
        run.done()
    run.done(cuts)
    run.tell(PickedUp(moved="work"))
    before = [step.text for step in run.state.open_steps()]
    change(run, thread="M27x1")
    assert [step.text for step in run.state.open_steps()] == before
    assert run.state.depth_mm is None and any(step.required for step in run.state.open_steps())
