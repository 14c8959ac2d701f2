"""Turning in passes: equal roughing cuts, a semi-finishing cut as deep as the finishing cut, and corrections."""

import math
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from core.cutting import Progress, progress_of
from core.inputs import Measured, Moved
from core.lathe.lathe import Lathe
from core.lathe.reader import example_lathe, lathe_from
from core.operations.registry import PlanInput, replan
from core.plan import Plan
from core.values.errors import FileError, PlanError
from tests.core.entered import set_to
from tests.core.figures import figures
from tests.core.planned import make_plan


def turn(lathe: Lathe, **keys: Any) -> Plan:
    """Return the plan of a `turn` operation with the keys of a job file."""
    return make_plan(plan_input(lathe, **keys))


def plan_input(lathe: Lathe, **keys: Any) -> PlanInput:
    """Return the plan input of an operation with the keys of a job file (`from_` stands for "from")."""
    table = {key.rstrip("_"): value for key, value in keys.items()}
    return PlanInput(kind=table.get("kind", "turn"), parameters={"kind": "turn", "name": "it"} | table, lathe=lathe)


def removed(plan: Plan) -> list[float]:
    """Return how much each cut removes [mm]."""
    return [step.removed_mm or 0.0 for step in plan.steps if step.action == "cut"]


def test_the_planned_cuts_match_a_hand_calculation() -> None:
    """40 to 29.85 mm, at most 1 mm deep, finishing cut 0.15 mm, worked by hand.

    5.075 mm on the radius, less 2 x 0.15, is 4.775 mm. That makes ceil(4.775/1) = 5 equal cuts of 0.955 mm; in marks of
    0.025 mm they are 0.95 or 0.975 mm.
    """
    plan = turn(example_lathe(), from_="40 mm", to="29.85 mm", cut="1 mm", finish="0.15 mm")
    cuts = removed(plan)
    assert len(cuts) == 7
    assert all(cut == pytest.approx(0.95) or cut == pytest.approx(0.975) for cut in cuts[:5])
    assert cuts[5:] == pytest.approx([0.15, 0.15])
    last = [step for step in plan.steps if step.action == "cut"][-1]
    assert last.settings[0].position == Fraction("10.15")  # type: ignore[union-attr]
    assert [step.action for step in plan.steps].count("measure") == 2


@given(st.integers(200, 5000), st.integers(10, 400), st.integers(1, 100), st.booleans(), st.booleans())
def test_the_planned_cuts_end_at_the_mark_nearest_to_the_wanted_diameter(
    total: int, cut: int, finish: int, inside: bool, fall: bool
) -> None:
    """No cut is deeper than allowed, and the last two are equal."""
    assume(finish <= cut)
    lathe = example_lathe()
    data = dict(lathe.data)
    data["dial"] = {**data["dial"], "cross_slide": data["dial"]["cross_slide"] | {"numbers": "fall"}}
    lathe = lathe_from(data, "test") if fall else lathe
    small, large = 30.0, 30.0 + total / 100
    start, end = (small, large) if inside else (large, small)
    plan = turn(
        lathe,
        from_=f"{start:.2f} mm",
        to=f"{end:.2f} mm",
        cut=f"{cut / 100} mm",
        finish=f"{finish / 100} mm",
        side="inside" if inside else "outside",
    )
    cuts = removed(plan)
    mark = 0.025
    assert abs(sum(cuts) - total / 200) <= mark / 2 + 1e-9
    assert all(0 < size <= max(cut / 100, mark) + 1e-9 for size in cuts)
    if len(cuts) > 2:
        assert cuts[-1] == pytest.approx(cuts[-2])
        assert max(cuts[:-2]) - min(cuts[:-2]) <= mark + 1e-9
    counts_down = inside != fall
    for step in plan.steps:
        for setting in step.settings:
            assert math.copysign(1, setting.position or 1.0) == (-1 if counts_down and setting.position else 1)  # type: ignore[union-attr]


def test_a_measured_diameter_corrects_the_later_cuts() -> None:
    """A diameter 0.06 mm too large: the last cut is 0.05 mm (one mark) further, and no cut is deeper than planned.

    Seven marks of 0.025 mm are left. A finishing cut takes six marks, so the cuts are four and three marks.
    """
    lathe = example_lathe()
    its = plan_input(lathe, from_="30 mm", to="26.8 mm", cut="0.75 mm", finish="0.15 mm")
    at_semi_finish = Progress(next_id=20, depth_mm=1.45, positions={"cross_slide": Fraction("2.9")})
    steps = replan(its, at_semi_finish, Measured(what="size", size_mm=27.16))
    assert [step.action for step in steps] == ["cut", "measure", "cut", "check"]
    # 27.16 mm for 26.8 mm: 0.36 more than the present 2.90 is 3.26, nearest mark 3.25.
    assert [step.settings[0].position for step in steps if step.action == "cut"] == [Fraction("3.1"), Fraction("3.25")]  # type: ignore[union-attr]
    assert steps[0].id == 20


def ended(lathe: Lathe, position: str, size_mm: float, **keys: Any) -> tuple[Any, ...]:
    """Return the new steps after a size is measured with the cross-slide at `position`."""
    its = plan_input(lathe, **({"from_": "30 mm", "to": "26.8 mm", "cut": "0.75 mm", "finish": "0.15 mm"} | keys))
    depth_mm = float(position) / 2
    there = Progress(next_id=20, depth_mm=depth_mm, positions={"cross_slide": Fraction(position)})
    return replan(its, there, Measured(what="size", size_mm=size_mm))


def test_a_last_cut_that_will_remove_too_much_gets_a_caution() -> None:
    """27.08 - 0.30 ends 0.02 mm past 26.80; one mark less is 0.03 mm short. 27.07 - 0.25 is 0.02 mm short."""
    steps = ended(example_lathe(), "2.9", 27.08)
    assert [step.action for step in steps] == ["cut", "check"]
    assert steps[0].settings[0].position == Fraction("3.2")
    assert [figures(caution) for caution in steps[0].cautions] == [{"0.02", "0.03"}]
    assert [figures(caution) for caution in ended(example_lathe(), "2.9", 27.07)[0].cautions] == [{"0.02"}]
    assert ended(example_lathe(), "2.9", 27.10)[0].cautions == ()


@pytest.mark.parametrize(("size_mm", "last"), [(27.025, 3.1), (27.075, 3.15), (27.125, 3.2)])
def test_a_size_half_way_between_two_marks_is_cut_to_the_shallower_mark(size_mm: float, last: float) -> None:
    """Removed metal cannot be put back. 26.80 is half a mark of 0.05 mm beyond each mark."""
    cut = ended(example_lathe(), "2.9", size_mm)[0]
    assert float(cut.settings[0].position) == last
    assert [figures(caution) for caution in cut.cautions] == [{"0.025"}]


def test_only_the_last_cut_has_a_caution_about_missing_the_exact_size() -> None:
    """30 to 26.78 mm is 64.4 marks of 0.05 mm. 64 marks end 0.02 mm short."""
    plan = turn(example_lathe(), from_="30 mm", to="26.78 mm", cut="0.75 mm")
    cuts = [step for step in plan.steps if step.action == "cut"]
    assert [figures(caution) for caution in cuts[-1].cautions] == [{"0.02"}]
    assert not any(cut.cautions for cut in cuts[:-1])


def test_a_roughing_cut_that_would_be_too_thin_is_added_to_the_next_cut() -> None:
    """27.43 mm for 27.40 mm leaves 13 marks of 0.025 mm: 7, then 6 to finish, and no cut of one mark."""
    steps = ended(example_lathe(), "2.6", 27.43)
    assert [step.action for step in steps] == ["cut", "measure", "cut", "check"]
    assert [round((step.removed_mm or 0) / 0.025) for step in steps if step.action == "cut"] == [7, 6]
    assert steps[2].settings[0].position == Fraction("3.25")


def test_a_measured_size_is_reported_if_unexpected_and_refused_if_impossible() -> None:
    """The dial predicts 27.40 mm. 27.83 mm is reported. 273.8 mm, without its decimal point, is refused."""
    words = ended(example_lathe(), "2.6", 27.83)[0].findings
    assert figures(words[0]) >= {"27.4", "27.83", "0.43"}
    assert not any("27.5" in figures(word) for word in ended(example_lathe(), "2.6", 27.5)[0].findings)
    # Twice the 3.2 of the whole cut, and a cut of 2 x 0.75 more: 26.8 + 6.4 + 1.5.
    with pytest.raises(PlanError, match=r"\b34\.7 mm"):
        ended(example_lathe(), "2.6", 273.8)


def test_work_that_has_moved_is_touched_off_at_its_measured_size() -> None:
    """The step has the measured size, not the starting diameter."""
    its = plan_input(example_lathe(), from_="30 mm", to="26.8 mm", cut="0.75 mm")
    steps = replan(its, Progress(next_id=9), Moved(size=Measured(what="size", size_mm=27.4)))
    assert steps[0].zeroed_dials == ("cross_slide",) and "27.4" in figures(steps[0].text)
    assert [step.settings[0].position for step in steps if step.action == "cut"][-1] == Fraction("0.6")  # type: ignore[union-attr]
    its = plan_input(example_lathe(), kind="face", dial="carriage", from_="5 mm", to="9 mm", cut="1 mm")
    steps = replan(its, Progress(next_id=9), Moved(size=Measured(what="size", size_mm=6.0)))
    assert steps[0].zeroed_dials == ("carriage",) and not figures(steps[0].text) - {"0"}
    assert [step.settings[0].position for step in steps if step.action == "cut"][-1] == Fraction("3.0")  # type: ignore[union-attr]


def test_work_cut_past_its_wanted_size_gets_no_more_cuts() -> None:
    """The only step states how far the work is past the size."""
    its = plan_input(example_lathe(), from_="30 mm", to="26.8 mm", cut="0.75 mm")
    at_end = Progress(next_id=9, depth_mm=1.6, positions={"cross_slide": Fraction("3.2")})
    steps = replan(its, at_end, Measured(what="size", size_mm=26.70))
    assert [step.action for step in steps] == ["check"]
    assert "0.1" in figures(steps[0].text)
    short, past = (ended(example_lathe(), "3.2", size_mm)[0].text for size_mm in (26.81, 26.79))
    assert figures(short) == figures(past) == {"0.01"} and short != past


@pytest.mark.parametrize(
    ("keys", "named"),
    [
        ({"from_": "10 mm", "to": "12 mm", "cut": "1 mm"}, "to"),
        ({"from_": "10 mm", "to": "8 mm", "cut": "0 mm"}, "cut"),
        ({"from_": "10 mm", "to": "8 mm"}, "cut"),
        ({"from_": "10 mm", "to": "8 mm", "cut": "1 mm", "finish": "2 mm"}, "finish"),
        ({"from_": "10 mm", "to": "8 mm", "cut": "1 mm", "side": "top"}, "side"),
        ({"from_": "10 mm", "to": "8 mm", "cut": "1 mm", "feed": "1 mm"}, "feed"),
        ({"from_": "-1 mm", "to": "-2 mm", "cut": "1 mm"}, "from"),
        ({"kind": "face", "dial": "quill", "from_": "0 mm", "to": "2 mm", "cut": "1 mm"}, "dial"),
        ({"kind": "face", "dial": "carriage", "from_": "2 mm", "to": "2 mm", "cut": "1 mm"}, "to"),
    ],
)
def test_each_refusal_of_a_turning_cut_begins_with_the_name_of_the_wrong_key(keys: dict[str, str], named: str) -> None:
    """A screen shows the sentence at the field of that key."""
    with pytest.raises(FileError) as refusal:
        make_plan(plan_input(example_lathe(), **keys))
    assert refusal.value.messages[0].startswith(named)


def test_turning_less_than_one_dial_mark_is_refused() -> None:
    """The dial cannot set so small a cut."""
    with pytest.raises(PlanError):
        turn(example_lathe(), from_="10 mm", to="9.98 mm", cut="1 mm")


def test_setting_the_dial_differently_after_a_measurement_keeps_the_correction() -> None:
    """The diameter is 0.2 mm too large, then the dial is set one mark further. The last cut still ends at 29.85 mm."""
    its = plan_input(example_lathe(), from_="40 mm", to="29.85 mm", cut="1 mm", finish="0.15 mm")
    plan = make_plan(its)
    at = [step.action for step in plan.steps].index("measure")
    stood_at = plan.steps[at - 1].settings[0].position  # type: ignore[union-attr]
    size_mm = 40 - stood_at + 0.2
    done = plan.steps[:at]
    measured = replan(its, progress_of(done, plan.steps[at:], 100), Measured(what="size", size_mm=size_mm))
    first = measured[0].settings[0].position  # type: ignore[union-attr]
    steps = replan(its, progress_of(done, measured, 200), set_to(f"{first + 0.05:.2f}"))
    last = [step for step in steps if step.action == "cut"][-1].settings[0].position  # type: ignore[union-attr]
    assert size_mm - (last - stood_at) == pytest.approx(29.85, abs=0.025)
