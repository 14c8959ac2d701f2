"""How long a pattern takes, roughly; common practice, no source: hands differ."""

from collections.abc import Iterable

from core.lathe.lathe import RotaryTable
from core.operations.dividing.whereabouts import table_angle_deg
from core.plan import Step

SECONDS_PER_TURN = 1.5
"""One turn of the table's handle, unhurried."""
SECONDS_PER_POSITION = 15.0
"""Unlocking, the last of the turn to the reading, locking."""
SECONDS_PER_CUT = 15.0
"""Feeding in to a depth and back out."""
SECONDS_PER_OTHER_STEP = 60.0
"""Setting up, touching off, measuring."""


def estimated_time_s(steps: Iterable[Step], table: RotaryTable) -> float:
    """Return the time that the steps of a pattern take, roughly [s]."""
    seconds, stands = 0.0, None
    for step in steps:
        if step.action == "index":
            angle = table_angle_deg(step, table)
            if angle is not None and stands is not None:
                # The shorter way round: nobody turns nearly a whole circle back.
                turned = min((angle - stands) % 360, (stands - angle) % 360)
                seconds += float(turned * table.ratio / 360) * SECONDS_PER_TURN
            stands = angle
            seconds += SECONDS_PER_POSITION
        else:
            seconds += SECONDS_PER_CUT if step.action == "cut" else SECONDS_PER_OTHER_STEP
    return seconds
