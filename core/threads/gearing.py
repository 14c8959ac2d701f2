"""How the lathe comes to a lead: gearbox or change gears, and whether the half nuts may be opened."""

from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from core.lathe import Lathe
from core.threads.change_gears import Train, best_trains
from core.threads.chasing_dial import DialUse, chasing_dial_uses, nut_stays_closed

_BEST = 3
"""Trains of two, and of four wheels, that are offered."""
_NEAR_PPM = 5000
"""A train further out makes a thread that does not go on: half a hundredth, common practice, no source."""


class Gearing(NamedTuple):
    """What the lathe file lets be said about cutting one lead."""

    in_gearbox: bool
    trains: tuple[Train, ...]
    """Best first; () where the gearbox has the lead or no change gears are described."""
    dial_uses: tuple[DialUse, ...]
    """Every wheel of the chasing dial, the best first."""
    nut_stays_closed: bool
    """True where nothing is known that lets the half nuts be opened."""

    @property
    def exact(self) -> bool:
        """True where the lead is cut exactly, as far as is known."""
        return not self.trains or self.trains[0].error_ppm == 0


def gearing(lead: Fraction, lathe: Lathe) -> Gearing:
    """Return how this lathe cuts a lead [mm, exact]."""
    screw = lathe.leadscrew_mm
    if screw is None:
        return Gearing(in_gearbox=lead in lathe.gearbox_mm, trains=(), dial_uses=(), nut_stays_closed=True)
    gears = lathe.change_gears
    in_gearbox = lead in lathe.gearbox_mm
    trains: tuple[Train, ...] = ()
    if gears is not None and not in_gearbox:
        trains = _trains(lead, screw, gears.teeth, gears.fixed_ratio, (2, 4))
    exact = not trains or trains[0].error_ppm == 0
    wheels = lathe.chasing_dial.wheels if lathe.chasing_dial else ()
    return Gearing(
        in_gearbox=in_gearbox,
        trains=trains,
        dial_uses=chasing_dial_uses(lead, screw, wheels, exact=exact),
        nut_stays_closed=nut_stays_closed(lead, screw, wheels, exact=exact),
    )


def best_of(size: int, lead: Fraction, lathe: Lathe) -> tuple[Train, ...]:
    """Return the best trains of so many wheels, as far as they are near: the user chooses the handier."""
    screw, gears = lathe.leadscrew_mm, lathe.change_gears
    if screw is None or gears is None:
        return ()
    found = _trains(lead, screw, gears.teeth, gears.fixed_ratio, (size,))
    return tuple(train for train in found[:_BEST] if abs(train.error_ppm) <= _NEAR_PPM)


@lru_cache(maxsize=64)
def _trains(
    lead: Fraction, screw: Fraction, teeth: tuple[int, ...], ratio: Fraction, sizes: tuple[int, ...]
) -> tuple[Train, ...]:
    """Search once for what plan, figures and screen all ask for."""
    return best_trains(lead, screw, teeth, ratio, sizes=sizes)
