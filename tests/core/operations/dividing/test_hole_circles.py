"""Hole circles of several layers: the choice matches a search of all choices, and steps change the circle."""

import re
from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from itertools import pairwise, product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.cutting import progress_of
from core.inputs import Edited, Measured, Moved, RunInput
from core.lathe.lathe import Lathe
from core.operations.dividing.plates import COMMON_PLATES, Circle
from core.operations.dividing.set_up import TO_ZERO
from core.operations.patterns import layer_plan
from core.operations.patterns.operation import plan_pattern
from core.operations.patterns.replanning import replan_pattern
from core.plan import PlateSetting, Step
from tests.core.counted import Counted, table_lathe
from tests.core.figures import figures
from tests.core.operations.dividing.rotary import lathe_with, layers_job, pattern_keys

FORTY = lathe_with(40, minutes=None, plates=True, direct=(24, 60))
SEVEN_NINE_SEVENTEEN = (7, 9, 17)
_MOVE = re.compile(r"turn (on|back) by (?:(\d+) turns?)?(?: and )?(?:(\d+) holes?)?")


def layers(counts: tuple[int, ...]) -> list[dict[str, Any]]:
    """Return layers with these numbers of divisions, as their tables hold them."""
    return [
        {"count": count, "offset": f"{10 + 5 * number} mm", "circle_radius": "3 mm", "depth": "0.5 mm"}
        for number, count in enumerate(counts)
    ]


def planned(counts: tuple[int, ...], lathe: Lathe = FORTY) -> tuple[Step, ...]:
    """Return the steps of these layers, set by plate."""
    return plan_pattern(layers_job(lathe, *layers(counts)), lathe, None).steps


def circles_of(steps: tuple[Step, ...]) -> list[int | None]:
    """Return the hole circle of every layer with open positions, in order. All positions of a layer must share one."""
    found: dict[int, set[int | None]] = {}
    for step in steps:
        for setting in step.settings:
            if step.action == "index" and isinstance(setting, PlateSetting):
                found.setdefault(step.at.layer, set()).add(setting.circle)
    assert all(len(circles) == 1 for circles in found.values())
    return [next(iter(circles)) for circles in found.values()]


def plates_changed(steps: Sequence[Step]) -> list[Step]:
    """Return the steps that change the plate, its circle or the notches. The table must be at its zero."""
    return [step for step in steps if step.action == "check" and step.zeroed_dials == ("rotary_table",)]


@cache
def worst_error(count: int, circle: int, ratio: int) -> Fraction:
    """Return the largest error of even positions [turns], from a search of every position and hole."""
    places = [Fraction(ratio * number, count) % 1 for number in range(count)]
    holes = [Fraction(hole, circle) for hole in range(circle + 1)]
    return max(min(abs(place - hole) for hole in holes) for place in places)


def test_a_dividing_plate_is_kept_while_it_has_a_circle_for_the_next_layer() -> None:
    """Circle 27 for 9 is on the plate of circle 21. Circle 17 is only on another plate."""
    assert circles_of(planned(SEVEN_NINE_SEVENTEEN)) == [21, 27, 17]
    assert circles_of(planned((9,))) == [18], "a layer alone keeps the circle with the fewest holes"
    assert circles_of(planned((17, 9))) == [17, 18]


@settings(deadline=None, max_examples=25, derandomize=True)
@given(st.lists(st.integers(2, 24), min_size=1, max_size=3), st.sampled_from((40, 60, 90)))
def test_the_chosen_hole_circles_match_a_complete_search(counts: list[int], ratio: int) -> None:
    """Each layer gets a circle with the smallest largest error.

    Of such choices, the one with fewest plate changes is taken.
    """
    lathe = lathe_with(ratio, minutes=None, plates=True)
    chosen = circles_of(planned(tuple(counts), lathe))
    options = []
    for count, circle in zip(counts, chosen, strict=True):
        errors = {
            (plate, holes): worst_error(count, holes, ratio)
            for plate, circles in enumerate(COMMON_PLATES)
            for holes in circles
        }
        least = min(errors.values())
        assert circle is not None and worst_error(count, circle, ratio) == least
        options.append([place for place, error in errors.items() if error == least])
    plate_of = {holes: plate for plate, circles in enumerate(COMMON_PLATES) for holes in circles}

    def changes(plates: list[int]) -> int:
        return sum(one != other for one, other in pairwise(plates))

    fewest = min(changes([plate for plate, _ in choice]) for choice in product(*options))
    assert changes([plate_of[circle] for circle in chosen if circle is not None]) == fewest


class Head:
    """A dividing head in the user's hands: the pin's circle, and the angles of table and pin [turns, exact]."""

    def __init__(self) -> None:
        self.circle = 0
        self.turns = Fraction(0)

    def follow(self, step: Step, words: str) -> None:
        """Do what a step says: put a plate on, change to a circle, or turn by holes of the pin's circle."""
        named = re.search(r"in the (\d+) circle|pin to the (\d+) circle", words)
        circle = int(named[1] or named[2]) if named else 0
        if step.action == "check" and circle:
            # Holes of another circle line up with the pin for certain only at hole 0 of both circles.
            assert self.turns.denominator == 1
            self.circle = circle
        elif step.action == "index" or TO_ZERO in step.extra:
            assert circle == self.circle
            said = words.partition(": ")[2]
            moved = _MOVE.search(said)
            if moved:
                amount = int(moved[2] or 0) + Fraction(int(moved[3] or 0), circle)
                self.turns += amount if moved[1] == "on" else -amount
            else:
                assert said.startswith(("pin 0 holes from zero", "leave the table")), said
                self.turns = Fraction(round(self.turns / 40) * 40) if said.startswith("pin") else self.turns


@pytest.mark.parametrize("counts", [SEVEN_NINE_SEVENTEEN, (17, 7, 21, 9), (51, 7), (8, 8)])
def test_a_dividing_head_turned_as_the_steps_say_reaches_every_position(counts: tuple[int, ...]) -> None:
    """Every movement is in holes of the pin's circle, and ends at the position within the smallest possible error."""
    lathe = table_lathe(ratio=40, plates=[list(plate) for plate in COMMON_PLATES])
    run, head = Counted(lathe, "pattern", **pattern_keys(*layers(counts))), Head()
    worst = {number: min(worst_error(count, holes, 40) for plate in COMMON_PLATES for holes in plate)
             for number, count in enumerate(counts, start=1)}  # fmt: skip
    seen = 0
    while run.state.cursor is not None:
        step = run.cursor
        head.follow(step, run.view.text)
        if step.action == "index":
            seen += 1
            wanted = Fraction(40 * (step.at.position - 1), counts[step.at.layer - 1])
            off = (head.turns - wanted + 20) % 40 - 20
            assert abs(off) <= worst[step.at.layer]
        run.done()
    assert seen == sum(counts)


def test_mounting_and_changing_a_dividing_plate_are_separate_steps() -> None:
    """The steps name plate, circle and arms before first use and at every change.

    The table is at its zero for a change.
    """
    steps = planned(SEVEN_NINE_SEVENTEEN)
    assert figures(steps[0].text) == {"2", "21", "23", "27", "29", "31", "33", "15", "16"}
    changes = [(before.text, step) for before, step in pairwise(steps) if TO_ZERO in before.extra]
    (to_nine, nine), (to_seventeen, seventeen) = changes
    assert nine.zeroed_dials == seventeen.zeroed_dials == ("rotary_table",)
    assert figures(to_nine) >= {"2", "0", "5", "15"}
    assert figures(to_seventeen) >= {"3", "0", "4", "12"}
    assert figures(nine.text) >= {"27", "0", "12"}
    assert figures(seventeen.text) >= {"1", "17", "6", "0"}
    assert not any(TO_ZERO in step.extra for step in planned((7, 21)))


def test_sector_arms_are_set_for_the_moves_between_positions_that_are_cut() -> None:
    """At 40:1 every second of 14 positions is skipped. This leaves 7 moves of 5 turns and 15 holes of 21."""
    layer = {**layers((14,))[0], "skip": [2, 4, 6, 8, 10, 12, 14]}
    steps = plan_pattern(layers_job(FORTY, layer), FORTY, None).steps
    assert "15" in figures(steps[0].text)


def test_the_first_step_names_the_plate_with_an_exact_pair_of_hole_circles() -> None:
    """51 is nearest on circle 49 of plate 3, and exact with circles 15 and 17 of plate 1 (a pair from a handbook)."""
    steps = planned((51,))
    assert figures(steps[0].text) >= {"3", "49", "1", "15", "17"}


def test_a_direct_index_plate_is_changed_only_if_the_next_layer_needs_another() -> None:
    """8 is on the plate of 24 only, 10 on that of 60 only. 12 is on both, and stays on the plate of the 10 before."""
    lathe = lathe_with(40, minutes=None, direct=(24, 60))
    assert circles_of(planned((8, 10, 12), lathe)) == [24, 60, 60]
    first, *rest = planned((8, 10, 12), lathe)
    assert figures(first.text) == {"24"}
    assert ["60" in figures(step.text) for step in plates_changed(rest)] == [True]


def replanned(steps: tuple[Step, ...], done: int, entered: RunInput) -> tuple[Step, ...]:
    """Return the steps that replace the open ones after `done` steps."""
    job = layers_job(FORTY, *layers(SEVEN_NINE_SEVENTEEN))
    return replan_pattern(job, FORTY, None, progress_of(steps[:done], steps[done:], 500), entered)


@pytest.mark.parametrize("entered", [Measured(what="depth", size_mm=0.48), Moved(), Edited(plan_input={})])
def test_planning_again_keeps_the_hole_circles_and_plate_changes(entered: RunInput) -> None:
    """In layers 1 and 2 the open positions stay on their circles, with the same number of changes."""
    steps = planned(SEVEN_NINE_SEVENTEEN)
    for position, layer, wanted in ((3, 1, 2), (3, 2, 1)):
        done = next(
            number
            for number, step in enumerate(steps, start=1)
            if step.action == "cut" and (step.at.layer, step.at.position) == (layer, position)
        )
        again = replanned(steps, done, entered)
        assert circles_of(again) == [21, 27, 17][layer - 1 :]
        assert sum(TO_ZERO in step.extra for step in again) == wanted
        assert not any(step.text.startswith("Dividing plate") for step in again)


def test_if_the_work_moves_before_a_plate_change_the_new_plate_is_mounted_first() -> None:
    """The zero is found with the circle of the current layer, so the plate of this layer is mounted first."""
    steps = planned(SEVEN_NINE_SEVENTEEN)
    done = next(number for number, step in enumerate(steps) if step is plates_changed(steps)[-1])
    again = replanned(steps, done, Moved())
    assert figures(again[0].text) >= {"1", "17"} and "17" in figures(again[2].text)
    assert not any(TO_ZERO in step.extra for step in again)


def test_a_run_planned_by_an_older_version_without_plate_changes_keeps_its_hole_circles(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The run started with circles 21, 18 and 17. Planning again keeps these and adds steps for the plate changes."""

    def fewest_holes(choices: list[list[Circle]]) -> tuple[Circle, ...]:
        return tuple(circles[0] for circles in choices)

    with monkeypatch.context() as older:
        older.setattr(layer_plan, "fewest_changes", fewest_holes)
        steps = planned(SEVEN_NINE_SEVENTEEN)
    older_numbers = {step.at.step for step in steps if TO_ZERO in step.extra} | {0}
    begun = tuple(step for step in steps if step.at.step not in older_numbers)
    assert circles_of(begun) == [21, 18, 17]
    done = next(number for number, step in enumerate(begun, start=1) if step.action == "cut")
    again = replanned(begun, done, Measured(what="depth", size_mm=0.48))
    assert circles_of(again) == [21, 18, 17]
    second, third = plates_changed(again)
    assert figures(second.text) >= {"2", "18"} and figures(third.text) >= {"3", "17"}


def test_after_an_edit_that_changes_the_hole_circle_the_zero_is_found_again() -> None:
    """7 is changed to 9 half-way.

    The pin is in circle 21, but the remaining steps need 18, so plate and zero come first.
    """
    run = Counted(table_lathe(ratio=40, plates=[list(plate) for plate in COMMON_PLATES]), "divide", divisions=7)
    run.to_position(4)
    run.plan_input = run.plan_input._replace(parameters={**run.plan_input.parameters, "divisions": 9})
    run.revise("edited")
    texts = [step.text for step in run.state.open_steps()]
    assert "1" in figures(texts[0]) and "18" in figures(texts[1])
    assert figures(texts[2]) >= {"4", "9", "13", "6", "18"}


def test_returning_to_a_layer_on_another_hole_circle_names_that_circle() -> None:
    """Layer 1 is cut again while the pin is in the circle of layer 2, and layer 2 follows.

    The pin is set first each time.
    """
    run = Counted(
        table_lathe(ratio=40, plates=[list(plate) for plate in COMMON_PLATES]),
        "pattern",
        **pattern_keys(*layers((7, 9))),
    )
    run.to_position(7)
    while not (run.cursor.action == "index" and run.cursor.at.where == (2, 3)):
        run.done()
    assert figures(run.view.text) >= {"2", "3", "9", "4", "12", "27"}
    assert run.view.cautions == ()
    run.again(3)
    assert figures(run.view.text) == {"1", "3", "7", "11", "9", "21"}
    assert figures(run.view.cautions[0]) >= {"27", "21"}
    run.done()
    assert figures(run.view.text) >= {"2", "3", "9", "8", "24", "27"}
    assert figures(run.view.cautions[0]) >= {"21", "27"}
    run.done(2)
    assert run.view.cautions == () and figures(run.view.text) >= {"2", "4", "9", "12"}


def test_the_counter_names_the_new_hole_circle_when_the_circle_changes() -> None:
    """The title is the circle. The pin goes into hole 0."""
    run = Counted(
        table_lathe(ratio=40, plates=[list(plate) for plate in COMMON_PLATES]),
        "pattern",
        **pattern_keys(*layers((7, 9))),
    )
    while TO_ZERO not in run.cursor.extra:
        run.done()
    assert figures(run.view.text) >= {"2", "0", "5", "15", "7"}
    assert figures(run.view.coming[0]) == {"2", "27"}
    run.done()
    assert figures(run.view.title) == {"2", "27"}
    assert run.view.dial is not None and run.view.dial.number == "0"
