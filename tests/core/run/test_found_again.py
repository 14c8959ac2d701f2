"""Work taken off in the middle of a pattern and found again at its cuts, on a machine simulated in numpy.

The simulated machine does not use the program's geometry. Slide and table move as the steps say. The position of the
point on the work follows from the true position of the work.
"""

import cmath
import math
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import Phase, example, given, settings
from hypothesis import strategies as st

from core.inputs import Moved, PositionCutWrong, PutBack, input_as_data, input_from_data
from core.lathe.reader import lathe_from
from core.operations.patterns.put_back import ReadingSlippedError
from core.run.cut_places import cut_places, moved_cuts, places_as_work_lies, reading_words
from core.run.found_again import (
    CutRead,
    CutToFind,
    cannot_be_found,
    cuts_to_find,
    farthest_first,
    read_slide,
    read_table,
    table_example,
    work_found,
)
from core.run.put_backs import steps_to_repeat
from core.run.table_view import table_position
from core.run.work_as_it_lies import steps_as_work_lies
from core.values.errors import QuantityError
from tests.core.counted import TABLE, Counted
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import pattern_keys

DOTS = {"shape": "dots", "count": 9, "offset": "20 mm", "start": "10 deg", "depth": "0.3 mm"}
CIRCLES = {"count": 5, "offset": "27 mm", "circle_radius": "5 mm", "depth": "0.4 mm"}
HALF_SLIDE_MM, HALF_TABLE_DEG = 0.0125, 1 / 60
"""Half a mark of the dials: 0.05 mm on the diameter, 2 minutes of arc."""


class Sim:
    """A run, with the true position of the point on the work at every cut."""

    def __init__(self, *layers: dict[str, Any], numbers_rise: str = "clockwise", **keys: Any) -> None:
        slide = {"per_turn": "4 mm", "graduation": "0.05 mm", "reads": "diameter"}
        carriage = {"per_turn": "10 mm", "graduation": "0.1 mm", "reads": "travel"}
        dials = {"cross_slide": slide, "carriage": carriage}
        table = {**TABLE, "numbers_rise": numbers_rise}
        lathe = lathe_from({"format": 1, "name": "Bench", "dial": dials, "rotary_table": table}, "bench.toml")
        self.run = Counted(lathe, "pattern", **pattern_keys(*layers, tip_angle="90 deg", **keys))
        self.far = keys.get("offset_side") == "far"
        self.sense = -1 if numbers_rise == "anticlockwise" else 1
        self.height = float(keys.get("height_error", "0 mm").split()[0])
        self.centre = complex(float(keys.get("eccentricity", "0 mm").split()[0]), 0)
        self.shift, self.turn = self.centre, 0.0
        self.now = 0j
        self.at: dict[tuple[int | None, int | None], complex] = {}

    def go_on(self, cuts: int) -> None:
        """Cut this number of further positions, or fewer if the pattern ends."""
        wanted = len(self.at) + cuts
        while self.run.state.cursor is not None and len(self.at) < wanted:
            step = self.run.cursor
            if step.action == "index" and step.at.position is not None:
                table, slide = step.setting("rotary_table"), step.setting("cross_slide")
                assert table is not None and slide is not None
                self.now = self.on_work(float(slide.position) / 2, float(table.position))
            if step.action == "cut":
                self.at[step.at.where] = self.now
            self.run.done()

    def on_work(self, slide: float, table_deg: float) -> complex:
        """Return the point of the work that is under the spindle's axis."""
        on_table = complex(slide, -self.height) * np.exp(1j * np.deg2rad(self.sense * table_deg))
        return complex((on_table - self.shift) * np.exp(-1j * np.deg2rad(self.turn)))

    def met_at(self, place: complex) -> tuple[float, float]:
        """Return slide and table positions at which the point meets a place of the work.

        The slide's distance is |place|, by Pythagoras. The table's angle follows from the direction of the place.
        """
        there = place * cmath.exp(1j * math.radians(self.turn)) + self.shift
        slide = math.sqrt(abs(there) ** 2 - self.height**2) * (-1 if self.far else 1)
        turned = math.atan2(there.imag, there.real) - math.atan2(-self.height, slide)
        return slide, self.sense * math.degrees(turned) % 360

    def read(self, cut: CutToFind, slide_error: float = 0.0) -> CutRead:
        """Bring the point into a cut, and enter the readings of dial and table."""
        slide, table = self.met_at(self.at[cut.where])
        turns, reading = divmod(round(abs(2 * slide) + slide_error, 6), 4)
        shown = -reading % 4 if self.far else reading
        turn, rest = divmod(round(table, 7) % 360, 5)
        plan_input, state = self.run.plan_input, self.run.state
        return CutRead(
            cut,
            read_slide(plan_input, state, cut, f"{int(turns)}+{shown:.6f}"),
            read_table(plan_input, cut, f"{int(turn)} turns {rest:.7f} deg"),
        )

    def find(self, count: int = 3) -> list[CutRead]:
        """Find this number of cuts, in the order in which the program suggests them."""
        cuts, read = cuts_to_find(self.run.plan_input, self.run.state), list[CutRead]()
        for _ in range(count):
            read.append(self.read(farthest_first(cuts, [one.cut for one in read])[0]))
        return read

    def put_back(self, count: int = 3) -> str:
        """Find the work again, and plan the rest of the run for its new position."""
        found = work_found(self.run.plan_input, self.run.state, self.find(count))
        self.run.tell(found.entered)
        return found.words

    def wanted(self, layer: dict[str, Any], corrected: bool) -> list[complex]:
        """Return where exact settings would cut the positions of a ring, from the keys of the ring."""
        count, offset = layer["count"], float(layer["offset"].split()[0])
        start = float(layer.get("start", "0 deg").split()[0])
        places = [offset * cmath.exp(1j * math.radians(start + 360 * k / count)) for k in range(count)]
        if corrected:
            return places
        spindle = complex(-offset if self.far else offset, -self.height)
        way = 180 if self.far else 0
        turns = [math.radians(start + 360 * k / count + way) for k in range(count)]
        return [spindle * cmath.exp(1j * turn) - self.centre for turn in turns]


@settings(deadline=None, max_examples=20, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(
    st.tuples(st.floats(-2, 2), st.floats(-2, 2)),
    st.floats(-180, 180),
    st.floats(-0.5, 0.5),
    st.sampled_from(("near", "far")),
    st.sampled_from(("clockwise", "anticlockwise")),
    st.booleans(),
    st.sampled_from((2, 3)),
)
@example((-5e-324, 0.0), 0.0, 0.0, "near", "clockwise", False, 2).via("a shift that is almost too small for a float")
def test_after_work_is_put_back_and_found_again_every_cut_is_within_half_a_mark_of_its_place(
    shift: tuple[float, float], turn: float, height: float, side: str, rises: str, corrects: bool, count: int
) -> None:
    """The pattern has two layers. The work is taken off after four dots, and again in the second layer."""
    sim = Sim(
        DOTS,
        CIRCLES,
        numbers_rise=rises,
        height_error=f"{height:.4f} mm",
        eccentricity="0.3 mm",
        eccentric_at="0 deg",
        offset_side=side,
        correct=corrects,
    )
    sim.height = float(f"{height:.4f}")
    sim.go_on(4)
    sim.shift, sim.turn = complex(*shift), turn
    sim.put_back(count)
    sim.go_on(7)
    sim.shift, sim.turn = complex(shift[1], -shift[0]), -turn / 2
    sim.put_back(count)
    sim.go_on(99)
    off_by = 0.0
    for number, layer in ((1, DOTS), (2, CIRCLES)):
        for position, place in enumerate(sim.wanted(layer, corrects), start=1):
            off_by = max(off_by, abs(sim.at[number, position] - place))
    # Half a mark of the slide, and half a mark of the table at 29.5 mm.
    half = math.hypot(HALF_SLIDE_MM, 29.5 * math.radians(HALF_TABLE_DEG))
    assert len(sim.at) == 14 and off_by <= half + 1e-4


def put_back_run() -> Sim:
    """Return a run in which the work was put back after five dots, 0.5 mm to the right and turned by 40 deg."""
    sim = Sim(DOTS, CIRCLES)
    sim.go_on(5)
    sim.run.done()
    sim.shift, sim.turn = 0.5 + 0j, 40.0
    return sim


def test_the_result_of_finding_the_work_states_how_far_it_was_shifted_and_turned() -> None:
    """The words name 0.5 mm and 40 deg, and how well the cuts agree."""
    sim = put_back_run()
    words = sim.put_back()
    assert {"0.5", "40°"} <= figures(words) and "anticlockwise" in words


def test_a_refusal_to_find_the_work_names_the_cut_whose_reading_is_wrong() -> None:
    """One of three readings is a turn of the slide's handle wrong, which is 2 mm. The message names that cut."""
    sim = put_back_run()
    cuts = cuts_to_find(sim.run.plan_input, sim.run.state)
    read = [sim.read(cuts[0]), sim.read(cuts[2], slide_error=4.0), sim.read(cuts[4])]
    with pytest.raises(ReadingSlippedError) as error:
        work_found(sim.run.plan_input, sim.run.state, read)
    assert error.value.slipped == (read[1].found,) and read[1].cut.name in error.value.message


def test_dial_readings_of_a_cut_without_the_number_of_whole_turns_are_refused() -> None:
    """The same reading occurs once in every turn of the handle. A text that is no reading is refused too."""
    sim = put_back_run()
    plan_input, state = sim.run.plan_input, sim.run.state
    cut = cuts_to_find(plan_input, state)[0]
    for text in ("1.70", "x", "6+4.5", ""):
        with pytest.raises(QuantityError):
            read_slide(plan_input, state, cut, text)
    for text in ("3-26", "x", "3+5-10", ""):
        with pytest.raises(QuantityError):
            read_table(plan_input, cut, text)
    assert read_slide(plan_input, state, cut, "6+1.70").slide_mm == pytest.approx(12.85)
    assert read_table(plan_input, cut, "160-30").table_deg == Fraction(321, 2)


def test_the_list_of_cuts_gives_readings_for_the_present_position_of_the_work() -> None:
    """Dot 2 was cut at 20 mm, 50 deg. Now it lies at 20 mm, 90 deg, shifted 0.5 mm to the right.

    By Pythagoras its slide is at hypot(0.5, 20) mm and its table at 90 deg less atan(0.5 / 20).
    """
    sim = put_back_run()
    sim.put_back()
    state = sim.run.state
    step = next(step for step in steps_as_work_lies(state) if step.action == "index" and step.at.where == (1, 2))
    slide, table = step.setting("cross_slide"), step.setting("rotary_table")
    assert slide is not None and table is not None
    assert float(slide.position) / 2 == pytest.approx(math.hypot(0.5, 20), abs=HALF_SLIDE_MM)
    assert float(table.position) == pytest.approx(90 - math.degrees(math.atan2(0.5, 20)), abs=HALF_TABLE_DEG)
    place = next(place for place in places_as_work_lies(state, cut_places(state)) if place.position == 2)
    assert "88°34'" in reading_words(sim.run.lathe, state, place)


def test_the_next_move_of_slide_and_table_starts_from_the_cut_that_was_found_last() -> None:
    """Finding the cuts moved table and slide. The next moves start from their new positions, even after an undo."""
    sim = put_back_run()
    read = sim.find()
    entered = work_found(sim.run.plan_input, sim.run.state, read).entered
    table = sim.run.lathe.rotary_table
    assert table is not None
    sim.run.tell(entered)
    at = table_position(sim.run.state, table)
    assert at is not None and at.set_deg == read[-1].table.table_deg
    assert sim.run.view.dial is not None
    sim.run.undo()
    at = table_position(sim.run.state, table)
    assert at is not None and at.undone and at.set_deg == read[-1].table.table_deg
    sim.run.tell(entered._replace(table_deg=None, slide=None))
    assert table_position(sim.run.state, table) is None


def test_steps_done_before_the_work_was_put_back_cannot_be_repeated() -> None:
    """Earlier steps hold settings for the old position of the work. After an undo they can be repeated again."""
    sim = put_back_run()
    before = len(steps_to_repeat(sim.run.state))
    sim.put_back()
    assert before > 0 and steps_to_repeat(sim.run.state) == []
    sim.run.done()
    assert len(steps_to_repeat(sim.run.state)) == 1
    sim.run.undo()
    sim.run.undo()
    assert len(steps_to_repeat(sim.run.state)) == before


def test_a_cut_made_in_the_wrong_place_is_found_at_its_real_place() -> None:
    """Dot 2 was cut at 18 mm, 60 deg. The work is found by this real position, and the picture shows it too."""
    sim = Sim(DOTS, CIRCLES)
    sim.go_on(5)
    sim.run.tell(PositionCutWrong(1, 2, Fraction(36), Fraction(60)))
    place = cmath.rect(18, math.radians(60))
    cut = next(cut for cut in cuts_to_find(sim.run.plan_input, sim.run.state) if cut.where == (1, 2))
    assert (cut.element.x_mm, cut.element.y_mm) == pytest.approx((place.real, place.imag))
    sim.shift, sim.turn = 1 + 0j, 90.0
    sim.put_back()
    assert moved_cuts(sim.run.plan_input, sim.run.state).at_mm[1, 2] == pytest.approx((place.real, place.imag))
    sim.go_on(1)
    (sixth,) = [number for _, number in sim.at if number == 6]
    table, slide = Fraction(60), Fraction(36)
    sim.run.tell(PositionCutWrong(1, sixth, slide, table))
    # At 18 mm, 60 deg the table is 1 mm right of the work's centre. The work is turned by 90 deg.
    on_work = (place - 1) * cmath.exp(-1j * math.pi / 2)
    at = moved_cuts(sim.run.plan_input, sim.run.state).at_mm[1, sixth]
    assert at == pytest.approx((on_work.real, on_work.imag), abs=1e-4)


def test_work_cannot_be_found_by_its_cuts_before_the_zeros_are_set() -> None:
    """Until the zeros are found, readings count from no zero, so the work cannot be found by its cuts."""
    sim = put_back_run()
    assert cannot_be_found(sim.run.plan_input, sim.run.state) == ""
    sim.run.tell(Moved())
    assert "zeros" in cannot_be_found(sim.run.plan_input, sim.run.state)


def test_a_notched_table_cannot_be_set_to_the_angle_at_which_work_was_put_back() -> None:
    """On a table with notches, the user must turn the work to a notch. On a plate, turns and hole are needed."""
    dials = {
        "cross_slide": {"per_turn": "4 mm", "graduation": "0.05 mm", "reads": "diameter"},
        "carriage": {"per_turn": "10 mm", "graduation": "0.1 mm", "reads": "travel"},
    }
    for way, table in (("direct", {"ratio": 60, "direct": [24]}), ("plate", {"ratio": 60, "plates": [[16, 20]]})):
        lathe = lathe_from({"format": 1, "name": "Bench", "dial": dials, "rotary_table": table}, "bench.toml")
        keys = pattern_keys({**DOTS, "count": 8, "start": "0 deg"}, tip_angle="90 deg", **{"with": way})
        run = Counted(lathe, "pattern", **keys)
        while sum(step.action == "cut" for step in run.state.done_steps) < 3:
            run.done()
        assert ("notches" in cannot_be_found(run.plan_input, run.state)) == (way == "direct")
    cut = cuts_to_find(run.plan_input, run.state)[0]
    # 12 turns and 9 of 16 holes, at 60 turns for a full circle: 6 deg for each turn.
    circle = 20 if "20 circle" in table_example(cut) else 16
    assert read_table(run.plan_input, cut, "12+9").table_deg == 6 * (12 + Fraction(9, circle))
    with pytest.raises(QuantityError):
        read_table(run.plan_input, cut, "9")


def test_cuts_that_are_far_apart_are_suggested_first_for_finding_the_work() -> None:
    """The five dots are at 10, 50 ... 170 deg. After the fifth dot, the first is suggested, and then the third."""
    sim = put_back_run()
    cuts = cuts_to_find(sim.run.plan_input, sim.run.state)
    first = farthest_first(cuts, [])[0]
    second = farthest_first(cuts, [first])[0]
    third = farthest_first(cuts, [first, second])[0]
    assert [cut.where[1] for cut in (first, second, third)] == [5, 1, 3]


def test_a_put_back_event_is_read_from_the_log_with_or_without_slide_and_table_positions() -> None:
    """An old log holds only shift and turn. A new log also holds the last positions of slide and table."""
    entered = PutBack((0.5, -0.25), 12.0)
    assert input_as_data(entered) == ("put back", {"shift_mm": [0.5, -0.25], "turn_deg": 12.0})
    entered = entered._replace(table_deg=Fraction(1, 3), slide=Fraction("-36.7"))
    assert input_from_data(*input_as_data(entered)) == entered
