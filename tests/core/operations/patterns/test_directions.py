"""The direction in a step's text agrees with the dial, whichever way its numbers run."""

import re
from typing import Any

import pytest

from core.lathe.lathe import Lathe
from core.lathe.reader import lathe_from
from core.plan import Step
from tests.core.counted import TABLE, Counted
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import pattern_keys

LAYERS = [
    {"count": 3, "offset": f"{offset} mm", "circle_radius": f"{radius} mm", "depth": "0.5 mm"}
    for offset, radius in ((20, 6), (12, 4), (28, 7), (28, 7))
]


def lathe(numbers: str, clockwise: str | None) -> Lathe:
    """Return a lathe with a cross-slide whose numbers run the given way."""
    slide: dict[str, Any] = {"per_turn": "4 mm", "graduation": "0.05 mm", "reads": "diameter", "numbers": numbers}
    slide |= {} if clockwise is None else {"clockwise": clockwise}
    head = {"per_turn": "0.050 in", "graduation": "0.001 in", "reads": "diameter"}
    carriage = {"per_turn": "20 mm", "graduation": "0.1 mm", "reads": "travel"}
    dials = {"cross_slide": slide, "boring_head": head, "carriage": carriage}
    return lathe_from({"format": 1, "name": "Bench", "dial": dials, "rotary_table": TABLE}, "bench.toml")


def is_layer_set(step: Step) -> bool:
    """Return whether a step sets the offset of a layer."""
    return step.action == "set" and not step.zeroed_dials and step.setting("cross_slide") is not None


@pytest.mark.parametrize("numbers", ["rise", "fall"])
@pytest.mark.parametrize("clockwise", [None, "in", "out"])
def test_the_text_of_a_step_names_the_same_direction_as_the_dial_on_the_counter(
    numbers: str, clockwise: str | None
) -> None:
    """Offsets of 20, 12, 28 and 28 mm: away, towards, away, unchanged. No text says "out" or "outwards"."""
    run, said = Counted(lathe(numbers, clockwise), "pattern", **pattern_keys(*LAYERS)), []
    while run.state.cursor is not None:
        if is_layer_set(run.cursor):
            dial = run.view.dial
            assert dial is not None and dial.name == "cross-slide"
            way = dial.direction.removeprefix("anticlockwise, ").removeprefix("clockwise, ")
            is_moved = f"), {way}. Lock it" in run.cursor.text
            assert is_moved != run.cursor.text.partition(": ")[2].startswith("leave the cross-slide")
            said.append(way)
            for words in (run.cursor.text, way):
                assert not re.search(r"\b(out|in|outwards|inwards)\b(?! above| below| and|;)", words)
        run.done()
    first, second, third, fourth = said
    assert first == third and len({first, second, fourth}) == 3
    assert first.startswith("away") and second.startswith("towards") and not re.search("away|towards", fourth)


def test_clockwise_is_shown_for_a_move_away_from_the_table_axis_if_clockwise_moves_the_slide_in() -> None:
    """Clockwise moves the slide in, which is away from the table's axis."""
    run, said = Counted(lathe("rise", "in"), "pattern", **pattern_keys(*LAYERS[:2])), []
    while run.state.cursor is not None:
        if is_layer_set(run.cursor) and run.view.dial is not None:
            said.append(run.view.dial.direction.partition(",")[0])
        run.done()
    assert said == ["clockwise", "anticlockwise"]


def test_a_step_that_moves_the_head_says_whether_the_circle_becomes_larger_or_smaller() -> None:
    """Radii of 6, 4 and 7 mm. The head passes the smaller radius and comes up to it, to take up the backlash."""
    run = Counted(lathe("rise", None), "pattern", **pattern_keys(*LAYERS))
    heads = [step.text.partition("boring head ")[2] for step in run.state.steps if is_layer_set(step)]
    assert heads[0] == heads[3] and not figures(heads[0])
    assert [re.findall("smaller|larger", head) for head in heads[1:3]] == [["smaller", "larger"], ["larger"]]


def test_after_an_undo_the_step_names_no_direction_for_the_cross_slide() -> None:
    """After undo, the slide's position is unknown, so the step gives its reading without a direction."""
    run = Counted(lathe("rise", None), "pattern", **pattern_keys(*LAYERS))
    while not (is_layer_set(run.cursor) and run.cursor.text.startswith("Layer 2")):
        run.done()
    assert run.view.dial is not None and "towards" in run.view.dial.direction
    run.done()
    run.undo()
    assert run.view.dial is not None and (run.view.dial.direction, run.view.dial.number) == ("", "0.00")


def test_the_first_move_of_the_cross_slide_is_away_from_the_table_axis() -> None:
    """From the place where the axes meet, the slide moves in, which is away from the table's axis."""
    run = Counted(lathe("rise", None), "pattern", **pattern_keys(*LAYERS))
    assert "going in" in run.state.steps[0].text and "away" in run.state.steps[0].text
