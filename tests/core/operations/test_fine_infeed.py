"""A fine infeed: the compound at a small angle to the surface, checked by moving a tool along a vector in numpy.

Sources: 10 to 1 at 5.739 degrees and 2 to 1 at 30 degrees are trigonometry, and common practice, no source.
"""

import math
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.cutting import Progress, progress_of
from core.inputs import Edited, Measured
from core.lathe.lathe import Lathe
from core.lathe.reader import example_lathe, lathe_from
from core.operations.compound_drawing import swing_drawing
from core.operations.fine_infeed import FineInfeed
from core.operations.registry import PlanInput, replan
from core.plan import Plan, Step
from core.run.revising import edited_input
from core.safety import INDICATOR_OFF
from core.values.dials import Setting
from core.values.errors import FileError, PlanError
from tests.core.counted import Counted
from tests.core.planned import make_plan

TURN = {"kind": "turn", "name": "it", "from": "30.12 mm", "to": "30 mm", "cut": "0.04 mm", "infeed_ratio": 10}
BORE = TURN | {"side": "inside", "from": "29.88 mm"}
FACE = {"kind": "face", "name": "it", "dial": "compound", "length_now": "20.2 mm", "length": "20 mm", "cut": "0.05 mm"}


def plan_input(table: dict[str, Any], lathe: Lathe) -> PlanInput:
    """Return the plan input of a table as a job file has it."""
    return PlanInput(kind=table["kind"], parameters=table, lathe=lathe)


def planned(table: dict[str, Any], lathe: Lathe | None = None) -> Plan:
    """Return the plan of a table as a job file has it."""
    return make_plan(plan_input(table, lathe or example_lathe()))


def with_scale(zero: str | None, graduation_deg: float = 1.0, end_deg: float | None = None, **dial: Any) -> Lathe:
    """Return the example lathe with another scale of the compound, or with none."""
    data = dict(example_lathe().data)
    data["dial"] = {**data["dial"], "compound": data["dial"]["compound"] | dial}
    end = {} if end_deg is None else {"scale_end": f"{end_deg} deg"}
    data["compound"] = {"scale_zero": zero, "scale_graduation": f"{graduation_deg} deg"} | end
    if zero is None:
        del data["compound"]
    return lathe_from(data, "test")


def compound_mm(step: Step) -> float:
    """Return the position of the compound at a pass [mm], from its zero."""
    (setting,) = step.settings
    assert isinstance(setting, Setting)
    assert setting.dial == "compound"
    return float(setting.position)


def cuts(plan: Plan) -> list[Step]:
    """Return the passes of a plan."""
    return [step for step in plan.steps if step.action == "cut"]


@pytest.mark.parametrize(("ratio", "angle_deg"), [(10, 5.739), (2, 30.0)])
def test_on_a_compound_without_a_scale_the_angle_gives_exactly_the_infeed_ratio(ratio: int, angle_deg: float) -> None:
    turned = planned(TURN | {"infeed_ratio": ratio, "from": "30.02 mm"}, with_scale(None)).figures
    assert turned["compound_angle_deg"] == pytest.approx(90 - angle_deg, abs=0.0005)
    assert turned["infeed_ratio"] == pytest.approx(ratio, abs=1e-6)
    faced = planned(FACE | {"infeed_ratio": ratio}, with_scale(None)).figures
    assert faced["compound_angle_deg"] == pytest.approx(angle_deg, abs=0.0005)


@given(
    st.integers(2, 30), st.sampled_from(["parallel", "perpendicular", None]), st.sampled_from([0.5, 1.0]), st.booleans()
)
def test_the_tool_reaches_each_planned_diameter_along_the_swung_compound(
    ratio: int, zero: str | None, graduation_deg: float, inside: bool
) -> None:
    """The axis is x, the radius y. The compound moves the tool along one unit vector from the surface."""
    plan = planned((BORE if inside else TURN) | {"infeed_ratio": ratio}, with_scale(zero, graduation_deg))
    along_deg = 90 - plan.figures["compound_angle_deg"]
    if "scale_reading_deg" in plan.figures:
        reading_deg = plan.figures["scale_reading_deg"]
        assert reading_deg == pytest.approx(along_deg if zero == "parallel" else 90 - along_deg)
        assert (reading_deg / graduation_deg) % 1 == pytest.approx(0)
        assert abs(along_deg - math.degrees(math.asin(1 / ratio))) <= graduation_deg / 2 + 1e-9
    sense = 1 if inside else -1
    unit = np.array([-math.cos(math.radians(along_deg)), sense * math.sin(math.radians(along_deg))])
    start = np.array([0.0, 29.88 / 2 if inside else 30.12 / 2])
    for step in cuts(plan):
        tool = start + compound_mm(step) * unit
        assert step.depth_mm == pytest.approx(abs(tool[1] - start[1]), abs=1e-9)
    assert plan.figures["compound_travel_mm"] == pytest.approx(compound_mm(cuts(plan)[-1]))
    assert plan.figures["sideways_mm"] == pytest.approx(abs(tool[0]), abs=1e-9)
    one_mark_mm = 2 * 0.02 * math.sin(math.radians(along_deg))
    assert abs(2 * tool[1] - 30.0) <= one_mark_mm / 2 + 1e-9


@given(st.integers(2, 30), st.sampled_from(["parallel", "perpendicular"]))
def test_the_tool_reaches_the_planned_length_along_the_swung_compound(ratio: int, zero: str) -> None:
    plan = planned(FACE | {"infeed_ratio": ratio}, with_scale(zero))
    from_square = math.radians(plan.figures["compound_angle_deg"])
    into, across = compound_mm(cuts(plan)[-1]) * np.array([math.sin(from_square), math.cos(from_square)])
    assert cuts(plan)[-1].depth_mm == pytest.approx(into)
    assert plan.figures["sideways_mm"] == pytest.approx(across)
    assert into == pytest.approx(0.2, abs=0.02 * math.sin(from_square) / 2 + 1e-9)


def test_a_measured_diameter_corrects_the_remaining_compound_travel_by_the_infeed_ratio() -> None:
    table = plan_input(TURN, example_lathe())
    plan = make_plan(table)
    at = next(index for index, step in enumerate(plan.steps) if step.action == "measure")
    done, still_open = plan.steps[:at], plan.steps[at:]
    reached_mm = compound_mm([step for step in done if step.action == "cut"][-1])
    steps = replan(table, progress_of(done, still_open, 100), Measured(what="size", size_mm=30.06))
    # 0.03 mm on the radius are still to come off, and the scale's mark at 6 degrees gives 9.567 to 1.
    travel_mm = 0.03 / math.sin(math.radians(6))
    last_mm = compound_mm([step for step in steps if step.action == "cut"][-1])
    assert last_mm - reached_mm == pytest.approx(travel_mm, abs=0.01)


def test_fine_infeed_zeroes_only_the_compound_and_locks_cross_slide_or_carriage() -> None:
    for table, locked in ((TURN, "cross-slide"), (BORE, "cross-slide"), (FACE | {"infeed_ratio": 10}, "carriage")):
        plan = planned(table)
        touch_off = next(step for step in plan.steps if step.zeroed_dials)
        assert touch_off.zeroed_dials == ("compound",)
        assert f"Lock the {locked}" in touch_off.text
        assert not any("Withdraw the tool" in movement for movement in plan.movements)


def test_the_tool_clears_the_work_by_half_a_millimetre_before_the_carriage_returns() -> None:
    # At 6 degrees 0.5 mm takes 4.78 mm of the compound, which is 3 turns of 2 mm.
    assert "3 turns" in planned(TURN).movements[2]


def test_for_fine_infeed_in_a_bore_the_compound_must_move_the_tool_away_from_the_axis() -> None:
    outside, bore = (planned(table).steps[0].text for table in (TURN, BORE))
    assert "the tool must move towards the axis" in outside
    assert "the tool must move away from the axis" in bore


def test_if_the_compound_scale_ends_too_early_the_angle_is_set_by_an_indicator() -> None:
    plan = planned(TURN, with_scale("perpendicular", end_deg=60))
    assert "scale_reading_deg" not in plan.figures
    assert "indicator" in plan.steps[0].text


@pytest.mark.parametrize(
    ("table", "key"),
    [
        (TURN | {"infeed_ratio": 1}, "infeed_ratio"),
        (TURN | {"infeed_ratio": 31}, "infeed_ratio"),
        (TURN | {"infeed_ratio": "10"}, "infeed_ratio"),
        (TURN | {"ends_at": "20 mm"}, "infeed_ratio"),
        (FACE | {"infeed_ratio": 10, "dial": "carriage"}, "infeed_ratio"),
        ({"kind": "groove", "name": "it", "dial": "compound", "depth": "1 mm", "cut": "1 mm", "infeed_ratio": 5}, ""),
        ({"kind": "thread", "name": "it", "thread": "M30x2", "infeed_ratio": 5}, ""),
    ],
)
def test_the_refusal_of_an_impossible_fine_infeed_names_the_key_infeed_ratio(table: dict[str, Any], key: str) -> None:
    with pytest.raises(FileError) as refused:
        planned(table)
    assert key or "infeed_ratio" in str(refused.value)
    assert "infeed_ratio" in str(refused.value)


def test_fine_infeed_on_a_lathe_without_a_compound_dial_is_refused() -> None:
    data = dict(example_lathe().data)
    data["dial"] = {name: dial for name, dial in data["dial"].items() if name != "compound"}
    with pytest.raises(FileError, match=r"dial\.compound"):
        planned(TURN, lathe_from(data, "test"))


def test_an_infeed_ratio_whose_nearest_mark_is_parallel_to_the_surface_is_refused() -> None:
    with pytest.raises(FileError, match="smaller ratio"):
        planned(TURN | {"infeed_ratio": 30}, with_scale("parallel", 5.0))


def test_a_cut_that_needs_more_than_the_travel_of_the_compound_is_refused() -> None:
    deep = TURN | {"from": "40 mm", "cut": "1 mm"}
    with pytest.raises(PlanError, match="of compound travel") as refused:
        planned(deep, with_scale("parallel", travel="40 mm"))
    assert refused.value.field == "infeed_ratio"
    assert planned(deep, with_scale("parallel", travel="60 mm")).figures["compound_travel_mm"] == pytest.approx(47.84)


@pytest.mark.parametrize(
    ("angle_deg", "surface", "reading"), [(6, "bore", "6°"), (6, "outside", "6°"), (12, "face", "78°")]
)
def test_the_drawing_shows_the_reading_of_a_scale_whose_zero_is_along_the_axis(
    angle_deg: float, surface: Any, reading: str
) -> None:
    drawn = swing_drawing(FineInfeed(angle_deg, surface).swing_to_draw(), with_scale("parallel"))
    assert f"scale {reading}" in [name.text for name in drawn.names]


def test_every_fine_infeed_setting_is_exactly_on_a_dial_mark() -> None:
    for step in cuts(planned(TURN)):
        (setting,) = step.settings
        assert isinstance(setting, Setting)
        assert setting.position % Fraction("0.02") == 0


def test_a_blank_measured_at_its_entered_diameter_keeps_the_planned_cuts() -> None:
    table = plan_input(TURN, example_lathe())
    steps = replan(table, Progress(next_id=2), Measured(what="size", size_mm=30.12))
    assert [step.depth_mm for step in steps if step.action == "cut"] == [
        step.depth_mm for step in cuts(make_plan(table))
    ]


PLAIN = {key: value for key, value in TURN.items() if key != "infeed_ratio"}
BY_CARRIAGE = FACE | {"dial": "carriage"}


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (PLAIN, TURN),
        (TURN, TURN | {"infeed_ratio": 5}),
        (BY_CARRIAGE, FACE),
        (FACE, FACE | {"infeed_ratio": 10}),
    ],
)
def test_an_edit_during_a_run_that_needs_another_compound_angle_swings_and_touches_off_again(
    before: dict[str, Any], after: dict[str, Any]
) -> None:
    """After the first pass the edited run sets up the compound, and the passes count from the new touch-off."""
    table, plan = plan_input(after, example_lathe()), planned(before)
    first = next(index for index, step in enumerate(plan.steps) if step.action == "cut")
    progress = progress_of(plan.steps[: first + 1], plan.steps[first + 1 :], 100)
    steps = replan(table, progress, Edited(plan_input={"kind": table.kind}))
    swing, touch_off, *others = steps
    assert swing.title == "Swing the compound" and touch_off.zeroed_dials == ("compound",)
    cut = next(step for step in others if step.action == "cut")
    depth_mm = plan.steps[first].depth_mm
    assert depth_mm is not None and cut.depth_mm is not None and cut.removed_mm is not None
    assert cut.depth_mm - cut.removed_mm == pytest.approx(depth_mm)
    in_passes = [step for step in others if step.action == "cut"]
    assert compound_mm(in_passes[0]) <= compound_mm(in_passes[-1])
    ratio = make_plan(table).figures.get("infeed_ratio", 1.0)
    assert compound_mm(cut) == pytest.approx(cut.removed_mm * ratio)


def test_an_edit_that_keeps_the_compound_angle_neither_swings_nor_touches_off_again() -> None:
    plan = planned(TURN)
    first = next(index for index, step in enumerate(plan.steps) if step.action == "cut")
    progress = progress_of(plan.steps[: first + 1], plan.steps[first + 1 :], 100)
    table = plan_input(TURN | {"to": "29.95 mm"}, example_lathe())
    assert replan(table, progress, Edited(plan_input={"kind": "turn"}))[0].action == "cut"


def test_an_angle_set_by_an_indicator_warns_to_take_the_indicator_off() -> None:
    assert INDICATOR_OFF in planned(TURN, with_scale(None)).steps[0].cautions
    assert INDICATOR_OFF not in planned(TURN).steps[0].cautions


@pytest.mark.parametrize(("before", "after", "slide"), [(PLAIN, TURN, "Compound"), (TURN, PLAIN, "Cross-slide")])
def test_after_an_edit_the_movements_of_a_pass_name_the_slide_that_the_edited_job_uses(
    before: dict[str, Any], after: dict[str, Any], slide: str
) -> None:
    run = Counted(example_lathe(), "turn", **{key: value for key, value in before.items() if key != "kind"})
    while run.cursor.action != "cut":
        run.done()
    assert slide not in run.view.movements[0]
    run.done()
    run.plan_input, edited = edited_input(run.plan_input._replace(parameters=after), run.state)
    run.tell(edited)
    while run.cursor.action != "cut":
        run.done()
    assert run.view.movements[0].startswith(slide)
