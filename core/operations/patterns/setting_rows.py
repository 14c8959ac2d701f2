"""The list of a pattern's settings: words for table, slide and boring head at every position."""

from collections.abc import Iterable
from fractions import Fraction
from typing import NamedTuple

from core.lathe.lathe import Lathe
from core.operations.dividing.find_position import table_angle_deg
from core.operations.dividing.handle_dial import TABLE
from core.operations.dividing.setting_table import dial_place_text, plate_place_text
from core.operations.patterns.boring_head import HEAD, head_shown
from core.operations.patterns.layers import PatternJob
from core.operations.settings_table import SettingsTable, settings_table
from core.plan import Plan, PlateSetting, Step
from core.values.angles import dms_text
from core.values.dials import Setting

_SHOWN_TO = Fraction(1, 3600)
"""Angles of the table are shown to a second of arc [deg]."""


class SettingRow(NamedTuple):
    """The settings of one position as text, for one row of a list."""

    layer: str
    number: str
    place: str
    """Setting of the table: turns and reading from zero, turns and holes, or the notch."""
    slide: str
    """Turns and reading of the slide."""
    end: str
    """Setting of slide or table at the end of a slot or an arc; "" for other shapes."""
    angle: str
    """Angle of the table from its zero, at most one full turn."""
    head: str


class PlaceSteps(NamedTuple):
    """The steps that set one position."""

    start: Step
    along: Step | None = None
    """The first pass that feeds along a slot or an arc; None for other shapes."""


def place_steps(steps: Iterable[Step]) -> list[PlaceSteps]:
    """Return the steps that first set each position, in the order of cutting."""
    places: dict[object, PlaceSteps] = {}
    for step in steps:
        place = step.at.layer, step.at.position
        if step.action == "index":
            places.setdefault(place, PlaceSteps(step))
        elif step.action == "cut" and place in places and places[place].along is None and _moves(step, places[place]):
            places[place] = places[place]._replace(along=step)
    return list(places.values())


def _moves(step: Step, place: PlaceSteps) -> bool:
    """Return whether a pass moves slide or table after the cutter was fed in."""
    before = {setting.dial: setting for setting in place.start.settings}
    return any(setting.dial in before and setting != before[setting.dial] for setting in step.settings)


def changing_dials(steps: Iterable[Step]) -> frozenset[str]:
    """Return the names of the dials that do not have the same setting at all of the steps."""
    settings: dict[str, set[object]] = {}
    for step in steps:
        for setting in step.settings:
            place = setting.position if isinstance(setting, Setting) else (setting.turns, setting.holes)
            settings.setdefault(setting.dial, set()).add(place)
    return frozenset(dial for dial, places in settings.items() if len(places) > 1)


def setting_row(place: PlaceSteps, lathe: Lathe) -> SettingRow:
    """Return the settings that a position's steps make, as text for a list."""
    step, table = place.start, lathe.rotary_table
    angle_deg = None if table is None else table_angle_deg(step, table)
    readings, slide = _readings(step, lathe), slide_of(step, lathe)
    ends = {} if place.along is None else _readings(place.along, lathe)
    moved = [ends[name] for name in (slide, TABLE) if name in ends and ends[name] != readings.get(name)]
    return SettingRow(
        layer=str(step.at.layer or 1),
        number=str(step.at.position or ""),
        place=readings.get(TABLE, ""),
        slide=readings.get(slide, ""),
        end=moved[0] if moved else "",
        angle="" if angle_deg is None else dms_text(angle_deg % 360, _SHOWN_TO),
        head=readings.get(HEAD, ""),
    )


_COLUMNS = ("no.", "angle", "table, from zero", "slide", "to", "head")


def settings_by_layer(job: PatternJob, lathe: Lathe, plan: Plan) -> tuple[SettingsTable, ...]:
    """Return the settings of every cut position: one list for each layer, in the order of cutting."""
    layers: dict[str, list[SettingRow]] = {}
    for place in place_steps(plan.steps):
        row = setting_row(place, lathe)
        layers.setdefault(row.layer, []).append(row)
    return tuple(
        settings_table(
            f"Layer {layer}" if len(job.layers) > 1 else "",
            _COLUMNS,
            [(row.number, row.angle, row.place, row.slide, row.end, row.head) for row in rows],
        )
        for layer, rows in layers.items()
    )


def slide_of(step: Step, lathe: Lathe) -> str:
    """Return the name of the dial that sets the offset at a step; "" for a step without an offset."""
    return next((one.dial for one in step.settings if one.dial in lathe.dials and one.dial != HEAD), "")


def _readings(step: Step, lathe: Lathe) -> dict[str, str]:
    """Return the readings of table, slides and boring head at a step, by dial name."""
    readings = {TABLE: _place(step, lathe)} if any(setting.dial == TABLE for setting in step.settings) else {}
    for setting in step.settings:
        dial = lathe.dials.get(setting.dial)
        if dial is not None and isinstance(setting, Setting):
            readings[dial.name] = head_shown(dial, setting) if dial.name == HEAD else dial.setting_text(setting)
    return readings


def _place(step: Step, lathe: Lathe) -> str:
    table, setting = lathe.rotary_table, next((one for one in step.settings if one.dial == TABLE), None)
    if isinstance(setting, PlateSetting):
        if step.extra.get("way") == "direct":
            return f"notch {setting.holes} of {setting.circle}"
        circle = f" of {setting.circle}" if setting.circle else ""
        return f"{plate_place_text(setting.turns, setting.holes)}{circle}"
    angle_deg = None if table is None else table_angle_deg(step, table)
    return "" if table is None or angle_deg is None else dial_place_text(table, angle_deg)
