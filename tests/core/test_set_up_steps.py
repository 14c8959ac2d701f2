"""Open set-up steps stay until they are done, whatever is planned again, in every kind of operation."""

import math
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

from core.cutting import progress_of
from core.inputs import Edited, GaugeTried, Measured, Moved, PickedUp, RunInput
from core.jobs.job import read_job
from core.operations.registry import PlanInput, replan
from core.plan import Step
from core.values.errors import PlanError
from tests.core.entered import set_to
from tests.core.planned import make_plan
from tests.core.thread_jobs import lathe, plan_input_of

SAMPLES = Path(__file__).parents[2] / "sample_jobs"
PATTERNS = ("sundial_lid", "sundial_base", "gnomon_plate")
SAMPLED = [
    operation.plan_input
    for name in ("sundial_arbor", "engraving_fixture", "gnomon_screw", "hour_lines", "socket_arbor", *PATTERNS)
    for operation in read_job(SAMPLES / f"{name}.toml").operations
]
NAMES = [str(plan_input.parameters["name"]) for plan_input in SAMPLED]
_SIZES = {"size": 27.4, "to go": 1.0, "crest": 0.1, "depth": 0.1, "circle": 6.4}
GIVEN: tuple[RunInput, ...] = (
    *(Measured(what=what, size_mm=size_mm) for what, size_mm in _SIZES.items()),
    *(Moved(size=Measured(what=what, size_mm=_SIZES[what])) for what in ("size", "to go")),
    Moved(),
    PickedUp(moved="other"),
    set_to("0.1"),
    Edited(plan_input={}),
    GaugeTried(fit="tight"),
)


@cache
def steps_of(at: int) -> tuple[Step, ...]:
    """Return the planned steps of one of the samples."""
    return make_plan(SAMPLED[at]).steps


def prepares(step: Step) -> bool:
    """Return whether a step only prepares a cut, a reading or a measurement."""
    return step.action in {"set", "check"}


def before_work(steps: tuple[Step, ...]) -> list[Step]:
    """Return the steps before the first step that cuts, turns the table, reads or measures."""
    return list(steps[: next(at for at, step in enumerate(steps) if not prepares(step))])


@pytest.mark.parametrize("entered", GIVEN, ids=lambda entered: type(entered).__name__)
@pytest.mark.parametrize("sample", range(len(SAMPLED)), ids=NAMES)
def test_each_dial_is_still_zeroed_before_its_next_cut_after_the_run_is_planned_again(
    sample: int, entered: RunInput
) -> None:
    """Every kind of input is entered at each set-up step of every sample."""
    planned = steps_of(sample)
    if all(prepares(step) for step in planned):
        return
    for at in range(len(before_work(planned))):
        still_open = planned[at:]
        try:
            steps = replan(SAMPLED[sample], progress_of(planned[:at], still_open, 500), entered)
        except PlanError:
            # The input leads to no new plan here, and the steps stay unchanged.
            continue
        wanted = {dial for step in before_work(still_open) for dial in step.zeroed_dials}
        first_cut = next((place for place, step in enumerate(steps) if step.action == "cut"), len(steps))
        assert wanted <= {dial for step in steps[:first_cut] for dial in step.zeroed_dials}
        texts = [step.text for step in steps]
        kept = (step.text for step in before_work(still_open) if not step.zeroed_dials)
        assert all(any(text.startswith(its) for text in texts) for its in kept)
        assert [step.id for step in steps] == list(range(500, 500 + len(steps)))


@pytest.mark.parametrize("entered", GIVEN, ids=lambda entered: type(entered).__name__)
@pytest.mark.parametrize("sample", range(len(SAMPLED)), ids=NAMES)
def test_a_set_up_step_logged_by_another_version_is_not_listed_twice(sample: int, entered: RunInput) -> None:
    """The other version's texts differ, but its titles do not. The same steps follow any input at any set-up step."""
    plan_input, steps = SAMPLED[sample], steps_of(sample)
    texts = {step.text for step in before_work(steps)} if not all(prepares(step) for step in steps) else set()
    earlier = tuple(replace(step, text=f"Once {step.text}") if step.text in texts else step for step in steps)
    # One step in three is enough, because the comparison does not depend on the number of finished set-up steps.
    for at in range(0, len(texts), 3):
        try:
            wanted = replan(plan_input, progress_of(steps[:at], steps[at:], 500), entered)
        except PlanError:
            continue
        planned = replan(plan_input, progress_of(earlier[:at], earlier[at:], 500), entered)
        assert [(step.title, step.settings) for step in planned] == [(step.title, step.settings) for step in wanted]


def test_the_dial_is_touched_off_at_the_diameter_measured_beforehand() -> None:
    """29.70 is entered for a blank of 30. The dial is touched off at 29.70.

    1.45 of radius to 26.80 is 2.90 on the dial.
    """
    its = PlanInput(
        kind="turn",
        parameters={"kind": "turn", "name": "it", "from": "30 mm", "to": "26.8 mm", "cut": "0.75 mm"},
        lathe=lathe(),
    )
    plan = make_plan(its)
    steps = replan(its, progress_of((), plan.steps, 50), Measured(what="size", size_mm=29.7))
    assert steps[0].zeroed_dials == ("cross_slide",) and "at 29.7 mm" in steps[0].text
    assert [step.settings[0].position for step in steps if step.action == "cut"][-1] == Fraction("2.9")  # type: ignore[union-attr]


def test_a_measurement_at_the_dry_run_keeps_the_open_set_up_steps() -> None:
    """Dry run and scratch pass stay, in that order, before the cuts."""
    its = plan_input_of(thread="M30x3.5-6g", blank="29.85 mm")
    plan = make_plan(its)
    at = next(place for place, step in enumerate(plan.steps) if step.text.startswith("Dry"))
    steps = replan(its, progress_of(plan.steps[:at], plan.steps[at:], 50), Measured(what="crest", size_mm=0.1))
    assert [step.text for step in steps[:2]] == [step.text for step in plan.steps[at : at + 2]]
    assert steps[2].action == "cut"


def test_a_thread_depth_measured_before_the_touch_off_is_counted_from_the_crest() -> None:
    """The groove is 0.6 mm deep already.

    The passes continue from this depth to the planned mark, with zero on the crest.
    """
    its = plan_input_of(thread="M30x3.5-6g", blank="29.85 mm")
    plan = make_plan(its)
    steps = replan(its, progress_of((), plan.steps, 50), Measured(what="crest", size_mm=0.6))
    at = [[step.settings[0].position for step in those if step.action == "cut"] for those in (plan.steps, steps)]  # type: ignore[union-attr]
    assert at[1][-1] == pytest.approx(at[0][-1], abs=0.02)
    assert 0.6 < at[1][0] <= 0.6 / math.cos(math.radians(29)) + 0.28
    assert [step.text for step in before_work(steps)] == [step.text for step in before_work(plan.steps)]


def test_after_a_repeated_touch_off_the_passes_count_from_the_new_zero() -> None:
    """At 1.50 on the dial the touch-off is repeated and 28.40 measured: 1.60 more from the new zero, not from 1.50."""
    its = PlanInput(
        kind="turn",
        parameters={"kind": "turn", "name": "it", "from": "30 mm", "to": "26.8 mm", "cut": "0.75 mm"},
        lathe=lathe(),
    )
    plan = make_plan(its)
    there = progress_of(plan.steps[1:2], (plan.steps[0], *plan.steps[2:]), 50)
    steps = replan(its, there, Measured(what="size", size_mm=28.4))
    assert steps[0].zeroed_dials == ("cross_slide",)
    assert [step.settings[0].position for step in steps if step.action == "cut"][-1] == Fraction("1.6")  # type: ignore[union-attr]
