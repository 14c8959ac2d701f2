"""By which means a pattern may be divided: exact ones before others, each with its worst error."""

from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from core.lathe.lathe import RotaryTable
from core.operations.dividing.division import WAYS, Dividing, Way, divide
from core.values.angles import amount_text
from core.values.errors import PlanError


class WayOffered(NamedTuple):
    """One means that a table has, and how well it divides a pattern."""

    way: Way
    worst_deg: Fraction | None
    """Worst error of any position [deg]; None where the pattern cannot be had so."""
    dividing: tuple[Dividing, ...] = ()
    """Each layer of positions as it would be set."""

    @property
    def words(self) -> str:
        """The means with its worst error: "dial 25.7\\"", "plate exact", "direct no notch"."""
        if self.worst_deg is None:
            return f"{self.way} no notch" if self.way == "direct" else f"{self.way} not possible"
        return f"{self.way} {amount_text(self.worst_deg) if self.worst_deg else 'exact'}"


def ways_of(table: RotaryTable) -> tuple[Way, ...]:
    """Return the means a table has, the usual one first."""
    has = {"dial": table.dial_graduation_deg is not None, "plate": bool(table.plates), "direct": bool(table.direct)}
    return tuple(way for way in WAYS if has[way])


@lru_cache(maxsize=4)
def ways_offered(table: RotaryTable, patterns: tuple[tuple[Fraction, ...], ...]) -> tuple[WayOffered, ...]:
    """Return the means a table has, exact ones first, then by worst error; those that cannot be had last.

    patterns: the positions of each layer, from the table's zero [deg].

    >>> table = RotaryTable(ratio=Fraction(40), dial_graduation_deg=Fraction(1, 60), plates=((21, 23),))
    >>> [offered.words for offered in ways_offered(table, ((Fraction(360, 7),),))]
    ['plate exact', 'dial 17.1"']
    """
    offered = [_offered(table, way, patterns) for way in ways_of(table)]
    return tuple(sorted(offered, key=lambda found: (found.worst_deg is None, found.worst_deg or 0)))


def _offered(table: RotaryTable, way: Way, patterns: tuple[tuple[Fraction, ...], ...]) -> WayOffered:
    try:
        found = tuple(divide(table, way, targets) for targets in patterns)
    except PlanError:
        return WayOffered(way, None)
    return WayOffered(way, max(dividing.worst_error_deg for dividing in found), found)
