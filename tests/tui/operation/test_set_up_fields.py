"""The forms of work on the rotary table have fields for the set-up that a job states."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import MakeApp
from tests.core.operations.dividing.rotary import pattern_keys
from tests.tui.made_up import opened
from tui.operation.divide import DivideScreen
from tui.operation.screen import OperationScreen
from tui.pattern.screen import PatternScreen

STATED = {"workholding": "soft jaws", "tool": "carbide, 3 mm"}
LATHE = Path(__file__).parents[3] / "sample_jobs" / "mixed_lathe.toml"


def division() -> OperationScreen:
    """Return the form of a division that states its set-up."""
    return DivideScreen({"kind": "divide", "name": "it", "divisions": 24, **STATED})


def pattern() -> OperationScreen:
    """Return the form of a pattern that states its set-up."""
    layer = {"count": 36, "offset": "20 mm", "circle_radius": "12 mm"}
    return PatternScreen({**pattern_keys(layer, tip_angle="90 deg"), **STATED})


@pytest.mark.parametrize("screen", [division, pattern])
async def test_saving_a_form_keeps_the_workholding_and_tool_of_the_operation(
    make: MakeApp, screen: Callable[[], OperationScreen]
) -> None:
    """A saved form holds the workholding and tool with which it was opened."""
    async with opened(make, screen(), lathe=LATHE) as (_, shown):
        assert STATED.items() <= shown.plan_input.parameters.items()
