"""The record of a lathe, from runs that a simulated lathe has cut and logged. scipy gives the means and intervals."""

from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from core.inputs import ExtraSpringPass, Measured
from core.jobs.job import read_job
from core.logbook.active_run import ActiveRun
from core.logbook.merge import merge
from core.operations.registry import PlanInput, parameters_of
from core.plan import Expects, Plan, Step
from core.record.lathe_notes import LatheNote, new_note
from core.record.lathe_record import DialRecord, LatheRecord, lathe_record, pace_of
from core.record.observations import CutKind, PassTime, observe
from core.run.revising import logged_plan_input, revised_steps
from tests.core.operations.drilling.holes_made import blind, drill_lathe, position_mm
from tests.core.record.simulated_lathe import Hands, ShedLathe, begin, described, enter, logbook_in

SAMPLES = Path(__file__).parents[3] / "sample_jobs"


def recorded(machine: ShedLathe, *notes: LatheNote) -> LatheRecord:
    """Return the record of the simulated lathe."""
    runs = reversed(machine.logbook.runs())
    return lathe_record(machine.lathe, [observe(machine.logbook.events(run.uid)) for run in runs], notes)


def only_dial(record: LatheRecord) -> DialRecord:
    """Return the one dial of a record."""
    (dial,) = record.dials
    return dial


@pytest.mark.parametrize("seed", range(3))
def test_the_recorded_differences_between_dial_and_size_equal_those_of_the_simulated_lathe(
    tmp_path: Path, seed: int
) -> None:
    """True lead, deflection, errors and blanks are random. Every difference, its mean and its interval must agree."""
    rng = np.random.default_rng(seed)
    with logbook_in(tmp_path) as book:
        machine = ShedLathe(book, described(), rng, true_ratio=rng.uniform(0.98, 1.02), offset_mm=rng.uniform(0, 0.03))
        for _ in range(3):
            start_mm = round(rng.uniform(24, 30), 2)
            machine.turn(start_mm, round(start_mm - rng.uniform(1, 3), 2), springs=int(rng.integers(0, 3)))
        record = recorded(machine)
    dial, truth = only_dial(record), machine.truth
    assert dial.cut == CutKind("cross_slide", "turn") and dial.cut.on_diameter
    differences = dial.latest.differences
    assert [one.difference_mm for one in differences] == pytest.approx(truth.differences_mm, abs=1e-9)
    assert [one.travel_mm for one in differences] == pytest.approx(truth.travels_mm, abs=1e-9)
    assert [one.after_touch_off for one in differences] == truth.touched_off
    mean = dial.latest.mean
    assert mean is not None and mean.mean == pytest.approx(np.mean(truth.differences_mm))
    wide = stats.t.ppf(0.975, len(differences) - 1) * stats.sem(truth.differences_mm)
    assert mean.half_width == pytest.approx(wide)


def test_the_recorded_yield_of_a_spring_pass_is_the_amount_that_the_pass_took_off(tmp_path: Path) -> None:
    """The yield follows from the simulated lathe's sizes before and after the spring pass."""
    with logbook_in(tmp_path) as book:
        machine = ShedLathe(book, described(), np.random.default_rng(4), spring_mm=0.008)
        machine.turn(30, 27.5, springs=2)
        machine.turn(30, 28.2, springs=1)
        springs = only_dial(recorded(machine)).latest.spring_pass
    assert springs is not None
    assert springs.mean == pytest.approx(np.mean(machine.truth.springs_mm))
    assert springs.mean == pytest.approx(0.008, abs=0.004)


def test_the_usual_time_of_a_pass_is_the_median_time_from_one_key_press_to_the_next(tmp_path: Path) -> None:
    """A pass right after a measurement does not count, because its time includes the measuring."""
    with logbook_in(tmp_path) as book:
        machine = ShedLathe(book, described(), np.random.default_rng(5))
        machine.turn(30, 24, cut="0.4 mm")
        (usual,) = recorded(machine).times
    assert usual.number == len(machine.truth.pass_times_s)
    assert usual.median_s == pytest.approx(np.median(machine.truth.pass_times_s))


def test_an_adjustment_of_a_dial_separates_earlier_from_later_measurements_with_that_dial(tmp_path: Path) -> None:
    """The gib is adjusted between two days. An adjustment of another dial separates nothing here."""
    with logbook_in(tmp_path) as book:
        machine = ShedLathe(book, described(), np.random.default_rng(6))
        machine.turn(30, 27)
        before = len(machine.truth.differences_mm)
        machine.hands.day += timedelta(days=2)
        machine.turn(30, 28)
        adjusted = new_note("Shed lathe", "cross_slide", "adjustment", "2026-01-06T00:00:00+00:00", "gib adjusted")
        elsewhere = new_note("Shed lathe", "compound", "adjustment", "2026-01-06T00:00:00+00:00", "gib adjusted")
        plain = new_note("Shed lathe", "cross_slide", "note", "2026-01-06T00:00:00+00:00", "new cutter")
        periods = only_dial(recorded(machine, adjusted, elsewhere, plain)).periods
    assert [period.since for period in periods] == [None, adjusted]
    truth = machine.truth.differences_mm
    assert [one.difference_mm for one in periods[0].differences] == pytest.approx(truth[:before])
    assert [one.difference_mm for one in periods[1].differences] == pytest.approx(truth[before:])


def test_measurements_made_with_an_earlier_description_of_the_dial_are_not_counted(tmp_path: Path) -> None:
    """The lathe file was corrected. A prediction from the old file says nothing about the present description."""
    with logbook_in(tmp_path) as book:
        machine = ShedLathe(book, described(), np.random.default_rng(7))
        machine.turn(30, 27)
        old = len(machine.truth.differences_mm)
        machine.lathe = described(lead="2.032 mm")
        dial = only_dial(recorded(machine))
    assert (dial.count, dial.other_description) == (0, old)


def test_measurements_of_open_and_of_abandoned_runs_are_counted(tmp_path: Path) -> None:
    """One run is closed after its measurement, and another one is abandoned. No run is finished."""
    lathe, hands = described(), Hands()
    with logbook_in(tmp_path) as book:
        for name in ("Foot", "Head"):
            table = {"kind": "turn", "name": name, "from": "24 mm", "to": "22 mm", "cut": "0.5 mm"}
            run = begin(book, lathe, table, hands)
            while (step := run.state.cursor) is not None and step.action != "measure":
                run.done()
            enter(run, lathe, Measured(what="size", size_mm=22.62))
            if name == "Head":
                run.abandon("The bar was too short")
            run.close()
            hands.ms += 60_000
        record = lathe_record(lathe, [observe(book.events(info.uid)) for info in book.runs()])
    assert record.runs == only_dial(record).count == 2


def test_measurements_shared_by_two_continuations_of_a_run_are_counted_once(tmp_path: Path) -> None:
    """Both computers continued a run after its first measurement, and the logs were merged."""
    with logbook_in(tmp_path / "here") as book:
        machine = ShedLathe(book, described(), np.random.default_rng(6))
        table = {"kind": "turn", "name": "Foot", "from": "24 mm", "to": "22 mm", "cut": "0.5 mm"}
        run = begin(book, machine.lathe, table, machine.hands)
        while (step := run.state.cursor) is not None and step.action != "measure":
            run.done()
        enter(run, machine.lathe, Measured(what="size", size_mm=22.62))
        run.close()
        with logbook_in(tmp_path / "there") as there:
            merge(there, book.path)
            for log, text in ((book, "here"), (there, "there")):
                continued = ActiveRun.resume(log, run.uid, machine.hands, text)
                continued.note(text)
                continued.close()
            assert merge(book, there.path).counts == {"two": 1}
        record = recorded(machine)
    assert (record.runs, only_dial(record).count) == (2, 1)


def test_undone_measurements_and_measurements_on_other_lathes_are_not_counted(tmp_path: Path) -> None:
    """An undone measurement was a slip."""
    lathe, hands = described(), Hands()
    with logbook_in(tmp_path) as book:
        run = begin(
            book, lathe, {"kind": "turn", "name": "Foot", "from": "24 mm", "to": "22 mm", "cut": "0.5 mm"}, hands
        )
        dial_mm = 0.0
        while (step := run.state.cursor) is not None and step.action != "measure":
            if (setting := step.setting("cross_slide")) is not None:
                dial_mm = float(setting.position)
            run.done()
        enter(run, lathe, Measured(what="size", size_mm=22.9))
        run.undo()
        enter(run, lathe, Measured(what="size", size_mm=22.62))
        run.close()
        seen = observe(book.events(run.uid))
    # The dial reads diameter. At 1.40 the work is 1.4 mm smaller.
    assert dial_mm > 1
    assert [one.difference_mm for one in seen.differences] == pytest.approx([24 - dial_mm - 22.62])
    assert lathe_record(lathe, [seen._replace(lathe_name="Another")]).runs == 0


def test_a_size_measured_again_without_a_cut_in_between_replaces_the_earlier_size(tmp_path: Path) -> None:
    """Nothing was cut between the two measurements, so 22.9 mm was a slip. After a spring pass both sizes count."""
    lathe = described()
    with logbook_in(tmp_path) as book:
        table = {"kind": "turn", "name": "Foot", "from": "24 mm", "to": "22 mm", "cut": "0.5 mm"}
        run = begin(book, lathe, table, Hands())
        dial_mm = 0.0
        while (step := run.state.cursor) is not None and step.action != "measure":
            if (setting := step.setting("cross_slide")) is not None:
                dial_mm = float(setting.position)
            run.done()
        for size_mm in (22.9, 22.62):
            enter(run, lathe, Measured(what="size", size_mm=size_mm))
        plan_input = PlanInput("turn", run.state.plan_input.parameters, lathe, "mild steel")
        run.revise(ExtraSpringPass(), revised_steps(plan_input, run.state, ExtraSpringPass()))
        run.done()
        enter(run, lathe, Measured(what="size", size_mm=22.61))
        run.close()
        seen = observe(book.events(run.uid))
    assert [one.difference_mm for one in seen.differences] == pytest.approx([24 - dial_mm - 22.62])
    assert [one.each_mm for one in seen.springs] == pytest.approx([0.01])


def test_measured_shoulder_diameters_are_compared_with_the_dial(tmp_path: Path) -> None:
    """Each measurement is 0.02 mm smaller than the last measurement and the dial say. The dial reads diameter."""
    lathe = described()
    table = {"kind": "shoulders", "name": "Arbor", "from": "40 mm", "cut": "1 mm"}
    table |= {"shoulders": [["36 mm", "40 mm"], ["30 g6", "22 mm"]]}
    with logbook_in(tmp_path) as book:
        run = begin(book, lathe, table, Hands())
        dial_mm, smaller_mm, travels_mm = 0.0, 0.0, [0.0]
        while (step := run.state.cursor) is not None:
            if (setting := step.setting("cross_slide")) is not None:
                dial_mm = float(setting.position)
            if step.action == "measure" and dial_mm > travels_mm[-1]:
                travels_mm.append(dial_mm)
                smaller_mm += 0.02
                enter(run, lathe, Measured(what="size", size_mm=40 - dial_mm - smaller_mm))
            else:
                run.done()
        run.close()
        seen = observe(book.events(run.uid))
    assert len(travels_mm) > 4 and travels_mm[-1] > 5
    assert [one.difference_mm for one in seen.differences] == pytest.approx([0.02] * (len(travels_mm) - 1))
    assert [one.travel_mm for one in seen.differences] == pytest.approx(np.diff(travels_mm))
    assert {one.cut for one in seen.differences} == {CutKind("cross_slide", "shoulders")}
    assert CutKind("cross_slide", "shoulders").on_diameter


def test_the_measured_depth_of_a_hole_is_compared_with_the_dial_of_the_tailstock(tmp_path: Path) -> None:
    """The hole is measured after the second peck of each pilot and of the drill, to the full diameter.

    Every tool touches off with the corners of its lips, so the full diameter is as deep as the quill has moved.
    """
    lathe, short_mm = drill_lathe(), {"4 mm drill": 0.3, "8 mm drill": 0.2, "12 mm drill": -0.1}
    table = {"kind": "drill", "name": "Hole", **blind("25 mm", pilots=["4 mm", "8 mm"], peck="5 mm")}
    with logbook_in(tmp_path) as book:
        run = begin(book, lathe, table, Hands())
        pecks: dict[str, int] = {}
        travels_mm = []
        while (step := run.state.cursor) is not None:
            run.done()
            tool = str(step.extra.get("tool", ""))
            pecks[tool] = pecks.get(tool, 0) + (step.action == "cut")
            if step.action == "cut" and pecks[tool] == 2:
                travels_mm.append(position_mm(step))
                enter(run, lathe, Measured(what="hole depth", size_mm=position_mm(step) - short_mm[tool]))
        run.close()
        seen = observe(book.events(run.uid))
    assert len(travels_mm) == 3
    assert [one.difference_mm for one in seen.differences] == pytest.approx([-0.3, -0.2, 0.1])
    assert [one.travel_mm for one in seen.differences] == pytest.approx(travels_mm)
    assert all(one.after_touch_off for one in seen.differences)
    assert {one.cut for one in seen.differences} == {CutKind("tailstock", "drill")}


def test_the_measured_pitch_diameter_of_a_thread_is_compared_with_the_dial(tmp_path: Path) -> None:
    """A sharp 60 degree tool gives pitch diameter = blank - 2 depth + P / (2 tan 30), by the geometry of the groove.

    The depth of a compound 29 degrees off square is its travel times cos 29.
    """
    lathe, hands = described(), Hands()
    table = {"kind": "thread", "name": "Stem", "thread": "M16x2", "blank": "15.8 mm", "length": "20 mm"}
    table |= {"compound_angle": "29 deg"}
    with logbook_in(tmp_path) as book:
        run = begin(book, lathe, table, hands)
        travel_mm = 0.0
        while (step := run.state.cursor) is not None and step.action != "measure":
            if step.action == "cut" and (setting := step.setting("compound")) is not None:
                travel_mm = max(travel_mm, float(setting.position))
            run.done()
        enter(run, lathe, Measured(what="pitch diameter", size_mm=14.95, free_end_mm=14.93))
        run.close()
        seen = observe(book.events(run.uid))
    depth_mm = travel_mm * np.cos(np.radians(29))
    predicted_mm = 15.8 - 2 * depth_mm + 2 / (2 * np.tan(np.radians(30)))
    (taper,) = seen.tapers
    assert taper.larger_mm == pytest.approx(-0.02)
    (one,) = seen.differences
    # If both ends were measured, the program may count either, or both.
    assert predicted_mm - 14.95 - 1e-6 <= one.difference_mm <= predicted_mm - 14.93 + 1e-6
    assert one.cut == CutKind("compound", "thread")


def test_the_dial_of_a_boring_head_is_compared_with_the_change_between_two_trial_circles(tmp_path: Path) -> None:
    """The dial shows changes only. So the second trial circle is compared with the first and the move between them.

    The head of this lathe reads diameter in inches, so its number is the change of the circle's diameter.
    """
    operation = read_job(SAMPLES / "hour_lines.toml").operations[-1]
    lathe = operation.plan_input.lathe
    measured_mm, shown_in = [8.36, 7.11], list[float]()
    with logbook_in(tmp_path) as book:
        run = begin(book, lathe, dict(operation.plan_input.parameters), Hands())
        at = 0.0
        while len(shown_in) < 2 and (step := run.state.cursor) is not None:
            if step.expects == Expects.CIRCLE:
                shown_in.append(at)
                enter(run, lathe, Measured(what="circle", size_mm=measured_mm[len(shown_in) - 1]))
                continue
            if (setting := step.setting("boring_head")) is not None:
                at = float(setting.position)
            run.done()
        run.close()
        (one,) = observe(book.events(run.uid)).differences
    moved_mm = (shown_in[1] - shown_in[0]) * 25.4
    assert lathe.dials["boring_head"].reads_diameter and moved_mm < -0.5
    assert one.cut == CutKind("boring_head", "pattern")
    # The head moved inwards. A circle that shrank by more than the dial says counts as more.
    assert one.difference_mm == pytest.approx(-(measured_mm[1] - measured_mm[0]) + moved_mm)
    assert one.travel_mm == pytest.approx(-moved_mm)


def test_measuring_a_depth_again_does_not_replace_a_measured_trial_circle(tmp_path: Path) -> None:
    """A trial circle is measured between the two depths. The second depth replaces the first depth, not the circle."""
    plan_input = read_job(SAMPLES / "hour_lines.toml").operations[-1].plan_input
    depth_dial = plan_input.lathe.dials[parameters_of(plan_input).depth_dial]
    head = plan_input.lathe.dials["boring_head"]
    cut = Step(id=1, action="cut", text="Cut", depth_mm=0.3, removed_mm=0.3, settings=(depth_dial.at_marks(10),))
    move = Step(id=2, action="set", text="Head out", settings=(head.at_marks(10),))
    last = Step(id=3, action="check", text="Look")
    with logbook_in(tmp_path) as book:
        logged = logged_plan_input(plan_input)
        run = ActiveRun.begin(book, Plan(steps=(cut, move, last)), logged, None, Hands(), "shed")

        def measured(what: str, size_mm: float) -> None:
            run.revise(Measured(what, size_mm), tuple(run.state.open_steps()))

        measured("circle", 8.0)
        run.done()
        measured("depth", 0.32)
        run.done()
        measured("circle", 8.0 + 20 * head.mark_mm + 0.05)
        measured("depth", 0.31)
        run.close()
        seen = {one.cut.dial: one.difference_mm for one in observe(book.events(run.uid)).differences}
    assert seen == {depth_dial.name: pytest.approx(0.01), "boring_head": pytest.approx(0.05)}


def test_the_usual_pace_of_an_operation_needs_eight_timed_passes_and_eight_timed_positions() -> None:
    """The pace needs eight of each, from the same kind of operation."""
    times = [PassTime("pattern", "cut", 11.0 + number) for number in range(9)]
    assert pace_of("pattern", times) is None
    turned = [PassTime("pattern", "index", 5.0)] * 8
    pace = pace_of("pattern", times + turned)
    assert pace is not None and (pace.pass_s, pace.position_s, pace.passes) == (15.0, 5.0, 9)
    assert pace_of("divide", times + turned) is None
