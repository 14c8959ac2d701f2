"""Drills by name, "#7" or "letter F", as the lengths they are."""

import re
from fractions import Fraction
from functools import cache

from core.data import read_table
from core.values.errors import QuantityError
from core.values.plain_text import quoted

DRILL = (
    r"(?i:(?:\bdrill\s*)?(?:\#|\b(?:no\.?|number)(?=[\s\d]))\s*\d{1,4}(?![\w.,/])(?:\s+drill\b)?"
    r"|\b(?:drill\s+(?:letter\s+)?|letter\s+(?:drill\s+)?)[a-z]\b(?:\s+drill\b)?"
    r"|\b[a-z]\s+drill\b)"
)
"""A number or a letter drill as it is spoken: "#7", "no 7 drill", "letter F", "drill F", "F drill"."""

_NAME = re.compile(r"(?i:\d+|\b[a-z]\b)", re.ASCII)


def drill_size_in(text: str) -> Fraction:
    """Return the diameter of the drill that a text names [in], exact.

    Raises QuantityError where there is no such drill.
    Source: ASME B94.11M; core/data/drills.csv says which sizes are from memory.

    >>> drill_size_in("no 7 drill"), drill_size_in("letter F")
    (Fraction(201, 1000), Fraction(257, 1000))
    """
    match = _NAME.search(text)
    name = "" if match is None else match[0].upper()
    size = _sizes_in().get(f"#{int(name)}" if name.isdecimal() else name)
    if size is None:
        raise QuantityError(f"found {quoted(text)}; accepted are drills from #1 to #80 and from letter A to Z")
    return size


@cache
def _sizes_in() -> dict[str, Fraction]:
    return {row["name"]: Fraction(row["inches"]) for row in read_table("drills")}
