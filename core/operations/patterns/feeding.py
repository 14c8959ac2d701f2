"""Feeding the cutter along a groove: the slide feeds a slot, and the table's handle feeds an arc.

The rules are common practice, without a source.
"""

import math
from dataclasses import replace
from fractions import Fraction

from core.lathe.lathe import Lathe, RotaryTable, dial_words
from core.operations.dividing.division import Dividing, Position, setting_of
from core.operations.dividing.movement import table_move
from core.operations.dividing.steps import Groove
from core.operations.dividing.words import turning_sense
from core.operations.patterns.boring_head import direction
from core.operations.patterns.layers import Layer, PatternJob
from core.operations.patterns.place_settings import arc_end
from core.plan import Step
from core.safety import FEED_ALONG, HAND_ON_HANDLE
from core.values.dials import Dial, Setting
from core.values.errors import PlanError

FEED_MM_PER_S = 1.0
"""A light, even feed by hand; common practice, no source."""
LEAST_S_PER_TURN = 2.0
"""Nobody turns a handle faster than this for a cut."""
PACE_S = "pace_s"
"""Key in the extra of a pass along a groove: time for a turn of the handle [s]."""
THROUGH = "through_deg"
"""Key in the extra of the pass along an arc: how far the table turns from its start [deg]."""


def slot(job: PatternJob, lathe: Lathe, start: Setting, to: Setting) -> Groove:
    """Return the groove of a slot.

    The cutter is fed in, and the slide then moves from `start` to `to` while the table is locked.
    """
    dial = lathe.dial(job.offset_dial)
    name, is_inwards = dial_words(dial.name), dial.marks_at(to.position) > dial.marks_at(start.position)
    length_mm = abs(float(to.position - start.position) * float(dial.mm_per_unit))
    way, pace = direction(dial.name, is_inwards, job.is_far, feeds=True), _slide_pace_s(dial)
    return Groove(
        start=start,
        end=to,
        table_end=None,
        seconds=length_mm / FEED_MM_PER_S,
        feed_in=f"{name} at {dial.setting_text(start)}",
        along=f"table locked, feed the {name} to {dial.setting_text(to)}, {way}{_pace_words(pace)}. Never stop and go "
        "back",
        cautions=(FEED_ALONG,),
        figures={} if pace is None else {PACE_S: pace},
    )


def slide_start_words(job: PatternJob, lathe: Lathe, start: Setting, to: Setting) -> str:
    """Return words for approaching the start of a slot in the feed direction, so that the backlash is taken up.

    `start` and `to`: the settings at both ends of the slot.
    """
    dial = lathe.dial(job.offset_dial)
    is_inwards = dial.marks_at(to.position) > dial.marks_at(start.position)
    return f"end the move {direction(dial.name, is_inwards, job.is_far, feeds=True)}"


def arc(dividing: Dividing, layer: Layer, position: Position, radius_mm: float) -> Groove:
    """Return the groove of an arc.

    The cutter is fed in, and the table's handle is then turned while the slide is locked and the table's clamp drags.
    `position`: the table's setting at the start. `radius_mm`: the arc's radius about the table's axis [mm]. Raises
    PlanError for a table without a handle to feed with.
    """
    refuse_without_worm(layer, dividing.table, dividing.means)
    end = arc_end(dividing, position, layer.through_deg)
    # The move counts forward within one turn, so that a full turn does not count as no turn.
    move = table_move(
        replace(dividing, goes_shorter_way=False), end, Position(0, position.wanted_deg, position.set_deg)
    )
    turned_deg = abs(end.set_deg - position.set_deg)
    turns = float(turned_deg * dividing.table.ratio / 360)
    seconds = max(turns * LEAST_S_PER_TURN, math.radians(turned_deg) * radius_mm / FEED_MM_PER_S)
    pace = seconds / turns
    return Groove(
        start=setting_of(dividing, position, None),
        end=setting_of(dividing, end, None),
        table_end=end,
        seconds=seconds,
        feed_in=f"table unlocked, its clamp dragging, the backlash taken up {turning_sense(dividing).side}",
        along=f"feed: {move.words}{_pace_words(pace)}. Never stop and go back",
        cautions=(HAND_ON_HANDLE,),
        figures={THROUGH: float(end.set_deg - position.set_deg), PACE_S: pace},
    )


TURN_MOVEMENTS = (
    "Cutter clear, spindle stopped",
    "Unlock the table, turn it to its reading, lock it",
    "Then the key",
)
"""The movements to a position. The text of the step names the slide if it moves."""


def pass_movements(job: PatternJob) -> tuple[str, ...]:
    """Return the movements of one pass of a circle or a dot. The step before the pass has set the position."""
    return (
        f"Lock the table and the {dial_words(job.offset_dial)}",
        f"Start the spindle, feed the {dial_words(job.depth_dial)} in to its reading",
        "Take the cutter clear, stop the spindle",
        "Then the key",
    )


def locked_words(job: PatternJob) -> str:
    """Return the caution to lock the table and each slide that does not feed."""
    return f"Lock the table and the {dial_words(job.offset_dial)} for the cut. Unlocked, the table turns under the cut."


def groove_movements(job: PatternJob, step: Step) -> tuple[str, ...]:
    """Return the movements of one pass.

    In a slot or an arc, the pass either feeds the cutter in or feeds it along the groove.
    """
    shape = "circles" if step.at.layer is None else job.layers[step.at.layer - 1].shape
    depth = dial_words(job.depth_dial)
    if shape in {"circles", "dots"}:
        return pass_movements(job)
    is_arc, slide = shape == "arcs", dial_words(job.offset_dial)
    if not step.feeds_along:
        held = f"Lock the {slide}; let the table's clamp drag" if is_arc else f"Lock the table; leave the {slide} free"
        return (held, "Backlash taken up towards the feed", f"Start the spindle, feed the {depth} in", "Then the key")
    pace = step.extra.get(PACE_S)
    pace_words = "" if pace is None else f", about {round(float(pace))} s per turn of the handle"
    feed = "Turn the handle" if is_arc else f"Feed the {slide}"
    hand = "hand on the handle, never on the work" if is_arc else "lightly"
    # After an undo or a new start, the spindle may be stopped and the cutter out of the groove.
    return (
        "Spindle running, cutter fed in to its reading",
        f"{feed} to its reading in one go{pace_words}",
        f"{hand[0].upper()}{hand[1:]}; never stop and go back",
        "Take the cutter clear, stop the spindle",
        "Then the key",
    )


def refuse_without_worm(layer: Layer, table: RotaryTable, means: str) -> None:
    """Raise PlanError for arcs on a table without a handle to feed with.

    `means`: how the table is set, such as "dial".
    """
    if means == "direct" or table.dial_graduation_deg is None:
        raise PlanError(
            'Arcs are fed by the handle of the table\'s worm. Set the table by its dial (with = "dial"), or cut this '
            "border as circles at offset 0.",
            field="shape",
        )


def _slide_pace_s(dial: Dial) -> float | None:
    """Return the time for one turn of the slide's handle [s]; None for a slide with a readout only."""
    if dial.per_turn is None:
        return None
    return max(LEAST_S_PER_TURN, float(Fraction(dial.per_turn) * dial.mm_per_unit) / FEED_MM_PER_S)


def _pace_words(seconds: float | None) -> str:
    return "" if seconds is None else f", about {max(1, round(seconds))} seconds for a turn of the handle"
