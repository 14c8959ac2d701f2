"""Tapers that a standard names: Morse and metric."""

import re
from fractions import Fraction
from functools import cache
from typing import NamedTuple

from core.data import read_table
from core.values.errors import QuantityError
from core.values.plain_text import quoted

_NAME = re.compile(
    r"\s*(?:ISO\s*296\s*[:,]?\s*)?(?:(?P<morse>MT|MK|Morse(?:\s+taper)?)|(?P<metric>metric(?:\s+taper)?|ME))"
    r"\s*(?:no\.?|number|\#|-)?\s*(?P<size>\d{1,3})\s*",
    re.ASCII | re.IGNORECASE,
)


class StandardTaper(NamedTuple):
    """A taper of ISO 296."""

    name: str
    """The name in the standard, such as "Morse 2" or "metric 80"."""
    taper: Fraction
    """The change in diameter over the length [-], exactly as in the standard."""
    large_mm: Fraction
    """Diameter of the large end, in the gauge plane [mm], exactly as in the standard."""
    source: str


@cache
def standard_tapers() -> dict[str, StandardTaper]:
    """Return the standard tapers by name, the smallest first.

    Source: ISO 296; core/data/standard_tapers.csv says which rows are from memory.

    >>> standard_tapers()["metric 80"].taper
    Fraction(1, 20)
    """
    rows = read_table("standard_tapers")
    return {
        name: StandardTaper(
            name=name,
            taper=Fraction(row["diameter_change"]) / Fraction(row["length"]),
            large_mm=Fraction(row["large_mm"]),
            source=row["source"],
        )
        for row in rows
        for name in [f"{row['family']} {row['size']}"]
    }


def taper_named(text: str) -> StandardTaper | None:
    """Return the taper that a text such as "MT 2", "Morse no. 2" or "metric 80" names, None if it names none.

    Raises QuantityError for a size that the standard does not have.

    >>> taper_named("MT2").name
    'Morse 2'
    """
    match = _NAME.fullmatch(text)
    if match is None:
        return None
    family = "Morse" if match["morse"] else "metric"
    taper = standard_tapers().get(f"{family} {int(match['size'])}")
    if taper is None:
        sizes = [name.removeprefix(f"{family} ") for name in standard_tapers() if name.startswith(family)]
        raise QuantityError(
            f"ISO 296 has no taper {quoted(text)}. Enter {family} {', '.join(sizes[:-1])} or {sizes[-1]}."
        )
    return taper
