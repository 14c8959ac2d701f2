"""The table of settings of a pattern: what table, slide and boring head are set to at every position, in words."""

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import NamedTuple

from core.lathe.lathe import Lathe
from core.operations.dividing.find_position import table_angle_deg
from core.operations.dividing.handle_dial import TABLE
from core.operations.dividing.setting_table import dial_place_text, plate_place_text
from core.operations.patterns.boring_head import HEAD, head_shown
from core.plan import PlateSetting, Step
from core.values.angles import dms_text
from core.values.dials import Setting

_SHOWN_TO = Fraction(1, 3600)
"""Angles of the table are shown to a second of arc [deg]."""


class SettingRow(NamedTuple):
    """What one position is set to."""

    layer: str
    number: str
    angle: str
    """Of the table, from its zero, once round at most."""
    place: str
    """Turns and reading from zero, turns and holes, or the notch."""
    slide: str
    """Turns and reading of the slide; where a slot ends, after "to"."""
    head: str


def place_steps(steps: Iterable[Step]) -> list[Step]:
    """Return the first step of each position that sets it, in the order of cutting."""
    places: dict[object, Step] = {}
    for step in steps:
        if step.action == "index":
            places.setdefault((step.at.layer, step.at.position), step)
    return list(places.values())


def setting_row(step: Step, lathe: Lathe) -> SettingRow:
    """Return what a position's step sets, in words."""
    table = lathe.rotary_table
    angle_deg = None if table is None else table_angle_deg(step, table)
    slide, head = dict(_dials(step, lathe)).get(False, ""), dict(_dials(step, lathe)).get(True, "")
    return SettingRow(
        layer=str(step.at.layer or 1),
        number=str(step.at.position or ""),
        angle="" if angle_deg is None else dms_text(angle_deg % 360, _SHOWN_TO),
        place=_place(step, lathe),
        slide=slide,
        head=head,
    )


def _dials(step: Step, lathe: Lathe) -> Iterator[tuple[bool, str]]:
    """Yield what the slide and the boring head read; True for the head."""
    for setting in step.settings:
        dial = lathe.dials.get(setting.dial)
        if dial is not None and isinstance(setting, Setting):
            is_head = dial.name == HEAD
            yield is_head, head_shown(dial, setting) if is_head else dial.setting_text(setting)


def _place(step: Step, lathe: Lathe) -> str:
    table, setting = lathe.rotary_table, next((one for one in step.settings if one.dial == TABLE), None)
    if isinstance(setting, PlateSetting):
        if step.extra.get("way") == "direct":
            return f"notch {setting.holes} of {setting.circle}"
        circle = f" of {setting.circle}" if setting.circle else ""
        return f"{plate_place_text(setting.turns, setting.holes)}{circle}"
    angle_deg = None if table is None else table_angle_deg(step, table)
    return "" if table is None or angle_deg is None else dial_place_text(table, angle_deg)
