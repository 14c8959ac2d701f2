"""How the lathe comes to a lead: gearbox or change gears, and whether the half nuts may be opened."""

from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from core.lathe.lathe import Lathe
from core.operations.threads.change_gears import Train, best_trains
from core.operations.threads.thread_dial import DialUse, nut_stays_closed, thread_dial_uses

_BEST = 3
"""Trains of two, and of four wheels, that are offered."""
_NEAR_PPM = 5000
"""A train further out makes a thread that does not go on: half a hundredth, common practice, no source."""

STEP_UP = Fraction(3, 2)
"""Turns of the leadscrew for one of the spindle from which a train strains gears; common practice, no source."""


class Gearing(NamedTuple):
    """What the lathe file lets be said about cutting one lead."""

    in_gearbox: bool
    trains: tuple[Train, ...]
    """Best first; () where the gearbox has the lead or no change gears are described."""
    dial_uses: tuple[DialUse, ...]
    """Every wheel of the thread dial, the best first."""
    nut_stays_closed: bool
    """True where nothing is known that lets the half nuts be opened."""

    @property
    def exact(self) -> bool:
        """True where the lead is cut exactly, as far as is known."""
        return not self.trains or self.trains[0].error_ppm == 0


def gearing(lead: Fraction, lathe: Lathe, starts: int = 1) -> Gearing:
    """Return how this lathe cuts a lead [mm, exact].

    starts: of the thread; of trains that are as exact, one that can index them comes first.
    """
    screw = lathe.leadscrew_mm
    if screw is None:
        return Gearing(in_gearbox=lead in lathe.gearbox_mm, trains=(), dial_uses=(), nut_stays_closed=True)
    gears = lathe.change_gears
    in_gearbox = lead in lathe.gearbox_mm
    trains: tuple[Train, ...] = ()
    if gears is not None and not in_gearbox:
        trains = _trains(lead, screw, gears.teeth, gears.fixed_ratio, (2, 4), starts)
    exact = not trains or trains[0].error_ppm == 0
    wheels = lathe.thread_dial.wheels if lathe.thread_dial else ()
    return Gearing(
        in_gearbox=in_gearbox,
        trains=trains,
        dial_uses=thread_dial_uses(lead, screw, wheels, exact=exact),
        nut_stays_closed=nut_stays_closed(lead, screw, wheels, exact=exact),
    )


def step_up(lead: Fraction, lathe: Lathe) -> float | None:
    """Return the turns of the leadscrew for one of the spindle where change gears step up, None where they do not."""
    screw, gears = lathe.leadscrew_mm, lathe.change_gears
    if screw is None or gears is None or lead in lathe.gearbox_mm or lead < STEP_UP * screw:
        return None
    return float(lead / screw)


def best_of(size: int, lead: Fraction, lathe: Lathe, starts: int = 1) -> tuple[Train, ...]:
    """Return the best trains of so many wheels, as far as they are near: the user chooses the handier."""
    screw, gears = lathe.leadscrew_mm, lathe.change_gears
    if screw is None or gears is None:
        return ()
    found = _trains(lead, screw, gears.teeth, gears.fixed_ratio, (size,), starts)
    return tuple(train for train in found[:_BEST] if abs(train.error_ppm) <= _NEAR_PPM)


@lru_cache(maxsize=1_000)
def _trains(
    lead: Fraction, screw: Fraction, teeth: tuple[int, ...], ratio: Fraction, sizes: tuple[int, ...], starts: int = 1
) -> tuple[Train, ...]:
    """Search once for what count, plan, figures and screen all ask for: a job may have as many leads as operations."""
    # A first driver that does not turn with the spindle, turn for turn, indexes nothing.
    return best_trains(lead, screw, teeth, ratio, sizes=sizes, starts=starts if ratio == 1 else 1)
