"""Old runs are continued on the screens of the newest program, by real keys, each to its end."""

from pathlib import Path

import pytest

from core.logbook.logbook import Logbook
from tests.old_logs.answering import Answering
from tests.old_logs.facts import as_called_now
from tests.old_logs.program import Program, started
from tests.old_logs.recordings import RECORDINGS, Recording, event_rows
from tui.counter.continue_question import WasItMoved
from tui.counter.screen import CounterScreen
from tui.printing import verify_log
from tui.widgets.question import OneOf

LATER = 365
"""The number of days between the recording and its continuation."""
CONTINUED = {
    "v0_1-turning": ("Groove the foot", "Stamp the foot", "Turn to 28 mm"),
    "v0_1-threads": ("Spare levelling screw",),
    "v0_1-runout": ("Bar at two places",),
    "v0_1-table": ("Marks at the rim", "Border", "Holes of the rim"),
}
"""One run of each kind of operation. The thread stops where a reading must be entered, and a diameter has no job."""
FITS, NOT_MEASURED = "1", "b"
_MOST_STEPS = 100


def continued_runs(recording: Recording) -> list[dict[str, str]]:
    """Return the facts of the runs that are continued here."""
    runs = as_called_now(recording.facts()["runs"])
    return [run for run in runs if run["status"] == "running" and run["name"] in CONTINUED.get(str(recording), ())]


def test_the_runs_continued_by_key_presses_cover_every_kind_of_operation() -> None:
    """Every run named in CONTINUED exists, and every kind is among them."""
    found = [run for recording in RECORDINGS for run in continued_runs(recording)]
    assert sorted(run["name"] for run in found) == sorted(name for names in CONTINUED.values() for name in names)
    assert {run["kind"] for run in found} == {
        "turn",
        "cut",
        "thread",
        "runout",
        "divide",
        "holes",
        "pattern",
        "by_hand",
    }


@pytest.mark.parametrize("recording", [found for found in RECORDINGS if str(found) in CONTINUED], ids=str)
async def test_a_run_from_an_earlier_version_can_be_continued_by_key_presses(
    recording: Recording, tmp_path: Path
) -> None:
    """The run is opened from the history and every step is answered. Old events stay, and the log is sound."""
    data = recording.copy_to(tmp_path / "data")
    uids = [run["uid"] for run in continued_runs(recording)]
    before = {uid: event_rows(data, uid) for uid in uids}
    async with started(data, LATER) as program:
        for uid in uids:
            await program.resume_logged(uid)
            await to_its_end(program)
    with Logbook.open(data, read_only=True) as logbook:
        assert {info.status for uid in uids if (info := logbook.run(uid))} == {"finished"}
    for uid, rows in before.items():
        after = event_rows(data, uid)
        assert after[: len(rows)] == rows and len(after) > len(rows)
    assert verify_log(data)


async def test_the_unchanged_job_of_an_old_run_is_not_reported_as_changed(tmp_path: Path) -> None:
    """The program opens an old job file and its run without delay, and asks only what was moved."""
    recording = next(found for found in RECORDINGS if str(found) == "v0_1-turning")
    async with started(recording.copy_to(tmp_path), LATER, job=recording.jobs / "gnomon_screw.toml") as program:
        await program.until(WasItMoved)
        await program.press("n")
        assert program.state.notes and program.state.origin is not None
        assert program.state.origin.op_name == "Chamfer"


async def to_its_end(program: Program) -> None:
    """Answer the first questions, then each step, and finish the run."""
    if isinstance(program.screen, WasItMoved):
        await program.press("n")
    counter, measured = program.counter, 0
    for _ in range(_MOST_STEPS):
        if program.screen is not counter:
            return
        before = counter.state.last_seq
        measured += await _answer(program, counter, first=not measured)
        assert counter.state.last_seq > before, (counter.title, counter.state.cursor)
    raise AssertionError(f"still not at the end: {counter.state.cursor}")


async def _answer(program: Program, counter: CounterScreen, *, first: bool) -> bool:
    """Answer the current step. Return whether the answer was a measurement."""
    step = counter.state.cursor
    must = step is not None and step.required
    if step is None:
        await program.press("space")
        if isinstance(program.screen, OneOf):
            # The turn could be read again after the moves.
            await program.press("2")
    elif step.action == "measure":
        await program.press("space")
        if first or must:
            await _measure(program, counter)
        elif counter.plan_input.kind == "thread":
            await program.press(_tried(counter), FITS)
        else:
            await program.press(NOT_MEASURED)
        return True
    elif step.expects == "reading" and not step.zeroed_dials:
        await program.enter("0")
    elif must:
        await program.press("space")
        await program.enter("0")
    else:
        await program.press("space")
    return False


async def _measure(program: Program, counter: CounterScreen) -> None:
    """Enter the size that the dial predicts. For a thread, enter the depth of its groove."""
    step = counter.state.cursor
    assert step is not None
    (size_mm,) = Answering(counter.run).size(step).values()
    if isinstance(program.screen, OneOf):
        depth_of_groove = chr(ord(_tried(counter)) + 1)
        await program.press(depth_of_groove if counter.plan_input.kind == "thread" else "a")
    await program.enter(f"{size_mm:.2f}")


def _tried(counter: CounterScreen) -> str:
    """Return the key that tries a gauge. In the list, measuring over wires comes first if there are wires."""
    return "c" if "wire_mm" in counter.state.plan.figures else "b"
