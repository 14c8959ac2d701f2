"""Checks the dial for the depth: one slide cannot set both depth and offset, and the head cannot set a depth."""

from typing import Any

import pytest

from core.cutting import progress_of
from core.inputs import Moved
from core.operations.registry import PlanInput, replan
from core.values.errors import PlanError
from tests.core.operations.dividing.rotary import lathe_with, layers_job, pattern_keys
from tests.core.planned import make_plan

LAYER: dict[str, Any] = {"count": 5, "offset": "20 mm", "circle_radius": "8 mm", "depth": "0.4 mm"}
LATHE = lathe_with()
WRONG: list[dict[str, Any]] = [
    {"depth_dial": "cross_slide"},
    {"depth_dial": "boring_head"},
]


def plan_input(**keys: Any) -> PlanInput:
    """Return a pattern in the form of a job file."""
    table = {"kind": "pattern", "name": "Border", **pattern_keys(LAYER, **keys)}
    return PlanInput(kind="pattern", parameters=table, lathe=LATHE, material=None)


@pytest.mark.parametrize("keys", WRONG)
def test_a_dial_that_cannot_set_the_depth_is_refused_at_the_depth_dial_key(keys: dict[str, Any]) -> None:
    """The refusal also comes if the offset uses the default dial."""
    assert layers_job(LATHE, LAYER, **keys).depth_dial == keys["depth_dial"]
    with pytest.raises(PlanError) as refused:
        make_plan(plan_input(**keys))
    assert refused.value.field == "depth_dial" and refused.value.message.endswith("such as carriage.")


def test_a_pattern_without_a_depth_accepts_any_depth_dial() -> None:
    """Nothing is fed in by the dial."""
    no_depth = {key: value for key, value in LAYER.items() if key != "depth"}
    assert make_plan(PlanInput("pattern", {"kind": "pattern", "name": "It", **pattern_keys(no_depth)}, LATHE, None))


@pytest.mark.parametrize("keys", WRONG)
def test_an_old_run_with_an_unsuitable_depth_dial_can_still_be_planned_again(keys: dict[str, Any]) -> None:
    """The log already names the dial, and only the remaining steps are planned."""
    steps = list(make_plan(plan_input()).steps)
    progress = progress_of(steps[:12], steps[12:], len(steps) + 1, (), ())
    assert any(step.action == "cut" for step in replan(plan_input(**keys), progress, Moved()))
