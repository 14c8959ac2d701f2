"""Deviations from the plan change the starting point of later passes, but never make a pass heavier than planned."""

import math
from collections.abc import Iterator, Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.cutting import progress_of
from core.inputs import Measured
from core.operations.registry import PlanInput, replan
from core.plan import Step
from core.values.errors import PlanError
from tests.core.entered import set_to
from tests.core.planned import make_plan
from tests.core.thread_jobs import lathe, plan_input_of

MARK_MM = 0.02 * math.cos(math.radians(29))
"""Radial depth of one mark of 0.02 mm on a compound 29 degrees off square [mm]."""
FLAT_MM = 0.30
M30 = {"thread": "M30x3.5-6g", "blank": "29.85 mm", "tool_flat": "0.30 mm"}

Span = tuple[float, float]
"""Depths on the radius before and after a pass [mm]."""


def area_mm2(span: Span) -> float:
    """Return the area that a pass cuts from a 60 degree groove with a flat bottom [mm2].

    The area is f (d2 - d1) + tan 30 (d2^2 - d1^2), with the flat f and the depths d1 and d2.
    """
    shallow, deep = span
    return FLAT_MM * (deep - shallow) + math.tan(math.radians(30)) * (deep**2 - shallow**2)


def spans(steps: Sequence[Step]) -> Iterator[Span]:
    """Yield the depths before and after each cut that removes metal."""
    for step in steps:
        if step.action == "cut" and step.removed_mm:
            assert step.depth_mm is not None
            yield step.depth_mm - step.removed_mm, step.depth_mm


def allowed_mm2(planned: Sequence[Span], span: Span) -> float:
    """Return the largest area that the plan cuts in one pass between two depths [mm2].

    The plan may lie one mark deeper, because both ends of a pass are rounded to the nearest mark.
    """
    shifted = [(before + MARK_MM, after + MARK_MM) for before, after in planned]
    here = [own for own, at in zip(shifted, planned, strict=True) if at[0] < span[1] and span[0] < at[1]]
    return max(area_mm2(own) for own in here or shifted[:1])


DEVIATIONS = st.lists(st.tuples(st.integers(0, 6), st.booleans(), st.integers(-40, 40)), min_size=1, max_size=4)


@settings(max_examples=80)
@given(deviations=DEVIATIONS, material=st.sampled_from(["mild steel", "aluminium", "stainless steel"]))
def test_after_deviations_from_the_plan_no_thread_pass_is_heavier_than_planned_at_its_depth(
    deviations: list[tuple[int, bool, int]], material: str
) -> None:
    """Deviations are wrong dial settings and measured sizes, in any order. The last pass stays light."""
    its = plan_input_of(**M30)._replace(material=material)
    plan = make_plan(its)
    planned = list(spans(plan.steps))
    done, still_open = list[Step](), list(plan.steps)
    for passes, is_measured, marks in deviations:
        while still_open and sum(step.action == "cut" for step in done) < passes:
            done.append(still_open.pop(0))
        cuts = [step for step in still_open if step.action == "cut"]
        if not cuts or still_open[0].action not in {"cut", "measure"}:
            continue
        progress = progress_of(done, still_open, 1000 + len(done))
        if is_measured:
            left_mm = plan.figures["depth_mm"] - progress.depth_mm + marks * MARK_MM / 3
            middle_mm = (plan.figures["pitch_diameter_max_mm"] + plan.figures["pitch_diameter_min_mm"]) / 2
            try:
                steps = replan(its, progress, Measured(what="pitch diameter", size_mm=middle_mm + 2 * left_mm))
            except PlanError:
                continue
            later = list(steps)
        else:
            compound = cuts[0].setting("compound")
            assert compound is not None
            position = str(round(compound.position + marks * 0.02, 2))
            steps = replan(its, progress, set_to(position))
            later = list(steps[1:])
        assert all((step.removed_mm or 0.0) >= 0 for step in steps)
        for span in spans(later):
            assert area_mm2(span) <= allowed_mm2(planned, span) + 1e-9
        if is_measured and (taken := list(spans(later))):
            assert area_mm2(taken[-1]) <= allowed_mm2(planned[-1:], planned[-1]) + 1e-9
        still_open = list(steps)


PASSES = {
    "turn": {"kind": "turn", "from": "30 mm", "to": "26.8 mm", "cut": "0.75 mm", "finish": "0.15 mm"},
    "face": {"kind": "face", "dial": "compound", "length_now": "60 mm", "length": "57 mm", "cut": "0.7 mm"},
    "groove": {"kind": "groove", "dial": "cross_slide", "depth": "2 mm", "cut": "0.4 mm", "finish": "0.1 mm"},
}


def depth_allowed_mm(planned: Sequence[Span], span: Span, mark_mm: float) -> float:
    """Return the greatest depth that the plan cuts in one pass near two depths [mm], give or take one mark."""
    near = [(before - mark_mm, after + mark_mm) for before, after in planned]
    here = [own for own, at in zip(planned, near, strict=True) if at[0] < span[1] and span[0] < at[1]]
    return max(after - before for before, after in here or planned[:1])


@pytest.mark.parametrize("kind", PASSES)
@given(deviations=DEVIATIONS)
def test_after_deviations_from_the_plan_no_cut_is_deeper_than_planned_at_its_depth(
    kind: str, deviations: list[tuple[int, bool, int]]
) -> None:
    """Deviations are wrong dial settings and measured sizes, in any order. The last cut stays light."""
    its = PlanInput(kind=kind, parameters={"name": "it", **PASSES[kind]}, lathe=lathe())
    plan = make_plan(its)
    planned = list(spans(plan.steps))
    total_mm = planned[-1][1]
    dial = its.lathe.dial("compound" if kind == "face" else "cross_slide")
    done, still_open = list[Step](), list(plan.steps)
    for passes, is_measured, marks in deviations:
        while still_open and sum(step.action == "cut" for step in done) < passes:
            done.append(still_open.pop(0))
        cuts = [step for step in still_open if step.action == "cut"]
        if not cuts or still_open[0].action not in {"cut", "measure"}:
            continue
        progress = progress_of(done, still_open, 1000 + len(done))
        if is_measured:
            size_mm = {"turn": 26.8, "face": 57.0, "groove": 2.0}[kind]
            left_mm = total_mm - progress.depth_mm + marks * dial.mark_mm / 3
            sense = {"turn": 2, "face": 1, "groove": -1}[kind]
            steps = replan(its, progress, Measured(what="size", size_mm=size_mm + sense * left_mm))
            later = list(steps)
        else:
            setting = cuts[0].setting(dial.name)
            assert setting is not None
            steps = replan(its, progress, set_to(str(setting.position + marks * float(dial.graduation))))
            later = list(steps[1:])
        assert all((step.removed_mm or 0.0) >= 0 for step in steps)
        for span in spans(later):
            assert span[1] - span[0] <= depth_allowed_mm(planned, span, dial.mark_mm) + 1e-9
        if is_measured and (taken := list(spans(later))):
            assert taken[-1][1] - taken[-1][0] <= planned[-1][1] - planned[-1][0] + 1e-9
        still_open = list(steps)
