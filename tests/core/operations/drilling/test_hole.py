"""Drill points, room below a thread, tapping drills and speeds, against handbooks and calculations by hand."""

from dataclasses import replace
from math import pi, sqrt

import pytest

from core.lathe.lathe import Lathe, Spindle
from core.operations.drilling.hole import point_length_mm, room_below_thread_mm
from core.operations.registry import parameters_of, read_operation
from core.operations.threads.drills import read_drill
from core.values.errors import FileError, QuantityError
from core.values.fields import Problem, Table
from tests.core.operations.drilling.holes_made import blind, drill_input, drill_lathe, drill_plan
from tests.published import printed_rows


@pytest.mark.parametrize(
    ("diameter_mm", "angle_deg", "length_mm"),
    [(10.0, 90.0, 5.0), (10.0, 60.0, 5 * sqrt(3)), (10.0, 120.0, 5 / sqrt(3))],
)
def test_the_length_of_a_drill_point_equals_the_height_of_a_cone(
    diameter_mm: float, angle_deg: float, length_mm: float
) -> None:
    """By hand: tan 45° is 1, tan 30° is 1 / sqrt 3, and tan 60° is sqrt 3."""
    assert point_length_mm(diameter_mm, angle_deg) == pytest.approx(length_mm)


@pytest.mark.parametrize(("angle_deg", "factor"), [(118.0, 0.300), (135.0, 0.207)])
def test_the_length_of_a_drill_point_matches_the_handbook_factor(angle_deg: float, factor: float) -> None:
    """Handbooks give a length of 0.300 diameters for 118° and 0.207 diameters for 135° (from memory)."""
    assert point_length_mm(1.0, angle_deg) == pytest.approx(factor, abs=6e-4)


def test_a_hole_depth_measured_to_the_point_includes_the_length_of_the_drill_point() -> None:
    """By hand: 20 mm to the point of a 10 mm drill of 90° leaves 15 mm of full diameter."""
    figures = drill_plan(drill="10 mm", point_angle="90 deg", depth="20 mm", depth_to="point").figures
    assert (figures["tip_mm"], figures["full_diameter_mm"]) == pytest.approx((20.0, 15.0))


@pytest.mark.parametrize(("tap", "pitches"), [("taper", 9), ("second", 5), ("bottoming", 3)])
def test_a_blind_hole_is_deeper_than_its_thread_by_the_taps_lead_and_room_for_chips(tap: str, pitches: int) -> None:
    """The taps have leads of 8, 4 and 2 pitches, plus one pitch for chips (common practice, no source).

    The pitch of M8 is 1.25 mm.
    """
    figures = drill_plan(thread="M8", thread_depth="16 mm", tap=tap).figures
    assert figures["full_diameter_mm"] == pytest.approx(16 + pitches * 1.25)
    assert room_below_thread_mm(1.25, tap) == pytest.approx(pitches * 1.25)  # type: ignore[arg-type]


def test_the_depth_of_full_thread_is_calculated_from_an_entered_hole_depth() -> None:
    """A hole 20 mm deep for M6 with a second tap leaves 20 mm less 5 pitches of 1 mm."""
    figures = drill_plan(thread="M6", depth="20 mm", depth_to="full diameter").figures
    assert figures["thread_depth_mm"] == pytest.approx(15.0)


TAPPED = [row for row in printed_rows("drills") if row.quantity == "tapping drill"]


@pytest.mark.parametrize("row", TAPPED, ids=[row.inputs["thread"] for row in TAPPED])
def test_the_chosen_tapping_drill_matches_published_charts(row: object) -> None:
    """The sources are ISO 2306 and handbook charts. Each row says if its value is from memory."""
    figures = drill_plan(thread=row.inputs["thread"], through="20 mm").figures  # type: ignore[attr-defined]
    assert figures["tapping_drill"] == row.printed  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("thread", "drill", "percent"),
    [("M6", "5 mm", 77), ("1/4-20 UNC", "#7", 75), ("1/4-20 UNC", "#3", None), ("M8", "7 mm", None)],
)
def test_the_percentage_of_full_thread_follows_the_handbook_formula(
    thread: str, drill: str, percent: int | None
) -> None:
    """The formula is 100 (D - hole) / (1.299 P).

    Worked examples: M6 with 5 mm gives 77 %, 1/4-20 with #7 gives 75 %.
    """
    major_mm, pitch_mm = {"M6": (6.0, 1.0), "M8": (8.0, 1.25), "1/4-20 UNC": (6.35, 1.27)}[thread]
    hole_mm = {"5 mm": 5.0, "7 mm": 7.0, "#7": 0.2010 * 25.4, "#3": 0.2130 * 25.4}[drill]
    figures = drill_plan(thread=thread, tapping_drill=drill, through="20 mm").figures
    assert figures["tapping_percent"] == pytest.approx(100 * (major_mm - hole_mm) / (1.299 * pitch_mm), rel=1e-3)
    assert percent is None or round(figures["tapping_percent"]) == percent


@pytest.mark.parametrize(("drill", "is_said"), [("6.6 mm", True), ("6.8 mm", False), ("6.9 mm", False), ("7 mm", True)])
def test_a_tapping_drill_outside_the_limits_of_the_minor_diameter_gets_a_caution(drill: str, is_said: bool) -> None:
    """The limits of M8-6H in ISO 965-2 are 6.647 mm and 6.912 mm (from memory)."""
    cautions = drill_plan(thread="M8", tapping_drill=drill, through="20 mm").cautions
    assert any(caution.startswith(f"The {drill} drill is ") for caution in cautions) == is_said


@pytest.mark.parametrize(("name", "inches"), [("#7", 0.2010), ("F", 0.2570), ("#53", 0.0595), ("#1", 0.2280)])
def test_a_drill_name_gives_its_published_diameter(name: str, inches: float) -> None:
    """The published diameters are in inches."""
    assert read_drill(name).mm == read_drill(name.lower()).mm == pytest.approx(inches * 25.4)


def test_a_drill_size_in_fractions_of_an_inch_is_shown_with_its_unit() -> None:
    """The largest stock drill 0.2 mm below 1/2 in is 31/64 in. The log keeps its name without a unit."""
    plan = drill_plan(ream="1/2 in", through="1 in")
    peck = next(step for step in plan.steps if step.action == "cut")
    assert peck.title == "31/64 in drill" and peck.extra["tool"] == "31/64 drill"
    assert not [step.text for step in plan.steps if "31/64 drill" in step.text]


@pytest.mark.parametrize("text", ["#81", "#0", "FF", "7", "", "0 mm", 7, None, ["#7"], "1e400 mm", "[red]#7"])
def test_an_unknown_drill_name_is_refused(text: object) -> None:
    """Each refusal says what to enter."""
    with pytest.raises(QuantityError, match=r"Enter .+\.$"):
        read_drill(text)


@pytest.mark.parametrize(("drill", "speed", "rpm"), [("12 mm", "10 m/min", 240), ("14 mm", "3 m/min", 60)])
def test_the_suggested_spindle_speed_is_the_lathes_next_speed_below_the_calculated_speed(
    drill: str, speed: str, rpm: float
) -> None:
    """By hand: 10 m/min at 12 mm is 265 rpm, and 3 m/min at 14 mm is 68 rpm."""
    plan = drill_plan(**blind("10 mm", drill=drill, cutting_speed=speed))
    assert plan.figures["speed_rpm"] == rpm


def test_a_reamer_turns_half_as_fast_as_a_drill() -> None:
    """Common practice, no source: 20 m/min at 12 mm is 531 rpm.

    Half of this is 265 rpm, and the lathe's speed below is 240 rpm.
    """
    assert 1000 * 20 / (pi * 12) == pytest.approx(530.5, abs=0.1)
    plan = drill_plan(ream="12 mm", through="10 mm", cutting_speed="20 m/min")
    assert any("reamer" in step.text and "240 rpm" in step.text for step in plan.steps)


def test_no_speed_is_suggested_without_a_cutting_speed() -> None:
    """The program does not guess a cutting speed from drill or material."""
    plan = drill_plan(**blind("10 mm"))
    assert "speed_rpm" not in plan.figures and not any("rpm" in step.text for step in plan.steps)


def test_a_calculated_spindle_speed_below_the_lathes_slowest_speed_gets_a_caution() -> None:
    """1 m/min at 12 mm is 27 rpm, but the slowest speed is 60 rpm."""
    plan = drill_plan(**blind("10 mm", cutting_speed="1 m/min"))
    assert "speed_rpm" not in plan.figures and any("27 rpm" in caution for caution in plan.cautions)


@pytest.mark.parametrize(
    ("spindle", "words"),
    [
        (Spindle(most_rpm=500.0), "12 mm drill: at most 500 rpm, the chuck's limit."),
        (Spindle(speeds_rpm=(60.0,), most_rpm=50.0), "60 rpm, is above the 50 rpm that the chuck allows"),
        (Spindle(most_rpm=2000.0), "12 mm drill: at most 1326 rpm. The lathe file"),
    ],
)
def test_no_caution_suggests_a_spindle_speed_above_the_chucks_limit(spindle: Spindle, words: str) -> None:
    """By hand: 50 m/min at 12 mm is 1326 rpm. The chuck's limit applies if it is lower, and is named."""
    plan = drill_plan(replace(drill_lathe(), spindle=spindle), **blind("10 mm", cutting_speed="50 m/min"))
    (caution,) = [caution for caution in plan.cautions if "rpm" in caution]
    assert words in caution


@pytest.mark.parametrize(
    ("ream", "drill_mm"), [("6 H7", 5.9), ("12 mm", 11.8), ("20 H7", 19.5), ("1/2 in", 0.484375 * 25.4)]
)
def test_the_drill_before_a_reamer_leaves_the_usual_allowance(ream: str, drill_mm: float) -> None:
    """It leaves at least 0.1 mm up to 6 mm, 0.2 mm up to 13 mm and 0.3 mm up to 25 mm (common practice, no source)."""
    assert drill_plan(ream=ream, through="10 mm").figures["drill_mm"] == pytest.approx(drill_mm)


@pytest.mark.parametrize(("ream_depth", "is_short"), [("30 mm", True), ("32.9 mm", True), ("33 mm", False)])
def test_a_reamer_that_does_not_pass_the_far_face_by_its_lead_gets_a_caution(ream_depth: str, is_short: bool) -> None:
    """The lead is at most a quarter of the diameter (common practice, no source): 3 mm past 30 mm for 12 mm."""
    cautions = drill_plan(ream="12 mm", through="30 mm", ream_depth=ream_depth).cautions
    assert any("at least 33 mm" in caution for caution in cautions) == is_short


@pytest.mark.parametrize("key", ["tap", "start_with", "depth_to", "dial"])
def test_an_unknown_word_for_a_drilling_key_is_refused_once_at_that_key(key: str) -> None:
    """Each key takes one of a few words. Any other word gets one sentence."""
    problems: list[Problem] = []
    keys = {"kind": "drill", "name": "Hole", "thread": "M8", "depth": "20 mm", "depth_to": "point", key: "foo"}
    read_operation(Table(keys, "", problems), drill_lathe())
    assert [problem.key for problem in problems] == [key]


@pytest.mark.parametrize(
    ("drill", "pilot"), [("19 mm", "6.3 mm"), ("3/4 in", "1/4 in"), ("49/64 in", "1/4 in"), ("14.5 mm", "4.8 mm")]
)
def test_the_suggested_pilot_drill_is_a_stock_size(drill: str, pilot: str) -> None:
    """A third of 19 mm is 6.333 mm, and stock drills up to 13.9 mm come in tenths (ISO 235, from memory)."""
    keys = blind("30 mm", drill=drill)
    (caution,) = [caution for caution in drill_plan(**keys).cautions if "pilot" in caution]
    assert caution.endswith(f"Enter a pilot such as {pilot}.")
    assert not [words for words in drill_plan(**keys, pilots=[pilot]).cautions if "pilot" in words]


def test_a_refusal_for_a_missing_tailstock_dial_says_how_to_add_the_dial() -> None:
    """The key is dial.tailstock, and the lathe's set-up screen asks for this dial."""
    with pytest.raises(FileError, match=r"\[dial\.tailstock\].*set-up"):
        parameters_of(drill_input(Lathe(name="Bare"), **blind("10 mm")))
