"""A pass that a measurement has split in two stays split when the remaining steps are planned again."""

from collections.abc import Iterator

import pytest

from core.plan import Step
from tests.core.counted import Counted, table_lathe

CUT_MM, DEPTH_MM, MARK_MM = 0.5, 1.0, 0.025
"""Depth of one mark [mm]. A mark is 0.05 mm on the diameter."""


def _measured(order: str, halves: int) -> Counted:
    """Return a run with a first pass 0.2 mm too shallow, and with `halves` of the split second pass done."""
    run = Counted(
        table_lathe(), "divide", divisions=3, depth="1 mm", cut="0.5 mm", depth_dial="cross_slide", order=order
    )
    while run.cursor.action != "cut":
        run.done()
    run.done()
    run.revise("measured", depth_mm=0.3)
    run.done(halves)
    return run


def _cuts_at(run: Counted, position: int) -> Iterator[Step]:
    return (step for step in run.state.open_steps() if step.action == "cut" and step.at.position == position)


@pytest.mark.parametrize("halves", [0, 1])
@pytest.mark.parametrize("then", [["moved"], ["picked up"], ["edited"], ["moved", "edited"], ["moved", "moved"]])
def test_no_part_of_a_split_pass_is_deeper_than_allowed(halves: int, then: list[str]) -> None:
    """Added up by hand: 0.3 mm is cut, and each half takes 0.35 mm. No pass exceeds the allowed cut."""
    run = _measured("position", halves)
    for cause in then:
        run.revise(cause)
    left = list(_cuts_at(run, 1))
    reached = 0.3 + 0.35 * halves
    for step in left:
        assert step.removed_mm is not None and step.depth_mm is not None
        assert step.removed_mm <= CUT_MM + MARK_MM / 2
        assert step.depth_mm - step.removed_mm == pytest.approx(reached)
        reached = step.depth_mm
    assert reached == pytest.approx(DEPTH_MM, abs=MARK_MM / 2)
    # Positions without any cut yet are as planned.
    assert [step.removed_mm for step in _cuts_at(run, 2)] == pytest.approx([CUT_MM, CUT_MM])


@pytest.mark.parametrize("halves", [0, 1])
def test_undoing_a_measurement_restores_the_passes_planned_before_it(halves: int) -> None:
    """Undo restores the halves, then the one pass that was planned before the measurement."""
    run = _measured("position", halves)
    for _ in range(halves):
        run.undo()
    assert [step.removed_mm for step in _cuts_at(run, 1)] == pytest.approx([0.35, 0.35])
    run.undo()
    assert [step.removed_mm for step in _cuts_at(run, 1)] == pytest.approx([CUT_MM])


def test_undoing_a_report_of_moved_work_restores_the_second_half_of_a_split_pass() -> None:
    """After a move is planned and undone, the second half is still open."""
    run = _measured("position", 1)
    run.revise("moved")
    run.undo()
    assert [step.removed_mm for step in _cuts_at(run, 1)] == pytest.approx([0.35])


@pytest.mark.parametrize("cause", ["moved", "edited"])
def test_after_a_measurement_no_pass_in_a_round_of_cuts_is_deeper_than_allowed(cause: str) -> None:
    """The first of three positions is measured. Its pass in the second round starts from the measured depth."""
    run = _measured("round", 0)
    before = [(step.depth_mm, step.removed_mm) for step in _cuts_at(run, 1)]
    run.revise(cause)
    after = list(_cuts_at(run, 1))
    assert sum(step.removed_mm or 0.0 for step in after) == pytest.approx(sum(taken or 0.0 for _, taken in before))
    assert all((step.removed_mm or 0.0) <= CUT_MM + MARK_MM / 2 for step in after)
