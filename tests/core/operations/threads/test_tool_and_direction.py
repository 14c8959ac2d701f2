"""Grinding of the tool, directions of work and slides, and the tool's stop, by derivation and simulation."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.operations.threads.carriage_travel import (
    direction_words,
    relief_wanted_mm,
    spindle_in_reverse,
    stop_place_words,
    stopping,
    stopping_place_mm,
)
from core.operations.threads.compound import swing_words
from core.operations.threads.tool import (
    full_profile_words,
    grinding,
    lean_words,
    side_clearance_words,
    standard_tip_words,
)
from tests.core.figures import figures
from tests.core.thread_jobs import job_of, lathe, plan_of


def test_lead_angles_match_a_hand_calculation() -> None:
    """10 x 1.5 mm: 3.03 degrees at the pitch diameter, 3.35 degrees at a root of 8.16 mm with radius H/6 (derived)."""
    own = {"form": "60 deg", "major": "10 mm", "pitch": "1.5 mm", "tool_radius": "0.2165 mm"}
    job = job_of(**own)
    assert job.groove.root_diameter_mm == pytest.approx(8.16, abs=0.005)
    assert grinding(job).lead_angle_root_deg == pytest.approx(3.35, abs=0.005)
    assert plan_of(**own).figures["lead_angle_deg"] == pytest.approx(3.03, abs=0.005)


@settings(max_examples=40)
@given(st.sampled_from(["M10", "M24xPh6P3", "Tr40x14P7", "1/2 BSW", "M20x1.5-6H"]), st.sampled_from([0.25, 0.5, 1.0]))
def test_a_tool_ground_as_advised_does_not_rub_on_either_flank(thread: str, working_deg: float) -> None:
    """A flank ground as advised clears the helix by its working relief at every diameter of contact.

    The simulation is in the work's frame. At a distance z below the edge, the groove has moved by z times lead / (pi d)
    against the tool's travel.
    """
    job = job_of(thread=thread)
    found = grinding(job)
    for part in (0.0, 0.25, 0.5, 0.75, 1.0):
        diameter = job.blank_mm + part * (job.groove.root_diameter_mm - job.blank_mm)
        moved_mm_per_mm = job.thread.lead_mm / (math.pi * diameter)
        leading = math.tan(math.radians(found.leading_clearance_deg)) - moved_mm_per_mm
        trailing = math.tan(math.radians(found.trailing_clearance_deg)) + moved_mm_per_mm
        assert leading > math.tan(math.radians(working_deg))
        assert trailing > math.tan(math.radians(working_deg))


@pytest.mark.parametrize(
    ("runs", "leads", "trails"), [("to the chuck", "left", "right"), ("from the chuck", "right", "left")]
)
@pytest.mark.parametrize("hand", ["", "-LH"])
def test_the_leading_side_of_the_tool_faces_its_direction_of_travel(
    runs: str, leads: str, trails: str, hand: str
) -> None:
    """The chuck is on the turner's left. Only the direction of travel changes the side, not the hand of the thread."""
    leading, trailing = side_clearance_words(job_of(thread=f"M20x2{hand}", runs=runs))
    assert leading.endswith(leads) and trailing.endswith(trails)


@pytest.mark.parametrize(
    ("thread", "side", "words"),
    [
        # Root radius 0.14434 P (ISO 965-1), 0.137329 P (BS 84), 0.18083 P (BS 93); Acme 0.3707 P less 0.0052 (B1.5).
        ("M30x3.5", "outside", "radius 0.505 mm"),
        ("M30x3.5", "inside", "flat 0.438 mm"),
        ("1/2 BSW", "outside", "radius 0.291 mm"),
        ("0 BA", "outside", "radius 0.181 mm"),
        ("Tr20x4", "outside", "flat 1.33 mm"),
    ],
)
def test_the_tool_tip_that_cuts_the_standards_root_is_stated(thread: str, side: str, words: str) -> None:
    """Multiples of the pitch as printed; inside, P/8 flat (ISO 68-1); Tr, 0.366 P less 2 ac tan 15 (ISO 2901)."""
    assert standard_tip_words(job_of(thread=thread, side=side), lathe()) == words


def test_only_threads_with_rounded_crests_get_advice_about_a_full_profile_tool() -> None:
    """The depths are 0.0534 in for 12 tpi (BS 84) and 1.162 mm for 14 tpi (ISO 228). Metric crests are flat."""
    assert full_profile_words(job_of(thread="1/2 BSW"), lathe()).startswith("1.356 mm deep")
    assert full_profile_words(job_of(thread="G1/2", side="inside"), lathe()).startswith("1.162 mm deep")
    assert "undersize" in full_profile_words(job_of(thread="G1/2", side="inside"), lathe())
    assert full_profile_words(job_of(thread="M10"), lathe()) == ""


def test_grinding_back_is_advised_for_the_side_of_the_tool_next_to_the_shoulder() -> None:
    """The shoulder is at the chuck, on the left. Half the tool's width keeps the point away from the shoulder."""
    job = job_of(thread="M30x3.5-6g", blank="29.85 mm", tool_flat="0.30 mm")
    words = lean_words(job, lathe())
    assert "left" in words and "1.534" in figures(words)


def simulated_hand(backwards: bool, from_chuck: bool) -> str:
    """Return the hand of the simulated helix, from the point's path on the work as seen from the tailstock.

    With the spindle forward, the top of the work moves towards the turner and the near side moves down.
    """
    turns = -1 if backwards else 1
    travel = 1 if from_chuck else -1
    # In the work's frame the tool turns the opposite way, by -turns, while it travels along +x, to the tailstock.
    return "right" if turns * travel < 0 else "left"


@pytest.mark.parametrize("hand", ["", "-LH"])
@pytest.mark.parametrize("runs", ["to the chuck", "from the chuck"])
def test_reversing_either_the_spindle_or_the_travel_changes_the_hand_of_the_thread(hand: str, runs: str) -> None:
    """A right-hand thread runs towards the chuck with the spindle forward, as lathes are built."""
    job = job_of(thread=f"M20x2{hand}", runs=runs)
    assert simulated_hand(spindle_in_reverse(job), job.from_chuck) == ("left" if hand else "right")
    words = direction_words(job)
    assert ("leadscrew reversed" in words) == bool(hand)
    assert ("inverted" in words) == spindle_in_reverse(job)


@pytest.mark.parametrize("hand", ["", "-LH"])
@pytest.mark.parametrize("runs", ["to the chuck", "from the chuck"])
def test_cutting_with_the_spindle_in_reverse_gets_two_cautions(hand: str, runs: str) -> None:
    """One caution says how to cut with the spindle forward. The other says that a screwed chuck can unscrew."""
    plan = plan_of(thread=f"M20x2{hand}", runs=runs)
    backwards = bool(hand) == (runs == "to the chuck")
    assert sum("in reverse" in caution for caution in plan.cautions) == (2 if backwards else 0)
    usual = not hand and runs == "to the chuck"
    assert any(step.text.startswith("Direction:") for step in plan.steps) == (not usual)


def test_the_direction_of_the_cut_decides_to_which_side_the_compound_is_swung() -> None:
    """For a left-hand thread from the chuck, the handle is on the chuck side, because the right flank leads."""
    assert swing_words(job_of(thread="M20x2-LH", runs="from the chuck")).endswith("chuck")


@settings(max_examples=50)
@given(st.floats(2.2, 9), st.floats(5, 60))
def test_the_full_width_of_the_tool_stops_inside_the_relief(relief_mm: float, length_mm: float) -> None:
    """The test checks both ends of the range for the stop.

    The compound, 29 degrees off square, has moved the tip along the axis by depth x tan 29 at the last pass. The test
    simulates this movement.
    """
    job = job_of(thread="M20x2", relief=f"{relief_mm:.3f} mm", length=f"{length_mm:.3f} mm")
    half_mm = job.tip.width_mm(job.groove.depth_mm) / 2
    place = stopping_place_mm(job, lathe())
    if place is None:
        assert relief_mm < half_mm + 0.001
        return
    moved_mm = job.groove.depth_mm * math.tan(math.radians(29))
    for carriage_mm in place:
        assert carriage_mm + moved_mm >= length_mm - 0.001
        assert carriage_mm + moved_mm + half_mm <= length_mm + relief_mm + 0.001


def test_the_stopping_place_of_the_carriage_matches_a_hand_calculation() -> None:
    """Thread 22 mm, relief 5 mm, tool 3.068 mm wide. The compound moves the tip by 2.396737 tan 29 = 1.328 mm.

    So the range is 22 to 22 + 5 - 1.534 - 1.328 = 24.138 mm. On marks of 0.1 mm it ends at 24.1, with 23.0 in the
    middle.
    """
    table = {"thread": "M30x3.5-6g", "blank": "29.85 mm", "tool_flat": "0.30 mm", "relief": "5 mm", "length": "22 mm"}
    its = lathe(dial={"carriage": {"per_turn": "20 mm", "graduation": "0.1 mm", "reads": "travel"}})
    words = stop_place_words(job_of(its, **table), its)
    assert {"22", "24.138"} <= figures(words)
    assert {"1", "3.0", "4.1"} <= figures(words)
    assert stop_place_words(job_of(thread="M10"), its) == ""


@pytest.mark.parametrize("coast_turns", [None, 1.5])
def test_a_relief_of_the_suggested_width_leaves_exactly_the_reaction_time(coast_turns: float | None) -> None:
    """The time is exactly the reaction time, even if the half nuts stay closed."""
    spindle = {"speeds": ["70 rpm"], "reaction_time": "1.2 s"} | ({"coast_turns": coast_turns} if coast_turns else {})
    its = lathe(spindle=spindle, thread_dial=None, leadscrew={"pitch": "8 tpi"}, change_gears=None)
    wanted_mm = relief_wanted_mm(job_of(its, thread="M20x2"), its)
    assert wanted_mm is not None
    stop = stopping(job_of(its, thread="M20x2", relief=f"{wanted_mm:.9f} mm"), its)
    assert stop is not None and stop.time_s == pytest.approx(1.2, abs=1e-6)


@pytest.mark.parametrize(("length", "support"), [("65 mm", "light"), ("85 mm", "centre"), ("210 mm", "follow rest")])
def test_slender_work_gets_a_caution_that_names_its_support(length: str, support: str) -> None:
    """20 mm thick: light passes beyond 3 diameters, a centre beyond 4, a follow rest beyond 10 (common practice)."""
    stout = plan_of(thread="M20x2", length="55 mm").cautions
    (slender,) = set(plan_of(thread="M20x2", length=length).cautions) - set(stout)
    assert support in slender


def test_a_thread_with_too_little_time_to_stop_gets_the_advice_to_turn_the_spindle_by_hand() -> None:
    """A 5 mm relief at a lead of 3.5 mm and 70 rpm leaves 0.85 s, and no speed of the lathe leaves 1 s."""
    table = {"thread": "M30x3.5-6g", "blank": "29.85 mm", "tool_flat": "0.30 mm", "relief": "5 mm"}
    dry = next(step for step in plan_of(**table).steps if step.text.startswith("Dry run"))
    assert any("by hand" in caution for caution in dry.cautions)
