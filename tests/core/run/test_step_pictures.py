"""Drawings of steps agree with geometry worked out by hand: angles, sides, depths, and the dial's direction."""

import math
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.drawing import Drawing, Point, Stroke
from core.lathe.lathe import CompoundScale, Lathe
from core.lathe.reader import read_lathe
from core.operations.threads.drawings import GrooveState, groove_drawing
from core.run.step_pictures import DialPicture, StepPicture, StepPictures
from core.values.dials import Dial
from tests.core.counted import Counted
from tests.core.figures import figures as all_figures
from tests.core.thread_jobs import job_of, touched_off

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
INCH, METRIC, MIXED = (read_lathe(SAMPLES / f"{name}_lathe.toml") for name in ("inch", "metric", "mixed"))
TURN = {"from": "30 mm", "to": "26.8 mm", "cut": "0.75 mm", "finish": "0.15 mm"}
M27 = {"thread": "M27x3-6g", "blank": "26.8 mm", "tool_flat": "0.35 mm"}


def figures(sentence: str) -> set[str]:
    """Return the figures in a sentence. Angles are numbers that a scale has."""
    return {figure.rstrip("°") for figure in all_figures(sentence)}


def seen(run: Counted) -> StepPicture:
    """Return the picture of the current step."""
    return StepPictures(run.plan_input)(run.state)


def drawn(run: Counted) -> Drawing:
    """Return the drawing of the current step, which must have one."""
    found = seen(run).drawing
    assert found is not None
    return found


def to_cut(run: Counted, number: int) -> Counted:
    """Do the steps before a cut. Cuts are numbered from 1."""
    while run.cursor.action != "cut" or run.state.pass_number < number:
        touched_off(run, {})
    return run


def stroke(drawing: Drawing, look: str) -> Stroke:
    """Return the last polyline that is drawn with this look."""
    return [found for found in drawing.strokes if found.look == look][-1]


def layer(drawing: Drawing) -> tuple[Point, ...]:
    """Return the outline of the metal that the current pass cuts away."""
    return next(area.points for area in drawing.areas if area.fill == "this pass")


def name_at(drawing: Drawing, text: str) -> Point:
    """Return the point at which a name is drawn."""
    return next(name.at for name in drawing.names if text in name.text)


# The compound that the user must swing.


def scaled(lathe: Lathe, zero: Any, end_deg: float | None = None) -> Lathe:
    """Return a lathe with another scale on its compound."""
    return Lathe(**(dict(vars(lathe)) | {"compound": CompoundScale(zero=zero, end_deg=end_deg)}))


@pytest.mark.parametrize("side", ["outside", "inside"])
@pytest.mark.parametrize("runs", ["to the chuck", "from the chuck"])
@pytest.mark.parametrize(("zero", "reading"), [("parallel", "61"), ("perpendicular", "29")])
def test_a_swung_compound_is_drawn_with_the_reading_of_its_own_scale(
    zero: str, reading: str, side: str, runs: str
) -> None:
    """Its own reading is written, the handle drawn on the side that the words say, 29 degrees from the cross-slide.

    Common practice, no source: a scale with its zero parallel reads 61 there, with its zero square 29.
    """
    run = Counted(scaled(METRIC, zero), "thread", thread="M30x2", compound_angle="29 deg", side=side, runs=runs)
    drawing, text = drawn(run), run.cursor.text
    assert drawing.shown_unasked and reading in figures(text)
    slide = next(found.points for found in drawing.strokes if found.closed and len(found.points) == 4 and tilted(found))
    (x1, y1), (x2, y2) = slide[:2]
    handle, chuck = name_at(drawing, "handle"), name_at(drawing, "chuck")
    assert math.degrees(math.atan2(abs(x2 - x1), y1 - y2)) == pytest.approx(29)
    assert (handle[0] > x1) == ("handle towards the tailstock" in text)
    assert chuck[0] < x1 and name_at(drawing, "you")[1] < min(y1, y2)
    assert figures(name_of(drawing, "scale")) == {reading}
    assert {reading, "0"} <= figures(drawing.sentences[0])
    assert any("29" in figures(words) and ("tailstock" in words) == (handle[0] > x1) for words in drawing.sentences[1:])


def tilted(found: Stroke) -> bool:
    """Return whether a polyline's first two points are neither along the axis nor square to it."""
    (x1, y1), (x2, y2) = found.points[:2]
    return min(abs(x2 - x1), abs(y2 - y1)) > 1e-6


def name_of(drawing: Drawing, part: str) -> str:
    """Return the full name that starts with these words."""
    return next(name.text for name in drawing.names if part in name.text)


def test_the_arrow_and_name_of_the_cross_slide_do_not_overlap_the_drawn_compound() -> None:
    """The arrow of the cross-slide is upright, and its name is on the side opposite to the handle."""
    for runs, sign in (("to the chuck", 1), ("from the chuck", -1)):
        drawing = drawn(Counted(METRIC, "thread", thread="M30x2", runs=runs))
        upright = [one.points for one in drawing.strokes if len(one.points) == 2 and one.look == "edge"]
        assert all(x1 == x2 for (x1, _), (x2, _) in upright) and upright
        assert sign * name_at(drawing, "handle")[0] > 0 > sign * name_at(drawing, "cross-slide")[0]


def test_compound_angles_between_two_scale_marks_or_beyond_the_scale_end_are_drawn() -> None:
    """29.5 degrees off square is 60.5 on a parallel scale of whole degrees. A scale that ends at 60 cannot show it."""
    half = {"thread": "M30x2", "compound_angle": "29.5 deg"}
    assert figures(drawn(Counted(scaled(METRIC, "parallel"), "thread", **half)).sentences[0]) == {
        "60.5",
        "60",
        "61",
        "0",
    }
    short = drawn(Counted(scaled(METRIC, "parallel", 60.0), "thread", **half))
    assert "protractor" in short.sentences[0] and {"60.5", "29.5"} == figures(short.sentences[0])
    bare = Lathe(**(dict(vars(METRIC)) | {"compound": None}))
    unread = drawn(Counted(bare, "thread", **half))
    assert figures(unread.sentences[0]) == {"29.5"} and not any("scale" in name.text for name in unread.names)


@pytest.mark.parametrize(("lathe", "along", "square"), [(METRIC, "0", "90"), (INCH, "90", "0")])
def test_a_compound_set_along_the_bed_or_square_to_the_axis_is_drawn_in_that_direction(
    lathe: Lathe, along: str, square: str
) -> None:
    """The compound is along the bed for facing and square to the axis for grooving. Common practice, no source."""
    face = drawn(Counted(lathe, "face", dial="compound", remove="1 mm", cut="0.5 mm"))
    groove = drawn(Counted(lathe, "groove", dial="compound", depth="1 mm", cut="0.5 mm"))
    assert figures(name_of(face, "scale")) == {along} and figures(name_of(groove, "scale")) == {square}
    assert name_at(face, "handle")[0] > 1 > abs(name_at(groove, "handle")[0])


# The dial.


@given(
    clockwise=st.sampled_from(["in", "out"]),
    rising=st.booleans(),
    wanted=st.integers(-120, 120),
    away=st.integers(-39, 39),
)
def test_the_present_mark_of_a_dial_is_drawn_on_the_side_given_by_the_direction_of_turning(
    clockwise: Any, rising: bool, wanted: int, away: int
) -> None:
    """A dial of 40 marks, seen from the handle, shows the present place of the mark that is at the zero line.

    When the dial turns clockwise, its top moves to the right. So a slide that must move in by `away` marks does so by
    turning against "in". The mark at the zero line then moves to the other side.
    """
    dial = Dial(
        name="compound",
        unit="mm",
        graduation=Fraction(1, 20),
        per_turn=Fraction(2),
        clockwise_goes=clockwise,
        rising_inwards=rising,
    )
    picture = DialPicture(dial=dial, wanted_marks=wanted, turns="", now_marks=Fraction(wanted + away))
    moves_in = -away
    turned_clockwise = moves_in if clockwise == "in" else -moves_in
    assert picture.now_offset == turned_clockwise
    for mark in picture.around(7):
        # Turning on until the mark is on top moves the mark from the left to the right by the same number of marks.
        more_in = -mark.offset if clockwise == "in" else mark.offset
        count = (wanted + more_in) if rising else -(wanted + more_in)
        if mark.number:
            assert float(mark.number) == pytest.approx(count % 40 / 20)
    assert str(abs(away)) in figures(picture.now_words) or away == 0


def test_whole_turns_of_the_dial_are_shown_next_to_the_drawn_mark() -> None:
    """1.08 mm on a dial of 1 mm a turn is one full turn and 0.08. From 0.94 the dial moves seven marks of 0.02."""
    run = to_cut(Counted(METRIC, "thread", **M27), 5)
    dial = seen(run).dial
    assert dial is not None and run.view.dial is not None
    assert (dial.number, dial.turns) == (run.view.dial.number, run.view.dial.turns) == ("0.08", "1 full turn and")
    assert (dial.away_marks, dial.now_offset) == (-7, 7) and figures(dial.now_words) == {"0.94", "7"}


def test_a_dial_that_cannot_be_zeroed_is_drawn_at_its_reading() -> None:
    """The mixed lathe's pinned dial was touched off at 0.024 in, and its marks count from that reading."""
    run = Counted(MIXED, "thread", **M27)
    while run.cursor.action != "cut":
        touched_off(run, {"compound": "0.024"})
    dial = seen(run).dial
    assert dial is not None and run.view.dial is not None
    assert dial.number == run.view.dial.number
    assert dial.now_marks is not None and dial.now_marks % 40 == 24 + 1, "the scratch pass was one mark deep"


def test_no_move_is_drawn_on_a_dial_whose_present_position_is_uncertain() -> None:
    """An undo turns no handle back, and a dial that the user set further is already there. No move is counted."""
    run = to_cut(Counted(METRIC, "thread", **M27), 3)
    run.undo()
    undone = seen(run).dial
    assert undone is not None and undone.number == "0.56" and undone.now_words == "" and undone.now_offset is None
    run.done()
    known = seen(run).dial
    assert known is not None and figures(known.now_words) == {"0.56", "10"}
    run.revise("set", dial="compound", position="0.8")
    told = seen(run).dial
    assert told is not None and told.now_words == ""


def test_no_dial_is_drawn_at_a_step_that_asks_for_the_reading_of_that_dial() -> None:
    """A number on a dial would look like a setting."""
    run = Counted(MIXED, "thread", **M27)
    while not run.cursor.required:
        run.done()
    assert seen(run).dial is None


# The metal that is cut away.


def test_the_depth_of_a_cut_on_a_diameter_is_drawn_to_scale() -> None:
    """From 30 to 26.8 mm is 1.6 mm on the radius.

    After 0.65 mm the ground is at 0.65/1.6, and the pass to 1.3 cuts to 1.3/1.6.
    """
    drawing = drawn(to_cut(Counted(METRIC, "turn", **TURN), 2))
    heights = {round(y, 6) for _, y in layer(drawing)}
    assert heights == {0.65 / 1.6, 1.3 / 1.6}
    assert {y for _, y in stroke(drawing, "wanted").points} == {1.0}
    tool = stroke(drawing, "tool").points
    assert max(y for _, y in tool) == pytest.approx(1.3 / 1.6), "the tool comes from the turner"
    assert max(x for x, _ in layer(drawing)) == min(x for x, _ in tool), "and from the right: what is left is cut next"
    assert {"30", "28.7", "26.8"} <= figures(drawing.sentences[0]) and figures(drawing.sentences[1]) == {"27.4"}


@pytest.mark.parametrize(
    ("kind", "table", "towards"),
    [
        ("turn", TURN, "far"),
        ("turn", {"side": "inside", "from": "20 mm", "to": "26 mm", "cut": "0.7 mm"}, "near"),
        ("face", {"dial": "carriage", "remove": "2 mm", "cut": "0.5 mm"}, "chuck"),
        ("groove", {"dial": "cross_slide", "depth": "2 mm", "cut": "0.5 mm"}, "far"),
        ("groove", {"dial": "cross_slide", "depth": "2 mm", "cut": "0.5 mm", "side": "inside"}, "near"),
        ("groove", {"dial": "carriage", "depth": "2 mm", "cut": "0.5 mm"}, "chuck"),
    ],
)
def test_a_cut_is_drawn_in_the_direction_in_which_the_slide_moves(
    kind: str, table: dict[str, str], towards: str
) -> None:
    """A shaft is cut away from the turner, a bore towards the turner, and a face towards the chuck."""
    drawing = drawn(to_cut(Counted(METRIC, kind, **table), 2))
    taken, tool = layer(drawing), stroke(drawing, "tool").points
    axis, sign = {"far": (1, 1), "near": (1, -1), "chuck": (0, -1)}[towards]
    deep = [sign * place[axis] for place in taken]
    assert 0 < min(deep) < max(deep) < 1.0 + 1e-9
    assert min(sign * place[axis] for place in tool) < 0 <= max(sign * place[axis] for place in tool)


def test_a_measured_size_moves_the_surface_of_the_work_in_the_picture() -> None:
    """The measured size is 27.62 mm and the predicted size 27.4 mm. So 1.19 mm is cut instead of 1.3 mm."""
    run = Counted(METRIC, "turn", **TURN)
    while run.cursor.action != "measure":
        run.done()
    run.revise("measured", size_mm=27.62)
    drawing = drawn(run)
    assert min(y for _, y in layer(drawing)) == pytest.approx((30 - 27.62) / 2 / 1.6)
    assert "27.62" in figures(drawing.sentences[0])


# The thread's groove. The angles are those of the forms' own standards; M, UN: ISO 68-1; BSW: BS 84; BA: BS 93;
# Tr: ISO 2901; Acme: ASME B1.5, all of them in their names or common knowledge of the trade.
FORMS = [("M30x3.5", 60), ("7/8-9 UNC", 60), ("1/2 BSW", 55), ("0 BA", 47.5), ("Tr20x4", 30), ("3/4-6 Acme", 29)]


@pytest.mark.parametrize(("thread", "included_deg"), FORMS)
def test_the_drawn_flanks_have_the_angle_of_the_thread_form(thread: str, included_deg: float) -> None:
    """The tool's two outermost lines meet at the included angle."""
    job = job_of(METRIC, thread=thread)
    tool = stroke(groove_drawing(job, METRIC, GrooveState((), 0.0, 0.5)), "tool").points
    (x1, y1), (x2, y2) = tool[:2]
    (x3, y3), (x4, y4) = tool[-2:]
    left, right = math.atan2(abs(x2 - x1), abs(y2 - y1)), math.atan2(abs(x4 - x3), abs(y4 - y3))
    assert math.degrees(left + right) == pytest.approx(included_deg)
    assert left == pytest.approx(right)


def flank_at(line: tuple[Point, ...], side: int) -> tuple[float, float]:
    """Return where a tool's flank (-1 left, 1 right) meets the surface, and the flank's slope: x for each mm of y."""
    (x1, y1), (x2, y2) = line[:2] if side < 0 else line[-2:]
    slope = (x2 - x1) / (y2 - y1)
    return x1 - y1 * slope, slope


def test_flank_infeed_is_drawn_with_only_a_thin_shaving_off_the_trailing_flank() -> None:
    """At 29.5 degrees off square in a 60 degree groove, 0.1 mm deeper shaves 0.00100 mm off the trailing flank.

    Source: geometry, dh (tan b - tan a) cos b. The leading flank loses dh (tan b + tan a) cos b.
    """
    for runs, leading in (("to the chuck", -1), ("from the chuck", 1)):
        job = job_of(METRIC, thread="M30x3.5", compound_angle="29.5 deg", runs=runs)
        lines = [stroke(groove_drawing(job, METRIC, GrooveState((), 0.0, deep)), "tool").points for deep in (1.0, 1.1)]
        taken = {}
        for side in (-1, 1):
            (before, slope), (after, _) = (flank_at(line, side) for line in lines)
            taken[side] = side * (after - before) * math.cos(math.atan(abs(slope)))
        assert taken[-leading] == pytest.approx(0.00100, abs=5e-6)
        assert taken[leading] == pytest.approx(
            0.1 * (math.tan(math.radians(30)) + math.tan(math.radians(29.5))) * math.cos(math.radians(30))
        )


def test_straight_infeed_is_drawn_with_equal_cuts_on_the_two_flanks() -> None:
    """A pass takes the same amount from both sides of the middle."""
    job = job_of(METRIC, thread="M30x3.5", infeed="straight")
    points = layer(groove_drawing(job, METRIC, GrooveState((0.5,), 0.5, 0.7)))
    assert sorted(round(x, 9) for x, _ in points) == sorted(round(-x, 9) for x, _ in points)


@pytest.mark.parametrize("side", ["outside", "inside"])
def test_a_thread_groove_is_drawn_on_the_side_where_the_tool_cuts(side: str) -> None:
    """Full depth is in the middle for any infeed. The groove is half a pitch wide on the pitch line (ISO 5408)."""
    job = job_of(METRIC, thread="M30x2", side=side)
    sign = 1 if side == "outside" else -1
    whole = job.groove.depth_mm
    tool = stroke(groove_drawing(job, METRIC, GrooveState((), 0.0, whole)), "tool").points
    deepest = max(tool, key=lambda place: sign * place[1])
    assert sign * deepest[1] == pytest.approx(whole) and deepest[0] == pytest.approx(0.0, abs=1e-9)
    below = whole - abs(job.thread.wanted_pitch_diameter_mm - job.blank_mm) / 2
    assert job.tip.width_mm(below) == pytest.approx(1.0)
    (left, slope), (right, other) = (flank_at(tool, side) for side in (-1, 1))
    at = sign * (whole - below)
    assert (right + other * at) - (left + slope * at) == pytest.approx(1.0)


def test_the_next_pass_of_a_thread_is_drawn_deeper_than_the_earlier_passes() -> None:
    """After five passes the drawing has five outlines with their own depths.

    The ground is at the fifth, the tool at the sixth.
    """
    run = to_cut(Counted(METRIC, "thread", **M27), 6)
    depths = [step.depth_mm for step in run.state.steps if step.action == "cut"][:6]
    drawing = drawn(run)
    done = [max(y for _, y in found.points) for found in drawing.strokes if found.fine]
    assert done == pytest.approx(depths[:4]), "the fifth is the ground itself"
    assert max(y for _, y in stroke(drawing, "tool").points) == pytest.approx(depths[5])
    assert max(y for _, y in stroke(drawing, "edge").points) == pytest.approx(depths[4])


def test_a_scratch_pass_is_drawn_at_the_depth_given_by_its_dial_reading() -> None:
    """0.04 mm along a compound 29 degrees off square is 0.04 cos 29 = 0.035 mm on the radius."""
    run = Counted(METRIC, "thread", **M27)
    while not run.cursor.text.startswith("Scratch"):
        touched_off(run, {})
    tool = stroke(drawn(run), "tool").points
    assert max(y for _, y in tool) == pytest.approx(0.04 * math.cos(math.radians(29)))


def test_each_start_of_a_thread_is_drawn_as_its_own_groove() -> None:
    """The second start begins at the surface again, and grooves that are not cut yet are not drawn."""
    run = Counted(METRIC, "thread", thread="M24xPh6P3", infeed="flank")
    while run.state.last_done is None or not run.state.last_done.thread_start:
        touched_off(run, {})
    drawing = drawn(run)
    assert not [found for found in drawing.strokes if found.fine]
    assert max(y for _, y in stroke(drawing, "edge").points) == 0.0


# Every step.


@pytest.mark.parametrize(
    ("lathe", "kind", "table"),
    [
        (METRIC, "thread", M27),
        (MIXED, "thread", {"thread": "M30x2-6H", "side": "inside"}),
        (INCH, "thread", {"thread": "7/8-9 UNC-2A", "infeed": "straight"}),
        (METRIC, "turn", TURN),
        (MIXED, "face", {"dial": "compound", "remove": "1 mm", "cut": "0.4 mm"}),
        (METRIC, "by_hand", {"text": "File the edge"}),
        (METRIC, "holes", {"circle": "60 mm", "count": 5}),
    ],
)
def test_every_step_has_a_picture_or_a_stated_reason_for_having_none(
    lathe: Lathe, kind: str, table: dict[str, str]
) -> None:
    """The reason is a sentence. Every pass of a slide shows its dial at the counter's reading."""
    run = Counted(lathe, kind, **table)
    while run.state.cursor is not None:
        found = seen(run)
        assert bool(found) != bool(found.why_none)
        assert found or (found.why_none[0].isupper() and found.why_none.endswith("."))
        if run.cursor.action in {"cut", "spring"}:
            assert found.dial is not None and found.drawing is not None and run.view.dial is not None
            assert (found.dial.number, found.dial.turns) == (run.view.dial.number, run.view.dial.turns)
        touched_off(run, {})
    assert seen(run).why_none
