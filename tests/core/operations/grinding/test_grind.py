"""Whole runs of grinding a cutter, what is refused, and how the finished cutter reaches a pattern.

Expected angles are worked out by hand from tangents; the steps are common practice, no source.
"""

from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from core.inputs import GaugeTried, Moved
from core.lathe.lathe import Cutter
from core.lathe.reader import lathe_from, read_lathe
from core.operations.grinding.operation import grind_questions, unused_words, with_cutter
from core.operations.registry import PlanInput, operation_of, parameters_of, read_operation
from core.plan import Plan
from core.values.errors import FileError, PlanError, QuantityError
from core.values.fields import Table
from tests.core.operations.axes.test_axes import Walked
from tests.core.planned import make_plan

SAMPLES = Path(__file__).parents[4] / "sample_jobs"
METRIC, INCH = read_lathe(SAMPLES / "metric_lathe.toml"), read_lathe(SAMPLES / "inch_lathe.toml")
IN_HEAD: dict[str, Any] = {"tip_angle": "90 deg", "depth": "0.8 mm", "shank": "6 mm", "circle_radius": "6 mm"}
ON_AXIS: dict[str, Any] = {"tip_angle": "60 deg", "depth": "1 mm", "shank": "4 mm", "held_in": "spindle"}


def plan(keys: dict[str, Any], **more: Any) -> Plan:
    """Return the plan of a `grind` operation."""
    return make_plan(PlanInput("grind", {"kind": "grind", "name": "it", **keys, **more}, METRIC))


def refused(keys: dict[str, Any], **more: Any) -> list[str]:
    """Return the problems of an operation's table, each with its key."""
    table = Table({"kind": "grind", "name": "it", **keys, **more}, "", [])
    read_operation(table, METRIC)
    return [f"{problem.key}: {problem.message}" for problem in table.problems]


# Figures.


def test_block_and_rest_settings_match_values_worked_by_hand() -> None:
    """tan 45 x cos 15 = 0.9659, which is 44.007 deg: mark 44. Back: tan 44 / cos 15 = 0.99976, half of 89.986 deg.

    The groove: 0.2 + 2 x 0.8 x 0.99976 = 1.7996 mm.
    """
    figures = plan(IN_HEAD, relief="15 deg", tip_flat="0.2 mm").figures
    assert (figures["roll_deg"], figures["rest_deg"], figures["across_flat_mm"]) == (15, 44, 3)
    assert figures["comes_out_deg"] == pytest.approx(89.99, abs=0.005)
    assert figures["groove_width_mm"] == pytest.approx(1.7996, abs=5e-5)


def test_a_finer_protractor_scale_gives_a_point_angle_nearer_to_the_wanted_angle() -> None:
    """tan 30 x cos 25 = 0.52326 is 27.62 deg: 28 on a scale of degrees, 27.6 on one of tenths."""
    coarse, fine = plan(ON_AXIS).figures, plan(ON_AXIS, scale_graduation="0.1 deg").figures
    assert (coarse["rest_deg"], fine["rest_deg"]) == (28, 27.6)
    assert abs(fine["comes_out_deg"] - 60) < 0.1 < abs(coarse["comes_out_deg"] - 60)


def test_the_lathe_files_protractor_scale_applies_unless_the_job_gives_a_scale() -> None:
    """A protractor of half a degree sets 27.5 for 27.62 deg. The job's scale of 1 deg comes first: 28."""
    table = {"kind": "grind", "name": "it", **ON_AXIS}
    lathe = lathe_from({"format": 1, "name": "Bench", "stock": {"protractor": "0.5 deg"}}, "bench.toml")
    assert make_plan(PlanInput("grind", table, lathe)).figures["rest_deg"] == 27.5
    own = {**table, "scale_graduation": "1 deg"}
    assert make_plan(PlanInput("grind", own, lathe)).figures["rest_deg"] == 28


def test_a_protractor_scale_too_coarse_for_the_wanted_angle_gets_a_caution() -> None:
    """On a scale of 5 deg the rest is at 30 for a rest angle of 27.62 deg: 65 deg comes out in place of 60."""
    assert any("not 60°" in caution for caution in plan(ON_AXIS, scale_graduation="5 deg").cautions)
    assert not plan(ON_AXIS).cautions


def test_the_groove_of_a_round_nose_is_as_wide_as_the_chord_of_the_nose() -> None:
    """By hand: a nose of 1 mm cuts 0.2 mm deep with a chord of 2 sqrt(2 x 1 x 0.2 - 0.2^2) = 1.2 mm."""
    figures = plan({**IN_HEAD, "depth": "0.2 mm"}, tip_radius="1 mm", relief="20 deg").figures
    assert figures["groove_width_mm"] == pytest.approx(1.2)


def test_the_suggested_relief_is_larger_for_a_small_circle() -> None:
    """The usual 12 deg are enough on a circle of 40 mm, not on one of 1 mm."""
    assert plan(IN_HEAD, circle_radius="40 mm").figures["roll_deg"] == 12
    small = plan(IN_HEAD, circle_radius="1 mm").figures
    assert small["roll_deg"] >= small["least_relief_deg"] + 2.5


@pytest.mark.parametrize(
    ("keys", "more", "key"),
    [
        (IN_HEAD, {"relief": "10 deg"},
         "relief: With a relief of 10° the heel rubs in a circle of radius 6 mm. Enter a relief of at least 14"),
        (IN_HEAD, {"depth": "4 mm"}, "depth: The groove is"),
        (IN_HEAD, {"tip_flat": "0.1 mm", "tip_radius": "0.1 mm"}, "tip_radius: Both"),
        (IN_HEAD, {"across_flat": ["7 mm"]}, "across_flat: A reading must be between 0 and the shank's 6 mm"),
        (IN_HEAD, {"held_in": "spindle"}, "circle_radius: This key does not exist"),
        (ON_AXIS, {"tip_angle": "8 deg", "relief": "10 deg"}, "relief: The rest's scale has no mark"),
        (ON_AXIS, {"relief": "5 deg"}, 'relief: "5 deg" is too small'),
        ({**ON_AXIS, "held_in": "boring head"}, {}, "circle_radius: This value is missing"),
        (IN_HEAD, {"made_of": "glass"}, "made_of:"),
    ],
)  # fmt: skip
def test_the_refusal_of_an_impossible_cutter_names_the_wrong_key(
    keys: dict[str, Any], more: dict[str, Any], key: str
) -> None:
    """Each sentence names the key and what to enter."""
    problems = refused(keys, **more)
    assert len(problems) == 1 and problems[0].startswith(key)


def test_an_inch_lathe_shows_the_size_across_the_flat_in_inches() -> None:
    """Half of a shank of 1/4 in is 0.1250 in."""
    keys = {**IN_HEAD, "shank": "1/4 in"}
    texts = [step.text for step in make_plan(PlanInput("grind", {"kind": "grind", "name": "it", **keys}, INCH)).steps]
    assert any("reads 0.1250 in across flat and back" in text for text in texts)


# Runs.


def test_a_flat_still_above_the_axis_is_ground_and_measured_again() -> None:
    """Every reading above the axis adds a further touch; a reading near enough leads to the first flank."""
    run = Walked(METRIC, "grind", **ON_AXIS)
    run.to_question()
    run.answer("2.2 mm")
    assert run.cursor.title == "Finish the flat" and "0.2 mm to go" in run.cursor.text
    run.to_question()
    run.answer("2.05 mm")
    assert run.cursor.title == "Finish the flat, 2" and "0.05 mm to go" in run.cursor.text
    run.to_question()
    run.answer("2.01 mm")
    assert run.cursor.title == "Set the first flank" and "0.01 mm above" in run.cursor.findings[0]


def test_a_flat_slightly_past_the_axis_is_ground_again_only_if_the_spindle_holds_the_cutter() -> None:
    """In the boring head the shank is turned until the flat points at the spindle's axis."""
    spindle, head = Walked(METRIC, "grind", **ON_AXIS), Walked(METRIC, "grind", **IN_HEAD)
    for run, half in ((spindle, 2.0), (head, 3.0)):
        run.to_question()
        run.answer(f"{half - 0.15} mm")
        assert "0.15 mm past the shank's axis" in run.cursor.findings[0]
    assert spindle.cursor.title == "Grind a new flat" and head.cursor.title == "Set the first flank"
    spindle.to_question()
    spindle.answer("2 mm")
    assert spindle.cursor.title == "Set the first flank"


@pytest.mark.parametrize(("reading", "title"), [("1.5 mm", "Set the first flank"), ("1.4 mm", "Grind a new flat")])
def test_a_flat_far_past_the_axis_is_ground_again_even_if_the_boring_head_holds_the_cutter(
    reading: str, title: str
) -> None:
    """A flat may be a quarter of the shank past the axis (our own choice): 1.5 mm of 6 mm are left at least."""
    run = Walked(METRIC, "grind", **IN_HEAD)
    run.to_question()
    run.answer(reading)
    assert run.cursor.title == title


def test_the_refusal_of_a_size_at_the_wrong_step_says_when_the_flat_is_measured() -> None:
    """Before the reading the refusal names its step. At the flanks it says how to correct the size."""
    counted, entered_in_job = (
        Walked(METRIC, "grind", **IN_HEAD),
        Walked(METRIC, "grind", **IN_HEAD, across_flat=["3 mm"]),
    )
    with pytest.raises(PlanError, match='Enter the size at the step "Measure the flat"'):
        grind_questions(counted.job, METRIC, counted.state)
    counted.answer("3 mm")
    for run, correct in ((counted, "press - until"), (entered_in_job, "change the operation")):
        while run.cursor.title != "Set the first flank":
            run.done()
        with pytest.raises(PlanError, match=f"already measured.*{correct}"):
            grind_questions(run.job, METRIC, run.state)


def test_a_mistyped_reading_of_the_flat_can_be_undone() -> None:
    """0.32 mm typed for 3.02 mm asks for a new flat. Its sentence says to undo it, and undo asks for the reading."""
    run = Walked(METRIC, "grind", **IN_HEAD)
    run.to_question()
    run.answer("0.32 mm")
    assert run.cursor.title == "Grind a new flat" and "If the reading was mistyped, undo it." in run.cursor.findings[0]
    run.undo()
    run.answer("3.02 mm")
    assert run.cursor.title == "Set the first flank"


def test_a_moved_block_is_set_again_before_its_flank_is_ground() -> None:
    """After the flat, a move goes back to the step that sets roll and rest."""
    run = Walked(METRIC, "grind", **IN_HEAD, across_flat=["3 mm"])
    while run.cursor.title != "Grind the second flank":
        run.done()
    run.tell(Moved())
    assert run.titles[:2] == ["Set the second flank", "Grind the second flank"]
    while run.cursor.title != "Check the point":
        run.done()
    run.tell(Moved())
    assert run.cursor.title == "Check the point"


def test_a_reading_larger_than_the_shank_is_refused() -> None:
    """The run stays at its step. The refusal says what to enter, and names no key of a job file."""
    run = Walked(METRIC, "grind", **IN_HEAD)
    run.to_question()
    with pytest.raises((FileError, QuantityError), match=r"^A reading must be between 0 and the shank's 6 mm\."):
        run.answer("60 mm")
    assert run.cursor.title == "Measure the flat"


def test_a_gauge_trial_is_refused_while_grinding() -> None:
    """A ground point has no fit."""
    run = Walked(METRIC, "grind", **IN_HEAD)
    with pytest.raises(PlanError, match="cannot use a trial of the fit"):
        run.tell(GaugeTried(fit="tight"))


@pytest.mark.parametrize("readings", [{}, {"across_flat": ["3 mm"]}])
def test_every_setting_at_the_wheel_starts_with_the_wheel_switched_off(readings: dict[str, Any]) -> None:
    """Hands come near the wheel at both flanks and at a flat tip. The caution is shown with or without readings."""
    steps = plan(IN_HEAD, tip_flat="0.2 mm", **readings).steps
    near = [
        step for step in steps if step.title in {"Set the first flank", "Set the second flank", "Grind the tip flat"}
    ]
    assert len(near) == 3
    assert all(step.text.startswith("Switch the grinder off. Let its wheel stop.") for step in near)
    assert sum("wheel stop before you set" in caution for step in steps for caution in step.cautions) == 1


def test_carbide_and_old_drills_as_cutter_material_get_precautions_of_their_own() -> None:
    """Carbide: a mask, and no water when hot. An old drill: a file test first. Steel: sparks."""

    def said(**keys: Any) -> str:
        return " ".join(caution for step in plan(IN_HEAD, **keys).steps for caution in step.cautions)

    assert "mask" in said(made_of="carbide") and "Sparks" not in said(made_of="carbide")
    assert "never in the fingers" in said() and "sparks" in said() and "mask" not in said()
    assert plan(IN_HEAD, made_of="old drill").steps[0].title == "Test the shank with a file"


@pytest.mark.parametrize(
    ("made_of", "words"),
    [("carbide", ("mask", "Never dip hot carbide")), ("high-speed steel", ("sparks", "let steel cool"))],
)
@pytest.mark.parametrize("readings", [{}, {"across_flat": ["3.5 mm"]}, {"across_flat": ["3 mm"]}])
def test_the_cautions_about_the_tool_blank_appear_whether_or_not_the_flat_is_ground(
    made_of: str, words: tuple[str, ...], readings: dict[str, Any]
) -> None:
    """Both cautions come at a step that grinds, also when the job's readings end the flat."""
    steps = plan(IN_HEAD, made_of=made_of, **readings).steps
    shown = [caution for step in steps for caution in step.cautions]
    assert all(sum(word in caution for caution in shown) == 1 for word in words)
    first = next(step for step in steps if step.title.split()[0] in {"Rough", "Finish", "Grind"})
    assert words[0] in first.cautions[0]


# The finished cutter.


def test_a_ground_cutter_is_passed_to_a_pattern_only_after_its_point_is_checked() -> None:
    """A pattern with one cutter gets the angle that came out, and can still be read."""
    run = Walked(METRIC, "grind", **IN_HEAD, tip_flat="0.2 mm", relief="15 deg")
    hands_over = operation_of("grind").hands_over
    assert hands_over is not None
    while run.cursor.title != "Put the cutter in the head":
        assert hands_over(run.job, METRIC, run.state) is None
        if run.cursor.expects:
            run.answer("3 mm")
        else:
            run.done()
    handed = hands_over(run.job, METRIC, run.state)
    assert handed is not None and handed.kind == "pattern"
    layer = {"shape": "circles", "count": 6, "offset": "20 mm", "circle_radius": "6 mm", "depth": "0.6 mm"}
    pattern = {
        "kind": "pattern",
        "name": "Border",
        "blank_diameter": "80 mm",
        "cutter": [{"name": "fine", "tip_angle": "60 deg"}],
        "layer": [{**layer, "cutter": "fine"}],
    }
    cutter = parameters_of(PlanInput("pattern", handed.table_with(pattern), METRIC)).layers[0].cutter
    assert (cutter.name, cutter.tip_angle_deg, cutter.tip_flat_mm) == ("fine", 89.99, 0.2)


def test_a_ground_cutter_replaces_the_cutter_of_the_same_name_or_is_added_to_the_pattern() -> None:
    """One of the same name is replaced; otherwise the list grows."""
    two = {"cutter": [{"name": "wide", "tip_angle": "120 deg"}, {"name": "fine", "tip_angle": "60 deg"}]}
    assert [one["name"] for one in with_cutter(two, Cutter("new", 90))["cutter"]] == ["wide", "fine", "new"]
    assert with_cutter(two, Cutter("fine", 61))["cutter"][1] == {"name": "fine", "tip_angle": "61 deg"}
    assert with_cutter({}, Cutter("new", 90)) == {"cutter": [{"name": "new", "tip_angle": "90 deg"}]}
    assert two["cutter"][1]["tip_angle"] == "60 deg"


@pytest.mark.parametrize(
    ("layers", "own", "cuts", "to_do"),
    [
        ([None, None], [], ["new", "new"], ""),
        (["blunt", "blunt"], [], ["blunt", "blunt"], ""),
        (["blunt", "fine"], [], ["blunt", "fine"], "Choose this cutter in each layer that it cuts."),
        (["blunt", "new"], [], ["blunt", "new"], ""),
        (["wide", "fine"], ["wide", "fine"], ["wide", "fine"], "Choose this cutter in each layer that it cuts."),
    ],
)
def test_a_ground_cutter_must_be_chosen_in_the_layers_if_a_pattern_uses_several_other_cutters(
    layers: list[str | None], own: list[str], cuts: list[str], to_do: str
) -> None:
    """The lathe file has the cutters "blunt" and "fine" of 60 deg; the ground cutter has 90 deg."""
    lathe = replace(METRIC, cutters=(Cutter("blunt", 60), Cutter("fine", 60), Cutter("new", 60)))
    ring = {"shape": "circles", "count": 6, "offset": "20 mm", "circle_radius": "6 mm", "depth": "0.6 mm"}
    pattern: dict[str, Any] = {
        "kind": "pattern",
        "name": "Border",
        "blank_diameter": "80 mm",
        "layer": [{**ring, "cutter": name} if name else ring for name in layers],
    }
    if own:
        pattern["cutter"] = [{"name": name, "tip_angle": "60 deg"} for name in own]
    table = with_cutter(pattern, Cutter("new", 90))
    found = [layer.cutter for layer in parameters_of(PlanInput("pattern", table, lathe)).layers]
    assert [cutter.name for cutter in found] == cuts
    assert any(cutter.tip_angle_deg == 90 for cutter in found) == (not to_do)
    assert unused_words(table, "new") == to_do


@pytest.mark.parametrize("tip", [{}, {"tip_flat": "0.2 mm"}, {"tip_radius": "0.2 mm"}])
def test_the_drawn_point_never_widens_towards_its_tip(tip: dict[str, str]) -> None:
    """A flat tip ends at its corner. The unit is half the width of the groove."""
    job = parameters_of(PlanInput("grind", {"kind": "grind", "name": "it", **IN_HEAD, **tip}, METRIC))
    drawing = dict(operation_of("grind").overview(job, METRIC))["Point and groove"]
    profile = next(stroke.points for stroke in drawing.strokes if stroke.look == "wanted")
    half = profile[: len(profile) // 2]
    assert all(lower[0] < upper[0] and lower[1] < upper[1] for upper, lower in pairwise(half))
    assert half[-1][0] == pytest.approx(0.2 / job.groove_width_mm if "tip_flat" in tip else 0)


@pytest.mark.parametrize(
    "keys",
    [IN_HEAD, ON_AXIS, {**IN_HEAD, "tip_radius": "0.2 mm", "blank": "square"}, {**ON_AXIS, "tip_angle": "20 deg"}],
)
def test_every_grinding_drawing_stays_inside_its_stated_bounds(keys: dict[str, Any]) -> None:
    """Names too, so that no part of a drawing is cut off."""
    operation = operation_of("grind")
    job = parameters_of(PlanInput("grind", {"kind": "grind", "name": "it", **keys}, METRIC))
    for _, drawing in operation.overview(job, METRIC):
        left, right, low, high = drawing.bounds
        places = [place for stroke in drawing.strokes for place in stroke.points] + [name.at for name in drawing.names]
        assert all(left <= x <= right and low <= y <= high for x, y in places)
