"""After any setting of a dial, the plan continues from the deepest mark reached, and no pass cuts a negative depth."""

from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from core.cutting import progress_of
from core.inputs import Measured
from core.operations.registry import PlanInput, replan
from core.plan import Step
from core.values.dials import Setting
from tests.core.entered import set_to
from tests.core.operations.dividing.rotary import lathe_with, pattern_keys
from tests.core.planned import make_plan

LAYER = {"count": 3, "offset": "20 mm", "circle_radius": "8 mm", "depth": "1.2 mm"}
KINDS: dict[str, dict[str, Any]] = {
    "turn": {"from": "40 mm", "to": "36 mm", "cut": "0.5 mm"},
    "bore": {"kind": "turn", "side": "inside", "from": "30 mm", "to": "34 mm", "cut": "0.5 mm"},
    "face": {"dial": "carriage", "remove": "3 mm", "cut": "0.5 mm"},
    "groove": {"dial": "cross_slide", "depth": "3 mm", "cut": "0.5 mm"},
    "thread": {"thread": "M30x3.5-6g"},
    "nut": {"kind": "thread", "thread": "M20x1.5-6H"},
    "divide": {"divisions": 4, "depth": "2 mm", "cut": "0.4 mm", "depth_dial": "cross_slide", "order": "round"},
    "index, each to its depth": {
        "kind": "divide",
        "divisions": 4,
        "depth": "2 mm",
        "cut": "0.4 mm",
        "depth_dial": "cross_slide",
        "order": "position",
    },
    "pattern": pattern_keys(LAYER, {**LAYER, "offset": "12 mm"}, cut="0.3 mm", order="round"),
}
SET = st.lists(st.tuples(st.integers(0, 14), st.integers(-300, 300)), min_size=1, max_size=5)


def place(step: Step) -> tuple[Any, Any, Any]:
    """Return the place at which a pass cuts."""
    return step.at.layer, step.at.position, step.thread_start


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=40, deadline=None)
@given(deviations=SET)
@example(deviations=[(14, 202), (0, 300), (0, 300)])
@example(deviations=[(14, 9), (9, 0), (0, 0)])
@example(deviations=[(0, 3), (3, 0), (0, 0), (0, 0)])
@example(deviations=[(0, 16), (4, 0), (0, 0), (0, 0)])
def test_no_setting_entered_by_the_user_gives_a_pass_of_negative_depth(
    kind: str, deviations: list[tuple[int, int]]
) -> None:
    """The dial is wound in or out by up to 300 marks, again and again.

    Depths only grow, and the rest is never below 0.
    """
    table = {"kind": kind, "name": "it", **KINDS[kind]}
    its = PlanInput(kind=table["kind"], parameters=table, lathe=lathe_with())
    done, still_open = list[Step](), list(make_plan(its).steps)
    planned = sum(step.action == "cut" for step in still_open)
    for taken, marks in deviations:
        while still_open and (taken > 0 or still_open[0].action != "cut"):
            taken -= still_open[0].action == "cut"
            done.append(still_open.pop(0))
        if not still_open:
            return
        setting = next(one for one in still_open[0].settings if isinstance(one, Setting))
        dial = its.lathe.dial(setting.dial)
        position = round(setting.position + marks * float(dial.graduation), 6)
        progress = progress_of(done, still_open, 1000 + len(done))
        still_open = list(replan(its, progress, set_to(str(position))))
        cuts = [step for step in still_open if step.action == "cut"]
        # A jump that is too deep is taken in two passes at each position, next to the passes that were set by hand.
        assert len(cuts) <= 2 * planned + len(deviations)
        deepest: dict[Any, float] = {}
        for step in cuts:
            assert (step.removed_mm or 0.0) >= 0 and (step.remaining_mm or 0.0) >= 0
            assert step.depth_mm is not None and step.depth_mm >= deepest.get(place(step), 0.0) - 1e-9
            deepest[place(step)] = step.depth_mm


def test_a_pass_that_removes_no_metal_does_not_change_the_measured_depth() -> None:
    """The pass does not bring back the depth by the dial."""
    table = {"kind": "thread", "name": "it", "thread": "M20x1.5-6H", "infeed": "straight"}
    its = PlanInput(kind="thread", parameters=table, lathe=lathe_with())
    steps = list(make_plan(its).steps)
    at = next(index for index, step in enumerate(steps) if step.action == "cut") + 3
    measured = Measured(what="pitch diameter", size_mm=18.9)
    after = list(replan(its, progress_of(steps[:at], steps[at:], 1000), measured))
    progress = progress_of(steps[:at], after, 2000)
    setting = next(one for one in after[0].settings if isinstance(one, Setting))
    out = replan(its, progress, set_to(str(setting.position + 2)))
    assert out[0].removed_mm == 0.0
    assert [step.depth_mm for step in out[1:] if step.action == "cut"] == pytest.approx(
        [step.depth_mm for step in after if step.action == "cut"]
    )


@pytest.mark.parametrize("kind", ["pattern", "divide"])
def test_a_dial_reading_corrected_before_the_cut_leaves_the_plan_unchanged(kind: str) -> None:
    """The user enters 8.5 for 0.3, then 0.3. No pass goes to 8.5, and no pass becomes smaller."""
    table = {"kind": kind, "name": "it", **KINDS[kind]}
    its = PlanInput(kind=kind, parameters=table, lathe=lathe_with())
    steps = list(make_plan(its).steps)
    at = next(index for index, step in enumerate(steps) if step.action == "cut")
    planned = [(step.settings, step.removed_mm) for step in steps[at:] if step.action == "cut"]
    right = next(one for one in steps[at].settings if isinstance(one, Setting)).position
    slip = list(replan(its, progress_of(steps[:at], steps[at:], 1000), set_to("8.5")))
    again = list(replan(its, progress_of(steps[:at], slip, 2000), set_to(right)))
    found = [(step.settings, step.removed_mm) for step in again if step.action == "cut"]
    assert len(found) == len(planned)
    for (set_to_, removed_mm), (wanted, planned_mm) in zip(found, planned, strict=True):
        assert [one.position for one in set_to_] == [one.position for one in wanted]  # type: ignore[union-attr]
        assert removed_mm == pytest.approx(planned_mm)


@pytest.mark.parametrize("kind", ["turn", "thread", "divide"])
def test_a_dial_reading_at_which_the_pass_would_cut_no_metal_is_reported(kind: str) -> None:
    """With two digits swapped the pass would cut air. A deeper reading is not reported."""
    table = {"kind": kind, "name": "it", **KINDS[kind]}
    its = PlanInput(kind=kind, parameters=table, lathe=lathe_with())
    steps = list(make_plan(its).steps)
    cuts = [at for at, step in enumerate(steps) if step.action == "cut" and step.at.position in {None, 1}]
    at = cuts[1]
    reached = next(one for one in steps[cuts[0]].settings if isinstance(one, Setting)).position
    planned = next(one for one in steps[at].settings if isinstance(one, Setting)).position
    for position, said in ((reached / 2, True), (reached, True), (planned, False)):
        first = replan(its, progress_of(steps[:at], steps[at:], 1000), set_to(position))[0]
        assert (first.removed_mm == 0, bool(first.findings)) == (said, said)
