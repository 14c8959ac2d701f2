"""The counter's questions about a thread, answered by real keys: the logged answers and the resulting plans."""

from pathlib import Path

import pytest

from core.jobs.job import read_job
from tests.conftest import MakeApp
from tests.tui.counters import Opening, at_first_measurement, entered, logged, press
from tests.tui.painted import painted
from tui.widgets.message_line import MessageLine
from tui.widgets.quantity_field import QuantityField

ARBOR = Path(__file__).parents[3] / "sample_jobs" / "sundial_arbor.toml"
"""Operation 3 is M27x3-6g: pitch diameter 24.803 to 25.003 mm (ISO 965-2), wires of 1.73 mm."""
THREAD = 2


async def test_sizes_over_wires_at_both_ends_of_a_thread_are_logged_with_the_reading_error(make: MakeApp) -> None:
    """The question shows the wanted size. The log holds the answer with its error, compared with the limits."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await at_first_measurement(pilot, THREAD)
        await press(pilot, "space", "b")
        assert " 27.395 mm" in painted(pilot.app) and " 27.595 mm" in painted(pilot.app)
        await press(pilot, *"27.70", "enter", "y", *"27.69+-.005", "enter")
        logged = entered(pilot.app)[1]
        assert logged == {"over_wires_mm": {"shoulder": 27.7, "free": 27.69}, "reading_error_mm": 0.01}
        shown = " ".join(painted(pilot.app).split())
        # 27.70 - 3 x 1.73 + 0.866025 x 3 = 25.108; to 24.903, the middle, 0.205.
        for found in ("25.108 mm ± 0.012 mm", "0.105 mm", "24.803 mm", "25.003 mm", "0.205 mm"):
            assert f" {found}" in shown
        assert screen.state.cursor is not None and screen.state.cursor.action == "cut"


async def test_measuring_over_other_wires_or_over_one_wire_gives_the_same_pitch_diameter(make: MakeApp) -> None:
    """Both methods ask for the other sizes that they need."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        await at_first_measurement(pilot, THREAD)
        await press(pilot, "space", "e", *"1.8", "enter", *"27.91", "enter", "n")
        revision = entered(pilot.app)[1]
        assert revision == {"over_wires_mm": {"shoulder": 27.91}, "wire_mm": 1.8, "reading_error_mm": 0.01}
        assert "25.108 mm" in painted(pilot.app)
        await press(pilot, "1", "6", *"26.80", "enter", *"27.25", "enter", "n")
        revision = entered(pilot.app)[1]
        assert revision == {"over_one_wire_mm": {"shoulder": 27.25}, "major_mm": 26.8, "reading_error_mm": 0.01}
        assert "25.108 mm" in painted(pilot.app)


@pytest.mark.parametrize("keys", [("escape",), ("y", "escape"), (*"27.6", "escape")])
async def test_pressing_esc_when_asked_about_the_free_end_logs_only_the_size_at_the_shoulder(
    make: MakeApp, keys: tuple[str, ...]
) -> None:
    """Esc at the question or in the field logs the first size, as the question says beforehand."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        await at_first_measurement(pilot, THREAD)
        await press(pilot, "space", "b", *"27.70", "enter")
        assert " 27.7 mm" in painted(pilot.app)
        await press(pilot, *keys)
        logged = entered(pilot.app)[1]
        assert logged == {"over_wires_mm": {"shoulder": 27.7}, "reading_error_mm": 0.01}


@pytest.mark.parametrize(("keys", "dropped"), [(("e", *"1.8"), " 1.8 mm"), (("f", *"26.8"), " 26.8 mm")])
async def test_cancelling_the_second_of_two_questions_reports_the_first_answer_as_not_logged(
    make: MakeApp, keys: tuple[str, ...], dropped: str
) -> None:
    """An answer that needs the cancelled answer is not logged, and a message says so."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        await at_first_measurement(pilot, THREAD)
        before = logged(pilot.app).last_seq
        await press(pilot, "space", *keys, "enter", "escape")
        assert logged(pilot.app).last_seq == before
        assert dropped in pilot.app.screen.query_one(MessageLine).sentence


async def test_each_of_the_four_answers_about_the_fit_of_a_thread_plans_different_steps(make: MakeApp) -> None:
    """ "Fits", "won't start", "tight" and "loose" are each logged and plan their own steps.

    A thread above its limits is expected not to start, so two cuts and the spring passes remain.
    """
    small_step = ["cut", "spring", "measure", "check"]
    as_planned = ["cut", "cut", "spring", "spring", "measure", "check"]
    words = {"fits": ["check"], "won't start": as_planned, "tight": small_step, "loose": ["measure", "check"]}
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await at_first_measurement(pilot, THREAD)
        for key, (fit, actions) in enumerate(words.items(), start=1):
            await press(pilot, "space", "c", str(key))
            assert entered(pilot.app)[1] == {"fit": fit}
            assert [step.action for step in screen.state.open_steps()] == actions
            screen.run.undo()
            screen.paint()


async def test_a_thread_measured_too_small_is_reported_with_the_amount_below_its_limit(make: MakeApp) -> None:
    """24.70 is 0.103 mm below the smallest size. The amount is shown, and no cut remains."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await at_first_measurement(pilot, THREAD)
        await press(pilot, "space", "a", *"24.70", "enter", "n")
        assert " 0.103 mm" in painted(pilot.app)
        assert not any(step.action in {"cut", "spring"} for step in screen.state.open_steps())


async def test_each_answer_to_the_question_what_was_moved_plans_different_steps(make: MakeApp) -> None:
    """After key 5 and "yes" the program asks what was moved."""
    ways = set()
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        screen = await at_first_measurement(pilot, THREAD)
        for key, moved in enumerate(("tool", "work", "half nuts", "other"), start=1):
            await press(pilot, "u", "1", str(key))
            assert entered(pilot.app)[1] == {"moved": moved}
            ways.add(tuple(step.text for step in screen.state.open_steps()))
            screen.run.undo()
            screen.paint()
        assert len(ways) == 4


async def test_an_invalid_size_of_a_thread_is_refused_with_an_error_beside_the_field(make: MakeApp) -> None:
    """Nothing is logged until the size can be read."""
    async with make(job=ARBOR, opening=Opening).run_test(size=(80, 24)) as pilot:
        await at_first_measurement(pilot, THREAD)
        await press(pilot, "space", *"25.1+-0", "enter")
        assert pilot.app.screen.query_one(QuantityField).error
        await press(pilot, "escape")
        assert logged(pilot.app).revisions == ()
    assert read_job(ARBOR).operations[2].plan_input.parameters["thread"] == "M27x3-6g"
