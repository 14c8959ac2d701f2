"""Where the rotary table really is: where it was set last, by what happened at the machine, undone or not."""

from fractions import Fraction
from typing import NamedTuple

from core.events.state import MachineEvent, State
from core.inputs import Moved, PickedUp, SetTo
from core.lathe.lathe import RotaryTable
from core.operations.dividing.by_dial import TABLE
from core.operations.dividing.planning_again import AS_SET
from core.operations.dividing.set_up import TO_ZERO
from core.operations.dividing.whereabouts import table_angle_deg
from core.plan import PlateSetting, Step

_FINEST = 10**6
"""Denominators of wanted angles [deg] up to this are found back from the floats that steps carry."""


class Stand(NamedTuple):
    """Where the table was set last. Angles from its zero, exact [deg]."""

    set_deg: Fraction
    wanted_deg: Fraction
    step: Step | None
    """The step that set it; None where its user said what it shows instead."""
    undone: bool
    """That step was undone since: its count, not the movement, if the table was turned at all."""

    @property
    def number(self) -> int:
        """The position it was set to, 0 for none."""
        return 0 if self.step is None else self.step.at.position or 0

    @property
    def layer(self) -> int | None:
        """The layer of that position, None where there are no layers."""
        return None if self.step is None else self.step.at.layer

    @property
    def circle(self) -> int | None:
        """The circle or notches that it was set by, None by dial and where that is not known."""
        return None if self.step is None else circle_of(self.step)

    @property
    def is_zero(self) -> bool:
        """It was set to its zero, from which all positions are counted."""
        return self.step is not None and (TABLE in self.step.zeroed_dials or TO_ZERO in self.step.extra)

    @property
    def as_set(self) -> bool:
        """It was set otherwise than planned."""
        return self.step is None or bool(self.step.extra.get(AS_SET, False))

    @property
    def words(self) -> str:
        """The place in words: "position 6", "position 7 of layer 1", "zero"."""
        if self.is_zero:
            return "zero"
        if self.step is None or not self.number:
            return "where it was set"
        layer = f" of layer {self.layer}" if self.layer is not None else ""
        return f"position {self.number}{layer}"


def stands_at(state: State, table: RotaryTable) -> Stand | None:
    """Return where the table was set last; None where that is not known: before its zero, or since it was moved.

    An undo turns no handle, so what it took out of the count still says where the table is.
    """
    for act in state.machine_events_latest_first():
        if act.revision is not None and isinstance(act.revision.entered, Moved | PickedUp) and not act.undone:
            return None
        found = _set_by(act, table)
        if found is not None:
            return found
    return None


def _set_by(act: MachineEvent, table: RotaryTable) -> Stand | None:
    """Return where an act set the table, None where it did not turn it."""
    if act.revision is not None:
        match act.revision.entered:
            case SetTo(dial="rotary_table", position=place):
                return Stand(place, place, None, act.undone)
        return None
    set_deg = None if act.step is None else table_angle_deg(act.step, table)
    if act.step is None or set_deg is None:
        return None
    return Stand(set_deg, wanted_deg(act.step, set_deg), act.step, act.undone)


def circle_of(step: Step) -> int | None:
    """Return the circle, or notches of the plate, that a step sets the table by; None by dial."""
    return next((setting.circle for setting in step.settings if isinstance(setting, PlateSetting)), None)


def wanted_deg(step: Step, set_deg: Fraction) -> Fraction:
    """Return the exact angle that a step wants, found back from its figures; `set_deg` where it has none [deg]."""
    return Fraction(step.extra.get("angle_deg", float(set_deg))).limit_denominator(_FINEST)
