"""Facing and grooving: the direction of the slide, its preparation, and the amount to remove."""

import re
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from core.cutting import Progress, progress_of
from core.events.state import LoggedPlanInput
from core.inputs import Measured
from core.jobs.editor import change_operation
from core.jobs.job import parse_job
from core.lathe.lathe import Lathe
from core.lathe.reader import example_lathe, lathe_from, read_lathe
from core.operations.registry import PlanInput, replan
from core.plan import Plan, Step
from core.run.revising import logged_plan_input, plan_input_of, still_matches
from core.values.errors import FileError, PlanError
from tests.core.counted import Counted
from tests.core.figures import figures
from tests.core.planned import make_plan

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
METRIC, INCH = read_lathe(SAMPLES / "metric_lathe.toml"), read_lathe(SAMPLES / "inch_lathe.toml")


def plan_input(lathe: Lathe, **keys: str) -> PlanInput:
    """Return the plan input of an operation with the keys of a job file (`from_` stands for "from")."""
    table = {key.rstrip("_"): value for key, value in keys.items()}
    return PlanInput(kind=table["kind"], parameters={"name": "it", "cut": "0.5 mm"} | table, lathe=lathe)


def cuts(plan: Plan) -> list[Step]:
    """Return the steps of a plan that cut."""
    return [step for step in plan.steps if step.action == "cut"]


def last_position(plan: Plan) -> float:
    """Return the dial's position at the last cut."""
    return cuts(plan)[-1].settings[0].position  # type: ignore[union-attr]


def with_dial(lathe: Lathe, name: str, **changes: Any) -> Lathe:
    """Return a lathe with some keys of one dial changed."""
    dials = lathe.data["dial"]
    return lathe_from({**lathe.data, "dial": {**dials, name: {**dials[name], **changes}}}, "test")


@pytest.mark.parametrize("amount", [{"length_now": "0.500 in", "length": "0.460 in"}, {"remove": "0.040 in"}])
@pytest.mark.parametrize("dial", ["compound", "carriage"])
def test_a_face_is_cut_towards_the_chuck(dial: str, amount: dict[str, str]) -> None:
    """From 0.500 to 0.460 in the dial counts up to 0.040 while the slide goes in."""
    plan = make_plan(plan_input(INCH, kind="face", dial=dial, **amount))
    assert all(step.settings[0].position > 0 for step in cuts(plan))  # type: ignore[union-attr]
    assert last_position(plan) == pytest.approx(0.040)
    assert all("chuck" in step.extra["direction"] for step in cuts(plan))
    assert plan.figures["passes"] == len(cuts(plan))


@pytest.mark.parametrize("numbers", ["rise", "fall"])
@pytest.mark.parametrize(("start", "end"), [("0 mm", "2 mm"), ("2 mm", "0 mm"), ("-1 mm", "1 mm")])
def test_a_face_between_two_readings_in_either_order_is_cut_towards_the_chuck(
    numbers: str, start: str, end: str
) -> None:
    """Neither the order of the two positions nor the counting direction of the dial changes the cutting direction."""
    lathe = with_dial(METRIC, "compound", numbers=numbers)
    plan = make_plan(plan_input(lathe, kind="face", dial="compound", from_=start, to=end))
    assert last_position(plan) == pytest.approx(2.0 if numbers == "rise" else -2.0)


@pytest.mark.parametrize(("lathe", "reads"), [(METRIC, "0°"), (INCH, "90°")])
def test_a_compound_used_for_facing_is_first_swung_parallel_to_the_bed(lathe: Lathe, reads: str) -> None:
    """A scale with its zero along the axis reads 0 there. A scale with its zero square would read 90 but ends at 60."""
    first, touch_off, *_ = make_plan(plan_input(lathe, kind="face", dial="compound", remove="1 mm")).steps
    assert first.action == "set" and not first.zeroed_dials and figures(first.text) == {reads}
    assert touch_off.zeroed_dials == ("compound",)


@pytest.mark.parametrize(
    ("keys", "position"),
    [
        ({"diameter_now": "30 mm", "diameter": "24.5 mm"}, 5.5),
        ({"diameter_now": "20 mm", "diameter": "23 mm"}, -3.0),
        ({"depth": "1.5 mm"}, 3.0),
        ({"depth": "1.5 mm", "side": "inside"}, -3.0),
        ({"from_": "15 mm", "to": "12.25 mm"}, 5.5),
        ({"from_": "0 mm", "to": "2.75 mm"}, 5.5),
    ],
)
def test_the_dial_for_a_groove_moves_the_tool_into_the_work(keys: dict[str, str], position: float) -> None:
    """A dial that reads diameter shows 5.50 for 2.75 mm of radius. In a bore the dial counts down."""
    plan = make_plan(plan_input(METRIC, kind="groove", dial="cross_slide", **keys))
    assert cuts(plan)[0].extra["direction"].startswith("away") == (position < 0)
    assert last_position(plan) == pytest.approx(position)


def test_a_groove_down_to_a_diameter_of_0_is_accepted() -> None:
    """Parting off ends at the axis."""
    plan = make_plan(plan_input(METRIC, kind="groove", dial="cross_slide", diameter_now="6 mm", diameter="0 mm"))
    assert last_position(plan) == pytest.approx(6.0)


REFUSED = [
    ({"kind": "face", "dial": "cross_slide", "remove": "1 mm"}, "dial"),
    ({"kind": "face", "dial": "carriage"}, "remove"),
    ({"kind": "face", "dial": "carriage", "remove": "1 mm", "length": "5 mm"}, "length_now"),
    ({"kind": "face", "dial": "carriage", "length_now": "5 mm", "length": "6 mm"}, "length"),
    ({"kind": "face", "dial": "carriage", "length_now": "5 mm"}, "length"),
    ({"kind": "groove", "dial": "carriage", "diameter_now": "5 mm", "diameter": "4 mm"}, "diameter"),
    (
        {"kind": "groove", "dial": "cross_slide", "side": "inside", "diameter_now": "5 mm", "diameter": "4 mm"},
        "diameter",
    ),
    ({"kind": "groove", "dial": "quill", "depth": "1 mm"}, "dial"),
]


@pytest.mark.parametrize(("keys", "named"), REFUSED)
def test_each_refusal_of_a_face_or_groove_begins_with_the_name_of_the_wrong_key(
    keys: dict[str, str], named: str
) -> None:
    """A screen shows the sentence at the field of that key."""
    with pytest.raises(FileError) as refusal:
        make_plan(plan_input(METRIC, **keys))
    assert refusal.value.messages[0].startswith(f"{named}:")


def test_a_measured_length_corrects_the_later_cuts_of_a_face() -> None:
    """From 60 to 58 mm: with 58.62 measured at a reading of 1.50, 0.62 mm is left and the last cut is at 2.12."""
    its = plan_input(METRIC, kind="face", dial="compound", length_now="60 mm", length="58 mm")
    there = Progress(next_id=40, depth_mm=1.5, positions={"compound": Fraction("1.5")})
    steps = replan(its, there, Measured(what="size", size_mm=58.62))
    assert [step for step in steps if step.action == "cut"][-1].settings[0].position == pytest.approx(2.12)  # type: ignore[union-attr]


def test_entering_the_amount_still_to_go_corrects_the_later_cuts_of_a_face() -> None:
    """2 mm to remove, 0.62 mm still to go at a reading of 1.50: the last cut is at 2.12."""
    its = plan_input(METRIC, kind="face", dial="compound", remove="2 mm")
    there = Progress(next_id=40, depth_mm=1.5, positions={"compound": Fraction("1.5")})
    steps = replan(its, there, Measured(what="to go", size_mm=0.62))
    assert not any("0.62" in figures(caution) for caution in steps[0].findings)
    far = replan(its, there, Measured(what="to go", size_mm=0.9))[0].findings
    assert {"0.5", "0.9", "0.4"} <= figures(far[0])
    with pytest.raises(PlanError, match=r"\b4\.5 mm"):
        replan(its, there, Measured(what="to go", size_mm=9))
    assert [step for step in steps if step.action == "cut"][-1].settings[0].position == pytest.approx(2.12)  # type: ignore[union-attr]


FIRST = """format = 1
title = "Old"
[[operation]]
kind = "cut"
name = "Face"
dial = "{dial}"
from = "2 mm"
to = "0 mm"
cut = "0.5 mm"
"""


@pytest.mark.parametrize(("dial", "kind"), [("saddle", "face"), ("carriage", "face"), ("cross_slide", "groove")])
def test_a_cut_in_a_job_file_from_the_first_version_is_read_as_a_face_or_a_groove(
    tmp_path: Path, dial: str, kind: str
) -> None:
    """The dial decides between the two kinds. The cut goes into the work."""
    operation = parse_job(FIRST.format(dial=dial), tmp_path / "job.toml").operations[0]
    assert (operation.kind, operation.plan_input.kind, operation.plan_input.parameters["kind"]) == (kind, kind, kind)
    assert all(step.settings[0].position > 0 for step in cuts(operation.plan))  # type: ignore[union-attr]


def test_a_changed_carriage_cut_from_the_first_version_is_saved_as_a_face(tmp_path: Path) -> None:
    """The file then has kind = "face" and the dial's new name."""
    path = tmp_path / "job.toml"
    path.write_text(FIRST.format(dial="saddle"), encoding="utf-8")
    before = parse_job(path.read_text(encoding="utf-8"), path).operations[0].plan_input.parameters
    change_operation(path, "Face", {**before, "cut": "0.4 mm"})
    written = path.read_text(encoding="utf-8")
    assert 'kind = "face"' in written and 'dial = "carriage"' in written and 'cut = "0.4 mm"' in written


def test_a_run_from_the_first_version_that_cuts_outwards_continues_outwards(tmp_path: Path) -> None:
    """Today's program would cut from 2 to 0 inwards. The old run keeps its direction."""
    table = {"kind": "cut", "name": "Face", "dial": "carriage", "from": "2 mm", "to": "0 mm", "cut": "0.5 mm"}
    lathe = example_lathe()
    logged = LoggedPlanInput(
        kind="cut", parameters=table, material=None, lathe=dict(lathe.data), lathe_name=lathe.name, stand_in=True
    )
    its = plan_input_of(logged)
    plan = make_plan(its)
    assert plan.steps[0].zeroed_dials == ("carriage",)
    assert last_position(plan) == -2.0
    steps = replan(its, progress_of(plan.steps[:2], plan.steps[2:], 40), Measured(what="size", size_mm=1.5))
    assert [step for step in steps if step.action == "cut"][-1].settings[0].position < -1  # type: ignore[union-attr]
    operation = parse_job(FIRST.format(dial="carriage"), tmp_path / "job.toml").operations[0]
    assert logged_plan_input(operation.plan_input).kind == "face" and still_matches(logged.digests, operation)


def test_the_counter_states_the_direction_in_which_to_turn_the_dial() -> None:
    """It is clockwise towards the chuck, and outwards for a pass less deep than the last one."""
    run = Counted(METRIC, "face", dial="compound", remove="2 mm", cut="0.5 mm")
    run.done(2)
    assert run.view.dial is not None and {"clockwise", "chuck"} <= set(re.findall(r"\w+", run.view.dial.direction))
    run.done()
    run.revise("set", dial="cross_slide", position="0.2")
    assert run.cursor.removed_mm == 0
    assert run.view.dial is not None and "outwards" in run.view.dial.direction
