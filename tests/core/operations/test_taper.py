"""Turning a taper: angles and sizes, passes, corrections of a wrong angle, and refusals.

Angles and sizes are compared with ISO 296 (large diameters and tapers as printed there, from memory), with numpy, and
with a cone that the test computes itself.
"""

import math
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.inputs import DiametersMeasured, Edited, GaugeTried, Measured, Moved, input_as_data, input_from_data
from core.lathe.lathe import Lathe
from core.lathe.reader import example_lathe, lathe_from, read_lathe
from core.operations.registry import PlanInput, operation_of, parameters_of, replan
from core.plan import Plan, Step
from core.questions import PlacesAsked, SizeAsked
from core.safety import STOP_FIRST
from core.values.errors import FileError, PlanError, QuantityError
from tests.core.counted import Counted
from tests.core.figures import figures
from tests.core.planned import make_plan

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
METRIC, INCH = read_lathe(SAMPLES / "metric_lathe.toml"), read_lathe(SAMPLES / "inch_lathe.toml")
ARBOR = {"taper": "1:20", "large": "18 mm", "length": "60 mm", "cut": "0.5 mm", "finish": "0.1 mm"}


def plan_input(lathe: Lathe = METRIC, **keys: str | None) -> PlanInput:
    """Return the plan input of the sample arbor's taper with some keys changed; None removes a key."""
    table = {"kind": "taper", "name": "it", **ARBOR, **keys}
    return PlanInput("taper", {key: value for key, value in table.items() if value is not None}, lathe)


def plan(lathe: Lathe = METRIC, **keys: str | None) -> Plan:
    """Return the plan of the sample arbor's taper with some keys changed."""
    return make_plan(plan_input(lathe, **keys))


def cuts(steps: Any) -> list[Step]:
    """Return the steps that cut."""
    return [step for step in steps if step.action == "cut"]


def open_steps(run: Counted) -> tuple[Step, ...]:
    """Return the remaining steps of a run."""
    return tuple(run.state.open_steps())


# Figures.


@pytest.mark.parametrize(
    ("name", "large_mm", "half_angle_deg"),
    [
        # ISO 296, Morse 0 to 6: large diameter D and taper as printed, from memory; half angles as handbooks list them.
        ("MT 0", 9.045, 1.4908),
        ("MT 1", 12.065, 1.4287),
        ("MT 2", 17.780, 1.4307),
        ("MT 3", 23.825, 1.4377),
        ("MT 4", 31.267, 1.4876),
        ("MT 5", 44.399, 1.5073),
        ("MT 6", 63.348, 1.4933),
        # Metric tapers are 1:20, half of atan(1/40) worked out: 1.4321 deg.
        ("metric 80", 80.0, 1.4321),
    ],
)
def test_standard_tapers_have_the_published_sizes(name: str, large_mm: float, half_angle_deg: float) -> None:
    """Each value is within half of its last printed digit."""
    found = plan(taper=name, large=None).figures
    assert found["half_angle_deg"] == pytest.approx(half_angle_deg, abs=5e-5)
    assert found["large_mm"] == pytest.approx(large_mm, abs=5e-7)


@pytest.mark.parametrize(
    ("keys", "half_angle_deg"),
    [
        ({"taper": "1:20"}, np.degrees(np.arctan(1 / 40))),
        ({"taper": "7 deg", "of": "half"}, 7.0),
        ({"taper": "14 deg", "of": "included"}, 7.0),
        ({"taper": "0.625 in per ft"}, np.degrees(np.arctan(0.625 / 24))),
        ({"taper": "5 mm per 100 mm"}, np.degrees(np.arctan(0.025))),
        ({"taper": None, "small": "15 mm"}, np.degrees(np.arctan(1.5 / 60))),
    ],
)
def test_every_way_to_describe_a_taper_gives_the_same_half_angle(
    keys: dict[str, str | None], half_angle_deg: float
) -> None:
    """tan(half angle) is half the change in diameter over the length. The figures have 100 tan and 100 sin."""
    found = plan(**keys).figures
    half = np.radians(half_angle_deg)
    wanted = {
        "half_angle_deg": half_angle_deg,
        "included_deg": 2 * half_angle_deg,
        "small_mm": 18 - 2 * 60 * np.tan(half),
        "compound_travel_mm": 60 / np.cos(half),
        "indicator_per_100_carriage_mm": 100 * np.tan(half),
        "indicator_per_100_compound_mm": 100 * np.sin(half),
        "compound_scale_reads_deg": half_angle_deg,
        "nearest_mark_deg": round(half_angle_deg),
    }
    assert {key: found[key] for key in wanted} == pytest.approx(wanted, rel=1e-9)
    assert "tailstock_offset_mm" not in found


def test_the_plan_of_a_taper_states_the_set_over_of_the_tailstock() -> None:
    """1:20 over 140 mm between centres, worked by hand: 140 sin(1.4321 deg) = 3.499 mm."""
    its = plan(work_length="140 mm")
    assert its.figures["tailstock_offset_mm"] == pytest.approx(3.4989, abs=5e-5)
    assert any({"3.499"} <= figures(step.text) for step in its.steps)


def test_an_angle_past_the_end_of_the_compounds_scale_has_no_nearest_mark() -> None:
    """A scale with its zero square would read 88.57 but ends at 60 deg, so a caution names the indicator."""
    its = plan(INCH)
    assert its.figures["compound_scale_reads_deg"] == pytest.approx(90 - math.degrees(math.atan(1 / 40)))
    assert "nearest_mark_deg" not in its.figures
    assert "60°" in figures(its.cautions[0]) and "indicator" in its.cautions[0]
    steep = plan(INCH, taper="60 deg", of="half", length="5 mm").figures
    assert (steep["compound_scale_reads_deg"], steep["nearest_mark_deg"]) == pytest.approx((30, 30))
    bare = lathe_from({key: value for key, value in METRIC.data.items() if key != "compound"}, "bare")
    assert "compound_scale_reads_deg" not in plan(bare).figures


# Steps.


def test_a_taper_has_six_set_up_steps_before_its_first_pass() -> None:
    """Swing, indicator, travel, height, touch-off, lock. Over 50 mm the indicator moves 50 sin(1.4321) = 1.2496 mm."""
    steps = plan().steps
    assert [step.action for step in steps[:7]] == ["check"] * 4 + ["set"] * 2 + ["cut"]
    assert {"50.00", "1.25", "0.024"} <= figures(steps[1].text)
    # 60 / cos(1.4321 deg) = 60.0187 mm, up to the next of the compound's marks.
    assert {"60.02"} <= figures(steps[2].text)
    assert steps[4].zeroed_dials == ("cross_slide",)
    assert STOP_FIRST in next(step for step in steps if step.action == "measure").text
    blued = steps[-1]
    assert "self-holding" in blued.cautions[0]
    assert "self-holding" not in plan(taper="30 deg", of="half", length="10 mm").steps[-1].cautions[0]


def test_the_passes_of_a_taper_end_at_the_small_diameter_in_whole_marks() -> None:
    """From 18 to 15 mm a dial that reads diameter ends at 3.00. No pass is deeper than 0.5 mm."""
    passes = cuts(plan().steps)
    assert passes[-1].settings[0].position == pytest.approx(3.0)  # type: ignore[union-attr]
    assert all(0 < (step.removed_mm or 0) <= 0.5 for step in passes)
    assert all(round(step.settings[0].position / 0.05, 6) % 1 == 0 for step in passes)  # type: ignore[union-attr]
    last_two = [step.removed_mm for step in passes[-2:]]
    assert last_two == pytest.approx([0.1, 0.1])


@given(st.floats(8, 90), st.floats(0.02, 0.5), st.floats(5, 120), st.floats(0.05, 1.0), st.booleans())
def test_the_last_cut_of_a_taper_is_at_the_mark_nearest_to_the_small_diameter(
    large: float, slope: float, length: float, cut: float, inches: bool
) -> None:
    """Both measuring lines are on the taper at the first measurement."""
    lathe = INCH if inches else METRIC
    small = large - 2 * slope * length
    keys = {"taper": None, "large": f"{large:.3f} mm", "small": f"{small:.3f} mm", "length": f"{length:.3f} mm"}
    if small < 1 or cut < 0.0254:
        return
    its = plan_input(lathe, **keys, cut=f"{cut:.3f} mm", finish=None)
    steps = make_plan(its).steps
    passes = cuts(steps)
    mark_mm = 0.025 if not inches else 0.0254
    assert abs(sum(step.removed_mm or 0 for step in passes) - (large - small) / 2) <= mark_mm / 2 + 2e-3
    asked = operation_of("taper").questions(parameters_of(its), lathe, None)[0]  # type: ignore[arg-type]
    assert isinstance(asked, PlacesAsked)
    near, far = asked.at_mm
    first_measured = next(at for at, step in enumerate(steps) if step.action == "measure")
    reached_mm = sum(step.removed_mm or 0 for step in cuts(steps[:first_measured])) / slope
    assert 0 < near < far <= reached_mm + 1e-2


def test_the_predicted_error_of_a_tool_off_centre_height_matches_a_computed_cone() -> None:
    """0.5 mm off centre, by square roots at both ends: about 0.5^2 (1/7.5 - 1/9)."""
    taper = parameters_of(plan_input())
    x_mm = np.sqrt(9.0**2 - 0.25) - 1.5
    assert taper.error_off_centre_mm(0.5) == pytest.approx(2 * np.sqrt(x_mm**2 + 0.25) - 15.0)
    assert taper.error_off_centre_mm(0.5) == pytest.approx(0.25 * (1 / 7.5 - 1 / 9), rel=0.01)
    assert any("0.006" in figures(caution) for step in plan().steps for caution in step.cautions)


# A lathe whose compound is at a wrong angle.


class Bent:
    """A simulated lathe whose compound is at a wrong angle. The work is a list of radii along its length.

    The simulation uses nothing of the program's own calculation.
    """

    def __init__(self, half_deg: float) -> None:
        self.half_deg = half_deg
        self.z_mm = np.linspace(0, 60, 6001)
        self.radius_mm = np.full_like(self.z_mm, 9.0)
        self.zero_mm = 0.0

    def _way_mm(self) -> Any:
        return self.z_mm * math.tan(math.radians(self.half_deg))

    def touch_off(self, at_mm: float) -> None:
        """Touch the work with the tool at a distance from its free end [mm]."""
        radius_mm = float(np.interp(at_mm, self.z_mm, self.radius_mm))
        self.zero_mm = radius_mm - at_mm * math.tan(math.radians(self.half_deg))

    def cut(self, position: float) -> float:
        """Take a pass at a position of a dial that reads diameter. Return the deepest cut on the radius [mm]."""
        way_mm = self.zero_mm - position / 2 + self._way_mm()
        deepest_mm = float((self.radius_mm - way_mm).max())
        self.radius_mm = np.minimum(self.radius_mm, way_mm)
        return deepest_mm

    def diameter_mm(self, at_mm: float) -> float:
        """Return a micrometer's reading at a distance from the free end, to 0.01 mm."""
        return round(2 * float(np.interp(at_mm, self.z_mm, self.radius_mm)), 2)

    def correct(self, text: str) -> None:
        """Swing the compound by the angle in a step's text."""
        found = re.search(r"compound by (\d+)°(\d+)'(\d+)\"", text)
        assert found is not None
        degrees, minutes, seconds = map(int, found.groups())
        swing_deg = degrees + minutes / 60 + seconds / 3600
        self.half_deg += -swing_deg if "nearer" in text else swing_deg


@pytest.mark.parametrize("out_deg", [-0.12, -0.05, 0.0, 0.05, 0.12])
def test_a_simulated_turner_who_follows_the_steps_corrects_a_wrong_compound_angle(out_deg: float) -> None:
    """Angle and size are right in the end, and no cut is too deep."""
    wanted_deg = math.degrees(math.atan(1 / 40))
    lathe, run = Bent(wanted_deg + out_deg), Counted(METRIC, "taper", **ARBOR)
    near, far = 4.0, 48.0
    corrected = 0
    for _ in range(40):
        step = run.state.cursor
        if step is None:
            break
        if step.zeroed_dials:
            at = next((at for at in (near, far) if f"line {at:g} mm" in step.text), 0.0)
            lathe.touch_off(at)
        elif step.action == "cut":
            assert lathe.cut(step.settings[0].position) <= 0.5 + 0.03  # type: ignore[union-attr]
        elif step.text.startswith("Correct"):
            assert STOP_FIRST.lower() in step.text
            lathe.correct(step.text)
            corrected += 1
        elif step.action == "measure":
            run.revise("measured", at_mm=[near, far], diameters_mm=[lathe.diameter_mm(near), lathe.diameter_mm(far)])
            continue
        run.done()
    assert run.state.cursor is None and corrected == (out_deg != 0)
    slope = np.polyfit(lathe.z_mm[:5500], lathe.radius_mm[:5500], 1)[0]
    # Two diameters to 0.01 mm, 44 mm apart, give an angle to 0.01/44 = 47 seconds. The indicator gives it to a mark.
    assert math.degrees(math.atan(slope)) == pytest.approx(wanted_deg, abs=0.015)
    # A mark of the dial is 0.05 mm on the diameter.
    assert lathe.diameter_mm(far) == pytest.approx(17.4, abs=0.04)


def measured_after_roughing(near_mm: float, far_mm: float) -> tuple[Step, ...]:
    """Return the new steps after roughing, for diameters measured at the near and the far line [mm]."""
    run = Counted(METRIC, "taper", **ARBOR)
    while run.cursor.action != "measure":
        run.done()
    near, far = operation_of("taper").questions(run.job, METRIC, run.state)[0].at_mm  # type: ignore[union-attr]
    run.revise("measured", at_mm=[near, far], diameters_mm=[near_mm, far_mm])
    return open_steps(run)


def test_the_correction_of_a_taper_states_the_angle_and_two_indicator_movements() -> None:
    """44 mm apart, 2.3 for 2.2 mm: atan(1.15/44) = 1.4972 deg, 3'54" too much; 0.114 mm at 100, 0.057 over 50 mm."""
    first = measured_after_roughing(15.6, 17.9)[0]
    half = math.degrees(math.atan(1.15 / 44))
    off = half - math.degrees(math.atan(1 / 40))
    minutes, seconds = divmod(round(off * 3600), 60)
    assert f"0°{minutes:02}'{seconds:02}\"" in first.text and "nearer" in first.text
    tap, shown = 100 * math.sin(math.radians(off)), 50 * (math.sin(math.radians(half)) - 1 / math.hypot(1, 40))
    assert {f"{tap:.3f}", f"{shown:.3f}"} <= figures(first.text)
    wider = measured_after_roughing(15.6, 17.7)[0]
    assert "further" in wider.text


def test_after_an_angle_correction_the_depth_counts_from_the_measured_line_with_most_metal() -> None:
    """15.6 and 17.9 mm leave 0.2 and 0.25 mm. The tool touches off at the far line, and the dial ends at 0.50."""
    steps = measured_after_roughing(15.6, 17.9)
    touched = next(step for step in steps if step.zeroed_dials)
    assert {"48", "17.9"} <= figures(touched.text)
    assert cuts(steps)[-1].settings[0].position == pytest.approx(0.5)  # type: ignore[union-attr]
    other = measured_after_roughing(15.7, 17.8)
    assert {"4", "15.7"} <= figures(next(step for step in other if step.zeroed_dials).text)
    assert cuts(other)[-1].settings[0].position == pytest.approx(0.5)  # type: ignore[union-attr]


def test_a_small_end_that_will_be_undersize_is_reported_before_the_next_cut() -> None:
    """15.1 mm for 15.2 mm: the diameter gets 0.1 mm too small, so the taper goes 0.05/0.025 = 2 mm further in."""
    steps = measured_after_roughing(15.1, 17.6)
    assert {"0.1", "2"} <= figures(steps[0].findings[-1])
    # With no metal left anywhere nothing is cut.
    none = measured_after_roughing(15.1, 17.4)
    assert not cuts(none) and {"0.1", "2"} <= figures(" ".join(none[0].findings))


def test_an_angle_error_smaller_than_one_indicator_mark_is_not_corrected() -> None:
    """Only the size is corrected."""
    steps = measured_after_roughing(15.66, 17.86)
    assert not any(step.zeroed_dials for step in steps) and steps[0].findings
    # 17.86 mm for 17.4 mm: the dial goes 0.46 further than the present 2.60.
    assert cuts(steps)[-1].settings[0].position == pytest.approx(3.05)  # type: ignore[union-attr]


# Inputs during a run, and refusals.


def test_measuring_only_one_diameter_of_a_taper_corrects_only_the_size() -> None:
    """One diameter cannot show an error of the angle."""
    run = Counted(METRIC, "taper", **ARBOR)
    run.done(9)
    run.revise("measured", size_mm=17.86)
    assert cuts(open_steps(run))[-1].settings[0].position == pytest.approx(3.05)  # type: ignore[union-attr]


def test_after_the_work_has_moved_the_taper_angle_is_checked_before_the_touch_off() -> None:
    """Before the taper reaches the far line the question is about the free end, later about the line."""
    run = Counted(METRIC, "taper", **ARBOR)
    run.done(7)
    asked = operation_of("taper").moved(run.job, METRIC, run.state)
    assert isinstance(asked, SizeAsked) and asked.what == "free end"
    moved = Moved(size=Measured(what="free end", size_mm=17.14))
    assert input_from_data(*input_as_data(moved)) == moved
    run.revise("moved", free_end_mm=17.14)
    angle, lock, touch_off, *_ = run.state.open_steps()
    assert (
        angle.action == "check"
        and lock.title == "Lock the carriage"
        and touch_off.zeroed_dials
        and {"17.14"} <= figures(touch_off.text)
    )
    # 17.14 to 15: 2.14 on the dial, to a mark of 0.05.
    assert cuts(open_steps(run))[-1].settings[0].position == pytest.approx(2.15)  # type: ignore[union-attr]
    while run.cursor.action != "measure":
        run.done()
    asked = operation_of("taper").moved(run.job, METRIC, run.state)
    assert isinstance(asked, SizeAsked) and asked.what == "size"
    run.revise("moved", size_mm=17.8)
    assert {"48", "17.8"} <= figures(open_steps(run)[2].text)


def test_a_slightly_undersize_blank_is_touched_off_before_the_carriage_is_locked() -> None:
    """17.98 mm for 18 mm is less than one mark of the cross-slide, 0.025 mm on the radius. Nothing is cut yet."""
    run = Counted(METRIC, "taper", **ARBOR)
    run.done(4)
    run.revise("moved", free_end_mm=17.98)
    titles = [step.title for step in open_steps(run)]
    assert titles[:3] == ["Set the angle by indicator", "Touch off the cross-slide", "Lock the carriage"]
    assert titles.count("Lock the carriage") == 1 and "over the work" in open_steps(run)[1].text


def test_taper_passes_after_a_different_dial_setting_still_end_at_the_planned_mark() -> None:
    """A spring pass stays at the setting that the user entered."""
    run = Counted(METRIC, "taper", **ARBOR)
    run.done(6)
    run.revise("set", dial="cross_slide", position="0.6")
    assert run.cursor.settings[0].position == pytest.approx(0.6)  # type: ignore[union-attr]
    assert cuts(open_steps(run))[-1].settings[0].position == pytest.approx(3.0)  # type: ignore[union-attr]
    run.done()
    run.revise("spring")
    assert run.cursor.action == "spring" and run.cursor.settings[0].position == pytest.approx(0.6)  # type: ignore[union-attr]
    assert open_steps(run)[-1].text.startswith("Blue")


def test_each_touch_off_asks_for_the_reading_of_a_dial_that_cannot_be_zeroed() -> None:
    """The touch-off after a correction asks too."""
    dial = {**METRIC.data["dial"]["cross_slide"], "can_zero": False}
    lathe = lathe_from({**METRIC.data, "dial": {**METRIC.data["dial"], "cross_slide": dial}}, "pinned")
    run = Counted(lathe, "taper", **ARBOR)
    while run.cursor.action != "measure":
        run.done()
    run.revise("measured", at_mm=[4, 48], diameters_mm=[15.6, 17.9])
    touched = [step for step in run.state.steps if step.zeroed_dials]
    assert len(touched) == 2 and all(step.required and step.expects == "reading" for step in touched)


def test_after_a_taper_is_edited_the_compound_is_swung_again() -> None:
    """The edit may have changed the angle, so all set-up steps of the plan come again."""
    run = Counted(METRIC, "taper", **ARBOR)
    run.done(7)
    steps = replan(plan_input(cut="0.3 mm"), run.state.progress, Edited(plan_input={}))
    first = [step.title for step in plan().steps[:4]]
    assert [step.title for step in steps[:4]] == first and "Set the tool to centre height" in first
    # The carriage is locked before the tool touches the taper: only the compound may bring the tool there.
    assert steps[4].title == "Lock the carriage" and steps[5].zeroed_dials == ("cross_slide",)
    assert cuts(steps)[-1].settings[0].position == pytest.approx(3.0 - 0.85)  # type: ignore[union-attr]


def test_adding_a_start_to_a_taper_during_a_run_requires_new_zeros_of_all_three_dials() -> None:
    """The passes then show the compound's reading at the large end, so the compound must count from a zero."""
    run = Counted(METRIC, "taper", **ARBOR)
    run.done(7)
    steps = replan(plan_input(starts_at="12 mm"), run.state.progress, Edited(plan_input={}))
    before = steps[: steps.index(cuts(steps)[0])]
    assert {"compound", "carriage", "cross_slide"} == {dial for step in before for dial in step.zeroed_dials}
    assert before[-2].title == "Lock the carriage"


def test_impossible_measurements_of_a_taper_are_refused() -> None:
    """A line not reached yet, a diameter larger than the blank, a taper the wrong way, a gauge."""
    run = Counted(METRIC, "taper", **ARBOR)
    run.done(6)
    both, one = operation_of("taper").questions(run.job, METRIC, run.state)
    for asked in (both, one):
        assert asked.read("17.8").size_mm == 17.8  # type: ignore[union-attr]
        for text in ("115.49", "0", "-1", "thick"):
            with pytest.raises(QuantityError):
                asked.read(text)  # type: ignore[union-attr]
    with pytest.raises(PlanError, match="48"):
        run.revise("measured", at_mm=[4, 48], diameters_mm=[17.0, 18.0])
    with pytest.raises(PlanError, match="48"):
        run.revise("measured", size_mm=17.9)
    for near, far, words in ((15.6, 18.2, "blank"), (17.8, 15.6, "smaller")):
        with pytest.raises(PlanError, match=words):
            measured_after_roughing(near, far)
    with pytest.raises(PlanError, match="fit"):
        replan(run.plan_input, run.state.progress, GaugeTried(fit="tight"))


def test_two_measured_diameters_are_read_back_unchanged_from_the_log() -> None:
    """Both are read back as entered."""
    entered = DiametersMeasured(at_mm=(4.0, 48.0), diameters_mm=(15.6, 17.8))
    assert input_from_data(*input_as_data(entered)) == entered


REFUSED: list[tuple[dict[str, str | None], str]] = [
    ({"taper": None}, "taper"),
    ({"small": "15 mm"}, "small"),
    ({"taper": "7 deg"}, "taper"),
    ({"taper": "7"}, "taper"),
    ({"taper": "MT 9"}, "taper"),
    ({"taper": "steep"}, "taper"),
    ({"taper": "85 deg", "of": "half"}, "taper"),
    ({"taper": "0.6 in per 0 in"}, "taper"),
    ({"of": "half"}, "taper"),
    ({"taper": "7 deg", "of": "both"}, "of"),
    ({"taper": None, "small": "15 mm", "of": "half"}, "of"),
    ({"taper": None, "small": "18 mm"}, "small"),
    ({"large": None}, "large"),
    ({"length": None}, "length"),
    ({"length": "400 mm"}, "length"),
    ({"work_length": "50 mm"}, "work_length"),
    ({"finish": "0.6 mm"}, "finish"),
    ({"cut": None}, "cut"),
    ({"side": "inside"}, "side"),
]


@pytest.mark.parametrize(("keys", "named"), REFUSED)
def test_each_wrong_key_of_a_taper_gets_one_sentence_that_begins_with_the_key(
    keys: dict[str, str | None], named: str
) -> None:
    """The sentence starts with the key, so that the form can show it at the field."""
    with pytest.raises(FileError) as refusal:
        plan(**keys)
    (message,) = refusal.value.messages
    assert message.startswith(f"{named}: ") and len(message.split()) > 4


def test_turning_a_taper_on_a_lathe_without_a_cross_slide_dial_is_refused() -> None:
    """A dial whose mark is coarser than the whole cut is refused too."""
    bare = lathe_from({"format": 1, "name": "Bare"}, "bare")
    with pytest.raises(PlanError, match="cross-slide"):
        plan(bare)
    with pytest.raises(PlanError, match="mark"):
        plan(example_lathe(), taper=None, small="17.98 mm")
