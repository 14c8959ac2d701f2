"""The contents of the runout screen: sets of readings, their findings, the picture, and typed lists of readings."""

from math import atan2, cos, degrees, hypot, radians
from typing import Any

import pytest

from core.lathe.lathe import Chuck, Indicator, Lathe
from core.lathe.reader import lathe_from
from core.operations.runout.findings import expected_figures
from core.operations.runout.harmonics import evenly_spaced
from core.operations.runout.job import RunoutJob
from core.operations.runout.picture import Point, PolarView, TurnToDraw, jaws_deg, polar_view
from core.operations.runout.readings import is_suspect, list_text, nudged_text, plane_lists, split_list
from core.operations.runout.sets_of_readings import Turn, plane_analysis
from core.run.runout_view import RunoutView, deepest_groove, effect_words, readings_taken, runout_view
from core.values.quantities import mm_text
from tests.core.counted import Counted
from tests.core.figures import figures as figures_in
from tests.core.operations.runout.runout_bars import first_harmonic

LATHE = lathe_from({"format": 1, "name": "Bench", "indicator": {"graduation": "0.01 mm"}}, "bench.toml")


def bar_readings(size: float, high: float, count: int = 8) -> list[float]:
    """Return the readings [mm] of a round bar that is eccentric by `size` towards `high`, rounded to a hundredth."""
    return [round(size * cos(radians(angle - high)), 2) for angle in evenly_spaced(count)]


class Check(Counted):
    """A runout check that is counted in memory, read and planned as the screen does."""

    def __init__(self, **keys: Any) -> None:
        super().__init__(LATHE, "runout", **{"workholding": "four jaw", "diameter": "20 mm", **keys})

    @property
    def seen(self) -> RunoutView:
        return runout_view(self.plan_input, self.state)

    def read(self, *readings_mm: float) -> None:
        """Do the steps up to each reading, then enter the reading."""
        for reading in readings_mm:
            while self.seen.reading is None:
                self.log("done", step=self.cursor.id)
            self.log("done", step=self.cursor.id, value=f"{reading:.3f}", unit="mm")

    def moved(self) -> None:
        """Plan another set of readings, as after a move."""
        self.revise("moved")


def _kinds(seen: RunoutView, kind: str) -> list[str]:
    return [line.words for line in seen.findings if line.kind == kind]


def test_no_runout_is_shown_before_there_are_enough_readings() -> None:
    """Two readings, or three in a quarter of the turn, give only a sentence. More readings give figures."""
    check = Check()
    assert check.seen.heading == ""
    check.read(*bar_readings(0.10, 77)[:2])
    assert check.seen.figures == ()
    assert check.seen.heading == "Read 3 of 8"
    assert check.seen.mark_deg == 90
    check.read(*bar_readings(0.10, 77)[2:6])
    ((_, figures),) = check.seen.figures
    assert len(figures) == 3
    assert any("So far" in words for words in _kinds(check.seen, "do"))
    assert _kinds(check.seen, "verdict") == []
    check.read(*bar_readings(0.10, 77)[6:])
    ((_, figures),) = check.seen.figures
    assert len(figures) == 6
    assert check.seen.heading == "Closing"
    assert check.seen.mark_deg == 0


def test_after_a_move_the_previous_set_of_readings_is_shown_beside_the_new_set() -> None:
    """The previous set stays for comparison, even before the first new reading. At the end the change is shown."""
    check = Check(tolerance="0.02 mm")
    check.read(*bar_readings(0.10, 77), 0.02)
    assert check.seen.previous_set is None
    assert check.seen.move_advised
    check.moved()
    assert check.seen.current_set.turns == ()
    assert check.seen.previous_set is not None
    assert [trace.letter for trace in check.seen.picture.drawn_turns] == ["o", "x"]
    check.read(0.0)
    assert figures_in(check.seen.heading) == {"2", "8"}
    check.read(*bar_readings(0.01, 77)[1:], 0.0)
    (changed,) = _kinds(check.seen, "changed")
    before, now = (
        first_harmonic(readings)[0] for readings in (bar_readings(0.10, 77), (0.0, *bar_readings(0.01, 77)[1:]))
    )
    assert changed.startswith(f"Eccentricity {mm_text(before)} before, {mm_text(now)} now")
    assert len(_kinds(check.seen, "verdict")) == 1
    check.moved()
    check.read(*bar_readings(0.02, 200), 0.0)
    assert check.seen.previous_set is not None
    assert check.seen.previous_set.turn(1).readings_mm == (0.0, *bar_readings(0.01, 77)[1:])


def test_no_move_is_advised_if_the_runout_is_within_the_tolerance() -> None:
    """The runout is 0.2 mm and 0.3 mm is allowed. The run ends after the readings, without a move."""
    for tolerance, promised in (("0.3 mm", False), ("0.02 mm", True)):
        check = Check(tolerance=tolerance)
        check.read(*bar_readings(0.10, 77), 0.02)
        taken = readings_taken(check.plan_input, check.state)
        assert taken is not None
        check.tell(taken)
        assert check.seen.move_advised == promised


def test_an_incomplete_set_of_readings_is_not_used_for_comparison() -> None:
    """After a move within a set, the last complete set is compared."""
    check = Check()
    check.read(*bar_readings(0.10, 77), 0.02)
    check.moved()
    check.read(*bar_readings(0.05, 77)[:4])
    check.moved()
    check.read(*bar_readings(0.03, 77)[:4])
    assert len(check.seen.sets) == 3
    assert check.seen.previous_set == check.seen.sets[0]


def test_a_reading_that_is_taken_again_goes_into_its_original_set_of_readings() -> None:
    """The reading goes into the set of its step, and the later set stays complete."""
    check = Check(positions=4)
    first = check.state.steps[1].id
    check.read(*bar_readings(0.10, 77, 4), 0.02)
    check.moved()
    check.read(*bar_readings(0.05, 77, 4))
    check.log("reopened", steps=[first])
    assert [len(found.turn(1).readings_mm) for found in check.seen.sets] == [3, 4]
    check.read(0.07)
    assert check.seen.sets[0].turn(1).angles_deg == (0, 90, 180, 270)
    assert check.seen.sets[0].turn(1).readings_mm[0] == 0.07


def test_all_readings_are_kept_after_the_indicator_has_slipped() -> None:
    """The closing reading is 0.2 mm off. The view gives no verdict and no move, and keeps all readings."""
    check = Check()
    check.read(*bar_readings(0.10, 77), 0.22)
    assert "slipped" in check.seen.current_set.refusal
    assert [line.kind for line in check.seen.findings] == ["asked"]
    assert len(check.seen.current_set.turn(1).readings_mm) == 8
    assert not check.seen.move_advised


def test_the_readings_in_two_planes_are_drawn_separately() -> None:
    """The plane being read is drawn first. The jaws belong to the first plane.

    Tilt and offset are separate at the end.
    """
    check = Check(planes=2, apart="40 mm", positions=4)
    check.read(*bar_readings(0.10, 77, 4), 0.02, *bar_readings(0.10, 257, 4)[:3])
    seen = check.seen
    assert seen.plane == 2 and figures_in(seen.heading) == {"4", "2"}
    assert [(trace.letter, len(trace.points)) for trace in seen.picture.drawn_turns] == [("o", 3), ("1", 4)]
    assert _kinds(seen, "do") == []
    check.read(bar_readings(0.10, 257, 4)[3])
    assert [heading for heading, _ in check.seen.figures] == ["Second plane", "First plane"]
    assert any("leans" in words for words in _kinds(check.seen, "verdict"))


def test_seating_screwed_on_work_again_shows_whether_the_runout_belongs_to_the_work() -> None:
    """A high spot at the same mark each time belongs to the work. At another mark the seat has a part in it."""
    check = Check(workholding="screwed on")
    check.read(*bar_readings(0.10, 77), 0.02)
    assert _kinds(check.seen, "changed") == []
    for high, words in ((78, "The runout repeats"), (200, "dirt")):
        check.moved()
        turn = bar_readings(0.10, high)
        check.read(*turn, turn[0])
        (changed,) = _kinds(check.seen, "changed")
        assert words in changed
    # The distance of two vectors of 0.1 at 77° and 200°: 0.2 sin(61.5°).
    assert {"3", "0.17"} <= {figure[:4] for figure in figures_in(changed)}


def test_readings_in_the_job_become_the_previous_set_of_readings_after_the_moves() -> None:
    """They are the current set while their moves are open. After the moves they are the set to compare with."""
    check = Check(positions=4, readings=["0.10 mm", "0.02 mm", "-0.06 mm", "0.04 mm"])
    assert check.seen.current_set.complete
    check.log("done", step=check.cursor.id)
    assert not figures_in(check.seen.heading)
    check.read(0.0)
    assert check.seen.previous_set is not None
    assert check.seen.previous_set.complete
    assert figures_in(check.seen.heading) == {"2", "4"}


def test_four_readings_are_enough_to_advise_moves_for_a_three_jaw_chuck() -> None:
    """The true range of the offset is shown before the shims that follow from it."""
    check = Check(positions=4, workholding="three jaw")
    check.read(*bar_readings(0.10, 77, 4), 0.02)
    words = [line.words for line in check.seen.findings]
    alias = next(i for i, line in enumerate(words) if "three-lobed part" in line and "all of it" in line)
    assert alias < next(i for i, line in enumerate(words) if line.startswith("Shim"))
    planned = {figure.name: figure.value for figure in expected_figures(check.seen.job, LATHE)}
    assert any("three-lobed" in value for value in planned.values())
    assert "±" in planned["Eccentricity to"]


# The picture.


def _view(job: RunoutJob, *turns: list[float], mark_deg: float | None = None) -> PolarView:
    reads = []
    for letter, readings in zip("ox", turns, strict=False):
        turn = Turn(angles_deg=job.angles_deg[: len(readings)], readings_mm=tuple(readings))
        analysis = plane_analysis(job, [turn], 1, 0.01) if len(readings) > 4 else None
        reads.append(TurnToDraw(letter=letter, name="turn", turn=turn, analysis=analysis))
    return polar_view(reads, job, mark_deg=mark_deg, graduation_mm=0.01, length_text=mm_text)


def _polar(place: Point) -> tuple[float, float]:
    """Return the distance of a point from the middle, and its angle clockwise from the top."""
    x, y = place
    return hypot(x, y), degrees(atan2(x, y)) % 360


@pytest.mark.parametrize("surface", ["outside", "bore"])
def test_the_picture_of_the_runout_readings_is_drawn_to_scale(surface: Any) -> None:
    """Marks run clockwise from the top. A ring has the height that its label states.

    In a bore + is nearer to the axis.
    """
    job = RunoutJob(angles_deg=evenly_spaced(8), surface=surface, diameter_mm=20, workholding="four jaw")
    readings = [0.2 * cos(radians(angle - 77)) for angle in job.angles_deg]
    view = _view(job, readings, mark_deg=135.0)
    sense = -1 if surface == "bore" else 1
    rings = sorted(view.rings)
    ring = rings[1] - rings[0]
    assert {"0.1", "10"} <= figures_in(view.scale)
    for place, angle, reading in zip(view.drawn_turns[0].points, job.angles_deg, readings, strict=True):
        radius, mark = _polar(place)
        assert mark == pytest.approx(angle, abs=1e-9)
        assert radius == pytest.approx(1 + sense * reading / 0.1 * ring)
    assert view.drawn_turns[0].high is not None
    assert _polar(view.drawn_turns[0].high) == pytest.approx((1 + sense * 2 * ring, 77), abs=0.2)
    # A ring of 0.1 mm is drawn as the share `ring` of a radius of 10 mm.
    assert f"{ring * 10 / 0.1:.0f}" in figures_in(view.scale)
    assert view.indicator is not None
    assert _polar(view.indicator[0])[1] == pytest.approx(135)
    assert [round(_polar(start)[1]) for start, _ in view.jaws] == [0, 90, 180, 270]


def test_readings_from_before_and_after_a_move_are_drawn_to_the_same_scale() -> None:
    """A trued bar is drawn as a circle inside its earlier outline, and is not magnified to fill the picture."""
    job = RunoutJob(angles_deg=evenly_spaced(8))
    after, before = _view(job, bar_readings(0.01, 77), bar_readings(0.3, 77)).drawn_turns
    assert max(abs(_polar(place)[0] - 1) for place in before.points) == pytest.approx(0.38, abs=0.01)
    assert max(abs(_polar(place)[0] - 1) for place in after.points) < 0.02
    alone = _view(job, bar_readings(0.01, 77)).drawn_turns[0]
    assert max(abs(_polar(place)[0] - 1) for place in alone.points) <= 0.2


def test_the_arrow_in_the_picture_of_the_readings_shows_which_way_the_work_turns() -> None:
    """Marks run clockwise, so the work turns anticlockwise to bring the next mark to the indicator."""
    ends = [_polar(place)[1] for place in _view(RunoutJob(angles_deg=evenly_spaced(8))).turning]
    assert ends[0] == pytest.approx(60)
    assert ends[-1] == pytest.approx(300)
    assert ends[1] < ends[0]


def test_the_picture_shows_the_marks_that_have_not_been_read_yet() -> None:
    """Marks without a reading are drawn, with three jaws in their places."""
    job = RunoutJob(angles_deg=evenly_spaced(6), workholding="three jaw")
    view = _view(job, [0.0, 0.01])
    assert [round(_polar(place)[1]) for place in view.waiting] == [120, 180, 240, 300]
    assert jaws_deg(job) == (0, 120, 240)
    assert "120 J2" in [text for _, text in view.names]


# Readings as the user types them.


@pytest.mark.parametrize(
    ("text", "items"),
    [
        ("0 0.02 -0.01", ["0 mm", "0.02 mm", "-0.01 mm"]),
        ("0, 0.02, -0.01", ["0 mm", "0.02 mm", "-0.01 mm"]),
        ("0,02 0,03", ["0,02 mm", "0,03 mm"]),
        ("1 thou; 2 thou", ["1 thou", "2 thou"]),
        ('["0.00 mm", "0,02 mm"]', ["0.00 mm", "0,02 mm"]),
        ("0.1 high", ["0.1 high"]),
        ("", []),
    ],
)
def test_every_accepted_form_of_a_list_of_readings_is_read(text: str, items: list[str]) -> None:
    """Items are separated by blanks, commas or semicolons, or written as in a job file.

    The written form is read back.
    """
    assert split_list(text, "mm") == items
    assert split_list(list_text(items), "mm") == items


def test_text_that_is_not_a_list_of_readings_is_refused() -> None:
    """One list or two lists are read. A text that is not a list is refused."""
    assert plane_lists([["0 mm"], ["1 mm"]]) == (["0 mm"], ["1 mm"])
    assert plane_lists(["0 mm"]) == (["0 mm"], [])
    assert plane_lists("0 mm") == ("0 mm", [])
    assert list_text("0 mm") == "0 mm"


@pytest.mark.parametrize(
    ("before", "reading", "asked"),
    [
        ((), 0.5, False),
        ((), 5.0, True),
        ((0.0, 0.02), 20.0, True),
        ((0.0, 0.02, 0.01), 20.0, True),
        ((0.0, 0.02, 0.01, 0.0), 0.03, False),
        (tuple(bar_readings(2.0, 77)[:5]), bar_readings(2.0, 77)[5], False),
    ],
)
def test_a_reading_far_larger_than_the_earlier_readings_is_questioned(
    before: tuple[float, ...], reading: float, asked: bool
) -> None:
    """A reading a thousand times larger than the rest is questioned. A large plain offset is not."""
    assert is_suspect(before, reading, 0.01) is asked


def test_each_press_of_the_plus_key_changes_a_reading_in_inches_by_half_a_thou() -> None:
    """One key press changes the reading by half a thou, 0.0127 mm."""
    assert nudged_text(0.0, 3, "in", 0.0127) == "0.0015"
    assert nudged_text(0.0254, -1, "thou", 0.0127) == "0.5"


# The effect of a runout on the pattern.

JOB = """\
format = 1
title = "Plate"
[[operation]]
kind = "runout"
name = "Face"
surface = "face"
diameter = "60 mm"
[[operation]]
kind = "pattern"
name = "Border"
[[operation.cutter]]
name = "point"
tip_angle = "120 deg"
[[operation.layer]]
shape = "circles"
count = 6
offset = "20 mm"
circle_radius = "5 mm"
depth = "0.3 mm"
"""


def test_the_effect_of_face_runout_on_the_width_of_grooves_is_shown(tmp_path: Any) -> None:
    """120° and a runout of 0.05 mm: the width varies by 2 x 0.05 x tan 60° = 0.173 mm (worked by hand)."""
    from core.jobs.job import read_job

    path = tmp_path / "plate.toml"
    path.write_text(JOB)
    groove = deepest_groove(read_job(path))
    assert groove is not None
    assert groove == (120.0, 0.0, 0.3)
    job = RunoutJob(angles_deg=evenly_spaced(4), surface="face", diameter_mm=60)
    turn = Turn(angles_deg=job.angles_deg, readings_mm=(0.025, 0.0, -0.025, 0.0))
    words = effect_words(plane_analysis(job, [turn], 1, 0.001), LATHE, groove)
    # 2 x 0.275 x tan 60° and 2 x 0.325 x tan 60°.
    assert {"0.173", "0.953", "1.126", "0.3"} <= figures_in(words)
    # atan(0.025 / 30), over a metre.
    assert {"0.833", "1000"} <= figures_in(words)
    assert deepest_groove(None) is None


def test_correcting_moves_on_a_card_are_given_in_the_unit_of_the_lathe() -> None:
    """The moves are in words and in the unit of the lathe."""
    from core.pages.figure_words import figure_lines

    moves = [
        {"where": "jaw 1", "how": "press", "angle_deg": 0, "amount_mm": 0.08},
        {"where": "mark 30°", "how": "tap", "angle_deg": 30, "amount_mm": 0.0254},
        {"where": "mark 210°", "how": "shim", "angle_deg": 210, "amount_mm": 0.1},
    ]
    found = [figures_in(value) for _, value in figure_lines({"tir_mm": 0.16, "moves": moves})]
    assert found == [{"0.16"}, {"1", "0.08"}, {"30°", "0.025"}, {"0.1", "210°"}]
    assert figures_in(dict(figure_lines({"moves": moves}, "in"))["move 2"]) == {"30°", "0.0010"}


def test_moves_smaller_than_the_indicator_can_show_are_not_advised() -> None:
    """The high spot is at 2°.

    The jaws across need less movement than the indicator can show, so only a figure names them.
    """
    from core.operations.runout.advice import advice
    from core.operations.runout.moves import moves
    from core.operations.runout.sets_of_readings import analyse_set

    lathe = Lathe(name="trial", indicator=Indicator(graduation_mm=0.01), chuck=Chuck())
    job = RunoutJob(angles_deg=evenly_spaced(8), workholding="four jaw")
    readings = tuple(0.05 * cos(radians(angle - 2)) for angle in job.angles_deg)
    found = analyse_set(job, [Turn(angles_deg=job.angles_deg, readings_mm=readings)], 0.01)
    assert len(moves(found.first, job, lathe)) == 2
    (line,) = advice(found, job, lathe).to_do
    assert "press jaw 1" in line
