"""Where cuts start and end along the axis: readings worked by hand, and a simulated carriage with backlash.

The arithmetic is that of any handwheel (common practice, no source): turns are the whole part of length / travel per
turn, and the reading is the remainder. The carriage of the metric sample lathe moves 18 mm per turn, with marks of 0.1
mm.
"""

from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from core.cutting import progress_of
from core.inputs import Edited, Measured, Moved
from core.lathe.reader import lathe_from
from core.operations.lengths import CutLength, on_a_rule_mm
from core.operations.registry import replan
from core.run.revising import shown_text
from core.safety import STOP_FIRST
from core.values.errors import PlanError
from tests.core.figures import figures
from tests.core.operations.length_jobs import (
    LATHE,
    Carriage,
    an_input,
    carriage_at,
    cuts,
    done_up_to,
    movements,
    play,
    problems,
)
from tests.core.planned import make_plan


@pytest.mark.parametrize(
    ("length", "turns", "reading"), [("22 mm", 1, "4"), ("40 mm", 2, "4"), ("17.9 mm", 0, "17.9"), ("60 mm", 3, "6")]
)
def test_the_last_pass_ends_at_the_carriage_reading_calculated_by_hand(length: str, turns: int, reading: str) -> None:
    """22 = 1 x 18 + 4; 40 = 2 x 18 + 4; 60 = 3 x 18 + 6."""
    setting = cuts(make_plan(an_input(ends_at=length)).steps)[-1].setting("carriage")
    assert setting is not None
    assert (setting.turns, setting.reading) == (turns, Fraction(reading))


def test_all_passes_but_the_last_stop_before_the_shoulder_by_the_depth_of_a_finishing_cut() -> None:
    """The finishing cut of 0.2 mm is two marks. The earlier passes end at 21.8 mm, and the last one at 22 mm."""
    positions = [carriage_at(step) for step in cuts(make_plan(an_input(ends_at="22 mm")).steps)]
    assert positions == [Fraction("21.8")] * (len(positions) - 1) + [Fraction(22)]


def test_the_movements_of_a_pass_state_its_length_and_the_carriage_reading() -> None:
    """The end is stated as a length and as turns with a reading."""
    its = an_input(ends_at="22 mm")
    last = cuts(make_plan(its).steps)[-1]
    assert any("22 mm" in words and "1 turn 4.0 mm" in words for words in movements(its, last))


def test_lengths_count_from_the_reading_of_a_carriage_dial_that_cannot_be_zeroed() -> None:
    """The dial reads 15.0 at the face. 22 mm further it has passed its 0 twice: 37 = 2 x 18 + 1."""
    data = dict(LATHE.data)
    data["dial"] = {**data["dial"], "carriage": data["dial"]["carriage"] | {"can_zero": False}}
    lathe = lathe_from(data, "test")
    its = an_input(lathe=lathe, ends_at="22 mm")
    first, *others = make_plan(its).steps
    assert first.required and first.zeroed_dials == ("carriage",)
    shown = " ".join(movements(its, cuts(others)[-1], {"carriage": Fraction(15)}))
    assert "1.0 mm, past its 0 2 times" in shown


def test_an_operation_without_lengths_has_no_step_for_the_carriage() -> None:
    """All keys about lengths are optional. Without them the plan has the usual movements."""
    plan = make_plan(an_input())
    assert all(setting.dial != "carriage" for step in plan.steps for setting in step.settings)
    assert plan.movements and not any("ends_at" in str(step.extra) for step in plan.steps)


# Rule and stop.


@pytest.mark.parametrize(
    ("place_mm", "unit", "shown_mm"),
    [(22.3, "mm", 22.5), (22.25, "mm", 22.0), (22.2, "mm", 22.0), (22.0, "in", 55 / 64 * 25.4)],
)
def test_a_length_set_by_rule_is_rounded_to_half_millimetres_or_64ths_of_an_inch(
    place_mm: float, unit: str, shown_mm: float
) -> None:
    """22 mm is 55.43/64 in, so the nearest mark is 55/64 in. Half-way between two marks the shorter one counts."""
    assert on_a_rule_mm(place_mm, unit) == pytest.approx(shown_mm)


def test_a_length_between_two_marks_of_a_rule_gets_a_caution() -> None:
    """22.3 mm is scribed at 22.5 mm, which is 0.2 mm too far."""
    plan = make_plan(an_input(ends_at="22.3 mm", lengths_by="rule"))
    assert figures(next(words for words in plan.cautions if "rule" in words)) == {"0.2"}
    assert "22.5 mm" in plan.steps[0].text
    assert "22.5 mm" in " ".join(movements(an_input(ends_at="22.3 mm", lengths_by="rule"), cuts(plan.steps)[0]))


def test_the_carriage_stop_is_set_first_and_then_tried() -> None:
    """The first step sets the stop and the second tries it in a dry run. No pass needs the carriage dial."""
    plan = make_plan(an_input(ends_at="22 mm", lengths_by="stop"))
    assert [step.title for step in plan.steps[:2]] == ["Set the carriage stop", "Try the stop"]
    assert all(step.setting("carriage") is None for step in plan.steps)


def test_shorter_shoulders_need_spacers_between_carriage_and_stop() -> None:
    """The stop is at 60 mm, so 48.5 mm needs spacers of 11.5 mm and 22 mm needs 38 mm."""
    its = an_input("shoulders", lengths_by="stop")
    plan = make_plan(its)
    assert [step.title for step in plan.steps].count("Set the carriage stop") == 1
    words = " ".join(" ".join(movements(its, step)) for step in cuts(plan.steps))
    assert "11.5 mm of spacers" in words and "38 mm of spacers" in words


@pytest.mark.parametrize("by", ["stop", "carriage dial"])
def test_after_a_move_or_an_edit_one_carriage_stop_still_serves_all_shoulders(by: str) -> None:
    """The stop is at 60 mm, so 11.5 mm of spacers end a cut at 48.5 mm. A stop at 48.5 mm would end it at 37 mm."""
    its = an_input("shoulders", lengths_by="stop")
    steps = make_plan(an_input("shoulders", lengths_by=by)).steps
    at = next(number for number, step in enumerate(steps) if step.title == "Finish 30 mm")
    moved = Moved(size=Measured(what="size", size_mm=30.4))
    new = replan(its, done_up_to(steps, at), moved if by == "stop" else Edited(plan_input={}))
    tried = next(step for step in new if step.title == "Try the stop")
    assert "Wanted: 60 mm" in tried.text
    if by != "stop":
        assert "a spacer of 60 mm" in next(step.text for step in new if step.title == "Set the carriage stop")
    assert any("11.5 mm of spacers" in words for words in movements(its, cuts(new)[0]))


def test_the_first_pass_of_a_shorter_shoulder_names_its_spacers() -> None:
    """60 - 48.5 = 11.5 mm and 60 - 22 = 38 mm. The longest shoulder needs none, and later passes keep them."""
    its = an_input("shoulders", lengths_by="stop")
    passes = cuts(make_plan(its).steps)
    put = {step.id: movements(its, step)[0] for step in passes if movements(its, step)[0].startswith("Put")}
    starts = [next(step for step in passes if step.title.endswith(name)) for name in ("30 mm", "25 mm")]
    amounts = ["11.5 mm", "38 mm"]
    assert put == {
        step.id: f"Put {amount} of spacers against the stop" for step, amount in zip(starts, amounts, strict=True)
    }
    assert all(amount in step.cautions[0] for step, amount in zip(starts, amounts, strict=True))
    again = replan(its, done_up_to(passes, passes.index(starts[1])), Moved(size=Measured(what="size", size_mm=30.0)))
    assert movements(its, cuts(again)[0])[0] == "Put 38 mm of spacers against the stop"


def test_the_line_for_each_shoulder_is_scribed_just_before_the_shoulder_is_cut() -> None:
    """A line for a shorter shoulder would be cut away with the longer one."""
    plan = make_plan(an_input("shoulders", lengths_by="rule"))
    titles = [step.title for step in plan.steps]
    assert titles.count("Scribe the lengths") == 3
    at = titles.index("Scribe the lengths", 1)
    assert "Finish 36 mm" in titles[:at] and "Finish 30 mm" not in titles[:at]


# Grooves.


@pytest.mark.parametrize(
    ("edge", "places"),
    [("left", [Fraction(15), Fraction("16.5"), Fraction(18)]), ("right", [12, Fraction("13.5"), 15])],
)
def test_the_plunges_of_a_groove_allow_for_the_width_of_the_tool(edge: str, places: list[Fraction]) -> None:
    """Walls at 12 and 18 mm, tool 3 mm: the left edge goes from 15 to 18 mm, the right edge from 12 to 15 mm."""
    its = an_input("groove", starts_at="12 mm", ends_at="18 mm", tool_width="3 mm", touched_edge=edge)
    first = cuts(make_plan(its).steps)[0]
    assert carriage_at(first) == places[-1]
    assert first.extra["ends_at_mm"] == [float(place) for place in places]
    assert len([words for words in movements(its, first) if "edge at" in words]) == 3


def test_the_text_of_a_groove_states_the_carriage_reading_of_each_plunge() -> None:
    """15, 16.5 and 18 mm on a dial of 18 mm per turn. A face read at 1.5 mm moves every reading by 1.5 mm."""
    its = an_input("groove", starts_at="12 mm", ends_at="18 mm", tool_width="3 mm")
    steps = make_plan(its).steps
    text = cuts(steps)[0].text
    readings = ["15 mm (carriage reads 15.0 mm)", "16.5 mm (carriage reads 16.5 mm)"]
    assert all(words in text for words in [*readings, "18 mm (carriage reads 1 turn and 0.0 mm)"])
    state = SimpleNamespace(zeros={"carriage": Fraction("1.5")})
    shown = shown_text(LATHE, state, cuts(steps)[0])  # type: ignore[arg-type]
    readings = ["15 mm (carriage reads 16.5 mm)", "16.5 mm (carriage reads 0.0 mm, past its 0)"]
    assert all(words in shown for words in [*readings, "18 mm (carriage reads 1.5 mm, past its 0)"])
    at = next(number for number, step in enumerate(steps) if step.action == "cut") + 1
    new = replan(its, done_up_to(steps, at), Measured(what="length", size_mm=17.5))
    assert "15 mm (carriage reads 15.5 mm)" in cuts(new)[0].text


@pytest.mark.parametrize(
    ("now", "wanted", "face"), [("30 mm", "36 mm", "the mouth of the bore"), ("36 mm", "30 mm", "the end face")]
)
def test_the_position_of_a_groove_in_a_bore_counts_from_the_mouth_of_the_bore(now: str, wanted: str, face: str) -> None:
    """Two diameters show the side without a key for it. Only a groove in a bore grows."""
    keys = {"diameter_now": now, "diameter": wanted, "ends_at": "18 mm", "starts_at": "15 mm", "tool_width": "3 mm"}
    texts = [step.text for step in make_plan(an_input("groove", **keys)).steps]
    assert any(f"just touches {face}" in text for text in texts)
    assert all(face in step.text for step in cuts(make_plan(an_input("groove", **keys)).steps))


@pytest.mark.parametrize("width_mm", [3.0, 3.2, 5.0, 8.9, 12.0])
def test_the_plunges_of_a_wide_groove_cover_its_whole_width(width_mm: float) -> None:
    """On a fine grid every point between the walls is under the tool at least once, and no point outside."""
    length = CutLength(10.0, 10.0 + width_mm, "carriage dial", tool_width_mm=3.0)
    grid = np.linspace(5, 30, 5001)
    cut = np.zeros_like(grid, dtype=bool)
    for left_mm in length.places_mm:
        cut |= (grid <= left_mm + 1e-9) & (grid >= left_mm - 3.0 - 1e-9)
    assert np.array_equal(cut, (grid >= 10.0 - 1e-9) & (grid <= 10.0 + width_mm + 1e-9))


# Measured lengths.


def test_a_measured_length_corrects_the_carriage_readings_of_later_passes() -> None:
    """The dial reads 21.8 mm for a shoulder at 21.6 mm, so it must read 22.2 mm for a shoulder at 22 mm."""
    its = an_input(ends_at="22 mm")
    steps = make_plan(its).steps
    at = next(number for number, step in enumerate(steps) if step.action == "measure")
    new = replan(its, done_up_to(steps, at), Measured(what="length", size_mm=21.6))
    assert [carriage_at(step) for step in cuts(new)] == [Fraction(22), Fraction("22.2")]
    assert figures(new[0].findings[0]) == {"21.6", "21.8", "0.2"}


def test_measuring_a_diameter_keeps_the_earlier_correction_of_the_length() -> None:
    """The diameter corrects the cross-slide. The carriage keeps the correction by the length measured before."""
    its = an_input(ends_at="22 mm")
    steps = make_plan(its).steps
    at = next(number for number, step in enumerate(steps) if step.action == "measure")
    new = replan(its, done_up_to(steps, at), Measured(what="length", size_mm=21.6))
    both = replan(its, progress_of(steps[:at], new, next_id=2000), Measured(what="size", size_mm=36.9))
    assert [carriage_at(step) for step in cuts(both)] == [Fraction(22), Fraction("22.2")]


def test_metal_left_at_the_shoulder_gets_one_more_pass() -> None:
    """21.7 mm is measured after the last pass for 22 mm. One pass at the same depth goes 0.3 mm further."""
    its = an_input(ends_at="22 mm")
    steps = make_plan(its).steps
    new = replan(its, done_up_to(steps, len(steps) - 1), Measured(what="length", size_mm=21.7))
    assert [step.action for step in new] == ["spring", "check"]
    assert carriage_at(new[0]) == Fraction("22.3")
    assert new[0].setting("cross_slide") == cuts(steps)[-1].setting("cross_slide")


def test_a_shoulder_cut_too_far_is_reported_with_the_amount_to_face_off() -> None:
    """22.3 mm is measured for 22 mm. Facing off 0.3 mm corrects the length, and no further cut is planned."""
    its = an_input(ends_at="22 mm")
    steps = make_plan(its).steps
    new = replan(its, done_up_to(steps, len(steps) - 1), Measured(what="length", size_mm=22.3))
    assert not cuts(new) and "0.3" in figures(new[0].findings[0])


@pytest.mark.parametrize("kind", ["turn", "shoulders"])
def test_a_length_measured_after_the_last_step_adds_a_step_with_its_findings(kind: str) -> None:
    """22.2 mm is measured for 22 mm, so 0.2 mm must come off the face."""
    its = an_input(kind, **({"ends_at": "22 mm"} if kind == "turn" else {}))
    steps = make_plan(its).steps
    (check,) = replan(its, done_up_to(steps, len(steps)), Measured(what="length", size_mm=22.2))
    assert check.action == "check" and "0.2" in figures(check.findings[0])


@pytest.mark.parametrize("size_mm", [2.2, 220.0])
def test_an_impossible_measured_length_is_refused(size_mm: float) -> None:
    """A misplaced decimal point must not move the carriage."""
    its = an_input(ends_at="22 mm")
    steps = make_plan(its).steps
    with pytest.raises(PlanError, match="cannot be right"):
        replan(its, done_up_to(steps, 4), Measured(what="length", size_mm=size_mm))


def test_after_the_work_has_moved_the_tool_touches_off_on_the_face_again() -> None:
    """The carriage counts from the face again, without the correction measured before the move."""
    its = an_input(ends_at="22 mm")
    steps = make_plan(its).steps
    new = replan(its, done_up_to(steps, 4), Moved(size=Measured(what="size", size_mm=38.3)))
    assert {dial for step in new[:2] for dial in step.zeroed_dials} == {"carriage", "cross_slide"}
    assert carriage_at(cuts(new)[-1]) == 22


def test_a_length_measured_right_after_a_touch_off_is_refused() -> None:
    """The dial now counts from another zero than in the last pass, so its reading cannot be compared."""
    its = an_input(ends_at="22 mm")
    steps = make_plan(its).steps
    moved = replan(its, done_up_to(steps, 4), Moved(size=Measured(what="size", size_mm=38.3)))
    again = progress_of((*steps[:4], *moved[:2]), moved[2:], next_id=2000)
    with pytest.raises(PlanError, match="touched off with the carriage since the last pass"):
        replan(its, again, Measured(what="length", size_mm=21.5))


def test_a_length_added_during_a_run_requires_a_touch_off_on_the_face_first() -> None:
    """The carriage dial was not set before in this run."""
    old, new_input = an_input(), an_input(ends_at="22 mm")
    steps = make_plan(old).steps
    new = replan(new_input, done_up_to(steps, 3), Edited(plan_input={}))
    assert new[0].zeroed_dials == ("carriage",) and carriage_at(cuts(new)[-1]) == 22


@pytest.mark.parametrize(
    ("by", "titles"),
    [("stop", ["Set the carriage stop", "Try the stop"]), ("rule", ["Scribe the lengths"]), ("carriage dial", [])],
)
def test_after_a_length_is_edited_its_stop_or_scribed_line_is_set_up_again(by: str, titles: list[str]) -> None:
    """The end moves from 22 to 30 mm, and back to 22 mm. The carriage dial counts on from the same face."""
    old, longer = (an_input(ends_at=end, lengths_by=by) for end in ("22 mm", "30 mm"))
    steps = make_plan(old).steps
    at = next(number for number, step in enumerate(steps) if step.action == "cut") + 1
    new = replan(longer, done_up_to(steps, at), Edited(plan_input={}))
    assert [step.title for step in new if step.action != "cut"][: len(titles)] == titles
    assert all("30" in step.text for step in new[: len(titles)])
    done = [*steps[:at], *new[: len(titles) + 1]]
    back = replan(old, progress_of(done, new[len(titles) + 1 :], next_id=2000), Edited(plan_input={}))
    assert [step.title for step in back[: len(titles)]] == titles
    assert all("22" in step.text for step in back[: len(titles)])


def test_touching_off_on_a_newly_chosen_face_ends_the_earlier_correction_of_the_length() -> None:
    """21.6 mm was measured from the end face. The correction by 0.2 mm does not apply to the flange."""
    its = an_input(ends_at="22 mm")
    steps = make_plan(its).steps
    at = next(number for number, step in enumerate(steps) if step.action == "measure")
    measured = replan(its, done_up_to(steps, at), Measured(what="length", size_mm=21.6))
    done = progress_of([*steps[:at], measured[0]], measured[1:], next_id=2000)
    new = replan(an_input(ends_at="22 mm", zero_face="the flange"), done, Edited(plan_input={}))
    assert new[0].zeroed_dials == ("carriage",) and "the flange" in new[0].text
    assert carriage_at(cuts(new)[-1]) == 22
    same = replan(an_input(ends_at="22 mm", cut="0.5 mm"), done, Edited(plan_input={}))
    assert not any(step.zeroed_dials for step in same) and carriage_at(cuts(same)[-1]) == Fraction("22.2")


@pytest.mark.parametrize("title", ["Rough 30 mm", "Finish 36 mm"])
def test_an_edited_shoulder_gets_a_newly_scribed_line(title: str) -> None:
    """The shoulder of 30 mm ends at 45 mm instead of 48.5 mm, before or after its first line is scribed."""
    edited = [["25 mm", "22 mm"], ["30 mm", "45 mm"], ["36 mm", "60 mm"]]
    steps = make_plan(an_input("shoulders", lengths_by="rule")).steps
    at = next(number for number, step in enumerate(steps) if step.title == title) + 1
    its = an_input("shoulders", shoulders=edited, lengths_by="rule")
    new = replan(its, done_up_to(steps, at), Edited(plan_input={}))
    lines = [step.text for step in new if step.title == "Scribe the lengths"]
    assert len(lines) == 2 and "at 45.0 mm" in lines[0] and "at 22.0 mm" in lines[1]


def test_a_wrongly_set_carriage_stop_is_moved_by_the_error_of_the_measured_length() -> None:
    """The shoulder is 0.15 mm too short, so the stop is moved 0.15 mm towards the chuck and tried, spindle stopped."""
    its = an_input(ends_at="22 mm", lengths_by="stop")
    steps = make_plan(its).steps
    new = replan(its, done_up_to(steps, 4), Measured(what="length", size_mm=21.85))
    assert new[0].title == "Correct the stop" and "0.15 mm towards the chuck" in new[0].text
    assert new[0].text.startswith(STOP_FIRST) and new[1].title == "Try the stop"


def test_the_carriage_returns_until_the_tool_is_clear_of_the_start_of_the_length() -> None:
    """For a length from 5 to 22 mm the carriage goes back until the tool is clear of 5 mm."""
    its = an_input(starts_at="5 mm", ends_at="22 mm")
    assert any("clear of 5 mm" in words for words in movements(its, cuts(make_plan(its).steps)[0]))


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"starts_at": "5 mm"}, 'without "ends_at"'),
        ({"ends_at": "5 mm", "starts_at": "6 mm"}, "not further from the face than the start"),
        ({"ends_at": "5 mm", "lengths_by": "eye"}, "not one of the choices"),
        ({"kind": "groove", "ends_at": "5 mm"}, "width of the grooving tool"),
        ({"kind": "groove", "ends_at": "5 mm", "tool_width": "6 mm"}, "wider than the groove"),
        ({"kind": "groove", "ends_at": "95 mm", "tool_width": "3 mm"}, "plunges"),
        (
            {"kind": "groove", "dial": "carriage", "diameter_now": "1 mm", "ends_at": "5 mm", "tool_width": "2 mm"},
            "itself",
        ),
    ],
)
def test_start_end_and_tool_width_that_contradict_each_other_are_refused(keys: dict[str, Any], words: str) -> None:
    """Each sentence says what is wrong and what to enter."""
    assert words in problems(**keys)


@pytest.mark.parametrize(
    ("kind", "keys", "key"),
    [
        ("turn", {"from": "36.001 mm"}, "to"),
        ("groove", {"diameter_now": "30.001 mm"}, "diameter"),
        ("face", {"dial": "carriage", "remove": "0.001 mm"}, "remove"),
        ("shoulders", {"from": "36.001 mm"}, "shoulders"),
        ("taper", {"large": "18 mm", "small": "17.999 mm", "length": "40 mm"}, "small"),
    ],
)
def test_a_size_less_than_one_mark_from_the_starting_size_is_refused_under_its_key(
    kind: str, keys: dict[str, str], key: str
) -> None:
    """The form shows the sentence beside the field of this key."""
    with pytest.raises(PlanError, match="less than one mark") as refused:
        make_plan(an_input(kind, **keys))
    assert refused.value.field == key


def test_on_a_lathe_without_a_carriage_dial_lengths_are_set_by_rule() -> None:
    """If the job asks for the missing dial, the job is refused."""
    data = dict(LATHE.data)
    data["dial"] = {name: dial for name, dial in data["dial"].items() if name != "carriage"}
    lathe = lathe_from(data, "test")
    assert make_plan(an_input(lathe=lathe, ends_at="22 mm")).figures["lengths_by"] == "rule"
    assert "no carriage dial" in problems(lathe=lathe, ends_at="22 mm", lengths_by="carriage dial")


@pytest.mark.parametrize("seed", range(8))
def test_backlash_of_the_carriage_moves_no_shoulder_by_more_than_half_a_mark(seed: int) -> None:
    """The backlash is up to 1 mm. Every position is reached towards the chuck, like the face."""
    random = np.random.default_rng(seed)
    carriage = Carriage(float(random.uniform(0, 1)), float(random.uniform(-50, 50)))
    lengths = np.round(np.sort(random.uniform(5, 80, 3)), 2)
    shoulders = [[f"{diameter} mm", f"{length} mm"] for diameter, length in zip((25, 30, 36), lengths, strict=True)]
    carriage.touch_face()
    reached: dict[str, float] = {}
    for step in cuts(make_plan(an_input("shoulders", shoulders=shoulders)).steps):
        came_to = carriage.feed_to(float(carriage_at(step)))
        name = step.title.rpartition(" ")[0].split()[-1]
        reached[name] = max(reached.get(name, 0.0), came_to)
    assert sorted(reached.values()) == pytest.approx(list(lengths), abs=0.05 + 1e-9)


def test_a_position_approached_from_the_wrong_side_is_wrong_by_the_backlash() -> None:
    """This shows that the simulation can fail. numpy's play operator gives the same error."""
    carriage = Carriage(0.4, 0.0)
    carriage.touch_face()
    assert carriage.feed_to(22.0, from_beyond=True) == pytest.approx(22.4)
    there = np.array([carriage.zero_mm + 3.0, carriage.zero_mm])
    assert play(carriage, there)[-1] - carriage.face_mm == pytest.approx(0.4)


@pytest.mark.parametrize("error_mm", [-0.37, -0.12, 0.08, 0.15])
def test_one_measured_length_corrects_a_wrong_touch_off_for_all_shoulders(error_mm: float) -> None:
    """The tool missed the face by some tenths. The measured length corrects this shoulder and both later ones."""
    its = an_input("shoulders")
    carriage = Carriage(0.3, 0.0)
    carriage.touch_face(error_mm)
    steps = make_plan(its).steps
    at = next(number for number, step in enumerate(steps) if step.action == "measure")
    measured_mm = round(max(carriage.feed_to(float(carriage_at(step))) for step in cuts(steps[:at])), 2)
    new = replan(its, done_up_to(steps, at), Measured(what="length", size_mm=measured_mm))
    ends = {step.title: carriage.feed_to(float(carriage_at(step))) for step in cuts(new) if "Finish" in step.title}
    assert list(ends.values()) == pytest.approx([60, 48.5, 22], abs=0.05 + 0.005 + 1e-9)


@pytest.mark.parametrize(
    ("keys", "first"),
    [
        ({"kind": "shoulders"}, "withdraw the tool past 40 mm"),
        ({"ends_at": "22 mm"}, "withdraw the tool past 40 mm"),
        ({"ends_at": "22 mm", "side": "inside", "from_": "20 mm", "to": "24 mm"}, "clear of the bore"),
    ],
)
def test_the_tool_moves_off_the_face_before_it_touches_the_diameter(keys: dict[str, Any], first: str) -> None:
    """The step before has left the tool against the face, where it cannot touch the diameter."""
    face, diameter, *_ = make_plan(an_input(**keys)).steps
    assert face.zeroed_dials == ("carriage",) and diameter.zeroed_dials == ("cross_slide",)
    assert diameter.text.index(first) < diameter.text.index("backlash") < diameter.text.index("just touches")


def test_an_operation_without_lengths_touches_off_after_taking_up_the_backlash() -> None:
    """No step before has brought the tool to a face."""
    (touch_off, *_) = make_plan(an_input()).steps
    assert touch_off.text.startswith("Cross-slide: take up its backlash")


def test_two_dials_moved_by_equal_amounts_each_show_their_own_reading() -> None:
    """Both dials move by 2.0 mm. The carriage read 15 at the face, so it then reads 17, and the cross-slide reads 2."""
    data = dict(LATHE.data)
    marks = {"graduation": "0.1 mm", "reads": "travel", "per_turn": "18 mm"}
    data["dial"] = {**data["dial"], "cross_slide": marks, "carriage": marks | {"can_zero": False}}
    lathe = lathe_from(data, "test")
    its = an_input(lathe=lathe, ends_at="2 mm")
    plan = make_plan(its)
    state = SimpleNamespace(zeros={"carriage": Fraction(15)})
    text = shown_text(lathe, state, cuts(plan.steps)[-1])  # type: ignore[arg-type]
    assert "cross-slide to 2.0 mm" in text and "reads 17.0 mm" in text
