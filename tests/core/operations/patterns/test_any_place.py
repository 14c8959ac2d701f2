"""A simulated lathe follows the steps of layers of any shape and cuts every position in its wanted place."""

import math
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings

from core.operations.dividing.division import Means
from core.operations.patterns.layer_plan import layer_plans
from core.operations.patterns.layers import Layer, PatternJob
from core.operations.patterns.operation import count_pattern, plan_pattern
from core.operations.patterns.steps import cuts_as_set
from core.plan import Step
from core.values.errors import PlanError
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import lathe_with, layers_problems
from tests.core.operations.patterns.machine import ACUTE, WIDE, Machine, can_be_reached, jobs, wanted_mm

LATHE = lathe_with(plates=True)
SLIDE_MM, DEPTH_MM, HEAD_MM = 0.0125, 0.05, 0.0127 / 2
"""Half a mark of its dials: 0.05 mm of diameter, 0.1 mm, 0.001 in of diameter."""
TABLE_DEG: Mapping[Means, float] = {"dial": 1 / 60, "plate": 360 / 72 / 15 / 2, "direct": 0.0}
"""Half a mark of 2 minutes of arc; half a hole of the coarsest circle, with 15 holes."""


def tolerance_mm(job: PatternJob, place: complex) -> float:
    """Return the largest distance from a place that half a mark of slide and table can cause [mm].

    The two are not square to each other if there is a height error.
    """
    # After the work is put back the table's axis may be 3 mm from its centre.
    return SLIDE_MM + math.radians(TABLE_DEG[job.means]) * (abs(place) + 4) + 1e-6


def simulated(job: PatternJob, steps: tuple[Step, ...]) -> Machine:
    """Return the simulated machine after it has followed all steps."""
    machine = Machine(LATHE, job)
    machine.run(steps)
    return machine


@settings(deadline=None, max_examples=50)
@given(jobs())
def test_the_simulated_lathe_cuts_every_position_at_the_place_given_by_the_job(job: PatternJob) -> None:
    """Place, circle radius, end and depth of every position are right within half a mark of each dial."""
    machine = simulated(job, plan_pattern(job, LATHE, None).steps)
    assert set(machine.grooves) == {(layer.number, number) for layer in job.layers for number in wanted_mm(layer)}
    for layer in job.layers:
        for number, place in wanted_mm(layer).items():
            groove = machine.grooves[layer.number, number]
            depth_mm = layer.depths_mm[(number - 1) % layer.count % len(layer.depths_mm)]
            assert groove.depth_mm == pytest.approx(depth_mm, abs=DEPTH_MM + 1e-9)
            if layer.shape != "slots" and can_be_reached(job, place):
                for at in groove.at_mm:
                    assert abs(at - place) <= tolerance_mm(job, place)
            if layer.with_head:
                assert groove.radius_mm == pytest.approx([layer.circle_radius_mm] * len(groove.radius_mm), abs=HEAD_MM)


@settings(deadline=None, max_examples=30)
@given(jobs())
def test_each_pass_of_a_slot_or_arc_feeds_in_to_depth_and_then_along_the_groove(job: PatternJob) -> None:
    """Each pass has two cut steps.

    A slot ends at its second offset, and an arc after its angle about the table's axis.
    """
    machine = simulated(job, plan_pattern(job, LATHE, None).steps)
    for layer in job.layers:
        for number in wanted_mm(layer):
            groove = machine.grooves[layer.number, number]
            if layer.shape in {"circles", "dots"}:
                assert groove.ends_mm == []
                continue
            assert groove.along_mm == groove.depths_mm
            for start, end, swept in zip(groove.at_mm, groove.ends_mm, groove.swept_deg, strict=True):
                if layer.shape == "slots":
                    # The angle belongs to the start, and nothing is corrected.
                    assert abs(end - start) == pytest.approx(
                        abs(layer.to_offset_mm - layer.offset_mm), abs=2 * SLIDE_MM + 1e-6
                    )
                else:
                    assert abs(swept) == pytest.approx(float(layer.through_deg), abs=2 * TABLE_DEG[job.means])


@settings(deadline=None, max_examples=30)
@given(jobs())
def test_calculated_cuts_match_the_cuts_of_the_simulated_machine(job: PatternJob) -> None:
    """The settings used by figures and pictures give the places where the simulated machine cut."""
    machine = simulated(job, plan_pattern(job, LATHE, None).steps)
    cuts = cuts_as_set(layer_plans(job, LATHE))
    assert {(cut.layer.number, cut.position.number) for cut in cuts} == set(machine.grooves)
    for cut in cuts:
        groove = machine.grooves[cut.layer.number, cut.position.number]
        assert abs(complex(*job.comes_out_mm(cut.slide_mm, cut.angle_deg)) - groove.at_mm[0]) < 1e-6
        assert cut.depth_mm == pytest.approx(groove.depth_mm)
        if cut.to_slide_mm is not None:
            assert abs(complex(*job.comes_out_mm(cut.to_slide_mm, cut.angle_deg)) - groove.ends_mm[0]) < 1e-6
        if cut.circle_radius_mm is not None:
            assert cut.circle_radius_mm == pytest.approx(groove.radius_mm[0], abs=1e-9)
        if cut.through_deg is not None:
            # Anticlockwise on the work, whichever way the numbers run.
            assert cut.through_deg > 0 and cut.through_deg == pytest.approx(abs(groove.swept_deg[0]))


@settings(deadline=None, max_examples=60)
@given(jobs())
def test_a_plan_never_has_more_steps_than_predicted(job: PatternJob) -> None:
    """The number of steps that is counted before planning is an upper limit."""
    assert len(plan_pattern(job, LATHE, None).steps) <= count_pattern(job, LATHE, None).steps


def test_a_table_numbered_anticlockwise_cuts_the_same_pattern_unmirrored() -> None:
    """With numbers_rise = "anticlockwise", positions still follow anticlockwise on the work.

    The pattern is not mirrored.
    """
    table = LATHE.rotary_table
    assert table is not None
    lathe = replace(LATHE, rotary_table=table._replace(numbers_rise="anticlockwise"))
    layer = Layer(number=1, shape="arcs", count=3, offset_mm=20, through_deg=Fraction(40), depths_mm=(0.4,))
    job = PatternJob(layers=(layer,))
    machine = Machine(lathe, job)
    machine.run(plan_pattern(job, lathe, None).steps)
    for number, place in wanted_mm(layer).items():
        groove = machine.grooves[1, number]
        assert abs(groove.at_mm[0] - place) <= tolerance_mm(job, place)
        assert math.degrees((groove.ends_mm[0] / groove.at_mm[0]).imag) > 0


ONE = Layer(number=1, shape="arcs", count=2, offset_mm=20, through_deg=Fraction(40), depths_mm=(0.4,))


def test_arcs_are_refused_on_a_table_without_a_worm() -> None:
    """A table set only by plates or notches has no handle with a dial to feed an arc."""
    lathe = lathe_with(ratio=40, minutes=None, plates=True)
    for means in ("plate", "direct"):
        with pytest.raises(PlanError, match="worm"):
            count_pattern(PatternJob(layers=(ONE,), means=means), lathe, None)


def test_a_circle_radius_that_grows_at_each_position_is_refused_if_the_head_has_no_dial() -> None:
    """Without a dial on the head, every radius would need its own trial circle."""
    keys = {"count": 3, "offset": "20 mm", "circle_radius": "5 mm", "circle_radius_step": "1 mm", "depth": "0.4 mm"}
    _, problems = layers_problems(lathe_with(head=False), keys)
    assert [problem.key for problem in problems] == ["circle_radius_step"] and "needs a dial" in problems[0].message


def test_every_change_of_cutter_or_holder_is_a_step_that_the_figures_count() -> None:
    """Wide circles, then acute dots, then acute circles: both changes are steps with a touch-off of their own."""
    circles = Layer(number=1, cutter=ACUTE, count=3, offset_mm=20, circle_radius_mm=5, depths_mm=(0.4,))
    dots = Layer(number=2, shape="dots", cutter=ACUTE, count=3, offset_mm=10, depths_mm=(0.4,))
    wide = Layer(number=3, cutter=WIDE, count=3, offset_mm=30, circle_radius_mm=6, depths_mm=(0.6,))
    found = plan_pattern(PatternJob(layers=(circles, dots, wide)), LATHE, None)
    assert [step.at.layer for step in found.steps if step.action == "cut"] == [3] * 3 + [1] * 3 + [2] * 3
    assert (found.figures["cutter_changes"], found.figures["head_changes"], found.figures["plate_changes"]) == (2, 0, 0)
    assert sum("carriage" in step.zeroed_dials for step in found.steps) == 3
    # A cutter that was just put into the head has no known radius, so it needs a trial circle each time.
    assert sum(step.expects == "circle" for step in found.steps) == 2
    assert all(layer["time_s"] > 0 for layer in found.figures["layers"])


def test_a_boring_head_that_keeps_its_cutter_needs_no_second_trial_circle() -> None:
    """After circles and dots, the second layer of circles needs no trial circle, because the head kept its cutter."""
    one = Layer(number=1, cutter=WIDE, count=3, offset_mm=20, circle_radius_mm=5, depths_mm=(0.4,))
    dots = Layer(number=2, shape="dots", cutter=ACUTE, count=3, offset_mm=10, depths_mm=(0.4,))
    again = Layer(number=3, cutter=WIDE, count=3, offset_mm=30, circle_radius_mm=6, depths_mm=(0.6,))
    found = plan_pattern(PatternJob(layers=(one, dots, again), layer_order="written"), LATHE, None)
    assert sum(step.expects == "circle" for step in found.steps) == 1
    assert (found.figures["cutter_changes"], found.figures["head_changes"]) == (2, 1)


def test_no_step_that_cuts_an_arc_says_to_lock_the_table() -> None:
    """Neither a step of an arc nor its caution says to lock the table. One sentence says where the hand belongs."""
    steps = plan_pattern(PatternJob(layers=(ONE,)), LATHE, None).steps
    cuts = [step for step in steps if step.action == "cut"]
    said = [words for step in cuts for words in (step.text, *step.cautions)]
    assert not any("lock table" in words.lower() or "table locked" in words for words in said)
    assert any("never on the work" in caution for step in cuts for caution in step.cautions)
    assert any("seconds for a turn of the handle" in step.text for step in cuts)


def test_an_arc_of_a_full_turn_gets_the_advice_to_cut_a_circle_with_the_boring_head() -> None:
    """An arc of a full turn about the work's centre, with a radius that the head can reach, gets this advice first."""
    border = replace(ONE, count=1, through_deg=Fraction(360))
    first = plan_pattern(PatternJob(layers=(border,)), LATHE, None).cautions[0]
    assert "circle radius" in first and "20 mm" in first


def test_the_return_to_zero_before_a_plate_change_counts_from_the_end_of_the_last_arc() -> None:
    """An arc of 40 deg ends 4 turns and 8 holes of 18 from zero on a 40:1 head.

    The table returns to 0 from that position.
    """
    lathe = lathe_with(ratio=40, plates=True)
    arcs = Layer(number=1, shape="arcs", count=1, offset_mm=20, through_deg=Fraction(40), depths_mm=(0.4,))
    dots = Layer(number=2, shape="dots", count=47, offset_mm=20, depths_mm=(0.4,))
    job = PatternJob(layers=(arcs, dots), means="plate", layer_order="written")
    steps = plan_pattern(job, lathe, None).steps
    back = next(step for step in steps if "to_zero" in step.extra)
    assert {"4", "8", "18"} <= figures(back.text)
