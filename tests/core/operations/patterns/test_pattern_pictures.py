"""Pictures of patterns, and the progress of each position, match numpy and plain counting."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from core.inputs import Measured, Moved
from core.jobs.job import parse_job
from core.lathe.lathe import Cutter
from core.logbook.active_run import ActiveRun
from core.logbook.logbook import Logbook
from core.operations.patterns.elements import exact_cuts
from core.operations.patterns.layers import Layer, PatternJob
from core.operations.patterns.pattern_picture import pattern_picture
from core.operations.patterns.picture import PatternPicture, PatternPlace
from core.operations.registry import picture_of
from core.run.cut_progress import ProgressTracker
from core.run.revising import revised_steps
from core.run.unchanged_settings import layer_at_hand, unchanged_words
from tests.core.figures import figures
from tests.core.logbook.run_samples import StepClock
from tests.tui.runs_made import begin

SAMPLES = Path(__file__).parents[4] / "sample_jobs"
JOB = """\
format = 1
title = "Noon disc"
lathe = "mixed_lathe.toml"

[[operation]]
kind = "pattern"
name = "Layers"
blank_diameter = "80 mm"
depth_dial = "carriage"
  [[operation.cutter]]
  name = "point"
  tip_angle = "90 deg"
  [[operation.layer]]
  shape = "circles"
  count = 4
  offset = "20 mm"
  circle_radius = "9 mm"
  depth = "0.4 mm"
  cut = "0.2 mm"
  skip = [3]
  [[operation.layer]]
  shape = "circles"
  count = 3
  offset = "10 mm"
  circle_radius = "4 mm"
  start = "30 deg"

[[operation]]
kind = "divide"
name = "Marks"
divisions = 6
radius = "30 mm"

[[operation]]
kind = "holes"
name = "Holes"
count = 3
circle = "50 mm"
start = "90 deg"
drill = "6 mm"

[[operation]]
kind = "by_hand"
name = "Look"
text = "Look it over."
"""


@pytest.fixture
def run(tmp_path: Path) -> ActiveRun:
    """Start a run of the job's layers."""
    book = Logbook.open(tmp_path)
    return begin(book, parse_job(JOB, SAMPLES / "made_up.toml"), "Layers", StepClock())


def test_the_cuts_in_a_picture_lie_where_complex_arithmetic_places_them() -> None:
    """Circles, spokes and holes lie where complex numbers put them. An operation without a pattern has no picture."""
    layers, marks, holes, look = (
        picture_of(operation.plan_input) for operation in parse_job(JOB, SAMPLES / "made_up.toml").operations
    )
    assert layers is not None and marks is not None and holes is not None and look is None
    assert (layers.rim_mm, layers.extent_mm) == (40, 40)
    drawn = [[complex(*cut.at_mm) for cut in layers.cuts if cut.place.layer == layer] for layer in (1, 2)]
    assert np.allclose(drawn[0], 20 * np.array([1, 1j, -1j]))
    assert np.allclose(drawn[1], 10 * np.exp(2j * np.pi * (30 + 120 * np.arange(3)) / 360))
    assert [cut.place.position for cut in layers.cuts] == [1, 2, 4, 1, 2, 3]
    # From 9 to 4 mm the head goes in by 394 marks of half a thou on the radius: 5.0038 mm, the nearest mark.
    assert [cut.radius_mm for cut in layers.cuts] == pytest.approx([9, 9, 9, *[9 - 394 * 0.0127] * 3])
    # A point of 90 degrees cuts twice as wide as deep.
    assert np.allclose([cut.half_width_mm for cut in layers.cuts], [0.4, 0.4, 0.4, 0, 0, 0])
    ends = [complex(*cut.to_mm) for cut in marks.cuts]
    assert np.allclose(ends, 30 * np.exp(2j * np.pi * np.arange(6) / 6))
    inwards = [complex(*cut.at_mm) / complex(*cut.to_mm) for cut in marks.cuts]
    assert np.allclose(np.imag(inwards), 0) and np.all(np.real(inwards) > 0.5) and np.all(np.real(inwards) < 1)
    assert {cut.radius_mm for cut in holes.cuts} == {3} and holes.extent_mm == 28
    centres = [complex(*cut.at_mm) for cut in holes.cuts]
    assert np.allclose(centres, 25j * np.exp(2j * np.pi * np.arange(3) / 3))


def as_wanted(job: PatternJob) -> PatternPicture:
    """Return the picture of a job with exact dial settings."""
    return pattern_picture(job, exact_cuts(job))


ERRORS = {"height_error_mm": 0.8, "eccentricity_mm": 0.5, "eccentric_at_deg": 60.0}


def as_cut(slide: float, angle_deg: float, far: bool = False) -> complex:
    """Return the place of a point cut with ERRORS: (slide, -height) turned by the angle, less the eccentricity.

    Derived: the table's axis is 0.8 mm above the spindle's axis, so the spindle is below it.
    """
    return complex(-slide if far else slide, -0.8) * np.exp(1j * np.radians(angle_deg)) - 0.5 * np.exp(1j * np.pi / 3)


@pytest.mark.parametrize("far", [False, True])
def test_the_picture_shows_where_set_up_errors_move_the_cuts(far: bool) -> None:
    """A ring, a slot and a border on a table 0.8 mm too high and 0.5 mm eccentric match complex numbers."""
    cutter = Cutter("point", 60)
    layers = (
        Layer(number=1, count=5, offset_mm=20, circle_radius_mm=4, cutter=cutter, depths_mm=(0.5, 0.2)),
        Layer(number=2, shape="slots", count=2, offset_mm=30, to_offset_mm=36),
        Layer(number=3, shape="arcs", count=1, offset_mm=40, through_deg=Fraction(90)),
    )
    side = 180 if far else 0
    cuts = as_wanted(PatternJob(layers=layers, is_far=far, **ERRORS)).cuts
    circles, slots, (arc,) = cuts[:5], cuts[5:7], cuts[7:]
    assert np.allclose([complex(*cut.at_mm) for cut in circles], [as_cut(20, 72 * k + side, far) for k in range(5)])
    widths = [depth * np.tan(np.pi / 6) for depth in (0.5, 0.2, 0.5, 0.2, 0.5)]
    assert np.allclose([cut.half_width_mm for cut in circles], widths)
    for k, cut in enumerate(slots):
        ends = [complex(*cut.at_mm), complex(*cut.to_mm)]
        assert np.allclose(ends, [as_cut(offset, 180 * k + side, far) for offset in (30, 36)])
    # Turned about its axis by a quarter, the table brings its end under the spindle.
    start, centre = complex(*arc.at_mm), complex(*arc.centre_mm)
    assert np.isclose(centre, as_cut(0, 0, far) + 0.8j) and arc.sweep_deg == 90
    assert np.isclose(centre + (start - centre) * 1j, as_cut(40, 90 + side, far))


def test_corrected_circles_are_drawn_in_their_wanted_places() -> None:
    """With `correct`, circles lie in the ring as if there were no errors. Slots are not corrected."""
    layers = (
        Layer(number=1, count=7, offset_mm=20, circle_radius_mm=4, start_deg=Fraction(10)),
        Layer(number=2, shape="slots", count=1, offset_mm=30, to_offset_mm=36),
    )
    cuts = as_wanted(PatternJob(layers=layers, correct=True, **ERRORS)).cuts
    wanted = 20 * np.exp(1j * np.radians(10 + 360 * np.arange(7) / 7))
    assert np.allclose([complex(*cut.at_mm) for cut in cuts[:7]], wanted, atol=1e-6)
    assert np.isclose(complex(*cuts[7].at_mm), as_cut(30, 0))


def test_a_position_cut_in_the_wrong_place_is_drawn_where_it_was_cut() -> None:
    """A slot is shifted as a whole, and the picture grows to include it."""
    layers = (Layer(number=1, shape="slots", count=3, offset_mm=10, to_offset_mm=14),)
    moved = {PatternPlace(1, 2): (50.0, 1.0)}
    picture = as_wanted(PatternJob(layers=layers)).with_moved(moved)
    wrong = picture.cuts[-1]
    assert wrong.at_mm == (50, 1) and wrong.was_moved and not picture.cuts[0].was_moved
    assert np.isclose(complex(*wrong.to_mm) - complex(*wrong.at_mm), 4 * np.exp(2j * np.pi / 3))
    assert picture.extent_mm == pytest.approx(np.hypot(50, 1)) and len(picture.cuts) == 3
    again = as_wanted(PatternJob(layers=layers)).with_moved(moved, cut_again=moved)
    assert [cut.place.position for cut in again.cuts] == [1, 2, 3, 2]
    assert [cut.was_moved for cut in again.cuts] == [False, False, False, True]


def test_the_progress_of_each_position_changes_with_every_step_done_at_the_position(run: ActiveRun) -> None:
    """After two rounds of 0.2 mm on layer 1 and none on layer 2, each position has the depth counted at it."""
    tracker, cuts, stops = ProgressTracker(), dict[PatternPlace, int](), set[PatternPlace]()
    wanted = {
        PatternPlace(1, 1),
        PatternPlace(1, 2),
        PatternPlace(1, 4),
        PatternPlace(2, 1),
        PatternPlace(2, 2),
        PatternPlace(2, 3),
    }
    while (step := run.state.cursor) is not None:
        found = tracker.progress(run.state)
        assert set(found.states) == wanted
        for place in wanted:
            if place.layer == 1:
                expected = ("coming", "started", "cut")[cuts.get(place, 0)]
            else:
                expected = "cut" if place in stops else "coming"
            assert found.states[place] == expected
        if step.action in {"index", "cut"}:
            place = PatternPlace(step.at.layer, step.at.position)
            assert found.present == place
            if step.action == "cut":
                cuts[place] = cuts.get(place, 0) + 1
            else:
                stops.add(place)
        else:
            assert (found.present is not None) == (step.expects == "depth")
        run.done()
    assert set(tracker.progress(run.state).states.values()) == {"cut"}


def test_a_skipped_or_undone_cut_does_not_count_in_the_progress_of_its_position(run: ActiveRun) -> None:
    """A position with only skipped cuts is not drawn. A position whose cut was undone is open again."""
    tracker, place = ProgressTracker(), PatternPlace(1, 2)
    of_place = [step.id for step in run.state.steps if step.at.position == 2 and step.at.layer == 1]
    run.skip([of_place[1]], "a knot")
    assert tracker.progress(run.state).states[place] == "coming"
    run.skip([step_id for step_id in of_place if step_id != of_place[1]], "a knot")
    assert place not in tracker.progress(run.state).states
    run.undo()
    run.undo()
    while run.state.cursor is not None and run.state.cursor.action != "cut":
        run.done()
    run.done()
    assert tracker.progress(run.state).states[PatternPlace(1, 1)] == "started"
    run.undo()
    assert tracker.progress(run.state).states[PatternPlace(1, 1)] == "coming"


def test_the_counter_names_the_settings_that_stay_unchanged_during_a_layer(run: ActiveRun) -> None:
    """Layer by layer: cutter, cross-slide (4 mm a turn, reading diameter) and head (inches of diameter)."""
    lathe = parse_job(JOB, SAMPLES / "made_up.toml").lathe
    found = {}
    while run.state.cursor is not None:
        layer, words = (
            layer_at_hand(run.state),
            unchanged_words(lathe, run.state, {1: 9.0, 2: 4.0, None: 0.0}[layer_at_hand(run.state)]),
        )
        assert bool(words) == (layer is not None)
        found[layer] = words
        run.done()
    assert figures(found[1]) == {"9", "10", "0.00", "0"}
    # 2 x (4 - 9) mm / 25.4 is 0.3937 in: 0.394 on a dial of thousandths, 7 turns of 0.050 and 0.044 down.
    assert figures(found[2]) == {"4", "5", "0.00", "7", "0.044", "0", "0.006"}


def test_the_boring_head_setting_shown_for_a_layer_is_corrected_after_a_trial_circle(run: ActiveRun) -> None:
    """A move after the first position of layer 2. The trial circle is 0.1 mm too large, which is 4 thousandths less."""
    operation = parse_job(JOB, SAMPLES / "made_up.toml").operations[0]
    while layer_at_hand(run.state) != 2:
        run.done()
    run.done()
    for entered in (Moved(), Measured(what="circle", size_mm=8.1)):
        run.revise(entered, revised_steps(operation.plan_input, run.state, entered))
        while run.state.cursor is not None and run.state.cursor.expects != "circle" and entered == Moved():
            run.done()
    while layer_at_hand(run.state) != 2:
        run.done()
    assert {"7", "0.048"} <= figures(unchanged_words(operation.plan_input.lathe, run.state, 4))
