"""Checks the card's words at a position: turns and reading of a dial, rounding, moves on a plate, and depths."""

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any

from tests.core.operations.patterns.outside.job_files import MM_PER_UNIT, Tables, deg, mm
from tests.core.operations.patterns.outside.machine import TABLE, mm_inwards
from tests.core.operations.patterns.outside.wanted import all_wanted, settings

Setting = Mapping[str, Any]
NOTHING = 1e-6


def wrong_settings(operation: Tables, lathe: Tables, card: Mapping[str, Any]) -> Iterator[str]:
    """Yield settings off a mark, and settings whose turns, reading, rounding or move do not match their position."""
    wanted = {(one.layer, one.position): settings(operation, one) for one in all_wanted(operation)}
    slide, far = operation.get("offset_dial", "cross_slide"), operation.get("offset_side", "near") == "far"
    falling = lathe["rotary_table"].get("numbers_rise") == "anticlockwise"
    before: Setting = {"turns": 0, "holes": 0, "circle": 1}
    for step in card["steps"]:
        for setting in step.get("settings", ()):
            where = f"step {step['number']}, {setting['dial']}: "
            if "position" in setting:
                yield from (where + text for text in _wrong_dial(setting, lathe))
            elif setting["dial"] == TABLE:
                yield from (where + text for text in _wrong_move(before, setting, lathe["rotary_table"]["ratio"]))
                before = setting
            if step["action"] != "index" or "position" not in setting:
                continue
            ideal = wanted[step["layer"], step["position"]]
            if setting["dial"] == slide:
                exact = (-ideal.slide_mm if far else ideal.slide_mm) / mm_inwards(lathe["dial"][slide])
                if abs(setting["position"] - setting["rounding"] - exact) > NOTHING:
                    yield f"{where}rounding is {setting['rounding']}, {setting['position'] - exact} is right"
            if setting["dial"] == TABLE and ideal.slide_mm > NOTHING:
                exact = -ideal.angle_deg if falling else ideal.angle_deg
                off_deg = (setting["position"] - setting["rounding"] - exact + 180) % 360 - 180
                if abs(off_deg) > NOTHING:
                    yield f"{where}rounding is {setting['rounding']}, off by {off_deg}"


def _wrong_dial(setting: Setting, lathe: Tables) -> Iterator[str]:
    if setting["dial"] == TABLE:
        mark = float(deg(lathe["rotary_table"]["dial_graduation"]))
        per_turn: float | None = 360 / lathe["rotary_table"]["ratio"]
    else:
        dial = lathe["dial"][setting["dial"]]
        unit_mm = MM_PER_UNIT[setting["unit"]]
        mark = mm(dial["graduation"]) / unit_mm
        per_turn = mm(dial["per_turn"]) / unit_mm if "per_turn" in dial else None
    marks = setting["position"] / mark
    if abs(marks - round(marks)) > 1e-4:
        yield f"{setting['position']} is not on a mark"
    if per_turn is None:
        if "turns" in setting:
            yield "a readout has no turns"
        return
    if abs(setting["turns"] * per_turn + setting["reading"] - setting["position"]) > NOTHING:
        yield f"{setting['turns']} turns and {setting['reading']} are not {setting['position']}"
    if not 0 <= setting["reading"] < per_turn - NOTHING:
        yield f"reading {setting['reading']} is not within a turn of {per_turn}"


def _wrong_move(before: Setting, setting: Setting, ratio: int) -> Iterator[str]:
    """Yield a move that does not lead from one hole to the next. Extra full turns of the table are allowed."""
    if not 0 <= setting["holes"] < setting.get("circle", 1):
        yield f"hole {setting['holes']} of {setting.get('circle')}"
    if "move" in setting:
        off = _turns(before) + _turns({**setting["move"], "circle": setting["circle"]}) - _turns(setting)
        if off % ratio:
            yield f"the move {setting['move']} leads {off % ratio} turns off"


def _turns(setting: Setting) -> Fraction:
    return setting["turns"] + Fraction(setting["holes"], setting.get("circle", 1))


def wrong_depths(card: Mapping[str, Any], lathe: Tables, depth_dial: str = "carriage") -> Iterator[str]:
    """Yield cuts whose depth, removed depth or remaining depth does not follow from the depth dial."""
    cuts = [step for step in card["steps"] if step["action"] == "cut"]
    last = {(step["layer"], step["position"]): step["depth_mm"] for step in cuts}
    reached: dict[tuple[int, int], list[float]] = {}
    for step in cuts:
        key = step["layer"], step["position"]
        position = next(one["position"] for one in step["settings"] if one["dial"] == depth_dial)
        depth_mm = position * mm_inwards(lathe["dial"][depth_dial])
        depths = reached.setdefault(key, [0.0])
        if depth_mm > depths[-1] + NOTHING:
            depths.append(depth_mm)
        expected = (depth_mm, depths[-1] - depths[-2], last[key] - depth_mm)
        shown = (step["depth_mm"], step["removed_mm"], step["remaining_mm"])
        if any(abs(one - other) > NOTHING for one, other in zip(expected, shown, strict=True)):
            yield f"step {step['number']}: depth, removed and remaining {shown}, from the dial {expected}"
