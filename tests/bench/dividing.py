"""Dividing tables: every number from 2 to 400 on three sets of plates, beside the common divisors alone."""

from collections.abc import Iterator, Mapping
from math import gcd
from pathlib import Path

from core.indexing.by_plate import COMMON_PLATES
from core.indexing.reckoner import MOST, dividing_table
from tests.bench.measuring import Row, median_row, taking_turns, timed_ms

_RATIO = 40
_SETS = (
    COMMON_PLATES,
    ((15, 18, 20, 23, 27, 31), (37, 41, 47, 49)),
    ((24, 28, 30, 34, 38, 42, 46, 54, 58, 62, 66),),
)
_TIMES = 9
_AT_MOST = 5.0
"""A few times the divisors: whatever the machine, then, far below a second."""


def rows(folder: Path, environment: Mapping[str, str]) -> Iterator[Row]:
    """Yield the one figure; it needs neither a folder nor an environment."""
    taken, floor = taking_turns(_TIMES, timed_ms(_tables), timed_ms(_divisors))
    yield median_row(
        f"dividing tables, 2 to {MOST}, three sets of plates",
        "their common divisors alone",
        taken,
        floor,
        at_most=_AT_MOST,
    )


def _tables() -> None:
    for plates in _SETS:
        dividing_table(_RATIO, plates)


def _divisors() -> None:
    for plates in _SETS:
        circles = {circle for plate in plates for circle in plate}
        for divisions in range(2, MOST + 1):
            for circle in circles:
                gcd(_RATIO * circle, divisions)
