"""Checks the words of a step for a turn of the table, followed from the handle's position before, not from zero.

"turn on by 7 turns, then up to 2°00'" means: seven full turns, then on to the first position at which the dial reads
2°00'. If the table's numbers fall, the words say down in place of up.
"""

import math
import re
from collections.abc import Iterator, Mapping
from typing import Any

from tests.core.operations.patterns.outside.job_files import Tables
from tests.core.operations.patterns.outside.machine import TABLE, mm_inwards

NOTHING_DEG = 1e-6
_MOVE = re.compile(
    r"turn (?P<way>on|down|back|up)(?: by (?P<turns>\d+) turns?)?(?:(?: and| by) (?P<holes>\d+) holes?)?"
)
_SLIDE = re.compile(r"(?P<dial>Cross-slide|Compound) to [^,]+, (?P<way>away|towards)")
_RISING, _FALLING = {"on": 1, "back": -1}, {"down": -1, "up": 1}


def wrong_moves(operation: Tables, lathe: Tables, card: Mapping[str, Any]) -> Iterator[str]:
    """Yield steps whose words lead to another position than their settings."""
    table = lathe["rotary_table"]
    senses = _FALLING if table.get("numbers_rise") == "anticlockwise" else _RISING
    slide = operation.get("offset_dial", "cross_slide")
    at_deg, slide_mm = 0.0, 0.0
    for step in card["steps"]:
        text = step["text"]
        # After a dry run the table is turned back to its zero.
        at_deg = 0.0 if "Then turn the table back to 0" in text or "from zero" in text.split("(")[0] else at_deg
        for setting in step.get("settings", ()):
            if setting["dial"] == TABLE:
                turn_deg = 360 / (1 if step.get("way") == "direct" else table["ratio"])
                to_deg = _place_deg(setting, turn_deg)
                if step["action"] in ("index", "cut") or "table to 0" in text:
                    found = list(_wrong_turn(text, to_deg - at_deg, turn_deg, setting.get("circle"), senses))
                    yield from (f"step {step['number']}: {one}: {text}" for one in found)
                at_deg = to_deg
            if setting["dial"] == slide:
                to_mm = setting["position"] * mm_inwards(lathe["dial"][slide])
                if (match := _SLIDE.search(text)) and (match["way"] == "away") != (abs(to_mm) > abs(slide_mm)):
                    yield f"step {step['number']}: the slide goes from {slide_mm} to {to_mm}: {text}"
                slide_mm = to_mm


def _place_deg(setting: Mapping[str, Any], turn_deg: float) -> float:
    if "position" in setting:
        return float(setting["position"])
    part = setting["holes"] / setting["circle"] if setting["holes"] else 0
    return float((setting["turns"] + part) * turn_deg)


def _wrong_turn(
    text: str, change_deg: float, turn_deg: float, circle: int | None, senses: Mapping[str, int]
) -> Iterator[str]:
    """Yield the errors in the words for a change of the table's position."""
    words = re.sub(r"\(.*?\)|; exact with both.*", "", text)
    match = _MOVE.search(words)
    if match is None:
        stays = "leave the table" in words or "unlocked, its clamp" in words
        if stays and min(change_deg % 360, -change_deg % 360) > NOTHING_DEG:
            yield f"the table stays, but is to change by {change_deg} deg"
        return
    if match["way"] not in senses:
        yield f"the table is turned {match['way']}, though its numbers go the other way"
        return
    said = int(match["turns"] or 0) + int(match["holes"] or 0) / (circle or 1)
    # Extra full turns of the table lead to the same position.
    turns = [senses[match["way"]] * (change_deg + whole_deg) / turn_deg for whole_deg in (-720, -360, 0, 360, 720)]
    if circle is None:
        # After a fraction of a turn of the handle, the words are "then up to" the reading.
        turns = [math.floor(turn + NOTHING_DEG) for turn in turns]
    if not any(abs(turn - said) < NOTHING_DEG for turn in turns):
        yield f"{said} turns {match['way']} for a change of {change_deg} deg, a turn is {turn_deg} deg"
