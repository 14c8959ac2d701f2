"""A run of a hole: measured depths, changed settings, moved work, edited jobs, and pecks planned again."""

from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.inputs import Edited, ExtraSpringPass, GaugeTried, Measured, Moved, PickedUp
from core.operations.registry import operation_of
from core.run.revising import edited_input
from core.values.errors import PlanError
from tests.core.counted import Counted
from tests.core.entered import set_to
from tests.core.operations.drilling.holes_made import blind, cone_mm, drill_input, drilled, position_mm

PILOTED = blind("25 mm", pilots=["5 mm"], peck="5 mm")


def to_peck(run: Counted, tool: str, number: int) -> None:
    """Do steps until the current step is the given peck of a tool, counted from 1."""
    left = number
    while left:
        left -= run.cursor.action == "cut" and run.cursor.extra["tool"] == tool
        if left:
            run.done()


def depth(size_mm: float) -> Measured:
    """Return a measured depth of the hole."""
    return Measured(what="hole depth", size_mm=size_mm)


def open_cuts(run: Counted) -> list[Any]:
    """Return the pecks that are still to do."""
    return [step for step in run.state.open_steps() if step.action == "cut"]


def own_last(run: Counted, tool: str) -> float:
    """Return the dial position at the end of a tool's last peck [mm]."""
    return position_mm([step for step in open_cuts(run) if step.extra["tool"] == tool][-1])


def test_a_measured_depth_corrects_the_dial_reading_of_the_last_peck() -> None:
    """By hand: 9.4 mm measured at the dial position 10.00 puts the last mark of a 25 mm hole at 25.60."""
    run = drilled(**blind("25 mm", peck="5 mm"))
    to_peck(run, "12 mm drill", 3)
    assert position_mm(run.state.last_done) == 10.0  # type: ignore[arg-type]
    run.tell(depth(9.4))
    assert own_last(run, "12 mm drill") == pytest.approx(25.6)
    assert run.cursor.findings


def test_a_measured_depth_within_half_a_millimetre_of_the_dial_reading_gets_no_message() -> None:
    """Touching off the corners by eye causes such differences (common practice, no source)."""
    run = drilled(**blind("25 mm", peck="5 mm"))
    to_peck(run, "12 mm drill", 3)
    run.tell(depth(9.7))
    assert not run.cursor.findings


def test_a_depth_measured_to_the_point_corrects_the_dial_reading_of_the_last_peck() -> None:
    """The hole is 20 mm to the point. A depth 0.5 mm less than the dial's moves the last mark 0.5 mm further."""
    run = drilled(drill="10 mm", depth="20 mm", depth_to="point", start_with="none", peck="5 mm")
    to_peck(run, "10 mm drill", 3)
    run.tell(depth(9.5))
    assert own_last(run, "10 mm drill") == pytest.approx(20.5)


def test_a_hole_measured_too_shallow_is_drilled_deeper_and_measured_again() -> None:
    """The measured depth is 24 mm instead of 25 mm, so one more millimetre follows."""
    run = drilled(**blind("25 mm", peck="5 mm"))
    while run.cursor.action != "measure":
        run.done()
    run.tell(depth(24.0))
    assert [step.action for step in run.state.open_steps()] == ["cut", "measure"]
    assert run.cursor.removed_mm == pytest.approx(1.0)


@pytest.mark.parametrize("size_mm", [25.0, 25.02, 26.0])
def test_a_hole_measured_deep_enough_gets_no_further_peck(size_mm: float) -> None:
    """Within half a mark of the wanted depth or beyond it, the step only states the depth of the hole."""
    run = drilled(**blind("25 mm", peck="5 mm"))
    while run.cursor.action != "measure":
        run.done()
    run.tell(depth(size_mm))
    assert not open_cuts(run) and f"{size_mm:g} mm" in run.cursor.text


def test_a_hole_is_measured_before_the_reamer_is_fitted() -> None:
    """The measuring step belongs to the drill. A hole measured 1 mm too short gets one more peck of the drill."""
    run = drilled(ream="12 mm", depth="25 mm", depth_to="full diameter", peck="6 mm")
    while run.cursor.action != "measure":
        run.done()
    run.tell(depth(24.0))
    assert [step.extra["tool"] for step in open_cuts(run)] == ["11.8 mm drill", "12 mm reamer"]
    assert run.cursor.removed_mm == pytest.approx(1.0)


def test_measuring_a_pilot_hole_leaves_the_plan_of_later_tools_unchanged() -> None:
    """A measurement changes the plan of the current tool only."""
    run = drilled(**PILOTED)
    to_peck(run, "5 mm drill", 3)
    before = [position_mm(step) for step in open_cuts(run) if step.extra["tool"] == "12 mm drill"]
    run.tell(depth(9.0))
    assert own_last(run, "5 mm drill") == pytest.approx(26.0)
    assert [position_mm(step) for step in open_cuts(run) if step.extra["tool"] == "12 mm drill"] == before


def test_a_depth_measured_before_the_first_peck_of_the_current_drill_is_refused() -> None:
    """The depth of the pilot's hole says nothing about the drill after the pilot."""
    run = drilled(**PILOTED)
    to_peck(run, "12 mm drill", 1)
    with pytest.raises(PlanError, match="first peck"):
        run.tell(depth(25.0))


def test_an_impossible_measured_depth_is_refused() -> None:
    """A typing error must not plan a hundred pecks, or none at all."""
    run = drilled(**blind("25 mm", peck="5 mm"))
    to_peck(run, "12 mm drill", 3)
    with pytest.raises(PlanError, match=r"Enter at most"):
        run.tell(depth(250.0))
    with pytest.raises(PlanError, match="Write a note"):
        run.tell(Measured(what="size", size_mm=9.0))
    with pytest.raises(PlanError, match="Write a note"):
        run.tell(GaugeTried(fit="tight"))


def test_after_the_work_moves_the_pecks_count_from_a_new_touch_off() -> None:
    """Zero is at the corners again, so a depth of 10 mm is at 10.00 and the last peck at 25.00."""
    run = drilled(**blind("25 mm", peck="5 mm"))
    to_peck(run, "12 mm drill", 3)
    assert operation_of("drill").moved(run.job, run.lathe, run.state) is not None
    run.tell(Moved(size=depth(10.2)))
    assert run.cursor.zeroed_dials == ("tailstock",)
    run.done()
    assert run.cursor.removed_mm == pytest.approx(14.8 / 3, abs=0.06)
    assert own_last(run, "12 mm drill") == pytest.approx(25.0)


def test_a_move_of_the_work_before_the_first_peck_does_not_ask_for_the_holes_depth() -> None:
    """The tool is fitted and touched off, but has drilled nothing. It is touched off again, with the same pecks."""
    run = drilled(**PILOTED)
    to_peck(run, "5 mm drill", 1)
    before = [position_mm(step) for step in open_cuts(run)]
    assert operation_of("drill").moved(run.job, run.lathe, run.state) is None
    run.tell(Moved())
    assert run.cursor.zeroed_dials == ("tailstock",)
    assert [position_mm(step) for step in open_cuts(run)] == before
    run.tell(PickedUp(moved="tool"))
    assert [position_mm(step) for step in open_cuts(run)] == before


def test_after_a_move_a_centre_drill_touches_off_on_the_bottom_of_its_hole() -> None:
    """A centre drill has no full diameter to touch off with.

    Measured 2 mm deep at zero, it still has 2 mm to go of 4 mm.
    """
    run = drilled(**blind("25 mm", start_depth="4 mm"))
    to_peck(run, "centre drill", 1)
    run.tell(set_to("3", "tailstock"))
    run.done()
    run.tell(Moved(size=depth(2.0)))
    assert run.cursor.zeroed_dials == ("tailstock",) and own_last(run, "centre drill") == pytest.approx(2.0)


def test_a_move_of_the_work_before_a_drill_is_fitted_plans_the_fitting_only_once() -> None:
    """The pilot has finished. The 12 mm drill is fitted and touched off once."""
    run = drilled(**PILOTED)
    while run.cursor.title != "Fit the 12 mm drill":
        run.done()
    run.tell(Moved())
    titles = [step.title for step in run.state.open_steps()]
    assert titles[0] == "Fit the 12 mm drill" and sum("Touch off" in title for title in titles) == 1


def test_a_move_of_the_work_after_the_last_peck_adds_no_steps() -> None:
    """The hole is drilled, so only the measurement remains."""
    run = drilled(**blind("25 mm"))
    while run.cursor.action != "measure":
        run.done()
    assert operation_of("drill").moved(run.job, run.lathe, run.state) is None
    run.tell(Moved())
    assert [step.action for step in run.state.open_steps()] == ["measure"]


def test_a_peck_set_deeper_than_planned_leaves_the_dial_reading_of_the_last_peck_unchanged() -> None:
    """Set to 7.00 instead of 5.00, the dial still goes to 25.00, in pecks of at most 5 mm."""
    run = drilled(**blind("25 mm", peck="5 mm"))
    to_peck(run, "12 mm drill", 1)
    run.tell(set_to("7", "tailstock"))
    ends = [0.0, *map(position_mm, open_cuts(run))]
    assert ends[1] == 7.0 and ends[-1] == 25.0
    assert all(after - before <= 5.0 + 1e-9 for before, after in pairwise(ends[1:]))


def test_a_peck_set_deeper_than_the_wanted_depth_gets_a_warning() -> None:
    """The warning says to wind back if the hole is not drilled so deep yet."""
    run = drilled(**blind("25 mm", peck="5 mm"))
    to_peck(run, "12 mm drill", 5)
    run.tell(set_to("26", "tailstock"))
    assert any("1 mm deeper" in caution for caution in run.cursor.cautions)


def test_undo_restores_the_pecks_planned_before_the_undone_entry() -> None:
    """Undoing a peck plans this peck again, and undoing a measurement restores the pecks before it."""
    run = drilled(**blind("25 mm", peck="5 mm"))
    to_peck(run, "12 mm drill", 3)
    before = [position_mm(step) for step in open_cuts(run)]
    run.tell(depth(8.0))
    run.undo()
    assert [position_mm(step) for step in open_cuts(run)] == before
    run.undo()
    assert [position_mm(step) for step in open_cuts(run)][1:] == before


def edit(run: Counted, **keys: Any) -> None:
    """Plan the remaining steps again from a changed job."""
    plan_input, edited = edited_input(drill_input(**keys), run.state)
    run.plan_input = plan_input
    assert isinstance(edited, Edited)
    run.tell(edited)


def test_a_greater_depth_in_the_edited_job_adds_pecks() -> None:
    """The hole goes from 10 mm to 40 mm instead of 25 mm, without another touch-off."""
    run = drilled(**blind("25 mm", peck="5 mm"))
    to_peck(run, "12 mm drill", 3)
    edit(run, **blind("40 mm", peck="5 mm"))
    assert run.cursor.action == "cut" and own_last(run, "12 mm drill") == pytest.approx(40.0)


def test_a_pilot_drill_added_in_the_edited_job_is_used_next() -> None:
    """The 5 mm pilot has finished.

    The edited job adds an 8 mm pilot before 12 mm, so 8 mm is next and 5 mm is not drilled again.
    """
    run = drilled(**PILOTED)
    while run.cursor.title != "Fit the 12 mm drill":
        run.done()
    edit(run, **{**PILOTED, "pilots": ["5 mm", "8 mm"]})
    assert list(dict.fromkeys(step.extra["tool"] for step in open_cuts(run))) == ["8 mm drill", "12 mm drill"]
    titles = [step.title for step in run.state.open_steps() if step.action == "set"]
    touch_off = "Touch off the tailstock"
    assert titles == ["Fit the 8 mm drill", touch_off, "Fit the 12 mm drill", touch_off]


@settings(max_examples=40)
@given(st.floats(-0.9, 0.9), st.floats(-0.9, 0.9), st.integers(1, 4))
def test_a_hole_touched_off_by_eye_reaches_its_wanted_depth(first_mm: float, second_mm: float, moved_at: int) -> None:
    """A simulated lathe touches off with an error and moves the work once; its measured depths are true.

    After the last measurement the hole is as deep as wanted, within half a mark, unless an error made the hole deeper.
    """
    run = drilled(**blind("25 mm", peck="5 mm"))
    errors_mm, zero_mm, full_mm, pecks = [first_mm, second_mm], 0.0, 0.0, 0
    while (step := run.state.cursor) is not None:
        if step.action == "measure":
            run.tell(depth(full_mm))
            if run.state.cursor is not None and run.state.cursor.action == "check":
                break
            continue
        if step.zeroed_dials:
            zero_mm = errors_mm.pop(0)
        if step.action == "cut":
            full_mm, pecks = max(full_mm, zero_mm + position_mm(step)), pecks + 1
        run.done()
        if step.action == "cut" and pecks == moved_at:
            run.tell(Moved(size=depth(full_mm)))
    assert not errors_mm
    assert 25 - 0.025 - 1e-9 <= full_mm <= 25 + 0.025 + max(0.0, first_mm, second_mm) + 1e-9


@settings(max_examples=40)
@given(st.lists(st.sampled_from(["done", "done", "done", "measured", "moved", "set", "undo", "spring"]), max_size=40))
def test_the_last_peck_ends_at_the_wanted_depth_after_any_sequence_of_entries(actions: list[str]) -> None:
    """After any order of measuring, moving, setting and undoing, the last peck ends within half a mark of the depth.

    The 12 mm drill is fitted only once.
    """
    run = drilled(**PILOTED)
    for action in actions:
        if run.state.cursor is None:
            break
        try:
            _act(run, action)
        except PlanError:
            continue
    cuts = [step for step in open_cuts(run) if step.extra["tool"] == "12 mm drill"]
    wanted_mm = 25 + cone_mm(12, 118)
    if cuts:
        assert cuts[-1].depth_mm == pytest.approx(wanted_mm, abs=0.025 + 1e-6)
    titles = [step.title for step in run.state.open_steps()]
    assert titles.count("Fit the 12 mm drill") <= 1


def _act(run: Counted, action: str) -> None:
    drilled_mm = run.state.progress.depth_mm
    match action:
        case "done":
            run.done()
        case "measured":
            run.tell(depth(max(drilled_mm - 2, 0.5)))
        case "moved":
            asked = operation_of("drill").moved(run.job, run.lathe, run.state)
            run.tell(Moved() if asked is None else Moved(size=depth(max(drilled_mm - 1.5, 0.5))))
        case "set" if run.cursor.action == "cut":
            run.tell(set_to(position_mm(run.cursor) - 0.5, "tailstock"))
        case "undo" if run.state.undoable is not None:
            run.undo()
        case "spring":
            run.tell(ExtraSpringPass())


def test_the_drawing_shows_the_new_pecks_after_a_measurement() -> None:
    """A hole measured 2 mm deeper than the dial says gets other pecks. The picture shows these."""
    run = drilled(**PILOTED)
    to_peck(run, "12 mm drill", 2)
    run.tell(depth(run.state.progress.depth_mm - cone_mm(12, 118) + 2))
    wanted = {step.depth_mm for step in run.state.steps if step.action == "cut" and step.extra["tool"] == "12 mm drill"}
    drawing = operation_of("drill").drawings(run.job, run.lathe)(run.state, run.cursor)
    assert drawing is not None
    marks = {-stroke.points[0][0] for stroke in drawing.strokes if stroke.look == "faint"}
    assert sorted(marks) == pytest.approx(sorted(wanted))
