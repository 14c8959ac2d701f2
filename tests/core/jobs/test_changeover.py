"""The changes on the lathe between one operation and the next."""

from pathlib import Path
from typing import Any

from core.jobs.card import card_data
from core.jobs.changeover import Change, changes, changes_before, with_set_up_step
from core.jobs.job import Job, parse_job
from core.operations.operation import Needs, Operation
from core.operations.registry import OPERATIONS, operation_of, parameters_of
from tests.core.figures import figures

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
TURN = {"kind": "turn", "from": "30 mm", "to": "26.8 mm", "cut": "1 mm"}
THREAD = {"kind": "thread", "thread": "M27x3-6g", "blank": "26.8 mm", "tool_flat": "0.35 mm", "speed": "60 rpm"}


def job(*operations: dict[str, Any], lathe: str = "metric_lathe") -> Job:
    """Return a job of these operations on a sample lathe."""
    text = f'format = 1\ntitle = "x"\nlathe = "{lathe}.toml"\n'
    for number, table in enumerate(operations, start=1):
        text += f'[[operation]]\nname = "{number}"\n'
        text += "".join(f"{key} = {value if isinstance(value, int) else repr(value)}\n" for key, value in table.items())
    return parse_job(text, SAMPLES / "made.toml")


def texts(its_job: Job, number: int) -> dict[str, str]:
    """Return the changes before an operation, by part of the set-up."""
    return dict(changes_before(its_job.operations[number - 1], its_job))


def test_a_changeover_to_a_thread_lists_gears_speed_tool_and_compound() -> None:
    """A 3 mm thread on a 3 mm leadscrew needs the ratio 40/20 x 25/50 = 1.

    These gears are too coarse for a feed afterwards.
    """
    its_job = job(TURN, THREAD, {**TURN, "from": "26 mm", "to": "20 mm"}, THREAD)
    assert set(texts(its_job, 1)) == {"tool"}
    before = texts(its_job, 2)
    assert list(before) == ["tool", "compound", "gears", "speed"]
    assert {"60°", "0.35"} <= figures(before["tool"]) and figures(before["compound"]) >= {"29°"}
    wheels = figures(before["gears"])
    assert wheels == {"40", "20", "25", "50"} and figures(before["speed"]) == {"60"}
    after = texts(its_job, 3)
    assert set(after) == {"tool", "gears", "speed"}
    assert figures(after["gears"]) == wheels and figures(after["speed"]) == {"60"}
    # The gears were changed for a feed; the compound stayed at its thread setting.
    assert set(texts(its_job, 4)) == {"tool", "gears", "speed"}


def test_a_changeover_from_a_left_hand_thread_to_a_taper_restores_spindle_gears_and_speed() -> None:
    """The thread sets spindle, gears and speed of its own. The taper needs the same settings as plain turning."""
    taper = {"kind": "taper", "taper": "1:20", "large": "18 mm", "length": "40 mm", "cut": "0.5 mm"}
    before_turning, before_taper = (
        texts(job({**THREAD, "thread": "M27x3-LH"}, after), 2)
        for after in ({**TURN, "from": "26 mm", "to": "20 mm"}, taper)
    )
    assert set(before_turning) == {"tool", "direction", "gears", "speed"}
    assert set(before_taper) == {*before_turning, "compound"}


def test_a_changeover_does_not_list_unchanged_settings() -> None:
    """The same thread again changes nothing. Another pitch changes only the gears, another speed only the speed."""
    finer = {**THREAD, "thread": "M27x1.5-6g"}
    its_job = job(THREAD, THREAD, finer, {**finer, "speed": "95 rpm"})
    found = [texts(its_job, number) for number in (2, 3, 4)]
    assert [set(one) for one in found] == [set(), {"gears"}, {"speed"}]
    assert figures(found[2]["speed"]) == {"95", "60"}


def test_a_changeover_between_facing_and_an_internal_thread_lists_the_compound_angle() -> None:
    """29° to the tailstock and 29° to the chuck are two settings.

    Facing with the carriage needs no change of the compound.
    """
    face = {"kind": "face", "remove": "1 mm", "cut": "0.5 mm"}
    bore = {"kind": "thread", "thread": "M27x3-6H", "blank": "24 mm", "tool_flat": "0.35 mm"}
    its_job = job(THREAD, bore, {**face, "dial": "carriage"}, {**face, "dial": "compound"}, bore)
    assert [("compound" in texts(its_job, number)) for number in (1, 2, 3, 4, 5)] == [True, True, False, True, True]
    # The text also names the earlier setting: the angle for the bore's thread.
    assert "29°" in figures(texts(its_job, 4)["compound"])


def test_a_changeover_restores_the_leadscrews_direction_after_a_left_hand_thread() -> None:
    """The thread's plan says that the leadscrew is reversed.

    The next changeover says that its direction is as usual again.
    """
    its_job = job({**THREAD, "thread": "M27x3-LH-6g"}, {"kind": "by_hand", "text": "Deburr."}, THREAD, THREAD)
    assert [("direction" in texts(its_job, number)) for number in (1, 2, 3, 4)] == [False, False, True, False]


def test_a_changeover_lists_a_change_of_workholding() -> None:
    """The job has marks on the rotary table, holes on the mill, a border on the table and a runout in the chuck."""
    runout = {"kind": "runout", "surface": "outside", "positions": 8, "workholding": "four jaw"}
    bolts = {"kind": "holes", "count": 3, "circle": "58 mm", "drill": "4.3 mm"}
    index = {"kind": "divide", "divisions": 24}
    its_job = job(TURN, index, index, bolts, index, runout, TURN)
    found = [texts(its_job, number).get("workholding", "") for number in range(1, 8)]
    assert [bool(words) for words in found] == [False, True, False, True, True, True, False]
    assert "table" in found[1] and "mill" in found[3] and "four-jaw" in found[5]
    assert figures(texts(its_job, 4)["tool"]) == {"4.3"}


def test_every_kind_of_operation_except_work_by_hand_declares_its_set_up() -> None:
    """The only exception is work by hand, because its own text states the set-up."""
    nothing = Operation._field_defaults["needs"]
    assert [kind for kind, line in OPERATIONS.items() if line.operation.needs is nothing] == ["by_hand"]
    assert changes(Needs(gears="a", speed_rpm=60.0), Needs()) == ()
    assert changes(Needs(), Needs(feeds=True)) == ()


def test_the_gearbox_setting_for_an_inch_thread_names_the_threads_per_inch() -> None:
    """The thread has 13 threads per inch, and the gearbox cuts it with a setting of its levers."""
    text = (SAMPLES / "inch_lathe.toml").read_text() + '[gearbox]\npitches = ["13 tpi"]\n'
    from core.lathe.reader import lathe_from
    from core.values.files import parse_toml
    from tests.core.thread_jobs import plan_input_of, plan_of

    its = lathe_from(parse_toml(text, Path("x.toml")), "x")
    plan_input = plan_input_of(its, thread="1/2-13 UNC-2A")
    figures_ = plan_of(its, thread="1/2-13 UNC-2A").figures
    gears = operation_of("thread").needs(parameters_of(plan_input), its, figures_).gears
    assert "levers" in gears and figures(gears) == {"13"}


def test_the_json_card_lists_changes_of_set_up_under_the_key_named_before() -> None:
    """Each operation has a key "before" with part and text, and no other key changes."""
    its_job = job(TURN, THREAD)
    data = card_data(its_job)["operations"]
    assert data[0]["before"] == [{"part": "tool", "text": "Tool: turning tool"}]
    assert [Change(**one) for one in data[1]["before"]] == list(changes_before(its_job.operations[1], its_job))
    assert list(data[0]) == ["number", "name", "kind", "figures", "cautions", "before", "steps"]


def test_all_changes_of_set_up_form_a_single_step_at_the_start_of_a_run() -> None:
    """The first operation has no such step. The second lists tool, compound, gears and speed in a single step."""
    its_job = job(TURN, THREAD, THREAD)
    first, second, third = (with_set_up_step(operation, its_job) for operation in its_job.operations)
    assert first == its_job.operations[0].plan
    assert [step.id for step in second.steps] == list(range(1, len(its_job.operations[1].plan.steps) + 2))
    set_up = second.steps[0]
    assert set_up.action == "set" and not set_up.zeroed_dials
    assert {"29°", "40", "20", "60"} <= figures(set_up.text) and "step 1" not in set_up.text
    assert second.steps[1].text == its_job.operations[1].plan.steps[0].text
    # The same thread once more needs no change.
    assert third == its_job.operations[2].plan


def test_workholding_tool_and_speed_stated_in_a_job_are_listed_as_changes_of_set_up() -> None:
    """A job states more than its kind of operation knows.

    The changeover invents nothing that the job does not state.
    """
    held = {**TURN, "workholding": "soft jaws", "tool": "left-hand tool, R0.4", "speed": "380 rpm"}
    its_job = job(TURN, held, {**held, "speed": "600 rpm"}, {**held, "workholding": "between centres"}, TURN)
    found = [texts(its_job, number) for number in range(1, 6)]
    assert set(found[0]) == {"tool"}
    assert set(found[1]) == {"workholding", "tool", "speed"} and figures(found[1]["speed"]) == {"380"}
    assert set(found[2]) == {"speed"} and figures(found[2]["speed"]) == {"600", "380"}
    assert set(found[3]) == {"workholding", "speed"}
    # The last operation states no speed, so the text only says to choose one.
    assert set(found[4]) == {"tool", "speed"} and "choose" in found[4]["speed"]


def test_a_changeover_to_a_cut_without_a_stop_lists_moving_the_carriage_stop_away() -> None:
    """Closed half nuts would drive the carriage against the stop.

    A cut with its own stop sets the stop in its own step.
    """
    stopped = {**TURN, "ends_at": "22 mm", "lengths_by": "stop"}
    its_job = job(stopped, stopped, THREAD, TURN)
    assert ["stop" in texts(its_job, number) for number in range(1, 5)] == [False, False, True, False]
    assert figures(texts(its_job, 3)["stop"]) == {"22"}


def test_a_changeover_lists_the_lever_letters_of_the_gearbox() -> None:
    """The letters are those on the plate of the gearbox. Without letters, only the pitch is named."""
    from core.lathe.reader import lathe_from
    from core.values.files import parse_toml
    from tests.core.thread_jobs import plan_input_of, plan_of

    text = (SAMPLES / "metric_lathe.toml").read_text() + '[gearbox]\npitches = ["1 mm", "3 mm"]\nlevers = "A 1, C 4"\n'
    its = lathe_from(parse_toml(text, Path("x.toml")), "x")
    plan_input = plan_input_of(its, thread="M27x3-6g")
    needs = operation_of("thread").needs(parameters_of(plan_input), its, plan_of(its, thread="M27x3-6g").figures)
    assert "C 4" in needs.gears and "A 1" not in needs.gears
