"""Core continues every unfinished run of an old log to its end, and plans the run again."""

from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

import pytest

from core.events.state import RunSummary
from core.inputs import CAUSES, Edited
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.operations.registry import parameters_of
from core.operations.size_cut import SizeCut
from core.operations.threads.job import ThreadJob
from core.plan import Step
from tests.old_logs.answering import Answering, ReplanInput
from tests.old_logs.program import Time
from tests.old_logs.recordings import RECORDINGS, Recording, continued, event_rows
from tests.old_logs.replanned import recorded, replanned
from tui.printing import verify_log

PAST_ITS_LIMITS = {"Levelling screw"}
"""Runs whose work was measured too thin, so that nothing more is cut."""
MARK_MM = 0.02
each = pytest.mark.parametrize("recording", RECORDINGS, ids=str)


def resumed(logbook: Logbook, info: RunSummary) -> Answering:
    """Open a run in a session of its own, as the program does."""
    return Answering(ActiveRun.resume(logbook, info.uid, Time(365).clock(), "f" * 32))


def to_its_end(answering: Answering, planned_from: ReplanInput | None = None) -> None:
    """Answer every step and check that no step is left. `planned_from`: the input of an earlier planning."""
    name = f"{answering.state.origin}, {planned_from}"
    try:
        answering.to_the_end()
    except Exception as error:
        error.add_note(name)
        raise
    state = answering.state
    assert state.status == "finished", name
    assert "open" not in {state.status_of(step.id) for step in state.steps}, name
    assert_all_is_made(answering, planned_from, name)
    answering.run.close()


def assert_all_is_made(answering: Answering, planned_from: ReplanInput | None, name: str) -> None:
    """Check that work cut to a size has reached the size, and that no position and no start is missing."""
    state, wanted = answering.state, parameters_of(answering.plan_input)
    if isinstance(wanted, SizeCut):
        left_mm = wanted.remaining_mm(wanted.size_mm(state.depth_mm or 0.0))
        mark_mm = wanted.infeed(answering.plan_input.lathe).mark_mm
        assert left_mm < 1.01 * mark_mm, name
    elif isinstance(wanted, ThreadJob):
        fits_as_it_is = planned_from is not None and planned_from[1].get("fit") in {"fits", "loose"}
        if not fits_as_it_is and state.origin is not None and state.origin.op_name not in PAST_ITS_LIMITS:
            assert (state.depth_mm or 0.0) > wanted.groove.least_depth_mm - MARK_MM, name
    if not any(isinstance(revision.entered, Edited) for revision in state.revisions):
        assert places(state.plan.steps) <= places(state.steps), name


def places(steps: Sequence[Step]) -> set[tuple[int | None, int]]:
    """Return layer and number of each position, and each later start of a thread, to which the run moves."""
    positions = {(step.at.layer, step.at.position) for step in steps if step.action == "index"}
    return positions | {(None, step.thread_start) for step in steps if step.thread_start}


@each
def test_a_run_from_an_earlier_version_can_be_continued_to_its_end(recording: Recording, tmp_path: Path) -> None:
    """The run continues at its last step. Old events stay the same byte for byte, and the whole log is sound."""
    data = recording.copy_to(tmp_path)
    unfinished = [run["uid"] for run in recording.facts()["runs"] if run["status"] == "running"]
    before = {uid: event_rows(data, uid) for uid in unfinished}
    with continued(data) as logbook:
        for uid in unfinished:
            info = logbook.run(uid)
            assert info is not None
            to_its_end(resumed(logbook, info))
        assert logbook.notices == ()
    for uid, rows in before.items():
        after = event_rows(data, uid)
        assert after[: len(rows)] == rows and len(after) > len(rows)
    assert verify_log(data)


@each
def test_a_run_from_an_earlier_version_can_be_planned_again(recording: Recording, tmp_path: Path) -> None:
    """For each cause that the counter accepts at the last step, the run is planned again and continued to its end."""
    for cause in CAUSES:
        with continued(recording.copy_to(tmp_path / cause)) as logbook:
            for info in logbook.unfinished(limit=1_000):
                answering = resumed(logbook, info)
                possible = (one for one in answering.inputs_possible_now() if one[0] == cause)
                planned_from = next(possible, None)
                if planned_from is not None:
                    answering.revise(*planned_from)
                    to_its_end(answering, planned_from)
                answering.run.close()


@each
def test_planning_an_old_run_again_gives_the_recorded_results(recording: Recording, tmp_path: Path) -> None:
    """Each cause is tried and undone. A lost number of an old event would change the result.

    If planning was changed on purpose, `python -m tests.old_logs.replanned` records the new result.
    """
    assert replanned(recording, tmp_path) == recorded(recording)


def test_the_recordings_cover_every_reason_to_plan_each_kind_of_operation_again(tmp_path: Path) -> None:
    """Without such runs the tests above would check nothing."""
    found: dict[str, set[str]] = defaultdict(set)
    for recording in RECORDINGS:
        with continued(recording.copy_to(tmp_path / str(recording))) as logbook:
            for info in logbook.unfinished(limit=1_000):
                answering = resumed(logbook, info)
                found[info.kind] |= {cause for cause, _ in answering.inputs_possible_now()}
                answering.run.close()
    at_any_time = {"moved", "edited"}
    cut_on_a_dial = at_any_time | {"measured", "set", "spring"}
    assert found == {
        "turn": cut_on_a_dial,
        "cut": cut_on_a_dial,
        "thread": cut_on_a_dial - {"moved"} | {"picked up", "fit"},
        "divide": cut_on_a_dial,
        "pattern": cut_on_a_dial,
        "runout": at_any_time | {"measured"},
        "holes": at_any_time,
        "by_hand": at_any_time,
    }
