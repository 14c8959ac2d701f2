"""What is said at the machine: half nuts at every pass, pitches as gauges are marked, refusals in the lathe's unit."""

from pathlib import Path

import pytest

from core.fields import Problem, Table
from core.lathe import Lathe
from core.lathe_file import read_lathe
from core.threads.job import read_thread_job
from tests.core.counted import Counted
from tests.core.thread_jobs import at_first_cut, counted_to_cut, job_of, lathe, plan_of

SAMPLES = Path(__file__).parents[2] / "sample_jobs"
INCH, METRIC = (read_lathe(SAMPLES / f"{unit}_lathe.toml") for unit in ("inch", "metric"))


@pytest.mark.parametrize(
    ("its", "thread", "close"),
    [
        # 8 to the inch; a wheel of 32 with 8 lines has a line every 4 threads. Worked by hand from trade rules: 12 to
        # the inch any line, 9 every 2nd line; a metric lead on an inch screw is never found again.
        (INCH, "1/2-12 BSW", "Close the half nuts on any line"),
        (INCH, "7/8-9 UNC", "Close the half nuts on every 2nd line (0, 2, 4, 6)"),
        (INCH, "1-8 UNC", "Close the half nuts wherever they go in"),
        (INCH, "M30x3.5", None),
        (METRIC, "G1/2", None),
    ],
)
def test_the_movements_say_what_the_half_nuts_do(its: Lathe, thread: str, close: str | None) -> None:
    """Where the thread is not found again no movement lets the half nuts be opened: withdraw, stop, reverse."""
    hands = at_first_cut(its, thread=thread)
    if close is not None:
        opened = next(n for n, hand in enumerate(hands) if "open the half nuts" in hand)
        assert hands.index(close) < opened
        return
    assert not any("open" in hand for hand in hands)
    heads = (
        "Spindle forward",
        "At the end of the thread withdraw",
        "Switch off, let it stop",
        "Reverse, half nuts closed",
    )
    assert [hand.startswith(head) for hand, head in zip(hands[2:6], heads, strict=True)] == [True] * 4


def test_the_dry_run_says_it_first() -> None:
    """The line first used is named before it is counted from, and closed nuts are told before anyone opens them."""
    closed, lines = (
        next(step.text for step in plan_of(INCH, thread=thread).steps if step.text.startswith("Dry run"))
        for thread in ("M30x3.5", "7/8-9 UNC")
    )
    assert "From now on keep the half nuts closed" in closed
    assert "Chasing dial: the line you close on first is line 0" in lines


def test_starts_by_the_chasing_dial_have_lines_of_their_own() -> None:
    """With the compound set over, another line is another start: the movements must not name those of the first."""
    its = lathe(leadscrew={"pitch": "3 mm"}, chasing_dial={"teeth": [16], "lines": [16]})
    run = counted_to_cut(its, thread="M24xPh6P3")
    # Every line is a leadscrew thread of 3 mm, half the lead: even lines are one start, odd ones the other.
    assert "Close the half nuts on line 0, 2, 4, 6, 8, 10, 12 or 14" in run.view.hands
    while "For start 2" not in run.cursor.text:
        run.done()
    run.done()
    assert "Close the half nuts on line 1, 3, 5, 7, 9, 11, 13 or 15" in run.view.hands
    assert "Close the half nuts on every 2nd line" in " ".join(at_first_cut(its, thread="M24xPh6P3", infeed="straight"))


@pytest.mark.parametrize(
    ("its", "thread", "said"),
    [
        (INCH, "M30x3.5", "the pitch of 3.5 mm (0.1378 in)"),
        (INCH, "7/8-9 UNC", "the pitch of 9 tpi with"),
        (METRIC, "7/8-9 UNC", "the pitch of 9 tpi (2.822 mm)"),
        (METRIC, "M30x3.5", "the pitch of 3.5 mm with"),
        (INCH, "Tr20x8P4", "the lead of 8 mm (0.3150 in)"),
    ],
)
def test_a_pitch_is_told_as_its_gauge_is_marked(its: Lathe, thread: str, said: str) -> None:
    """A gauge of a metric thread is marked in mm wherever it is used, one of an inch thread in threads to the inch."""
    assert any(said in step.text for step in plan_of(its, thread=thread).steps)


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"blank": "0.1 in"}, "found a blank of 0.1000 in, which is below the root of 7/8-9 UNC-2A at "),
        ({"tool_flat": "0.1 in"}, "found a tool flat of 0.1000 in, too wide for a pitch of 0.1111 in"),
        ({"lightest_pass": "0.1 in"}, "found 0.1000 in, above the deepest pass of 0.0098 in"),
        ({"thread": None, "form": "60 deg", "major": "1 in", "pitch": "0.9 in"}, "a pitch of 0.9000 in on 1.0000 in"),
    ],
)
def test_refusals_are_in_the_unit_of_the_lathe(keys: dict[str, str | None], said: str) -> None:
    """On an inch lathe no refusal speaks of millimetres."""
    problems: list[Problem] = []
    table = {key: text for key, text in ({"thread": "7/8-9 UNC"} | keys).items() if text is not None}
    assert read_thread_job(Table(table, "", problems), INCH) is None
    assert [said in problem.message and " mm" not in problem.message for problem in problems] == [True]


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("thread", "M10x99", "accepted: from 0.07"),
        ("thread", "M13", "nearest accepted"),
        ("blank", "3 mm", "below the root"),
        ("blank", "30 deg", "is no length but an angle"),
        ("passes", 0, "a whole number from 1"),
        ("lightest_pass", "1 mm", "above the deepest pass"),
        ("speed", "-3 rpm", "more than 0 rpm"),
    ],
)
def test_what_is_refused_says_what_is_accepted(key: str, value: object, said: str) -> None:
    """One sentence, at the key that it is about."""
    problems: list[Problem] = []
    table = {"thread": "M30x3.5-6g", "tool_flat": "0.3 mm"} | {key: value}
    assert read_thread_job(Table(table, "", problems), METRIC) is None
    assert [(problem.key, said in problem.message) for problem in problems] == [(key, True)]


def test_a_thread_of_ones_own_is_called_as_it_was_given() -> None:
    """Whole threads to the inch are told as such; 1.27 mm, which is 20 to the inch, stays what a turner typed."""
    inch = job_of(INCH, form="55 deg", major="1 1/4 in", pitch="11 tpi").thread.designation
    metric = job_of(METRIC, form="60 deg", major="20 mm", pitch="1.27 mm").thread.designation
    assert (inch, metric) == ("55 deg 1.25 in x 11 tpi", "60 deg 20 x 1.27 mm")


@pytest.mark.parametrize(("radius", "sharper"), [("0.0114 in", False), ("0.0100 in", True)])
def test_the_tip_that_is_asked_for_is_no_sharp_one(radius: str, sharper: bool) -> None:
    """BS 84: r = 0.137329 P, at 12 to the inch 0.01144 in; typed as it is shown it is the standard's own."""
    cautions = plan_of(INCH, thread="1/2 BSW", tool_radius=radius).cautions
    assert any("sharper than the standard's root" in caution for caution in cautions) == sharper


def test_a_groove_without_a_diameter_is_turned_below_the_root() -> None:
    """Nobody is sent to turn a groove of no depth."""
    plan = plan_of(INCH, thread="7/8-9 UNC", relief="0.2 in")
    groove = next(step.text for step in plan.steps if step.text.startswith("Relief groove"))
    assert groove == f"Relief groove: 0.2000 in wide, to just below the root, {INCH.say(plan.figures['root_mm'])}"


def test_a_slide_that_goes_back_takes_up_its_play() -> None:
    """From the last pass of one start to the first of the next the compound is wound back past its mark."""
    run = Counted(lathe(chasing_dial=None), "thread", thread="M24xPh6P3", spring_passes=0)
    directions = []
    while run.state.cursor is not None:
        if run.cursor.action == "cut" and run.view.dial is not None:
            directions.append("past it, then back" in run.view.dial.direction)
        run.done()
    assert directions.count(True) == 1 and directions.index(True) == len(directions) // 2
