"""The list of readings at cut positions, and the counter's question for a position cut in the wrong place."""

import cmath
import math
from fractions import Fraction

import pytest

from core.inputs import PositionCutWrong
from core.operations.patterns.picture import PatternPlace
from core.run.cut_places import (
    MovedCuts,
    cut_places,
    cut_wrong,
    moved_cuts,
    read_slide_place,
    read_table_place,
    reading_words,
)
from core.values.errors import QuantityError
from tests.core.counted import Counted, table_lathe
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import pattern_keys

LAYER = {"count": 6, "offset": "20.35 mm", "circle_radius": "5 mm", "depth": "0.6 mm"}


def run_of(cuts: int) -> Counted:
    """Return a run of a pattern in which this number of positions is cut."""
    run = Counted(table_lathe(), "pattern", **pattern_keys(LAYER, depth_dial="carriage"))
    while sum(step.action == "cut" for step in run.state.done_steps) < cuts:
        run.done()
    return run


def test_every_cut_position_is_listed_with_its_slide_and_table_settings() -> None:
    """60 deg is 12 turns of a 72:1 table; 20.35 mm is 40.7 on a dial of 4 mm a turn that reads diameter."""
    run = run_of(3)
    places = cut_places(run.state)
    assert [place.position for place in places] == [3, 2, 1]
    words = reading_words(run.lathe, run.state, places[1])
    assert "12+0°00' (60°00')" in words and "10+0.70 mm" in words and {"1", "2"} <= figures(words)


def test_no_cut_position_is_listed_before_the_first_cut() -> None:
    """The table was only turned to the first position, so there is no cut to find again."""
    run = run_of(0)
    assert cut_places(run.state) == ()


def test_a_wrongly_cut_position_is_computed_from_the_readings_of_slide_and_table() -> None:
    """A reading alone means the turn of the plan. A reading with its turns may be anywhere."""
    run = run_of(2)
    place = cut_places(run.state)[0]
    assert read_slide_place(run.lathe, run.state, place, "0.80")[0] == Fraction("40.8")
    assert read_slide_place(run.lathe, run.state, place, "9+0.70")[0] == Fraction("36.7")
    assert read_slide_place(run.lathe, run.state, place, "9 turns and 0.70")[0] == Fraction("36.7")
    assert read_table_place(run.lathe, place, "62-30")[0] == Fraction("62.5")
    for wrong in ("5", "x", "3+4.5"):
        with pytest.raises(QuantityError):
            read_slide_place(run.lathe, run.state, place, wrong)


def test_a_wrongly_cut_position_stays_logged_until_it_is_undone() -> None:
    """The log names the wrong position among the inputs of the run. Undo brings the old steps back."""
    run = run_of(2)
    place = cut_places(run.state)[0]
    before = [step.text for step in run.state.open_steps()]
    table, slide = read_table_place(run.lathe, place, "62-30"), read_slide_place(run.lathe, run.state, place, "9+0.70")
    run.tell(cut_wrong(run.lathe, place, table, slide, cut_again=True))
    (revision,) = run.state.revisions
    assert isinstance(revision.entered, PositionCutWrong) and revision.entered.slide == Fraction("36.7")
    # The slide's dial reads diameter: 18.35 mm out, at 62.5 deg of the table.
    x_mm, y_mm = moved_cuts(run.plan_input, run.state).at_mm[PatternPlace(1, 2)]
    assert complex(x_mm, y_mm) == pytest.approx(cmath.rect(18.35, math.radians(62.5)))
    only_one = run.plan_input.parameters | {"layer": [LAYER | {"shape": "circles", "count": 1}]}
    fewer = run.plan_input._replace(parameters=only_one)
    assert moved_cuts(fewer, run.state) == MovedCuts({}, frozenset())
    assert [step.at.position for step in run.state.open_steps() if step.action == "cut"] == [2, 3, 4, 5, 6]
    # The table is at its real angle, not at position 2: from 62.5 deg back to 60.
    assert run.view.dial is not None and "back" in run.view.dial.turns
    run.undo()
    assert moved_cuts(run.plan_input, run.state) == MovedCuts({}, frozenset())
    assert not run.state.revisions and [step.text for step in run.state.open_steps()] == before
