"""The dial that sets the depth of a pattern: one slide cannot set both depth and offset, nor the head a depth."""

from typing import Any

import pytest

from core.cutting import progress_of
from core.inputs import Moved
from core.operations.registry import PlanInput, make_plan, replan
from core.values.errors import PlanError
from tests.core.operations.dividing.rotary import lathe_with, layers_job, pattern_keys

LAYER: dict[str, Any] = {"count": 5, "offset": "20 mm", "circle_radius": "8 mm", "depth": "0.4 mm"}
LATHE = lathe_with()
WRONG: list[dict[str, Any]] = [
    {"depth_dial": "cross_slide"},
    {"depth_dial": "boring_head"},
]


def plan_input(**keys: Any) -> PlanInput:
    """Return a pattern as a job file has it."""
    table = {"kind": "pattern", "name": "Border", **pattern_keys(LAYER, **keys)}
    return PlanInput(kind="pattern", parameters=table, lathe=LATHE, material=None)


@pytest.mark.parametrize("keys", WRONG)
def test_a_dial_that_cannot_set_the_depth_is_refused_under_its_key(keys: dict[str, Any]) -> None:
    """Also if the offset's dial is only the usual one."""
    assert layers_job(LATHE, LAYER, **keys).depth_dial == keys["depth_dial"]
    with pytest.raises(PlanError) as refused:
        make_plan(plan_input(**keys))
    assert refused.value.field == "depth_dial" and refused.value.message.endswith("such as carriage.")


def test_without_a_depth_the_dial_does_not_matter() -> None:
    """Nothing is fed in by it."""
    no_depth = {key: value for key, value in LAYER.items() if key != "depth"}
    assert make_plan(PlanInput("pattern", {"kind": "pattern", "name": "It", **pattern_keys(no_depth)}, LATHE, None))


@pytest.mark.parametrize("keys", WRONG)
def test_a_run_started_with_such_a_dial_is_planned_again(keys: dict[str, Any]) -> None:
    """Its log names the dial, and it is only a run's remaining steps that are wanted."""
    steps = list(make_plan(plan_input()).steps)
    progress = progress_of(steps[:12], steps[12:], len(steps) + 1, (), ())
    assert any(step.action == "cut" for step in replan(plan_input(**keys), progress, Moved()))
