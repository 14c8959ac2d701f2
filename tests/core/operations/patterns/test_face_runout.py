"""The depth of grooves and the bare patches on a face with a given runout."""

from typing import Any

import pytest

from core.operations.registry import PlanInput
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import lathe_with, layers_problems, pattern_keys
from tests.core.operations.patterns.test_effects import depths_cut
from tests.core.planned import make_plan

LAYER: dict[str, Any] = {"count": 12, "offset": "18 mm", "circle_radius": "6 mm", "depth": "0.5 mm"}


def _plan(layer: dict[str, Any] = LAYER, **keys: Any) -> Any:
    table = {"kind": "pattern", "name": "Border", **pattern_keys(layer, tip_angle="90 deg", **keys)}
    return make_plan(PlanInput(kind="pattern", parameters=table, lathe=lathe_with(), material=None))


@pytest.mark.parametrize(("runout", "radius"), [(0.05, 24.0), (0.05, 12.0), (0.3, 40.0)])
def test_the_minimum_groove_depth_matches_a_face_simulated_with_numpy(runout: float, radius: float) -> None:
    """The tool touches off at the highest place. One circle about the axis is as large as the layer."""
    plan = _plan(face_runout=f"{runout} mm", face_radius=f"{radius} mm")
    cut = depths_cut(runout, radius, 0, 24, 1, 0.5)
    assert plan.figures["layers"][0]["depth_min_mm"] == pytest.approx(cut.min(), abs=2e-3)
    assert not any("uncut" in caution for caution in plan.cautions)


def test_a_face_runout_larger_than_the_groove_depth_gets_a_caution_in_the_plan() -> None:
    """A runout of 0.3 mm at 12 mm is 0.6 mm at the layer's radius of 24 mm, more than the depth of 0.5 mm."""
    plan = _plan(face_runout="0.3 mm", face_radius="12 mm")
    assert plan.figures["layers"][0]["depth_min_mm"] == 0
    (uncut,) = [caution for caution in plan.cautions if "uncut" in caution]
    assert figures(uncut) == {"1", "0.6", "0.5"}


def test_a_pattern_without_face_runout_gets_no_caution_about_face_runout() -> None:
    """Without a runout, the least depth is the wanted depth."""
    plan = _plan()
    assert plan.figures["layers"][0]["depth_min_mm"] == plan.figures["layers"][0]["depth_max_mm"] == 0.5
    assert not any("uncut" in caution for caution in plan.cautions)


def test_a_face_radius_without_a_face_runout_is_refused() -> None:
    """The key gives the radius of a runout measurement, so it needs the runout."""
    _, problems = layers_problems(lathe_with(), LAYER, face_radius="12 mm")
    assert [problem.key for problem in problems] == ["face_radius"]
