"""Measuring steps name the size that the dial predicts, so that the user sees a slip before entering it."""

import re
from math import cos, radians, sin, tan

import pytest

from core.operations.registry import PlanInput
from core.plan import Plan
from tests.core.planned import make_plan
from tests.core.thread_jobs import lathe, plan_of


def _predicted(plan: Plan) -> list[tuple[float, list[float]]]:
    """Return for each measuring step the depth cut before it [mm] and the predicted sizes in its text [mm]."""
    found, depth_mm = [], 0.0
    for step in plan.steps:
        if step.depth_mm is not None:
            depth_mm = step.depth_mm
        if step.action == "measure":
            sizes = re.findall(r"([\d.]+) mm", step.text.partition("The dial predicts")[2])
            found.append((depth_mm, [float(size) for size in sizes]))
    return found


def test_pitch_diameter_and_size_over_wires_are_predicted_for_each_thread_pass() -> None:
    """Geometry of a sharp 60 degree tool, and M = d2 + w (1 + 1/sin 30) - P / (2 tan 30) from handbooks."""
    blank_mm, pitch_mm, wire_mm = 19.8, 2.5, 1.45
    plan = plan_of(thread="M20x2.5-6g", blank=f"{blank_mm} mm", wire=f"{wire_mm} mm")
    steps = _predicted(plan)
    assert len(steps) > 1
    for depth_mm, sizes in steps:
        # The sharp tip is P / (4 tan a) below the line on which groove and ridge are equally wide.
        pitch_diameter_mm = blank_mm - 2 * depth_mm + pitch_mm / (2 * tan(radians(30)))
        over_mm = pitch_diameter_mm + wire_mm * (1 + 1 / sin(radians(30))) - pitch_mm / (2 * tan(radians(30)))
        assert sizes == pytest.approx([pitch_diameter_mm, over_mm, wire_mm], abs=0.00051)
    assert pitch_mm / (2 * cos(radians(30))) == pytest.approx(wire_mm, abs=0.01)


def test_no_size_over_wires_is_predicted_for_a_wire_that_does_not_fit_the_thread() -> None:
    """A wire of 0.5 mm is below the crests of M20x2.5. In a bore no wire can be laid."""
    assert all(len(sizes) == 1 for _, sizes in _predicted(plan_of(thread="M20x2.5", wire="0.5 mm")))
    assert all(sizes == [] for _, sizes in _predicted(plan_of(thread="M20x2.5-6H")))


def test_the_depth_of_the_first_pass_is_predicted_for_cuts_at_divided_positions() -> None:
    """For 2 mm in passes of at most 0.5 mm, on a compound with marks of 0.02 mm, the first pass is 0.5 mm deep."""
    parameters = {"kind": "divide", "name": "it", "divisions": 6, "depth": "2 mm", "cut": "0.5 mm"}
    parameters |= {"depth_dial": "compound"}
    plan = make_plan(PlanInput(kind="divide", parameters=parameters, lathe=lathe(), material=None))
    assert [sizes for _, sizes in _predicted(plan)] == [[0.5]]


@pytest.mark.parametrize(
    ("parameters", "start_mm", "per_depth"),
    [
        ({"kind": "turn", "from": "30 mm", "to": "27 mm"}, 30.0, -2),
        ({"kind": "turn", "from": "27 mm", "to": "30 mm", "side": "inside"}, 27.0, 2),
        ({"kind": "face", "dial": "carriage", "length_now": "50 mm", "length": "48 mm"}, 50.0, -1),
        ({"kind": "face", "dial": "carriage", "remove": "2 mm"}, 2.0, -1),
        ({"kind": "groove", "dial": "cross_slide", "depth": "2 mm"}, 0.0, 1),
    ],
)
def test_the_size_predicted_for_a_pass_follows_from_its_dial_mark(
    parameters: dict[str, str], start_mm: float, per_depth: int
) -> None:
    """The predicted size is the size at touch-off minus the depth of the marks, doubled on a diameter."""
    parameters = {"name": "it", "cut": "0.5 mm", "finish": "0.15 mm", **parameters}
    plan = make_plan(PlanInput(kind=parameters["kind"], parameters=parameters, lathe=lathe(), material=None))
    steps = [found for found in _predicted(plan) if found[1]]
    assert len(steps) == 2
    for depth_mm, sizes in steps:
        assert sizes == pytest.approx([start_mm + per_depth * depth_mm], abs=0.00051)
