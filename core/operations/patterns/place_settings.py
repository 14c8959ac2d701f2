"""The settings of slide and table for each position of a layer, on marks, holes or notches."""

import cmath
import math
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from core.inputs import PutBack
from core.lathe.lathe import Lathe, RotaryTable
from core.operations.dividing.division import FULL_CIRCLE, Dividing, Position, divide
from core.operations.dividing.handle_dial import handle_turns, nearest_mark_deg, smallest_deg
from core.operations.dividing.plates import Circle, nearest_hole
from core.operations.patterns.layers import Layer, PatternJob, Point, PolarSetting
from core.values.dials import Dial, Setting

_PARTS = 10**7
"""An angle is rounded to this part of a degree, which is far finer than any mark."""


class LayerSettings(NamedTuple):
    """The wanted settings of slide and table at every position of a layer, including skipped positions."""

    wanted: tuple[PolarSetting, ...]
    targets_deg: tuple[Fraction, ...]
    """Angle that the table must read at each position."""
    is_ordered: bool
    """Whether the table keeps turning one way through all positions, by less than one full turn."""


def is_falling(table: RotaryTable) -> bool:
    """Return whether the table's numbers fall from one position to the next, counted anticlockwise on the work."""
    return table.numbers_rise == "anticlockwise"


def layer_settings(job: PatternJob, layer: Layer, table: RotaryTable, put_back: PutBack | None = None) -> LayerSettings:
    """Return the wanted settings of slide and table at every position of a layer.

    `put_back`: the work's new position on the table; None if the work was not removed.
    """
    wanted = tuple(job.polar_setting(layer, position) for position in layer.positions)
    if put_back is not None:
        wanted = tuple(moved_setting(job, setting, put_back) for setting in wanted)
    angles = [setting.angle_deg for setting in wanted]
    is_ordered = layer.shape != "arcs" and _rise_less_than_once_round(angles)
    if not is_ordered:
        angles = [angle % FULL_CIRCLE for angle in angles]
    elif not layer.is_even_ring or job.is_far or put_back is not None:
        # No turner turns the table by more than one full turn to the first position.
        whole_deg = angles[0] // FULL_CIRCLE * FULL_CIRCLE
        angles = [angle - whole_deg for angle in angles]
    sense = -1 if is_falling(table) else 1
    return LayerSettings(wanted, tuple(sense * angle for angle in angles), is_ordered)


def moved_setting(job: PatternJob, setting: PolarSetting, put_back: PutBack) -> PolarSetting:
    """Return the setting that reaches the same point of the work after the work was put back on the table.

    The remaining cuts keep the height error and eccentricity of the earlier cuts. The axes are always at least the
    height error apart, so the slide cannot reach a point that is closer to the table's axis than that. For such a point
    the slide stays where the axes are nearest to each other.
    """
    return setting_to_meet(job, job.comes_out_mm(setting.slide_mm, float(setting.angle_deg)), put_back, setting)


def setting_to_meet(job: PatternJob, on_work: Point, put_back: PutBack, otherwise: PolarSetting) -> PolarSetting:
    """Return the setting of slide and table that brings a point of the work [mm] under the spindle's axis.

    `put_back`: the work's position on the table. If the slide cannot reach the point, the slide stays where the axes
    are nearest to each other, and the table takes its angle from `otherwise`.
    """
    place = complex(*on_work) * cmath.exp(1j * math.radians(put_back.turn_deg)) + complex(*put_back.shift_mm)
    height_mm, distance_mm = job.height_error_mm, abs(place)
    if distance_mm <= abs(height_mm):
        return PolarSetting(0.0, otherwise.angle_deg)
    turned = math.asin(height_mm / distance_mm) * (-1 if job.is_far else 1)
    half_turn = FULL_CIRCLE / 2 if job.is_far else Fraction(0)
    # cmath.phase raises OverflowError for a place such as (20, 5e-324). math.atan2 does not.
    towards = math.atan2(place.imag, place.real)
    angle_deg = Fraction(round(math.degrees(towards + turned) * _PARTS), _PARTS) + half_turn
    return PolarSetting(math.sqrt(distance_mm**2 - height_mm**2), angle_deg, is_corrected=True)


def slide_end_mm(job: PatternJob, wanted: PolarSetting, put_back: PutBack | None) -> float:
    """Return the slide travel at which a slot ends [mm], for the present position of the work on the table.

    `wanted`: the setting for the slot's end, as if the work was not removed. `put_back`: the work's new position; None
    if the work was not removed.
    """
    return wanted.slide_mm if put_back is None else moved_setting(job, wanted, put_back).slide_mm


def _rise_less_than_once_round(angles: Sequence[Fraction]) -> bool:
    return angles[-1] - angles[0] < FULL_CIRCLE and all(before < after for before, after in pairwise(angles))


def divided(job: PatternJob, table: RotaryTable, settings: LayerSettings, circle: Circle | None) -> Dividing:
    """Return the settings of the table at every position of a layer. Raises PlanError if the table cannot be set.

    `circle`: the hole circle to use; None for the usual one.
    """
    return divide(
        table,
        job.means,
        settings.targets_deg,
        falling=is_falling(table),
        circle=circle,
        goes_shorter_way=not settings.is_ordered,
    )


def slide_setting(job: PatternJob, lathe: Lathe, slide_mm: float) -> Setting:
    """Return the dial setting of the slide for a distance from the table's axis [mm].

    Raises PlanError if the lathe lacks the dial.
    """
    return lathe.dial(job.offset_dial).at_travel(-slide_mm if job.is_far else slide_mm)


def slide_as_set_mm(job: PatternJob, dial: Dial, setting: Setting) -> float:
    """Return the slide's distance from the table's axis at a dial setting [mm], on the side where the job cuts."""
    travel_mm = dial.travel_mm(round(dial.marks_at(setting.position)))
    return -travel_mm if job.is_far else travel_mm


def arc_ends_deg(layer: Layer, table: RotaryTable, settings: LayerSettings) -> list[Fraction]:
    """Return the table's readings at the ends of a layer's arcs [deg]; [] for other shapes."""
    if layer.shape != "arcs":
        return []
    turned = layer.through_deg * (-1 if is_falling(table) else 1)
    return [start + turned for start in settings.targets_deg]


def arc_end(dividing: Dividing, start: Position, through_deg: Fraction) -> Position:
    """Return the setting of the table at the end of an arc.

    `start`: the setting at the start of the arc. `through_deg`: the angle from start to end [deg]. A full turn ends at
    the mark or hole where it starts.
    """
    turned = -through_deg if dividing.falling else through_deg
    wanted = start.wanted_deg + turned
    if through_deg % FULL_CIRCLE == 0:
        return Position(start.number, wanted, start.set_deg + turned)
    if dividing.means == "dial":
        return Position(start.number, wanted, nearest_mark_deg(wanted, smallest_deg(dividing.table)))
    holes = dividing.circle or 1
    hole = nearest_hole(handle_turns(dividing.table, wanted), holes)
    return Position(start.number, wanted, hole * Fraction(360) / (dividing.table.ratio * holes))
