"""The runout operation: its keys and refusals, plan, card figures, sets of readings in the log, planning again."""

import json
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import replace
from math import cos, radians
from typing import Any

import pytest

from core import safety
from core.cutting import Progress
from core.inputs import GaugeTried, Moved, TurnAgain, input_from_data
from core.lathe.lathe import Indicator, Lathe
from core.lathe.reader import lathe_from
from core.operations.runout.harmonics import evenly_spaced
from core.operations.runout.job import RunoutJob, read_runout
from core.operations.runout.operation import plan_runout, replan_runout
from core.operations.runout.sets_of_readings import analyse_set, sort_into_sets, turns_in_job
from core.pages.figure_words import lines_for
from core.plan import Plan, Step, plan_as_data, plan_from_data
from core.values.errors import PlanError, QuantityError
from core.values.fields import Problem, Table
from tests.core.figures import figures

LATHE = Lathe(name="trial", indicator=Indicator(graduation_mm=0.01))
FOUR = ["0.10 mm", "0.02 mm", "-0.06 mm", "0.04 mm"]


def _read(keys: Mapping[str, Any]) -> tuple[RunoutJob | None, list[Problem]]:
    problems: list[Problem] = []
    table = Table(keys, "trial", problems)
    found = read_runout(table, LATHE)
    table.refuse_unknown()
    return found, problems


def _plan(lathe: Lathe = LATHE, **keys: Any) -> Plan:
    job, problems = _read(keys)
    assert problems == []
    assert job is not None
    return plan_runout(job, lathe, None)


def _turn(size: float = 0.1, high: float = 77, count: int = 8) -> list[str]:
    return [f"{size * cos(radians(angle - high)):.6f} mm" for angle in evenly_spaced(count)]


def test_every_key_of_a_runout_job_is_read_as_its_value() -> None:
    """Every key of the format's example is read as its value."""
    job, problems = _read(
        {
            "surface": "bore",
            "planes": 2,
            "apart": "40 mm",
            "angles": ["0 deg", "100 deg", "200°30'"],
            "drift": "-0.01 mm",
            "diameter": "2 in",
            "bolt_circle": "80 mm",
            "stylus_angle": "15 deg",
            "tolerance": "1 thou",
            "workholding": "three jaw",
            "readings": [["0 mm", "1 thou", "0,02 mm"], ["0 mm", "0 mm", "0.01 mm"]],
        }
    )
    assert problems == []
    assert job == RunoutJob(
        surface="bore",
        angles_deg=(0, 100, 200.5),
        planes=2,
        apart_mm=40,
        drift_mm=-0.01,
        diameter_mm=50.8,
        bolt_circle_mm=80,
        stylus_deg=15,
        tolerance_mm=0.0254,
        workholding="three jaw",
        readings_mm=((0, 0.0254, 0.02), (0, 0, 0.01)),
    )


@pytest.mark.parametrize(
    ("keys", "count"), [({}, 8), ({"positions": 3}, 3), ({"readings": FOUR}, 4), ({"positions": 360}, 360)]
)
def test_the_default_marks_are_evenly_spaced_round_the_turn(keys: dict[str, Any], count: int) -> None:
    """Without `positions` there are eight, or as many as there are readings, evenly spaced from 0."""
    job, _ = _read(keys)
    assert job is not None
    assert job.angles_deg == evenly_spaced(count)
    assert job.surface == "outside"
    assert job.workholding is None


REFUSED: list[Any] = [
    ({"surface": "inside"}, "surface"),
    ({"workholding": "glue"}, "workholding"),
    ({"positions": 2}, "positions"),
    ({"positions": "8"}, "positions"),
    ({"positions": 4, "angles": ["0 deg", "90 deg", "180 deg"]}, "angles"),
    ({"angles": ["0 deg", "90 deg"]}, "angles"),
    ({"angles": ["0 deg", "90 deg", "90 deg"]}, "angles"),
    ({"angles": ["0 deg", "120 deg", "240 deg", "360 deg"]}, "angles"),
    ({"angles": ["0 deg", "1 deg", "2 deg"]}, "angles"),
    ({"angles": ["0 mm", "90 deg", "180 deg"]}, "angles"),
    ({"angles": "0 deg"}, "angles"),
    ({"planes": 3}, "planes"),
    ({"planes": 2}, "apart"),
    ({"planes": 2, "apart": "0 mm"}, "apart"),
    ({"apart": "40 mm"}, "apart"),
    ({"planes": 2, "apart": "40 mm", "surface": "face"}, "planes"),
    ({"diameter": "0 mm"}, "diameter"),
    ({"diameter": 60}, "diameter"),
    ({"stylus_angle": "85 deg"}, "stylus_angle"),
    ({"stylus_angle": "-1 deg"}, "stylus_angle"),
    ({"tolerance": "-0.1 mm"}, "tolerance"),
    ({"drift": "nan mm"}, "drift"),
    ({"readings": ["0 mm", "0.1 mm"]}, "readings"),
    ({"readings": ["0 mm", "nan mm", "0 mm"]}, "readings"),
    ({"readings": ["0 mm", "high", "0 mm"]}, "readings"),
    ({"readings": ["0 mm", 0.1, "0 mm"]}, "readings"),
    ({"readings": "0 mm"}, "readings"),
    ({"readings": FOUR, "positions": 8}, "readings"),
    ({"readings": [FOUR, FOUR]}, "readings"),
    ({"readings": FOUR, "planes": 2, "apart": "40 mm"}, "readings"),
    ({"readings": [FOUR, FOUR[:3]], "planes": 2, "apart": "40 mm"}, "readings"),
    ({"readings": [FOUR], "planes": 2, "apart": "40 mm"}, "readings"),
    ({"lobes": 3}, "lobes"),
]


@pytest.mark.parametrize(("keys", "key"), REFUSED)
def test_each_refusal_of_a_runout_job_names_the_key_with_the_wrong_value(keys: dict[str, Any], key: str) -> None:
    """Each refusal says what is wrong and what to enter."""
    _, problems = _read(keys)
    assert [problem.key for problem in problems] == [key]
    assert problems[0].message.isprintable()


def test_a_drift_that_is_too_large_is_refused_at_the_drift_key() -> None:
    """The readings stay in the file. The sentence says to read again."""
    job, _ = _read({"readings": FOUR, "drift": "0.5 mm"})
    assert job is not None
    with pytest.raises(PlanError) as caught:
        plan_runout(job, LATHE, None)
    assert caught.value.field == "drift"


def test_the_runout_figures_on_the_card_match_hand_calculation() -> None:
    """Worked by hand: TIR 0.16, a = 0.08, b = -0.01, u = 0.01 / sqrt 12, LSC = 0.02 / 2."""
    figures = _plan(readings=FOUR, workholding="four jaw", tolerance="0.02 mm").figures
    assert figures["tir_mm"] == pytest.approx(0.16)
    assert figures["eccentricity_mm"] == pytest.approx(0.080623, abs=1e-6)
    assert figures["high_spot_deg"] == pytest.approx(352.875, abs=1e-3)
    assert figures["eccentricity_error_mm"] == pytest.approx(0.0020412, abs=1e-7)
    assert figures["out_of_roundness_mm"] == pytest.approx(0.01)
    assert figures["verdict"] == "outside"
    assert [set(move) for move in figures["moves"]] == [{"where", "how", "angle_deg", "amount_mm"}] * 2
    assert set(figures) == {
        "tir_mm",
        "eccentricity_mm",
        "high_spot_deg",
        "eccentricity_error_mm",
        "out_of_roundness_mm",
        "verdict",
        "moves",
    }


def test_only_the_figures_that_apply_to_the_readings_are_shown() -> None:
    """Without readings there are no figures, without an offset no high spot. A face has a wobble."""
    assert _plan().figures == {}
    assert "moves" not in _plan(readings=FOUR, workholding="screwed on").figures
    assert "high_spot_deg" not in _plan(readings=["0 mm"] * 8).figures
    face = _plan(readings=_turn(), surface="face", diameter="60 mm").figures
    assert face["wobble_deg"] == pytest.approx(0.19098, abs=1e-4)  # atan(0.1 / 30)
    assert "wobble_deg" not in _plan(readings=_turn()).figures
    assert {"ovality_mm", "three_lobe_mm"} <= set(face)


def test_the_tilt_calculated_from_two_planes_matches_hand_calculation() -> None:
    """If the high spots of the planes are opposite each other, the tilt is 0.2 mm over 40 mm: 0.286 degrees by hand."""
    figures = _plan(readings=[_turn(0.1, 77), _turn(0.1, 257)], planes=2, apart="40 mm", workholding="four jaw").figures
    assert set(figures["second_plane"]) == {"tir_mm", "eccentricity_mm", "high_spot_deg"}
    assert (figures["high_spot_deg"], figures["second_plane"]["high_spot_deg"]) == pytest.approx((77, 257), abs=1e-3)
    assert figures["tilt_deg"] == pytest.approx(0.28648, abs=1e-4)
    (tap,) = figures["tilt_moves"]
    assert (tap["angle_deg"], tap["amount_mm"]) == pytest.approx((257, 0.2), abs=1e-3)


def test_the_total_indicator_reading_is_corrected_for_drift() -> None:
    """0 0.05 0.10 0.05, closing at 0.02, has a TIR of 0.09."""
    assert _plan(readings=["0 mm", "0.05 mm", "0.10 mm", "0.05 mm"], drift="0.02 mm").figures[
        "tir_mm"
    ] == pytest.approx(0.09)


@pytest.mark.parametrize("planes", [1, 2])
@pytest.mark.parametrize("readings", [True, False])
def test_the_steps_set_the_indicator_read_each_mark_and_check_the_result(planes: int, readings: bool) -> None:
    """Each plane has these steps. If the job has readings, the moves come first."""
    keys: dict[str, Any] = {"workholding": "four jaw"}
    if planes == 2:
        keys |= {"planes": 2, "apart": "40 mm"}
    if readings:
        keys["readings"] = [_turn()] * 2 if planes == 2 else _turn()
    steps = _plan(**keys).steps
    reads = [step for step in steps if step.action == "read"]
    assert [step.reading_at and step.reading_at.angle_deg for step in reads] == list(evenly_spaced(8)) * planes
    assert all(step.expects == "reading" for step in reads)
    assert steps[0].action == "set"
    assert steps[-1].action == "check"
    assert [step.id for step in steps] == list(range(1, len(steps) + 1))
    presses = [step for step in steps if "press jaw" in step.text]
    assert len(presses) == (2 if readings else 0)
    assert all(step.id < reads[0].id for step in presses)


def test_the_step_that_reads_a_mark_at_a_jaw_names_the_jaw() -> None:
    """Jaw n of N is at 360 (n - 1) / N."""
    texts = [step.text for step in _plan(workholding="four jaw").steps if step.action == "read"]
    assert figures(texts[2]) == {"90°", "2"}
    assert figures(texts[1]) == {"45°"}
    texts = [step.text for step in _plan(workholding="three jaw", positions=6).steps if step.action == "read"]
    assert figures(texts[4]) == {"240°", "3"}


def test_a_suspected_typing_error_is_the_first_caution_of_the_plan() -> None:
    """A tolerance below the graduation, a missing indicator and a drift are cautions too."""
    plan = _plan(
        readings=["0 mm", "0.02 mm", "30 mm", "0.01 mm", "0 mm"], workholding="three jaw", tolerance="0.005 mm"
    )
    assert "typing error" in plan.cautions[0]
    assert any({"0.005", "0.01"} <= figures(caution) for caution in plan.cautions)
    assert safety.INDICATOR_OFF in plan.general
    assert plan.steps[0].cautions
    assert any("No indicator" in caution for caution in _plan(Lathe(name="bare")).cautions)
    assert len(set(_plan(drift="0.01 mm").cautions) - set(_plan().cautions)) == 1


def test_a_runout_plan_is_unchanged_after_being_written_and_read_as_json() -> None:
    """Figures and steps are the same after writing and reading."""
    plan = _plan(readings=[_turn(), _turn(0.2, 140)], planes=2, apart="40 mm", workholding="flange", diameter="60 mm")
    back = plan_from_data(json.loads(json.dumps(plan_as_data(plan))))
    assert back.figures == plan.figures
    assert back.steps == plan.steps


def _logged(
    steps: tuple[Step, ...], values: Mapping[tuple[int, float | None], str]
) -> list[tuple[Step, Any, str | None]]:
    """Return the values that a run logs for these steps: a length in mm at each mark, nothing at other steps."""
    found: list[tuple[Step, Any, str | None]] = []
    for step in steps:
        at = step.reading_at
        value = None if at is None else values.get((at.plane or 1, at.angle_deg))
        found.append((step, value, None if value is None else "mm"))
    return found


def test_each_logged_reading_is_assigned_to_its_set_turn_and_plane() -> None:
    """The log has two sets, a second turn, two planes and closing readings."""
    keys: dict[str, Any] = {"planes": 2, "apart": "40 mm", "positions": 4, "workholding": "four jaw"}
    job, _ = _read(keys)
    assert job is not None
    plan = plan_runout(job, LATHE, None)
    values: dict[tuple[int, float | None], str] = {
        (plane, angle): f"{plane + angle / 1000}" for plane in (1, 2) for angle in evenly_spaced(4)
    }
    values[(2, None)] = "2.01"
    progress = Progress(next_id=100)
    moved = replan_runout(job, LATHE, None, progress, Moved())
    again = replan_runout(job, LATHE, None, progress, TurnAgain())
    found = sort_into_sets([*_logged(plan.steps, values), *_logged(moved, values), *_logged(again, values)], 0.01)
    assert [len(turns) for turns in found] == [2, 4]
    assert [(turn.plane, turn.is_repeat) for turn in found[1]] == [(1, False), (2, False), (1, True), (2, True)]
    assert found[0][0].readings_mm == (1.0, 1.09, 1.18, 1.27)
    assert found[0][1].readings_mm == (2.0, 2.09, 2.18, 2.27)
    assert found[0][1].drift_mm == pytest.approx(0.01)
    assert found[0][0].closing_mm is None
    assert analyse_set(job, found[1], 0.01).first.repeatability_mm == 0


def test_an_unfinished_set_of_readings_gives_preliminary_figures() -> None:
    """Three of eight marks, read in graduations, give figures. The second plane waits until all its marks are read."""
    job, _ = _read({"planes": 2, "apart": "40 mm"})
    assert job is not None
    reads = [step for step in plan_runout(job, LATHE, None).steps if step.action == "read"]
    ((turn,),) = sort_into_sets([(step, "2", "marks") for step in reads[:3]], 0.01)
    assert turn.readings_mm == (0.02,) * 3
    assert analyse_set(job, (turn,), 0.01).first.tir_mm == 0
    (turns,) = sort_into_sets([(step, 0.00001, "mm") for step in reads[:11]], 0.01)
    assert len(turns) == 2
    assert analyse_set(job, turns, 0.01).second is None
    assert sort_into_sets([], 0.01) == ()
    with pytest.raises(QuantityError):
        sort_into_sets([(reads[0], "high", "mm")], 0.01)


def test_two_readings_give_no_runout_figures() -> None:
    """A sentence is shown until there are three readings."""
    job, _ = _read({})
    assert job is not None
    with pytest.raises(PlanError, match=r"\b0\b"):
        analyse_set(job, (), 0.01)


@pytest.mark.parametrize("cause", ["moved", "picked up", "edited"])
def test_a_move_an_interruption_or_an_edit_starts_a_new_set_of_readings(cause: str) -> None:
    """The whole turn is read again, and the ids continue."""
    job, _ = _read({"readings": FOUR, "workholding": "four jaw"})
    assert job is not None
    steps = replan_runout(job, LATHE, None, Progress(next_id=31), input_from_data(cause, {}))
    assert [step.id for step in steps] == list(range(31, 31 + len(steps)))
    assert [at.angle_deg for step in steps if (at := step.reading_at) and step.action == "read"] == [0, 90, 180, 270]


def test_a_complete_set_of_readings_yields_the_correcting_moves() -> None:
    """Readings of the run give moves, as readings in the job do."""
    job, _ = _read({"positions": 4, "workholding": "four jaw", "planes": 2, "apart": "40 mm"})
    assert job is not None
    readings = [[0.10, 0.02, -0.06, 0.04], [0.0, 0.0, 0.0, 0.0]]
    given = {"readings_mm": readings, "closing_mm": [0.10, None], "again_mm": readings}
    steps = replan_runout(job, LATHE, None, Progress(next_id=20), input_from_data("measured", given))
    texts = " ".join(step.text for step in steps)
    assert any({"1", "0.08"} <= figures(step.text) for step in steps)
    assert "far end" in texts and "second plane" in texts
    assert steps[0].id == 20
    bad = {"readings_mm": readings, "closing_mm": [9.0, None]}
    with pytest.raises(PlanError):
        replan_runout(job, LATHE, None, Progress(next_id=20), input_from_data("measured", bad))


def test_the_result_of_a_gauge_trial_is_refused_by_a_runout_check() -> None:
    """Each refusal is a sentence."""
    job, _ = _read({})
    assert job is not None
    with pytest.raises(PlanError, match="fit"):
        replan_runout(job, LATHE, None, Progress(next_id=9), GaugeTried(fit="fits"))


def test_the_drift_entered_in_a_job_applies_to_each_plane() -> None:
    """The job has one drift for both planes."""
    job, _ = _read({"readings": [FOUR, FOUR], "planes": 2, "apart": "40 mm", "drift": "0.01 mm"})
    assert job is not None
    assert [turn.drift_mm for turn in turns_in_job(job)] == pytest.approx([0.01, 0.01])
    assert turns_in_job(replace(job, readings_mm=())) == ()


def test_sentences_on_an_inch_lathe_are_in_inches() -> None:
    """The unit is that of the lathe's dials."""
    from core.lathe.reader import example_lathe

    lathe = example_lathe()
    dials = {name: replace(dial, unit="in") for name, dial in lathe.dials.items()}
    inch = replace(lathe, dials=dials, indicator=Indicator(graduation_mm=0.0127, unit="in"))
    texts = " ".join(step.text for step in _plan(inch, readings=FOUR, workholding="four jaw").steps)
    assert "0.0031 in" in texts
    assert " mm" not in texts


def test_readings_are_shown_in_the_unit_of_the_indicator() -> None:
    """An inch lathe with a metric indicator shows readings in mm and in graduations."""
    from core.lathe.reader import example_lathe

    lathe = example_lathe()
    dials = {name: replace(dial, unit="in") for name, dial in lathe.dials.items()}
    plan = _plan(replace(lathe, dials=dials), readings=FOUR, workholding="four jaw", tolerance="0.005 mm")
    texts = [*(step.text for step in plan.steps), *plan.cautions]
    assert any({"1", "0.08", "0°", "8"} <= figures(text) for text in texts)
    assert any({"0.005", "0.01"} <= figures(text) for text in texts)
    assert not any("0.0031" in figures(text) for text in texts)
    assert "0.16 mm" in [value for _, value in lines_for(replace(lathe, dials=dials), plan.figures)]


@pytest.mark.parametrize(("graduation", "unit"), [("0.01 mm", "mm"), ("0.0005 in", "in"), ("0.5 thou", "in")])
def test_the_unit_of_an_indicator_is_the_unit_of_its_graduation(graduation: str, unit: str) -> None:
    """The unit is that of the lathe file, whatever unit the dials have."""
    lathe = lathe_from({"format": 1, "name": "trial", "indicator": {"graduation": graduation}}, "trial")
    assert lathe.indicator is not None
    assert lathe.indicator_unit == lathe.indicator.unit == unit


def test_planning_a_runout_check_imports_no_numeric_library() -> None:
    """Neither numpy nor a screen is imported, so that a small computer starts fast."""
    code = (
        "import sys, core.operations.runout.operation; "
        "print([name for name in ('numpy', 'scipy', 'pint', 'textual', 'rich') if name in sys.modules])"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"
