"""The grooves on a card match the cuts of a simulated lathe that follows the steps.

The lathe knows only positions of its dials, never the pattern. Slide, table, head and depth move to each step's
setting, and a cut leaves a circle at the cutter.
"""

from typing import Any

import numpy as np
import pytest

from core.lathe.lathe import Lathe
from core.operations.patterns.operation import plan_pattern
from core.plan import Step
from core.values.dials import Setting
from tests.core.operations.dividing.rotary import HEAD, lathe_with, layers_job

LATHE = lathe_with(minutes=20)
"""Marks of a third of a degree, so that no angle of thirteen is exact."""
RINGS: list[dict[str, Any]] = [
    {"count": 13, "offset": "20.013 mm", "circle_radius": "6.207 mm", "depth": "0.43 mm"},
    {"count": 5, "offset": "31.37 mm", "circle_radius": "4.111 mm", "start": "7 deg", "depth": "0.2 mm", "skip": [2]},
]


def cut_by_hand(steps: tuple[Step, ...], lathe: Lathe, height: float, first_radius: float) -> dict[Any, np.ndarray]:
    """Return x, y, radius and depth of every circle by layer and position, from the dial settings of the steps."""
    slide = table = depth = 0.0
    radius = first_radius
    cut: dict[Any, np.ndarray] = {}
    for step in steps:
        for setting in step.settings:
            if not isinstance(setting, Setting):
                continue
            if setting.dial == "rotary_table":
                table = float(setting.position)
            elif setting.dial == "cross_slide":
                # The example lathe's cross-slide reads diameter.
                slide = float(setting.position) / 2
            elif setting.dial == "boring_head" and not step.zeroed_dials:
                radius = first_radius + float(setting.position) * 25.4 / 2
            elif setting.dial == "carriage":
                depth = float(setting.position)
        if step.action == "cut":
            spindle = complex(slide, -height) * np.exp(1j * np.deg2rad(table))
            cut[step.at.layer, step.at.position] = np.array([spindle.real, spindle.imag, radius, depth])
    return cut


@pytest.mark.parametrize("height", ["0 mm", "0.7 mm", "-0.3 mm"])
def test_the_elements_of_a_plan_match_the_circles_that_the_plans_steps_cut(height: str) -> None:
    """Every circle matches, with an inch head and with every dial rounded to marks."""
    assert LATHE.dials["cross_slide"].reads_diameter and HEAD.unit == "in"
    plan = plan_pattern(layers_job(LATHE, *RINGS, tip_angle="60 deg", height_error=height), LATHE, None)
    cut = cut_by_hand(plan.steps, LATHE, float(height.split()[0]), 6.207)
    found = {
        (one["layer"], one["position"]): np.array([one["x_mm"], one["y_mm"], one["radius_mm"], one["depth_mm"]])
        for one in plan.figures["elements"]
    }
    assert found.keys() == cut.keys() and len(found) == 17
    for place, one in found.items():
        assert one == pytest.approx(cut[place], abs=1e-9)
