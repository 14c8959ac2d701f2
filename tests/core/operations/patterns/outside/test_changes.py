"""Every change of cutter, holder, plate and head is a step. A touch-off follows each change that needs one."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

import pytest

from tests.core.operations.patterns.outside.changes import needs_of, order_cut, plates_used
from tests.core.operations.patterns.outside.checking import disagreements
from tests.core.operations.patterns.outside.job_files import card_of
from tests.core.operations.patterns.outside.machine import HEAD, TABLE
from tests.core.operations.patterns.outside.test_layer_order import CUTTERS, LATHE, random_layers

Step = Mapping[str, Any]


def card(folder: Path, *layers: dict[str, Any], **keys: Any) -> dict[str, Any]:
    """Return the card of a pattern with three cutters."""
    operation = {"kind": "pattern", "name": "Lid", "cutter": CUTTERS, "layer_order": "written", **keys}
    return card_of(folder, operation | {"layer": list(layers)}, LATHE)


def between_layers(steps: Sequence[Step]) -> Iterator[tuple[int, int, list[Step]]]:
    """Yield each pair of layers cut in sequence, with the steps between them."""
    cuts = [index for index, step in enumerate(steps) if step["action"] == "cut"]
    for one, other in pairwise(cuts):
        if steps[one]["layer"] != steps[other]["layer"]:
            apart = [step for step in steps[one + 1 : other] if step["action"] != "index"]
            yield steps[one]["layer"], steps[other]["layer"], apart


def sets_to_zero(step: Step, dial: str) -> bool:
    """Return whether a step sets a dial to 0."""
    settings = [setting for setting in step.get("settings", ()) if setting["dial"] == dial]
    return any(one.get("position", one.get("turns", 1)) == 0 for one in settings)


@pytest.mark.parametrize("seed", range(10))
def test_every_change_of_cutter_dividing_plate_or_circle_radius_is_a_separate_step(seed: int, tmp_path: Path) -> None:
    """In random orders, steps name cutters, touch off after a change, set the head and mount the plate."""
    random = Random(300 + seed)
    operation = {"kind": "pattern", "name": "Lid", "with": random.choice(("dial", "plate")), "cutter": CUTTERS}
    operation |= {"layer_order": random.choice(("written", "wide first")), "layer": random_layers(random, 5)}
    steps = card_of(tmp_path, operation, LATHE)["steps"]
    needs, plates = needs_of(operation, LATHE), LATHE["rotary_table"]
    for before, after, apart in between_layers(steps):
        one, other = needs[before], needs[after]
        mounts = [index for index, step in enumerate(apart) if f'"{other.cutter}"' in step["text"]]
        touches = [index for index, step in enumerate(apart) if sets_to_zero(step, "carriage")]
        if (one.cutter, one.with_head) != (other.cutter, other.with_head):
            assert mounts and touches and touches[-1] > mounts[0], (before, after)
        else:
            assert not touches, (before, after)
        heads = [step for step in apart if any(one["dial"] == HEAD for one in step.get("settings", ()))]
        if other.with_head and one.with_head and one.radius_first_mm != other.radius_first_mm:
            assert heads, (before, after)
        used = [{plate for step, plate in _plates(steps) if step["layer"] == layer} for layer in (before, after)]
        if used[0] != used[1]:
            assert any("plate" in step["text"] and sets_to_zero(step, TABLE) for step in apart), (before, after)
    assert len(plates_used(steps, plates)) in (0, len([step for step in steps if step["action"] == "index"]))


def _plates(steps: Sequence[Step]) -> Iterator[tuple[Step, int]]:
    indexed = [step for step in steps if step["action"] == "index"]
    used = plates_used(steps, LATHE["rotary_table"])
    yield from zip(indexed, used, strict=bool(used))


@pytest.mark.parametrize("first", ["circles", "dots"])
def test_a_cutter_moved_to_another_holder_is_touched_off_again(first: str, tmp_path: Path) -> None:
    """In another holder, the point of the same cutter is in another place."""
    circles = {"shape": "circles", "cutter": "wide", "count": 3, "offset": "10 mm", "depth": "0.2 mm"}
    circles |= {"circle_radius": "4 mm"}
    dots = {"shape": "dots", "cutter": "wide", "count": 3, "offset": "20 mm", "depth": "0.2 mm"}
    layers = (circles, dots) if first == "circles" else (dots, circles)
    found = card(tmp_path, *layers)
    apart = next(iter(between_layers(found["steps"])))[2]
    assert any(sets_to_zero(step, "carriage") for step in apart)
    assert any("wide" in step["text"] or "head" in step["text"] or "collet" in step["text"] for step in apart)


def test_a_trial_circle_is_measured_before_the_first_circle_of_the_pattern_is_cut(tmp_path: Path) -> None:
    """A measurement comes before the first circle. A layer of dots needs no measurement."""
    circles = {"shape": "circles", "cutter": "wide", "count": 3, "offset": "10 mm", "depth": "0.2 mm"}
    circles |= {"circle_radius": "4 mm"}
    dots = {"shape": "dots", "cutter": "wide", "count": 3, "offset": "20 mm", "depth": "0.2 mm"}
    steps = card(tmp_path, dots, circles)["steps"]
    first = {layer: next(step["number"] for step in steps if _cuts(step, layer)) for layer in (1, 2)}
    trials = [step["number"] for step in steps if step["action"] == "measure" and "trial circle" in step["text"]]
    assert trials and first[1] < trials[0] < first[2]


def _cuts(step: Step, layer: int) -> bool:
    return step["action"] == "cut" and step["layer"] == layer


def test_cautions_say_to_lock_the_table_for_cutting_dots_but_not_for_cutting_arcs(tmp_path: Path) -> None:
    """No caution at a cut of an arc says to lock the table. A caution at dots does. Common practice, no source."""
    arcs = {"shape": "arcs", "cutter": "wide", "count": 2, "offset": "10 mm", "through": "90 deg", "depth": "0.2 mm"}
    dots = {"shape": "dots", "cutter": "wide", "count": 3, "offset": "20 mm", "depth": "0.2 mm"}
    steps = card(tmp_path, arcs, dots)["steps"]
    locks = {
        layer: [text for step in steps if _cuts(step, layer) for text in step.get("cautions", ()) if _locks(text)]
        for layer in (1, 2)
    }
    assert locks[1] == [] and locks[2]


def _locks(caution: str) -> bool:
    return caution.startswith("Lock") and "table" in caution


@pytest.mark.parametrize("order", ["round", "position"])
def test_the_job_decides_whether_positions_are_deepened_together_or_one_by_one(order: str, tmp_path: Path) -> None:
    """ "round": all positions at one depth, then deeper. "position": each to its full depth.

    Both allow a list of depths.
    """
    dots = {"shape": "dots", "cutter": "wide", "count": 4, "offset": "20 mm", "cut": "0.2 mm"}
    dots["depth"] = ["0.6 mm", "0.2 mm"]
    operation = {"kind": "pattern", "name": "Lid", "cutter": CUTTERS, "order": order, "layer": [dots]}
    steps = card_of(tmp_path, operation, LATHE)["steps"]
    cut = [step["position"] for step in steps if step["action"] == "cut"]
    by_position = [1, 1, 1, 2, 3, 3, 3, 4]
    assert cut == ([1, 2, 3, 4, 1, 3, 1, 3] if order == "round" else by_position)


def test_a_layer_is_finished_before_the_next_layer_starts(tmp_path: Path) -> None:
    """In `order_cut` and in the steps, each layer occurs once and in one piece."""
    layers = random_layers(Random(5), 6)
    steps = card(tmp_path, *layers)["steps"]
    runs = [step["layer"] for step in steps if step["action"] == "cut"]
    assert [one for one, other in pairwise([*runs, 0]) if one != other] == order_cut(steps)


def test_one_pattern_can_use_a_boring_head_in_inches_a_dividing_plate_and_three_cutters(tmp_path: Path) -> None:
    """One pattern combines a plate, three cutters and both holders on the simulated machine."""
    operation = {"kind": "pattern", "name": "Lid", "with": "plate", "cutter": CUTTERS, "order": "position"}
    operation["layer"] = random_layers(Random(11), 6)
    assert disagreements(operation, LATHE, card_of(tmp_path, operation, LATHE)) == []
