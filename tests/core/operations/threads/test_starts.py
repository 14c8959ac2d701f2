"""Getting to the next start: by the thread dial (compared with a simulation), by the spindle gear, by the compound."""

from fractions import Fraction

import pytest

from core.operations.threads.starts import StartLines, index_words, start_lines, start_train
from core.operations.threads.thread_dial import thread_dial_uses
from core.plan import Step
from tests.core.figures import figures
from tests.core.thread_jobs import job_of, lathe, plan_of

SIMULATED_THREADS = 240
TWO_STARTS = {"thread": "M24xPh6P3", "blank": "23.8 mm"}


def simulated(lead: Fraction, starts: int, screw: Fraction, teeth: int, lines: int) -> StartLines | None:
    """Return the lines of each start from a simulation of the leadscrew, or None if the lines cannot serve every start.

    The simulation turns the leadscrew, and notes the start of the tool at every line where the half nuts close. It uses
    no formula: the half nuts move the tool by one leadscrew pitch per leadscrew thread, and the grooves of the starts
    repeat at every pitch.
    """
    pitch = lead / starts
    seen: dict[int, set[object]] = {line: set() for line in range(lines)}
    for step in range(SIMULATED_THREADS * lines + 1):
        if step % teeth:
            continue
        line = step // teeth % lines
        if step % lines:
            seen[line].add("nut does not go in")
            continue
        tool_mm = (step // lines) * screw
        seen[line].add(int(tool_mm / pitch) % starts if (tool_mm / pitch).denominator == 1 else "between grooves")
    of_start = tuple(tuple(line for line, found in seen.items() if found == {start}) for start in range(starts))
    return StartLines(teeth=teeth, lines=lines, of_start=of_start) if all(of_start) else None


WHEELS = ((14, 2), (15, 3), (16, 4), (16, 8), (16, 16), (18, 6), (20, 5), (24, 12), (30, 6))
PITCHES = [Fraction(twentieths, 20) for twentieths in (10, 15, 20, 25, 30, 60, 80)]
LEADS = [(pitch * starts, starts) for starts in (2, 3, 4) for pitch in PITCHES]


@pytest.mark.parametrize("wheel", WHEELS)
@pytest.mark.parametrize("screw", [Fraction(3), Fraction(4), Fraction(254, 80)])
def test_the_thread_dial_lines_of_each_start_match_a_simulation(screw: Fraction, wheel: tuple[int, int]) -> None:
    """Over 240 leadscrew threads, the simulation finds the same lines for each start, or none."""
    for lead, starts in LEADS:
        expected = simulated(lead, starts, screw, *wheel)
        assert start_lines(lead, starts, screw, (wheel,)) == (() if expected is None else (expected,))


def test_some_simulated_thread_dial_wheels_have_usable_lines_and_some_have_none() -> None:
    """So the comparison with the simulation checks both results."""
    found = [simulated(lead, starts, Fraction(3), *wheel) is not None for lead, starts in LEADS for wheel in WHEELS]
    assert 5 < sum(found) < len(found) - 5


def test_the_first_start_uses_the_thread_dial_lines_of_a_single_start_thread_of_the_same_lead() -> None:
    """The single-start thread has the same lead."""
    (lines,) = start_lines(Fraction(6), 2, Fraction(3), ((16, 16),))
    (use,) = thread_dial_uses(Fraction(6), Fraction(3), ((16, 16),))
    assert lines.of_start[0] == use.use


def next_start(plan_steps: tuple[Step, ...]) -> Step:
    """Return the step that moves to the second start."""
    return next(step for step in plan_steps if step.thread_start == 2)


def test_the_compound_moves_by_one_pitch_to_reach_the_next_start() -> None:
    """With straight infeed the compound, parallel to the axis and set to zero, moves by the pitch of 3 mm."""
    plan = plan_of(**TWO_STARTS, infeed="straight")
    assert ("compound",) in [step.zeroed_dials for step in plan.steps]
    step = next_start(plan.steps)
    setting = step.setting("compound")
    assert setting is not None and setting.position == 3.0 and step.cautions == ()
    cuts = [step for step in plan.steps if step.action == "cut"]
    half = len(cuts) // 2
    assert [cut.settings for cut in cuts[:half]] == [cut.settings for cut in cuts[half:]]


def test_a_move_to_the_next_start_that_falls_between_two_compound_marks_gets_a_caution() -> None:
    """3 mm on marks of 0.001 in of travel: 118 marks are 2.9972 mm, 0.003 mm short."""
    inch = {"per_turn": "0.1 in", "graduation": "0.001 in", "reads": "travel"}
    step = next_start(plan_of(lathe(dial={"compound": inch}), **TWO_STARTS, infeed="straight").steps)
    assert "0.003 mm short" in step.cautions[0]


def test_with_a_swung_compound_the_next_start_is_cut_on_another_thread_dial_line() -> None:
    """Lead 6 mm, leadscrew 3 mm, 14 teeth, 2 lines: line 1 passes at 7 threads, which is 21 mm and start 2."""
    dial = {"teeth": [14, 16], "lines": [2, 4]}
    its = lathe(leadscrew={"pitch": "3 mm"}, thread_dial=dial, change_gears={"teeth": [20, 40]})
    step = next_start(plan_of(its, **TWO_STARTS).steps)
    assert {"1", "14", "0"} <= figures(step.text)
    assert len(index_words(job_of(its, **TWO_STARTS), its)) == 3


def test_without_a_thread_dial_the_next_start_is_reached_by_turning_the_spindle() -> None:
    """A 40-tooth wheel drives a 20-tooth wheel. Half of 40 teeth is half a turn of the spindle."""
    its = lathe(leadscrew={"pitch": "3 mm"}, thread_dial=None, change_gears={"teeth": [20, 40]})
    step = next_start(plan_of(its, **TWO_STARTS).steps)
    assert {"40", "20", "1/2"} <= figures(step.text)


@pytest.mark.parametrize(
    ("teeth", "fixed_ratio", "thread", "first"),
    [
        ([20, 40], "1/1", "M24xPh6P3", 40),
        ([20, 40], "1/2", "M24xPh6P3", None),  # The first wheel does not turn with the spindle.
        ([25, 75], "1/1", "M24xPh9P3", 75),
        ([25, 50, 75], "1/1", "M24xPh6P3", 50),
        ([15, 45], "1/1", "M24xPh9P3", 45),
        ([25, 75], "1/1", "M24xPh6P3", None),
    ],
)
def test_only_a_first_wheel_whose_teeth_divide_by_the_starts_can_index_the_starts(
    teeth: list[int], fixed_ratio: str, thread: str, first: int | None
) -> None:
    """The number of starts must divide its teeth, and the wheel must turn with the spindle."""
    gears = {"teeth": teeth, "fixed_ratio": fixed_ratio}
    its = lathe(leadscrew={"pitch": "3 mm"}, change_gears=gears)
    train = start_train(job_of(its, thread=thread), its)
    assert (None if train is None else train.drivers[0]) == first
    if train is not None:
        assert train.drivers[0] % job_of(its, thread=thread).thread.starts == 0


def test_a_single_start_thread_has_no_text_about_a_next_start() -> None:
    """M10 has only one start."""
    assert index_words(job_of(thread="M10"), lathe()) == ()


def test_the_thread_gauge_is_tried_only_after_all_starts_are_cut() -> None:
    """Measurements come already after the first start."""
    texts = [step.text for step in plan_of(**TWO_STARTS).steps if step.expects == "pitch diameter"]
    assert all("only when" in text for text in texts if "gauge" in text)
