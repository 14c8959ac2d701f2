"""Random lathes and patterns in the form of file contents. One seed always gives the same contents.

All lengths are short decimals, as a turner writes them. Each pattern fits its lathe: it is on the blank and within all
limits of radius and travel. The look of a pattern does not matter.
"""

import math
from random import Random
from typing import Any

from tests.core.operations.patterns.outside.job_files import length_text, mm

Table = dict[str, Any]
BLANK_MM = 150.0
SHAPES = ("circles", "circles", "dots", "slots", "arcs")
SLIDES: tuple[Table, ...] = (
    {"per_turn": "4 mm", "graduation": "0.05 mm", "reads": "diameter", "clockwise": "in"},
    {"per_turn": "3 mm", "graduation": "0.02 mm", "reads": "travel", "backlash": "0.1 mm"},
    {"per_turn": "2 mm", "graduation": "0.02 mm", "reads": "travel", "numbers": "fall"},
    {"per_turn": "0.1 in", "graduation": "0.001 in", "reads": "travel", "numbers": "fall"},
    {"per_turn": "200 thou", "graduation": "1 thou", "reads": "diameter"},
    {"per_turn": "100 thou", "graduation": "1 thou", "reads": "travel", "lead": "2.5 mm"},
    {"graduation": "0.005 mm", "reads": "travel"},
)
DEPTH_SLIDES: tuple[Table, ...] = (
    {"per_turn": "20 mm", "graduation": "0.1 mm", "reads": "travel"},
    {"per_turn": "4 mm", "graduation": "0.02 mm", "reads": "travel", "numbers": "fall"},
    {"per_turn": "0.75 in", "graduation": "0.005 in", "reads": "travel"},
    {"graduation": "0.01 mm", "reads": "travel"},
)
HEADS: tuple[Table | None, ...] = (
    None,
    {"per_turn": "0.05 in", "graduation": "0.001 in", "reads": "diameter"},
    {"per_turn": "1 mm", "graduation": "0.01 mm", "reads": "travel"},
    {"per_turn": "1 mm", "graduation": "0.02 mm", "reads": "diameter", "numbers": "fall"},
)
PLATES = [[15, 16, 17, 18, 19, 20], [21, 23, 27, 29, 31, 33], [37, 39, 41, 43, 47, 49]]


def random_lathe(random: Random) -> Table:
    """Return a random lathe with a rotary table."""
    table: Table = {
        "ratio": random.choice((36, 40, 60, 72, 90, 120)),
        "dial_graduation": random.choice(("1 arcmin", "2 arcmin", "30 arcsec")),
        "plates": PLATES,
        "direct": [24, 60],
    }
    if random.random() < 0.7:
        table["numbers_rise"] = random.choice(("clockwise", "anticlockwise"))
    dials = {name: random.choice(SLIDES) for name in ("cross_slide", "compound")}
    dials["carriage"] = random.choice(DEPTH_SLIDES)
    if head := random.choice(HEADS):
        dials["boring_head"] = head
    return {"dial": dials, "rotary_table": table}


def random_pattern(random: Random, lathe: Table, *, exact: bool = False) -> Table:
    """Return a random pattern for a lathe, set by the table's dial or a plate. `exact`: without any set-up error."""
    cutters = [_cutter(random, name) for name in ("wide", "fine", "round")[: random.randint(1, 3)]]
    operation: Table = {"kind": "pattern", "name": "Lid"}
    if random.random() < 0.15:
        operation["offset_dial"] = "compound"
    operation["offset_side"] = random.choice(("near", "far"))
    operation["order"] = random.choice(("round", "position"))
    operation["layer_order"] = random.choice(("wide first", "fewest changes", "written"))
    if random.random() < 0.6:
        operation["blank_diameter"] = length_text(BLANK_MM)
    if not exact:
        operation |= _errors(random)
    operation["cutter"] = cutters
    layers = [_layer(random, cutters) for _ in range(random.randint(1, 4))]
    if "boring_head" not in lathe["dial"]:
        # Every radius would need a trial circle.
        for layer in layers:
            layer.pop("circle_radius_step", None)
    # Arcs need a handle with a worm and a dial.
    by_plate = random.random() < 0.2 and not any(layer["shape"] == "arcs" for layer in layers)
    if by_plate or random.random() < 0.8:
        operation["with"] = "plate" if by_plate else "dial"
    return operation | {"layer": layers}


def _errors(random: Random) -> Table:
    errors: Table = {}
    if random.random() < 0.6:
        errors["height_error"] = length_text(random.uniform(-0.6, 0.6))
    if random.random() < 0.6:
        errors["eccentricity"] = length_text(random.uniform(0, 0.5))
        errors["eccentric_at"] = f"{random.randint(0, 359)} deg"
    if random.random() < 0.4:
        errors["face_runout"] = f"{random.choice((0.02, 0.05, 0.1))} mm"
        errors["face_radius"] = "40 mm"
    if random.random() < 0.5:
        errors["correct"] = random.random() < 0.7
    return errors


def _cutter(random: Random, name: str) -> Table:
    cutter: Table = {"name": name, "tip_angle": f"{random.choice((40, 60, 90, 90, 120))} deg"}
    match random.randrange(3):
        case 0:
            cutter["tip_flat"] = f"{random.choice((0.1, 0.2, 0.5))} mm"
        case 1:
            cutter["tip_radius"] = f"{random.choice((0.2, 0.5, 1))} mm"
    return cutter


def _layer(random: Random, cutters: list[Table]) -> Table:
    shape = random.choice(SHAPES)
    layer: Table = {"shape": shape}
    if len(cutters) > 1 or random.random() < 0.3:
        layer["cutter"] = random.choice(cutters)["name"]
    if shape == "slots":
        layer |= _slots(random)
    elif random.random() < 0.2:
        layer["at"] = _places(random)
    else:
        layer |= _ring(random, can_repeat=shape != "arcs")
    ring_mm = min(25.0, _room_mm(layer)) if shape == "circles" else 0.0
    if shape == "circles":
        layer["circle_radius"] = length_text(random.uniform(min(4.0, ring_mm), ring_mm))
        if random.random() < 0.25 and "at" not in layer:
            layer["circle_radius_step"] = random.choice(("0.1 mm", "-0.05 mm", "0.02 in"))
    if shape == "arcs":
        layer["through"] = random.choice(("360 deg", "20 deg", "12.5 deg", "90 deg"))
        if layer["through"] == "360 deg" and layer.get("count", 1) > 1 and "about" not in layer:
            # Whole turns at one offset would be one groove.
            layer["through"] = "50 deg"
    layer |= _depth(random)
    places = len(layer["at"]) if "at" in layer else layer["count"] * layer.get("repeat", 1)
    if places > 2 and random.random() < 0.3:
        layer["skip"] = sorted(random.sample(range(1, places + 1), random.randint(1, places // 2)))
    return layer


def _places(random: Random) -> list[list[str]]:
    places = [(random.uniform(-35, 35), random.uniform(-35, 35)) for _ in range(random.randint(1, 6))]
    return [[length_text(x), length_text(y)] for x, y in places]


def _slots(random: Random) -> Table:
    layer = {"count": random.randint(1, 12), "from": length_text(random.uniform(5, 30))}
    layer["to"] = length_text(mm(str(layer["from"])) + random.choice((-1, 1, 1)) * random.uniform(0.5, 4.5))
    return layer | _spread(random)


def _ring(random: Random, *, can_repeat: bool) -> Table:
    layer: Table = {"count": random.randint(1, 14), "offset": length_text(random.uniform(3, 25))} | _spread(random)
    if random.random() < 0.4:
        layer["about"] = [length_text(random.uniform(-12, 12)), length_text(random.uniform(-12, 12))]
    if can_repeat and random.random() < 0.3:
        layer |= {"repeat": random.randint(2, 5), "repeat_offset": length_text(random.uniform(5, 20))}
        layer["count"] = min(layer["count"], 7)
        if random.random() < 0.5:
            layer["repeat_start"] = f"{random.randint(0, 90)} deg"
    return layer


def _spread(random: Random) -> Table:
    found: Table = {}
    if random.random() < 0.6:
        found["start"] = random.choice(("15 deg", "7.5 deg", "45 arcmin", "200 deg", "331 deg"))
    if random.random() < 0.4:
        found["spread"] = random.choice(("1080 deg", "90 deg", "360 deg", "725 deg", "0 deg"))
        if found["spread"] not in ("90 deg", "360 deg") or random.random() < 0.5:
            # Without a step, some of the positions could be the same place.
            found["offset_step"] = random.choice(("0.1 mm", "0.35 mm", "-0.1 mm", "0.02 in"))
    return found


def _room_mm(layer: Table) -> float:
    """Return the largest radius of circles that fit on the blank."""
    if "at" in layer:
        outermost_mm = max(math.hypot(mm(x), mm(y)) for x, y in layer["at"])
    else:
        about = [mm(place) for place in layer.get("about", ("0 mm", "0 mm"))]
        steps_mm = layer["count"] * abs(mm(layer.get("offset_step", "0 mm")))
        outermost_mm = math.hypot(*about) + mm(layer.get("repeat_offset", "0 mm")) + mm(layer["offset"]) + steps_mm
    return max(3.0, BLANK_MM / 2 - 10 - outermost_mm)


def _depth(random: Random) -> Table:
    depths: Any = random.choice(("0.4 mm", "0.6 mm", "0.5 mm", ["0.6 mm", "0.3 mm", "0.3 mm"], ["0.02 in", "0.5 mm"]))
    layer: Table = {"depth": depths}
    if random.random() < 0.6:
        layer["cut"] = random.choice(("0.2 mm", "0.25 mm", "0.3 mm"))
    if random.random() < 0.25:
        layer["depth_step"] = random.choice(("0.02 mm", "0.05 mm", "-0.01 mm"))
    return layer
