"""The order of the layers matches a search through every order, with changes counted from the steps."""

from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

import pytest

from tests.core.operations.patterns.outside.changes import (
    allowed_orders,
    best_changes,
    changes,
    needs_of,
    order_cut,
    plates_used,
)
from tests.core.operations.patterns.outside.job_files import card_of
from tests.core.operations.patterns.outside.random_jobs import HEADS, PLATES, random_lathe

LATHE = random_lathe(Random(1))
LATHE = LATHE | {
    "dial": LATHE["dial"] | {"boring_head": HEADS[2], "carriage": {"graduation": "0.01 mm", "reads": "travel"}},
    "rotary_table": {"ratio": 40, "dial_graduation": "2 arcmin", "plates": PLATES},
}
CUTTERS = [
    {"name": "wide", "tip_angle": "120 deg"},
    {"name": "fine", "tip_angle": "60 deg"},
    {"name": "round", "tip_angle": "60 deg", "tip_radius": "0.3 mm"},
]


def random_layers(random: Random, most: int) -> list[dict[str, Any]]:
    """Return rings about the centre, with few offsets, radii and cutters, so that orders differ in their changes."""
    layers = []
    for _ in range(random.randint(2, most)):
        layer: dict[str, Any] = {"shape": random.choice(("circles", "circles", "dots")), "depth": "0.2 mm"}
        layer |= {"cutter": random.choice(CUTTERS)["name"], "count": random.choice((1, 3, 7, 8, 9, 17, 23, 37))}
        layer["offset"] = random.choice(("10 mm", "12 mm", "20 mm"))
        if layer["shape"] == "circles":
            layer["circle_radius"] = random.choice(("4 mm", "5 mm", "6 mm"))
        layers.append(layer)
    return layers


@pytest.mark.parametrize("layer_order", ["wide first", "fewest changes"])
@pytest.mark.parametrize("seed", range(10))
def test_no_other_order_of_layers_needs_fewer_changes_of_cutter_head_plate_or_slide(
    seed: int, layer_order: str, tmp_path: Path
) -> None:
    """All orders of up to six layers: wide before acute, then cutter, head, plate and slide in order of importance."""
    random = Random(seed)
    means = random.choice(("dial", "dial", "plate"))
    operation = {"kind": "pattern", "name": "Lid", "with": means, "layer_order": layer_order, "cutter": CUTTERS}
    operation |= {"layer": random_layers(random, 6)}
    card = card_of(tmp_path, operation, LATHE)
    needs, order = needs_of(operation, LATHE), order_cut(card["steps"])
    assert sorted(order) == sorted(needs)
    as_cut = [needs[number] for number in order]
    assert any([one.layer for one in allowed] == order for allowed in allowed_orders(needs, layer_order))
    assert changes(as_cut) == best_changes(needs, layer_order)


@pytest.mark.parametrize("seed", range(10))
def test_the_stated_numbers_of_cutter_head_and_plate_changes_match_the_planned_steps(seed: int, tmp_path: Path) -> None:
    """The counts of cutters, heads and plates start after the first mounting."""
    random = Random(100 + seed)
    means = random.choice(("dial", "plate"))
    operation = {"kind": "pattern", "name": "Lid", "with": means, "cutter": CUTTERS, "layer": random_layers(random, 6)}
    operation["layer_order"] = random.choice(("wide first", "fewest changes", "written"))
    card = card_of(tmp_path, operation, LATHE)
    needs, order = needs_of(operation, LATHE), order_cut(card["steps"])
    if operation["layer_order"] == "written":
        assert order == sorted(needs)
    counted = changes([needs[number] for number in order])
    figures = card["figures"]
    assert (figures["cutter_changes"], figures["head_changes"]) == (counted.cutter, counted.head)
    plates = plates_used(card["steps"], LATHE["rotary_table"])
    assert figures["plate_changes"] == sum(one != other for one, other in pairwise(plates)) == counted.plate


def test_layers_cut_with_the_same_cutter_are_grouped_by_circle_radius(tmp_path: Path) -> None:
    """Two radii, written alternately twice, need one change of the head in place of three."""
    ring = {"shape": "circles", "cutter": "wide", "count": 3, "depth": "0.2 mm"}
    layers = [ring | {"offset": offset, "circle_radius": radius} for offset, radius in FOUR]
    operation = {"kind": "pattern", "name": "Lid", "cutter": CUTTERS, "layer": layers}
    heads = {
        order: card_of(tmp_path, operation | {"layer_order": order}, LATHE)["figures"]["head_changes"]
        for order in ("written", "fewest changes", "wide first")
    }
    assert heads == {"written": 3, "fewest changes": 1, "wide first": 1}


FOUR = (("10 mm", "4 mm"), ("20 mm", "6 mm"), ("12 mm", "4 mm"), ("25 mm", "6 mm"))
