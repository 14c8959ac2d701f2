"""Sentences for work at the machine: half nuts at every pass, pitches of gauges, refusals in the lathe's unit."""

from pathlib import Path

import pytest

from core.lathe.lathe import Lathe
from core.lathe.reader import read_lathe
from core.operations.threads.job import read_thread_job
from core.values.fields import Problem, Table
from tests.core.counted import Counted
from tests.core.figures import figures
from tests.core.thread_jobs import at_first_cut, counted_to_cut, job_of, lathe, plan_of

SAMPLES = Path(__file__).parents[4] / "sample_jobs"
INCH, METRIC = (read_lathe(SAMPLES / f"{unit}_lathe.toml") for unit in ("inch", "metric"))


@pytest.mark.parametrize(
    ("its", "thread", "lines"),
    [
        # 8 to the inch; a 32-tooth wheel with 8 lines has a line every 4 threads. By hand from trade rules: 12 to
        # the inch uses any line, 9 uses every 2nd line; a metric lead on an inch leadscrew has no usable line.
        (INCH, "1/2-12 BSW", set()),
        (INCH, "7/8-9 UNC", {"2", "0", "4", "6"}),
        (INCH, "1-8 UNC", set()),
        (INCH, "M30x3.5", None),
        (METRIC, "G1/2", None),
    ],
)
def test_the_movements_name_the_thread_dial_lines_for_closing_the_half_nuts(
    its: Lathe, thread: str, lines: set[str] | None
) -> None:
    """If the thread cannot be found again, no movement opens the half nuts: withdraw, stop, reverse."""
    hands = at_first_cut(its, thread=thread)
    opened = [n for n, hand in enumerate(hands) if "open" in hand]
    if lines is not None:
        close = next(n for n, hand in enumerate(hands) if hand.startswith("Close"))
        assert figures(hands[close]) == lines and close < opened[0]
        return
    assert opened == []
    order = [
        next(n for n, hand in enumerate(hands) if word in hand) for word in ("forward", "withdraw", "stop", "Reverse")
    ]
    assert order == sorted(order)


def test_the_dry_run_defines_which_line_of_the_thread_dial_is_line_0() -> None:
    """The passes then count the other lines from line 0."""
    closed, lines = (
        next(step for step in plan_of(INCH, thread=thread).steps if step.text.startswith("Dry run"))
        for thread in ("M30x3.5", "7/8-9 UNC")
    )
    assert not figures(closed.text) and figures(lines.text) == {"0"}


def numbers_of_a_hand(run: Counted) -> frozenset[str]:
    """Return the numbers in the sentence on closing the half nuts, for a thread of this hand."""
    return figures(next(hand for hand in run.view.movements if hand.startswith("Close")))


def test_each_start_has_its_own_thread_dial_lines_if_the_compound_is_swung() -> None:
    """With the compound swung, each start has other lines. Movements must not name the lines of the first start."""
    its = lathe(leadscrew={"pitch": "3 mm"}, thread_dial={"teeth": [16], "lines": [16]})
    run = counted_to_cut(its, thread="M24xPh6P3")
    # Every line is one leadscrew thread of 3 mm, half the lead: even lines are one start, odd lines the other.
    assert numbers_of_a_hand(run) >= {"0", "2", "4", "6", "8", "10", "12", "14"}
    while run.cursor.thread_start != 2:
        run.done()
    run.done()
    assert numbers_of_a_hand(run) >= {"1", "3", "5", "7", "9", "11", "13", "15"}
    straight = [figures(hand) for hand in at_first_cut(its, thread="M24xPh6P3", infeed="straight")]
    assert {"2", "0", "4", "6", "8", "10", "12", "14"} in straight


@pytest.mark.parametrize(
    ("its", "thread", "marked"),
    [
        (INCH, "M30x3.5", {"3.5", "0.1378"}),
        (INCH, "7/8-9 UNC", {"9"}),
        (METRIC, "7/8-9 UNC", {"9", "2.822"}),
        (METRIC, "M30x3.5", {"3.5"}),
        (INCH, "Tr20x8P4", {"8", "0.3150"}),
    ],
)
def test_a_pitch_is_shown_in_the_unit_marked_on_its_pitch_gauge(its: Lathe, thread: str, marked: set[str]) -> None:
    """Gauges of metric threads are marked in mm on any lathe, gauges of inch threads in threads to the inch."""
    scratch = next(step for step in plan_of(its, thread=thread).steps if step.text.startswith("Scratch pass"))
    assert figures(scratch.text.rpartition(". ")[2]) == marked


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"blank": "0.1 in"}, {"0.1000"}),
        ({"tool_flat": "0.1 in"}, {"0.1000", "0.1111"}),
        ({"lightest_pass": "0.1 in"}, {"0.1000", "0.0098"}),
        ({"thread": None, "form": "60 deg", "major": "1 in", "pitch": "0.9 in"}, {"0.9000", "1.0000"}),
    ],
)
def test_refusals_of_threads_on_an_inch_lathe_do_not_mention_millimetres(
    keys: dict[str, str | None], said: set[str]
) -> None:
    """On an inch lathe no refusal mentions millimetres."""
    problems: list[Problem] = []
    table = {key: text for key, text in ({"thread": "7/8-9 UNC"} | keys).items() if text is not None}
    assert read_thread_job(Table(table, "", problems), INCH) is None
    assert [figures(problem.message) >= said and " mm" not in problem.message for problem in problems] == [True]


REFUSED = [
    ("thread", "M10x99"),
    ("thread", "M13"),
    ("blank", "3 mm"),
    ("blank", "30 deg"),
    ("passes", 0),
    ("lightest_pass", "1 mm"),
    ("speed", "-3 rpm"),
]


@pytest.mark.parametrize(("key", "value"), REFUSED)
def test_each_mistake_in_a_thread_is_reported_under_its_own_key(key: str, value: object) -> None:
    """Each mistake gives one problem, at its own key."""
    problems: list[Problem] = []
    table = {"thread": "M30x3.5-6g", "tool_flat": "0.3 mm"} | {key: value}
    assert read_thread_job(Table(table, "", problems), METRIC) is None
    assert [problem.key for problem in problems] == [key]


def test_a_custom_thread_is_named_after_its_entered_sizes() -> None:
    """Whole threads to the inch are shown as such. A pitch of 1.27 mm (20 to the inch) stays as entered."""
    inch = job_of(INCH, form="55 deg", major="1 1/4 in", pitch="11 tpi").thread.designation
    metric = job_of(METRIC, form="60 deg", major="20 mm", pitch="1.27 mm").thread.designation
    assert (inch, metric) == ("55 deg 1.25 in x 11 tpi", "60 deg 20 x 1.27 mm")


@pytest.mark.parametrize(("radius", "sharper"), [("0.0114 in", False), ("0.0100 in", True)])
def test_a_rounded_entry_of_the_standards_tip_radius_gets_no_caution(radius: str, sharper: bool) -> None:
    """BS 84: r = 0.137329 P, at 12 to the inch 0.01144 in.

    The rounded radius on screen counts as the standard's own.
    """
    cautions = plan_of(INCH, thread="1/2 BSW", tool_radius=radius).cautions
    assert any("0.0114" in figures(caution) for caution in cautions) == sharper


def test_a_relief_without_a_stated_diameter_is_cut_below_the_thread_root() -> None:
    """The step never asks for a relief without a depth."""
    plan = plan_of(INCH, thread="7/8-9 UNC", relief="0.2 in")
    groove = next(step.text for step in plan.steps if step.text.startswith("Relief (undercut)"))
    assert "0.2000" in groove and INCH.length_text(plan.figures["root_mm"]) in groove


def test_a_compound_wound_back_for_the_next_start_goes_past_its_mark_and_returns() -> None:
    """This takes up the backlash between the last pass of one start and the first pass of the next."""
    run = Counted(lathe(thread_dial=None), "thread", thread="M24xPh6P3", spring_passes=0)
    directions = []
    while run.state.cursor is not None:
        if run.cursor.action == "cut" and run.view.dial is not None:
            directions.append("past" in run.view.dial.direction)
        run.done()
    assert directions.count(True) == 1 and directions.index(True) == len(directions) // 2
