"""After any event in a pattern, every open position is cut exactly once to its depth, in its wanted place."""

import cmath
import math
from collections.abc import Collection
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.cutting import progress_of
from core.inputs import Edited, Measured, Moved, PickedUp, PositionCutWrong, PutBack, RunInput, SetTo
from core.operations.patterns.layers import Layer, PatternJob
from core.operations.patterns.operation import plan_pattern
from core.operations.patterns.replanning import replan_pattern
from core.plan import Step
from core.safety import without_repeats
from core.set_up_steps import dials_to_zero, set_up_steps, with_set_up
from core.values.errors import PlanError
from tests.core.operations.dividing.rotary import lathe_with
from tests.core.operations.patterns import made
from tests.core.operations.patterns.machine import ACUTE, WIDE, Groove, Machine, can_be_reached, jobs, wanted_mm
from tests.core.operations.patterns.test_any_place import DEPTH_MM, HEAD_MM, tolerance_mm

LATHE = lathe_with(plates=True)


class Run:
    """A run of a pattern on the simulated lathe, which does the steps and replans as asked."""

    def __init__(self, job: PatternJob) -> None:
        self.job = job
        self.machine = Machine(LATHE, job)
        self.done: list[Step] = []
        self.entered: list[RunInput] = []
        self.left: list[Step] = list(plan_pattern(job, LATHE, None).steps)
        self.next_id = len(self.left) + 1

    def do(self, count: int) -> None:
        """Do a number of steps."""
        for _ in range(min(count, len(self.left) - 1)):
            step = self.left.pop(0)
            self.machine.do(step)
            self.done.append(step)

    def finish(self) -> None:
        """Do all steps."""
        self.do(len(self.left))

    def enter(self, entered: RunInput) -> None:
        """Replan the remaining steps after an input."""
        # The same call as in core.operations.registry.replan, which would read the job again from its keys.
        progress = progress_of(self.done, self.left, self.next_id, (), self.entered)
        known = progress.zeroed(dials_to_zero(self.left))
        steps = replan_pattern(self.job, LATHE, None, known, entered)
        steps = without_repeats(with_set_up(set_up_steps(self.left), steps, self.next_id))
        assert [step.id for step in steps] == list(range(self.next_id, self.next_id + len(steps)))
        self.left = list(steps)
        self.next_id += len(self.left)
        self.entered.append(entered)

    @property
    def cut_places(self) -> list[tuple[int, int]]:
        """Layer and position of every groove cut until now."""
        return sorted(self.machine.grooves)


def asserts_all_cut(run: Run, wrong: Collection[tuple[int, int]] = ()) -> None:
    """Check that every position is cut once to each depth, in its place, except the `wrong` positions."""
    for layer in run.job.layers:
        for number, place in wanted_mm(layer).items():
            if (layer.number, number) in wrong:
                continue
            groove = run.machine.grooves[layer.number, number]
            depth_mm = layer.depths_mm[(number - 1) % layer.count % len(layer.depths_mm)]
            assert groove.depth_mm == pytest.approx(depth_mm, abs=DEPTH_MM + 1e-9)
            fed = sorted(set(groove.depths_mm))
            if layer.shape in {"circles", "dots"}:
                assert groove.depths_mm == fed
            else:
                # After a move the cutter is fed in again, but along only once at each depth.
                assert groove.along_mm == fed and groove.depths_mm == sorted(groove.depths_mm)
            if layer.with_head:
                assert groove.radius_mm == pytest.approx([layer.circle_radius_mm] * len(groove.radius_mm), abs=HEAD_MM)
            if layer.shape != "slots" and can_be_reached(run.job, place):
                assert all(abs(at - place) <= tolerance_mm(run.job, place) for at in groove.at_mm)


EVENTS: dict[str, Any] = {
    "moved": Moved(),
    "picked up": PickedUp("other"),
    "edited": Edited(plan_input={}),
}


@settings(deadline=None, max_examples=50)
@given(jobs(), st.lists(st.tuples(st.integers(0, 30), st.sampled_from(sorted(EVENTS))), min_size=1, max_size=4))
def test_planning_again_cuts_every_position_exactly_once(job: PatternJob, events: list[tuple[int, str]]) -> None:
    """Moves, changes of the start and edits come after any steps, several times."""
    run = Run(job)
    for steps, event in events:
        run.do(steps)
        if event != "edited":
            run.machine.indexed = None
        run.enter(EVENTS[event])
    run.finish()
    asserts_all_cut(run)


@settings(deadline=None, max_examples=40)
@given(jobs(2), st.integers(5, 40), st.booleans(), st.data())
def test_a_position_cut_in_the_wrong_place_can_be_cut_again(
    job: PatternJob, steps: int, again: bool, data: st.DataObject
) -> None:
    """The other positions are cut as before. The wrong one is left, or cut once more to its depth in its place."""
    run = Run(job)
    run.do(steps)
    if not run.cut_places:
        return
    layer, number = data.draw(st.sampled_from(run.cut_places))
    try:
        run.enter(PositionCutWrong(layer, number, Fraction(30), Fraction(77), cut_again=again))
    except PlanError as error:
        # The lathe is already set up for another layer.
        assert again and "not set up" in error.message
        return
    before = run.machine.grooves[layer, number]
    run.machine.grooves[layer, number] = Groove()
    if data.draw(st.booleans()):
        run.machine.indexed = None
        run.enter(Moved())
    run.finish()
    asserts_all_cut(run, set() if again else {(layer, number)})
    if not again:
        assert run.machine.grooves[layer, number].depths_mm == []
    assert before.depths_mm


@settings(deadline=None, max_examples=40)
@given(jobs(2), st.integers(0, 40), st.tuples(st.floats(-2, 2), st.floats(-2, 2)), st.floats(-180, 180))
def test_work_put_back_on_the_table_is_cut_in_its_planned_places(
    job: PatternJob, steps: int, shift: tuple[float, float], turn: float
) -> None:
    """All circles, dots and starts of arcs are in their wanted places on the work, for any position of the work."""
    run = Run(job)
    run.do(steps)
    run.machine.placed, run.machine.indexed = (complex(*shift), turn), None
    run.enter(PutBack(shift, turn))
    run.do(7)
    run.machine.indexed = None
    run.enter(Moved())
    run.finish()
    if any(abs(place) < 4 for layer in job.layers for place in wanted_mm(layer).values()):
        # A place can be nearer to the table's axis than the height error.
        return
    asserts_all_cut(run)


@settings(deadline=None, max_examples=40)
@given(jobs(1), st.integers(0, 30), st.floats(-0.25, 0.25))
def test_a_measured_depth_corrects_the_later_positions(job: PatternJob, steps: int, error: float) -> None:
    """The touch-off is wrong by up to a quarter millimetre. Positions not started have their depth within a mark."""
    run = Run(job)
    run.machine.touch_error_mm = error
    run.do(steps)
    last = run.done[-1] if run.done else None
    if last is None or last.action != "cut":
        return
    groove = run.machine.grooves[last.at.layer or 0, last.at.position or 0]
    started = set(run.machine.grooves)
    if groove.depths_mm[-1] <= 0:
        return
    run.enter(Measured("depth", groove.depths_mm[-1]))
    run.finish()
    for layer in job.layers:
        for number in wanted_mm(layer):
            if (layer.number, number) not in started:
                depth_mm = layer.depths_mm[(number - 1) % layer.count % len(layer.depths_mm)]
                cut = run.machine.grooves[layer.number, number]
                assert cut.depth_mm == pytest.approx(depth_mm, abs=2 * DEPTH_MM + 1e-9)


@settings(deadline=None, max_examples=40)
@given(jobs(2), st.integers(5, 40), st.sampled_from((-2, -1, 1, 2)), st.booleans())
def test_a_pass_set_to_a_depth_other_than_planned_changes_only_that_position(
    job: PatternJob, steps: int, marks: int, moves: bool
) -> None:
    """A pass is set up to two marks of 0.1 mm off. That position ends no deeper than set or wanted."""
    run = Run(job)
    run.do(steps)
    first = run.left[0]
    planned = first.setting("carriage")
    if first.action != "cut" or first.feeds_along or planned is None or planned.position + Fraction(marks, 10) <= 0:
        return
    as_set = planned.position + Fraction(marks, 10)
    run.enter(SetTo("carriage", as_set, str(as_set)))
    run.do(1)
    if moves:
        run.machine.indexed = None
        run.enter(Moved())
    run.finish()
    where = (first.at.layer or 0, first.at.position or 0)
    asserts_all_cut(run, {where})
    groove = run.machine.grooves[where]
    layer = job.layers[where[0] - 1]
    depth_mm = layer.depths_mm[(where[1] - 1) % layer.count % len(layer.depths_mm)]
    assert depth_mm - DEPTH_MM - 1e-9 <= groove.depth_mm <= max(depth_mm + DEPTH_MM, float(as_set)) + 1e-9
    if layer.shape in {"slots", "arcs"}:
        # After a move the cutter is fed along at the wanted depth, although the start of the groove is deeper.
        assert depth_mm - DEPTH_MM - 1e-9 <= max(groove.along_mm) <= groove.depth_mm + 1e-9


def layer(**keys: Any) -> Layer:
    """Return a layer of dots at 20 mm."""
    return Layer(**{"number": 1, "shape": "dots", "count": 4, "offset_mm": 20.0, "depths_mm": (0.6,), **keys})


def test_a_slide_set_to_a_reading_other_than_planned_moves_only_that_position() -> None:
    """The message gives the difference. The next position is set from zero."""
    run = Run(PatternJob(layers=(layer(offset_step_mm=1.0),)))
    while run.left[0].action != "index":
        run.do(1)
    run.enter(SetTo("cross_slide", Fraction(41), "1.00"))
    setting = run.left[0].setting("cross_slide")
    assert setting is not None and setting.position == 41
    assert "0.5 mm" in run.left[0].findings[0]
    later = [step.setting("cross_slide") for step in run.left if step.action == "index"][1]
    assert later is not None and later.position == 42


def test_a_table_reading_entered_at_the_end_of_an_arc_replaces_the_planned_reading() -> None:
    """The log holds the table's reading at the end of the arc."""
    run = Run(PatternJob(layers=(layer(shape="arcs", through_deg=Fraction(40)),)))
    while not run.left[0].feeds_along:
        run.do(1)
    run.enter(SetTo("rotary_table", Fraction(41), "1-00"))
    setting = run.left[0].setting("rotary_table")
    assert setting is not None and setting.position == 41 and "1°" in run.left[0].findings[0]


def test_positions_added_by_an_edit_are_cut() -> None:
    """Two of four dots are done when the job asks for six. The two stay, the other four are cut at the new angles."""
    run = Run(PatternJob(layers=(layer(),)))
    while sum(step.action == "cut" for step in run.done) < 2:
        run.do(1)
    run.job = PatternJob(layers=(layer(count=6),))
    run.enter(Edited(plan_input={}))
    assert [step.at.position for step in run.left if step.action == "cut"] == [3, 4, 5, 6]
    angles = [step.extra["angle_deg"] for step in run.left if step.action == "index"]
    assert angles == [120, 180, 240, 300]


def test_deepening_a_finished_layer_cuts_no_other_layer_twice() -> None:
    """An edit deepens a finished layer. The current layer keeps the cuts that are done."""
    one, two = layer(), layer(number=2, offset_mm=30.0)
    run = Run(PatternJob(layers=(one, two)))
    while [step.at.layer for step in run.done if step.action == "cut"].count(2) < 2:
        run.do(1)
    run.job = PatternJob(layers=(layer(count=9), two))
    run.enter(Edited(plan_input={}))
    cuts = [step.at.where for step in run.left if step.action == "cut"]
    assert [where for where in cuts if where[0] == 2] == [(2, 3), (2, 4)]
    assert {where for where in cuts if where[0] == 1} == {(1, number) for number in range(5, 10)}


def test_a_trial_circle_may_be_measured_over_both_edges_of_its_groove() -> None:
    """24.8 and 22.4 mm: radius 11.8, groove 1.2 wide. A 120 deg point is then 1.2 / (2 tan 60) = 0.346 mm deep."""
    circles = Layer(number=1, cutter=WIDE, count=3, offset_mm=20, circle_radius_mm=12, depths_mm=(0.6,))
    dots = layer(number=2, cutter=ACUTE)
    run = Run(PatternJob(layers=(circles, dots)))
    while run.left[0].expects != "circle":
        run.do(1)
    run.enter(Measured("circle", 23.6, edges_mm=(24.8, 22.4)))
    (finding,) = run.left[0].findings
    assert {"11.8", "1.2", "0.346"} <= set(finding.replace(",", " ").replace(".  ", " ").split())


def test_a_wrong_cut_reported_for_a_position_that_has_no_cut_is_refused() -> None:
    """A position that the layer skips or does not have is refused with a sentence."""
    run = Run(PatternJob(layers=(layer(skip=frozenset({2})),)))
    for number in (2, 9):
        with pytest.raises(PlanError, match="does not cut position"):
            run.enter(PositionCutWrong(1, number, Fraction(30), Fraction(7)))


def test_the_message_says_how_far_a_wrong_cut_is_from_its_planned_place() -> None:
    """Dot 1 belongs at 20 mm, 0 deg, but was cut at 15 mm, 90 deg, which is 25 mm away."""
    run = Run(PatternJob(layers=(layer(),)))
    while sum(step.action == "cut" for step in run.done) < 1:
        run.do(1)
    run.enter(PositionCutWrong(1, 1, Fraction(30), Fraction(90)))
    assert "25 mm" in run.left[0].findings[0]
    assert abs(20 - 15 * cmath.exp(1j * math.pi / 2)) == pytest.approx(25)


def test_after_the_work_moves_and_the_job_is_edited_the_table_is_set_once_more() -> None:
    """After the first of two passes at one dot, the work moved and the job was edited. The table is set once more."""
    run = Run(PatternJob(layers=(layer(count=1, cut_mm=0.3), layer(number=2, offset_mm=30.0))))
    while sum(step.action == "cut" for step in run.done) < 1:
        run.do(1)
    run.machine.indexed = None
    run.enter(Moved())
    run.enter(Edited(plan_input={}))
    run.finish()
    asserts_all_cut(run)


def test_a_depth_error_measured_at_one_position_corrects_positions_of_other_depths_equally() -> None:
    """The first dot of 0.6 mm is 0.1 mm too shallow, so the dots of 0.3 mm also go in 0.1 mm further on the dial."""
    run = Run(PatternJob(layers=(layer(depths_mm=(0.6, 0.3)),), order="position"))
    while sum(step.action == "cut" for step in run.done) < 1:
        run.do(1)
    run.enter(Measured("depth", 0.5))
    cuts = [step for step in run.left if step.action == "cut"]
    readings = [setting.position for step in cuts if (setting := step.setting("carriage")) is not None]
    assert [float(reading) for reading in readings] == pytest.approx([0.4, 0.7, 0.4])


def _six_dots(**keys: Any) -> Run:
    return Run(made.job(made.layer(6, 20.0, shape="dots", cutter=WIDE, depths_mm=(0.5,)), **keys))


def _turns(run: Run) -> list[str]:
    return [step.text for step in run.left if step.action == "index"]


def _cut_position(run: Run, number: int) -> None:
    while not (run.done and run.done[-1].action == "cut" and run.done[-1].at.position == number):
        run.do(1)


@pytest.mark.parametrize("again", [True, False])
def test_the_first_table_move_after_a_wrong_cut_counts_from_zero(again: bool) -> None:
    """Steps of 60 deg at 72:1 are 12 turns of 5 deg. The third dot was cut at 77 deg and 30 mm out."""
    run = _six_dots()
    _cut_position(run, 3)
    run.enter(PositionCutWrong(1, 3, Fraction(60), Fraction(77), cut_again=again))
    first = _turns(run)[0]
    turns = 24 if again else 36
    assert f"from zero turn on by {turns} turns" in first
    assert "Cross-slide to" in first and "towards the table's axis, past it" in first
    assert "Cross-slide" not in _turns(run)[1]


def test_the_next_table_move_counts_from_the_position_that_was_cut_again() -> None:
    """Position 2 is cut again after position 4. From there the move to position 5 is 3 x 60 deg, which is 36 turns."""
    run = _six_dots()
    _cut_position(run, 4)
    run.enter(PositionCutWrong(1, 2, Fraction(30), Fraction(77), cut_again=True))
    second, fifth, *_ = _turns(run)
    assert "from zero turn on by 12 turns" in second and "Cross-slide" not in second
    assert "turn on by 36 turns" in fifth and "from zero" not in fifth.split("(")[0]
