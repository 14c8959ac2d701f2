"""What slide, table and head are set to at each position of a layer, on their marks, holes or notches."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from core.lathe.lathe import Lathe, RotaryTable
from core.operations.dividing.division import FULL_CIRCLE, Dividing, Position, divide
from core.operations.dividing.handle_dial import handle_turns, nearest_mark_deg, smallest_deg
from core.operations.dividing.plates import Circle, nearest_hole
from core.operations.patterns.layers import Layer, PatternJob, PolarSetting
from core.values.dials import Dial, Setting


class LayerSettings(NamedTuple):
    """The settings of slide and table wanted at every position of a layer, skipped ones too."""

    wanted: tuple[PolarSetting, ...]
    targets_deg: tuple[Fraction, ...]
    """What the table must read."""
    is_ordered: bool
    """Whether the table turns on from each position to the next, less than once round in all."""


def is_falling(table: RotaryTable) -> bool:
    """Return whether the table's numbers fall from position to position, anticlockwise on the work."""
    return table.numbers_rise == "anticlockwise"


def layer_settings(job: PatternJob, layer: Layer, table: RotaryTable) -> LayerSettings:
    """Return the settings wanted at every position of a layer."""
    wanted = tuple(job.polar_setting(layer, position) for position in layer.positions)
    angles = [setting.angle_deg for setting in wanted]
    is_ordered = layer.shape != "arcs" and _rise_less_than_once_round(angles)
    if not is_ordered:
        angles = [angle % FULL_CIRCLE for angle in angles]
    sense = -1 if is_falling(table) else 1
    return LayerSettings(wanted, tuple(sense * angle for angle in angles), is_ordered)


def _rise_less_than_once_round(angles: Sequence[Fraction]) -> bool:
    return angles[-1] - angles[0] < FULL_CIRCLE and all(before < after for before, after in pairwise(angles))


def divided(job: PatternJob, table: RotaryTable, settings: LayerSettings, circle: Circle | None) -> Dividing:
    """Return the settings of the table at every position; raises PlanError."""
    return divide(
        table,
        job.means,
        settings.targets_deg,
        falling=is_falling(table),
        circle=circle,
        goes_shorter_way=not settings.is_ordered,
    )


def slide_setting(job: PatternJob, lathe: Lathe, slide_mm: float) -> Setting:
    """Return the setting of the slide for a distance from where the axes meet [mm]; raises PlanError."""
    return lathe.dial(job.offset_dial).at_travel(-slide_mm if job.is_far else slide_mm)


def slide_as_set_mm(job: PatternJob, dial: Dial, setting: Setting) -> float:
    """Return how far a setting of the slide is from where the axes meet, on the job's side [mm]."""
    travel_mm = dial.travel_mm(round(dial.marks_at(setting.position)))
    return -travel_mm if job.is_far else travel_mm


def arc_end(dividing: Dividing, start: Position, through_deg: Fraction) -> Position:
    """Return where the table stands at the end of an arc; a whole turn ends at the mark or hole of its start."""
    turned = -through_deg if dividing.falling else through_deg
    wanted = start.wanted_deg + turned
    if through_deg % FULL_CIRCLE == 0:
        return Position(start.number, wanted, start.set_deg + turned)
    if dividing.means == "dial":
        return Position(start.number, wanted, nearest_mark_deg(wanted, smallest_deg(dividing.table)))
    holes = dividing.circle or 1
    hole = nearest_hole(handle_turns(dividing.table, wanted), holes)
    return Position(start.number, wanted, hole * Fraction(360) / (dividing.table.ratio * holes))
