"""Slides reach every mark in their cutting direction, in a bore outwards (common practice, no source)."""

from typing import Any

import pytest

from core.inputs import PickedUp
from core.lathe.reader import example_lathe
from core.run.counter_view import Movements, counter_view
from core.run.revising import revised_steps
from tests.core.counted import Counted

BORE: dict[str, Any] = {"side": "inside", "from": "20 mm", "to": "23 mm", "cut": "0.5 mm"}
SHAFT: dict[str, Any] = {"from": "30 mm", "to": "27 mm", "cut": "0.5 mm"}
GROOVE: dict[str, Any] = {
    "side": "inside",
    "dial": "cross_slide",
    "diameter_now": "20 mm",
    "diameter": "23 mm",
    "cut": "0.5 mm",
}
INSIDE: dict[str, Any] = {"thread": "M24x1.5-6H", "side": "inside", "blank": "22.5 mm", "length": "20 mm"}
OUTSIDE: dict[str, Any] = {"thread": "M24x1.5-6g", "blank": "23.9 mm", "length": "20 mm"}


def _to_cut(run: Counted) -> None:
    while run.cursor.action != "cut":
        run.done()


def _touched_off(run: Counted) -> list[str]:
    return [step.text for step in run.state.steps if {"cross_slide", "compound"} & set(step.zeroed_dials)]


@pytest.mark.parametrize(
    ("kind", "keys", "way", "other"),
    [
        ("turn", BORE, "outwards", "inwards"),
        ("turn", SHAFT, "inwards", "outwards"),
        ("thread", {**INSIDE, "infeed": "straight"}, "outwards", "inwards"),
        ("thread", {**OUTSIDE, "infeed": "straight"}, "inwards", "outwards"),
        ("groove", GROOVE, "away from the axis", "towards the axis"),
    ],
)
def test_touching_off_takes_up_backlash_in_the_cutting_direction(
    kind: str, keys: dict[str, Any], way: str, other: str
) -> None:
    """The direction is the one that the counter shows for every deeper pass."""
    run = Counted(example_lathe(), kind, **keys)
    touched = _touched_off(run)
    assert touched
    assert all(way in text and other not in text for text in touched)
    _to_cut(run)
    for _ in range(2):
        assert run.view.dial is not None
        assert run.view.dial.direction.endswith(way)
        run.done()
        _to_cut(run)


@pytest.mark.parametrize(("keys", "away"), [(BORE, "inwards"), (SHAFT, "outwards")])
def test_a_slide_that_must_be_wound_back_is_first_wound_past_its_mark(keys: dict[str, Any], away: str) -> None:
    """The slide was set too deep and the step undone.

    The user must wind back past the mark and return to it while cutting.
    """
    run = Counted(example_lathe(), "turn", **keys)
    _to_cut(run)
    run.done()
    _to_cut(run)
    run.done()
    first = next(step for step in run.state.done_steps if step.action == "cut")
    run.log("reopened", steps=[first.id])
    assert run.view.dial is not None
    way, then = run.view.dial.direction.split(" past it, ")
    assert way.endswith(away)
    assert then == "then back to it"


@pytest.mark.parametrize(("keys", "way"), [(BORE, "out"), (SHAFT, "in")])
def test_the_movements_of_a_pass_name_the_direction_in_which_the_slide_moves(keys: dict[str, Any], way: str) -> None:
    """A slide moves to its reading in the cutting direction. In a bore it moves inwards to clear the wall."""
    run = Counted(example_lathe(), "turn", **keys)
    _to_cut(run)
    to_reading, _, clear, _ = Movements(run.plan_input)(run.state)
    assert f" {way} to its reading" in to_reading
    assert ("inwards" in clear) == (way == "out")


@pytest.mark.parametrize(("keys", "way"), [(INSIDE, "outwards"), (OUTSIDE, "inwards")])
def test_a_thread_is_picked_up_with_backlash_taken_up_in_the_cutting_direction(keys: dict[str, Any], way: str) -> None:
    """The dials then count from a position with the backlash taken up."""
    run = Counted(example_lathe(), "thread", **keys)
    _to_cut(run)
    run.done()
    steps = revised_steps(run.plan_input, run.state, PickedUp(moved="tool"))
    (groove,) = (step.text for step in steps if "into the groove" in step.text)
    assert way in groove
    assert counter_view(run.lathe, run.state, Movements(run.plan_input)).dial is not None
