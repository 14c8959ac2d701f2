"""Movements of every pass: they start from the dial readings, include the stop, and end with the key."""

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from core.events.event import Event
from core.lathe.lathe import Lathe
from core.lathe.reader import lathe_from, read_lathe
from core.operations.threads.carriage_travel import stop_place_words, stop_settings, stopping_place_mm
from core.operations.threads.job import read_thread_job
from core.run.event_words import event_words
from core.values.fields import Problem, Table
from tests.core.counted import Counted
from tests.core.figures import figures
from tests.core.thread_jobs import at_first_cut, counted_to_cut, job_of, lathe, touched_off

SAMPLES = Path(__file__).parents[4] / "sample_jobs"
INCH, METRIC, MIXED = (read_lathe(SAMPLES / f"{name}_lathe.toml") for name in ("inch", "metric", "mixed"))
M27 = {"thread": "M27x3-6g", "relief": "5 mm", "length": "20 mm"}
ZEROS = {"compound": "0.024", "cross_slide": "1.5", "carriage": "3.2"}


def without_carriage_dial(its: Lathe) -> Lathe:
    """Return the same lathe without a dial on its carriage."""
    dials = {name: dial for name, dial in its.data["dial"].items() if name != "carriage"}
    return lathe_from({**its.data, "dial": dials}, "test")


def everything_shown(run: Counted) -> str:
    """Return all words that the counter shows for a step."""
    view = run.view
    dial = (view.dial.turns, view.dial.number) if view.dial else ()
    return " | ".join([view.title, view.text, *dial, *view.also, view.set_to, *view.movements])


def test_all_texts_of_a_pass_show_the_same_cross_slide_reading() -> None:
    """After a touch-off at 1.50, text, column and movements agree, for scratch pass and passes."""
    run = Counted(MIXED, "thread", **M27)
    seen = 0
    while run.state.cursor is not None:
        if any(setting.dial == "cross_slide" for setting in run.cursor.settings) and not run.cursor.zeroed_dials:
            shown = everything_shown(run)
            places = [
                figures(line)
                for line in (*run.view.also, *run.view.movements)
                if "ross-slide" in line and "ut to" not in line
            ]
            assert {"1.50"} in places and {"0"} not in places
            assert "1.50" in shown
            seen += 1
        touched_off(run, ZEROS)
    assert seen > 10


def test_after_a_thread_is_picked_up_the_movements_use_the_new_dial_readings() -> None:
    """The cross-slide is set to 0 at first, then picked up at 0.38. The movements then use 0.38."""
    run = counted_to_cut(MIXED, zeros={"compound": "0.024"}, **M27)
    run.done()
    assert {"0"} in [figures(hand) for hand in run.view.movements if hand.startswith("Cross-slide")]
    run.revise("picked up", moved="tool")
    while run.cursor.action != "measure":
        touched_off(run, {"compound": "0.010", "cross_slide": "0.38", "carriage": "7.0"})
    run.revise("measured", crest_mm=0.5)
    assert {"0.38"} in [figures(hand) for hand in run.view.movements if hand.startswith("Cross-slide")]
    marks = stop_settings(job_of(MIXED, **M27), MIXED)
    assert marks is not None
    # The carriage dial has 15 a turn and reads 7.0 at the face instead of 0, so the stop moves on by 7.0.
    aim = f"{float((marks.aim.position + 7) % 15):.1f}"
    assert any(aim in figures(hand) for hand in run.view.movements if "carriage" in hand)


def test_the_touch_off_of_a_dial_that_cannot_be_zeroed_shows_no_number_to_set() -> None:
    """The turner enters its reading, so a large 0 would look like a setting."""
    run = Counted(MIXED, "thread", **M27)
    while run.cursor.zeroed_dials != ("compound",):
        run.done()
    assert run.view.dial is None and run.cursor.required
    slide = {**MIXED.data["dial"]["cross_slide"], "can_zero": False}
    pinned = lathe_from({**MIXED.data, "dial": {**MIXED.data["dial"], "cross_slide": slide}}, "test")
    turned = Counted(pinned, "turn", from_="30 mm", to="28 mm", cut="0.5 mm")
    assert turned.view.dial is None and turned.view.coming[0] == "cut"


def test_step_texts_count_from_the_dial_reading_entered_at_touch_off() -> None:
    """Planned at 0.001 from 0, on a compound at 0.024, the scratch pass is at 0.025 on screen and in the log."""
    run = Counted(MIXED, "thread", **M27)
    while not run.cursor.text.startswith("Scratch pass"):
        touched_off(run, ZEROS)
    assert "0.001" in figures(run.cursor.text)
    assert "0.025" in figures(run.view.text)
    for kind, body in (("done", {"step": run.cursor.id}), ("skipped", {"steps": [run.cursor.id], "reason": "x"})):
        event = Event(seq=99, kind=kind, body=body, wall="2026", session="s", monotonic_ms=1)
        assert "0.025" in figures(event_words(event, run.state, MIXED))


def test_a_dial_reading_in_the_log_starts_again_at_the_0_mark_of_the_dial() -> None:
    """From 0.024 on a dial of 0.040 a turn, 0.020 further is 0.004 past its 0, not "1 turn and 0.004"."""
    run = counted_to_cut(MIXED, zeros=ZEROS, **M27)
    while run.cursor.action != "cut" or run.cursor.settings[0].position < 0.02:  # type: ignore[union-attr]
        run.done()
    event = Event(seq=99, kind="done", body={"step": run.cursor.id}, wall="2026", session="s", monotonic_ms=1)
    words = event_words(event, run.state, MIXED)
    assert "past its 0" in words and "1 turn" not in words


@pytest.mark.parametrize("its", [INCH, METRIC, MIXED])
@pytest.mark.parametrize("keys", [{}, {"infeed": "straight"}, {"side": "inside"}])
def test_every_pass_of_a_thread_ends_with_stop_withdrawal_return_and_key_press(
    its: Lathe, keys: dict[str, Any]
) -> None:
    """After the stop and the withdrawal, the carriage goes back before the key.

    Dry run and scratch pass end the same.
    """
    sizes = {"relief": "6 mm", "length": "20 mm"}
    run = Counted(its, "thread", thread="M27x3", **sizes, **keys)
    passes = 0
    while run.state.cursor is not None:
        hands = run.view.movements
        is_pass = run.cursor.action in {"cut", "spring"} or run.cursor.text.startswith(("Dry run", "Scratch pass"))
        assert bool(hands) == is_pass
        if hands:
            passes += 1
            stop = next(n for n, hand in enumerate(hands) if hand.startswith("At carriage "))
            withdraw = next(n for n, hand in enumerate(hands) if "ithdraw" in hand)
            back = next(n for n, hand in enumerate(hands) if "arriage back" in hand)
            assert stop <= withdraw < back == len(hands) - 2
            assert "key" in hands[-1]
            assert all(len(hand.split()) <= 15 for hand in hands)
        run.done()
    assert passes > 10


def test_the_carriage_stops_at_a_dial_mark_inside_the_relief() -> None:
    """Thread 1 1/8 in, relief 1/4 in, marks of 0.005 in: the reading clears thread and shoulder, in inches only."""
    keys = {"thread": "1 1/4-8 UN-2A", "relief": "1/4 in", "length": "1 1/8 in", "tool_radius": "0.015 in"}
    job, hands = job_of(INCH, **keys), at_first_cut(INCH, **keys)
    marks = stop_settings(job, INCH)
    assert marks is not None
    half_in = job.tip.width_mm(job.groove.depth_mm) / 2 / 25.4
    assert 1.125 <= marks.aim.position <= 1.375 - half_in
    assert Fraction(str(marks.aim.position)) % Fraction("0.005") == 0
    stop = next(hand for hand in hands if hand.startswith("At carriage"))
    assert "1 turn 0.450 in" in stop and " mm" not in " ".join(hands)


def test_on_a_lathe_without_a_carriage_dial_no_distance_along_the_axis_is_shown() -> None:
    """If the length of the thread is known, a step makes a mark on the bed instead."""
    its = without_carriage_dial(METRIC)
    for keys in (M27, {"thread": "M27x3-6g", "length": "20 mm"}, {"thread": "M27x3-6g"}):
        run = Counted(its, "thread", **keys)
        texts = []
        while run.cursor.action != "cut":
            texts.append(run.cursor.text)
            run.done()
        stop = next(hand for hand in run.view.movements if "open" in hand)
        assert not re.search(r"\d", stop + stop_place_words(job_of(its, **keys), its))
        assert any(text.startswith("Stop:") for text in texts) == ("length" in keys)


def test_no_carriage_reading_is_shown_if_the_carriage_dial_was_not_set() -> None:
    """If the dial's step was skipped, or the run is older than this step, the movements name the relief instead."""
    run = Counted(METRIC, "thread", **M27)
    while run.cursor.action != "cut":
        run.skip() if run.cursor.zeroed_dials == ("carriage",) else run.done()
    stop = next(hand for hand in run.view.movements if "open" in hand)
    assert not figures(stop) and "relief" in stop


def test_movements_in_an_old_log_are_replaced_by_newly_planned_movements() -> None:
    """An older log holds them as a list with "to 0". The new movements start from the dial readings."""
    run = counted_to_cut(MIXED, zeros={"compound": "0.024", "cross_slide": "1.5"}, **M27)
    old = ("Tool out", "Carriage back", "Compound to its reading", "Cross-slide to 0 in the same turn", "Cut")
    run.state = replace(run.state, plan=replace(run.state.plan, movements=old))
    assert {"1.50"} in [figures(hand) for hand in run.view.movements if hand.startswith("Cross-slide")]
    assert old[0] not in run.view.movements


def test_if_the_half_nuts_stay_closed_the_stop_leaves_room_for_the_spindle_to_coast() -> None:
    """The half nuts stay closed for G1/2 on a 3 mm leadscrew. One turn of coasting moves the carriage 1.814 mm."""
    keys = {"thread": "G1/2", "relief": "6 mm", "length": "20 mm", "speed": "60 rpm"}
    spindle = {name: value for name, value in METRIC.data["spindle"].items() if name != "coast_turns"}
    at_once = lathe_from({**METRIC.data, "spindle": spindle}, "test")
    ends = [stopping_place_mm(job_of(its, **keys), its) for its in (METRIC, at_once)]
    assert ends[0] is not None and ends[1] is not None
    assert ends[1][1] - ends[0][1] == pytest.approx(25.4 / 14, abs=1e-6)


def test_the_carriage_stops_one_pitch_sooner_for_the_second_start() -> None:
    """For start 2 the compound, parallel to the axis, is a pitch of 4 mm further on."""
    job = job_of(METRIC, thread="Tr20x8P4-7e", relief="12 mm", length="40 mm", infeed="straight")
    first, second = (stop_settings(job, METRIC, starts_on) for starts_on in (0, 1))
    assert first is not None and second is not None
    assert first.aim.position - second.aim.position == pytest.approx(4)
    run = counted_to_cut(METRIC, thread="Tr20x8P4-7e", relief="12 mm", length="40 mm", infeed="straight")
    before = run.view.movements
    while "For start 2" not in run.cursor.text:
        run.done()
    run.done()
    assert run.view.movements != before
    # In start 2 of a picked-up thread, the tip is level with the face again with the compound unmoved, as in start 1.
    run.revise("picked up", moved="tool")
    while run.cursor.action != "measure":
        run.done()
    run.revise("measured", crest_mm=0.5)
    assert run.view.movements[-4:] == before[-4:]


def test_in_a_bore_the_tool_withdraws_towards_the_axis_to_a_dial_reading() -> None:
    """In a blind M16 bore the cross-slide withdraws past its touch-off reading, not past its 0."""
    keys = {"thread": "M16-6H", "blank": "13.9 mm", "relief": "5 mm", "length": "24 mm", "tool_flat": "0.25 mm"}
    plain = at_first_cut(METRIC, **keys)
    shifted = counted_to_cut(METRIC, zeros={"cross_slide": "1.00"}, **keys).view.movements
    # Depth 1.103 and a gap of 0.5 on a dial that reads diameter: 3.206. The next mark is 3.25, or 1.00 more.
    assert {"1", "0.25"} in [figures(hand) for hand in plain if "inwards" in hand]
    assert {"1.25", "0"} in [figures(hand) for hand in shifted if "inwards" in hand]


@pytest.mark.parametrize(
    ("keys", "relief_at", "length", "shoulder"),
    [
        ({"length": "20 mm", "relief": "5 mm"}, 20, 20, 25),
        ({"thread_at": "10 mm", "length": "20 mm", "relief": "5 mm"}, 30, 20, 35),
        ({"thread_at": "10 mm", "relief_at": "30 mm"}, 30, 20, None),
        ({"length": "20 mm", "relief": "5 mm", "shoulder_at": "26 mm"}, 20, 20, 26),
        ({"relief": "5 mm", "shoulder_at": "25 mm"}, 20, 20, 25),
        ({"relief": "5 mm"}, 0, None, 5),
        # A face is named without the distance to the relief, so no position follows from the face.
        ({"relief": "5 mm", "zero_face": "the flange"}, None, None, None),
        ({}, None, None, None),
    ],
)
def test_missing_positions_along_the_axis_follow_from_the_entered_positions(
    keys: dict[str, str], relief_at: float | None, length: float | None, shoulder: float | None
) -> None:
    """Positions are counted from the zero face. The relief starts at the end of the thread and ends at the shoulder."""
    place = job_of(thread="M27x3-6g", **keys).place
    assert (place.relief_at_mm, place.length_mm, place.shoulder_at_mm) == (relief_at, length, shoulder)


@pytest.mark.parametrize(
    ("keys", "key"),
    [
        ({"length": "20 mm", "relief_at": "15 mm"}, "relief_at"),
        ({"thread_at": "20 mm", "relief_at": "15 mm"}, "relief_at"),
        ({"length": "20 mm", "relief": "5 mm", "shoulder_at": "24 mm"}, "shoulder_at"),
        ({"relief": "5 mm", "shoulder_at": "4 mm"}, "shoulder_at"),
    ],
)
def test_positions_along_the_axis_that_contradict_each_other_are_refused(keys: dict[str, str], key: str) -> None:
    """The refusal is one sentence, at the key that contradicts the others."""
    problems: list[Problem] = []
    assert read_thread_job(Table({"thread": "M27x3-6g", **keys}, "", problems), lathe()) is None
    assert [problem.key for problem in problems] == [key]


def test_the_step_that_sets_the_carriage_dial_names_the_zero_face_as_entered() -> None:
    """The step that sets the carriage dial names the zero face and the stopping place."""
    run = Counted(METRIC, "thread", **M27, zero_face="the flange")
    text = next(step.text for step in run.state.steps if step.zeroed_dials == ("carriage",))
    marks = stop_settings(job_of(METRIC, **M27), METRIC)
    assert marks is not None and marks.aim.reading is not None
    assert "the flange" in text and {"1", f"{float(marks.aim.reading):.1f}"} <= figures(text)


def test_a_thread_cut_away_from_the_chuck_starts_inside_the_relief() -> None:
    """The relief is from 30 mm to 36 mm. The half nuts open past the free end."""
    keys = {"thread": "M20x2.5-LH", "relief": "6 mm", "length": "30 mm", "runs": "from the chuck"}
    job, hands = job_of(METRIC, **keys), at_first_cut(METRIC, **keys)
    marks = stop_settings(job, METRIC)
    assert marks is not None
    moved_mm = job.groove.depth_mm * 0.5543  # tan 29 degrees: the compound moves the tip away from the chuck.
    assert 30 + moved_mm <= marks.aim.position <= 36 - job.tip.width_mm(job.groove.depth_mm) / 2
    back, opened = (next(hand for hand in hands if word in hand) for word in ("arriage back", "open"))
    assert figures(back) == {"1", f"{float(marks.aim.position - 18):.1f}"}
    assert not figures(opened) and "end" in opened
