"""A feed along a groove keeps its feed in: both are skipped, repeated or interrupted together."""

import pytest

from core.inputs import PutBack
from core.lathe.reader import lathe_from
from core.plan import Step
from core.run.counter_view import Movements, coming_steps, counter_view
from core.run.revising import plan_input_of
from core.run.steps_together import interrupted_with, repeated_with, skipped_with
from tests.core.counted import Counted, table_lathe
from tests.core.operations.dividing.rotary import pattern_keys

SLOTS = {"shape": "slots", "count": 3, "from": "10 mm", "to": "20 mm", "depth": "0.4 mm", "cut": "0.2 mm"}
ARCS = {
    "shape": "arcs",
    "count": 3,
    "offset": "20 mm",
    "through": "60 deg",
    "depth": "0.4 mm",
    "cut": "0.2 mm",
}


def run_of(layer: dict[str, object]) -> Counted:
    """Return a run of one layer of grooves, at the first feed in."""
    data = table_lathe().data
    carriage = {"per_turn": "20 mm", "graduation": "0.1 mm", "reads": "travel"}
    lathe = lathe_from({**data, "dial": {**data["dial"], "carriage": carriage}}, "bench.toml")
    run = Counted(lathe, "pattern", **pattern_keys(layer, depth_dial="carriage"))
    while not is_feed_in(run.state.cursor):
        run.done()
    return run


def is_feed_in(step: Step | None) -> bool:
    """Return whether a step is the feed in at the start of a groove."""
    assert step is not None
    return step.action == "cut" and not step.feeds_along


@pytest.mark.parametrize("layer", [SLOTS, ARCS])
def test_skipping_the_plunge_also_skips_the_feed_along_the_groove(layer: dict[str, object]) -> None:
    """Without the feed in, a stopped cutter would be fed along the work."""
    run = run_of(layer)
    step = run.state.cursor
    assert step is not None
    both = skipped_with(run.state, step)
    assert [one.feeds_along for one in both] == [False, True]
    assert {one.at.where for one in both} == {step.at.where}
    run.done()
    along = run.state.cursor
    assert along is not None and skipped_with(run.state, along) == (along,)


@pytest.mark.parametrize("layer", [SLOTS, ARCS])
def test_repeating_a_feed_along_first_returns_to_the_groove_and_feeds_in(layer: dict[str, object]) -> None:
    """The run is at the end of the groove, or at another position.

    It goes to the groove, feeds in, feeds along, and returns.
    """
    run = run_of(layer)
    run.done()
    along = run.state.cursor
    assert along is not None and along.feeds_along
    run.done()
    again = repeated_with(run.state, along)
    assert [step.action for step in again] == ["index", "cut", "cut"] and again[-1] is along
    assert repeated_with(run.state, again[1]) == again
    while not is_feed_in(run.state.cursor):
        run.done()
    again = repeated_with(run.state, along)
    assert [step.action for step in again] == ["index", "cut", "cut", "index"]
    assert run.state.cursor is not None and again[-1].at.where == run.state.cursor.at.where


@pytest.mark.parametrize("layer", [SLOTS, ARCS])
def test_an_interrupted_feed_along_starts_again_with_the_table_turn_and_the_feed_in(layer: dict[str, object]) -> None:
    """The tool was withdrawn after the interruption. Before a feed in there is nothing to repeat."""
    run = run_of(layer)
    assert interrupted_with(run.state) == ()
    run.done()
    assert [step.action for step in interrupted_with(run.state)] == ["index", "cut"]


def test_a_circle_at_the_present_table_position_is_repeated_without_other_steps() -> None:
    """If the table is elsewhere, it goes back to the circle first, and to the current position afterwards."""
    run = run_of({"count": 6, "offset": "20 mm", "circle_radius": "5 mm", "depth": "0.4 mm", "cut": "0.4 mm"})
    cut = run.state.cursor
    assert cut is not None
    run.done()
    assert repeated_with(run.state, cut) == (cut,)
    while not is_feed_in(run.state.cursor):
        run.done()
    assert [step.action for step in repeated_with(run.state, cut)] == ["index", "cut", "index"]


def test_a_feed_along_is_listed_among_the_steps_without_a_number_or_unit() -> None:
    """A feed along a groove has no number."""
    run = run_of(SLOTS)
    lines = coming_steps(run.lathe, run.state, 1)
    assert lines[0].endswith("feed along")


def test_the_log_states_the_position_of_the_rotary_table_counted_from_its_zero() -> None:
    """At 60 deg a 72:1 table has turned 12 times since its zero. The large number counts from the last position."""
    run = run_of({"count": 6, "offset": "20 mm", "circle_radius": "5 mm", "depth": "0.4 mm", "cut": "0.4 mm"})
    shown = []
    while len(shown) < 2:
        run.done()
        view = counter_view(run.lathe, run.state, Movements(plan_input_of(run.state.plan_input)))
        if run.state.cursor is not None and run.state.cursor.action == "index":
            shown.append(view.set_to)
    assert shown == ["rotary table 12+0°00' from zero", "rotary table 24+0°00' from zero"]


def test_table_turns_made_before_the_work_was_put_back_cannot_be_repeated() -> None:
    """Earlier turns would set table and slide for the old position of the work. Later turns are repeated."""
    run = run_of({"count": 6, "offset": "20 mm", "circle_radius": "5 mm", "depth": "0.4 mm", "cut": "0.4 mm"})
    run.done(2)
    before = run.state.steps[-1].id
    run.tell(PutBack((0.5, -0.25), 12.0))
    while not is_feed_in(run.state.cursor):
        run.done()
    cut = run.state.cursor
    run.done()
    while not is_feed_in(run.state.cursor):
        run.done()
    assert cut is not None
    again = repeated_with(run.state, cut)
    assert [step.action for step in again] == ["index", "cut", "index"]
    assert all(step.id > before for step in again)
